"""The sections of a chorus, for textures and dynamics that follow the form.

Rehearsal marks of the sheet divide it. Where there are none it is cut into phrases of eight
bars, of four where it is short, as a blues is (common practice).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.tune.model import Chorus, ChorusBar

__all__ = ["Section", "section_at", "sections_of"]

_SHORT_FORM_BARS = 16
_PHRASE_BARS, _SHORT_PHRASE_BARS = 8, 4


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of the form.

    name       the letter of its mark, or "" where the sheet has none
    times      how often a section of that name came before
    contrast   whether it stands against the first one: another letter, or every second phrase
    """

    onset_quarter: Fraction
    end_quarter: Fraction
    name: str
    times: int
    contrast: bool


def sections_of(chorus: Chorus) -> tuple[Section, ...]:
    """All sections in order, from the first instant to the end."""
    bars = [bar for bar in chorus.bars if not bar.is_pickup]
    marked = [(bar.onset_quarter, bar.section[:1]) for bar in bars if bar.section]
    form = [name for _, name in marked if name not in ("I", "E")]  # introduction, ending
    if marked:
        first = form[0] if form else ""
        starts = [(onset, name, name != first) for onset, name in marked]
    else:
        starts = [(onset, "", contrast) for onset, contrast in _phrases(bars)]
    found: list[Section] = []
    ends = [onset for onset, _, _ in starts[1:]] + [chorus.length_quarter]
    for place, ((onset, name, contrast), end) in enumerate(zip(starts, ends, strict=True)):
        times = sum(other.name == name for other in found)
        found.append(Section(onset if place else Fraction(0), end, name, times, contrast))
    return tuple(found)


def _phrases(bars: Sequence[ChorusBar]) -> list[tuple[Fraction, bool]]:
    """Where phrases begin, and whether each is an even one, counted anew wherever the form
    goes back."""
    printed = len({bar.bar_index for bar in bars})
    length = _SHORT_PHRASE_BARS if printed <= _SHORT_FORM_BARS else _PHRASE_BARS
    found: list[tuple[Fraction, bool]] = []
    count, before = 0, -1
    for bar in bars:
        if bar.bar_index <= before:
            count = 0
        if count % length == 0:
            found.append((bar.onset_quarter, count // length % 2 == 1))
        count, before = count + 1, bar.bar_index
    return found


def section_at(sections: Sequence[Section], onset_quarter: Fraction) -> Section:
    """Which of the sections of a chorus a place lies in."""
    place = bisect_right(sections, onset_quarter, key=lambda section: section.onset_quarter)
    return sections[max(place - 1, 0)]
