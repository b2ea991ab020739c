"""Counts said aloud; all common practice."""

from __future__ import annotations

from fractions import Fraction

import pytest
from tests.fills.builders import chorus_of

from fillwright.fills import count_marks, counts_text

F = Fraction


@pytest.mark.parametrize(("meter", "length", "hits", "text"), [
    ("4/4", 4, ["0", "3/2"], "1 (2) & (3) (4)"),
    ("4/4", 4, ["0", "1/2", "2", "3", "7/2"], "1 & (2) 3 4 &"),
    ("4/4", 4, ["1", "4/3", "5/3", "2"], "(1) 2 trip let 3 (4)"),
    ("4/4", 4, ["1", "5/4", "3/2", "7/4"], "(1) 2 e & a (3) (4)"),
    ("4/4", 4, ["0", "5/3"], "1 (2) (trip) let (3) (4)"),
    ("4/4", 4, ["0", "3/4"], "1 (&) a (2) (3) (4)"),
    ("3/4", 3, ["0", "3/2"], "1 (2) & (3)"),
    ("6/8", 3, ["0", "3/2", "2"], "1 (2) (3) 4 5 (6)"),
    ("2/2", 4, ["0", "2"], "1 (2) 3 (4)"),
    ("4/4", 8, ["0", "4", "11/2"], "1 (2) (3) (4) 1 (2) & (3) (4)"),
])
def test_counts(meter: str, length: int, hits: list[str], text: str) -> None:
    chorus = chorus_of(meter, "C", 120, [("C5", length)], [("C", length)])
    marks = count_marks(chorus.bars, F(0), F(length), [F(h) for h in hits])
    assert counts_text(marks) == text


def test_counting_begins_at_the_beat_of_the_gap() -> None:
    chorus = chorus_of("4/4", "C", 120, [("C5", 2), ("D5", 6)], [("C", 8)])
    marks = count_marks(chorus.bars, F(2), F(8), [F(2), F(7, 2)])
    assert counts_text(marks) == "3 (4) & (1) (2) (3) (4)"
    assert marks[2] == (F(7, 2), "&")


def test_a_pickup_bar_counts_from_where_it_lies() -> None:
    chorus = chorus_of("4/4", "C", 120, [("G4", 2), ("C5", 4)], [("C", 6)], pickup=2)
    assert counts_text(count_marks(chorus.bars, F(0), F(2), [F(0), F(1)])) == "3 4"
