"""Chord fingerings against brute force and against what any hand knows."""

from __future__ import annotations

from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright.hands import (
    HAND_SIZES,
    all_fingerings,
    finger_chord,
    finger_rolled,
    is_black,
    mirrored,
    playable,
    split_chord,
)
from fillwright.hands.reach import SPANS, span_units

SIZES = st.sampled_from(HAND_SIZES)
HANDS = st.sampled_from(("left", "right"))
CHORDS = st.sets(st.integers(48, 68), min_size=1, max_size=5).map(lambda keys: tuple(sorted(keys)))


def price(midis: tuple[int, ...], fingers: tuple[int, ...], size: str) -> int | None:
    """Right hand, half points, written out anew from Balliauw et al. 2017; None where it
    cannot be played."""
    cost = 0.0
    for low, high in combinations(range(len(midis)), 2):
        one, two = fingers[low], fingers[high]
        if one >= two:
            return None
        span = SPANS[size][one, two]
        units = span_units(midis[low], midis[high])
        if not span.min_prac <= units <= span.max_prac:
            return None
        if one == 1 and two in (2, 3) and units > min(span.max_comf, 10):
            return None  # common practice: the fourth and fifth lie free, a seventh is 1-5
        cost += 2 * max(span.min_comf - units, units - span.max_comf, 0)
        cost += max(span.min_rel - units, 0) * (1 if one == 1 else 2)
        cost += max(units - span.max_rel, 0)
        cost += (one, two) == (3, 4) and not is_black(midis[low]) and is_black(midis[high])
    cost += fingers.count(4)
    if fingers == (1, 4) and span_units(*midis) == 14 and not is_black(midis[1]):
        cost += 6  # common practice: an octave is 1-5, the fourth is for black keys
    if fingers[0] == 1 and is_black(midis[0]):
        cost += 1 + 2 * (len(midis) > 1 and not is_black(midis[1]))
    if fingers[-1] == 5 and is_black(midis[-1]) and len(midis) > 1 and not is_black(midis[-2]):
        cost += 1
    return round(2 * cost)


@settings(max_examples=100, deadline=None)
@given(CHORDS, SIZES)
def test_the_cheapest_by_brute_force(midis: tuple[int, ...], size: str) -> None:
    prices = {fingers: price(midis, fingers, size)
              for fingers in product(range(1, 6), repeat=len(midis))}
    allowed = {fingers: cost for fingers, cost in prices.items() if cost is not None}
    found = finger_chord(midis, "right", size)
    if found is None:
        assert not allowed
    else:
        assert found.cost == min(allowed.values()) == allowed[found.fingers]
        assert sum(cost for _, cost in found.costs) == found.cost
    assert {option.fingers: option.cost for option in all_fingerings(midis, "right", size)
            } == allowed


@settings(max_examples=60, deadline=None)
@given(CHORDS, SIZES)
def test_the_left_hand_is_the_right_in_the_mirror(midis: tuple[int, ...], size: str) -> None:
    image = tuple(mirrored(midi) for midi in reversed(midis))
    left, right = finger_chord(midis, "left", size), finger_chord(image, "right", size)
    assert (left is None) == (right is None)
    if left is not None and right is not None:
        assert left.fingers == tuple(reversed(right.fingers))
        assert left.cost == right.cost


@settings(max_examples=60, deadline=None)
@given(CHORDS, HANDS)
def test_larger_hands_play_all_that_smaller_ones_play(midis: tuple[int, ...], hand: str) -> None:
    playable = [finger_chord(midis, hand, size) is not None for size in HAND_SIZES]
    assert playable == sorted(playable)


@settings(max_examples=60, deadline=None)
@given(CHORDS, HANDS, SIZES)
def test_octaves_share_their_fingers(midis: tuple[int, ...], hand: str, size: str) -> None:
    assert finger_chord(midis, hand, size) == finger_chord(tuple(m + 12 for m in midis), hand,
                                                           size)


def test_the_fourth_finger_is_for_black_octaves() -> None:
    """Common practice: octaves are 1-5; 1-4 is for those of black keys, and a hand that goes from
    one octave to the next does not turn that round."""
    costs = {(low, o.fingers): o.cost for low in (67, 70)
             for o in all_fingerings((low, low + 12), "right", "medium")}
    assert costs[67, (1, 4)] - costs[67, (1, 5)] > costs[70, (1, 4)] - costs[70, (1, 5)]


