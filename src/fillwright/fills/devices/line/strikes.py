"""When the left hand strikes under a line."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.devices.line.rhythms import beats_of
from fillwright.fills.devices.line.tenor import Above
from fillwright.fills.situation import Span, Task

__all__ = ["Strike", "groups", "left_rhythm"]


@dataclass(frozen=True, slots=True)
class Strike:
    """A stroke of the left hand; `again` where it repeats the voicing before it."""

    onset_quarter: Fraction
    end_quarter: Fraction
    span: int
    again: bool


def left_rhythm(task: Task, spans: Sequence[Span], line: Sequence[Above],
                end_quarter: Fraction) -> tuple[Strike, ...]:
    """Where the left hand strikes, and how long.

    The chord stands from the gap's onset; every change is struck; where two and a half beats or
    more (two under an advanced line) pass without a stroke, one short answer falls into a breath
    of the line, off the beat (on it in a ballad or at a fast tempo), never with a note of the
    line where that can be helped; where more than four beats would pass, a strong beat is struck
    with the line. Where nothing follows, it comes to rest with the line's last
    note.
    """
    beat = task.beat_quarter
    mains: list[tuple[Fraction, int]] = [(task.onset_quarter, 0)]
    mains += [(s.onset_quarter, i) for i, s in enumerate(spans)
              if i and task.onset_quarter < s.onset_quarter < end_quarter]
    if task.end_quarter < end_quarter and mains[-1][0] < task.end_quarter:
        mains.append((task.end_quarter, mains[-1][1]))  # on time under a late landing
    rests = _Rests(task, line)
    rest = (max(n.onset_quarter for n in line) if task.landing is None and line
            else end_quarter)
    strikes: list[Strike] = []
    for index, (onset, span) in enumerate(mains):
        final = index + 1 == len(mains)
        stop = end_quarter if final else mains[index + 1][0]
        if final and onset < rest:
            stop = rest
        own = [onset]
        while not (final and rest <= onset):
            answer = rests.answer(own[-1], stop)
            if answer is None:
                break
            own.append(answer)
        for place, (start, until) in enumerate(pairwise([*own, stop])):
            length = until - start
            short = place > 0 and not task.is_ballad
            if short and not rests.line_begins(start, until):
                # but never a silence of two beats after it
                length = min(length, max(beat / 2, length - Fraction(3, 2) * beat))
            elif until != stop and not task.is_ballad:
                length = max(beat, length - beat / 2)
            again = place > 0 or (index > 0 and mains[index - 1][1] == span)
            strikes.append(Strike(start, start + length, span, again))
        if final and onset < rest < end_quarter:
            strikes.append(Strike(rest, end_quarter, span, True))
    return tuple(strikes)


class _Rests:
    """Where the line leaves room for an answer; looked at beat by beat."""

    def __init__(self, task: Task, line: Sequence[Above]) -> None:
        self.beat = task.beat_quarter
        self.compound = task.meter.is_compound
        self.plain = task.player.level.line.plain
        self.ballad = task.is_ballad
        self.rich = task.player.level.line.rich_left and not task.is_fast
        # time to get from the answer to what comes next, wherever that lies
        self.away = Fraction(_AWAY_SEC / task.seconds_per_quarter).limit_denominator(12)
        self.on_beat = task.is_ballad or task.is_fast or self.plain
        self.holds = int(task.held is not None)  # the held note comes before the line
        self.line = sorted(line, key=lambda n: n.onset_quarter)
        self.onsets = [n.onset_quarter for n in self.line]
        off = self.beat * (Fraction(2, 3) if self.compound else Fraction(1, 2))
        self.places: list[tuple[Fraction, bool]] = []
        beats = beats_of(task)
        self.strong = [b.onset_quarter for b in beats if b.strong]
        for b in beats:
            if b.length_quarter == self.beat:
                self.places.append((b.onset_quarter, False))
                if not self.ballad:  # a stab off the beat breaks its calm
                    self.places.append((b.onset_quarter + off, True))

    def line_begins(self, start: Fraction, until: Fraction) -> bool:
        """Whether the line is silent where an answer is struck, and begins before the next stroke:
        the chord has to lie under it (common practice)."""
        place = bisect_right(self.onsets, start)
        return (place < len(self.onsets) and self.onsets[place] < until
                and all(n.end_quarter <= start for n in self.line[self.holds:place]))

    def answer(self, after: Fraction, stop: Fraction) -> Fraction | None:
        """The place of the next answer after a stroke, or None where there is no need."""
        beat = self.beat
        need = Fraction(4) if self.plain or self.ballad else (
            Fraction(2) if self.rich else Fraction(5, 2))
        if stop - after < need * beat:
            return None
        first = after + Fraction(3, 2) * beat
        latest = min(stop - max(beat / 2, self.away), after + 4 * beat)
        start = bisect_left(self.places, (first, False))
        end = bisect_right(self.places, (latest, True))
        found = [(self._cost(place, is_off, after), place)
                 for place, is_off in self.places[start:end]]
        cost, best = min(found, default=(_DOUBLING, stop))
        return best if cost < _DOUBLING else self._with_the_line(after, stop)

    def _with_the_line(self, after: Fraction, stop: Fraction) -> Fraction | None:
        """The strong beat nearest the middle of a stretch of more than four beats into which no
        answer falls, where it can be counted; one chord under all of that is forgotten."""
        if stop - after <= _FORGOTTEN * self.beat:
            return None
        first, last = after + Fraction(3, 2) * self.beat, stop - max(self.beat, self.away)
        found = [place for place in self.strong
                 if first <= place <= last and not any(
                     0 < abs(onset - place) < self.beat / 3 for onset in self.onsets)]
        return min(found, key=lambda place: (abs(2 * place - after - stop), place), default=None)

    def _cost(self, place: Fraction, is_off: bool, after: Fraction) -> int:
        third = self.beat / 3
        near = self.line[bisect_left(self.onsets, place - 2 * self.beat):
                         bisect_right(self.onsets, place + self.beat)]
        if self.plain and is_off:
            return _DOUBLING  # both hands would lose the beat
        cost = (0 if is_off != self.on_beat else 3)
        if any(n.onset_quarter == place for n in near):
            cost += _WITH if self.plain else _DOUBLING
        if any(n.onset_quarter < place < n.end_quarter for n in near):
            cost += 1
        if any(0 < abs(n.onset_quarter - place) < third for n in near):
            cost += _DOUBLING  # two against a triplet or a sixteenth: nobody can count it
        return cost + int(2 * abs(place - after - 2 * self.beat) / self.beat)


_FORGOTTEN = 4
"""Beats after which a chord that is not struck again is no longer heard under a line (common
practice)."""

_AWAY_SEC = 0.28
"""Seconds for a left hand to leave an answer for a root two octaves below (hands.jumps)."""

_DOUBLING = 12
"""From this cost on an answer would only double the line's rhythm."""

_WITH = 4
"""What it costs a beginner to strike together with the line: easier than between its notes."""


def groups(strikes: Sequence[Strike]) -> list[list[Strike]]:
    """The strokes chord by chord."""
    groups: list[list[Strike]] = []
    for strike in strikes:
        if strike.again and groups and groups[-1][0].span == strike.span:
            groups[-1].append(strike)
        else:
            groups.append([strike])
    return groups
