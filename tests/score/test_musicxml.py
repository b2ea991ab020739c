"""The written file: against the W3C schema, against other readers, element by element."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from tests.score.reread import (
    attacks_by_music21,
    attacks_by_partitura,
    attacks_by_verovio,
    attacks_of,
    attacks_written,
    voices_written,
)
from tests.score.schema import schema_errors
from tests.score.written import arrangement, ballad, chorus_of, fill, gap, hand, swing_tune, waltz

from fillwright import Arrangement, HandNote, InputError
from fillwright.fills import Shift
from fillwright.score import to_musicxml
from fillwright.score.marks import swing_ratio
from fillwright.swing import grid_ratio
from fillwright.theory import spell_plain

pytestmark = pytest.mark.slow

TUNES: dict[str, Callable[[str], Arrangement]] = {
    "swing": swing_tune, "waltz": waltz, "ballad": ballad}


@pytest.mark.parametrize("view", [False, True])
@pytest.mark.parametrize("level", ["beginner", "advanced"])
@pytest.mark.parametrize("name", sorted(TUNES))
def test_valid_against_the_schema(name: str, level: str, view: bool) -> None:
    """W3C MusicXML 4.0 schema."""
    assert schema_errors(to_musicxml(TUNES[name](level), view=view)) == []


@pytest.mark.parametrize("name", sorted(TUNES))
def test_every_note_is_struck_once(name: str) -> None:
    arranged = TUNES[name]("advanced")
    data = to_musicxml(arranged)
    root = etree.fromstring(data)
    attacks = [str(note.get("id")) for note in root.iter("note")
               if note.find("pitch") is not None and note.find("tie[@type='stop']") is None]
    assert sorted(attacks) == sorted(f"n{i}" for i in range(len(arranged.notes)))
    assert attacks_written(data) == attacks_of(arranged)


@pytest.mark.parametrize("name", sorted(TUNES))
def test_read_back_by_music21(name: str) -> None:
    """music21's reader as the oracle."""
    arranged = TUNES[name]("advanced")
    assert attacks_by_music21(to_musicxml(arranged)) == attacks_of(arranged)


@pytest.mark.parametrize("name", sorted(TUNES))
def test_read_back_by_partitura(name: str) -> None:
    """partitura's reader as the oracle."""
    arranged = TUNES[name]("advanced")
    first = arranged.chorus.bars[0]
    pickup = first.length_quarter if first.is_pickup else Fraction(0)
    assert attacks_by_partitura(to_musicxml(arranged), pickup) == attacks_of(arranged)


@pytest.mark.parametrize("view", [False, True])
@pytest.mark.parametrize("name", sorted(TUNES))
def test_read_back_by_verovio(name: str, view: bool) -> None:
    """verovio's reader as the oracle."""
    arranged = TUNES[name]("advanced")
    assert attacks_by_verovio(to_musicxml(arranged, view=view), arranged) == attacks_of(arranged)


def test_same_bytes_again() -> None:
    assert to_musicxml(swing_tune()) == to_musicxml(swing_tune())


def test_unknown_fingering_is_an_error() -> None:
    with pytest.raises(InputError, match="fingering is one of"):
        to_musicxml(waltz(), fingering="some")


# --- anything two hands may hold --------------------------------------------------------

@st.composite
def played(draw: st.DrawFn) -> Arrangement:
    """Two bars, a steady melody, and other notes that begin and end where they like."""
    meter = draw(st.sampled_from(["4/4", "3/4", "6/8", "5/4", "12/8"]))
    chorus = chorus_of("Anything", [(meter, 2)], draw(st.sampled_from(["C", "Eb", "A", "F#"])),
                       "C5:1", "Cmaj7:4", pickup=draw(st.sampled_from(["0", "1/2", "2/3", "1"])))
    end = chorus.length_quarter
    step = draw(st.sampled_from([Fraction(1, 2), Fraction(1, 4), Fraction(1, 3)]))
    places = st.integers(0, int(end / step) - 1)
    notes: dict[tuple[Fraction, int, str], HandNote] = {}
    for _ in range(draw(st.integers(1, 14))):
        onset = draw(places) * step
        length = draw(st.integers(1, 12)) * draw(st.sampled_from([step, step / 2, 2 * step]))
        which = draw(st.sampled_from(["left", "right"]))
        midi = draw(st.integers(36, 60) if which == "left" else st.integers(55, 84))
        pitch = spell_plain(midi, draw(st.booleans()))
        notes[onset, midi, which] = HandNote(onset, length, pitch, which, draw(
            st.integers(1, 5)), "base", None, draw(st.booleans()))
    return arrangement(chorus, [note for note in notes.values()
                                if note.onset_quarter > 0 or note.midi != 72])


@given(played())
@settings(max_examples=60, deadline=None)
def test_whatever_is_played_is_written(arranged: Arrangement) -> None:
    data = to_musicxml(arranged)
    assert schema_errors(data) == []
    assert attacks_written(data) == attacks_of(arranged)
    lengths = {f"m{index + (0 if arranged.chorus.bars[0].is_pickup else 1)}": bar.length_quarter
               for index, bar in enumerate(arranged.chorus.bars)}
    for (bar, _), filled in voices_written(data).items():
        assert filled == lengths[bar]


