"""Keys that should not sound together: mud in the low register, rubs by a half step.

The low interval limits are those of dealers' and arrangers' tables for ensembles (a
Berklee-like table in two variants, and a general one; Lowell & Pullig, Arranging for Large
Jazz Ensemble, Berklee Press 2003, use them). Solo piano goes below them with ease, so the
hard limit lies three semitones below the more lenient table, and the stricter one is a cost.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from types import MappingProxyType

__all__ = ["LENIENT_LIMITS", "LIMIT_ALLOWANCE", "STRICT_LIMITS", "THIRD_ALLOWANCE",
           "minor_ninth", "mud", "mud_cost", "mud_limit", "rub"]

# Interval in semitones -> lowest MIDI number of its lower note
STRICT_LIMITS = MappingProxyType({
    1: 52, 2: 51, 3: 48, 4: 47, 5: 46, 6: 47, 7: 37, 8: 43, 9: 41, 10: 41, 11: 41,
    13: 40, 14: 39, 15: 36, 16: 34,
})
LENIENT_LIMITS = MappingProxyType({
    1: 52, 2: 51, 3: 48, 4: 46, 5: 45, 6: 35, 7: 34, 8: 41, 9: 41, 10: 41, 11: 41,
    13: 40, 14: 39, 15: 36, 16: 34,
})
LIMIT_ALLOWANCE = 3
"""Semitones by which solo piano may go below the lenient table (common practice: left-hand
sevenths down to D2)."""
THIRD_ALLOWANCE = MappingProxyType({3: 1, 4: 0})
"""The same for thirds, which growl first (common practice: no third below B2 or Bb2)."""


_LIMITS = tuple(LENIENT_LIMITS.get(step, 0) - THIRD_ALLOWANCE.get(step, LIMIT_ALLOWANCE)
                for step in range(max(LENIENT_LIMITS) + 1))
_CLEAR = max(_LIMITS)
_CLEAR_STRICT = max(STRICT_LIMITS.values())
"""From these keys up nothing is mud, and nothing costs."""


def mud_limit(interval: int) -> int:
    """The lowest MIDI number on which an interval of so many semitones is not yet mud.

    >>> mud_limit(4), mud_limit(24)
    (46, 0)
    """
    return max(_LIMITS[interval], 0) if interval < len(_LIMITS) else 0


def mud(midis: Sequence[int]) -> list[tuple[int, int]]:
    """The pairs of keys too close together for their register.

    midis   MIDI numbers sounding at once, in any order
    Every pair is tried, not only neighbours (as arranging texts want it).

    >>> mud((46, 50)), mud((43, 47)), mud((38, 48))
    ([], [(43, 47)], [])
    """
    keys = sorted(set(midis))
    return [(low, high) for place, low in enumerate(keys) if low < _CLEAR
            for high in keys[place + 1:] if low < mud_limit(high - low)]


def mud_cost(midis: Sequence[int]) -> int:
    """Semitones by which neighbouring keys lie below the strict table, summed.

    >>> mud_cost((55, 59)), mud_cost((43, 47))
    (0, 4)
    """
    keys = sorted(set(midis))
    return sum(max(STRICT_LIMITS.get(high - low, 0) - low, 0)
               for low, high in pairwise(keys) if low < _CLEAR_STRICT)


def rub(lower_midi: int, upper_midi: int, root_pc: int | None = None,
        flat_nine_ok: bool = False) -> bool:
    """Do two sounding keys rub: a half step, or a minor ninth in any octave?

    root_pc        pitch class of the chord's root, None where there is none
    flat_nine_ok   whether the chord is a dominant, over whose root a flat nine is at home
                   (an octave and more above it, never next to it)

    >>> rub(60, 61), rub(60, 73), rub(60, 73, 0, True), rub(60, 61, 0, True), rub(61, 60)
    (True, True, False, True, False)
    """
    distance = upper_midi - lower_midi
    if distance < 1 or distance % 12 != 1:
        return False
    return not (flat_nine_ok and distance > 1 and root_pc == lower_midi % 12)


def minor_ninth(lower_midi: int, upper_midi: int, root_pc: int | None = None,
                flat_nine_ok: bool = False) -> bool:
    """Is there a minor ninth, in any octave, that a voicing should not have?

    A half step inside a voicing (the seventh next to the root, the fifth next to the flat
    sixth) is colour; only the ninth is refused, but for a dominant's flat nine over its root.
    """
    return (upper_midi - lower_midi > 1
            and rub(lower_midi, upper_midi, root_pc, flat_nine_ok))
