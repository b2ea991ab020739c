"""The ergonomic model of 1997, rule by rule.

Parncutt, Sloboda, Clarke, Raekallio & Desain, "An ergonomic model of keyboard fingering for
melodic fragments", Music Perception 14(4), 341-382, 1997: twelve rules give points to a
fingering of single notes played legato; fewer points, easier to play. The model asks one
thing at a time and knows nothing of chords, rests or hand size. `fillwright.hands.costs`
holds the refined costs that fingerings are chosen by; this module is the yardstick.

Rules 2 and 3 go by how far apart the two fingers are asked to be, whichever comes first, as
the model's published results imply. Two notes apart, a finger spans nothing by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType

from fillwright.hands.reach import PARNCUTT_SPANS, FingerSpan, is_black, mirrored

__all__ = ["RULES", "parncutt_points", "parncutt_total"]

RULES = MappingProxyType({
    1: "stretch", 2: "small span", 3: "large span", 4: "position change count",
    5: "position change size", 6: "weak finger", 7: "three-four-five", 8: "three to four",
    9: "four on black", 10: "thumb on black", 11: "five on black", 12: "thumb passing",
})

_NO_SPAN = FingerSpan(0, 0, 0, 0, 0, 0)


def parncutt_points(midis: Sequence[int], fingers: Sequence[int], hand: str = "right"
                    ) -> dict[int, int]:
    """Points of a fingering by rule number, 1 to 12.

    Raises ValueError where keys and fingers differ in number, or where one finger plays two
    different keys running, which the model does not know.

    >>> points = parncutt_points((60, 62, 64, 65, 67), (1, 2, 3, 4, 5))
    >>> {rule: count for rule, count in points.items() if count}
    {6: 2, 7: 1, 8: 1}
    """
    if len(midis) != len(fingers):
        raise ValueError(f"{len(midis)} keys and {len(fingers)} fingers")
    if hand not in ("left", "right"):
        raise ValueError(f"not a hand: {hand!r}")
    keys = list(midis) if hand == "right" else [mirrored(midi) for midi in midis]
    points = dict.fromkeys(RULES, 0)
    for place, finger in enumerate(fingers):
        points[6] += finger in (4, 5)
        _add_black(points, keys, fingers, place)
        if place >= 1:
            _add_pair(points, keys[place - 1], keys[place], fingers[place - 1], finger)
        if place >= 2:
            _add_triple(points, keys[place - 2:place + 1], fingers[place - 2:place + 1])
    return points


def parncutt_total(midis: Sequence[int], fingers: Sequence[int], hand: str = "right") -> int:
    """Points of a fingering, all rules together."""
    return sum(parncutt_points(midis, fingers, hand).values())


def _outside(distance: int, low: int, high: int) -> int:
    return max(low - distance, distance - high, 0)


def _add_pair(points: dict[int, int], key: int, next_key: int, finger: int, next_finger: int
              ) -> None:
    if finger == next_finger:
        if key != next_key:
            raise ValueError(f"finger {finger} plays two keys running")
        return
    distance = next_key - key
    span = PARNCUTT_SPANS[finger, next_finger]
    points[1] += 2 * _outside(distance, span.min_comf, span.max_comf)
    apart = distance if finger < next_finger else -distance
    upwards = PARNCUTT_SPANS[min(finger, next_finger), max(finger, next_finger)]
    weight = 1 if 1 in (finger, next_finger) else 2
    points[2] += weight * max(upwards.min_rel - apart, 0)
    points[3] += weight * max(apart - upwards.max_rel, 0)
    points[8] += (finger, next_finger) == (3, 4)
    black, next_black = is_black(key), is_black(next_key)
    points[9] += ((finger, black, next_finger, next_black)
                  in ((3, False, 4, True), (4, True, 3, False)))
    if (next_finger == 1 and distance > 0) or (finger == 1 and distance < 0):
        thumb_black, other_black = ((next_black, black) if next_finger == 1
                                    else (black, next_black))
        if thumb_black == other_black:
            points[12] += 1
        elif thumb_black:
            points[12] += 3


def _add_triple(points: dict[int, int], keys: Sequence[int], fingers: Sequence[int]) -> None:
    points[7] += sorted(fingers) == [3, 4, 5]
    distance = keys[2] - keys[0]
    span = _NO_SPAN if fingers[0] == fingers[2] else PARNCUTT_SPANS[fingers[0], fingers[2]]
    change = _outside(distance, span.min_comf, span.max_comf)
    if change:
        full = (fingers[1] == 1 and min(keys[0], keys[2]) < keys[1] < max(keys[0], keys[2])
                and _outside(distance, span.min_prac, span.max_prac) > 0)
        points[4] += 2 if full else 1
        points[5] += change


def _add_black(points: dict[int, int], keys: Sequence[int], fingers: Sequence[int], place: int
               ) -> None:
    if fingers[place] not in (1, 5) or not is_black(keys[place]):
        return
    neighbours = [keys[other] for other in (place - 1, place + 1) if 0 <= other < len(keys)]
    beside = 2 * sum(not is_black(key) for key in neighbours)
    if fingers[place] == 1:
        points[10] += 1 + beside
    else:
        points[11] += beside