@given(played())
@settings(max_examples=12, deadline=None)
def test_verovio_reads_whatever_is_played(arranged: Arrangement) -> None:
    assert attacks_by_verovio(to_musicxml(arranged), arranged) == attacks_of(arranged)


# --- element by element -----------------------------------------------------------------

def _note(root: etree._Element, name: str) -> etree._Element:
    return next(note for note in root.iter("note") if note.get("id") == name)


def test_chord_symbols_keep_what_they_are_and_how_they_were_written() -> None:
    """degree-alter by the MusicXML 4.0 documentation: added degrees against a dominant
    chord, altered ones against the chord of the kind."""
    chorus = chorus_of("Symbols", [("4/4", 2)], "C", "C5:8",
                       "Bb7(#11):2 Gm7b5/Db:2 Cmaj7(#5):2 N.C.:2")
    root = etree.fromstring(to_musicxml(arrangement(chorus, [])))
    first, second, third, last = root.iter("harmony")
    assert [first.findtext("root/root-step"), first.findtext("root/root-alter")] == ["B", "-1"]
    assert first.findtext("kind") == "dominant"
    kind = first.find("kind")
    assert kind is not None and kind.get("text") == "7(#11)"
    assert [[child.text for child in degree] for degree in first.iter("degree")] == [
        ["11", "1", "add"]]
    assert second.findtext("kind") == "half-diminished"
    assert second.findtext("bass/bass-step") == "D"
    assert second.findtext("offset") is not None
    assert [[child.text for child in degree] for degree in third.iter("degree")] in (
        [["5", "1", "alter"]], [["7", "1", "add"]])
    assert last.findtext("kind") == "none"


def test_added_chords_are_told_apart() -> None:
    arranged = swing_tune()
    saved = etree.fromstring(to_musicxml(arranged))
    added = [h for h in saved.iter("harmony") if (h.get("id") or "").startswith("added")]
    assert len(added) == sum(span.added for span in arranged.chords)
    assert all(h.get("font-style") == "italic" for h in added)
    view = etree.fromstring(to_musicxml(arranged, view=True))
    texts = [h.find("kind").get("text") for h in view.iter("harmony")]  # type: ignore[union-attr]
    assert "[G♭7(9,♯11)]" in texts
    assert "D7 [E♭7]" in texts  # a written and an added chord at one place
    assert not any(view.iter("degree"))


def test_fingers_are_for_beginners_unless_asked_for() -> None:
    def count(level: str, fingering: str) -> int:
        root = etree.fromstring(to_musicxml(swing_tune(level), fingering=fingering))
        return sum(1 for _ in root.iter("fingering"))

    every = len(swing_tune().notes)
    notes = swing_tune().notes
    of_fills = {(note.hand, note.onset_quarter) for note in notes if note.role == "fill"}
    # what a hand strikes of the melody with a fill has its finger too: the number alone would seem
    # to be that of the outer key
    fills = sum(note.role == "fill" or (
        note.role == "melody" and (note.hand, note.onset_quarter) in of_fills) for note in notes)
    assert count("beginner", "auto") == count("advanced", "all") == every
    assert count("advanced", "auto") == count("beginner", "none") == 0
    assert count("advanced", "fills") == fills


def test_short_hits_are_staccato_and_pushes_accented() -> None:
    chorus = chorus_of("Hits", [("4/4", 2)], "C", "E5:8", "Cmaj7:8")
    where = gap(chorus, 1, "0", "8")
    hits = hand("r:1/2 B3+D4:1>1/4 r:2 B3+D4:3/2", "right", "fill", gap=1)
    arranged = arrangement(chorus, [], [where], [
        fill(where, "comp", "shells", hits, "0:(1) 1/2:& 1:(2) 2:(3) 5/2:& 3:(4)", kept="finger")])
    root = etree.fromstring(to_musicxml(arranged))
    names = {note.onset_quarter: f"n{arranged.notes.index(note)}" for note in hits[::2]}
    short, push = (_note(root, names[Fraction(place)]) for place in ("1/2", "7/2"))
    assert short.findtext("type") == "eighth"          # a sixteenth long, written as an eighth
    assert short.find(".//staccato") is not None and short.find(".//accent") is None
    assert push.find(".//accent") is not None and push.find(".//staccato") is None
    assert push.find("tie") is not None                 # it rings over the bar line


def test_rolled_chords_have_a_wavy_line() -> None:
    arranged = swing_tune()
    root = etree.fromstring(to_musicxml(arranged))
    rolled = {f"n{index}" for index, note in enumerate(arranged.notes) if note.rolled}
    assert {note.get("id") for note in root.iter("note")
            if note.find(".//arpeggiate") is not None} == rolled


def test_pedal_where_it_keeps_the_melody() -> None:
    root = etree.fromstring(to_musicxml(swing_tune()))
    assert [pedal.get("type") for pedal in root.iter("pedal")] == ["start", "stop"]


