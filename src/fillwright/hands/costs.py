"""What fingerings cost, in one currency.

The unit is half a point of Balliauw et al. 2017 (their rules 8 and 9 weigh one half), so
every cost is an integer. Rules marked P are from Parncutt et al. 1997, B from Balliauw et
al. 2017, J from Jacobs 2001; see `fillwright.hands.reach` for the titles.

Everything here is for the right hand; the left hand is mirrored before it comes here.
"""

from __future__ import annotations

from functools import lru_cache
from types import MappingProxyType

from fillwright.hands.reach import SPANS, UNITS_PER_OCTAVE, FingerSpan

__all__ = ["TERMS", "WEIGHTS", "natural_pair", "pair_costs", "pair_limits_ok",
           "position_costs", "shape_costs", "span_costs"]

# Half points. Per unit means per unit of the fourteen-to-the-octave ruler.
WEIGHTS = MappingProxyType({
    "stretch": 4,            # per unit outside the comfortable limits (P1, B1: 2 points)
    "small_span_thumb": 2,   # per unit below the relaxed limits, thumb (P2, B2: 1 point)
    "small_span": 4,         # the same without the thumb (P2, B2: 2 points)
    "large_span": 2,         # per unit above the relaxed limits, every pair (P3, J: 1 point)
    "half_change": 2,        # half change of position over three notes (P4, B3: 1 point)
    "full_change": 4,        # full change of position over three notes (P4, B3: 2 points)
    "change_size": 2,        # per unit of a change of position (P5, B4: 1 point)
    "weak_finger": 2,        # each use of the fourth finger (J, B5: 1 point)
    "three_four": 2,         # third finger, then fourth (P8, B6: 1 point)
    "four_on_black": 2,      # third on white and fourth on black together (P9, B7: 1 point)
    "four_on_white_octave": 12,  # fourth on the white top key of an octave (common practice:
                                 # octaves are 1-5, the fourth is for black keys)
    "wide_skip": 8,          # a seventh or more legato from the thumb to the second or third
                             # finger or from the second to the fifth (common practice: it is
                             # 1-5, or 1-4)
    "thumb_on_black": 2,     # each use (P10: 1 point; B8 halves it)
    "thumb_black_white": 4,  # and for each white neighbour (P10: 2 points; B8 halves it)
    "five_black_white": 2,   # fifth on black, each white neighbour (B9: 1 point; P11: 2)
    "thumb_pass": 2,         # thumb passes on the same level (P12, B10: 1 point)
    "thumb_pass_black": 6,   # thumb on black passes a finger on white (P12, B11: 3 points)
    "slide": 30,             # one finger legato on two keys running (common practice: never,
                             # but for want of anything better)
    "same_finger": 2,        # one finger on two keys in succession (B12: 1 point)
    "anchored_cross": 16,    # a finger passes another while one more holds its key (common
                             # practice: a hand that is held does not turn)
    "beyond_limit": 20,      # per unit outside the practical limits (B13: 10 points)
    "changed_finger": 2,     # one key again with another finger (B15: 1 point)
    "changed_at_leisure": 10,  # and that with time for one finger to strike again (common
                               # practice: fingers change on one key where it is drummed)
    "changed_in_chord": 12,  # each key of a chord struck again with other fingers (common
                             # practice: a repeated chord keeps its fingers)
})

_SEVENTH = 11
"""The least units of a seventh: C to B flat."""
_NOT_FOR_SEVENTHS = ((1, 2), (1, 3), (2, 5))

TERMS = ("stretch", "span", "position", "weak finger", "black keys", "thumb passing",
         "same finger")
"""What the costs are summed under."""


def _outside(distance: int, low: int, high: int) -> int:
    return max(low - distance, distance - high, 0)


def span_costs(span: FingerSpan, distance: int, thumb: bool) -> tuple[int, int]:
    """(stretch, small and large span) of one pair of fingers.

    span, distance   from the lower-numbered finger to the higher, in units
    """
    stretch = WEIGHTS["stretch"] * _outside(distance, span.min_comf, span.max_comf)
    stretch += WEIGHTS["beyond_limit"] * _outside(distance, span.min_prac, span.max_prac)
    small = WEIGHTS["small_span_thumb" if thumb else "small_span"]
    wide = (small * max(span.min_rel - distance, 0)
            + WEIGHTS["large_span"] * max(distance - span.max_rel, 0))
    return stretch, wide


def pair_limits_ok(low_finger: int, high_finger: int, distance: int, size: str,
                   numerator: int = 1, denominator: int = 1) -> bool:
    """Are two keys struck together within the practical limits of two fingers?

    distance   units from the lower key to the higher, positive; fingers ascending.
    The limit may be scaled by `numerator / denominator` for rolled chords.
    """
    span = SPANS[size][low_finger, high_finger]
    return (distance >= max(span.min_prac, 1)
            and distance * denominator <= span.max_prac * numerator)


