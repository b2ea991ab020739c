"""Kept answers: the same as computed, and never more than their limit."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright.memory import AnswerStore, weight_of


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 30), st.booleans()), max_size=200))
def test_kept_answers_are_the_computed_ones(questions: list[tuple[int, bool]]) -> None:
    asked: list[int] = []
    store = AnswerStore(20_000)

    @store.keep
    def row(length: int, *, twice: bool = False) -> tuple[int, ...]:
        asked.append(length)
        return tuple(range(length * (1 + twice)))

    for length, twice in questions:
        assert row(length, twice=twice) == tuple(range(length * (1 + twice)))
        assert 2 * store.young_bytes <= store.limit_bytes
    assert len(asked) <= len(questions)


def test_what_is_asked_for_again_stays_and_what_is_not_goes() -> None:
    asked: list[int] = []
    store = AnswerStore(10_000)

    @store.keep
    def row(number: int) -> tuple[int, ...]:
        asked.append(number)
        return (number,) * 10

    for number in range(100):
        row(number)
        row(0)
    assert asked.count(0) == 1 and len(asked) == 100
    row(1)
    assert asked.count(1) == 2
    store.forget()
    row(0)
    assert asked.count(0) == 2


def test_weights_grow_with_what_is_held() -> None:
    assert weight_of((1,) * 1000) > 100 * weight_of((1,))
    assert weight_of({n: (n,) for n in range(100)}) > 50 * weight_of({0: (0,)})
