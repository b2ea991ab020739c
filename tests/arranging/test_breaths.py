"""Which gaps of a chorus are left to the tune."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.fills.builders import chorus_of

from fillwright import Chorus, Gap, find_gaps
from fillwright.arranging.breaths import breaths_of


def tune_of(phrases: list[tuple[int, int]], tempo: int = 120) -> tuple[Chorus, tuple[Gap, ...]]:
    """Phrases of so many quarters that move, each with a last note held for so many."""
    melody: list[tuple[str, int]] = []
    place = 0
    for moving, held in phrases:
        melody += [("D5" if n % 2 else "E5", 1) for n in range(moving)] + [("C5", held)]
        place += moving + held
    melody += [("D5", 1)] * (-place % 4)
    bars = (place + (-place % 4)) // 4
    chorus = chorus_of("4/4", "C", tempo, melody, [("Cmaj7", 4)] * bars)
    return chorus, find_gaps(chorus)


def test_where_the_tune_hardly_moves_every_second_gap_is_left_to_it() -> None:
    chorus, gaps = tune_of([(2, 2)] * 16)
    breaths = breaths_of(chorus, gaps)
    filled = [gap.number for gap in gaps if gap.number not in breaths]
    early = [n for n in filled if gaps[n - 1].onset_quarter < chorus.length_quarter / 3]
    assert all(b - a >= 2 for a, b in pairwise(early))
    assert len(gaps) / 3 <= len(filled) <= 3 * len(gaps) / 4


def test_where_long_phrases_lie_between_the_gaps_most_are_filled() -> None:
    chorus, gaps = tune_of([(13, 3)] * 8)
    assert len(breaths_of(chorus, gaps)) <= 1


def test_a_chorus_breathes_more_at_its_beginning_than_at_its_end() -> None:
    chorus, gaps = tune_of([(5, 3)] * 16)
    breaths = breaths_of(chorus, gaps)
    rows = [b - a for a, b in pairwise(sorted(breaths))]  # from one breath to the next
    assert rows == sorted(rows)
    assert rows[-1] > rows[0]


def test_a_long_note_is_filled_before_a_short_one() -> None:
    chorus, gaps = tune_of([(2, 2), (2, 6)] * 8)
    breaths = breaths_of(chorus, gaps)
    assert breaths
    assert all(gaps[n - 1].duration_quarter == 2 for n in breaths)


def test_an_idea_that_may_come_back_is_kept_before_another() -> None:
    chorus, gaps = tune_of([(4, 4)] * 12)
    free = breaths_of(chorus, gaps)
    assert free
    assert not breaths_of(chorus, gaps, free) & {min(free)}
    assert len(breaths_of(chorus, gaps, [gap.number for gap in gaps])) < len(free)


@given(st.lists(st.tuples(st.integers(1, 9), st.integers(2, 7)), min_size=1, max_size=12),
       st.sampled_from([60, 120, 200]))
def test_the_end_is_never_left_and_no_gap_is_left_that_has_no_room(
        phrases: list[tuple[int, int]], tempo: int) -> None:
    chorus, gaps = tune_of(phrases, tempo)
    breaths = breaths_of(chorus, gaps)
    assert breaths == breaths_of(chorus, gaps)
    for gap in gaps:
        if gap.landing is None or gap.duration_quarter * Fraction(60, tempo) < Fraction(9, 10):
            assert gap.number not in breaths


def test_a_tune_without_gaps_breathes_as_it_is() -> None:
    chorus, gaps = tune_of([(2, 2)])
    assert breaths_of(chorus, ()) == frozenset()
    assert breaths_of(chorus, gaps[:1], ()) <= {1}


@pytest.mark.parametrize("far", [1, 12])
def test_the_first_idea_is_stated(far: int) -> None:
    chorus, gaps = tune_of([(far, 4), (6, 4), (6, 4), (6, 4)])
    assert gaps[0].number not in breaths_of(chorus, gaps)
