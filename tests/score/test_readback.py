"""Scores for two hands read back: our own exactly, other programs' as a pianist reads them."""

from __future__ import annotations

import io
import zipfile
from collections import Counter
from fractions import Fraction as F
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.arranging.test_arrange import TUNES
from tests.demo_arrangements import arranged
from tests.score.reread import attacks_by_music21
from tests.score.written import arrangement, chorus_of, swing_tune, waltz
from tests.tune.sheets import backup, note

from fillwright import Arrangement, HandNote, InputError, Pitch
from fillwright.arranging.from_paper import bar_and_beat
from fillwright.demo import demo_path
from fillwright.hands import LEVELS
from fillwright.score import render_score
from fillwright.score.readback import ReadArrangement, read_arrangement, read_arrangement_bytes
from fillwright.score.voices import columns_of
from fillwright.theory import spell_plain
from fillwright.tune.container import unpack

pytestmark = pytest.mark.slow

# --- our own ----------------------------------------------------------------------------


def written_keys(arranged_tune: Arrangement) -> dict[tuple[F, int, str], tuple[F, bool]]:
    """(onset, MIDI number, hand) -> (length on paper, rolled). A staccato note is held for
    half of what is written; what rings over the last bar line is cut there."""
    end = arranged_tune.chorus.bars[-1].end_quarter
    keys: dict[tuple[F, int, str], tuple[F, bool]] = {}
    for column in columns_of(arranged_tune):
        share = F(1, 2) if column.is_staccato else 1
        length = (min(column.end_quarter, end) - column.onset_quarter) * share
        for index, played in column.notes:
            key = (played.onset_quarter, played.midi, played.hand)
            before = keys[key][0] if index in column.tied_in else 0
            keys[key] = (before + length, played.rolled)
    return keys


def dotted(arranged_tune: Arrangement) -> set[tuple[F, int, str]]:
    return {(column.onset_quarter, played.midi, played.hand)
            for column in columns_of(arranged_tune) if column.is_staccato
            for _, played in column.notes}


def read_keys(read: ReadArrangement) -> dict[tuple[F, int, str], tuple[F, bool]]:
    keys = {(n.onset_quarter, n.midi, n.hand): (n.duration_quarter, n.rolled)
            for n in read.notes}
    assert len(keys) == len(read.notes)
    return keys


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("name", TUNES)
def test_what_the_program_wrote_is_read_back_exactly(name: str, level: str) -> None:
    whole = arranged(name, level)
    for fingering in ("all", "none"):
        files = render_score(whole, {"musicxml"}, fingering)
        read = read_arrangement_bytes(files["arrangement.musicxml"], "arrangement.musicxml")
        assert read_keys(read) == written_keys(whole)
        assert [(n.pitch, n.finger) for n in read.notes] == [
            (n.pitch, n.finger if fingering == "all" else None)
            for n in sorted(whole.notes, key=lambda n: (n.onset_quarter, n.midi, n.hand))]
    assert read.warnings == () and read.title == whole.chorus.tune.title
    assert read.tempo_bpm == whole.chorus.tempo_bpm
    assert read.seconds_per_quarter == whole.chorus.seconds_per_quarter
    assert [(b.onset_quarter, b.length_quarter, b.meter, b.is_pickup) for b in read.bars] == [
        (b.onset_quarter, b.length_quarter, b.meter, b.is_pickup) for b in whole.chorus.bars]
    # The tune is on top wherever the program put it, so that it is part of the top line.
    top = {(n.onset_quarter, n.midi) for n in read.notes if n.role == "melody"}
    assert {(n.onset_quarter, n.midi) for n in whole.notes if n.role == "melody"} <= top


