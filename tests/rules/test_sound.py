"""Low interval limits and rubs."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillwright.rules import MINOR_NINTH, MUD, RUB
from fillwright.rules.sound import LENIENT_LIMITS, LIMIT_ALLOWANCE, STRICT_LIMITS, THIRD_ALLOWANCE

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
    assert MUD.pairs((low, low + interval)) == []
    assert MUD.pairs((low - 1, low - 1 + interval)) == [(low - 1, low - 1 + interval)]
    assert MUD.cost((strict, strict + interval)) == 0
    assert MUD.cost((strict - 1, strict - 1 + interval)) == 1


def test_a_third_low_down() -> None:
    assert MUD.cost((43, 47)) > 0 and MUD.cost((55, 59)) == 0
    assert MUD.pairs((43, 47)) == [(43, 47)]
    assert MUD.pairs((46, 50)) == [] and MUD.pairs((47, 50)) == []


def test_shells_and_tenths_of_solo_piano_are_clear() -> None:
    # Common practice: left-hand sevenths down to D2, tenths down to about G1, octaves free.
    for keys in ((38, 48), (40, 49), (36, 52), (31, 47), (24, 36), (29, 41)):
        assert MUD.pairs(keys) == []


def test_every_pair_counts() -> None:
    assert MUD.pairs((37, 44, 47)) == [(37, 47), (44, 47)]  # a seventh on C#2, not only neighbours
    assert MUD.pairs((36, 40, 43)) == [(36, 40), (40, 43)]


@given(SETS)
def test_higher_is_never_muddier(keys: set[int]) -> None:
    up = [midi + 1 for midi in keys]
    assert len(MUD.pairs(up)) <= len(MUD.pairs(list(keys)))
    assert MUD.cost(up) <= MUD.cost(list(keys))


@given(SETS)
def test_mud_always_costs(keys: set[int]) -> None:
    assert all(low < high and {low, high} <= keys for low, high in MUD.pairs(list(keys)))
    ordered = sorted(keys)
    if set(pairwise(ordered)) & set(MUD.pairs(ordered)):
        assert MUD.cost(ordered) > 0


@given(KEYS, KEYS)
def test_rubs_are_half_steps_and_minor_ninths(low: int, high: int) -> None:
    assert RUB.breaks(low, high) == (abs(high - low) in (1, 13, 25, 37, 49, 61, 73, 85))
    assert RUB.breaks(low, high) == RUB.breaks(high, low)
    assert MINOR_NINTH.breaks(low, high) == (RUB.breaks(low, high) and high - low > 1)


@given(KEYS, KEYS, st.integers(0, 11))
def test_only_a_flat_nine_over_its_root_is_excused(low: int, high: int, root: int) -> None:
    excused = RUB.breaks(low, high) and not RUB.breaks(low, high, (root,))
    assert excused == (min(low, high) % 12 == root and abs(high - low) > 1
                       and abs(high - low) % 12 == 1)


@pytest.mark.parametrize("interval", range(1, 40))
def test_the_limit_of_an_interval_is_where_its_mud_ends(interval: int) -> None:
    ends = [low for low in range(21, 70) if not MUD.pairs((low, low + interval))]
    assert ends == list(range(max(MUD.limit(interval), 21), 70))
