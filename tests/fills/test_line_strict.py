"""What a teacher struck out of lines once: each rule here failed before it was mended."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

import pytest
from tests.fills.builders import chorus_of, context_of, contexts_of
from tests.fills.line_rules import line_of, strikes

from fillwright.fills.devices.line.costs import Slot
from fillwright.fills.devices.line.family import propose_line, same_cell_thrice
from fillwright.fills.devices.line.shift import EARLY
from fillwright.fills.devices.line.spelling import spell_line
from fillwright.fills.model import Fill
from fillwright.fills.situation import Task
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.harmony import analyse
from fillwright.theory.key import Key

pytestmark = pytest.mark.slow

C = Key.parse("C")


def held_over(chord: str, held: str = "E5", level: str = "advanced", beats: int = 4,
              landing: str | None = "D5", tempo: int = 120, key: str = "C") -> Task:
    """A held note over one chord, and a landing a step away (None: the tune ends)."""
    melody: list[tuple[str | None, int]] = [(held, beats)]
    if landing is not None:
        melody.append((landing, 4))
    chorus = chorus_of("4/4", key, tempo, melody, [(chord, beats + (4 if landing else 0))])
    return context_of(chorus, level=level)


def lines(context: Task, count: int = 3) -> tuple[Fill, ...]:
    found = propose_line(context, count)
    assert not isinstance(found, str), found
    return found


def left_chords(fill: Fill) -> list[list[int]]:
    onsets = sorted({n.onset_quarter for n in fill.notes if n.hand == "left"})
    return [sorted(n.midi for n in fill.notes if n.hand == "left" and n.onset_quarter == o)
            for o in onsets]


@pytest.mark.parametrize("chord", ["Am7", "Gm7", "Abmaj7", "C7", "Cmaj7", "Dm7", "Ebmaj7"])
@pytest.mark.parametrize("beats", [2, 4])
def test_an_advanced_left_hand_sounds_the_chord(chord: str, beats: int) -> None:
    """Third and seventh; without the root a ninth or thirteenth too; the root first where
    there is time for it; no second low down (common practice)."""
    harmony = analyse([parse_chord(chord)], C)[0]
    assert harmony is not None
    root = harmony.root.pitch_class
    guides = {(root + degree_pitch_class(d)) % 12 for d in (harmony.third, harmony.seventh)
              if d is not None}
    for fill in lines(held_over(chord, "G5", beats=beats, landing="F5")):
        first = left_chords(fill)[0]
        classes = {m % 12 for m in first}
        sixth = {(root + 9) % 12} if harmony.seventh == "7" else set()
        assert guides - classes <= {(root + 11) % 12} if classes & sixth else guides <= classes
        if beats == 4:
            assert first[0] % 12 == root
        elif root not in classes:
            colours = {(root + s) % 12 for s in (1, 2, 3, 8, 9)} - guides
            assert classes & colours, first
        assert all(b - a > 2 for a, b in pairwise(first) if a < 53)


@pytest.mark.parametrize("chord", ["F", "Fm", "F6"])
def test_plain_chords_have_plain_left_hands(chord: str) -> None:
    """A bare triad or sixth chord is root, third and sixth, with no ninth among them."""
    for fill in lines(held_over(chord, "C5", landing="D5", key="F")):
        first = left_chords(fill)[0]
        assert first[0] % 12 == 5
        assert {m % 12 for m in first} <= {5, 8, 9, 0, 2}
        assert {m % 12 for m in first} & {8, 9}


@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
@pytest.mark.parametrize(("chord", "beats"), [("Bb6", 4), ("Fmaj7", 8), ("Cm7", 7), ("G7", 6)])
def test_the_last_line_comes_to_rest(chord: str, beats: int, level: str) -> None:
    """On beat 1 or 3, for a beat or more, on a note that may end a piece, with the left hand
    sounding (common practice)."""
    context = held_over(chord, "G5", level, beats, None)
    root = context.spans[0].harmony.root.pitch_class
    for fill in lines(context):
        last = line_of(fill)[-1]
        assert context.beat_at(last.onset_quarter) in (1, 3)
        assert last.duration_quarter >= 1
        assert (last.midi - root) % 12 in (0, 2, 3, 4, 7, 9)
        under = [n for n in fill.notes if n.hand == "left"
                 and n.onset_quarter <= last.onset_quarter < n.end_quarter]
        assert under and max(n.end_quarter for n in under) == last.end_quarter
        assert any(r.startswith(f"It comes to rest on {last.pitch.note_name.pretty}")
                   for r in fill.reasons)


def tune(level: str) -> list[Task]:
    """Six bars with gaps of two, three, four and seven beats over changing chords."""
    melody: list[tuple[str | None, int]] = [
        ("G4", 1), ("C5", 3), ("B4", 1), ("D5", 1), ("F5", 2), ("E5", 1), ("C5", 7), ("D5", 1),
        ("F5", 3), ("E5", 4), ("D5", 2), ("C5", 6)]
    chords = [("Cmaj7", 4), ("Dm7", 2), ("G7", 2), ("Em7", 4), ("A7", 4), ("Dm7", 2), ("G7", 2),
              ("Cmaj7", 4), ("G7", 2), ("C6", 6)]
    return contexts_of(chorus_of("4/4", "C", 120, melody, chords), level=level)


@lru_cache(maxsize=4)
def offers(level: str) -> tuple[tuple[Task, tuple[Fill, ...]], ...]:
    """Everything a tune is offered at a level, twelve options a gap."""
    return tuple((c, lines(c, 12)) for c in tune(level))


LEVELS = ("beginner", "intermediate", "advanced")


def moves(fill: Fill) -> list[int]:
    return [b.midi - a.midi for a, b in pairwise(line_of(fill))]


@pytest.mark.parametrize("level", LEVELS)
def test_names_are_what_the_notes_do(level: str) -> None:
    """Arpeggios skip, runs run one way, one-two-three-five has these degrees, a pickup runs
    into the landing without a hole."""
    seen = set()
    for context, found in offers(level):
        for fill in found:
            line, steps = line_of(fill), moves(fill)
            seen.add(fill.device)
            if "arpeggi" in fill.device and "up high" in fill.device:
                assert 2 * sum(abs(s) >= 3 for s in steps) >= len(steps), steps
            elif fill.device == "arpeggio up and down":
                assert sum(abs(s) < 3 for s in steps) <= 1 and abs(steps[0]) >= 3, steps
            elif fill.device == "scale run":
                run = steps[:max(3, len(steps) - 2)]
                assert all(abs(s) <= 3 and (s > 0) == (run[0] > 0) for s in run), steps
            elif fill.device == "one, two, three, five":
                root = context.span_at(line[0].onset_quarter).harmony.root.pitch_class
                degrees = [(n.midi - root) % 12 for n in line[:4]]
                assert degrees[:2] == [0, 2] and degrees[2] in (3, 4) and degrees[3] == 7
                assert all(s > 0 for s in steps[:3])
            elif fill.device == "pickup into the landing":
                assert len(line) >= 2
                assert line[-2].end_quarter == line[-1].onset_quarter
                assert line[-1].end_quarter == context.end_quarter
                assert line[-1].onset_quarter - line[-2].onset_quarter <= context.beat_quarter
    assert {"chord tones up high, arpeggiated", "scale run", "pickup into the landing"} <= seen


@pytest.mark.parametrize("level", LEVELS)
def test_a_gap_is_not_offered_one_device_twice(level: str) -> None:
    """Three options are three devices, while three devices fit."""
    for context, found in offers(level):
        if len({f.device for f in found}) >= 3:
            assert len({f.device for f in lines(context, 3)}) == 3


@pytest.mark.parametrize("level", LEVELS)
def test_a_line_has_two_notes_at_least(level: str) -> None:
    """A beginner may be given single chord tones where there are fewer than three lines."""
    for context, found in offers(level):
        short = [line_of(f) for f in found if len(line_of(f)) < 2]
        assert not short or (level == "beginner" and len(found) <= 3)
        for (note,) in short:
            harmony = context.span_at(note.onset_quarter).harmony
            assert note.pitch.pitch_class in harmony.symbol.pitch_classes


def test_a_pickup_is_not_what_comes_first_everywhere() -> None:
    first = [lines(c, 3)[0].device for level in LEVELS for c in tune(level)]
    assert 4 * sum(d == "pickup into the landing" for d in first) <= len(first)


@pytest.mark.parametrize(("midis", "thrice"), [
    ((60, 64, 65, 60, 62, 65, 60, 62, 63), True),    # hovers
    ((65, 68, 70, 75, 65, 68), True),                # a pair comes back
    ((64, 62, 65, 63, 66, 64, 67), True),            # exactly the same, moved
    ((60, 62, 64, 65, 67, 69, 71, 72, 74), False),   # a scale
    ((60, 64, 67, 65, 62, 59, 60, 57, 55), False),
])
def test_the_same_cell_three_times(midis: tuple[int, ...], thrice: bool) -> None:
    assert same_cell_thrice(midis) is thrice


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_the_first_line_does_not_circle_round_its_landing(level: str) -> None:
    for context, _ in offers(level):
        fill = lines(context, 3)[0]
        line = [n.midi for n in line_of(fill)]
        if context.landing is None or len(line) < 5 or "octave" in fill.device:
            continue
        assert context.landing.midi not in line[-4:], (fill.device, line)


@pytest.mark.parametrize(("midis", "chord", "key", "names"), [
    ((70, 68, 67), "D7b9", "Gm", ["Bb4", "Ab4", "G4"]),      # no G sharp beside B flat
    ((75, 73, 71), "G7b9", "Cm", ["Eb5", "Db5", "B4"]),
    ((65, 67), "D7b9", "Gm", ["F4", "G4"]),                  # no E sharp
    ((63, 64), "C7#9", "Fm", ["Eb4", "E4"]),                 # the melody's own E flat
    ((77, 78), "Dmaj7", "D", ["F5", "F#5"]),
    ((78, 76), "Cmaj7", "C", ["F#5", "E5"]),                 # a lydian fourth stays sharp
    ((71, 70), "Abm7", "Eb", ["Cb5", "Bb4"]),                # the chord's own third stays flat
])
def test_neighbours_are_not_sharp_and_flat(midis: tuple[int, ...], chord: str, key: str,
                                           names: list[str]) -> None:
    home = Key.parse(key)
    heard = analyse([parse_chord(chord), parse_chord("C")], home)[0]
    assert heard is not None
    row = [0 if heard.takes(pc) else 3 for pc in range(12)]
    if heard.symbol.quality == "dominant":
        row = [1 if kind == 3 and (pc - heard.root.pitch_class) % 12 in (1, 3, 6, 8) else kind
               for pc, kind in enumerate(row)]
    slots = [Slot(Fraction(i), 0, False, False, tuple(row), 0) for i in range(len(midis))]
    assert [str(p) for p in spell_line(midis, slots, [heard], None)] == names


@pytest.mark.parametrize("level", LEVELS)
def test_counts_name_every_stroke_of_both_hands(level: str) -> None:
    """A word without brackets for each place where a key goes down, and no two against three
    in one beat."""
    for context, found in offers(level):
        for fill in found:
            struck = {n.onset_quarter for n in fill.notes}
            words = [w for w in fill.counts.split() if w[0] != "("]
            assert len(words) == len([o for o in struck if o < max(
                context.end_quarter, fill.shift.landing_quarter if fill.shift else 0)])
            for place in struck:
                beat = int(place)
                parts = {o - beat for o in struck if beat < o < beat + 1}
                assert not ({Fraction(1, 2)} & parts and {o.denominator for o in parts} & {3})


@pytest.mark.parametrize("level", LEVELS)
def test_the_little_finger_does_not_drum(level: str) -> None:
    """Three times the same key, or more, is not for the fifth finger (common practice)."""
    drummed = 0
    plain = [held_over(chord, held, level, beats, landing, key=key)
             for chord, held, beats, landing, key in (
                 ("F", "F4", 4, "A4", "F"), ("Fmaj7", "E5", 6, "C5", "F"),
                 ("Cm7", "C5", 6, "G4", "Cm"))]
    for context in plain:
        for fill in lines(context, 40):
            line = line_of(fill)
            for three in zip(line, line[1:], line[2:], strict=False):
                if len({n.midi for n in three}) == 1 and "octave" not in fill.device:
                    drummed += 1
                    assert {n.finger for n in three} != {5}, fill.device
    assert drummed


@pytest.mark.parametrize(("chord", "held", "landing"), [
    ("Fmaj7", "A4", "G4"), ("Gmaj7", "B4", "A4"), ("Ebmaj7", "G4", "F4"), ("C7", "E5", "F5"),
    ("Abmaj7", "G5", "F5"), ("Dm7", "A4", "B4")])
@pytest.mark.parametrize("level", LEVELS)
def test_no_minor_ninth_under_a_note_on_a_beat(chord: str, held: str, landing: str, level: str
                                               ) -> None:
    """The root over a major seventh in the left hand: it takes the sixth, or the line another
    tone; a flat nine over a dominant's root is a colour (common practice)."""
    context = held_over(chord, held, level, landing=landing)
    for fill in lines(context, 12):
        assert not [s for s in strikes(context, fill) if "minor ninth" in s], fill.device


