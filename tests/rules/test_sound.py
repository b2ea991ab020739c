"""Low interval limits and rubs."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillwright.hands.clash import (
    LENIENT_LIMITS,
    LIMIT_ALLOWANCE,
    STRICT_LIMITS,
    THIRD_ALLOWANCE,
    minor_ninth,
    mud,
    mud_cost,
    mud_limit,
    rub,
)

KEYS = st.integers(21, 108)
SETS = st.sets(st.integers(24, 60), min_size=1, max_size=6)


def test_the_strict_table_is_never_below_the_lenient_one() -> None:
    assert set(STRICT_LIMITS) == set(LENIENT_LIMITS)
    for interval, limit in STRICT_LIMITS.items():
        assert limit >= LENIENT_LIMITS[interval]


# Lowest notes in the arrangers' tables: minor third C3 (Lowell & Pullig, Arranging for Large
# Jazz Ensemble, 2003), major third B2 or Bb2, fifth C#2 or Bb1, minor seventh F2.
@pytest.mark.parametrize(("interval", "strict", "lenient"),
                         [(3, 48, 48), (4, 47, 46), (7, 37, 34), (10, 41, 41), (1, 52, 52)])
def test_cells_of_the_tables(interval: int, strict: int, lenient: int) -> None:
    assert STRICT_LIMITS[interval] == strict
    assert LENIENT_LIMITS[interval] == lenient
    low = lenient - THIRD_ALLOWANCE.get(interval, LIMIT_ALLOWANCE)
    assert mud((low, low + interval)) == []
    assert mud((low - 1, low - 1 + interval)) == [(low - 1, low - 1 + interval)]
    assert mud_cost((strict, strict + interval)) == 0
    assert mud_cost((strict - 1, strict - 1 + interval)) == 1


def test_a_third_low_down() -> None:
    assert mud_cost((43, 47)) > 0 and mud_cost((55, 59)) == 0
    assert mud((43, 47)) == [(43, 47)]
    assert mud((46, 50)) == [] and mud((47, 50)) == []


def test_shells_and_tenths_of_solo_piano_are_clear() -> None:
    # Common practice: left-hand sevenths down to D2, tenths down to about G1, octaves free.
    for keys in ((38, 48), (40, 49), (36, 52), (31, 47), (24, 36), (29, 41)):
        assert mud(keys) == []


def test_every_pair_counts() -> None:
    assert mud((37, 44, 47)) == [(37, 47), (44, 47)]  # a seventh on C#2, not only neighbours
    assert mud((36, 40, 43)) == [(36, 40), (40, 43)]


@given(SETS)
def test_higher_is_never_muddier(keys: set[int]) -> None:
    up = [midi + 1 for midi in keys]
    assert len(mud(up)) <= len(mud(list(keys)))
    assert mud_cost(up) <= mud_cost(list(keys))


@given(SETS)
def test_mud_always_costs(keys: set[int]) -> None:
    assert all(low < high and {low, high} <= keys for low, high in mud(list(keys)))
    ordered = sorted(keys)
    if set(pairwise(ordered)) & set(mud(ordered)):
        assert mud_cost(ordered) > 0


@given(KEYS, KEYS)
def test_rubs_are_half_steps_and_minor_ninths(low: int, high: int) -> None:
    assert rub(low, high) == (high - low in (1, 13, 25, 37, 49, 61, 73, 85))
    assert minor_ninth(low, high) == (rub(low, high) and high - low > 1)


@given(KEYS, KEYS, st.integers(0, 11))
def test_only_a_flat_nine_over_its_root_is_excused(low: int, high: int, root: int) -> None:
    excused = rub(low, high) and not rub(low, high, root, True)
    assert excused == (low % 12 == root and high - low > 1 and (high - low) % 12 == 1)
    assert rub(low, high, root, False) == rub(low, high)


@pytest.mark.parametrize("interval", range(1, 40))
def test_the_limit_of_an_interval_is_where_its_mud_ends(interval: int) -> None:
    ends = [low for low in range(21, 70) if not mud((low, low + interval))]
    assert ends == list(range(max(mud_limit(interval), 21), 70))
