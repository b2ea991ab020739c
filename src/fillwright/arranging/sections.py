"""The sections of a chorus, for textures and dynamics that follow the form.

Rehearsal marks of the sheet divide it and name it. Where there are none it is cut into phrases,
and which of them stand against the others is heard: what comes once (or seldom) among what comes
again is the bridge.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.form import FormSection, form_sections
from fillwright.tune.model import Chorus

__all__ = ["Section", "contrasting", "phrases_of", "quiet_of", "section_at", "sections_of"]

_PHRASE_BARS = 4

_LEAST_QUIET_BARS = 16
"""A shorter piece has no time to draw back."""

_LEAST_BARS = 4
"""What is shorter and has no mark of its own belongs to the section before: an ending's last bar,
what is left of a form that is no multiple of eight."""


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of the form.

    name       the letter of its mark, or "" where the sheet has none
    times      how often a section of that name came before; without marks, any section
    contrast   whether it stands against the others: by its mark, another letter than the first;
               else as it is heard
    """

    onset_quarter: Fraction
    end_quarter: Fraction
    name: str
    times: int
    contrast: bool


def sections_of(chorus: Chorus) -> tuple[Section, ...]:
    """All sections in order, from the first instant to the end."""
    marked = [(bar.onset_quarter, bar.section[:1]) for bar in chorus.bars
              if bar.section and not bar.is_pickup]
    if marked:
        form = [name for _, name in marked if name not in ("I", "E")]  # introduction, ending
        first = form[0] if form else ""
        starts = [(onset, name, name != first) for onset, name in marked]
    else:
        heard_sections = _whole(form_sections(chorus))
        against = contrasting(
            [section.letter for section in heard_sections],
            [place for place, section in enumerate(heard_sections) if section.top])
        starts = [(section.onset_quarter, "", contrast)
                  for section, contrast in zip(heard_sections, against, strict=True)]
    starts = starts or [(Fraction(0), "", False)]  # a few bars around a pickup are one
    found: list[Section] = []
    heard: Counter[str] = Counter()
    ends = [onset for onset, _, _ in starts[1:]] + [chorus.length_quarter]
    for place, ((onset, name, contrast), end) in enumerate(zip(starts, ends, strict=True)):
        found.append(Section(onset if place else Fraction(0), end, name, heard[name], contrast))
        heard[name] += 1
    return tuple(found)


def _whole(sections: Sequence[FormSection]) -> list[FormSection]:
    """Without what is too short to be one; the first always is."""
    return [section for place, section in enumerate(sections)
            if not place or len(section.bar_onsets) >= _LEAST_BARS]


def contrasting(letters: Sequence[str], tops: Sequence[int] = (0,)) -> list[bool]:
    """Which sections stand against the others, by letters that are the same for the same music.

    What is heard less often than the rest does, every second one where such sections follow one
    another: the first of them, but not the one that opens the form (common practice). Where all
    come equally often, every second section does, counted anew where the form begins again.

    tops   the places of the sections with which the form begins

    >>> [int(one) for one in contrasting("AABA")]
    [0, 0, 1, 0]
    >>> [int(one) for one in contrasting("ABAC")]
    [0, 1, 0, 1]
    >>> [int(one) for one in contrasting("ABCB")]
    [0, 0, 1, 0]
    >>> [int(one) for one in contrasting("ABCABC", (0, 3))]
    [0, 1, 0, 0, 1, 0]
    """
    times = Counter(letters)
    most = max(times.values(), default=0)
    every_second: list[bool] = []
    seldom: list[bool] = []
    for place, letter in enumerate(letters):
        opens = place in tops
        every_second.append(not opens and place > 0 and not every_second[-1])
        seldom.append(times[letter] < most and not opens
                      and not (place > 0 and seldom[-1]))
    return seldom if any(seldom) else every_second


def phrases_of(chorus: Chorus, sections: Sequence[Section]) -> tuple[Fraction, ...]:
    """Where phrases of four bars begin, counted in each section."""
    starts = [section.onset_quarter for section in sections]
    phrases: list[Fraction] = []
    count, before = 0, -1
    for bar in (bar for bar in chorus.bars if not bar.is_pickup):
        section = bisect_right(starts, bar.onset_quarter)
        count = count + 1 if section == before else 0
        before = section
        if count % _PHRASE_BARS == 0:
            phrases.append(bar.onset_quarter)
    return tuple(phrases)


def quiet_of(chorus: Chorus) -> tuple[Fraction, Fraction] | None:
    """Where the one phrase begins and ends in which a piece draws back before it rises: the one
    that begins next to its middle, of its first time where all of it is played twice; None in a
    short piece."""
    bars = [bar for bar in chorus.bars if not bar.is_pickup]
    half = len(bars) // 2
    if [bar.bar_index for bar in bars[:half]] == [bar.bar_index for bar in bars[half:]]:
        bars = bars[:half]
    if len(bars) < _LEAST_QUIET_BARS:
        return None
    whole = _PHRASE_BARS * chorus.meter.length_quarter
    middle = (bars[0].onset_quarter + bars[-1].end_quarter) / 2
    phrases = [(start, end) for start, end in pairwise(phrases_of(chorus, sections_of(chorus)))
               if bars[0].onset_quarter < start and end - start >= whole]
    return min(phrases, key=lambda phrase: (abs(phrase[0] - middle), phrase), default=None)


def section_at(sections: Sequence[Section], onset_quarter: Fraction) -> Section:
    """Which of the sections of a chorus a place lies in."""
    place = bisect_right(sections, onset_quarter, key=lambda section: section.onset_quarter)
    return sections[max(place - 1, 0)]
