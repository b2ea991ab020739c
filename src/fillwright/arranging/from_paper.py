"""An arrangement that someone else wrote: two hands on paper, and nothing known of why."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.tune.model import ChordSpan, ChorusBar

__all__ = ["ReadArrangement", "bar_and_beat"]


@dataclass(frozen=True, slots=True)
class ReadArrangement:
    """Two hands read from a score, bars in printed order.

    notes       every struck key, ordered by onset, then MIDI number; role "melody" for the
                top line of the right hand, "base" for everything else; finger None where
                the page gives none
    chords      printed chord symbols, each until the next one (those this program added to a
                sheet lie over the sheet's own); () where there are none
    bars        contiguous, the first at 0
    tempo_bpm   felt beats a minute, as marked, or a default for the meter
    warnings    what had to be understood with good will, one sentence each
    source      the file's name, no folder
    """

    title: str
    notes: tuple[HandNote, ...]
    chords: tuple[ChordSpan, ...]
    bars: tuple[ChorusBar, ...]
    tempo_bpm: Fraction
    warnings: tuple[str, ...] = ()
    source: str = ""

    @property
    def seconds_per_quarter(self) -> float:
        return self.seconds_at(self.tempo_bpm)

    def seconds_at(self, tempo_bpm: Fraction) -> float:
        """Seconds a quarter note lasts at a tempo in felt beats of the first meter."""
        return 60.0 / float(tempo_bpm * self.bars[0].meter.beat_quarter)


def bar_and_beat(bars: Sequence[ChorusBar], onset_quarter: Fraction) -> tuple[ChorusBar, Fraction]:
    """The bar a place lies in and its felt beat, 1 = downbeat. A pickup is counted from the end
    of the bar it stands for; a place past the last bar line belongs to the last bar."""
    index = bisect_right(bars, onset_quarter, key=lambda bar: bar.onset_quarter) - 1
    bar = bars[max(index, 0)]
    offset = onset_quarter - bar.onset_quarter
    if bar.is_pickup:
        offset += max(bar.meter.length_quarter - bar.length_quarter, Fraction(0))
    return bar, 1 + offset / bar.meter.beat_quarter
