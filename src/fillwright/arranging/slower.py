"""At which tempo a gap that has no ideas gets some: mark by mark, as each asks for the chorus to be
heard anew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fillwright.arranging.build import Offers
from fillwright.exact import Fraction

__all__ = ["has_ideas_at", "slower_marks"]

STEP_BPM = 4
"""Marks of a metronome lie about so far apart (common practice)."""
SLOWEST_BPM = 40
SLOWEST_SHARE = Fraction(2, 5)
"""Slower than this share of its tempo a tune is another tune (common practice)."""


def slower_marks(offers: Offers) -> list[int]:
    """The marks of a metronome below the tune's tempo, in felt beats a minute, down to a slow
    practice tempo; the fastest first."""
    tempo = Fraction(offers.chorus.tempo_bpm)
    lowest = max(Fraction(SLOWEST_BPM), tempo * SLOWEST_SHARE)
    return list(range((-(-tempo // STEP_BPM) - 1) * STEP_BPM, -(-lowest // 1) - 1, -STEP_BPM))


def has_ideas_at(offers: Offers, mark: int, number: int, families: Sequence[str]) -> bool:
    """Whether one of some families has an idea for a gap at another tempo, in felt beats a
    minute. Raises InputError for a gap that there is not."""
    offers.gap(number)
    slower = Offers(offers.written, replace(offers.options, tempo=Fraction(mark)))
    return len(slower.gaps) == len(offers.gaps) and any(
        not isinstance(slower.fills(number, family, 1), str) for family in families)
