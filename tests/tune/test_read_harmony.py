"""Chord symbols of MusicXML: what they name, how they look, where they stand.

Meanings follow the MusicXML 4.0 schema (W3C Music Notation Community Group); what it leaves
to the reader is common practice.
"""

from __future__ import annotations

import pytest
from tests.tune.sheets import (
    attributes,
    backup,
    bass,
    chord,
    degree,
    forward,
    note,
    notes,
    part,
    read,
    read_bars,
    score,
    spans,
    symbols,
    words,
)

from fillwright import ChordSymbol, InputError, Tune, unfold
from fillwright.theory import KIND_DEGREES

WHOLE = notes("C5:16")


def one(harmony: str) -> ChordSymbol:
    return read_bars([harmony + WHOLE]).bars[0].chords[0].symbol


def warned(tune: Tune, *fragments: str) -> bool:
    return any(all(fragment in warning for fragment in fragments) for warning in tune.warnings)


# What a symbol names -------------------------------------------------------------------


@pytest.mark.parametrize("kind", sorted(set(KIND_DEGREES) - {"none", "other"}))
def test_every_kind_of_the_schema(kind: str) -> None:
    tune = read_bars([chord("Eb", kind) + WHOLE])
    symbol = tune.bars[0].chords[0].symbol
    assert (str(symbol.root), symbol.kind, symbol.degrees) == ("Eb", kind, KIND_DEGREES[kind])
    assert tune.warnings == ()


@pytest.mark.parametrize(("kind", "degrees", "expected"), [
    ("dominant", [(9, -1, "add")], "1 3 5 b7 b9"),
    ("dominant", [(9, 1, "add")], "1 3 5 b7 #9"),
    ("dominant", [(9, 1, "alter")], "1 3 5 b7 #9"),
    ("dominant", [(11, 1, "alter"), (13, -1, "alter")], "1 3 5 b7 #11 b13"),
    ("dominant", [(5, -1, "alter")], "1 3 b5 b7"),
    ("dominant", [(5, 1, "alter"), (9, -1, "add")], "1 3 #5 b7 b9"),
    ("dominant-ninth", [(9, -1, "alter")], "1 3 5 b7 b9"),
    ("dominant-13th", [(11, 0, "subtract")], "1 3 5 b7 9 13"),
    ("dominant-13th", [(11, 1, "alter"), (9, -1, "alter")], "1 3 5 b7 b9 #11 13"),
    ("suspended-fourth", [(7, 0, "add")], "1 4 5 b7"),
    ("suspended-fourth", [(7, 0, "add"), (9, 0, "add")], "1 4 5 b7 9"),
    ("suspended-fourth", [(7, 1, "add")], "1 4 5 7"),
    ("major", [(7, 1, "add")], "1 3 5 7"),
    ("major", [(7, 0, "add")], "1 3 5 b7"),
    ("major", [(7, -1, "add")], "1 3 5 bb7"),
    ("major", [(9, 0, "add")], "1 3 5 9"),
    ("major", [(2, 0, "add"), (3, 0, "subtract")], "1 2 5"),
    ("major-sixth", [(9, 0, "add")], "1 3 5 6 9"),
    ("major-seventh", [(7, -1, "alter")], "1 3 5 b7"),
    ("major-seventh", [(11, 1, "add"), (5, 0, "subtract")], "1 3 7 #11"),
    ("minor-seventh", [(5, -1, "alter")], "1 b3 b5 b7"),
    ("minor-seventh", [(11, 0, "add")], "1 b3 5 b7 11"),
    ("minor", [(7, 1, "add")], "1 b3 5 7"),
    ("diminished", [(7, -1, "add")], "1 b3 b5 bb7"),
    ("power", [(9, 0, "add")], "1 5 9"),
    ("other", [(3, 0, "add"), (5, 0, "add"), (7, 0, "add")], "1 3 5 b7"),
    ("major", [(15, 0, "add")], "1 3 5"),
    ("major", [(99, 0, "add")], "1 3 5"),
])
def test_degrees(kind: str, degrees: list[tuple[int, int, str]], expected: str) -> None:
    """Added degrees count from a dominant chord, altered ones from the chord itself; an
    altered degree the chord lacks is an added one."""
    symbol = one(chord("C", kind, *(degree(*d) for d in degrees)))
    assert symbol.degrees == tuple(expected.split())
    assert symbol.kind in KIND_DEGREES