@pytest.mark.parametrize("level", LEVELS)
def test_chord_symbols_come_back_at_their_places(level: str) -> None:
    whole = arranged("umbrella", level)
    read = read_arrangement_bytes(render_score(whole, {"musicxml"})["arrangement.musicxml"], "a")
    assert sorted((s.onset_quarter, s.added, str(s.symbol)) for s in read.chords) == sorted(
        (s.onset_quarter, s.added, str(s.symbol)) for s in whole.chords)
    # A chord of the sheet keeps its span under the added ones.
    assert [(s.onset_quarter, s.end_quarter) for s in read.chords if not s.added] == [
        (s.onset_quarter, s.end_quarter) for s in whole.chords if not s.added]
    assert max(s.end_quarter for s in read.chords) == whole.chorus.length_quarter


@pytest.mark.parametrize("whole", [swing_tune(), waltz()], ids=["pickup", "key change"])
def test_pickups_voices_and_ties_across_bars(whole: Arrangement) -> None:
    read = read_arrangement_bytes(render_score(whole, {"musicxml"})["arrangement.musicxml"], "a")
    assert read_keys(read) == written_keys(whole)


LAYER = st.lists(st.tuples(st.integers(0, 3), st.integers(1, 9),
                           st.sets(st.integers(0, 9), min_size=1, max_size=3)),
                 min_size=1, max_size=4)


@settings(max_examples=40, deadline=None)
@given(st.lists(LAYER, min_size=4, max_size=4), st.sampled_from([F(1, 2), F(1, 3), F(1, 4)]))
def test_any_two_layers_a_hand_come_back(layers: list[list[tuple[int, int, set[int]]]],
                                         step: F) -> None:
    # Each layer has keys of its own, so that no key is struck while it is held.
    notes: list[HandNote] = []
    for layer, (base, hand) in zip(layers, [(36, "left"), (48, "left"), (60, "right"),
                                            (74, "right")], strict=True):
        place = F(0)
        for wait, length, keys in layer:
            place += wait * step
            notes += [HandNote(place, length * step, spell_plain(base + key, False), hand,
                               1 + index, "base") for index, key in enumerate(sorted(keys))]
            place += length * step
    chorus = chorus_of("Any", [("4/4", 7)], "C", "C8:1", "C:28")
    whole = arrangement(chorus, notes, melody=[
        HandNote(F(0), F(1), Pitch.parse("C8"), "right", 5, "melody")])
    files = render_score(whole, {"musicxml"}, "all")
    read = read_arrangement_bytes(files["arrangement.musicxml"], "any")
    found, expected = read_keys(read), written_keys(whole)
    assert set(found) == set(expected)
    for key, (written, _) in expected.items():
        # A dot on a note that is tied on says nothing of its end.
        assert found[key][0] in (written, *([2 * written] if key in dotted(whole) else []))
    assert Counter((n.onset_quarter, n.midi, n.finger) for n in read.notes) == Counter(
        (n.onset_quarter, n.midi, n.finger) for n in whole.notes)


# --- other programs' --------------------------------------------------------------------


@pytest.mark.parametrize("work", ["bach/bwv846", "mozart/k545/movement1_exposition",
                                  "joplin/maple_leaf_rag"])
def test_attacks_are_those_music21_reads(work: str) -> None:
    # Scores of music21's corpus, engraved by several hands; music21 is the other reader.
    import music21

    path = Path(str(music21.__file__)).parent / "corpus" / f"{work}.mxl"
    data = unpack(path.read_bytes())
    read = read_arrangement(path)
    ours = Counter((n.onset_quarter, n.midi) for n in read.notes)
    assert len(ours) > 180
    assert set(ours) == set(attacks_by_music21(data))


def score(*bars: str, staves: int = 2, attributes: str = "", head: str = "") -> bytes:
    """One part; the first bar opens with four units to the quarter, in 4/4."""
    first = (f"<attributes><divisions>4</divisions><time><beats>4</beats><beat-type>4"
             f"</beat-type></time><staves>{staves}</staves></attributes>")
    measures = "".join(
        f'<measure number="{number}"{attributes if number == 1 else ""}>'
        f'{first if number == 1 else ""}{bar}</measure>' for number, bar in enumerate(bars, 1))
    return f"<score-partwise>{head}<part id='P1'>{measures}</part></score-partwise>".encode()


