"""Landings that come early or late, and what the melody does around them."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.fills.builders import chorus_of, one_task
from tests.fills.line_rules import strikes

from fillwright import Fill, Pitch
from fillwright.fills import Shift, Task, early_shift, fills_of, late_shift, shifted_melody
from fillwright.fills.devices.line.shift import EARLY, LATE
from fillwright.tune import SoundingNote

pytestmark = pytest.mark.slow

F = Fraction


def melody_of(*rows: tuple[str, str, str]) -> tuple[SoundingNote, ...]:
    return tuple(SoundingNote(F(onset), F(length), Pitch.parse(pitch))
                 for pitch, onset, length in rows)


EIGHTHS = melody_of(("C5", "0", "4"), ("D5", "4", "1/2"), ("E5", "9/2", "1/2"),
                    ("F5", "5", "1/2"), ("G5", "11/2", "1/2"), ("A5", "6", "2"))


def test_eighths_are_squeezed_into_triplets() -> None:
    """Four eighths from beat 1 that begin on the third triplet are four triplets, and the
    half note on beat 3 is in place."""
    played = shifted_melody(EIGHTHS, F(4), Shift(F(14, 3), F(6)))
    assert [n.onset_quarter for n in played] == [0, F(14, 3), 5, F(16, 3), F(17, 3), 6]
    assert [n.duration_quarter for n in played[1:]] == [F(1, 3)] * 4 + [2]
    assert [n.pitch for n in played] == [n.pitch for n in EIGHTHS]


def test_an_early_landing_is_held_into_its_place() -> None:
    played = shifted_melody(EIGHTHS, F(4), Shift(F(7, 2), F(9, 2)))
    assert [n.onset_quarter for n in played] == [0, F(7, 2), F(9, 2), 5, F(11, 2), 6]
    assert played[0].end_quarter == F(7, 2)  # the held note makes way
    assert played[1].end_quarter == F(9, 2)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from((F(1, 3), F(1, 2), F(1), F(3, 2))), min_size=4, max_size=10),
       st.booleans())
def test_a_shift_keeps_notes_order_and_everything_outside(lengths: list[Fraction],
                                                          early: bool) -> None:
    onset, rows = F(4), [("C5", "0", "4")]
    for number, length in enumerate(lengths):
        rows.append(("DEFG"[number % 4] + "5", str(onset), str(length)))
        onset += length
    melody = melody_of(*rows)
    back = melody[4].onset_quarter
    shift = Shift(F(7, 2) if early else F(4) + (back - 4) / 3, melody[2].onset_quarter
                  if early else back)
    played = shifted_melody(melody, F(4), shift)
    assert [n.pitch for n in played] == [n.pitch for n in melody]
    assert all(a.end_quarter <= b.onset_quarter for a, b in pairwise(played))
    for before, after in zip(melody, played, strict=True):
        if not min(F(4), shift.landing_quarter) <= before.onset_quarter < shift.back_quarter:
            assert before.onset_quarter == after.onset_quarter


def followed_by(after: list[tuple[str | None, str]], level: str = "intermediate",
                tempo: int = 100, chords: tuple[str, str] = ("G7", "Cmaj7")) -> Task:
    melody: list[tuple[str | None, str]] = [("D5", "4"), *after]
    rows = [(pitch, F(length)) for pitch, length in melody]
    total = sum(length for _, length in rows)
    return one_task(chorus_of("4/4", "C", tempo, rows, [(chords[0], 4), (chords[1], total - 4)]),
                    level=level)


SQUEEZABLE: list[tuple[str | None, str]] = [
    ("C5", "1/2"), ("D5", "1/2"), ("E5", "1/2"), ("G5", "1/2"), ("E5", "1"), ("D5", "1")]


def test_a_late_landing_is_back_in_place_within_a_bar() -> None:
    shift = late_shift(followed_by(SQUEEZABLE))
    assert shift == Shift(F(14, 3), F(6))


@pytest.mark.parametrize(("after", "why"), [
    ([("C5", "1/2"), ("D5", "4")], "too few notes before a gap"),
    ([("C5", "1"), ("D5", "1"), ("E5", "1"), ("F5", "1"), ("G5", "1"), ("A5", "1")],
     "more than a beat late for quarters to fall on the grid"),
    ([("C5", "2"), ("D5", "1"), ("E5", "1")], "the landing opens a gap itself"),
    ([("C5", "4")], "nothing follows"),
])
def test_where_a_landing_cannot_be_late(after: list[tuple[str | None, str]], why: str) -> None:
    shift = late_shift(followed_by(after))
    assert shift is None or (why.startswith("more than") and shift.landing_quarter - 4 <= 1)


def test_a_late_landing_is_not_offered_too_fast() -> None:
    assert late_shift(followed_by(SQUEEZABLE, tempo=100)) is not None
    assert late_shift(followed_by(SQUEEZABLE, tempo=280)) is None


def test_an_early_landing_has_to_suit_the_chord_that_still_sounds() -> None:
    """B natural is the third of G7 and may come early over it; C is to be avoided there."""
    early = early_shift(followed_by([("B4", "1"), ("C5", "1"), ("E5", "2")]))
    assert early == Shift(F(7, 2), F(5))
    assert early_shift(followed_by([("C5", "1"), ("D5", "1"), ("E5", "2")])) is None


def shifted_fills(found: tuple[Fill, ...] | str, device: str) -> list[Fill]:
    assert not isinstance(found, str)
    return [f for f in found if f.device == device]


def test_a_landing_among_its_like_is_not_late() -> None:
    """Three times C: of the first nothing would be heard but that it is not there."""
    found = fills_of(followed_by([("C5", "1/2"), ("C5", "1/2"), *SQUEEZABLE[2:]], "advanced"),
                     "line", 60)
    assert not shifted_fills(found, LATE)


def test_a_landing_is_late_where_its_key_is_not_struck_meanwhile() -> None:
    """A beat late, the line runs on without C from where C is written."""
    waits = followed_by([("C5", "1"), ("D5", "1"), ("E5", "1"), ("G5", "1"), ("E5", "2")],
                        "advanced", 63)
    late = shifted_fills(fills_of(waits, "line", 60), LATE)
    assert late
    for fill in late:
        assert not any(n.midi % 12 == 0 and n.onset_quarter >= 4 for n in fill.notes
                       if n.hand == "right")


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_lines_with_a_shifted_landing_say_so_and_keep_the_left_hand_on_time(level: str) -> None:
    late_task = followed_by(SQUEEZABLE, level)
    late = shifted_fills(fills_of(late_task, "line", 60), LATE)
    assert late
    for fill in late:
        assert fill.shift == Shift(F(14, 3), F(6))
        assert "late" in fill.reasons[0]
        assert list(strikes(late_task, fill)) == []
        assert any(n.hand == "left" and n.onset_quarter == 4 for n in fill.notes)
        assert max(n.onset_quarter for n in fill.notes) >= 4
    early_task = followed_by([("B4", "2"), ("C5", "1"), ("E5", "1")], level)
    early = shifted_fills(fills_of(early_task, "line", 60), EARLY)
    assert early
    for fill in early:
        assert fill.shift is not None and fill.shift.landing_quarter == F(7, 2)
        assert "early" in fill.reasons[0]
        assert list(strikes(early_task, fill)) == []
        assert all(n.onset_quarter < F(7, 2) for n in fill.notes)


def test_beginners_land_in_time() -> None:
    found = fills_of(followed_by(SQUEEZABLE, "beginner"), "line", 60)
    assert not isinstance(found, str) and all(f.shift is None for f in found)