def test_a_chord_of_kind_other_is_named_by_its_degrees() -> None:
    dominant = one(chord("C", "other", *(degree(d, 0, "add") for d in (3, 5, 7))))
    assert dominant.kind == "dominant"


def test_bass_before_or_behind_the_degrees() -> None:
    for inside in ((bass("Bb"), degree(9, -1, "add")), (degree(9, -1, "add"), bass("Bb"))):
        symbol = one(chord("C", "dominant", *inside))
        assert (str(symbol.bass), symbol.degrees) == ("Bb", ("1", "3", "5", "b7", "b9"))


def test_several_degrees_in_one_element() -> None:
    """As old exporters write them."""
    two = ("<degree><degree-value>3</degree-value><degree-type>subtract</degree-type>"
           "<degree-value>9</degree-value><degree-alter>-1</degree-alter></degree>")
    assert one(chord("C", "dominant", two)).degrees == ("1", "5", "b7", "b9")


def test_a_bass_that_is_the_root_is_none() -> None:
    assert one(chord("C", "major", bass("C"))).bass is None


@pytest.mark.parametrize(("inversion", "low"), [(0, None), (1, "E"), (2, "G"), (3, "Bb"),
                                                (9, None)])
def test_an_inversion_gives_the_bass(inversion: int, low: str | None) -> None:
    symbol = one(chord("C", "dominant", f"<inversion>{inversion}</inversion>"))
    assert (None if symbol.bass is None else str(symbol.bass)) == low


def test_a_bass_wins_over_an_inversion() -> None:
    symbol = one(chord("A", "minor", "<inversion>1</inversion>", bass("D")))
    assert str(symbol.bass) == "D"


# Text ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("harmony", "written"), [
    (chord("C", "half-diminished", text="m7b5"), "Cm7b5"),
    (chord("C", "half-diminished", text="ø"), "Cø"),
    (chord("C", "half-diminished"), "Cm7b5"),
    (chord("C", "major", text=""), "C"),
    (chord("C", "minor", text=""), "Cm"),
    (chord("C", "major-seventh", text="Δ"), "CΔ"),
    (chord("C", "dominant", degree(9, -1, "add"), text="7"), "C7(b9)"),
    (chord("C", "dominant", degree(9, -1, "add"), text="7b9"), "C7b9"),
    (chord("C", "dominant", degree(9, -1, "add", 'print-object="no"'), text="7(♭9)"),
     "C7(♭9)"),
    (chord("C", "dominant", degree(5, 1, "alter"), text="7+"), "C7+"),
    (chord("C", "dominant", text="seventh of a kind"), "Cseventh of a kind"),
    (chord("C", "minor-seventh", text="-7"), "C-7"),
    (chord("C", "minor-seventh", bass("G"), text="m7/G"), "Cm7/G"),
    # where no text is given: as a player would write what the degrees make of the kind
    (chord("C", "major", degree(7, 0, "add")), "C7"),
    (chord("C", "minor", degree(7, 1, "add")), "Cm(maj7)"),
    (chord("C", "dominant-ninth", degree(9, 1, "alter")), "C7(#9)"),
    (chord("C", "major", degree(3, 0, "subtract")), "C5"),
    (chord("C", "Minor 7"), "Cm7"),
])
def test_the_text_is_shown(harmony: str, written: str) -> None:
    assert str(one(harmony)) == written


def test_the_value_decides_the_sound() -> None:
    tune = read_bars([WHOLE, chord("C", "minor-seventh", text="7") + WHOLE])
    symbol = tune.bars[1].chords[0].symbol
    assert symbol.degrees == ("1", "b3", "5", "b7")
    assert symbol.suffix == "7"
    assert warned(tune, "bar 2", "chord C7: its text is not what its kind 'minor-seventh' says")


@pytest.mark.parametrize("harmony", [
    chord("C", "dominant", degree(9, -1, "add"), text="7alt"), chord("C", "dominant", text="9"),
    chord("C", "dominant", degree(5, 1, "alter"), text="7"), chord("C", "major", text="zork"),
    chord("C", "suspended-fourth", degree(7, 0, "add"), text="7sus"), chord("C", text=""),
])
def test_more_or_fewer_colours_are_no_contradiction(harmony: str) -> None:
    assert read_bars([harmony + WHOLE]).warnings == ()


@pytest.mark.parametrize("harmony", [
    chord("C", "minor-seventh", text="m7b5"), chord("C", "suspended-fourth", text="7sus"),
    chord("C", "major", text="m"), chord("C", "dominant", text="maj7"),
])
def test_another_third_fifth_or_seventh_is_one(harmony: str) -> None:
    assert warned(read_bars([harmony + WHOLE]), "bar 1", "its text")


