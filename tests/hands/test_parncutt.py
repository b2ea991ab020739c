"""The ergonomic model against cases worked by hand from its twelve rules.

Parncutt, Sloboda, Clarke, Raekallio & Desain, Music Perception 14(4), 1997. The points of
each case were added up on paper from the rules and Table 1.
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillwright.hands import mirrored
from fillwright.hands.parncutt import RULES, parncutt_points, parncutt_total

CASES = [
    # five-finger position: every pair relaxed; 4 and 5 are weak, 3-4-5, 3 to 4
    ("five fingers", (60, 62, 64, 65, 67), (1, 2, 3, 4, 5), {6: 2, 7: 1, 8: 1}),
    # C major, one octave: 3 on E to 1 on F is four below the relaxed span of 1-3; D-E-F
    # stays comfortable, E-F-G is a full change of position, four outside the span of 3-2
    ("scale", (60, 62, 64, 65, 67, 69, 71, 72), (1, 2, 3, 1, 2, 3, 4, 5),
     {2: 4, 4: 2, 5: 4, 6: 2, 7: 1, 8: 1, 12: 1}),
    # the same coming down, fourth finger not before third
    ("scale down", (72, 71, 69, 67, 65, 64, 62, 60), (5, 4, 3, 2, 1, 3, 2, 1),
     {2: 4, 4: 2, 5: 4, 6: 2, 7: 1, 12: 1}),
    # a minor seventh between 1 and 2: two beyond comfort, five beyond the relaxed span
    ("stretch with the thumb", (60, 70), (1, 2), {1: 4, 3: 5}),
    # a major third between 3 and 4: two beyond comfort, two beyond relaxed, both doubled
    ("stretch without", (60, 64), (3, 4), {1: 4, 3: 4, 6: 1, 8: 1}),
    # the same downwards is as far, but 4 comes before 3
    ("stretch down", (64, 60), (4, 3), {1: 4, 3: 4, 6: 1}),
    # a half step between 2 and 5: four below relaxed, doubled; one below comfort, doubled
    ("small span", (64, 65), (2, 5), {1: 2, 2: 8, 6: 1}),
    ("four on black", (64, 66), (3, 4), {6: 1, 8: 1, 9: 1}),
    ("four on black down", (66, 64), (4, 3), {6: 1, 9: 1}),
    ("four on white", (66, 67), (3, 4), {6: 1, 8: 1}),
    # thumb on black between two white keys, passing under a finger on white; that finger
    # comes back two semitones on, which is a full change of position
    ("thumb on black", (60, 61, 62), (2, 1, 2), {2: 2, 4: 2, 5: 2, 10: 5, 12: 3}),
    # thumb on white passes under a finger on black: no points for the pass
    ("thumb under black", (66, 67), (2, 1), {2: 2}),
    ("third over thumb", (60, 59), (1, 3), {2: 4, 12: 1}),
    ("five on black", (69, 70, 69), (4, 5, 4), {6: 3, 11: 4}),
    ("five among blacks", (68, 70, 68), (4, 5, 4), {6: 3}),
    ("a key again", (60, 60), (1, 1), {}),
]


@pytest.mark.parametrize(("midis", "fingers", "wanted"), [case[1:] for case in CASES],
                         ids=[case[0] for case in CASES])
def test_worked_cases(midis: tuple[int, ...], fingers: tuple[int, ...], wanted: dict[int, int]
                      ) -> None:
    points = parncutt_points(midis, fingers)
    assert {rule: count for rule, count in points.items() if count} == wanted
    assert parncutt_total(midis, fingers) == sum(wanted.values())


def test_five_fingers_total_four_points() -> None:
    assert parncutt_total((60, 62, 64, 65, 67), (1, 2, 3, 4, 5)) == 4


def test_there_are_twelve_rules() -> None:
    assert list(RULES) == list(range(1, 13))
    assert set(parncutt_points((60,), (1,))) == set(RULES)


fingerings = st.lists(st.tuples(st.integers(40, 90), st.integers(1, 5)), min_size=1, max_size=8
                      ).filter(lambda notes: all(one[1] != two[1] for one, two
                                                 in pairwise(notes)))


@given(fingerings)
def test_the_left_hand_is_the_right_in_the_mirror(notes: list[tuple[int, int]]) -> None:
    midis, fingers = zip(*notes, strict=True)
    image = [mirrored(midi) for midi in midis]
    assert parncutt_points(midis, fingers, "right") == parncutt_points(image, fingers, "left")


@given(fingerings)
def test_points_are_never_negative_and_longer_is_never_easier(notes: list[tuple[int, int]]
                                                             ) -> None:
    midis, fingers = zip(*notes, strict=True)
    assert min(parncutt_points(midis, fingers).values()) >= 0
    assert parncutt_total(midis[:-1], fingers[:-1]) <= parncutt_total(midis, fingers)


def test_what_the_model_does_not_know_is_refused() -> None:
    with pytest.raises(ValueError, match="two keys running"):
        parncutt_points((60, 62), (2, 2))
    with pytest.raises(ValueError, match="2 keys and 1 fingers"):
        parncutt_points((60, 62), (2,))
    with pytest.raises(ValueError, match="not a hand"):
        parncutt_points((60,), (2,), "both")
