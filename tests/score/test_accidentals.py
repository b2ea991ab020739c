"""Accidentals: known answers, and a reader that reads them back."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright import Key, Pitch
from fillwright.score.accidentals import ACCIDENTAL_NAMES, StaffAccidentals, key_alteration

ALTER_OF = {name: alter for alter, name in ACCIDENTAL_NAMES.items()}


def shown(key: str, *bars: str) -> list[list[str]]:
    """What is shown in bars such as ``"C4 Eb4+G4 =Bb4"``: a flat ``b``, a natural ``n``, a
    sharp ``#``, ``-`` nothing, in round brackets where it only reminds; ``=`` is tied over."""
    staff = StaffAccidentals(Key.parse(key))
    found = []
    for bar in bars:
        staff.next_bar(Key.parse(key))
        row = []
        for word in bar.split():
            pitches = [Pitch.parse(name) for name in word.lstrip("=").split("+")]
            if word.startswith("="):
                for pitch in pitches:
                    staff.tied(pitch)
                row.append("=")
                continue
            for sign in staff.struck(pitches):
                short = "-" if sign is None else {
                    "flat": "b", "natural": "n", "sharp": "#", "flat-flat": "bb",
                    "double-sharp": "x"}[sign.name]
                row.append(f"({short})" if sign is not None and sign.is_courtesy else short)
        found.append(row)
    return found


# Common practice, worked out by hand.
@pytest.mark.parametrize(("key", "bars", "expected"), [
    ("C", ["C4 C#4 C#4 C4"], [["-", "#", "-", "n"]]),
    ("Eb", ["Eb4 E4 Eb4 Eb4"], [["-", "n", "b", "-"]]),
    ("C", ["F#4 F5"], [["#", "(n)"]]),                      # the same letter an octave up
    ("C", ["F#4", "F4"], [["#"], ["(n)"]]),                 # across the bar line
    ("C", ["F#4", "F5"], [["#"], ["-"]]),
    ("C", ["F#4", "=F#4 F4"], [["#"], ["=", "(n)"]]),       # after a tie
    ("C", ["F#4", "=F#4 F#4"], [["#"], ["=", "#"]]),        # a tie does not hold for others
    ("C", ["E4+Eb5"], [["-", "b"]]),
    ("C", ["Eb4+E4"], [["b", "n"]]),                        # both on one place
    ("F#", ["E#4 E4 E#4"], [["-", "n", "#"]]),
    ("C", ["Bbb4 Bb4 F##4"], [["bb", "b", "x"]]),
])
def test_known_answers(key: str, bars: list[str], expected: list[list[str]]) -> None:
    assert shown(key, *bars) == expected


def test_a_new_signature_needs_no_reminders() -> None:
    staff = StaffAccidentals(Key.parse("C"))
    staff.next_bar(Key.parse("C"))
    staff.struck([Pitch.parse("C5")])
    staff.next_bar(Key.parse("E"))
    assert staff.struck([Pitch.parse("C#5")]) == [None]


def test_signatures() -> None:
    # The circle of fifths.
    assert [key_alteration(Key(2), step) for step in "CDEFGAB"] == [1, 0, 0, 1, 0, 0, 0]
    assert [key_alteration(Key(-3), step) for step in "CDEFGAB"] == [0, 0, -1, 0, 0, -1, -1]
    assert {key_alteration(Key(7), step) for step in "CDEFGAB"} == {1}
    assert {key_alteration(Key(-7), step) for step in "CDEFGAB"} == {-1}


@given(st.integers(-7, 7), st.lists(st.lists(
    st.tuples(st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(3, 5)),
    min_size=1, max_size=8), min_size=1, max_size=4))
@settings(max_examples=80, deadline=None)
def test_a_reader_hears_what_was_meant(fifths: int,
                                       bars: list[list[tuple[str, int, int]]]) -> None:
    """Read line by line: an accidental holds in its octave until the bar line."""
    staff = StaffAccidentals(Key(fifths))
    for bar in bars:
        staff.next_bar(Key(fifths))
        state: dict[tuple[str, int], int] = {}
        for step, alter, octave in bar:
            [sign] = staff.struck([Pitch(step, alter, octave)])
            if sign is not None:
                state[step, octave] = ALTER_OF[sign.name]
            assert state.get((step, octave), key_alteration(Key(fifths), step)) == alter
