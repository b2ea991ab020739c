"""How long a hand takes to get from one place to the next.

The hand covers a window as wide as its comfortable span from thumb to fifth finger; keys
inside the window need no travel. Where the window has to move by a distance D, the time is
Fitts' law in the Shannon form, a + b log2(1 + D / W), with W the width of a white key
(Fitts, J. Experimental Psychology 47(6), 1954; MacKenzie, J. Motor Behavior 21, 1989).
The constants are calibrated to common practice: a left hand that strides between a low
root and a chord two octaves above does so in about a quarter of a second (quarter notes at
240 a minute) and hardly faster.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import log2
from types import MappingProxyType

from fillwright.hands.reach import MILLIMETRES_PER_UNIT, hand_span, ruler

__all__ = ["JUMP_SECONDS", "jump_ok", "jump_seconds_needed", "shift_units"]

# Seconds, but for the key's width. Common practice where no source is named.
JUMP_SECONDS = MappingProxyType({
    "line": 1 / 16,         # single keys in one position; about 15 to 16 a second is the
                            # extreme of one hand (from memory)
    "chord": 1 / 8,         # a chord before or after
    "repeat": 1 / 9,        # one key again
    "start": 0.06,          # a: key down and lift-off before a jump
    "per_bit": 0.07,        # b
    "return_margin": 0.10,  # to settle before the melody; also the fastest subdivision that
                            # is heard as such (London, Hearing in Time, 2004)
})
_KEY_WIDTH_MM = 165 / 7


def shift_units(low_from: int, high_from: int, low_to: int, high_to: int, size: str) -> int:
    """The least distance, in units, that the hand's window must move.

    Arguments are the outer keys (MIDI) before and after.

    >>> shift_units(60, 60, 67, 67, "medium"), shift_units(36, 36, 60, 64, "medium")
    (0, 18)
    """
    width = hand_span(size).max_comf
    return max(0, ruler(high_to) - ruler(low_from) - width,
               ruler(high_from) - ruler(low_to) - width)


@lru_cache(maxsize=16384)
def _needed(low_from: int, high_from: int, low_to: int, high_to: int, least: float, size: str
            ) -> float:
    shift = shift_units(low_from, high_from, low_to, high_to, size)
    if not shift:
        return least
    bits = log2(1 + shift * MILLIMETRES_PER_UNIT / _KEY_WIDTH_MM)
    return max(least, JUMP_SECONDS["start"] + JUMP_SECONDS["per_bit"] * bits)


def jump_seconds_needed(from_midis: Sequence[int], to_midis: Sequence[int],
                        size: str = "medium") -> float:
    """The shortest time from one stroke of a hand to the next, in seconds.

    from_midis, to_midis   the keys of the strokes, in any order, at least one each

    >>> jump_seconds_needed((60,), (62,))
    0.0625
    >>> round(jump_seconds_needed((36,), (52, 55, 58)), 2)
    0.25
    """
    low_from, high_from = min(from_midis), max(from_midis)
    low_to, high_to = min(to_midis), max(to_midis)
    if len(from_midis) > 1 or len(to_midis) > 1:
        least = JUMP_SECONDS["chord"]
    else:
        least = JUMP_SECONDS["repeat" if low_from == low_to else "line"]
    return _needed(low_from, high_from, low_to, high_to, least, size)


def jump_ok(from_midis: Sequence[int], to_midis: Sequence[int], seconds: float,
            size: str = "medium") -> bool:
    """Can the hand strike these keys and then, so many seconds later, those?"""
    return seconds + 1e-9 >= jump_seconds_needed(from_midis, to_midis, size)