@settings(max_examples=60, deadline=None)
@given(CHORDS, HANDS, SIZES, st.data())
def test_fixed_fingers_are_kept(midis: tuple[int, ...], hand: str, size: str, data: st.DataObject
                                ) -> None:
    key, finger = data.draw(st.sampled_from(midis)), data.draw(st.integers(1, 5))
    wanted = [option for option in all_fingerings(midis, hand, size)
              if option.fingers[midis.index(key)] == finger]
    found = finger_chord(midis, hand, size, {key: finger})
    if found is None:
        assert not wanted
    else:
        assert found in wanted
        assert found.cost == min(option.cost for option in wanted)


@settings(max_examples=60, deadline=None)
@given(CHORDS, HANDS, SIZES)
def test_what_can_be_struck_can_be_rolled(midis: tuple[int, ...], hand: str, size: str) -> None:
    struck = {option.fingers for option in all_fingerings(midis, hand, size)}
    rolled = {option.fingers for option in all_fingerings(midis, hand, size, rolled=True)}
    assert struck <= rolled


# Common practice: fingers of triads, four-note chords and shells.
@pytest.mark.parametrize(("midis", "hand", "fingers"), [
    ((60, 64, 67), "right", (1, 3, 5)),
    ((60, 64, 67, 72), "right", (1, 2, 3, 5)),
    ((48, 58), "left", (5, 1)),
    ((48, 52, 55), "left", (5, 3, 1)),
    ((50, 53, 57), "left", (5, 3, 1)),
])
def test_familiar_chords(midis: tuple[int, ...], hand: str, fingers: tuple[int, ...]) -> None:
    found = finger_chord(midis, hand, "medium")
    assert found is not None and found.fingers == fingers


def test_tenths_are_rolled_or_refused() -> None:
    # Boyle, Boyle & Booker 2015: 87 % of women and 24 % of men cannot play a tenth.
    for size in ("small", "medium"):
        assert finger_chord((48, 64), "left", size) is None
        rolled = finger_rolled((48, 64), "left", size)
        assert rolled is not None and rolled.fingers == (5, 1)
    assert finger_chord((48, 64), "left", "large") is not None
    assert finger_chord((50, 66), "left", "large") is None  # white to black
    assert finger_rolled((48, 67), "left", "small") is None  # more than a third beyond


def test_a_hand_has_five_fingers() -> None:
    assert finger_chord((60, 61, 62, 63, 64, 65), "right", "large") is None
    assert finger_chord((), "right", "small") is not None


def test_misuse_is_refused() -> None:
    with pytest.raises(ValueError, match="ascend"):
        finger_chord((64, 60), "right", "medium")
    with pytest.raises(ValueError, match="ascend"):
        finger_chord((60, 60), "right", "medium")
    with pytest.raises(ValueError, match="not a hand"):
        finger_chord((60,), "middle", "medium")


@settings(max_examples=60, deadline=None)
@given(st.sets(st.integers(40, 76), min_size=1, max_size=8).map(lambda k: tuple(sorted(k))), SIZES)
def test_the_cheapest_split(midis: tuple[int, ...], size: str) -> None:
    costs = []
    for cut in range(len(midis) + 1):
        left = finger_chord(midis[:cut], "left", size)
        right = finger_chord(midis[cut:], "right", size)
        if left is not None and right is not None:
            costs.append(left.cost + right.cost)
    found = split_chord(midis, size)
    if found is None:
        assert not costs
    else:
        assert found[0].cost + found[1].cost == min(costs)
        assert len(found[0].fingers) + len(found[1].fingers) == len(midis)


@settings(max_examples=100, deadline=None)
@given(CHORDS, HANDS, SIZES)
def test_playable_is_having_a_fingering_in_every_octave(midis: tuple[int, ...], hand: str,
                                                        size: str) -> None:
    wanted = finger_chord(midis, hand, size) is not None
    for octaves in (-1, 0, 1):
        assert playable([midi + 12 * octaves for midi in midis], hand, size) == wanted


def test_six_keys_are_not_playable() -> None:
    assert not playable((60, 61, 62, 63, 64, 65), "right", "large")