def test_the_sixth_stands_under_the_root_of_a_major_seventh_chord() -> None:
    seen = 0
    for fill in lines(held_over("Fmaj7", "A4", landing="G4"), 40):
        roots = [n for n in line_of(fill) if n.midi % 12 == 5 and n.onset_quarter.denominator == 1]
        for note in roots:
            under = {n.midi % 12 for n in fill.notes if n.hand == "left"
                     and n.onset_quarter <= note.onset_quarter < n.end_quarter}
            assert 4 not in under
            seen += {5, 9, 2} <= under
    assert seen


@pytest.mark.parametrize("level", LEVELS)
def test_lines_lead_by_step_or_leave_air(level: str) -> None:
    """For every device: into the landing by step, or half a beat of air and a fourth."""
    near = far = 0
    for context, found in offers(level):
        for fill in found:
            if context.landing_midi is None:
                continue
            last = line_of(fill)[-1]
            away = min(abs(n.midi - context.landing_midi) for n in fill.notes
                       if n.hand == "right" and n.onset_quarter == last.onset_quarter)
            end = fill.shift.landing_quarter if fill.shift else context.end_quarter
            air = end - last.end_quarter
            assert away <= (5 if air >= Fraction(1, 2) else 2), (fill.device, away, air)
            near += away <= 2
            far += away > 2
    assert near and (far or level == "advanced")


