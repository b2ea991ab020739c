"""Score time to seconds: where the notes of a beat fall in swing and straight feel."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable

from fillwright.exact import Fraction
from fillwright.swing import lateness_sec, offbeat_place
from fillwright.tune.model import Chorus, ChorusBar

__all__ = ["TimeMap"]

_HALF = Fraction(1, 2)


def _is_binary(phase: Fraction) -> bool:
    return phase.denominator & (phase.denominator - 1) == 0


class TimeMap:
    """Score time to seconds, for one chorus and the notes played over it.

    Only eighths swing, and only in swing feel and meters counted in quarters or halves. In
    each beat the off-beat eighth moves to `offbeat_place`, except where one hand plays
    sixteenths (or finer) in that beat, or an off-beat eighth among the notes of a tuplet:
    such a beat is played straight by both hands. Triplets keep their thirds. Compound and
    irregular eighth meters are never swung.
    """

    def __init__(self, chorus: Chorus, onsets: Iterable[tuple[str, Fraction]] = ()) -> None:
        """`onsets` are (hand, onset_quarter) of everything played."""
        self._chorus = chorus
        self._quarter_sec = chorus.seconds_per_quarter
        self._starts = [bar.onset_quarter for bar in chorus.bars]
        tempo = float(chorus.quarters_per_minute)
        self.offbeat = offbeat_place(tempo)
        self.late_sec = lateness_sec(tempo) if self.offbeat > 0.5 else 0.0
        self._straight = self._straight_beats(onsets)

    def bar_index(self, quarter: Fraction) -> int:
        return max(0, bisect_right(self._starts, quarter) - 1)

    def bar(self, index: int) -> ChorusBar:
        return self._chorus.bars[index]

    def beat(self, quarter: Fraction) -> tuple[int, int, Fraction]:
        """(bar index, beat in the bar from 0, phase in the beat from 0 to 1)."""
        index = self.bar_index(quarter)
        bar = self._chorus.bars[index]
        offset = quarter - bar.onset_quarter
        if bar.is_pickup:
            offset += max(bar.meter.length_quarter - bar.length_quarter, Fraction(0))
        number, rest = divmod(offset, bar.meter.beat_quarter)
        return index, int(number), rest / bar.meter.beat_quarter

    def swings(self, bar: ChorusBar) -> bool:
        return (self._chorus.feel == "swing" and not bar.meter.is_compound
                and bar.meter.beat_type <= 4)

    def _straight_beats(self, onsets: Iterable[tuple[str, Fraction]]) -> frozenset[
            tuple[int, int]]:
        phases: dict[tuple[int, int, str], set[Fraction]] = {}
        for hand, quarter in onsets:
            index, number, phase = self.beat(quarter)
            phases.setdefault((index, number, hand), set()).add(phase)
        straight = set()
        for (index, number, _), found in phases.items():
            finer = any(_is_binary(phase) and phase.denominator > 2 for phase in found)
            tuplet = _HALF in found and not all(_is_binary(phase) for phase in found)
            if finer or tuplet:
                straight.add((index, number))
        return frozenset(straight)

    def _is_swung(self, quarter: Fraction) -> tuple[bool, Fraction]:
        index, number, phase = self.beat(quarter)
        swung = (self.swings(self._chorus.bars[index]) and _is_binary(phase)
                 and (index, number) not in self._straight)
        return swung, phase

    def steady_sec(self, quarter: Fraction) -> float:
        """Without swing: where a metronome would put it."""
        return float(quarter) * self._quarter_sec

    def place_sec(self, quarter: Fraction) -> float:
        """With swing, in time with the beat."""
        swung, phase = self._is_swung(quarter)
        if not swung or phase == 0:
            return self.steady_sec(quarter)
        share = float(phase)
        if share <= 0.5:
            warped = 2 * share * self.offbeat
        else:
            warped = self.offbeat + (2 * share - 1) * (1 - self.offbeat)
        return self.steady_sec(quarter - phase) + warped * self._quarter_sec

    def late_by_sec(self, quarter: Fraction) -> float:
        """How much later than `place_sec` a line plays it: off-beat eighths are in time."""
        index, _, _ = self.beat(quarter)
        if not self.swings(self._chorus.bars[index]):
            return 0.0
        swung, phase = self._is_swung(quarter)
        return 0.0 if swung and phase != 0 else self.late_sec
