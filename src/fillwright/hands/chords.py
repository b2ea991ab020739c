"""Fingers for keys struck together by one hand.

A chord of at most five notes has at most ten fingerings, fingers in the order of the keys,
so the cheapest is found by trying them all. Costs are those of `fillwright.hands.costs`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from types import MappingProxyType

from fillwright.hands.costs import natural_pair, pair_limits_ok, shape_costs
from fillwright.hands.reach import (
    MAX_NOTES,
    ROLL_DENOMINATOR,
    ROLL_NUMERATOR,
    UNITS_PER_OCTAVE,
    is_black,
    mirrored,
    ruler,
)
from fillwright.memory import FINGERS

__all__ = ["ChordFingering", "all_fingerings", "finger_chord", "finger_rolled", "playable",
           "split_chord"]

_NONE_FIXED: Mapping[int, int] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class ChordFingering:
    """Fingers of one hand on keys struck together.

    fingers   by ascending pitch, 1 (thumb) to 5
    cost      in half points; `costs` keeps it apart by term
    """

    fingers: tuple[int, ...]
    cost: int
    costs: tuple[tuple[str, int], ...]


def finger_chord(midis: Sequence[int], hand: str, size: str,
                 fixed: Mapping[int, int] = _NONE_FIXED) -> ChordFingering | None:
    """The cheapest fingering of a chord, or None where the hand cannot play it.

    midis   ascending MIDI numbers, at most five, none twice
    hand    "left" or "right"
    fixed   MIDI number -> finger that must take it

    Raises ValueError where the keys do not ascend or the hand is unknown.

    >>> finger_chord((60, 64, 67), "right", "medium").fingers
    (1, 3, 5)
    >>> finger_chord((48, 64), "left", "medium") is None
    True
    """
    return _cheapest(_ascending(midis), hand, size, tuple(sorted(fixed.items())), False)


def finger_rolled(midis: Sequence[int], hand: str, size: str,
                  fixed: Mapping[int, int] = _NONE_FIXED) -> ChordFingering | None:
    """Like `finger_chord` for a chord rolled upwards, which may exceed the reach by a third.

    >>> finger_rolled((48, 64), "left", "medium").fingers
    (5, 1)
    """
    return _cheapest(_ascending(midis), hand, size, tuple(sorted(fixed.items())), True)


def _ascending(midis: Sequence[int]) -> tuple[int, ...]:
    keys = tuple(midis)
    if any(low >= high for low, high in pairwise(keys)):
        raise ValueError(f"keys must ascend: {keys}")
    return keys


@FINGERS.keep
def _cheapest(midis: tuple[int, ...], hand: str, size: str,
              fixed: tuple[tuple[int, int], ...], rolled: bool) -> ChordFingering | None:
    wanted = dict(fixed)
    allowed = [option for option in all_fingerings(midis, hand, size, rolled)
               if all(wanted.get(midi, finger) == finger
                      for midi, finger in zip(midis, option.fingers, strict=True))]
    return min(allowed, key=lambda option: (option.cost, option.fingers), default=None)


def all_fingerings(midis: tuple[int, ...], hand: str, size: str, rolled: bool = False
                   ) -> tuple[ChordFingering, ...]:
    """Every fingering within the practical limits, in a fixed order.

    >>> [option.fingers for option in all_fingerings((60, 72), "right", "medium")]
    [(1, 4), (1, 5)]
    """
    if hand == "right":
        octaves = midis[0] // 12 if midis else 0
        return _right_hand(tuple(midi - 12 * octaves for midi in midis), size, rolled)
    if hand != "left":
        raise ValueError(f"not a hand: {hand!r}")
    image = tuple(mirrored(midi) for midi in reversed(midis))
    octaves = image[0] // 12 if image else 0
    options = _right_hand(tuple(midi - 12 * octaves for midi in image), size, rolled)
    return tuple(ChordFingering(tuple(reversed(option.fingers)), option.cost, option.costs)
                 for option in options)


@FINGERS.keep
def _right_hand(midis: tuple[int, ...], size: str, rolled: bool) -> tuple[ChordFingering, ...]:
    if len(midis) > MAX_NOTES:
        return ()
    units = tuple(ruler(midi) for midi in midis)
    blacks = tuple(is_black(midi) for midi in midis)
    steps = tuple(b - a for a, b in pairwise(units))
    found: list[ChordFingering] = []
    for fingers in _grips(steps, size, rolled) if midis else ((),):
        costs = shape_costs(fingers, units, blacks, size)
        found.append(ChordFingering(fingers, sum(costs.values()), tuple(sorted(costs.items()))))
    return tuple(found)


def playable(midis: Sequence[int], hand: str, size: str) -> bool:
    """Is there a fingering for these ascending keys? As `finger_chord`, without its cost.

    >>> playable((48, 55, 62), "left", "medium"), playable((48, 64), "left", "medium")
    (True, False)
    """
    if len(midis) < 2:
        return True
    if len(midis) > MAX_NOTES:
        return False
    units = [ruler(midi) for midi in midis]
    steps = [b - a for a, b in pairwise(units)]
    if hand == "left":  # in a mirror
        steps.reverse()
    return bool(_grips(tuple(steps), size, False))


@FINGERS.keep
def _grips(steps: tuple[int, ...], size: str, rolled: bool) -> tuple[tuple[int, ...], ...]:
    """Fingers of the right hand for keys at these distances, in units, from one to the next:
    the same everywhere on the keyboard, black or white."""
    limits = _pair_limits(size, rolled)
    found: list[tuple[int, ...]] = [(finger,) for finger in (1, 2, 3, 4, 5)]
    heights = [0]
    for step in steps:
        heights.append(heights[-1] + step)
        found = [(*fingers, finger) for fingers in found
                 for finger in range(fingers[-1] + 1, 6)
                 if all(heights[-1] - height in limits[before, finger]
                        for before, height in zip(fingers, heights[:-1], strict=True))]
    return tuple(found)


@FINGERS.keep
def _pair_limits(size: str, rolled: bool) -> Mapping[tuple[int, int], range]:
    """Units that each pair of fingers may span in a chord."""
    scale = (ROLL_NUMERATOR, ROLL_DENOMINATOR) if rolled else (1, 1)
    limits = {}
    for low, high in combinations((1, 2, 3, 4, 5), 2):
        fits = [units for units in range(1, 3 * UNITS_PER_OCTAVE)
                if pair_limits_ok(low, high, units, size, *scale)
                and natural_pair(low, high, units, size)]
        limits[low, high] = range(fits[0], fits[-1] + 1)
    return limits


def split_chord(midis: Sequence[int], size: str
                ) -> tuple[ChordFingering, ChordFingering] | None:
    """The cheapest way to share ascending keys between the two hands, (left, right).

    The left hand takes the lowest keys; either hand may take none. Of equal splits the one
    with fewer keys in the left hand is taken. None where no split can be played.

    >>> left, right = split_chord((48, 58, 64, 69, 74), "medium")
    >>> left.fingers, right.fingers
    ((5, 1), (1, 2, 5))
    """
    keys = _ascending(midis)
    best: tuple[ChordFingering, ChordFingering] | None = None
    for cut in range(len(keys) + 1):
        left = finger_chord(keys[:cut], "left", size)
        right = finger_chord(keys[cut:], "right", size)
        if left is not None and right is not None and (
                best is None or left.cost + right.cost < best[0].cost + best[1].cost):
            best = (left, right)
    return best
