"""Chord symbols as text: the spellings of the trade (common practice), one table."""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from tests.sweep import every

from fillwright import ChordSymbol
from fillwright.theory import KIND_DEGREES, ChordTextError, is_no_chord, parse_chord
from fillwright.theory.chord import default_suffix
from fillwright.theory.chordtext import best_kind, parse_suffix

# Spellings of one quality -> kind of MusicXML 4.0, degrees.
QUALITIES: list[tuple[str, str, str]] = [
    (" maj major M Maj", "major", "1 3 5"),
    ("m min mi - MI MIN minor", "minor", "1 b3 5"),
    ("+ aug (#5) +5 Aug augmented", "augmented", "1 3 #5"),
    ("dim ° o º Dim diminished", "diminished", "1 b3 b5"),
    ("7 dom7 dom", "dominant", "1 3 5 b7"),
    ("maj7 M7 Δ Δ7 △ △7 ∆7 MA7 ma7 Maj7 major7 j7 mj7 ^7 ^ (maj7) 7M (7M)",
     "major-seventh", "1 3 5 7"),
    ("m7 -7 min7 mi7 MI7 −7 m⁷ minor7", "minor-seventh", "1 b3 5 b7"),
    ("dim7 °7 o7 º7 diminished7", "diminished-seventh", "1 b3 b5 bb7"),
    ("7#5 7+5 +7 aug7 7+ 7(#5) 7♯5 7aug 7aug5", "augmented-seventh", "1 3 #5 b7"),
    ("m7b5 -7b5 ø ø7 Ø min7(b5) mi7(b5) m7(♭5) -7♭5 m7-5 hdim7 half-dim half-diminished "
     "m7flat5 m7dim5",
     "half-diminished", "1 b3 b5 b7"),
    ("mMaj7 mmaj7 mM7 m(maj7) -Δ -Δ7 -maj7 -M7 mΔ mΔ7 m(M7) minMaj7 m/maj7 m#7 m+7 mi(MA7) "
     "min(maj7) m(+7) m7M", "major-minor", "1 b3 5 7"),
    ("6 maj6 M6 ma6 add6 (add6)", "major-sixth", "1 3 5 6"),
    ("m6 -6 min6 mi6", "minor-sixth", "1 b3 5 6"),
    ("6/9 69 6(9) 6add9 6(add9) maj6/9 6,9 M69 9/6 ⁶/₉", "major-sixth", "1 3 5 6 9"),
    ("m6/9 m69 -6/9 -69 mi6(9)", "minor-sixth", "1 b3 5 6 9"),
    ("9 dom9 7♮9 ₉", "dominant-ninth", "1 3 5 b7 9"),
    ("maj9 M9 Δ9 MA9 maj7(9) maj7/9 maj7add9", "major-ninth", "1 3 5 7 9"),
    ("m9 -9 min9 MI9 m7(9) m7add9", "minor-ninth", "1 b3 5 b7 9"),
    ("11", "dominant-11th", "1 3 5 b7 9 11"),
    ("maj11 M11", "major-11th", "1 3 5 7 9 11"),
    ("m11 -11 min11", "minor-11th", "1 b3 5 b7 9 11"),
    ("13", "dominant-13th", "1 3 5 b7 9 11 13"),
    ("maj13 M13 Δ13", "major-13th", "1 3 5 7 9 11 13"),
    ("m13 -13", "minor-13th", "1 b3 5 b7 9 11 13"),
    ("sus2 Sus2", "suspended-second", "1 2 5"),
    ("sus sus4 Sus4 4 SUS4 (sus4)", "suspended-fourth", "1 4 5"),
    ("7sus4 7sus sus7 7(sus4) 7Sus4 7,sus4", "suspended-fourth", "1 4 5 b7"),
    ("9sus4 9sus sus9 9(sus4) 7sus9 7sus4(9)", "suspended-fourth", "1 4 5 b7 9"),
    ("13sus4 13sus sus13 13(sus4) 9sus13 9sus4(13)", "suspended-fourth", "1 4 5 b7 9 13"),
    ("7susb9 7sus4(b9) 7sus(b9) 7sus4b9 7b9sus 7b9sus4 susb9 sus(b9)", "suspended-fourth",
     "1 4 5 b7 b9"),
    ("7sus2", "suspended-second", "1 2 5 b7"),
    ("5", "power", "1 5"),
    ("7b9 7-9 7(b9) 7♭9 79b 7(♭9) 7[b9] 7((b9)) 7{b9} 7flat9 7 b9", "dominant", "1 3 5 b7 b9"),
    ("7#9 7+9 7(#9) 7♯9 79# 7sharp9 7aug9", "dominant", "1 3 5 b7 #9"),
    ("7#11 7+11 7(#11) 7#4 711#", "dominant", "1 3 5 b7 #11"),
    ("7b13 7-13 7(b13) 7b6", "dominant", "1 3 5 b7 b13"),
    ("7b5 7-5 7(b5) 7dim5", "dominant", "1 3 b5 b7"),
    ("7(b9,#11) 7b9#11 7(b9#11) 7(b9 #11) 7(♭9,♯11) 7b9/#11 7(b9)(#11) "
     "7((b9)#11) 7(b9(#11)) 7(b9/#11)", "dominant", "1 3 5 b7 b9 #11"),
    ("7(b9,b13) 7b9b13 7b13b9", "dominant", "1 3 5 b7 b9 b13"),
    ("7#5#9 +7#9 7(#5,#9) 7+#9 7#9#5 aug7#9 +7(#9)", "augmented-seventh", "1 3 #5 b7 #9"),
    ("7b5b9 7(b5,b9)", "dominant", "1 3 b5 b7 b9"),
    ("7alt alt 7(alt) 7Alt alt7", "dominant", "1 3 b7 b9 #9 #11 b13"),
    ("7(13) 7add13 7/13 713", "dominant", "1 3 5 b7 13"),
    ("9#11 9(#11)", "dominant-ninth", "1 3 5 b7 9 #11"),
    ("9#5 9+5 +9", "augmented-seventh", "1 3 #5 b7 9"),
    ("9b5 9-5", "dominant-ninth", "1 3 b5 b7 9"),
    ("13#11 13(#11)", "dominant-ninth", "1 3 5 b7 9 #11 13"),
    ("13b9 13(b9)", "dominant", "1 3 5 b7 b9 11 13"),
    ("maj7#11 maj7(#11) Δ#11 M7+11 MA7(#11) Δ7♯11", "major-seventh", "1 3 5 7 #11"),
    ("maj7#5 +maj7 M7+5 augmaj7 +M7 Δ#5", "augmented", "1 3 #5 7"),
    ("maj7b5 M7-5", "major-seventh", "1 3 b5 7"),
    ("maj9#11", "major-ninth", "1 3 5 7 9 #11"),
    ("add9 (add9) 2 add2 Add9", "major", "1 3 5 9"),
    ("madd9 m(add9) madd2 -add9 m2", "minor", "1 b3 5 9"),
    ("(#11) add#11", "major", "1 3 5 #11"),
    ("add11 add4", "major", "1 3 5 11"),
    ("m7(11) m7add11 m7add4", "minor-seventh", "1 b3 5 b7 11"),
    ("mMaj9 mM9 -Δ9 m(maj9)", "major-minor", "1 b3 5 7 9"),
    ("m9b5 ø9 -9b5", "half-diminished", "1 b3 b5 b7 9"),
    ("°M7 dimMaj7 dim(maj7) oM7", "diminished", "1 b3 b5 7"),
    ("6(maj7) maj7(6)", "major-seventh", "1 3 5 6 7"),
    ("7no3 7(no3) 7omit3", "dominant", "1 5 b7"),
    ("m9(no5) m9omit5 m9no5th", "minor-ninth", "1 b3 b7 9"),
    ("no5 (no5)", "major", "1 3"),
    ("sus4(add3)", "major", "1 3 4 5"),
    ("7(b5,#5)", "augmented-seventh", "1 3 b5 #5 b7"),
    ("7(b9,#9)", "dominant", "1 3 5 b7 b9 #9"),
    ("7913", "dominant-ninth", "1 3 5 b7 9 13"),
    ("j79#11#", "major-seventh", "1 3 5 7 #9 #11"),
]
CASES = [(spelling, kind, tuple(degrees.split()))
         for spellings, kind, degrees in QUALITIES
         for spelling in ([*spellings.split(" ")] if not any(
             mark in spellings for mark in ("7 b9", "b9 #11"))
             else spellings.replace("7 b9", "7\u2002b9").replace("b9 #11", "b9\u2002#11")
             .split(" "))]


