"""How passing chords are struck: the held note kept by the pedal, chords broken in patterns, and
devices shown side by side. Check values are common practice."""

from __future__ import annotations

from itertools import pairwise

import pytest
from tests.fills.test_reharm_strict import SHEETS, gap_of, offered

from fillwright.fills import HeldEnd
from fillwright.fills.devices.reharm.broken import patterns
from fillwright.fills.devices.reharm.hands import STYLES
from fillwright.fills.devices.reharm.plan import plans, under_pedal
from fillwright.fills.devices.reharm.touch import strike
from fillwright.fills.devices.reharm.voice import voice_plan
from fillwright.fills.finish import speak_quarter
from fillwright.hands import LEVELS

pytestmark = pytest.mark.slow

ABOVE_BEGINNER = ("intermediate", "advanced")


# --- the pedal ------------------------------------------------------------------------------

@pytest.mark.parametrize("level", ABOVE_BEGINNER)
@pytest.mark.parametrize("tempo", [66, 120])
def test_the_pedal_keeps_the_note_until_the_chord_changes(level: str, tempo: int) -> None:
    """C over Cmaj7, then chords that do not take it: the pedal holds it until they come, and the
    right hand plays under it once it has been heard."""
    task = gap_of("C5 4, A4 4", "Cmaj7 4, F 4", level=level, tempo=tempo)
    seen = 0
    for plan in plans(task, 400):
        kept = under_pedal(task, plan)
        if kept is None or kept.held is None or not plan.cuts:
            continue
        change = plan.events[1].onset_quarter
        assert kept.held == HeldEnd("pedal", change)
        voiced = voice_plan(task, kept, STYLES[task.player.level][0])
        struck = None if voiced is None else strike(task, voiced, "under the pedal", 0)
        if struck is None:
            continue
        seen += 1
        right = sorted({n.onset_quarter for n in struck[0] if n.hand == "right"})
        assert speak_quarter(task) in right and right[0] < change
        assert all(n.midi < 72 for n in struck[0] if n.onset_quarter < change)
        if seen > 5:
            break
    assert seen


def test_no_pedal_where_the_finger_can_keep_the_note() -> None:
    """E of Cmaj7 belongs to every chord of the walk: the finger holds it."""
    for fill in offered(gap_of("E5 4, A4 4", "Cmaj7 4, Fmaj7 4", level="advanced"), 3):
        if all(c.symbol.suffix in ("maj7", "m7") for c in fill.chords):
            assert fill.held_end.kept != "pedal"


@pytest.mark.parametrize(("melody", "chords", "level", "tempo"), [
    ("C5 4, A4 4", "Cmaj7 4, F 4", "beginner", 66),       # a beginner's foot stays up
    ("C5 4, A4 4", "Cmaj7 4, F 4", "advanced", 220),      # too fast for a pedal
    ("C5 2, A4 4", "Cmaj7 2, F 4", "advanced", 66),       # the chord changes at once
    ("C5 1, - 3, A4 4", "Cmaj7 4, F 4", "advanced", 66),  # the note is over before
    ("C#5 4, A4 4", "Cmaj7 4, F 4", "advanced", 66)])     # the chord does not take the note
def test_where_the_pedal_gains_nothing(melody: str, chords: str, level: str, tempo: int) -> None:
    task = gap_of(melody, chords, level=level, tempo=tempo)
    for plan in plans(task, 60):
        kept = under_pedal(task, plan)
        assert kept is None or plan.events[0].harmony.takes(1)


# --- broken chords ------------------------------------------------------------------------------

@pytest.mark.parametrize("groups", [1, 2, 3])
@pytest.mark.parametrize("room", [4, 6, 8])
@pytest.mark.parametrize("keys", [2, 3, 4, 5])
def test_patterns_are_whole(keys: int, room: int, groups: int) -> None:
    found = patterns(keys, room, groups)
    assert found
    assert len({p.name for p in found}) == len(found)
    for pattern in found:
        places = [at for at, _ in pattern.strokes]
        assert places == sorted(set(places)) and places[0] == 0
        assert {k for _, row in pattern.strokes for k in row} == set(range(keys))
        assert room - places[-1] >= 2  # it ends on a long note
    assert len(patterns(3, room, 1)) < len(patterns(3, room, 3))


def test_patterns_do_what_their_names_say() -> None:
    found = {p.name: p.strokes for p in patterns(4, 8, 3)}
    assert found["from the bottom up"] == ((0, (0,)), (1, (1,)), (2, (2,)), (3, (3,)))
    assert found["low, high, then the middle"] == ((0, (0,)), (1, (3,)), (2, (1, 2)))
    assert found["low, a wait, then up"] == ((0, (0,)), (3, (1,)), (4, (2,)), (5, (3,)))
    assert found["up and back"][-2:] == ((4, (2,)), (5, (1,)))
    assert patterns(4, 3, 3) == () == patterns(1, 8, 3)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("tempo", [66, 100, 120])