@pytest.mark.parametrize("level", LEVELS)
def test_one_gesture_is_offered_once(level: str) -> None:
    """The same rhythm and the same ups and downs, from another note on, are no second idea."""
    for _, found in offers(level):
        seen = set()
        for fill in found:
            line = line_of(fill)
            if len(line) < 2:
                continue
            gesture = (tuple(n.onset_quarter for n in line), fill.device == EARLY,
                       tuple((b > a) - (b < a) for a, b in
                             pairwise(n.midi for n in line)))
            assert gesture not in seen, fill.device
            seen.add(gesture)


@pytest.mark.parametrize(("level", "tempo"), [
    ("beginner", 144), ("beginner", 150), ("beginner", 126), ("intermediate", 150),
    ("intermediate", 220), ("advanced", 190)])
def test_four_strokes_in_a_row_keep_to_the_rate(level: str, tempo: int) -> None:
    """From the first note to the landing where the line runs into it: 4, 7 or 10 a second."""
    most = {"beginner": 4, "intermediate": 7, "advanced": 10}[level]
    context = held_over("Gm7", "D5", level, 6, "C5", tempo)
    pairs = 0
    for fill in lines(context, 12):
        line = line_of(fill)
        strokes = [n.onset_quarter for n in line]
        if context.end_quarter - line[-1].end_quarter < Fraction(1, 2):
            strokes.append(context.end_quarter)
        for a, b in zip(strokes, strokes[3:], strict=False):
            assert context.seconds(b - a) >= 3 / most - 1e-6, fill.device
        pairs += any(b - a == Fraction(1, 2) for a, b in pairwise(strokes))
    assert pairs  # eighths are still there, in pairs
