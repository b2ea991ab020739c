"""ABC notation (ABC 2.1): what is a chord symbol in it, and that the rest comes through."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest
from tests.tune.sheets import line, melody, order, read, spans, symbols

from fillwright import InputError, Tune, read_tune, unfold
from fillwright.tune import read_bytes
from fillwright.tune.abc import MAX_ABC_CHARACTERS

HEADER = "X:1\nT:A tune\nM:4/4\nL:1/4\nK:C\n"


def abc(body: str, header: str = HEADER, name: str = "t.abc") -> Tune:
    return read((header + body).encode(), name)


# Chord symbols -------------------------------------------------------------------------


@pytest.mark.parametrize(("quoted", "symbol"), [
    ("C", "C@0"), ("Dm7", "Dm7@0"), ("F#m7/C#", "F#m7/C#@0"), ("Bb", "Bb@0"), ("B♭Δ", "BbΔ@0"),
    ("G7sus4", "G7sus4@0"), ("CmMaj7", "CmMaj7@0"), ("G7alt", "G7alt@0"), ("N.C.", "N.C.@0"),
    ("C6/9", "C6/9@0"), ("G(Em)", "G@0"), ("(Am)", "Am@0"), ("C;G7", "C@0"), ("D/f+", "D/F#@0"),
    (" C ", "C@0"), ("C7(b9)", "C7(b9)@0"),
    # annotations and remarks
    ("^slow", ""), ("_x", ""), ("<3", ""), (">", ""), ("@-4,5 C", ""), ("^C", ""),
    ("Continue", ""), ("1", ""), ("4", ""), ("Fine", ""), ("fine", ""), ("a tempo", ""),
    ("dolce", ""), ("", ""), ("am", ""), ("h", ""),
])
def test_quoted_strings(quoted: str, symbol: str) -> None:
    tune = abc(f'"{quoted}"C4|"F"D4|]')
    assert (symbols(tune), symbols(tune, 1)) == (symbol, "F@0")


def test_remarks_that_look_like_chords_are_warned_of() -> None:
    assert any("Continue" in warning for warning in abc('"F"C4|"Continue"D4|').warnings)
    assert abc('"F"C4|"1"D4|"^Continue"E4|').warnings == ()


def test_places_of_chords() -> None:
    tune = abc('"C"c2 "G7"d2|"F"e4|"C"c "Am"[ceg] "D7"z "G"B|"C"Z|"F"x2 "G"{c}B2|]')
    assert [symbols(tune, bar) for bar in range(5)] == [
        "C@0 G7@2", "F@0", "C@0 Am@1 D7@2 G@3", "C@0", "F@0 G@2"]


def test_a_chord_on_beat_three_only_is_carried_over() -> None:
    assert spans(unfold(abc('"Gm"G4|z2"F"F2|'))) == "Gm@0+6 F@6+2"


def test_bare_bass_and_percent_carry_the_chord_on() -> None:
    tune = abc('"C"C4|"/B"C4|"%"C4|]')
    assert [symbols(tune, bar) for bar in range(3)] == ["C@0", "C/B@0", "C/B@0"]


def test_curly_quotes() -> None:
    assert symbols(abc("“F7”G4|")) == "F7@0"


# Notes ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("body", "expected"), [
    ('"C"CDEF|', "C4@0+1 D4@1+1 E4@2+1 F4@3+1"),
    ('"C"c/d/ e//f// G3/2 A/2 |', "C5@0+1/2 D5@1/2+1/2 E5@1+1/4 F5@5/4+1/4 G4@3/2+3/2 A4@3+1/2"),
    ('"C"(3CDE .c>d|', "C4@0+2/3 D4@2/3+2/3 E4@4/3+2/3 C5@2+3/2 D5@7/2+1/2"),
    ('"C"A>z B<c|', "A4@0+3/2 B4@2+1/2 C5@5/2+3/2"),
    ('"C"(5CDEFG A2|', "C4@0+2/5 D4@2/5+2/5 E4@4/5+2/5 F4@6/5+2/5 G4@8/5+2/5 A4@2+2"),
    ('"C"^c c c\' =c|', "C#5@0+1 C#5@1+1 C6@2+1 C5@3+1"),
    ('"C"Pc2 !trill!d +accent+e|', "C5@0+2 D5@2+1 E5@3+1"),
    ('"C"~f .g vA uB|', "F5@0+1 G5@1+1 A4@2+1 B4@3+1"),
    ('"C"{/ga}c4|', "C5@0+4"),
    ('"C"[CEG]4|', "G4@0+4"),
    ('"C"C4&E4|', "E4@0+4"),
    ('"C"c2 [K:D]f2|', "C5@0+2 F#5@2+2"),
    ('"C"c4 % "D" d4|', "C5@0+4"),
    ('"C"c2 [r:remark]d2|', "C5@0+2 D5@2+2"),
])
def test_notes(body: str, expected: str) -> None:
    assert line(abc(body)) == expected


def test_accidentals_last_through_ties_and_bars() -> None:
    assert melody(unfold(abc('"C"^c4-|c2 c2|'))) == "C#5@0+6 C5@6+2"


def test_a_tie_joins_what_sounds_the_same_and_nothing_else() -> None:
    """ABC writes only where a tie starts."""
    assert melody(unfold(abc('"C"c4-|c4|d4-|e4|'))) == "C5@0+8 D5@8+4 E5@12+4"
    assert melody(unfold(abc('"C"c2-z2|c4|'))) == "C5@0+2 C5@4+4"
    assert melody(unfold(abc('|:"C"c4-|1c4:|2c4|]'))) == "C5@0+8 C5@8+8"
    assert melody(unfold(abc('"C"^c4-|_d4|'))) == "C#5@0+8"
    assert melody(unfold(abc('"C"_d2-^c2|=c4-|=d4|'))) == "Db5@0+4 C5@4+4 D5@8+4"


def test_slurs_are_not_ties() -> None:
    assert melody(unfold(abc('"C"(c2 c2)|'))) == "C5@0+2 C5@2+2"


@pytest.mark.parametrize(("body", "expected"), [
    ('|:"C"C4::D4:|', "1 1 2 2"), ('"C"C4:|:D4:|E4|]', "1 1 2 2 3"),
    ('|:"C"C4|[1,2D4:|[3E4|]', "1 2 1 2 1 3"), ('|:"C"C4|1D4:|2E4|]', "1 2 1 3"),
    ('"C"C4!fine!|D4!D.C.!|', "1 2 1"), ('"C"C4|"^Fine"D4|"^D.C. al Fine"E4|', "1 2 3 1 2"),
    ('"C"C4|!segno!D4!dacoda!|E4!D.S.alcoda!|!coda!F4|', "1 2 3 2 4"),
    ('"C"C4|!segno!D4!coda!|E4!D.S.!|!coda!F4|', "1 2 3 2 4"),
    ('"C"C4|C4&E4|G4|', "1 2 3"),
])
def test_form(body: str, expected: str) -> None:
    assert order(unfold(abc(body))) == expected


def test_voices() -> None:
    header = HEADER.replace("K:C", "V:1\nV:2\nK:C")
    tune = abc('V:1\n"C"C4|D4|\nV:2\nE4|F4|', header)
    assert (line(tune), symbols(tune)) == ("C4@0+4", "C@0")
    other = read_bytes((header + 'V:1\n"C"C4|D4|\nV:2\nE4|F4|').encode(), "t.abc", part="2")
    assert (line(other), symbols(other)) == ("E4@0+4", "C@0")


def test_header() -> None:
    tune = abc('"Gm"G4|', HEADER.replace("4/4", "C|").replace("K:C", "Q:1/2=90\nK:Gm"))
    assert (str(tune.meter), str(tune.key), tune.title) == ("2/2", "G minor", "A tune")
    assert tune.tempo_bpm == 180
    assert str(abc('"Em"e4|', HEADER.replace("K:C", "K:Edor")).key) == "E minor"


def test_lyrics_and_directives_are_dropped(tmp_path: Path) -> None:
    secret = tmp_path / "secret.abc"
    secret.write_text('"F"F4|')
    tune = abc(f'"C"C4|\nw:la la\n%%abc-include {secret}\nI:abc-include {secret}\n"G"G4|')
    assert [symbols(tune, bar) for bar in range(len(tune.bars))] == ["C@0", "G@0"]


@pytest.mark.parametrize("header", ["", "T:x\n", "K:C\n", "X:1\n", "M:4/4\nL:1/4\n", "L:1/4\n",
                                    "X:1\nK:\n", "%abc-2.1\nX:1\nK:C\n", "\ufeffX:1\nK:C\n"])
def test_missing_fields(header: str) -> None:
    """Without an L: field the unit is an eighth (ABC 2.1, 3.1.7)."""
    tune = abc('"C"C4 "D"D4|', header)
    unit = 1 if "L:" in header else 2
    assert symbols(tune) == f"C@0 D@{4 // unit}"


def test_control_characters_are_dropped() -> None:
    assert symbols(abc('"C\x16"C4|\x01"\uffff"D4|')) == "C@0"


def test_endings_with_a_name() -> None:
    chorus = unfold(abc('|:"C"c4|["1st time" "F"d4:|["2." "G"e4|]'))
    assert (order(chorus), spans(chorus)) == ("1 2 1 3", "C@0+4 F@4+4 C@8+4 G@12+4")


def test_line_endings_and_encodings() -> None:
    text = HEADER.replace("A tune", "Étude") + '"C"C4|\n"F"D4|\n'
    for data in (text.encode(), text.replace("\n", "\r\n").encode(), text.encode("latin-1"),
                 text.replace("\n", "\r").encode(), text.encode("utf-16"),
                 text.encode("utf-8-sig")):
        tune = read(data, "t.abc")
        assert (tune.title, len(tune.bars)) == ("Étude", 2)


# Files ---------------------------------------------------------------------------------


BOOK = HEADER + '"C"C4|\n\nX:7\nT:Other\nL:1/4\nK:G\n"G"G4|\n\nX:3\nT:Third\nK:D\n"D"D4|\n'


def test_several_tunes(tmp_path: Path) -> None:
    path = tmp_path / "book.abc"
    path.write_text(BOOK)
    tune = read_tune(path)
    assert tune.title == "A tune"
    assert any("3 tunes" in warning for warning in tune.warnings)
    assert read_tune(f"{path}#7").title == "Other"
    assert read_tune(f"{path}#3").title == "Third"
    assert read_tune(f"{path}#2").title == "Other"
    with pytest.raises(InputError, match="no tune 9; the file holds 3") as caught:
        read_tune(f"{path}#9")
    assert caught.value.source == "book.abc"


def test_a_file_without_its_ending() -> None:
    assert symbols(read(BOOK.encode(), "book.txt")) == "C@0"


@pytest.mark.parametrize(("data", "sentence"), [
    (b"", "no music"), (b"X:1\nK:C\n", "no music|no notes"), (b"\0\1\2", "binary"),
    (HEADER.encode() + b"CDEF|", "no chord symbols"), (HEADER.encode() + b'"C"z4|', "no notes"),
    (HEADER.encode() + b'"C"c999999|', "bar 1: a note lasts"),
    (HEADER.encode() + b'"C"c|' * MAX_ABC_CHARACTERS, "more than the limit of 20000"),
    (HEADER.encode() + b'"C"' + b"c" * 1500, "a bar has 15.. characters"),
    (HEADER.encode() + b'"C"c4|Z1999|Z999|', "rests for 2998 bars, more than the limit of 2000"),
    (b"<html/>", "no chord|no notes|understood|no music"),
])
def test_what_is_refused(data: bytes, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence) as caught:
        read(data, "t.abc")
    assert caught.value.source == "t.abc"
    assert "\n" not in str(caught.value)


def test_the_converter_stays_silent(capfd: pytest.CaptureFixture[str],
                                    monkeypatch: pytest.MonkeyPatch) -> None:
    """It neither prints nor reads the arguments or the input of the program."""
    monkeypatch.setattr(sys, "argv", ["fillwright", "--nonsense"])
    monkeypatch.setattr(sys, "stdin", io.StringIO("X:1"))
    abc('"C"C4|"?"!!!D4 [[[ )))|')
    captured = capfd.readouterr()
    assert (captured.out, captured.err) == ("", "")
