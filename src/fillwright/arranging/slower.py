"""At which tempo a gap that has no ideas gets some."""

from __future__ import annotations

from dataclasses import replace

from fillwright.arranging.build import Offers
from fillwright.exact import Fraction

__all__ = ["slower_with_ideas"]

STEP_BPM = 4
"""Marks of a metronome lie about so far apart (common practice)."""
SLOWEST_BPM = 40
SLOWEST_SHARE = Fraction(2, 5)
"""Slower than this share of its tempo a tune is another tune (common practice)."""


def slower_with_ideas(offers: Offers, number: int, family: str) -> int | None:
    """The fastest tempo below the tune's, on the marks of a metronome in felt beats a minute, at
    which a family has an idea for a gap; None where there is none down to a slow practice tempo.

    Raises InputError for a gap that there is not.
    """
    offers.gap(number)
    tempo = Fraction(offers.chorus.tempo_bpm)
    lowest = max(Fraction(SLOWEST_BPM), tempo * SLOWEST_SHARE)
    mark = (-(-tempo // STEP_BPM) - 1) * STEP_BPM
    while mark >= lowest:
        slower = Offers(offers.written, replace(offers.options, tempo=Fraction(mark)))
        if len(slower.gaps) == len(offers.gaps) and not isinstance(
                slower.fills(number, family, 1), str):
            return int(mark)
        mark -= STEP_BPM
    return None