def up(pitch: str, duration: int, *inside: str, voice: int = 1, tie: str = "") -> str:
    return note(pitch, duration, *inside, f"<voice>{voice}</voice><staff>1</staff>", tie=tie)


def down(pitch: str, duration: int, *inside: str, voice: int = 5, tie: str = "") -> str:
    return note(pitch, duration, *inside, f"<voice>{voice}</voice><staff>2</staff>", tie=tie)


def told(read: ReadArrangement) -> list[str]:
    """Each key as text: ``"R C5 0+4"``; * for the melody, the finger, ~ for a roll."""
    return [f"{n.hand[0].upper()}{'*' if n.role == 'melody' else ''} {n.pitch}"
            f" {n.onset_quarter}+{n.duration_quarter}"
            + (f" {n.finger}" if n.finger else "") + (" ~" if n.rolled else "")
            for n in read.notes]


def test_hands_voices_and_the_top_line() -> None:
    read = read_arrangement_bytes(score(
        up("E5", 8) + up("r", 4) + up("G4", 4) + backup(16)
        + "<forward><duration>4</duration></forward>" + up("C5", 4, voice=2)
        + up("A4", 4, "<chord/>", voice=2) + backup(8) + down("C3", 16)), "a.musicxml")
    assert told(read) == ["L C3 0+4", "R* E5 0+2", "R A4 1+1", "R C5 1+1", "R* G4 3+1"]
    assert [(b.number, b.onset_quarter, b.length_quarter) for b in read.bars] == [("1", F(0), F(4))]
    assert read.title == "a" and read.chords == ()
    assert read.warnings == ("no tempo is marked; taken to be 132 beats a minute",)


def test_ties_are_merged_across_bars_and_voices() -> None:
    read = read_arrangement_bytes(score(
        up("E5", 16, tie="start") + backup(16) + down("C3", 8) + down("G3", 8, tie="start"),
        up("E5", 4, tie="stop", voice=2) + up("D5", 12) + backup(16)
        + down("G3", 4, voice=6, tie="stop start") + down("G3", 12, tie="stop")), "a")
    assert told(read) == ["L C3 0+2", "R* E5 0+5", "L G3 2+6", "R* D5 5+3"]


def test_two_voices_on_one_key_strike_it_once() -> None:
    # The inner voice is tied inside the bar, the outer one over the bar line.
    read = read_arrangement_bytes(score(
        up("C5", 16) + backup(16) + down("E4", 8, tie="start") + down("E4", 8, tie="stop")
        + backup(16) + down("E4", 16, voice=6, tie="start"),
        up("C5", 16) + backup(16) + down("E4", 4, voice=6, tie="stop")), "a")
    assert told(read) == ["L E4 0+5", "R* C5 0+4", "R* C5 4+4"]


def test_a_tie_that_comes_from_nowhere_is_struck_with_a_warning() -> None:
    read = read_arrangement_bytes(score(up("C5", 8) + up("D5", 8, tie="stop")), "a")
    assert told(read) == ["R* C5 0+2", "R* D5 2+2"]
    assert "bar 1: a tie to D5 has no beginning; the note is struck" in read.warnings


def test_a_slur_is_no_tie_and_a_tied_mark_alone_is_one() -> None:
    slur = '<notations><slur type="{}"/></notations>'
    tied = '<notations><tied type="{}"/></notations>'
    read = read_arrangement_bytes(score(
        up("C5", 4, slur.format("start")) + up("C5", 4, slur.format("stop"))
        + up("D5", 4, tied.format("start")) + up("D5", 4, tied.format("stop"))), "a")
    assert told(read) == ["R* C5 0+1", "R* C5 1+1", "R* D5 2+2"]