def test_tempo_feel_and_swing() -> None:
    root = etree.fromstring(to_musicxml(swing_tune()))
    assert root.findtext(".//metronome/per-minute") == "144"
    assert (root.findtext(".//swing/first"), root.findtext(".//swing/second")) == ("17", "10")
    compound = etree.fromstring(to_musicxml(ballad()))
    assert compound.find(".//metronome/beat-unit-dot") is not None
    sound = compound.find(".//sound")
    assert sound is not None and sound.get("tempo") == "90"  # 60 dotted quarters a minute
    assert etree.fromstring(to_musicxml(waltz())).find(".//swing/straight") is not None


@pytest.mark.parametrize("tempo", [60, 100, 144, 180, 200, 220, 240, 280, 330])
def test_the_written_swing_is_the_played_one(tempo: int) -> None:
    chorus = chorus_of("Swing", [("4/4", 1)], "C", "C5:4", "C:4", tempo=tempo)
    ratio = swing_ratio(chorus)
    assert ratio is not None
    assert ratio[0] / ratio[1] == pytest.approx(grid_ratio(tempo), abs=0.09)


def test_sections_double_bars_and_the_end() -> None:
    root = etree.fromstring(to_musicxml(swing_tune()))
    assert [mark.text for mark in root.iter("rehearsal")] == ["A", "B"]
    styles = {measure.get("number"): measure.findtext("barline/bar-style")
              for measure in root.iter("measure") if measure.find("barline") is not None}
    assert styles == {"8": "light-light", "18": "light-heavy"}


def test_gap_labels_and_counts() -> None:
    root = etree.fromstring(to_musicxml(swing_tune()))
    words = [[w.text for w in direction.iter("words")] for direction in root.iter("direction")]
    assert ["1", "rootless voicings, off-beats"] in words
    assert ["4"] in words                                # a gap left open has its number
    below = ["".join(w.text or "" for w in d.iter("words")) for d in root.iter("direction")
             if d.get("placement") == "below" and d.find(".//words") is not None]
    assert below[:6] == ["1", "&", "(2)", "(3)", "&", "4"]


def test_two_lines_below_a_whole_note_have_stems_apart() -> None:
    """The whole note needs no stem: the higher of the lines below it takes the room above."""
    chorus = chorus_of("Inner", [("4/4", 1)], "C", "G5:4", "C:4")
    inner = [*hand("r:1 D5:3", "right"), *hand("r:1 A4:1 G4:2", "right")]
    root = etree.fromstring(to_musicxml(arrangement(chorus, inner)))
    stems = {note.findtext("pitch/step"): note.findtext("stem") for note in root.iter("note")
             if note.find("pitch") is not None and note.findtext("staff") == "1"}
    assert (stems["D"], stems["A"]) == ("up", "down")


def test_a_slur_is_told_from_one_that_is_written_before_it_ends() -> None:
    """The tune, in the first voice, begins a slur in the bar in which that of a line under its
    held note ends, which is written after it: a number is never begun again before its end."""
    chorus = chorus_of("Slurs", [("4/4", 8)], "C",
                       "C6:3 D5:1/2 E5:1/2 F5:2 r:2 C5:8 C5:8 C5:8", "C:32")
    where = gap(chorus, 1, "0", "3")
    line = fill(where, "line", "scale", hand(
        "r:1/2 C5:1/2 D5:1/2 E5:1/2 F5:1/2", "right", "fill", gap=1), "1/2:&")
    root = etree.fromstring(to_musicxml(arrangement(chorus, [], [where], [line])))
    slurs = [(slur.get("type"), slur.get("number")) for slur in root.iter("slur")]
    assert [kind for kind, _ in slurs] == ["start", "start", "stop", "stop"]
    open_: set[str | None] = set()
    for kind, number in slurs:
        assert (number in open_) == (kind == "stop")
        open_ ^= {number}


def test_late_landings_say_so() -> None:
    chorus = chorus_of("Late", [("4/4", 2)], "C", "C5:4 D5:4", "C:4 G7:4")
    where = gap(chorus, 1, "0", "4")
    late = fill(where, "line", "scale", hand("r:3 E5:1", "right", "fill", gap=1), "0:(1) 3:4",
                shift=Shift(Fraction(5), Fraction(6)))
    melody = hand("C5:5 D5:3", "right", "melody")
    root = etree.fromstring(to_musicxml(arrangement(chorus, [], [where], [late],
                                                    melody=melody)))
    assert "melody late" in [words.text for words in root.iter("words")]


def test_titles_may_hold_anything() -> None:
    chorus = chorus_of("</text><b>&\x07\n\"'", [("4/4", 1)], "C", "C5:4", "C:4")
    data = to_musicxml(arrangement(chorus, []))
    assert schema_errors(data) == []
    assert etree.fromstring(data).findtext("work/work-title") == "</text><b>& \"'"


def test_notes_outside_the_bars_are_an_error() -> None:
    chorus = chorus_of("Out", [("4/4", 1)], "C", "C5:4", "C:4")
    with pytest.raises(ValueError, match="outside the bars"):
        to_musicxml(arrangement(chorus, hand("C3:1", "left", start="4")))
