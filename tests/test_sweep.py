"""The helper that runs a table of cases as one test."""

from __future__ import annotations

import pytest
from tests.sweep import every


def test_every_combination_is_tried_in_order() -> None:
    seen = []

    @every([("a", 1), ("b", 2)], "xy")
    def check(letter: str, number: int, mark: str) -> None:
        seen.append(f"{letter}{number}{mark}")

    check()
    assert seen == ["a1x", "a1y", "b2x", "b2y"]


def test_all_failures_are_listed() -> None:
    @every(range(5))
    def check(number: int) -> None:
        assert number % 2 == 0, "odd"

    with pytest.raises(pytest.fail.Exception) as caught:
        check()
    text = str(caught.value)
    assert text.startswith("2 of 5 cases fail:\n(1,): AssertionError: odd")
    assert "\n(3,): AssertionError: odd" in text


def test_an_empty_table_checks_nothing_and_fails() -> None:
    @every([])
    def check() -> None:
        return

    with pytest.raises(AssertionError, match="empty table"):
        check()
