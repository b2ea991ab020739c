"""A sheet described, and chords asked for by function."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.sweep import every

import fillwright
from fillwright import InputError, Key, SheetFacts, describe, find_gaps, read_tune, unfold
from fillwright.library import (
    PLACES,
    asked_row,
    degree_semitones,
    describe_tune,
    row_pattern,
    told,
)
from fillwright.tune import transpose_tune

DEMOS = sorted((Path(str(fillwright.__file__)).parent / "data").glob("*.musicxml"))

SHEET = b"""X:1
T:Try
M:4/4
L:1/4
Q:1/4=120
K:C
"Dm7" A4 | "G7" B2 "Cmaj7" c d | "Em7" e4- | "A7" e2 f2 |"C6" e4 |]
"""


def test_what_is_told_of_a_gap_is_what_stands_on_the_page() -> None:
    sheet = describe(SHEET, "try.abc")
    assert (sheet.title, sheet.key, sheet.tonic, sheet.mode) == ("Try", "C major", 0, "major")
    assert (sheet.meter, sheet.bars, sheet.tempo, sheet.tempo_marked) == ("4/4", 5, 120.0, True)
    first, second, third, fourth, last = sheet.gaps
    # Worked by hand: A over Dm7 is its fifth, the sixth degree of C, and goes a whole step up.
    assert (first.beats, first.seconds, first.chords, first.row) == ("4", 2.0, ("Dm7",), " 2m ")
    assert (first.degree, first.semitones, first.key_semitones, first.landing) == ("5", 7, 9, 2)
    assert (second.degree, second.into, second.functions) == ("3", "0M", ("V7",))
    # Tied over the bar line: six beats, III and VI in the key, to F
    assert (third.beats, third.why, third.row) == ("6", ("held", "tied"), " 4m 97 ")
    assert (fourth.beat, fourth.beats, fourth.landing) == ("3", "2", -1)
    assert (last.place, last.into, last.landing) == ("end", "", None)


def moved(sheet: SheetFacts) -> SheetFacts:
    """A description without what names keys, pitches and the file."""
    return replace(sheet, content="", key="", tonic=0, gaps=tuple(
        replace(gap, chords=(), held="", held_midi=None) for gap in sheet.gaps))


@every(DEMOS, ("F", "Bb", "F#"))
def test_a_transposed_copy_has_the_same_description(path: Path, key: str) -> None:
    tune = read_tune(path)
    other = describe_tune(transpose_tune(tune, Key.parse(key)), "")
    assert moved(other) == moved(describe_tune(tune, ""))


def test_another_title_or_tempo_is_the_same_music_another_note_is_not() -> None:
    one = describe(SHEET, "try.abc")
    same = describe(SHEET.replace(b"T:Try", b"T:Other").replace(b"=120", b"=90"), "other.abc")
    assert same.fingerprint == one.fingerprint and same.content != one.content
    assert describe(SHEET.replace(b"A4", b"B4"), "t.abc").fingerprint != one.fingerprint
    assert describe(SHEET.replace(b"Dm7", b"D7"), "t.abc").fingerprint != one.fingerprint
    assert describe(SHEET.replace(b"C6", b"C"), "t.abc").fingerprint == one.fingerprint


@every(DEMOS)
def test_a_description_counts_gaps_as_the_rest_of_the_program_does(path: Path) -> None:
    sheet = describe(path.read_bytes(), path.name)
    gaps = find_gaps(unfold(read_tune(path)))
    assert [(g.number, g.bar, g.beats) for g in sheet.gaps] == [
        (g.number, g.bar, str(g.beats)) for g in gaps]
    assert {gap.place for gap in sheet.gaps} <= set(PLACES)
    assert all(1 <= gap.alike <= gap.number for gap in sheet.gaps)


def test_a_file_that_is_no_sheet_has_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"bad\.musicxml: "):
        describe(b"nothing", "bad.musicxml")
    with pytest.raises(InputError, match="chord symbols"):
        describe(b"X:1\nK:C\nA4|\n", "bare.abc")


# Common practice: what a numeral means in C.
NUMERALS = [("IIm7", {"2m"}), ("V7", {"77"}), ("V9", {"77"}), ("Imaj7", {"0M"}), ("bVII7", {"107"}),
            ("#IVdim7", {"6o"}), ("IIm7b5", {"2h"}), ("V7/II", {"97"}), ("V/V", None),
            ("subV7", {"17"}), ("subV7/II", {"37"}), ("IV", None), ("VIm", {"9m"})]


@every(NUMERALS)
def test_numerals_are_read_as_players_write_them(text: str, wanted: set[str] | None) -> None:
    [found] = asked_row(text)
    assert found == wanted if wanted is not None else len(found) == 5


@every(["", "H7", "IIxyz", "iim7", "Dm7", "IIII", "V7/"])
def test_what_is_no_numeral_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="IIm7"):
        asked_row(text)


SOME = ("Imaj7", "bIImaj7", "IIm7", "bIIIm7", "IIIm7", "IVmaj7", "#IVdim7", "V7", "bVI7", "VIm7",
        "VIIm7b5")


@given(st.lists(st.sampled_from(SOME), min_size=1, max_size=5))
def test_a_row_as_it_is_told_finds_itself(names: list[str]) -> None:
    text = " ".join(names)
    row = f" {' '.join(next(iter(one)) for one in asked_row(text))} "
    assert told(row) == text
    assert row_pattern(text).search(f" 0m{row}0h ")
    assert not row_pattern(text).search(f" 0m{row[1:]}".replace(" ", ""))


def test_degrees_are_read_as_players_write_them() -> None:
    names = ["1", "b9", "♯9", "3", "#11", "5", "13", "b7", "third", "root"]
    assert [degree_semitones(name) for name in names] == [0, 1, 3, 4, 6, 7, 9, 10, 4, 0]
    with pytest.raises(InputError, match="no degree"):
        degree_semitones("x")