def test_grace_cue_hidden_and_slash_notes_are_left_out() -> None:
    read = read_arrangement_bytes(score(
        note("B4", None, "<grace/>", "<staff>1</staff>") + up("C5", 4)
        + up("D5", 4, "<cue/>") + up("E5", 4, "<notehead>slash</notehead>")
        + note("F5", 4, attributes='print-object="no"')), "a")
    assert told(read) == ["R* C5 0+1"]
    assert "grace notes are left out" in read.warnings


def test_rolls_and_short_notes_hold_for_the_whole_chord() -> None:
    roll, dot = "<notations><arpeggiate/></notations>", "<notations><articulations>{}</" \
        "articulations></notations>"
    read = read_arrangement_bytes(score(
        up("C5", 8, roll) + up("E5", 8, "<chord/>")
        + up("C5", 4, dot.format("<staccato/>")) + up("E5", 4, "<chord/>")
        + up("G5", 4, dot.format("<staccatissimo/>"))), "a")
    assert told(read) == ["R C5 0+2 ~", "R* E5 0+2 ~", "R C5 2+1/2", "R* E5 2+1/2",
                          "R* G5 3+1/4"]


@pytest.mark.parametrize(("text", "finger"), [
    ("1", 1), (" 5 ", 5), ("4-5", 4), ("3 1", 3), ("6", None), ("12", None), ("p", None),
    ("", None)])
def test_fingers(text: str, finger: int | None) -> None:
    marks = f"<notations><technical><fingering>{text}</fingering></technical></notations>"
    read = read_arrangement_bytes(score(up("C5", 4, marks)), "a")
    assert [n.finger for n in read.notes] == [finger]


def test_divisions_may_change_and_tuplets_be_rounded() -> None:
    third = ("<type>eighth</type><time-modification><actual-notes>3</actual-notes>"
             "<normal-notes>2</normal-notes></time-modification>")
    read = read_arrangement_bytes(score(
        up("C5", 16), "<attributes><divisions>100</divisions></attributes>"
        + up("D5", 33, third) + up("E5", 33, third) + up("F5", 34, third) + up("G5", 300)), "a")
    assert told(read) == ["R* C5 0+4", "R* D5 4+1/3", "R* E5 13/3+1/3", "R* F5 14/3+1/3",
                          "R* G5 5+3"]


def test_a_pickup_is_counted_from_the_end_of_its_bar() -> None:
    read = read_arrangement_bytes(score(
        up("G4", 4), up("C5", 16), attributes=' implicit="yes"'), "a")
    assert [(b.onset_quarter, b.length_quarter, b.is_pickup) for b in read.bars] == [
        (F(0), F(1), True), (F(1), F(4), False)]
    bar, beat = bar_and_beat(read.bars, F(0))
    assert (bar.number, beat) == ("1", F(4))
    assert bar_and_beat(read.bars, F(5, 2))[1] == F(5, 2)
    assert bar_and_beat(read.bars, F(99))[0].number == "2"


def test_repeats_are_read_once_as_printed() -> None:
    sign = '<barline location="right"><repeat direction="backward"/></barline>'
    read = read_arrangement_bytes(score(up("C5", 16), up("D5", 16) + sign, up("E5", 16)), "a")
    assert told(read) == ["R* C5 0+4", "R* D5 4+4", "R* E5 8+4"]
    assert "repeats and jumps are read once, bars in printed order" in read.warnings


def test_tempo_in_felt_beats() -> None:
    six = ("<attributes><time><beats>6</beats><beat-type>8</beat-type></time></attributes>"
           "<direction><direction-type><metronome><beat-unit>quarter</beat-unit>"
           "<beat-unit-dot/><per-minute>60</per-minute></metronome></direction-type></direction>")
    read = read_arrangement_bytes(score(six + up("C5", 12)), "a")
    assert read.tempo_bpm == 60 and read.seconds_per_quarter == pytest.approx(2 / 3)
    assert read.seconds_at(F(120)) == pytest.approx(1 / 3) and read.warnings == ()


