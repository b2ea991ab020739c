"""The form as it is heard: its sections, and which of them are the same music.

Rehearsal marks of the sheet divide it; where there are none it is cut into phrases. Two sections
are the same music if they begin with the same chords and melody: the first half of the shorter
one decides, for endings differ.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.situation import Form
from fillwright.tune.model import Chorus, ChorusBar
from fillwright.tune.phrases import phrase_starts

__all__ = ["FormSection", "form_at", "form_sections"]

_NEAR_THE_END_BARS = 2
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True)
class FormSection:
    """A stretch of the form.

    letter       the same for the same music, in order of appearance
    bar_onsets   of its bars
    top          it begins with the first bar of the sheet
    time         how often its music was heard before
    """

    letter: str
    bar_onsets: tuple[Fraction, ...]
    top: bool
    time: int

    @property
    def onset_quarter(self) -> Fraction:
        return self.bar_onsets[0]


def form_sections(chorus: Chorus) -> tuple[FormSection, ...]:
    """All sections in order; a pickup is in none."""
    bars = [bar for bar in chorus.bars if not bar.is_pickup]
    content = _contents(chorus, bars)
    found: list[FormSection] = []
    known: list[tuple[str, list[object]]] = []
    heard: Counter[str] = Counter()
    starts = [*_starts(bars), len(bars)]
    top = bars[0].bar_index if bars else 0
    for start, stop in pairwise(starts):
        own = content[start:stop]
        letter = next((name for name, other in known if _same(own, other)), None)
        if letter is None:
            letter = _LETTERS[len({name for name, _ in known}) % len(_LETTERS)]
            known.append((letter, own))
        found.append(FormSection(letter, tuple(bar.onset_quarter for bar in bars[start:stop]),
                                 bars[start].bar_index == top, heard[letter]))
        heard[letter] += 1
    return tuple(found)


def _starts(bars: list[ChorusBar]) -> list[int]:
    marked = [place for place, bar in enumerate(bars) if bar.section]
    if marked:
        return marked if marked[0] == 0 else [0, *marked]
    return [place for place, _ in phrase_starts(bars)]


def _contents(chorus: Chorus, bars: list[ChorusBar]) -> list[object]:
    """Bar by bar the chords and melody notes that begin in it."""
    onsets = [bar.onset_quarter for bar in bars]
    rows: list[list[object]] = [[] for _ in bars]
    for span in chorus.chords:
        place = bisect_right(onsets, span.onset_quarter) - 1
        if place >= 0:
            rows[place].append((span.onset_quarter - onsets[place], span.symbol.root,
                                span.symbol.quality))
    for note in chorus.melody:
        place = bisect_right(onsets, note.onset_quarter) - 1
        if place >= 0:
            rows[place].append((note.onset_quarter - onsets[place], note.pitch))
    return [tuple(row) for row in rows]


def _same(one: list[object], other: list[object]) -> bool:
    half = max(1, (min(len(one), len(other)) + 1) // 2)
    return one[:half] == other[:half]


def form_at(sections: tuple[FormSection, ...], onset_quarter: Fraction, end_quarter: Fraction
            ) -> Form:
    """Where in the form a gap lies that opens and lands at these places of the chorus."""
    if not sections:
        return Form("A", -1, 0, "end")
    index = bisect_right(sections, onset_quarter, key=lambda one: one.onset_quarter) - 1
    if index < 0:  # in the pickup
        return Form(sections[0].letter, -1, len(sections[0].bar_onsets), "")
    section = sections[index]
    bars = section.bar_onsets
    bar = bisect_right(bars, onset_quarter) - 1
    after = sections[index + 1] if index + 1 < len(sections) else None
    near = bar >= len(bars) - _NEAR_THE_END_BARS or (
        after is not None and end_quarter >= after.onset_quarter)
    return Form(section.letter, bar, len(bars), _leads(section, after) if near else "",
                section.time)


def _leads(here: FormSection, after: FormSection | None) -> str:
    if after is None:
        return "end"
    if after.letter == here.letter:
        return "again"
    if after.top:
        return "top"
    return "back" if after.time else "bridge"
