"""Moving tunes to other keys."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.tune.sheets import attributes, bass, chord, line, notes, read_bars, symbols

from fillwright import Key, unfold
from fillwright.tune import transpose_tune

BARS = [chord("F", "minor-seventh") + chord("B" + "b", "dominant", bass("D"), offset=8)
        + notes("C5:4 Ab4:4 D5:4 F#5:4"), chord("E" + "b") + notes("Eb5:16")]
FIRST = attributes(fifths=-3)


def test_up_a_second() -> None:
    tune = transpose_tune(read_bars(BARS, first=FIRST), Key.parse("F"))
    assert str(tune.key) == "F major"
    assert line(tune) == "D5@0+1 Bb4@1+1 E5@2+1 G#5@3+1"
    assert (symbols(tune), symbols(tune, 1)) == ("Gm7@0 C7/E@2", "F@0")


def test_the_nearer_way() -> None:
    tune = read_bars(BARS, first=FIRST)
    assert line(transpose_tune(tune, Key.parse("C"))).startswith("A4@0")  # down a third
    assert line(transpose_tune(tune, Key.parse("A"))).startswith("F#5@0")  # up a tritone
    assert line(transpose_tune(tune, Key.parse("Bb"))).startswith("G4@0")  # down a fourth


@pytest.mark.parametrize(("name", "key"), [
    ("C#", "Db major"), ("Cb", "B major"), ("G#", "Ab major"), ("F#", "F# major"),
    ("Gb", "Gb major"), ("D#", "Eb major"), ("Am", "A major"), ("Eb", "Eb major"),
])
def test_the_spelling_with_fewer_accidentals(name: str, key: str) -> None:
    tune = read_bars(BARS, first=FIRST)
    assert str(transpose_tune(tune, Key.parse(name)).key) == key


@pytest.mark.parametrize(("name", "key"), [("A", "A minor"), ("Am", "A minor"),
                                           ("Db", "C# minor"), ("Gb", "F# minor"),
                                           ("Ab", "G# minor"), ("Eb", "Eb minor")])
def test_the_mode_is_kept(name: str, key: str) -> None:
    tune = read_bars([chord("G", "minor") + notes("G4:16")],
                     first=attributes(fifths=-2, mode="minor"))
    moved = transpose_tune(tune, Key.parse(name))
    assert str(moved.key) == key
    assert str(moved.bars[0].notes[0].pitch.note_name) == str(moved.key.tonic)
    assert moved.bars[0].chords[0].symbol.root == moved.key.tonic


def test_keys_inside_the_tune_move_along() -> None:
    change = attributes(divisions=None, time=None, fifths=4)
    tune = read_bars([chord("C") + notes("C5:16"), change + chord("E") + notes("G#4:16")])
    moved = transpose_tune(tune, Key.parse("Ab"))
    assert [str(bar.key) for bar in moved.bars] == ["Ab major", "C major"]
    assert (line(moved, 1), symbols(moved, 1)) == ("E4@0+4", "C@0")


def test_a_chord_of_six_flats_keeps_the_name_its_key_has() -> None:
    """C flat is the fourth of G flat, not B; E sharp nobody reads, in no key."""
    row = [chord("Ab") + chord("Db", "dominant", offset=8) + notes("C5:16"),
           chord("D", "half-diminished") + chord("Eb", "major", bass("Ab"), offset=8)
           + notes("C5:16")]
    flat = transpose_tune(read_bars(row, first=FIRST), Key.parse("Gb"))
    assert (symbols(flat), symbols(flat, 1)) == ("Cb@0 E7@2", "Fm7b5@0 Gb/Cb@2")
    sharp = transpose_tune(read_bars(row, first=FIRST), Key.parse("F#"))
    assert (symbols(sharp), symbols(sharp, 1)) == ("B@0 E7@2", "Fm7b5@0 F#/B@2")


def test_the_same_key_is_the_same_tune() -> None:
    tune = read_bars(BARS, first=FIRST)
    assert transpose_tune(tune, Key.parse("Eb")) is tune


@given(st.integers(-6, 6), st.sampled_from(["major", "minor"]),
       st.lists(st.sampled_from(["C5", "C#5", "Db5", "Eb5", "F#4", "Bb4", "B4", "E#5"]),
                min_size=1, max_size=4))
@settings(max_examples=60, deadline=None)
def test_everything_moves_by_the_same_interval(fifths: int, mode: str, row: list[str]) -> None:
    tune = read_bars([chord("F#", "half-diminished", bass("C"))
                      + notes(" ".join(f"{pitch}:4" for pitch in row))], first=FIRST)
    target = Key(fifths, mode)
    moved = transpose_tune(tune, target)
    shift = (target.tonic.pitch_class - tune.key.tonic.pitch_class + 5) % 12 - 5
    old, new = unfold(tune), unfold(moved)
    assert [n.midi - shift for n in new.melody] == [n.midi for n in old.melody]
    assert moved.key.tonic.pitch_class == target.tonic.pitch_class
    assert abs(moved.key.fifths) <= 6
    assert [{(p + shift) % 12 for p in span.symbol.pitch_classes} for span in old.chords] == \
        [set(span.symbol.pitch_classes) for span in new.chords]
    assert moved.bars[0].chords[0].symbol.degrees == tune.bars[0].chords[0].symbol.degrees
