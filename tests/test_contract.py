"""The JSON that other programs read, field by field, on values built by hand."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import pytest

from fillwright import (
    Arrangement,
    ChordSymbol,
    Chorus,
    Fill,
    HandNote,
    Key,
    Options,
    Pitch,
    Proposal,
    Tune,
    find_gaps,
)
from fillwright.contract import (
    VERSION,
    arrangement_document,
    chord_value,
    dump,
    fill_value,
    fills_document,
    gaps_document,
    note_value,
    options_value,
)
from fillwright.fills import EmptyFamily, HeldEnd, Shift
from fillwright.fills.model import Idea
from fillwright.theory import KIND_DEGREES, NO_CHORD, analyse
from fillwright.tune import Bar, ChordSpan, ChorusBar, Meter, SoundingNote

pytestmark = pytest.mark.slow

F = Fraction


def chord(onset: str, duration: str, text: str, **more: Any) -> ChordSpan:
    return ChordSpan(F(onset), F(duration), ChordSymbol.parse(text), **more)


@pytest.fixture
def chorus() -> Chorus:
    """Two bars in B flat: F5 for three beats and a half over C-7 F7, then D5 over Bb/D."""
    meter, key = Meter(4, 4), Key(-2)
    spans = (chord("0", "2", "C-7"), chord("2", "2", "F7(b9)"), chord("4", "4", "Bb6/D"))
    tune = Tune("Été", (Bar("1", meter, key, F(4)), Bar("2", meter, key, F(4))), F("132.5"),
                "swing", "e.musicxml")
    return Chorus(
        tune, (ChorusBar(0, "1", 1, F(0), F(4), meter, key),
               ChorusBar(1, "2", 1, F(4), F(4), meter, key)),
        (SoundingNote(F(0), F("7/2"), Pitch.parse("Eb5")),
         SoundingNote(F("7/2"), F("1/2"), Pitch.parse("C5")),
         SoundingNote(F(4), F(4), Pitch.parse("D5"))),
        spans, tuple(analyse([span.symbol for span in spans], key)), F(8), F("132.5"), "swing")


def a_fill(**changes: Any) -> Fill:
    note = HandNote(F(1), F("1/3"), Pitch.parse("Bb3"), "left", 2, "fill", 1, rolled=True)
    values: dict[str, Any] = {
        "id": "1.1.1-x", "gap": 1, "family": "reharm", "device": "tritone substitute",
        "level": "advanced", "notes": (note,),
        "chords": (chord("0", "2", "C-7"),
                   chord("2", "3/2", "Gb7", added=True, fill="1.1.1-x", reason="because")),
        "counted": ((F(0), "1"), (F(1), "(2)"), (F(2), "3")),
        "reasons": ("One.", "Two."), "costs": (("reach", 3), ("rhythm", 4)),
        "difficulty": 37, "held_end": HeldEnd("pedal", F(1)),
        "idea": Idea((F(1),), (58,), "shell", 58)}
    return Fill(**(values | changes))


def test_gaps_document_has_every_field(chorus: Chorus) -> None:
    document = gaps_document(chorus, Options(tempo=F("132.5")), find_gaps(chorus), ["Odd bar."])
    assert list(document) == ["version", "tune", "options", "warnings", "gaps"]
    assert document["version"] == VERSION and document["warnings"] == ["Odd bar."]
    assert document["tune"] == {
        "title": "Été", "key": "Bb major", "meter": "4/4", "tempo": 132.5,
        "quarters_per_minute": 132.5, "feel": "swing", "bars": 2, "length_quarter": "8",
        "melody_octave": 0}
    assert document["gaps"][0] == {
        "number": 1, "bar": "1", "pass": 1, "beat": "1", "onset_quarter": "0",
        "duration_quarter": "7/2", "beats": "7/2", "seconds": 1.584906, "why": ["held"],
        "held": {"pitch": "Eb5", "midi": 75},
        "chords": [
            {"onset_quarter": "0", "duration_quarter": "2", "symbol": "C-7", "root": "C",
             "bass": None, "kind": "minor-seventh", "degrees": ["1", "b3", "5", "b7"],
             "pitch_classes": [0, 3, 7, 10], "added": False},
            {"onset_quarter": "2", "duration_quarter": "3/2", "symbol": "F7(b9)", "root": "F",
             "bass": None, "kind": "dominant", "degrees": ["1", "3", "5", "b7", "b9"],
             "pitch_classes": [0, 3, 5, 6, 9], "added": False}],
        # The chord under the landing sounds from before it on: its own span is given.
        "landing": {"onset_quarter": "7/2", "pitch": "C5", "midi": 72,
                    "chord": chord_value(chorus.chords[1])}}
    last = document["gaps"][1]
    assert last["landing"] is None and last["why"] == ["held", "ending"]
    assert last["chords"][0]["bass"] == "D"


def test_options_are_given_as_asked() -> None:
    assert options_value(Options()) == {
        "level": "intermediate", "hand": "medium", "tempo": None, "feel": None,
        "octave": "auto", "key": None, "without": [], "picks": [],
        "formats": ["json", "musicxml", "mid", "svg", "pdf", "flac"]}
    asked = Options(level="beginner", hand="small", tempo=F(90), feel="straight", octave="1",
                    key="F#m", without=("octaves",), picks=((3, "x"), (4, "comp:2")),
                    choruses=2, introduction=4, ending=2, mix=(("comp", 2), ("line", 1)),
                    formats=("json",))
    assert options_value(asked) == {
        "level": "beginner", "hand": "small", "tempo": 90, "feel": "straight", "octave": "1",
        "key": "F#m", "without": ["octaves"], "picks": ["3=x", "4=comp:2"], "choruses": 2,
        "introduction": 4, "ending": 2, "mix": {"comp": 2, "line": 1}, "formats": ["json"]}


def test_fill_has_every_field(chorus: Chorus) -> None:
    gap = find_gaps(chorus)[0]
    value = fill_value(a_fill(shift=Shift(F("9/2"), F(6)), over_quarter=F("1/2")), gap)
    # A chord of the sheet keeps its span; the added one sounds over it.
    assert [(c["symbol"], c["onset_quarter"], c["duration_quarter"], c["added"])
            for c in value["chords"]] == [("C-7", "0", "2", False), ("F7(b9)", "2", "3/2", False),
                                          ("Gb7", "2", "3/2", True)]
    added = value["chords"][2]
    assert (added["fill"], added["reason"]) == ("1.1.1-x", "because")
    assert "fill" not in value["chords"][0] and "reason" not in value["chords"][0]
    del value["chords"]
    assert value == {
        "id": "1.1.1-x", "gap": 1, "family": "reharm", "device": "tritone substitute",
        "level": "advanced",
        "notes": [{"onset_quarter": "1", "duration_quarter": "1/3", "pitch": "Bb3", "midi": 58,
                   "hand": "left", "finger": 2, "role": "fill", "gap": 1, "rolled": True}],
        "counts": "1 (2) 3", "reasons": ["One.", "Two."], "costs": {"reach": 3, "rhythm": 4},
        "difficulty": 37, "over_quarter": "1/2", "melody_until_quarter": "1",
        "melody_kept": "pedal", "shift": {"landing_quarter": "9/2", "back_quarter": "6"}}
    assert fill_value(a_fill(), gap)["shift"] is None


def test_a_note_brought_in_has_no_finger() -> None:
    note = HandNote(F(0), F(1), Pitch.parse("F##4"), "right", None, "melody")
    value = note_value(note)
    assert (value["finger"], value["gap"], value["pitch"], value["midi"]) == (None, None, "F##4",
                                                                              67)


def test_empty_families_are_told(chorus: Chorus) -> None:
    gaps = find_gaps(chorus)
    full = fills_document(chorus, Options(), gaps, Proposal((a_fill(),), ()))
    assert [fill["id"] for fill in full["fills"]] == ["1.1.1-x"]
    assert full["empty"] == []
    lacking = fills_document(chorus, Options(), gaps,
                             Proposal((), (EmptyFamily(2, "line", "too short"),)))
    assert lacking["empty"] == [{"gap": 2, "family": "line", "reason": "too short"}]
    assert lacking["fills"] == []


def test_arrangement_document_has_every_part(chorus: Chorus) -> None:
    fill = a_fill()
    melody = HandNote(F(0), F(1), Pitch.parse("Eb5"), "right", 5, "melody")
    arrangement = Arrangement(chorus, Options(), find_gaps(chorus), (fill,),
                              (melody, *fill.notes), (*chorus.chords, fill.chords[1]),
                              ("Odd bar.",))
    document = arrangement_document(arrangement)
    assert list(document) == ["version", "tune", "options", "warnings", "chords", "melody",
                              "gaps", "fills", "notes", "story"]
    assert document["warnings"] == ["Odd bar."]
    assert document["melody"][0] == {"onset_quarter": "0", "duration_quarter": "7/2",
                                     "pitch": "Eb5", "midi": 75}
    assert [n["role"] for n in document["notes"]] == ["melody", "fill"]
    assert [c["added"] for c in document["chords"]] == [False, False, False, True]


def test_no_chord_has_no_pitch_classes() -> None:
    value = chord_value(ChordSpan(F(0), F(4), NO_CHORD))
    assert (value["symbol"], value["root"], value["kind"], value["pitch_classes"]) == (
        "N.C.", None, "none", [])


@pytest.mark.parametrize("kind", sorted(set(KIND_DEGREES) - {"none"}))
def test_pitch_classes_are_those_of_degrees_and_bass(kind: str) -> None:
    value = chord_value(ChordSpan(F(0), F(4), ChordSymbol.of("Eb", kind, bass="D")))
    assert value["kind"] == kind and 2 in value["pitch_classes"]
    assert value["pitch_classes"] == sorted(set(value["pitch_classes"]))
    assert len(value["pitch_classes"]) <= len(value["degrees"]) + 1


def test_compound_meters_tell_both_tempos(chorus: Chorus) -> None:
    meter, key = Meter(6, 8), Key(0)
    tune = Tune("", (Bar("1", meter, key, F(3)),), F(80), "straight")
    six = Chorus(tune, (ChorusBar(0, "1", 1, F(0), F(3), meter, key),),
                 (SoundingNote(F(0), F(3), Pitch.parse("C5")),), (), (), F(3), F(80), "straight")
    value = gaps_document(six, Options(), find_gaps(six))
    assert (value["tune"]["tempo"], value["tune"]["quarters_per_minute"]) == (80, 120)
    assert value["gaps"][0]["beats"] == "2" and value["gaps"][0]["chords"] == []


def test_text_is_the_same_every_time_and_reads_back(chorus: Chorus) -> None:
    document = gaps_document(chorus, Options(), find_gaps(chorus))
    text = dump(document)
    assert text == dump(gaps_document(chorus, Options(), find_gaps(chorus)))
    assert json.loads(text) == document
    assert "Été" in text and text.endswith("}\n")
