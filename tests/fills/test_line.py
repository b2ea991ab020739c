"""Lines: there is one for every chord, key and meter, and a strict teacher keeps it."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.fills.builders import chorus_of, context_of, contexts_of
from tests.fills.line_rules import line_of, strikes

from fillwright.fills.devices.line.family import (
    CONTOUR_APART,
    RHYTHM_APART,
    contour_distance,
    propose_line,
    rhythm_distance,
)
from fillwright.fills.model import Fill
from fillwright.fills.situation import Task
from fillwright.hands.model import LEVELS

pytestmark = pytest.mark.slow

SUFFIXES = ("", "m", "7", "maj7", "m7", "m7b5", "dim7", "6", "m6", "9", "13", "7b9", "7alt",
            "7sus4", "m(maj7)", "+", "7#5", "maj7#11", "7#11", "m9", "5", "sus2", "dim")


def options(context: Task, count: int = 3) -> tuple[Fill, ...]:
    found = propose_line(context, count)
    assert not isinstance(found, str), found
    return found


def melody_fitting(root: str, beats: int) -> list[tuple[str | None, int]]:
    return [(f"{root}5", beats), (f"{root}5", 4)]


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("suffix", SUFFIXES)
def test_every_chord_has_three_lines_in_four_beats_and_one_in_two(suffix: str, level: str
                                                                 ) -> None:
    for root in ("C", "Eb", "F#"):
        long = chorus_of("4/4", "C", 112, melody_fitting(root, 4), [(root + suffix, 8)])
        found = options(context_of(long, level=level))
        assert len(found) == 3, (root, [f.device for f in found])
        assert [s for f in found for s in strikes(context_of(long, level=level), f)] == []
        short = chorus_of("4/4", "C", 100, melody_fitting(root, 2), [(root + suffix, 6)])
        found = options(context_of(short, level=level))
        assert [s for f in found for s in strikes(context_of(short, level=level), f)] == []


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("meter", "beats"), [
    ("3/4", 3), ("2/4", 2), ("6/8", 3), ("9/8", Fraction(9, 2)), ("12/8", 6), ("5/4", 5),
    ("2/2", 4), ("5/8", Fraction(5, 2)), ("7/8", Fraction(7, 2)), ("3/8", 3), ("6/4", 6)])
def test_every_meter_has_lines(meter: str, beats: Fraction, level: str) -> None:
    chorus = chorus_of(meter, "F", 92, [("A4", beats), ("G4", beats), ("F4", beats)],
                       [("Gm7", beats), ("C7", beats), ("F6", beats)])
    for context in contexts_of(chorus, level):
        found = options(context)
        assert [s for f in found for s in strikes(context, f)] == []


def test_openings_endings_and_places_without_a_chord() -> None:
    chorus = chorus_of("4/4", "Bb", 120, [(None, 4), ("D5", 4), ("C5", 4), ("Bb4", 8)],
                       [("Bbmaj7", 4), ("Gm7", 2), ("N.C.", 2), ("F7", 4), ("Bb6", 8)])
    contexts = contexts_of(chorus)
    assert [c.why for c in contexts] == [("rest", "pickup"), ("held",), ("held",),
                                             ("held", "ending")]
    for context in contexts:
        for fill in options(context):
            assert list(strikes(context, fill)) == []


def test_the_ending_comes_to_rest_on_a_note_of_the_chord() -> None:
    chorus = chorus_of("4/4", "C", 120, [("G4", 4), ("C5", 8)], [("G7", 4), ("C6", 8)])
    for level in LEVELS:
        context = contexts_of(chorus, level)[1]
        for fill in options(context):
            last = line_of(fill)[-1]
            assert context.spans[-1].harmony.takes(last.midi % 12)


PROGRESSIONS = (
    ("Dm7", "G7", "Cmaj7", "Am7"), ("Cm7", "F7", "Bbmaj7", "Ebmaj7"),
    ("Fm7b5", "Bb7b9", "Ebm6", "Ab7"), ("C7", "F7", "C7", "G7"),
    ("Gmaj7", "Bb7", "Ebmaj7", "D7sus4"), ("A6", "F#7", "Bm7", "E13"),
)


@st.composite
def choruses(draw: st.DrawFn) -> Task:
    """A gap in the middle of a few bars: any tempo, meter, chords, melody, level, hand."""
    meter = draw(st.sampled_from(("4/4", "3/4", "6/8", "12/8")))
    bar = {"4/4": 4, "3/4": 3, "6/8": 3, "12/8": 6}[meter]
    progression = draw(st.sampled_from(PROGRESSIONS))
    names = st.sampled_from(("D4", "F4", "G4", "A4", "Bb4", "C5", "Eb5", "E5", "G5"))
    before = [(draw(names), Fraction(bar, 4)) for _ in range(4)]
    held = draw(st.sampled_from((Fraction(1), Fraction(1), Fraction(3, 2), Fraction(2)))) * bar
    after = [(draw(names), Fraction(bar, 6)) for _ in range(6)]
    chord = Fraction(bar) / draw(st.sampled_from((1, 1, 2)))
    total = Fraction(bar) * 2 + held
    chords: list[tuple[str, Fraction]] = []
    at = Fraction(0)
    while at < total:
        chords.append((progression[len(chords) % 4], chord))
        at += chord
    tempo = draw(st.sampled_from((60, 84, 120, 160, 220)))
    chorus = chorus_of(meter, draw(st.sampled_from(("C", "Eb", "F#m", "Dm"))), tempo,
                       [*before, (draw(names), held), *after], chords,
                       feel=draw(st.sampled_from(("swing", "straight"))))
    level = draw(st.sampled_from(LEVELS))
    hand = draw(st.sampled_from(("small", "medium", "large")))
    contexts = contexts_of(chorus, level, hand)
    return draw(st.sampled_from(contexts))


@settings(max_examples=60, deadline=None)
@given(choruses())
def test_a_strict_teacher_keeps_every_line(context: Task) -> None:
    found = propose_line(context, 4)
    if isinstance(found, str):
        assert found.strip()
        return
    for fill in found:
        assert list(strikes(context, fill)) == [], (
            fill.device, [(str(n.pitch), n.onset_quarter) for n in line_of(fill)])
        assert 1 <= len(fill.reasons) <= 4 and all(r.endswith(".") for r in fill.reasons)
        assert fill.held_end.kept == "released" and fill.family == "line"


@settings(max_examples=25, deadline=None)
@given(choruses())
def test_options_of_a_gap_are_different_ideas(context: Task) -> None:
    """Apart in rhythm (a third of the onsets) or in contour (three semitones on average)."""
    found = propose_line(context, 4)
    if isinstance(found, str):
        return
    for index, one in enumerate(found):
        for other in found[index + 1:]:
            lines = [[(n.onset_quarter, n.midi) for n in line_of(f)] for f in (one, other)]
            onsets = [[o for o, _ in line] for line in lines]
            assert (rhythm_distance(*onsets) >= RHYTHM_APART
                    or contour_distance(*lines) >= CONTOUR_APART)
            assert one.idea.differences(other.idea) >= 2


def test_the_same_gap_gives_the_same_lines() -> None:
    chorus = chorus_of("4/4", "C", 132, [("E5", 4), ("D5", 4)], [("Cmaj7", 4), ("Dm7", 4)])
    first = options(context_of(chorus), 5)
    assert first == options(context_of(chorus), 5)
    assert len({f.id for f in first}) == len(first)


def test_lines_move_with_the_key() -> None:
    in_c = chorus_of("4/4", "C", 120, [("E5", 4), ("D5", 4)], [("Cmaj7", 4), ("Dm7", 4)])
    in_d = chorus_of("4/4", "D", 120, [("F#5", 4), ("E5", 4)], [("Dmaj7", 4), ("Em7", 4)])
    one, other = options(context_of(in_c))[0], options(context_of(in_d))[0]
    assert one.device == other.device
    assert ([n.midi + 2 for n in line_of(one)] == [n.midi for n in line_of(other)])


def test_devices_can_be_switched_off() -> None:
    chorus = chorus_of("4/4", "C", 120, [("E5", 4), ("D5", 4)], [("Cmaj7", 4), ("Dm7", 4)])
    devices = [f.device for f in options(context_of(chorus))]
    without = context_of(chorus, without=frozenset(devices))
    assert not set(devices) & {f.device for f in options(without)}


def test_a_beginner_has_chord_tones_on_every_beat_and_four_notes_a_second() -> None:
    for tempo in (60, 100, 140, 200):
        chorus = chorus_of("4/4", "Eb", tempo, [("Bb4", 6), ("G4", 2), ("Eb5", 4), ("C5", 4)],
                           [("Ebmaj7", 4), ("C7", 4), ("Fm7", 4), ("Bb7", 4)])
        for context in contexts_of(chorus, "beginner"):
            for fill in options(context):
                for note in line_of(fill):
                    if context.beat_at(note.onset_quarter).denominator == 1:
                        chord = context.span_at(note.onset_quarter).harmony.symbol
                        assert note.midi % 12 in chord.pitch_classes


def test_large_hands_are_offered_a_fifth_inside_the_octaves() -> None:
    chorus = chorus_of("4/4", "C", 120, [("C5", 6), ("G4", 2)], [("Cmaj7", 8)])
    large = propose_line(context_of(chorus, hand="large"), 40)
    small = propose_line(context_of(chorus, hand="small"), 40)
    assert not isinstance(large, str) and not isinstance(small, str)
    assert any(f.device == "octaves with a fifth inside" for f in large)
    assert not any("fifth inside" in f.device for f in small)