# Old exporters -------------------------------------------------------------------------


@pytest.mark.parametrize(("kind", "text", "degrees"), [
    ("dominant-seventh", None, "1 3 5 b7"),
    ("minor-major", "mMaj7", "1 b3 5 7"),
    ("minor-major", None, "1 b3 5 7"),
    ("maj69", "69", "1 3 5 6 9"),
    ("", "m7", "1 b3 5 b7"),
    ("", "7", "1 3 5 b7"),
    ("", "", "1 3 5"),
    ("", None, "1 3 5"),
    ("augmented-ninth", None, "1 3 #5 b7 9"),
    ("suspended-fourth-seventh", None, "1 4 5 b7"),
    ("Minor-Seventh", None, "1 b3 5 b7"),
    ("minor seventh", None, "1 b3 5 b7"),
    ("min7", None, "1 b3 5 b7"),
    ("zork", "7b9", "1 3 5 b7 b9"),
    ("zork", None, "1"),
    ("zork", "zork", "1"),
])
def test_kinds_that_are_not_of_the_schema(kind: str, text: str | None, degrees: str) -> None:
    tune = read_bars([WHOLE, chord("Bb", kind, text=text) + WHOLE])
    symbol = tune.bars[1].chords[0].symbol
    assert (str(symbol.root), symbol.degrees) == ("Bb", tuple(degrees.split()))
    assert symbol.kind in KIND_DEGREES
    assert warned(tune, "bar 2", "Bb" + (text or "")), tune.warnings


def test_a_warning_comes_for_each_bar() -> None:
    tune = read_bars([chord("C", "maj69") + WHOLE, chord("C", "maj69") + WHOLE])
    assert [warning[:6] for warning in tune.warnings] == ["bar 1:", "bar 2:"]


def test_kind_other_is_read_from_its_text() -> None:
    tune = read_bars([chord("G", "other", text="7alt") + WHOLE])
    assert tune.bars[0].chords[0].symbol.degrees == ("1", "3", "b7", "b9", "#9", "#11", "b13")
    assert tune.warnings == ()


def test_a_root_that_cannot_be_read_is_left_out_with_a_warning() -> None:
    tune = read_bars([chord("X") + chord("C") + WHOLE])
    assert symbols(tune) == "C@0"
    assert warned(tune, "bar 1", "root")


# N.C., repeats of the chord, alternates, numerals --------------------------------------


@pytest.mark.parametrize("harmony", [
    chord("C", "none"), chord("C", "none", text="N.C."), chord("G", "none", root_text=""),
    words("N.C."), words("NC"), words("(N.C.)"), chord("C", "other", text="N.C."),
    chord("C", "", text="NC"),
])
def test_no_chord(harmony: str) -> None:
    tune = read_bars([chord("C") + WHOLE, harmony + WHOLE])
    symbol = tune.bars[1].chords[0].symbol
    assert (str(symbol), symbol.kind, symbol.pitch_classes) == ("N.C.", "none", ())


def test_a_bare_bass_and_a_percent_sign_carry_the_chord_on() -> None:
    tune = read_bars([
        chord("C", "minor-seventh") + WHOLE,
        "<harmony><kind/><bass><bass-step>B</bass-step></bass></harmony>" + WHOLE,
        chord("C", "other", text="%", root_text="") + WHOLE,
        chord("C", "none", text="/", root_text="") + WHOLE])
    assert [symbols(tune, bar) for bar in range(4)] == \
        ["Cm7@0", "Cm7/B@0", "Cm7/B@0", "Cm7/B@0"]


def test_alternates_are_ignored_and_hidden_chords_kept() -> None:
    tune = read_bars([chord("C", attributes='type="alternate"')
                      + chord("F", attributes='print-object="no"') + WHOLE])
    assert symbols(tune) == "F@0"


