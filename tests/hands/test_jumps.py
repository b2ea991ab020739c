"""Time to travel: a monotone law with the right order of size."""

from __future__ import annotations

from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillwright.hands import HAND_SIZES, mirrored
from fillwright.hands.jumps import (
    JUMP_SECONDS,
    jump_ok,
    jump_seconds_needed,
    shift_units,
)

SIZES = st.sampled_from(HAND_SIZES)
KEYS = st.integers(24, 100)
STROKES = st.lists(KEYS, min_size=1, max_size=4)


@given(STROKES, STROKES, SIZES)
def test_there_and_back_take_the_same_time(one: list[int], two: list[int], size: str) -> None:
    assert jump_seconds_needed(one, two, size) == jump_seconds_needed(two, one, size)
    assert jump_seconds_needed([mirrored(m) for m in one], [mirrored(m) for m in two], size
                               ) == jump_seconds_needed(one, two, size)


@given(KEYS, st.integers(0, 40), SIZES)
def test_further_never_takes_less(low: int, distance: int, size: str) -> None:
    assert (jump_seconds_needed((low,), (low + distance + 1,), size) + 0.05
            >= jump_seconds_needed((low,), (low + distance,), size))
    if distance:
        assert (jump_seconds_needed((low,), (low + distance + 1,), size)
                >= jump_seconds_needed((low,), (low + distance,), size))


@given(STROKES, STROKES)
def test_larger_hands_are_never_slower(one: list[int], two: list[int]) -> None:
    times = [jump_seconds_needed(one, two, size) for size in HAND_SIZES]
    assert times == sorted(times, reverse=True)


@given(STROKES, STROKES, SIZES, st.floats(0.01, 2.0))
def test_ok_is_the_same_as_time_enough(one: list[int], two: list[int], size: str, seconds: float
                                       ) -> None:
    if abs(seconds - jump_seconds_needed(one, two, size)) > 1e-6:
        assert jump_ok(one, two, seconds, size) == (
            seconds > jump_seconds_needed(one, two, size))


def test_keys_in_one_position_need_no_travel() -> None:
    assert shift_units(60, 60, 67, 67, "medium") == 0
    assert jump_seconds_needed((60,), (72,)) == JUMP_SECONDS["line"]
    assert jump_seconds_needed((60,), (60,)) == JUMP_SECONDS["repeat"]
    assert jump_seconds_needed((60, 64), (62, 65)) == JUMP_SECONDS["chord"]


def test_the_law_is_fitts_in_the_shannon_form() -> None:
    # Fitts 1954; MacKenzie 1989: a + b log2(1 + D / W). Three octaves up, less the octave a
    # medium hand covers, is 330 mm; a white key is 165 / 7 mm wide.
    wanted = JUMP_SECONDS["start"] + JUMP_SECONDS["per_bit"] * log2(1 + 330 / (165 / 7))
    assert jump_seconds_needed((36,), (72,)) == pytest.approx(wanted)


def test_stride_at_240_is_near_the_limit() -> None:
    # Common practice: a low root, then a chord around middle C, in quarter notes.
    root, upper = (41,), (55, 58, 62)
    assert jump_ok(root, upper, 60 / 200)
    assert jump_ok(root, upper, 60 / 240)
    assert not jump_ok(root, upper, 60 / 330)
