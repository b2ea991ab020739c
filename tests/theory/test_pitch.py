"""Spelled pitches and intervals. Facts here are common practice."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillwright import Key, Pitch
from fillwright.theory import (
    Interval,
    NoteName,
    degree_interval,
    nearest_pitch,
    spell_plain,
    spelled,
)
from fillwright.theory.pitch import STEPS

names = st.builds(NoteName, st.sampled_from(STEPS), st.integers(-2, 2))
pitches = st.builds(Pitch, st.sampled_from(STEPS), st.integers(-2, 2), st.integers(0, 8))
plain = st.builds(NoteName, st.sampled_from(STEPS), st.integers(-1, 1))


@pytest.mark.parametrize(("text", "midi"), [("C4", 60), ("Bb4", 70), ("F#5", 78), ("Cb4", 59),
                                            ("B#3", 60), ("Ebb5", 74), ("A0", 21), ("C-1", 0)])
def test_pitch_names_and_midi_numbers(text: str, midi: int) -> None:
    assert Pitch.parse(text).midi == midi
    assert str(Pitch.parse(text)) == text


@given(pitches)
def test_text_round_trip(pitch: Pitch) -> None:
    assert Pitch.parse(str(pitch)) == pitch


@given(names)
def test_fifths_round_trip(name: NoteName) -> None:
    assert NoteName.from_fifths(name.fifths) == name


@given(pitches, st.sampled_from(["1", "b3", "3", "5", "b7", "9", "b9", "#11", "13"]))
def test_an_interval_keeps_its_semitones(pitch: Pitch, degree: str) -> None:
    interval = degree_interval(degree)
    assert (pitch + interval).midi == pitch.midi + interval.semitones


@pytest.mark.parametrize(("root", "degree", "name"), [
    ("G", "b9", "Ab"), ("B", "3", "D#"), ("Gb", "b7", "Fb"), ("F#", "#11", "B#"),
    ("Eb", "b3", "Gb"), ("C", "bb7", "Bbb"), ("A", "13", "F#")])
def test_degrees_are_spelled_from_their_root(root: str, degree: str, name: str) -> None:
    assert str(NoteName.parse(root) + degree_interval(degree)) == name


def test_beyond_double_accidentals_a_plain_name_is_taken() -> None:
    assert str(NoteName.parse("Dbb") + degree_interval("bb7")) in ("A", "B#", "Bbb", "G#", "Ab")


@given(plain, st.integers(21, 108))
def test_nearest_pitch_is_within_a_tritone(name: NoteName, midi: int) -> None:
    pitch = nearest_pitch(name, midi)
    assert pitch.note_name == name
    assert abs(pitch.midi - midi) <= 6


def test_spelled_refuses_another_key() -> None:
    assert str(spelled(NoteName.parse("Cb"), 59)) == "Cb4"
    with pytest.raises(ValueError, match="cannot spell"):
        spelled(NoteName.parse("C"), 61)


@given(st.integers(21, 108), st.booleans())
def test_plain_spelling_keeps_the_number(midi: int, sharps: bool) -> None:
    assert spell_plain(midi, sharps).midi == midi


@pytest.mark.parametrize("bad", ["", "H4", "C", "4", "C#####4"])
def test_what_is_not_a_pitch(bad: str) -> None:
    with pytest.raises(ValueError):
        Pitch.parse(bad)


def test_intervals_turn_round() -> None:
    assert Pitch.parse("Bb3") + Interval(2, 4) + -Interval(2, 4) == Pitch.parse("Bb3")


@pytest.mark.parametrize(("text", "tonic", "mode", "fifths"), [
    ("Ab", "Ab", "major", -4), ("F#m", "F#", "minor", 3), ("c minor", "C", "minor", -3),
    ("E♭ major", "Eb", "major", -3), ("G# major", "Ab", "major", -4)])
def test_key_names(text: str, tonic: str, mode: str, fifths: int) -> None:
    key = Key.parse(text)
    assert (str(key.tonic), key.mode, key.fifths) == (tonic, mode, fifths)


@pytest.mark.parametrize("bad", ["", "X", "C dorian", "C major now"])
def test_what_is_not_a_key(bad: str) -> None:
    with pytest.raises(ValueError):
        Key.parse(bad)


def test_scales() -> None:
    assert [str(n) for n in Key.parse("Eb").scale] == ["Eb", "F", "G", "Ab", "Bb", "C", "D"]
    assert [str(n) for n in Key.parse("Dm").scale] == ["D", "E", "F", "G", "A", "Bb", "C"]


def test_a_key_spells_its_own_notes_and_chromatic_ones_by_direction() -> None:
    key = Key.parse("Ab")
    assert str(key.spell(61)) == "Db4"
    assert (str(key.spell(66, rising=True)), str(key.spell(66))) == ("F#4", "Gb4")
