"""Fingers for a part, with the little finger spared where it would have to drum."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence

from fillwright.exact import Fraction
from fillwright.hands.parts import PartNote, finger_part

__all__ = ["finger_spared"]

_TIRING = 3
"""Strokes in a row on one key that the little finger, which tires first, gives to the middle
finger, which repeats better (common practice)."""


def finger_spared(notes: Sequence[PartNote], hand: str, size: str, seconds_per_quarter: float,
                  rolled: Collection[int] = ()) -> tuple[int, ...] | None:
    """As `finger_part`, with the right hand's little finger spared. `notes` are ordered by
    onset, then MIDI number."""
    found = finger_part(notes, hand, size, seconds_per_quarter, rolled=rolled)
    if found is None or hand != "right":
        return found
    drummed = _drummed_with_five(notes, found)
    if not drummed:
        return found
    return finger_part(notes, hand, size, seconds_per_quarter, dict.fromkeys(drummed, 3),
                       rolled) or found


def _drummed_with_five(part: Sequence[tuple[Fraction, Fraction, int]], fingers: Sequence[int]
                       ) -> tuple[int, ...]:
    """Places of single keys struck again and again by the little finger."""
    at = Counter(onset for onset, _, _ in part)
    runs: list[list[int]] = []
    for place, ((onset, _, midi), finger) in enumerate(zip(part, fingers, strict=True)):
        if finger != 5 or at[onset] > 1:
            continue
        if runs and runs[-1][-1] == place - 1 and part[place - 1][2] == midi:
            runs[-1].append(place)
        else:
            runs.append([place])
    return tuple(place for run in runs if len(run) >= _TIRING for place in run)
