"""The sections of a chorus, for textures and dynamics that follow the form.

Rehearsal marks of the sheet divide it. Where there are none it is cut into phrases of eight
bars, of four where it is short, as a blues is (common practice).
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction

from fillwright.tune.model import Chorus

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
    starts = [(bar.onset_quarter, bar.section[:1]) for bar in bars if bar.section]
    if not starts:
        length = _SHORT_PHRASE_BARS if len(bars) <= _SHORT_FORM_BARS else _PHRASE_BARS
        starts = [(bar.onset_quarter, "") for bar in bars[::length]] or [(Fraction(0), "")]
    starts[0] = (Fraction(0), starts[0][1])
    form = [name for _, name in starts if name not in ("I", "E")]  # introduction, ending
    first = form[0] if form else ""
    found: list[Section] = []
    ends = [onset for onset, _ in starts[1:]] + [chorus.length_quarter]
    for place, ((onset, name), end) in enumerate(zip(starts, ends, strict=True)):
        times = sum(other.name == name for other in found)
        contrast = name != first if first else place % 2 == 1
        found.append(Section(onset, end, name, times, contrast))
    return tuple(found)


def section_at(chorus: Chorus, onset_quarter: Fraction) -> Section:
    """The section a place lies in."""
    found = sections_of(chorus)
    place = bisect_right(found, onset_quarter, key=lambda section: section.onset_quarter)
    return found[max(place - 1, 0)]