@pytest.mark.parametrize(("function", "kind", "fifths", "mode", "symbol"), [
    ("V", "dominant", 0, "major", "G7"), ("ii", "minor-seventh", -3, "major", "Fm7"),
    ("bVII", "dominant", 0, "major", "Bb7"), ("VI", "major", 0, "minor", "F"),
    ("#iv", "half-diminished", 0, "major", "F#m7b5"), ("Q", "major", 0, "major", ""),
])
def test_functions_are_resolved_by_the_key(function: str, kind: str, fifths: int, mode: str,
                                           symbol: str) -> None:
    harmony = f"<harmony><function>{function}</function><kind>{kind}</kind></harmony>"
    tune = read_bars([harmony + chord("C", offset=8) + WHOLE],
                     first=attributes(fifths=fifths, mode=mode))
    assert symbols(tune) == (f"{symbol}@0 C@2" if symbol else "C@2")
    assert warned(tune, "bar 1") == (not symbol)


def test_a_chain_of_functions() -> None:
    harmony = ("<harmony><function>V</function><kind>dominant</kind>"
               "<function>ii</function><kind>minor</kind></harmony>")
    assert symbols(read_bars([harmony + WHOLE])) == "A7@0"


def test_a_numeral_with_its_own_key() -> None:
    harmony = ("<harmony><numeral><numeral-root>5</numeral-root><numeral-key>"
               "<numeral-fifths>2</numeral-fifths><numeral-mode>major</numeral-mode>"
               "</numeral-key></numeral><kind>dominant</kind></harmony>")
    assert symbols(read_bars([harmony + WHOLE])) == "A7@0"


# Where it stands -----------------------------------------------------------------------


def test_offsets() -> None:
    tune = read_bars([chord("C") + chord("G", "dominant", offset=8) + WHOLE])
    assert symbols(tune) == "C@0 G7@2"


def test_a_chord_between_notes_and_after_a_backup() -> None:
    between = notes("C5:8") + chord("G") + notes("D5:8")
    behind = notes("C5:8 D5:8") + backup(8) + chord("G")
    negative = notes("C5:8 D5:8") + chord("G", offset=-8)
    late = chord("G", offset=8) + notes("C5:8 D5:8")
    for bar in (between, behind, negative, late):
        assert symbols(read_bars([bar])) == "G@2"


def test_the_cursor_counts_not_the_note_it_is_written_at() -> None:
    """A symbol behind the only note of a bar sounds with the next bar."""
    chorus = unfold(read_bars([chord("C") + WHOLE + chord("F"), WHOLE]))
    assert spans(chorus) == "C@0+4 F@4+4"


def test_bars_with_chords_only() -> None:
    tune = read_bars([
        chord("C") + forward(8) + chord("F") + forward(8), chord("G"), chord("C") + WHOLE])
    assert [symbols(tune, bar) for bar in range(3)] == ["C@0 F@2", "G@0", "C@0"]
    assert [bar.length_quarter for bar in tune.bars] == [4, 4, 4]


def test_of_two_chords_at_one_place_the_last_is_taken() -> None:
    tune = read_bars([WHOLE, chord("C") + WHOLE + backup(16) + chord("F") + WHOLE])
    assert symbols(tune, 1) == "F@0"
    assert warned(tune, "bar 2", "C", "F")


def test_a_chord_before_its_bar_line_belongs_to_the_bar_before() -> None:
    tune = read_bars([chord("C") + WHOLE, chord("G", offset=-4) + WHOLE])
    assert symbols(tune, 0) == "C@0 G@3"
    assert warned(tune, "bar 2", "G")


def test_a_chord_before_the_first_bar_moves_to_its_start() -> None:
    tune = read_bars([chord("G", offset=-4) + WHOLE])
    assert symbols(tune) == "G@0"
    assert warned(tune, "bar 1", "G")


def test_chords_in_another_part_are_merged_by_time() -> None:
    melody_part = part([notes("C5:16"), notes("D5:16")])
    chord_part = part([chord("C") + notes("r:8") + chord("F") + notes("r:8"),
                       chord("G", "dominant") + notes("r:16")], name="P2")
    tune = read(score(melody_part, chord_part, names=("Voice", "Guitar")))
    assert [symbols(tune, bar) for bar in range(2)] == ["C@0 F@2", "G7@0"]
    assert warned(tune, "P1 (Voice)", "P2 (Guitar)")


def test_no_chords_at_all_is_an_error() -> None:
    with pytest.raises(InputError, match="no chord symbols"):
        read_bars([WHOLE])


def test_a_transposing_part_moves_its_chords() -> None:
    transposed = attributes(fifths=2, more="<transpose><diatonic>-1</diatonic><chromatic>-2"
                                           "</chromatic></transpose>")
    tune = read_bars([chord("D", "major-seventh", bass("F#")) + note("D5", 16)],
                     first=transposed)
    assert symbols(tune) == "Cmaj7/E@0"
