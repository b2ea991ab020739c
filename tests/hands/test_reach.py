"""Reach tables against what was published about them."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillwright.hands import (
    HAND_SIZES,
    FingerSpan,
    Spans,
    comfortable,
    hand_span,
    is_black,
    mirrored,
    rolled_span_ok,
    span_ok,
)
from fillwright.hands.reach import MILLIMETRES_PER_UNIT, PARNCUTT_SPANS, SPANS, ruler, span_units

KEYS = st.integers(21, 108)
TABLES = [PARNCUTT_SPANS, *SPANS.values()]


@pytest.mark.parametrize("table", TABLES)
def test_a_table_has_a_row_for_each_pair_and_its_turn(table: Spans) -> None:
    assert set(table) == {(low, high) for low in range(1, 6) for high in range(1, 6)
                          if low != high}
    for (low, high), span in table.items():
        assert table[high, low] == span.turned()
        assert span.turned().turned() == span


@pytest.mark.parametrize("table", TABLES)
def test_comfortable_limits_lie_two_inside_practical_ones(table: Spans) -> None:
    # Parncutt et al. 1997, said with their Table 1: MaxComf = MaxPrac - 2 for every pair,
    # MinComf = MinPrac + 2 where the thumb takes part, MinComf = MinPrac where it does not.
    # The tables of Balliauw et al. 2017 keep to it.
    for low, high in combinations(range(1, 6), 2):
        span = table[low, high]
        assert span.max_comf == span.max_prac - 2
        assert span.min_comf == span.min_prac + (2 if low == 1 else 0)


def test_relaxed_limits_without_the_thumb_are_two_semitones_a_finger() -> None:
    # Parncutt et al. 1997: MaxRel = 2 times the difference of the fingers, MinRel one less.
    for low, high in combinations(range(2, 6), 2):
        span = PARNCUTT_SPANS[low, high]
        assert span.max_rel == 2 * (high - low)
        assert span.min_rel == span.max_rel - 1


def test_cells_of_the_first_published_table() -> None:
    # Parncutt et al. 1997, Table 1.
    assert PARNCUTT_SPANS[1, 5] == FingerSpan(-1, 1, 7, 10, 13, 15)
    assert PARNCUTT_SPANS[3, 4] == FingerSpan(1, 1, 1, 2, 2, 4)
    assert PARNCUTT_SPANS[2, 1] == FingerSpan(-10, -8, -5, -1, 3, 5)


@pytest.mark.parametrize(("size", "reach", "comfort"),
                         [("small", 14, 12), ("medium", 16, 14), ("large", 18, 16)])
def test_octave_ninth_and_tenth(size: str, reach: int, comfort: int) -> None:
    # Balliauw et al. 2017: a small hand reaches an octave, a medium one a ninth, a large
    # one a tenth between white keys (14, 16, 18 units).
    assert (hand_span(size).max_prac, hand_span(size).max_comf) == (reach, comfort)
    assert hand_span(size).max_prac == ruler({"small": 72, "medium": 74, "large": 76}[size]
                                             ) - ruler(60)


def test_larger_hands_play_all_that_smaller_ones_play() -> None:
    for smaller, larger in (("small", "medium"), ("medium", "large")):
        for pair in combinations(range(1, 6), 2):
            inner, outer = SPANS[smaller][pair], SPANS[larger][pair]
            assert outer.min_prac <= inner.min_prac and inner.max_prac <= outer.max_prac
            assert outer.min_comf <= inner.min_comf and inner.max_comf <= outer.max_comf


@pytest.mark.parametrize("low", range(48, 60))
def test_limits_from_every_key(low: int) -> None:
    # Boyle, Boyle & Booker, Proc. 12th Australasian Piano Pedagogy Conf., 2015: most hands
    # cannot play a tenth, so it is refused to all but large ones; small ones stop at an octave.
    for size in HAND_SIZES:
        assert span_ok(low, low + 12, size)
    for ninth in (13, 14):
        assert not span_ok(low, low + ninth, "small")
    for tenth in (15, 16):
        assert not span_ok(low, low + tenth, "medium")
        assert rolled_span_ok(low, low + tenth, "medium")
    assert not span_ok(low, low + 17, "large")
    # Between a white and a black key a major tenth is wider by half a key.
    assert span_ok(low, low + 16, "large") == (is_black(low) == is_black(low + 16))


@pytest.mark.parametrize(("size", "reach"), [("small", 12), ("medium", 14), ("large", 16)])
def test_units_never_allow_more_than_the_same_limits_in_semitones(size: str, reach: int) -> None:
    for low in range(36, 60):
        for high in range(low, low + 30):
            if span_ok(low, high, size):
                assert high - low <= reach
            if rolled_span_ok(low, high, size):
                assert 3 * (high - low) <= 4 * reach


def test_units_are_close_to_millimetres() -> None:
    # White-key tenths and ninths of a standard keyboard: 212.1 and 188.6 mm (165 mm octave).
    assert round(18 * MILLIMETRES_PER_UNIT, 1) == 212.1
    assert round(16 * MILLIMETRES_PER_UNIT, 1) == 188.6


@given(KEYS, KEYS)
def test_the_mirror_keeps_distance_and_colour(one: int, two: int) -> None:
    assert span_units(one, two) == span_units(mirrored(two), mirrored(one))
    assert is_black(one) == is_black(mirrored(one))


@given(KEYS)
def test_an_octave_is_fourteen_units_everywhere(low: int) -> None:
    assert span_units(low, low + 12) == 14


def test_imaginary_black_keys_lie_between_white_neighbours() -> None:
    assert span_units(64, 65) == span_units(71, 72) == 2
    assert span_units(60, 61) == span_units(61, 62) == 1


@given(KEYS, KEYS, st.sampled_from(HAND_SIZES))
def test_comfort_is_within_reach_and_reach_within_a_roll(one: int, two: int, size: str) -> None:
    assert span_ok(one, two, size) or not comfortable(one, two, size)
    assert rolled_span_ok(one, two, size) or not span_ok(one, two, size)
    assert span_ok(one, two, size) == span_ok(two, one, size)


def test_unknown_sizes_and_tables_that_do_not_widen_are_refused() -> None:
    with pytest.raises(KeyError):
        span_ok(60, 61, "huge")
    with pytest.raises(ValueError, match="widen"):
        FingerSpan(0, 1, 2, 1, 3, 4)
