"""Voices that move under the held note, rhythms of a ballad, and what becomes of the melody."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.fills.builders import chorus_of, one_task

from fillwright import ChordSymbol, Fill, Key, Pitch
from fillwright.fills import ADVANCED, BEGINNER, INTERMEDIATE, MEDIUM, Player, Task, fills_of
from fillwright.fills.devices.comp.family import textures_at
from fillwright.fills.devices.comp.inner import (
    LINES,
    MovingVoice,
    line_fits,
    line_steps,
    line_voicings,
)
from fillwright.fills.devices.comp.strokes import PlannedStroke
from fillwright.fills.devices.comp.times import rhythms_for
from fillwright.fills.rhythm.grid import frame_of
from fillwright.fills.rhythm.slow import BLOOM, LATE, UPBEAT, slow_rhythms
from fillwright.fills.voicing.voicings import Voicing, half_step_off
from fillwright.hands import playable
from fillwright.rules import RUB
from fillwright.theory import Harmony, Interval, analyse

HALF, THIRD = Fraction(1, 2), Fraction(1, 3)
TONICS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


def harmonies(*texts: str, key: str = "C") -> list[Harmony]:
    found = analyse([ChordSymbol.parse(text) for text in texts], Key.parse(key))
    assert all(h is not None for h in found)
    return [h for h in found if h is not None]


def line(*degrees: str) -> MovingVoice:
    return next(row for row in LINES if row.degrees == degrees)


@pytest.mark.parametrize(("degrees", "chord", "following", "fits"), [
    (("7", "6"), "Cmaj7", None, True),
    (("7", "6"), "C7", None, False),
    (("7", "6"), "C", None, True),                  # a bare tonic is played with either
    (("7", "6"), "G", None, False),                 # ... the dominant of the key is not
    (("5", "#5", "6"), "C6", None, True),
    (("5", "#5", "6"), "C+", None, False),          # it has its own fifth
    (("4", "3"), "G7", None, True),
    (("4", "3"), "G7sus4", None, False),            # the suspension is the chord
    (("9", "b9"), "G7", "Cmaj7", True),
    (("9", "b9"), "G7", "Fmaj7", False),            # it does not go home
    (("9", "b9"), "G7b9", "Cmaj7", False),          # lowered already
    (("9", "b9"), "G9", "Cmaj7", False),            # the sheet wants its ninth
    (("b7", "6"), "Dm7", "G7", True),               # the sixth of the second is the third of V
    (("b7", "6"), "Am7", "Dm7", False),
    (("1", "7", "b7", "6"), "Cm", None, True),
])
def test_which_chords_take_a_line(degrees: tuple[str, ...], chord: str, following: str | None,
                                  fits: bool) -> None:
    row = harmonies(chord, *([following] if following else []))
    assert line_fits(line(*degrees), row[0], row[1] if following else None) == fits


def test_a_line_goes_there_and_back_and_does_not_stop_on_its_way() -> None:
    home = harmonies("Cmaj7")[0]

    def over(count: int) -> list[PlannedStroke]:
        return [PlannedStroke(Fraction(i), Fraction(i + 1), home) for i in range(count)]

    climb = line("5", "#5", "6")
    three = line_steps(climb, over(3), None, Fraction(1))
    assert three is not None and [s.degree for s in three] == ["5", "#5", "6"]
    assert line_steps(climb, over(2), None, Fraction(1)) is None  # it would stay on it
    five = line_steps(climb, over(5), None, Fraction(1))
    assert five is not None and [s.degree for s in five] == ["5", "#5", "6", "#5", "5"]
    assert line_steps(climb, over(1), None, Fraction(1)) is None
    # two tones there and back, not in turn and in turn again
    assert line_steps(line("7", "6"), over(3), None, Fraction(1)) is not None
    assert line_steps(line("7", "6"), over(4), None, Fraction(1)) is None
    # back on the suspended fourth; and a fourth that has no beat
    assert line_steps(line("4", "3"), over(3), None, Fraction(1)) is None
    assert line_steps(line("4", "3"), over(2), None, Fraction(1)) is not None
    assert line_steps(line("4", "3"), over(2), None, Fraction(2)) is None


def test_a_line_does_not_scrape_along_the_held_note() -> None:
    """B under a B flat that is held over C minor is a half step an octave off."""
    chorus = chorus_of("4/4", "C", 120, [("Bb5", 4), ("C5", 4)], [("Cm7", 4), ("F7", 4)])
    found = moving(one_task(chorus), 25)
    assert found and all(n.midi % 12 != 11 for fill in found for n in fill.notes)


def test_the_keys_of_a_line_worked_by_hand() -> None:
    """Seventh to sixth over C major seven: B goes to A below what stays."""
    home = harmonies("Cmaj7")[0]
    keys = [{v.midis for v in line_voicings(
        home, (d, "7", "6"), Player(INTERMEDIATE, MEDIUM), (55, 66), (2, 2))} for d in ("7", "6")]
    assert (59, 64) in keys[0] and (57, 64) in keys[1]    # B3 E4, A3 E4
    assert all(59 in row for row in keys[0]) and all(57 in row for row in keys[1])


def test_nothing_that_stays_is_a_half_step_over_a_line() -> None:
    """Over the sixths of a minor chord there is no seventh; its third stays over a ninth."""
    (minor,) = harmonies("Fm7")

    def over(*line: str) -> set[str]:
        found = line_voicings(minor, line, Player(INTERMEDIATE, MEDIUM), (55, 80), (2, 3))
        return {d for voicing in found for d in voicing.degrees}

    assert "b3" in over("5", "5", "b6", "6") and "b7" not in over("5", "5", "b6", "6")
    assert "b3" in over("9", "9", "1")


def test_a_moving_voice_has_a_time_of_its_own() -> None:
    """It begins with the chord, its steps are equally long, and the last has room: in four beats of
    swing seventh to sixth after one, one and a half, two or three beats, or there and back, not to
    and fro twice; in two slow beats three tones come in halves of a beat. The chord after takes no
    line and is struck."""
    def steps(task: Task, *degrees: str) -> set[tuple[float, ...]]:
        _, setting, textures = textures_at(task, task.player)
        texture = next(t for t in textures if t.line is not None and t.line.degrees == degrees)
        return {tuple(map(float, r.onsets)) for r in rhythms_for(setting, texture)}

    assert steps(ballad(4, tempo=132), "7", "6") == {
        (0, 1), (0, 1.5), (0, 2), (0, 3), (0, 1, 2), (0, 1.5, 3)}
    assert steps(ballad(2), "5", "#5", "6") == {(0, 0.5, 1)}
    chorus = chorus_of("4/4", "C", 132, [("G4", 4), ("F4", 4)],
                       [("Cmaj7", 2), ("Dm7", 2), ("G7", 4)])
    assert steps(one_task(chorus), "7", "6") == {(0, 1, 2)}


def moving(task: Task, count: int = 12) -> list[Fill]:
    found = fills_of(task, "comp", count)
    assert not isinstance(found, str), found
    return [f for f in found if f.device.startswith("moving")]


@pytest.mark.parametrize("tonic", [
    tonic if tonic in ("C", "A", "Gb") else pytest.param(tonic, marks=pytest.mark.slow)
    for tonic in TONICS])
def test_one_voice_moves_by_step_and_all_else_stays(tonic: str) -> None:
    held = str(Pitch.parse(f"{tonic}4") + Interval(4, 7))
    chorus = chorus_of("4/4", tonic, 66, [(held, 4), (held, 2)],
                       [(f"{tonic}maj7", 4), (f"{tonic}6", 2)])
    for level in ("beginner", "intermediate", "advanced"):
        for fill in moving(one_task(chorus, 1, level)):
            assert fill.held_end.kept == "finger"
            right = sorted((n for n in fill.notes if n.hand == "right"),
                           key=lambda n: (n.onset_quarter, n.midi))
            bottoms = [n.midi for n in right
                       if n.midi == min(o.midi for o in right
                                        if o.onset_quarter <= n.onset_quarter < o.end_quarter)]
            assert all(0 < abs(a - b) <= 2 for a, b in pairwise(bottoms)), fill.device


def ballad(quarters: int, level: str = "intermediate", tempo: int = 63) -> Task:
    chorus = chorus_of("4/4", "C", tempo, [("G4", quarters), ("F4", 4)],
                       [("Cmaj7", quarters), ("Dm7", 4)])
    return one_task(chorus, 1, level)


def test_two_slow_beats_have_many_rhythms() -> None:
    """The half of the first beat, a triplet into the second, a left hand that waits, one chord
    that rings: each is there, at every level that can count it. Nothing is stabbed: what comes
    off the beat has a beat and more to ring before the landing."""
    for level, least in (("beginner", 8), ("intermediate", 12), ("advanced", 12)):
        found = slow_rhythms(frame_of(ballad(2, level)), first=Fraction(0), last=2 - THIRD)
        rows = {(r.opening_quarter, r.onsets) for r in found}
        assert len(rows) >= least
        assert (Fraction(0), (HALF,)) in rows
        assert all(onsets[-1] <= 1 for _, onsets in rows if onsets)
        assert {BLOOM, LATE} <= {r.name for r in found}
        assert (UPBEAT in {r.name for r in found}) == (level != "beginner")
        assert ((Fraction(0), (1 - THIRD, Fraction(1))) in rows) == (level != "beginner")


@settings(max_examples=25, deadline=None)
@given(st.integers(2, 9), st.sampled_from((BEGINNER, INTERMEDIATE, ADVANCED)), st.booleans())
def test_slow_rhythms_can_be_counted(quarters: int, level: object, late: bool) -> None:
    task = ballad(quarters, str(level))
    for rhythm in slow_rhythms(frame_of(task), first=Fraction(0), last=quarters - THIRD,
                               late=late, limit=60):
        assert list(rhythm.onsets) == sorted(set(rhythm.onsets))
        assert late or rhythm.opening_quarter == 0
        assert all(onset >= rhythm.opening_quarter for onset in rhythm.onsets)
        ends = [*rhythm.onsets[1:], Fraction(quarters)][:len(rhythm.hits)]
        for hit, after in zip(rhythm.hits, ends, strict=True):
            assert hit.end_quarter == after      # nothing is stabbed
            if hit.onset_quarter.denominator == 3:  # a triplet goes on to the next place of it
                assert after - hit.onset_quarter == THIRD
        assert not any(b - a == 1 and a.denominator == 2 for a, b in pairwise(rhythm.onsets))


def test_the_offers_of_two_slow_beats_differ_in_rhythm() -> None:
    patterns: dict[tuple[Fraction, ...], int] = {}
    for held in ("C5", "D5", "E5", "F5", "G4", "A4"):
        for chord, goal in (("Dm7", "G7"), ("Cmaj7", "Am7"), ("Am7", "Dm7")):
            chorus = chorus_of("4/4", "C", 63, [(held, 2), ("B4", 2)], [(chord, 2), (goal, 2)])
            found = fills_of(one_task(chorus, 1, "intermediate"), "comp", 3)
            for fill in found if not isinstance(found, str) else ():
                onsets = tuple(sorted({n.onset_quarter for n in fill.notes}))
                patterns[onsets] = patterns.get(onsets, 0) + 1
    assert len(patterns) >= 6
    assert 3 * max(patterns.values()) <= sum(patterns.values())


@pytest.mark.slow
def test_the_melody_is_kept_where_one_hand_holds_both() -> None:
    lost = seen = 0
    for tempo in (63, 132):
        for held in ("C5", "E5", "G4", "A4"):
            for chord in ("Cmaj7", "Am7", "Fmaj7"):
                chorus = chorus_of("4/4", "C", tempo, [(held, 4), ("D5", 2)],
                                   [(chord, 4), ("Dm7", 2)])
                task = one_task(chorus, 1, "advanced")
                found = fills_of(task, "comp", 3)
                for fill in found if not isinstance(found, str) else ():
                    seen += 1
                    if fill.held_end.kept != "released":
                        continue
                    first = sorted(n.midi for n in fill.notes if n.hand == "right"
                                   and n.onset_quarter == fill.held_end.until_quarter)
                    key = task.held_midi or 0
                    lost += bool(first) and first[-1] < key and not any(
                        RUB.breaks(k, key) for k in first) and playable(
                            (*first, key), "right", "medium")
    assert seen > 50 and 10 * lost < seen


def test_a_slide_is_spelled_so_that_it_leads_on() -> None:
    chord = Voicing("", ("", "", ""), tuple(map(Pitch.parse, ("Eb4", "G4", "B4"))), 0)
    assert [str(p) for p in half_step_off(chord, -1).pitches] == ["D4", "F#4", "A#4"]
    assert [str(p) for p in half_step_off(chord, 1).pitches] == ["E4", "Ab4", "C5"]
    # no letter twice with two accidentals: not C sharp and C in one chord
    low = Voicing("three notes", ("b7", "3", "13"),
                  tuple(Pitch.parse(name) for name in ("D4", "G#4", "C#5")), 0)
    assert [str(p) for p in half_step_off(low, -1).pitches] == ["Db4", "G4", "C5"]


def test_a_gap_that_opens_between_the_places_has_rhythms_too() -> None:
    chorus = chorus_of("4/4", "C", 63, [("E4", "1/4"), ("G4", "15/4"), ("F4", 4)],
                       [("Cmaj7", 4), ("Dm7", 4)])
    for level in ("beginner", "advanced"):
        found = fills_of(one_task(chorus, 1, level), "comp", 3)
        assert not isinstance(found, str) and len(found) == 3


@pytest.mark.parametrize(("held", "chord", "goal", "tenor"), [
    ("E5", "C7", "F", [7, 9, 10]), ("G4", "Cmaj7", "Dm7", [11, 9]), ("C5", "C6", "F", [7, 9]),
    ("A4", "Dm7", "G7", [10, 9])])
def test_a_tenor_of_the_left_hand_moves_over_its_root(held: str, chord: str, goal: str,
                                                      tenor: list[int]) -> None:
    """Fifth, sixth and seventh over C7, seventh and sixth over C major seven, worked by hand: the
    root is struck once and stays, the right hand keeps the melody and adds one key at most, none
    where the melody sings the third."""
    chorus = chorus_of("4/4", "C", 132, [(held, 4), ("E5", 4)], [(chord, 4), (goal, 4)])
    found = fills_of(one_task(chorus), "comp", 20)
    fills = [f for f in found if not isinstance(f, str) and f.device.startswith("left-hand tenor")]
    assert fills
    root = Pitch.parse(f"{chord[0]}3").midi
    for fill in fills:
        left = sorted((n for n in fill.notes if n.hand == "left"),
                      key=lambda n: (n.onset_quarter, n.midi))
        low, *upper = left
        assert (low.midi - root) % 12 == 0 and low.end_quarter == 4
        row = [(n.midi - root) % 12 for n in upper]
        assert row[:len(tenor)] == tenor or row[:2] == [7, 8], fill.device
        assert all(0 < abs(b.midi - a.midi) <= 2 for a, b in pairwise(upper))
        right = [n for n in fill.notes if n.hand == "right"]
        assert len(right) == (0 if chord == "C7" else 1) and fill.held_end.kept == "finger"
        assert any("tenor moves in the left hand" in reason for reason in fill.reasons)