@every(["C", "Bb", "F#"], CASES)
def test_spellings(root: str, spelling: str, kind: str, degrees: tuple[str, ...]) -> None:
    spelling = spelling.replace("\u2002", " ")
    symbol = parse_chord(root + spelling)
    assert str(symbol.root) == root
    assert symbol.degrees == degrees
    assert symbol.kind == kind
    assert symbol.suffix == spelling.strip(), "the spelling is kept as written"


@every([
    ("C/E", "C", "E"), ("C/Eb", "C", "Eb"), ("C/E♭", "C", "Eb"), ("Cm7/Bb", "C", "Bb"),
    ("C6/9/E", "C", "E"), ("C6/9", "C", None), ("F#m7b5/C", "F#", "C"), ("C/C", "C", None),
    ("Am/g", "A", "G"), ("D/f+", "D", "F#"), ("B♭/D", "Bb", "D"), ("G♯m/B", "G#", "B"),
    ("C \\ G", "C", "G"), ("H7/D#", "B", "D#"), ("Ebb", "Ebb", None), ("Fx7", "F##", None),
    ("C7(b9)/Bb", "C", "Bb"), ("B-7", "B", None), ("Cm/maj7", "C", None),
    ("B flat 7", "Bb", None), ("F sharp m7/C♯", "F#", "C#"), ("E-flat", "Eb", None),
    ("E♮7/B♮", "E", "B"), ("Ebb5", "Eb", None), ("Bbb7", "Bbb", None), ("Eb5", "Eb", None),
    ("(Dm7)", "D", None), ("((G7/B))", "G", "B"), ("[ C7(b9) ]", "C", None),
])
def test_roots_and_basses(text: str, root: str, bass: str | None) -> None:
    symbol = parse_chord(text)
    assert str(symbol.root) == root
    assert (None if symbol.bass is None else str(symbol.bass)) == bass