def test_broken_chords_are_no_exercise(level: str, tempo: int) -> None:
    """Neighbouring chords are not broken alike, and no key is struck while it is down."""
    seen = 0
    for melody, chords in (("E5 8, A4 4", "Cmaj7 8, F 4"), ("G5 8, A4 4", "Dm7 4, G7 4, C 4"),
                           ("D5 4, D5 4", "Gmaj7 4, Gm7 4"),
                           ("A4 8, G4 4", "Fmaj7 4, Dm7 4, C 4"),
                           ("E5 12, A4 4", "Cmaj7 8, Am7 4, Dm7 4"), ("- 8, A4 4", "Cmaj7 8, F 4")):
        task = gap_of(melody, chords, level=level, tempo=tempo)
        for fill in offered(task, 8):
            said = [r for r in fill.reasons if "are broken" in r]
            if not said:
                continue
            seen += 1
            shapes = []
            for chord in fill.chords:
                inside = [n for n in fill.notes
                          if chord.onset_quarter <= n.onset_quarter < chord.end_quarter]
                onsets = sorted({n.onset_quarter - chord.onset_quarter for n in inside})
                assert chord.duration_quarter >= 2 and len(onsets) > 1
                assert chord.duration_quarter - onsets[-1] >= 1  # eighths, then long
                order = sorted({n.midi for n in inside})
                lows = [min(n.midi for n in inside if n.onset_quarter == chord.onset_quarter + at)
                        for at in onsets]
                shapes.append((tuple(onsets), lows[0] == min(lows), len(inside), tuple(
                    tuple(order.index(n.midi) for n in inside
                          if n.onset_quarter == chord.onset_quarter + at) for at in onsets)))
            assert len(shapes) == 1 or any(a != b for a, b in pairwise(shapes)), fill.id
    assert seen or level != "advanced"


# --- devices side by side ---------------------------------------------------------------------

@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("tempo", [66, 110])
@pytest.mark.parametrize(("melody", "chords", "key"), [
    *SHEETS, ("Bb4 2, C5 4", "Gm7 1, C7 1, C7 4", "F"), ("E5 2, D5 4", "Cmaj7 2, A7 4", "C"),
    ("G4 2, A4 4", "G7 2, Am7 4", "C"), ("D5 2, E5 4", "Dm7 2, Em7 4", "C")])
def test_a_device_is_shown_once_while_there_are_others(melody: str, chords: str, key: str,
                                                       level: str, tempo: int) -> None:
    task = gap_of(melody, chords, level=level, tempo=tempo, key=key)
    devices = [f.device for f in offered(task, 10)]
    known = len(set(devices))
    assert len(set(devices[:3])) >= min(2 if level == "beginner" else 3, known)


@pytest.mark.parametrize("tempo", [60, 110])
@pytest.mark.parametrize("level", ABOVE_BEGINNER)
def test_no_added_chord_is_shorter_than_a_beat(level: str, tempo: int) -> None:
    """A chord of half a beat is a stab, in a ballad most of all."""
    for melody, chords in (("D5 2, E5 4", "Dm7 1, G7 1, C6 4"), ("D5 3.5, E5 4", "Dm7 4, G7 4")):
        for plan in plans(gap_of(melody, chords, level=level, tempo=tempo), 200):
            assert all(e.end_quarter - e.onset_quarter >= 1 for e in plan.events if e.added)


def test_in_two_beats_a_progression_is_one_idea() -> None:
    """G minor 7 and C7 a beat each: the suspension is offered once, not in two registers."""
    task = gap_of("Bb4 2, C5 4", "Gm7 1, C7 1, C7 4", level="advanced", tempo=66, key="F")
    rows = [[str(c.symbol) for c in f.chords] for f in offered(task, 3)]
    assert len(rows) == len({tuple(row) for row in rows})


@pytest.mark.parametrize("level", LEVELS)
def test_a_progression_comes_again_only_with_its_chords_elsewhere(level: str) -> None:
    """Over a diminished chord that must resolve little else fits: the one chord that does is not
    shown twice in two registers."""
    for melody, chords in (("E5 3, D5 4", "C#dim7 3, G/D 4"), ("E5 4, D5 4", "C#dim7 4, G/D 4"),
                           ("G4 3, A4 4", "Em7b5 3, A7b9 4")):
        task = gap_of(melody, chords, level=level, key="G", tempo=150)
        rows = [tuple((str(c.symbol).split("(")[0], c.onset_quarter) for c in f.chords)
                for f in offered(task, 6)]
        assert len(rows) == len(set(rows))


# --- what is said ---------------------------------------------------------------------------------

def test_degrees_of_the_held_note_are_gathered() -> None:
    task = gap_of("Eb5 4, D5 4", "Cm7 4, F7 4", level="advanced", key="Bb", tempo=66)
    for fill in offered(task, 10):
        for reason in fill.reasons:
            if "under the finger" in reason:
                assert reason.count("the minor third of") <= 1


def test_a_triad_over_a_pedal_is_struck_as_a_triad() -> None:
    task = gap_of("E5 4, C5 4", "C 8", level="advanced")
    plan = next(p for p in plans(task, 200) if p.device == "triads sliding over a pedal")
    found = [v for style in STYLES[task.player.level]
             if (v := voice_plan(task, plan, style)) is not None]
    assert found
    for event, hands in (pair for voiced in found
                         for pair in zip(plan.events, voiced.hands, strict=True)):
        symbol = event.harmony.symbol
        triad = {symbol.name_of(d).pitch_class for d in symbol.degrees}
        assert not event.added or {m % 12 for m in hands.right_midis} <= triad


@pytest.mark.parametrize("level", LEVELS)
def test_a_long_chord_is_struck_again_on_a_strong_beat(level: str) -> None:
    """Not two beats after an off-beat: nobody knocks on the and of two."""
    task = gap_of("A4 0.5, G5 7.5, C5 4", "C 8, F 4", level=level, tempo=63)
    for fill in offered(task, 3):
        first = fill.chords[0]
        again = {n.onset_quarter for n in fill.notes if n.hand == "left"
                 and first.onset_quarter < n.onset_quarter < first.end_quarter}
        broken = any("broken" in text for text in fill.reasons)
        assert broken or all((at + 0.5) % 2 == 0 for at in again), again