def test_chord_symbols_last_until_the_next() -> None:
    def symbol(root: str, kind: str) -> str:
        return (f"<harmony><root><root-step>{root}</root-step></root><kind>{kind}</kind>"
                "</harmony>")

    read = read_arrangement_bytes(score(
        symbol("C", "major") + up("C5", 8) + symbol("G", "dominant") + up("B4", 8),
        up("C5", 16)), "a")
    assert [(s.onset_quarter, s.duration_quarter, str(s.symbol)) for s in read.chords] == [
        (F(0), F(2), "C"), (F(2), F(6), "G7")]


def two_parts(first: bytes, second: bytes) -> bytes:
    """The parts of two scores in one."""
    part = second[second.index(b"<part id"):second.index(b"</score-partwise>")]
    return first.replace(b"</score-partwise>", part + b"</score-partwise>")


def test_two_parts_are_right_and_left() -> None:
    both = two_parts(score(note("C5", 16), staves=1),
                     score(note("C3", 16), staves=1).replace(b">4</div", b">8</div", 1))
    read = read_arrangement_bytes(both, "a")
    assert told(read) == ["L C3 0+2", "R* C5 0+4"]


def test_the_piano_is_found_beside_a_melody() -> None:
    both = two_parts(score(note("C6", 16), staves=1),
                     score(up("E4", 16) + backup(16) + down("C3", 16)))
    read = read_arrangement_bytes(both, "a")
    assert told(read) == ["L C3 0+4", "R* E4 0+4"]
    assert read.warnings[0].endswith("the one with two staves is read")


def test_compressed_scores_are_read() -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("score.xml", score(up("C5", 16)))
    assert told(read_arrangement_bytes(buffer.getvalue(), "a.mxl")) == ["R* C5 0+4"]


ONE_STAFF = score(note("C5", 16), staves=1)


@pytest.mark.parametrize(("data", "message"), [
    (b"", "the file is empty"),
    (b"MThd\0\0\0\6", "not a score: it does not begin like XML"),
    (b"PK\3\4\0\0", "the archive is truncated or damaged"),
    (score(up("r", 16)), "the score has no notes that sound"),
    (demo_path("lamp").read_bytes(), "not a score for two hands: it has 1 staff instead of two"),
    (score(up("C5", 16), staves=3), "not a score for two hands: it has 3 staves instead of two"),
    (two_parts(two_parts(ONE_STAFF, ONE_STAFF), ONE_STAFF),
     "not a score for two hands: it has 3 parts with notes, none of them with two staves"),
    (two_parts(score(up("C5", 16)), score(up("C5", 16))),
     "not a score for two hands: it has 2 parts with notes, 2 of them with two staves"),
    (score(up("C5", -4)), "bar 1: a duration is negative (-4)"),
    (score(note("C5", 16, attributes='print-object="no"')), "the score has no notes that sound"),
])
def test_what_is_no_score_for_two_hands_is_one_clear_sentence(data: bytes, message: str) -> None:
    with pytest.raises(InputError) as error:
        read_arrangement_bytes(data, "page.musicxml")
    assert str(error.value) == f"page.musicxml: {message}"


def test_files_that_are_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.xml: there is no such file"):
        read_arrangement(tmp_path / "none.xml")
    with pytest.raises(InputError, match="it is a folder"):
        read_arrangement(tmp_path)


FULL = score(up("C5", 8, tie="start") + up("C5", 4, tie="stop") + up("r", 4) + backup(16)
             + down("C3", 16), up("D5", 16))


@settings(max_examples=100, deadline=None)
@given(st.integers(0, len(FULL)), st.integers(0, 40), st.binary(max_size=6))
def test_a_damaged_score_is_read_or_refused_in_one_sentence(at: int, cut: int, put: bytes
                                                            ) -> None:
    try:
        read = read_arrangement_bytes(FULL[:at] + put + FULL[at + cut:], "odd.musicxml")
    except InputError as error:
        assert error.source == "odd.musicxml" and "\n" not in error.message
    else:
        assert read.notes and read.bars
