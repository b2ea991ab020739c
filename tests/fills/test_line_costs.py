"""The search for a line against brute force, and the costs against real melodies."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import product
from math import log2

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright.fills.devices.line.costs import (
    CHROMATIC,
    COSTS,
    INTERVAL_SHARE,
    PASSING,
    TENSION,
    TONE,
    Problem,
    Slot,
    moves_of,
    price,
)
from fillwright.fills.devices.line.search import search_line, tables_of
from fillwright.lattice import FORBIDDEN

pytestmark = pytest.mark.slow

D_DORIAN = tuple({2: TONE, 5: TONE, 9: TONE, 0: TONE, 4: TENSION, 7: TENSION, 11: PASSING}.get(
    pc, CHROMATIC) for pc in range(12))
G_MIXOLYDIAN = tuple({7: TONE, 11: TONE, 2: TONE, 5: TONE, 9: TENSION, 4: TENSION,
                      0: PASSING}.get(pc, CHROMATIC) for pc in range(12))


def slot(place: int, strength: int, kinds: tuple[int, ...] = D_DORIAN, **more: bool) -> Slot:
    return Slot(Fraction(place, 2), strength, more.get("held", False),
                more.get("closes", False), kinds, 0)


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    """Small questions: two chords, any strengths, pools of two to four pitches."""
    count = draw(st.integers(1, 5))
    change = draw(st.integers(1, 5))
    slots = []
    for index in range(count):
        later = index >= change
        slots.append(Slot(
            Fraction(index, 2), draw(st.integers(0, 2)), draw(st.booleans()),
            index == count - 1 or draw(st.booleans()),
            G_MIXOLYDIAN if later else D_DORIAN, int(later), index == change,
            (5, 0) if index == change else (), (11, 5) if index == change else ()))
    pools = tuple(tuple(sorted(draw(st.sets(st.integers(60, 79), min_size=2, max_size=4))))
                  for _ in range(count))
    moves = tuple(draw(st.sampled_from((None, None, moves_of(free=(1, 2, -1, -2, 5, -7),
                                                             dear=(3, -3), bonus=2))))
                  for _ in range(count - 1))
    return Problem(tuple(slots), pools, moves,
                   tuple(draw(st.integers(60, 80)) for _ in range(count)),
                   draw(st.sampled_from((None, 64, 72))), draw(st.sampled_from((None, 65, 71))),
                   draw(st.booleans()), draw(st.booleans()), draw(st.booleans()),
                   draw(st.booleans()))


@settings(max_examples=100, deadline=None)
@given(problems())
def test_the_search_finds_what_brute_force_finds(problem: Problem) -> None:
    """Every combination of pitches, priced note by note without the lattice."""
    totals = sorted((total, midis) for midis in product(*problem.pools)
                    if (total := sum(price(problem, midis).values())) < FORBIDDEN // 2)
    found = search_line(problem, 3)
    assert [path.total for _, path in found] == [total for total, _ in totals[:3]]
    for midis, path in found:
        given_costs = {term: cost for term, cost in price(problem, midis).items() if cost}
        assert {term: cost for term, cost in path.costs if cost} == given_costs


def test_an_interval_costs_its_surprise() -> None:
    """Shares of the Weimar Jazz Database: a whole step is the most common interval."""
    problem = Problem((slot(0, 0), slot(1, 0)), ((62,), (64,)), (None,), (62, 64), None, None,
                      True)
    for size, share in INTERVAL_SHARE.items():
        costs = price(problem, (62, 62 + size))
        surprise = round(COSTS["interval bit"] * log2(INTERVAL_SHARE[2] / share))
        assert costs["motion"] == surprise + (COSTS["repeat"] if size == 0 else 0)
    assert price(problem, (62, 62 + 13))["motion"] >= FORBIDDEN


@pytest.mark.parametrize(("first", "second", "ok"), [
    (61, 62, True), (61, 64, False), (61, 60, True), (71, 72, True), (71, 69, True),
    (71, 67, False), (71, 71, False)])
def test_foreign_notes_resolve_by_half_step_and_notes_to_avoid_by_step(
        first: int, second: int, ok: bool) -> None:
    """Over Dm7 in C, C sharp is foreign and B (the thirteenth) is to be passed through."""
    problem = Problem((slot(0, 0), slot(1, 0)), ((first,), (second,)), (None,), (first, second),
                      None, None, True)
    assert bool(price(problem, (first, second)).get("resolution", 0) < FORBIDDEN) == ok


def test_a_note_to_avoid_never_sits() -> None:
    for strength, held, allowed in ((2, False, False), (1, False, True), (0, False, True),
                                    (0, True, False)):
        problem = Problem((slot(0, strength, held=held), slot(1, 0)), ((71,), (72,)), (None,),
                          (71, 72), None, None, True)
        assert bool(search_line(problem)) == allowed


@pytest.mark.parametrize(("last", "landing", "air", "ok"), [
    (71, 72, False, True), (70, 72, False, True), (69, 72, False, False), (69, 72, True, True),
    (72, 72, False, False), (72, 72, True, False), (67, 72, True, True), (65, 72, True, False)])
def test_the_landing_is_led_into_or_given_air(last: int, landing: int, air: bool, ok: bool
                                              ) -> None:
    """By step without air, from a fourth at most with it; never its own key."""
    kinds = tuple(TONE for _ in range(12))
    problem = Problem((slot(0, 0, kinds, closes=True),), ((last,),), (), (last,), None, landing,
                      air)
    assert bool(search_line(problem)) == ok


def test_a_leap_is_turned_back() -> None:
    """After a fourth up the cheapest way on from G is down, though A is as near as F."""
    kinds = tuple(TONE for _ in range(12))
    problem = Problem((slot(0, 0, kinds), slot(1, 0, kinds), slot(2, 0, kinds)),
                      ((62,), (67,), (65, 69)), (None, None), (62, 67, 67), None, None, True)
    (midis, _), *_ = search_line(problem)
    assert midis == (62, 67, 65)


def test_sevenths_fall_to_thirds_over_a_change() -> None:
    """C, the seventh of Dm7, falls to B, the third of G7, rather than rise to D."""
    before = slot(0, 0)
    after = Slot(Fraction(1, 2), 2, False, False, G_MIXOLYDIAN, 1, True, (5, 0), (11, 5))
    problem = Problem((before, after), ((72,), (71, 74)), (None,), (72, 72), None, None, True)
    (midis, path), *_ = search_line(problem)
    assert midis == (72, 71) and dict(path.costs)["voice leading"] == COSTS["guide tone"]


def test_an_empty_question_has_no_answer() -> None:
    assert search_line(Problem((), (), (), (), None, None, True)) == []
    assert search_line(Problem((slot(0, 0),), ((),), (), (60,), None, None, True)) == []


def shuffled(midis: tuple[int, ...], seed: int) -> tuple[int, ...]:
    result = list(midis)
    random.Random(seed).shuffle(result)
    return tuple(result)


def test_a_shuffle_of_a_scale_costs_more() -> None:
    midis = (62, 64, 65, 67, 69, 71, 72, 74)
    slots = tuple(slot(i, (2, 0, 1, 0)[i % 4]) for i in range(len(midis)))
    problem = Problem(slots, tuple((m,) for m in midis), (None,) * 7, midis, None, None, True,
                      strict=False)
    own = sum(price(problem, midis).values())
    worse = [sum(price(problem, shuffled(midis, seed)).values()) > own for seed in range(20)]
    assert all(worse)


@settings(max_examples=100, deadline=None)
@given(problems())
def test_no_line_costs_less_than_its_tables_say(problem: Problem) -> None:
    """Lines are solved in the order of this bound, so it must never promise too much."""
    tables = tables_of(problem)
    assert tables is not None
    for _, path in search_line(problem):
        assert tables.least <= path.total
