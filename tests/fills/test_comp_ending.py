"""How a tune ends, what is a line and what a see-saw, and what a chord has to tell, and when."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from tests.fills.builders import chorus_of, one_task, options_of
from tests.sweep import every

from fillwright import Chorus, Fill

LEVELS = ("beginner", "intermediate", "advanced")


def comp(chorus: Chorus, level: str, count: int = 10) -> tuple[Fill, ...]:
    """What is offered for the first gap."""
    found = options_of(one_task(chorus, 1, level), "comp", count)
    assert not isinstance(found, str), found
    return found


def tops_of(fill: Fill) -> list[int]:
    tops: dict[Fraction, int] = {}
    for note in fill.notes:
        if note.hand == "right":
            tops[note.onset_quarter] = max(tops.get(note.onset_quarter, 0), note.midi)
    return [tops[onset] for onset in sorted(tops)]


@every(LEVELS, [63, 132, 200], [4, 3])
def test_a_tune_ends_with_its_last_note_on_top(level: str, tempo: int, sung: int) -> None:
    """Common practice: nobody lets the last note of a tune go for a lower one, or for the bass
    alone. Up to the end of what sounds its key is down, or that of its octave above, on top."""
    before = [(name, 1) for name in ("D5", "E5", "D5", "B4")]
    chorus = chorus_of("4/4", "C", tempo, [*before, ("C5", sung)], [("G7", 4), ("C", 4)])
    for fill in comp(chorus, level):
        end = max(n.end_quarter for n in fill.notes)
        down = [n.midi for n in fill.notes if n.end_quarter == end]
        if fill.held_end.until_quarter >= end:
            down.append(72)
        assert max(down) in (72, 84), (fill.device, fill.notes)


@pytest.mark.parametrize("level", LEVELS)
def test_where_a_tune_turns_back_to_its_top_its_last_note_may_go(level: str) -> None:
    """The dominant that leads back does not have the tonic: it is comped as any other."""
    chorus = chorus_of("4/4", "F", 132, [("A4", 2), ("G4", 2), ("F4", 2), (None, 2)],
                       [("Dm", 2), ("C7", 2), ("F", 2), ("C7", 2)])
    found = options_of(one_task(chorus, 3, level), "comp", 6)
    assert len(found) == 6 and not isinstance(found, str)


@every(LEVELS, [63, 132])
def test_no_top_line_is_a_see_saw_where_there_is_another(level: str, tempo: int) -> None:
    chorus = chorus_of("4/4", "C", tempo, [("E5", 7), ("D5", 1), ("C5", 4)],
                       [("C", 8), ("F", 4)])
    for fill in comp(chorus, level, 3):
        pairs = list(pairwise(tops_of(fill)))
        assert all(one != two or one[0] == one[1]
                   for one, two in zip(pairs, pairs[2:], strict=False)), fill.device


@pytest.mark.parametrize("level", LEVELS)
def test_what_tells_a_chord_does_not_come_on_its_last_eighth(level: str) -> None:
    """Over two beats the third sounds for a beat at least, or the tune has it."""
    chorus = chorus_of("4/4", "Ab", 132, [("G4", 1), ("F4", 1), ("Ab4", 2), ("Ab4", 4)],
                       [("Eb7", 2), ("Ab", 2), ("Db", 4)])
    for fill in comp(chorus, level):
        end = Fraction(2)
        first = min(n.onset_quarter for n in fill.notes if n.midi % 12 == 0)
        assert end - first >= 1, (fill.device, fill.notes)


@pytest.mark.parametrize("level", LEVELS)
def test_the_fifth_is_not_left_out_where_the_tune_has_it(level: str) -> None:
    chorus = chorus_of("4/4", "C", 132, [("G4", 3), ("A4", 1), ("A4", 4)],
                       [("C7", 4), ("F", 4)])
    for fill in comp(chorus, level):
        kept = fill.held_end.until_quarter > max(
            n.onset_quarter for n in fill.notes)
        assert not kept or not any("fifth is left out" in text for text in fill.reasons)


@pytest.mark.parametrize("level", LEVELS)
def test_no_minor_seventh_is_added_where_the_tune_sings_the_major_one(level: str) -> None:
    """B flat under an A, before its A flat comes with B flat seven: a sixth, not A flat."""
    chorus = chorus_of("4/4", "Eb", 132, [("Bb5", 3), ("A5", 1), ("Ab5", 2), ("G5", 2)],
                       [("Bb", 4), ("Bb7", 4)])
    for fill in comp(chorus, level):
        assert all(n.midi % 12 != 8 for n in fill.notes), fill.device


def strokes(fill: Fill, hand: str) -> dict[Fraction, list[int]]:
    rows: dict[Fraction, list[int]] = {}
    for note in fill.notes:
        if note.hand == hand:
            rows.setdefault(note.onset_quarter, []).append(note.midi)
    return rows


@every(LEVELS, [132, 200])
def test_a_chord_struck_again_when_all_else_is_over_has_its_third(level: str, tempo: int) -> None:
    chorus = chorus_of("4/4", "C", tempo, [("A5", 0.5), ("G5", 4.5), (None, 1), ("E5", 6)],
                       [("C7", 8), ("F", 4)])
    for fill in comp(chorus, level):
        if "bass line" in fill.device or "stride" in fill.device:
            continue  # single keys pass
        onset = max(strokes(fill, "left"))
        down = {n.midi % 12 for n in fill.notes if n.end_quarter > onset}
        assert 4 in down or onset < fill.held_end.until_quarter, (fill.device, fill.notes)


@every(LEVELS[1:], [63, 132])
def test_the_hands_do_not_strike_three_strokes_together_and_nothing_else(level: str, tempo: int
                                                                         ) -> None:
    chorus = chorus_of("4/4", "C", tempo, [("G5", 4), ("C6", 4)],
                       [("C", 1), ("Am7", 2), ("C7", 1), ("F", 4)])
    for fill in comp(chorus, level):
        left, right = set(strokes(fill, "left")), set(strokes(fill, "right"))
        assert left != right or len(left) < 3, fill.device


@pytest.mark.parametrize("level", LEVELS)
def test_no_lone_stab_between_the_beats_of_a_ballad(level: str) -> None:
    chorus = chorus_of("4/4", "C", 63, [("C6", 1), (None, 1), ("E6", 2)], [("C", 4)])
    for fill in comp(chorus, level):
        right = strokes(fill, "right")
        lengths = [n.duration_quarter for n in fill.notes if n.hand == "right"]
        assert len(right) != 1 or min(right).denominator == 1 or min(lengths) >= 1, fill.device


@pytest.mark.parametrize("level", LEVELS)
def test_a_triad_whose_own_dominant_comes_next_is_no_dominant(level: str) -> None:
    """C among the chords of F, with G seven on either side: no B flat (common practice)."""
    chorus = chorus_of("4/4", "F", 132, [("C6", 2), ("B5", 2), ("C6", 4), ("A5", 4)],
                       [("C", 2), ("G7", 2), ("C", 4), ("F", 4)])
    for fill in comp(chorus, level):
        assert all(n.midi % 12 != 10 for n in fill.notes), fill.device


def test_an_advanced_first_idea_is_no_bare_triad() -> None:
    chorus = chorus_of("4/4", "C", 63, [("C5", 3), ("C5", 1), ("G5", 4)], [("C", 8)])
    fill = comp(chorus, "advanced")[0]
    assert {n.midi % 12 for n in fill.notes} - {0, 4, 7}, fill.device


def test_a_raised_fifth_takes_no_sixth_beside_it() -> None:
    """A player adds a minor seventh to C minor with a raised fifth: G sharp and A would rub."""
    chorus = chorus_of("3/4", "C", 60, [("Eb5", 6), ("C5", 3)], [("Cm(#5)", 6), ("F", 3)])
    assert all(n.midi % 12 != 9 for fill in comp(chorus, "intermediate") for n in fill.notes)


@pytest.mark.parametrize("level", LEVELS)
def test_when_all_else_is_over_no_bare_bass_or_fifth_is_struck(level: str) -> None:
    """A note that ends before its gap does: what the left hand has down lasts on instead."""
    row = [("E5", 0.5), ("G#5", 0.5), ("B5", 0.5), ("D6", 2.5), (None, 1.0), ("C#6", 1.0)]
    chorus = chorus_of("4/4", "G", 63, [*row, ("C6", 2)], [("E7", 5), ("C#m", 3)])
    for fill in comp(chorus, level, 6):
        right = [n.end_quarter for n in fill.notes if n.hand == "right"]
        if not right:
            continue
        over = max([fill.held_end.until_quarter, *right])
        for onset, midis in strokes(fill, "left").items():
            assert onset < over or len({midi % 12 for midi in midis}) > 2, fill.device


@pytest.mark.parametrize("level", LEVELS[1:])
def test_what_moves_under_the_held_note_moves_while_it_sounds(level: str) -> None:
    chorus = chorus_of("4/4", "C", 132, [("C5", 1), ("C5", 1), ("E5", 1), ("E5", 2), (None, 3),
                                         ("C5", 4)], [("C", 8), ("G7", 4)])
    for fill in comp(chorus, level, 10):
        hand = ("left" if fill.device.startswith("bass line under") else
                "right" if fill.device.startswith("moving ") else "")
        if hand:
            others = sorted(strokes(fill, hand))[1:]
            assert all(onset < fill.held_end.until_quarter for onset in others), fill.device


@every(LEVELS, [66, 132])
def test_a_last_chord_stands_on_its_root_in_its_place(level: str, tempo: int) -> None:
    """Common practice: the last tonic has its root at the bottom and comes on its beat; it is not
    heard late, nor as the chord of its third."""
    chorus = chorus_of("4/4", "C", tempo, [("D5", 2), ("C5", 2)], [("G7", 2), ("C", 2)])
    found = options_of(one_task(chorus, 2, level), "comp", 8)
    assert found and not isinstance(found, str)
    for fill in found:
        assert min(n.onset_quarter for n in fill.notes) == 0, fill.device
        assert min(n.midi for n in fill.notes) % 12 == 0, fill.device


@pytest.mark.parametrize(("name", "other", "sixth"), [
    ("plagal close", "minor plagal close", 9), ("minor plagal close", "plagal close", 8)])
def test_a_tune_may_close_on_the_subdominant_over_its_root(name: str, other: str, sixth: int
                                                           ) -> None:
    """F and A, or F and A flat, come home to E and G under the last C, over C (worked by hand)."""
    chorus = chorus_of("4/4", "C", 132, [("E5", 2), ("D5", 2), ("D5", 2), ("C5", 4)],
                       [("Am7", 2), ("Dm7", 2), ("G7", 2), ("C", 4)])
    task = one_task(chorus, 4, "intermediate", without=frozenset({f"{other} under the last note"}))
    found = options_of(task, "comp", 30)
    assert not isinstance(found, str)
    fill = next(f for f in found if f.device.startswith(f"{name} under"))
    right = sorted((n.onset_quarter, n.midi % 12) for n in fill.notes if n.hand == "right")
    assert [key for _, key in right[:2]] in ([5, sixth], [sixth, 5])
    assert {key for _, key in right[2:]} == {4, 7} and len(right) == 4
    assert min(n.midi for n in fill.notes) % 12 == 0
    assert any("plagal close" in reason for reason in fill.reasons)
