"""Counts are said where their notes are."""

from __future__ import annotations

from fractions import Fraction

import pytest
from tests.score.written import chorus_of

from fillwright.fills.counts import count_marks, counts_text
from fillwright.score.counts import place_counts
from fillwright.tune.model import Chorus


def a_chorus(meter: str = "4/4", pickup: str = "0") -> Chorus:
    return chorus_of("Counts", [(meter, 3)], "C", "C5:1", "C:4", pickup=pickup)


@pytest.mark.parametrize(("counts", "start", "end", "onsets", "expected"), [
    ("1 & (2) 3 4 &", "0", "4", "0 1/2 2 3 7/2",
     "0:1 1/2:& 1:(2) 2:3 3:4 7/2:&"),
    ("(1) 2 trip let", "4", "6", "5 16/3 17/3", "4:(1) 5:2 16/3:trip 17/3:let"),
    ("1 e & a 2", "0", "2", "0 1/4 1/2 3/4 1", "0:1 1/4:e 1/2:& 3/4:a 1:2"),
    ("& 3 (4) 1 &", "3/2", "6", "3/2 2 4 9/2", "3/2:& 2:3 3:(4) 4:1 9/2:&"),
    ("(1 2) 3", "0", "4", "2", "0:(1) 1:(2) 2:3"),
    ("and 2", "1/2", "4", "1/2 1", "1/2:& 1:2"),
    ("9 1", "0", "4", "0", "0:1"),                # a word without a place is left out
])
def test_known_answers(counts: str, start: str, end: str, onsets: str, expected: str) -> None:
    placed = place_counts(counts, a_chorus().bars, Fraction(start), Fraction(end),
                          {Fraction(onset) for onset in onsets.split()})
    assert " ".join(f"{place}:{word}" for place, word in placed) == expected


@pytest.mark.parametrize("meter", ["4/4", "3/4", "5/4", "6/8", "12/8", "2/2"])
@pytest.mark.parametrize("onsets", [
    "0 1/2 1 3/2", "1/2 1 5/2", "0 1 4/3 5/3 2", "0 1/4 1/2 3/4 1 7/4", "1/3 2/3 1", "1/6 1/2 1"])
@pytest.mark.parametrize("start", ["0", "1/2", "1"])
def test_the_printed_words_find_the_places_they_came_from(meter: str, onsets: str,
                                                          start: str) -> None:
    """The counts of a fill are made from places; reading the words gives them back."""
    chorus = a_chorus(meter, "1/2")
    struck = {Fraction(1, 2) + Fraction(onset) for onset in onsets.split()}
    if chorus.meter.is_compound:
        # In compound meters "&" is half an eighth; finer places share its word.
        struck = {onset for onset in struck if (onset - Fraction(1, 2)) % Fraction(1, 4) == 0}
    begin, end = Fraction(1, 2) + Fraction(start), Fraction(1, 2) + 4
    marks = count_marks(chorus, begin, end, struck)
    placed = place_counts(counts_text(marks), chorus.bars, begin, end, struck)
    assert tuple(placed) == marks
