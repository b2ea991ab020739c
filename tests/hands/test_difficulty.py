"""Difficulty: monotone in tempo, made of its parts, and in the order any teacher would give."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.hands.key_notes import chord, line, played

from fillwright import HandNote
from fillwright.fills import level_of
from fillwright.hands import HAND_SIZES, PartNote, finger_part, highest_tempo
from fillwright.hands.difficulty import PART_WEIGHTS, difficulty

Q = Fraction
BEGINNER = level_of("beginner").difficulty[1]
SHELL = chord((48, 58), Q(0), Q(4))


def both(right: Sequence[PartNote], left: Sequence[PartNote]) -> list[HandNote]:
    notes: list[HandNote] = []
    for part, hand in ((left, "left"), (right, "right")):
        fingers = finger_part(part, hand, "medium", 1.0)
        assert fingers is not None
        notes += played(part, fingers, hand)
    return notes


CHORD_TONES = both(line((72, 76, 79, 76), Q(1)), SHELL)
EIGHTHS = both(line((72, 74, 76, 77, 79, 77, 76, 74)), SHELL)
DOUBLE_TIME = both(line((74, 73, 72, 70, 69, 71, 74, 77, 76, 75, 74, 72, 70, 68, 67, 65), Q(1, 4)),
                   chord((53, 57, 60, 64), Q(1, 2), Q(1)) + chord((52, 56, 61), Q(2), Q(1)))
COMP = both(chord((64, 69, 70, 74), Q(1, 2), Q(1, 2)) + chord((63, 69, 70, 74), Q(3, 2), Q(1, 2))
            + chord((62, 67, 70), Q(3), Q(1, 2)), chord((41, 51), Q(0), Q(4)))


@st.composite
def passages(draw: st.DrawFn) -> list[HandNote]:
    notes = []
    onset = Q(0)
    for _ in range(draw(st.integers(1, 6))):
        hand = draw(st.sampled_from(("left", "right")))
        low = 50 if hand == "left" else 64
        midis = sorted(draw(st.sets(st.integers(low, low + 10), min_size=1, max_size=3)))
        fingers = (5, 3, 1) if hand == "left" else (1, 3, 5)
        length = draw(st.sampled_from((Q(1, 4), Q(1, 3), Q(1, 2), Q(1))))
        notes += played(chord(midis, onset, length), fingers[:len(midis)], hand)
        onset += draw(st.sampled_from((Q(1, 4), Q(1, 3), Q(1, 2), Q(1))))
    return notes


@pytest.mark.slow
@settings(max_examples=80, deadline=None)
@given(passages(), st.sampled_from(HAND_SIZES), st.floats(0.1, 2.0), st.floats(1.0, 3.0))
def test_faster_is_never_easier(notes: list[HandNote], size: str, seconds: float, times: float
                                ) -> None:
    slow, fast = difficulty(notes, size, seconds * times), difficulty(notes, size, seconds)
    assert slow.total <= fast.total


@settings(max_examples=60, deadline=None)
@given(passages(), st.sampled_from(HAND_SIZES), st.floats(0.1, 2.0))
def test_the_total_is_the_sum_of_its_parts(notes: list[HandNote], size: str, seconds: float
                                           ) -> None:
    found = difficulty(notes, size, seconds)
    assert tuple(part for part, _ in found.parts) == tuple(PART_WEIGHTS)
    assert found.total == min(100, sum(points for _, points in found.parts))
    for part, points in found.parts:
        assert 0 <= points <= PART_WEIGHTS[part]


def later(notes: list[HandNote], quarters: int) -> list[HandNote]:
    return [HandNote(note.onset_quarter + quarters, note.duration_quarter, note.pitch, note.hand,
                     note.finger, note.role, note.gap) for note in notes]


@settings(max_examples=40, deadline=None)
@given(st.lists(passages(), min_size=2, max_size=4), st.floats(0.1, 2.0), st.floats(1.0, 3.0))
def test_long_pieces_are_monotone_too(parts: list[list[HandNote]], seconds: float, times: float
                                      ) -> None:
    notes = [note for place, part in enumerate(parts) for note in later(part, 20 * place)]
    assert (difficulty(notes, "medium", seconds * times).total
            <= difficulty(notes, "medium", seconds).total)


def test_a_hard_place_is_not_averaged_away() -> None:
    easy = [note for place in range(3) for note in later(EIGHTHS, 8 * place)]
    hard = difficulty(DOUBLE_TIME, "medium", 0.5).total
    assert difficulty(easy + later(DOUBLE_TIME, 24), "medium", 0.5).total >= hard - 2
    assert difficulty(easy, "medium", 0.5).total <= difficulty(EIGHTHS, "medium", 0.5).total + 2


@settings(max_examples=40, deadline=None)
@given(passages(), st.sampled_from((BEGINNER, 64, 100)))
def test_the_highest_tempo_is_the_last_that_fits(notes: list[HandNote], limit: int) -> None:
    tempo = highest_tempo(notes, "medium", limit)
    if tempo is None:
        assert difficulty(notes, "medium", 60 / 20).total > limit
    else:
        assert difficulty(notes, "medium", 60 / tempo).total <= limit
        higher = highest_tempo(notes, "medium", 100)
        assert higher is not None and higher >= tempo


def test_the_highest_tempo_is_exact() -> None:
    tempo = highest_tempo(EIGHTHS, "medium", BEGINNER)
    assert tempo is not None and 60 < tempo < 400
    limit = BEGINNER
    assert difficulty(EIGHTHS, "medium", 60 / tempo).total <= limit
    assert difficulty(EIGHTHS, "medium", 60 / (tempo + 1)).total > limit


def test_felt_beats_of_three_eighths() -> None:
    in_quarters = highest_tempo(EIGHTHS, "medium", BEGINNER, Q(1))
    in_dotted = highest_tempo(EIGHTHS, "medium", BEGINNER, Q(3, 2))
    assert in_quarters is not None and in_dotted is not None
    assert in_dotted < in_quarters


def test_nothing_is_no_trouble() -> None:
    assert difficulty([], "medium", 0.5).total == 0
    assert highest_tempo([], "medium", BEGINNER) == 400


# Common practice: what is asked of a beginner, an intermediate and an advanced student.
def test_a_teachers_order() -> None:
    at_180 = [difficulty(notes, "medium", 60 / 180).total
              for notes in (CHORD_TONES, EIGHTHS, COMP, DOUBLE_TIME)]
    beginner, intermediate = BEGINNER, level_of("intermediate").difficulty[1]
    assert at_180[0] < at_180[1] <= beginner < at_180[2] <= intermediate < at_180[3]
    assert difficulty(DOUBLE_TIME, "medium", 60 / 72).total <= beginner
    assert difficulty(EIGHTHS, "medium", 60 / 260).total > beginner


def test_few_keys_in_a_row_under_a_still_hand_are_easier_than_many() -> None:
    """A triplet turn at 200 is an intermediate student's, a run of triplets an advanced one's, and
    a turn that leaps is harder than either key beside the other (common practice; that each stroke
    of a longer row takes longer: Sternberg et al. 1978, see `hands.difficulty`)."""
    def rated(midis: Sequence[int]) -> int:
        after = line((midis[0] - 4, midis[0] - 2), Q(1), Q(len(midis), 3))
        return difficulty(both([*line(midis, Q(1, 3)), *after], SHELL), "medium", 0.3).total

    turn, run = rated((76, 77, 76)), rated((76, 77, 79, 81, 79, 77, 76, 74, 72))
    most = level_of("intermediate").difficulty[1]
    assert turn <= most < run
    assert turn < rated((76, 90, 76))


def test_what_makes_things_harder() -> None:
    def part(notes: list[HandNote], name: str) -> int:
        return dict(difficulty(notes, "medium", 0.5).parts)[name]

    wide = both(chord((60, 67, 74), Q(0), Q(1)), SHELL)
    close = both(chord((60, 64, 67), Q(0), Q(1)), SHELL)
    assert part(wide, "reach") > part(close, "reach")
    stride = both(line((76,)), [(Q(0), Q(1), 36), *chord((55, 58, 60), Q(1), Q(1))])
    assert part(stride, "jumps") > part(close, "jumps")
    black = both(line((73, 75, 78, 80)), SHELL)
    assert part(black, "black keys") > part(CHORD_TONES, "black keys")
    off = both(line((72, 74), Q(1), Q(1, 2)), SHELL)
    on = both(line((72, 74), Q(1), Q(0)), SHELL)
    assert part(off, "rhythm") > part(on, "rhythm")
    apart = both(line((72, 74, 76), Q(1), Q(1, 2)), line((48, 50, 52), Q(1)))
    together = both(line((72, 74, 76), Q(1)), line((48, 50, 52), Q(1)))
    assert part(apart, "independence") > part(together, "independence")
    assert part(COMP, "reading") > part(CHORD_TONES, "reading")


def test_a_pickup_of_an_eighth_moves_the_beats() -> None:
    late = both(line((72, 74, 76), Q(1), Q(1, 2)), chord((48, 58), Q(1, 2), Q(3)))
    assert dict(difficulty(late, "medium", 0.5, Q(1), Q(1, 2)).parts)["rhythm"] == 0
    assert dict(difficulty(late, "medium", 0.5).parts)["rhythm"] > 0


def test_unknown_fingers_are_supplied() -> None:
    bare = [HandNote(n.onset_quarter, n.duration_quarter, n.pitch, n.hand, None, n.role, n.gap)
            for n in COMP]
    reach = dict(difficulty(bare, "medium", 0.5).parts)["reach"]
    assert reach == dict(difficulty(COMP, "medium", 0.5).parts)["reach"]
