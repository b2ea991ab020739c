"""Chance without chance: numbers that look random and follow from what they are asked for.

A `Dice` is made from a text (what is heard of a gap, said without its key) and counts its
throws, so the same question has the same throws on every machine.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from hashlib import blake2b
from itertools import accumulate

__all__ = ["Dice"]

_MASK = (1 << 64) - 1


class Dice:
    """Throws that follow from a text."""

    def __init__(self, text: str) -> None:
        self._state = int.from_bytes(blake2b(text.encode(), digest_size=8).digest(), "big")

    def throw(self) -> int:
        """The next number of 32 bits (SplitMix64; Steele, Lea & Flood, OOPSLA 2014)."""
        self._state = (self._state + 0x9E3779B97F4A7C15) & _MASK
        mixed = self._state
        mixed = ((mixed ^ (mixed >> 30)) * 0xBF58476D1CE4E5B9) & _MASK
        mixed = ((mixed ^ (mixed >> 27)) * 0x94D049BB133111EB) & _MASK
        return (mixed ^ (mixed >> 31)) >> 32

    def below(self, count: int) -> int:
        """A number from 0 to `count` - 1."""
        return self.throw() * count >> 32

    def pick(self, weights: Sequence[int]) -> int:
        """A place, as often as its weight says; -1 where all weigh nothing.

        >>> Dice("any").pick([0, 5, 0])
        1
        """
        return self.pick_by(list(accumulate(weights)))

    def pick_by(self, sums: Sequence[int]) -> int:
        """The same by the sums of the weights up to each place.

        >>> Dice("any").pick_by([0, 5, 5])
        1
        """
        if not sums or sums[-1] <= 0:
            return -1
        return bisect_right(sums, self.throw() * sums[-1] >> 32)
