"""Playing a tune out: ties along the way, chord spans, harmonies, tempo and octave."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.tune.sheets import (
    attributes,
    barline,
    chord,
    melody,
    note,
    notes,
    order,
    play,
    read_bars,
    spans,
    words,
)

from fillwright import InputError, unfold

C = chord("C")
WHOLE = notes("C5:16")
FORWARD = barline(repeat="forward", location="left")
BACKWARD = barline(repeat="backward")


def ending(number: str, bar: str, *, repeat: bool = False) -> str:
    return (barline(ending=number, kind="start", location="left") + bar
            + barline(ending=number, kind="stop", repeat="backward" if repeat else ""))


# Ties ----------------------------------------------------------------------------------


def test_a_tie_into_both_endings() -> None:
    """The first ending is printed next to its tie, the second only with a stub."""
    chorus = play([C + FORWARD + note("C5", 16, tie="start"),
                   ending("1", note("C5", 8, tie="stop") + notes("D5:8"), repeat=True),
                   ending("2", note("C5", 12, tie="stop") + notes("E5:4"))])
    assert melody(chorus) == "C5@0+6 D5@6+2 C5@8+7 E5@15+1"


def test_a_tie_into_a_second_ending_without_a_stop() -> None:
    chorus = play([C + FORWARD + note("C5", 16, tie="start"),
                   ending("1", notes("D5:16"), repeat=True), ending("2", notes("C5:16"))])
    assert melody(chorus) == "C5@0+4 D5@4+4 C5@8+8"


def test_an_open_tie_does_not_reach_over_a_repeat_by_chance() -> None:
    """A tie printed at the end of a repeat leads on, not back to an equal note."""
    chorus = play([C + FORWARD + WHOLE, note("C5", 16, tie="start") + BACKWARD, WHOLE])
    assert melody(chorus) == "C5@0+4 C5@4+4 C5@8+4 C5@12+8"


def test_a_tie_with_a_stop_reaches_over_a_repeat() -> None:
    chorus = play([C + FORWARD + note("C5", 8, tie="stop") + notes("D5:8"),
                   note("C5", 16, tie="start") + BACKWARD])
    assert melody(chorus) == "C5@0+2 D5@2+2 C5@4+6 D5@10+2 C5@12+4"


def test_a_chain_of_ties() -> None:
    bars = [C + note("C5", 16, tie="start")] + [note("C5", 16, tie="stop start")] * 3 \
        + [note("C5", 4, tie="stop") + notes("D5:12")]
    assert melody(play(bars)) == "C5@0+17 D5@17+3"


def test_the_same_pitch_again_is_a_new_note() -> None:
    assert melody(play([C + notes("C5:8 C5:8"), WHOLE])) == "C5@0+2 C5@2+2 C5@4+4"


# Chords --------------------------------------------------------------------------------


def test_spans_reach_to_the_next_chord() -> None:
    chorus = play([C + chord("G", "dominant", offset=8) + WHOLE, WHOLE,
                   chord("F", offset=4) + WHOLE])
    assert spans(chorus) == "C@0+2 G7@2+7 F@9+3"


def test_an_equal_chord_struck_again_is_a_span_of_its_own() -> None:
    assert spans(play([C + WHOLE, C + WHOLE])) == "C@0+4 C@4+4"


def test_before_the_first_chord_there_is_none() -> None:
    chorus = play([WHOLE, chord("F", offset=8) + WHOLE])
    assert spans(chorus) == "F@6+2"
    assert chorus.chord_index_at(Fraction(5)) is None


def test_a_repeat_carries_the_chord_over_its_bar_line() -> None:
    """Where no chord stands at the start of the repeat, the last one goes on."""
    chorus = play([FORWARD + C.replace("</harmony>", "<offset>8</offset></harmony>") + WHOLE,
                   chord("G") + WHOLE + BACKWARD])
    assert spans(chorus) == "C@2+2 G@4+6 C@10+2 G@12+4"


def test_a_chord_behind_its_bar_sounds_with_the_next_bar_played() -> None:
    late = chord("G", offset=16)
    assert spans(play([C + late + WHOLE, WHOLE])) == "C@0+4 G@4+4"
    assert spans(play([C + late + WHOLE, chord("F") + WHOLE])) == "C@0+4 F@4+4"
    last = play([C + WHOLE + chord("G")])
    assert spans(last) == "C@0+4"
    assert any("bar 1" in warning and "G" in warning for warning in last.warnings)


def test_a_chord_far_behind_its_bar_keeps_the_order() -> None:
    chorus = play([C + chord("G", offset=24) + WHOLE, chord("F") + WHOLE])
    assert spans(chorus) == "C@0+4 F@4+2 G@6+2"


def test_chords_are_heard_in_the_key_of_their_bar() -> None:
    chorus = play([chord("D", "minor-seventh") + chord("G", "dominant", offset=8) + WHOLE,
                   chord("C", "major-seventh") + WHOLE,
                   attributes(divisions=None, time=None, fifths=-3)
                   + chord("F", "minor-seventh") + chord("B" + "b", "dominant", offset=8) + WHOLE,
                   chord("E" + "b", "major-seventh") + WHOLE,
                   chord("C", "none") + WHOLE])
    functions = [None if harmony is None else (harmony.function, str(harmony.key.tonic))
                 for harmony in chorus.harmonies]
    assert functions == [("IIm7", "C"), ("V7", "C"), ("Imaj7", "C"), ("IIm7", "Eb"),
                         ("V7", "Eb"), ("Imaj7", "Eb"), None]


def test_a_sheet_without_a_signature_is_heard_at_home() -> None:
    """G D G with an F sharp sung and no signature: D is the dominant, G the tonic, which keeps
    its sixth and gets no seventh."""
    tonic, sharp = notes("G5:16"), notes("F#5:16")
    chorus = play([chord("G") + tonic, chord("D") + sharp, chord("G") + tonic])
    assert [None if h is None else h.function for h in chorus.harmonies] == ["I", "V", "I"]
    last = chorus.harmonies[-1]
    assert last is not None and "6" in last.tones and "b7" not in last.tones


def test_the_chord_that_follows_counts_over_a_change_of_key_and_a_repeat() -> None:
    chorus = play([C + WHOLE, chord("C", "dominant") + WHOLE,
                   attributes(divisions=None, time=None, fifths=-1) + chord("F") + WHOLE])
    harmony = chorus.harmonies[1]
    assert harmony is not None
    assert harmony.function == "V7/IV"


# Tempo, feel, octave -------------------------------------------------------------------


def test_tempo_and_feel_may_be_given() -> None:
    tune = read_bars([words("Ballad") + C + WHOLE])
    assert (unfold(tune).tempo_bpm, unfold(tune).feel) == (Fraction(66), "swing")
    chorus = unfold(tune, tempo=Fraction(90), feel="straight")
    assert (chorus.tempo_bpm, chorus.feel) == (Fraction(90), "straight")
    assert chorus.quarters_per_minute == 90


def test_the_felt_beat_of_a_compound_meter() -> None:
    chorus = unfold(read_bars([C + WHOLE], first=attributes(time="12/8")), tempo=Fraction(60))
    assert chorus.quarters_per_minute == 90


def test_octave() -> None:
    tune = read_bars([C + notes("Bb4:8 r:8")])
    chorus = unfold(tune, octave=1)
    assert (melody(chorus), chorus.melody_octave) == ("Bb5@0+2", 1)
    assert melody(unfold(tune)) == "Bb4@0+2"


@pytest.mark.parametrize("options", [{"tempo": Fraction(0)}, {"feel": "waltz"}, {"octave": 9}])
def test_options_that_are_none(options: dict[str, object]) -> None:
    tune = read_bars([C + WHOLE])
    with pytest.raises(InputError, match=r"tempo|feel|octave"):
        unfold(tune, **options)  # type: ignore[arg-type]


# Properties ----------------------------------------------------------------------------


pitches = st.sampled_from(["C5", "D5", "Eb5", "F#5", "r"])
bars = st.lists(st.lists(st.tuples(pitches, st.sampled_from([2, 4, 6, 8]), st.booleans()),
                         min_size=1, max_size=5), min_size=1, max_size=6)


@given(bars, st.integers(0, 5), st.integers(1, 6))
@settings(max_examples=60, deadline=None)
def test_melody_and_chords_tile_the_chorus(rows: list[list[tuple[str, int, bool]]], start: int,
                                           length: int) -> None:
    """Notes never overlap or leave the chorus, chords follow on one another to the end, and
    everything written sounds for as long as it is written, once for each pass."""
    written = []
    for number, row in enumerate(rows):
        text = C if number == 0 else ""
        if number == start:
            text += FORWARD
        for pitch, duration, tied in row:
            text += note(pitch, duration, tie="start" if tied and pitch != "r" else "")
        if number == start + length - 1:
            text += BACKWARD
        written.append(text)
    tune = read_bars([*written, WHOLE])
    chorus = unfold(tune)
    end = Fraction(0)
    for sounding in chorus.melody:
        assert sounding.onset_quarter >= end
        assert sounding.duration_quarter > 0
        end = sounding.end_quarter
    assert end <= chorus.length_quarter
    sounding_quarter = sum(n.duration_quarter for n in chorus.melody)
    written_quarter = sum(n.duration_quarter for bar in chorus.bars
                          for n in tune.bars[bar.bar_index].notes)
    cut_quarter = sum(max(tune.bars[bar.bar_index].length_quarter - bar.length_quarter,
                          Fraction(0)) for bar in chorus.bars)  # for a pickup played again
    assert written_quarter - cut_quarter <= sounding_quarter <= written_quarter
    place = chorus.chords[0].onset_quarter
    for span in chorus.chords:
        assert span.onset_quarter == place
        place = span.end_quarter
    assert place == chorus.length_quarter == chorus.bars[-1].end_quarter
    assert len(chorus.harmonies) == len(chorus.chords)
    assert order(chorus).split()[0] == "1"


# Everything at once --------------------------------------------------------------------


def test_nine_bars_with_everything() -> None:
    """A pickup, a triplet, ties over bar lines and into an ending, chords by offset and
    behind their notes, endings, D.S. al Coda; worked out by hand."""
    third = ("<type>quarter</type><time-modification><actual-notes>3</actual-notes>"
             "<normal-notes>2</normal-notes></time-modification>")
    triplet = "".join(note(pitch, 8, third) for pitch in ("D5", "E5", "F5"))
    segno = "<direction><direction-type><segno/></direction-type></direction>"
    units = attributes(divisions=12, time="4/4", fifths=-1)
    bars = [
        note("C5", 12),
        chord("F", "major-seventh") + triplet + chord("D", "dominant", text="7alt")
        + note("G5", 24),
        segno + FORWARD + chord("G", "minor-seventh") + chord("C", "dominant", offset=24)
        + note("A5", 48, tie="start"),
        note("A5", 24, tie="stop") + note("r", 24) + words("To Coda"),
        chord("A", "half-diminished") + note("C5", 48, tie="start"),
        ending("1", note("C5", 24, tie="stop") + chord("D", "dominant") + note("D5", 24),
               repeat=True),
        ending("2", note("C5", 36) + note("E5", 12)),
        chord("B" + "b") + note("F5", 48) + words("D.S. al Coda"),
        words("Coda") + chord("C", "none") + note("G5", 36),
    ]
    chorus = play(bars, first=units)
    assert order(chorus) == "1 2 3 4 5 6 3 4 5 7 8 3 4 9"
    assert melody(chorus) == (
        "C5@0+1 D5@1+2/3 E5@5/3+2/3 F5@7/3+2/3 G5@3+2 "
        "A5@5+6 C5@13+6 D5@19+2 "
        "A5@21+6 C5@29+7 E5@36+1 F5@37+4 "
        "A5@41+6 G5@49+3")
    assert spans(chorus) == (
        "Fmaj7@1+2 D7alt@3+2 Gm7@5+2 C7@7+6 Am7b5@13+6 D7@19+2 "
        "Gm7@21+2 C7@23+6 Am7b5@29+8 Bb@37+4 "
        "Gm7@41+2 C7@43+6 N.C.@49+3")
    assert chorus.length_quarter == 52
    assert chorus.warnings == ()
    assert [(str(bar.number), bar.pass_number) for bar in chorus.bars if bar.number == "3"] == [
        ("3", 1), ("3", 2), ("3", 3)]