@pytest.mark.parametrize(("text", "degrees"), [
    ("d7", "1 b3 5 b7"), ("dm7", "1 b3 5 b7"), ("a", "1 b3 5"), ("d-7", "1 b3 5 b7"),
    ("e7b5", "1 b3 b5 b7"),
])
def test_small_letters_mean_minor(text: str, degrees: str) -> None:
    assert parse_chord(text).degrees == tuple(degrees.split())


@pytest.mark.parametrize("text", ["N.C.", "NC", "n.c.", "N. C.", "(N.C.)", "No chord", "tacet"])
def test_no_chord(text: str) -> None:
    assert is_no_chord(text)
    assert not parse_chord(text).is_chord
    assert parse_chord(text).pitch_classes == ()


@pytest.mark.parametrize("text", ["%", "/", " % "])
def test_repeat_signs_take_the_chord_before(text: str) -> None:
    before = parse_chord("Fm7/Eb")
    assert parse_chord(text, before) is before
    with pytest.raises(ChordTextError):
        parse_chord(text)


def test_a_bare_bass_keeps_root_and_quality() -> None:
    symbol = parse_chord("/F", parse_chord("Bb7"))
    assert (str(symbol.root), symbol.kind, str(symbol.bass)) == ("Bb", "dominant", "F")
    assert parse_chord("/Bb", symbol).bass is None
    with pytest.raises(ChordTextError):
        parse_chord("/F")


@every([
    ("Continue", 1), ("Cfoo", 1), ("C7b", 2), ("C77", 2), ("C7(b9", 5), ("C9maj7", 2),
    ("A tempo", 2), ("Fine", 1), ("Bass", 1), ("Coda", 1), ("D.C.", 1), ("C7//", 2), ("C/", 1),
    ("", 0), ("  x", 2), ("(C", 0), ("(C)(D)", 0), ("()", 0), ("(Cfoo)", 2), ("Cdim5", 1),
    ("C7)", 2), ("C7-", 2), ("Cmm", 2), ("C7 8", 3),
    ("C7(b9,#11,q)", 10), ("Cmaj7m", 5), ("3", 0), ("C/E/G7", 1), ("C7\n8", 3),
])
def test_what_is_not_understood_names_its_place(text: str, position: int) -> None:
    with pytest.raises(ChordTextError) as caught:
        parse_chord(text)
    assert caught.value.position == position
    assert caught.value.text == text
    assert "not understood" in str(caught.value)


def test_long_texts_are_no_chords() -> None:
    with pytest.raises(ChordTextError):
        parse_chord("C7" + "b9" * 10**6)
    with pytest.raises(ChordTextError):
        parse_suffix("b9" * 10**6)


def test_suffix_alone() -> None:
    assert parse_suffix("-7") == ("minor-seventh", ("1", "b3", "5", "b7"))
    assert parse_suffix("") == ("major", ("1", "3", "5"))
    with pytest.raises(ChordTextError):
        parse_suffix("-7x")


ORDINARY = sorted(set(KIND_DEGREES) - {"pedal", "Neapolitan", "Italian", "French", "German",
                                       "Tristan", "other", "none"})


@every(ORDINARY)
def test_the_usual_spelling_of_every_kind_reads_back(kind: str) -> None:
    symbol = ChordSymbol.of("Eb", kind)
    assert parse_chord(str(symbol)) == symbol
    assert best_kind(symbol.degrees) == kind


@example("suspended-fourth", {"b9"}, "C", None)
@given(st.sampled_from(ORDINARY), st.sets(st.sampled_from(
    ["b5", "#5", "b9", "9", "#9", "11", "#11", "b13", "13", "6"]), max_size=3),
    st.sampled_from(["C", "F#", "Ab", "B"]), st.sampled_from([None, "D", "Gb"]))
@settings(max_examples=100, deadline=None)
def test_default_spellings_read_back(kind: str, changes: set[str], root: str,
                                     bass: str | None) -> None:
    """What the library writes for a chord, it reads as the same tones."""
    symbol = ChordSymbol.of(root, kind, *sorted(changes), bass=bass)
    back = parse_chord(str(symbol))
    assert back.pitch_classes == symbol.pitch_classes
    assert set(back.degrees) == set(symbol.degrees)
    assert default_suffix(back.kind, back.degrees) is not None


@given(st.text(alphabet="CDEFGABb#m7-+Δøsualtdj69/(),1345 N.h♭♯°o", max_size=12))
@settings(max_examples=100, deadline=None)
def test_any_text_is_a_chord_or_an_error_with_a_place(text: str) -> None:
    try:
        symbol = parse_chord(text)
    except ChordTextError as error:
        assert 0 <= error.position <= len(text)
    else:
        assert symbol.kind in KIND_DEGREES
        assert symbol.is_chord == bool(symbol.degrees)