def natural_pair(low_finger: int, high_finger: int, distance: int, size: str) -> bool:
    """Would a player take these fingers for two keys struck together?

    The thumb and the second or third finger are not stretched beyond comfort, nor to a seventh,
    where the fourth and fifth lie free (common practice: a struck octave or seventh is 1-5, or
    1-4).
    """
    widest = min(SPANS[size][low_finger, high_finger].max_comf, _SEVENTH - 1)
    return (low_finger, high_finger) not in ((1, 2), (1, 3)) or distance <= widest


def shape_costs(fingers: tuple[int, ...], units: tuple[int, ...], blacks: tuple[bool, ...],
                size: str) -> dict[str, int]:
    """What it costs to hold keys together (B14: rules 1, 2, 13 for every pair in a chord,
    with the large span, the weak finger and the black-key rules for each finger).

    fingers, units (places on the ruler) and blacks go by ascending pitch.
    """
    stretch = wide = black = 0
    for low in range(len(fingers)):
        for high in range(low + 1, len(fingers)):
            span = SPANS[size][fingers[low], fingers[high]]
            one, two = span_costs(span, units[high] - units[low], fingers[low] == 1)
            stretch += one
            wide += two
            if (fingers[low], fingers[high]) == (3, 4) and not blacks[low] and blacks[high]:
                black += WEIGHTS["four_on_black"]
    weak = WEIGHTS["weak_finger"] * fingers.count(4)
    if fingers and blacks[0] and fingers[0] == 1:
        black += WEIGHTS["thumb_on_black"]
        if len(blacks) > 1 and not blacks[1]:
            black += WEIGHTS["thumb_black_white"]
    if fingers == (1, 4) and units[1] - units[0] == UNITS_PER_OCTAVE and not blacks[1]:
        black += WEIGHTS["four_on_white_octave"]
    if len(fingers) > 1 and blacks[-1] and fingers[-1] == 5 and not blacks[-2]:
        black += WEIGHTS["five_black_white"]
    return {"stretch": stretch, "span": wide, "weak finger": weak, "black keys": black}


@lru_cache(maxsize=16384)
def pair_costs(first: int, second: int, distance: int, first_black: bool, second_black: bool,
               size: str, bound: bool = True) -> tuple[tuple[str, int], ...]:
    """What one key after another costs.

    distance   units from the first key to the second, negative going down
    bound      single notes played legato; False for the keys of successive chords
    Terms with a cost of zero are left out.
    """
    costs: dict[str, int] = {}
    if distance == 0:
        if first != second:
            costs["same finger"] = WEIGHTS["changed_finger"]
        return tuple(costs.items())
    if first == second:
        # A finger spans nothing by itself, so every unit is beyond its limits; between
        # chords, which are not bound anyway, the hand just moves as a whole.
        beyond = WEIGHTS["slide"] + WEIGHTS["beyond_limit"] * abs(distance) if bound else 0
        costs["same finger"] = WEIGHTS["same_finger"] + beyond
        costs["position"] = WEIGHTS["half_change"] + WEIGHTS["change_size"] * abs(distance)
    else:
        apart = distance if first < second else -distance
        span = SPANS[size][min(first, second), max(first, second)]
        stretch, wide = span_costs(span, apart, 1 in (first, second))
        if bound and apart >= _SEVENTH and (min(first, second), max(first, second)
                                            ) in _NOT_FOR_SEVENTHS:
            stretch += WEIGHTS["wide_skip"]
        costs["stretch"], costs["span"] = stretch, wide
    if (first, second) == (3, 4):
        costs["weak finger"] = WEIGHTS["three_four"]
    black = 0
    if {first, second} == {3, 4} and first_black != second_black:
        four_black = first_black if first == 4 else second_black
        black += WEIGHTS["four_on_black"] if four_black else 0
    if first_black != second_black:
        finger_on_black = first if first_black else second
        black += {1: WEIGHTS["thumb_black_white"],
                  5: WEIGHTS["five_black_white"]}.get(finger_on_black, 0)
    costs["black keys"] = black
    passes = ((distance > 0 and second == 1 and first > 1)
              or (distance < 0 and first == 1 and second > 1))
    if passes:
        thumb_black = second_black if second == 1 else first_black
        other_black = first_black if second == 1 else second_black
        if thumb_black and not other_black:
            costs["thumb passing"] = WEIGHTS["thumb_pass_black"]
        elif thumb_black == other_black:
            costs["thumb passing"] = WEIGHTS["thumb_pass"]
    return tuple((term, cost) for term, cost in costs.items() if cost)


@lru_cache(maxsize=16384)
def position_costs(first: int, middle: int, third: int, distance: int, between: bool, size: str
                   ) -> int:
    """What a change of hand position over three notes costs (P4 and P5, B3 and B4).

    distance   units from the first key to the third
    between    whether the middle key lies between the two
    """
    if first == third:
        span = FingerSpan(0, 0, 0, 0, 0, 0)
    else:
        span = SPANS[size][first, third]
    size_of_change = _outside(distance, span.min_comf, span.max_comf)
    if not size_of_change:
        return 0
    full = middle == 1 and between and _outside(distance, span.min_prac, span.max_prac) > 0
    change = WEIGHTS["full_change" if full else "half_change"]
    return change + WEIGHTS["change_size"] * size_of_change
