"""A key that rests and is foreign to its chord."""

from __future__ import annotations

import pytest

from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.rules import FOREIGN, Chords, HeardChord, MelodySpan, Passage
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.harmony import harmony_of
from fillwright.theory.key import Key
from fillwright.theory.pitch import Pitch


def note(name: str, onset: str, length: str, hand: str = "left", role: str = "fill") -> HandNote:
    return HandNote(Fraction(onset), Fraction(length), Pitch.parse(name), hand, None, role, 1)


def said(*notes: HandNote) -> list[str]:
    """What is said of notes over Gm7 and then C7 in F, under an F5 that is held over the first."""
    key = Key.parse("F")
    symbols = [parse_chord(text) for text in ("Gm7", "C7")]
    chords = Chords((
        HeardChord(Fraction(0), Fraction(4), symbols[0], False,
                   harmony_of(symbols[0], key, symbols[1])),
        HeardChord(Fraction(4), Fraction(8), symbols[1], False, harmony_of(symbols[1], key, None))))
    held = MelodySpan(Fraction(0), Fraction(4), Pitch.parse("F5").midi)
    return [found.message for found in FOREIGN.findings(Passage(
        notes, "medium", 0.5, chords, (held,)))]


def test_a_key_that_rests_a_major_seventh_under_the_melody_is_said() -> None:
    assert said(note("G3", "1", "3"), note("F#4", "1", "3")) == [
        "Gb4 is foreign to Gm7, a major seventh from the melody's F5"]


def test_one_that_is_near_a_chord_tone_alone_is_said_too() -> None:
    assert said(note("B3", "1", "3")) == ["B3 is foreign to Gm7, a half step from its third"]


@pytest.mark.parametrize("notes", [
    [note("F4", "1", "3"), note("G3", "1", "3")],                  # chord tones
    [note("A4", "1", "3"), note("C4", "1", "3")],                  # tensions
    [note("F#4", "1", "2"), note("G4", "3", "1")],                 # leads on by step
    [note("F#4", "1", "1/2", "right"), note("D4", "3/2", "1", "right")],   # a lone one passes
    [note("G3", "7/2", "2"), note("E4", "7/2", "2")],              # struck ahead of its C7
])
def test_what_belongs_to_its_chord_or_moves_on_is_not(notes: list[HandNote]) -> None:
    assert said(*notes) == []
