"""The sections of a chorus, for textures and dynamics that follow the form.

Rehearsal marks of the sheet divide it; where there are none it is cut into phrases.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.tune.model import Chorus
from fillwright.tune.phrases import phrase_starts

__all__ = ["Section", "section_at", "sections_of"]


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
        starts = [(bars[place].onset_quarter, "", number % 2 == 1)
                  for place, number in phrase_starts(bars)]
    found: list[Section] = []
    heard: Counter[str] = Counter()
    ends = [onset for onset, _, _ in starts[1:]] + [chorus.length_quarter]
    for place, ((onset, name, contrast), end) in enumerate(zip(starts, ends, strict=True)):
        found.append(Section(onset if place else Fraction(0), end, name, heard[name], contrast))
        heard[name] += 1
    return tuple(found)


def section_at(sections: Sequence[Section], onset_quarter: Fraction) -> Section:
    """Which of the sections of a chorus a place lies in."""
    place = bisect_right(sections, onset_quarter, key=lambda section: section.onset_quarter)
    return sections[max(place - 1, 0)]
