"""Small choruses built by hand for tests of the fills."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import islice, pairwise

from fillwright import ChordSymbol, Chorus, Fill, Key, Pitch, Tune, find_gaps
from fillwright.fills import (
    Situation,
    Task,
    fills_in_turn,
    hear,
    player_of,
    situation_of,
    task_of,
    why_none,
)
from fillwright.theory import analyse
from fillwright.tune import Bar, ChordSpan, ChorusBar, Meter, SoundingNote

__all__ = ["chorus_of", "one_task", "every_task", "longest_hole", "options_of",
           "situation_of_gap"]

Length = int | float | str | Fraction


def _fraction(value: Length) -> Fraction:
    return Fraction(value).limit_denominator(960)


def chorus_of(meter: str, key: str, tempo: Length, melody: Sequence[tuple[str | None, Length]],
              chords: Sequence[tuple[str, Length]], *, feel: str = "swing",
              pickup: Length = 0) -> Chorus:
    """A chorus from (pitch or None for a rest, quarters) and (symbol, quarters) in a row.

    meter    such as "4/4"; the last bar is cut where the longer of both rows ends
    tempo    felt beats a minute
    pickup   quarters before the first bar line; the chords begin there too
    """
    beats, beat_type = (int(part) for part in meter.split("/"))
    sign = Meter(beats, beat_type)
    home = Key.parse(key)
    onset = Fraction(0)
    notes: list[SoundingNote] = []
    for name, length in melody:
        if name is not None:
            notes.append(SoundingNote(onset, _fraction(length), Pitch.parse(name)))
        onset += _fraction(length)
    end = onset
    symbols = [ChordSymbol.parse(text) for text, _ in chords]
    spans: list[ChordSpan] = []
    onset = Fraction(0)
    for symbol, (_, length) in zip(symbols, chords, strict=True):
        spans.append(ChordSpan(onset, _fraction(length), symbol))
        onset += _fraction(length)
    end = max(end, onset)
    bars: list[ChorusBar] = []
    written: list[Bar] = []
    place = Fraction(0)
    while place < end:
        short = place == 0 and pickup != 0
        length = _fraction(pickup) if short else min(sign.length_quarter, end - place)
        number = str(len(bars) if pickup else len(bars) + 1)
        bars.append(ChorusBar(len(bars), number, 1, place, length, sign, home, short))
        written.append(Bar(number, sign, home, length, is_pickup=short))
        place += length
    pace = _fraction(tempo)
    tune = Tune("Test", tuple(written), pace, feel)
    return Chorus(tune, tuple(bars), tuple(notes), tuple(spans), tuple(analyse(symbols, home)),
                  end, pace, feel)


def situation_of_gap(chorus: Chorus, number: int = 1) -> Situation:
    """One gap of a chorus as it is heard."""
    return situation_of(hear(chorus), find_gaps(chorus), number)


def one_task(chorus: Chorus, number: int = 1, level: str = "intermediate",
             hand: str = "medium", without: frozenset[str] = frozenset()) -> Task:
    """One gap of a chorus, set to a player."""
    return task_of(situation_of_gap(chorus, number), player_of(level, hand), without)


def every_task(chorus: Chorus, level: str = "intermediate", hand: str = "medium"
               ) -> list[Task]:
    """All gaps of a chorus, set to a player."""
    hearing, gaps = hear(chorus), find_gaps(chorus)
    return [task_of(situation_of(hearing, gaps, gap.number), player_of(level, hand))
            for gap in gaps]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What was found of an offer, and where the rest comes from."""

    rest: Iterator[Fill]
    found: list[Fill] = field(default_factory=list)


@lru_cache(maxsize=128)
def _asked(task: Task, family: str) -> _Asked:
    return _Asked(fills_in_turn(task, family))


def options_of(task: Task, family: str, count: int) -> tuple[Fill, ...] | str:
    """`fills_of`; however many tests ask for options of a gap, each is worked out once."""
    asked = _asked(task, family)
    asked.found.extend(islice(asked.rest, max(count - len(asked.found), 0)))
    return tuple(asked.found[:count]) or why_none(task, family)


def longest_hole(fill: Fill, held_midi: int) -> Fraction:
    """For how long two octaves with nothing in them lie under the held note, in quarters."""
    until = fill.held_end.until_quarter
    edges = sorted({until, *(place for n in fill.notes
                             for place in (n.onset_quarter, n.end_quarter) if place < until)})
    longest = empty = Fraction(0)
    for start, stop in pairwise(edges):
        keys = sorted(n.midi for n in fill.notes if n.onset_quarter <= start < n.end_quarter)
        hole = keys and max(b - a for a, b in pairwise(sorted([*keys, held_midi]))) >= 24
        empty = empty + stop - start if hole else Fraction(0)
        longest = max(longest, empty)
    return longest
