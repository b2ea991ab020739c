"""Each device does what it says, and what was heard can be heard in the answer."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

import pytest
from tests.fills.builders import chorus_of, context_of
from tests.fills.line_rules import line_of

from fillwright.fills.devices.line.answer import ANSWER_RHYTHM, ANSWER_SHAPE, SEQUENCE
from fillwright.fills.devices.line.costs import Slot
from fillwright.fills.devices.line.family import _wandering, propose_line
from fillwright.fills.devices.line.figures import (
    FIGURES,
    figure_moves,
    least_moves,
    move_name,
    moves_for,
    plan,
)
from fillwright.fills.devices.line.ideas import cells
from fillwright.fills.devices.line.left import Above, left_rhythm
from fillwright.fills.devices.line.pools import (
    altered_kinds,
    blues_classes,
    kinds,
    pentatonic,
    structure_triads,
)
from fillwright.fills.devices.line.spelling import spell_line
from fillwright.fills.model import Fill
from fillwright.fills.situation import Task
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.harmony import Harmony, harmony_of
from fillwright.theory.key import Key

pytestmark = pytest.mark.slow

C = Key.parse("C")
PHRASE = [("E4", "1/2"), ("G4", "1/2"), ("A4", "1"), ("C5", "1/2"), ("A4", "3/2")]


@lru_cache(maxsize=8)
def scene(level: str, chords: tuple[tuple[str, int], ...] = (("Am7", 4), ("Dm7", 4), ("G7", 4),
                                                             ("Cmaj7", 4)), tempo: int = 108
          ) -> Task:
    """A phrase, a note held for seven beats, and a landing."""
    melody = [(pitch, Fraction(length)) for pitch, length in PHRASE]
    melody += [("D5", Fraction(7)), ("C5", Fraction(1)), ("E5", Fraction(1)), ("G5", Fraction(3))]
    return context_of(chorus_of("4/4", "C", tempo, melody, list(chords)), level=level)


@lru_cache(maxsize=8)
def lines(level: str, chords: tuple[tuple[str, int], ...] | None = None) -> tuple[Fill, ...]:
    context = scene(level) if chords is None else scene(level, chords)
    found = propose_line(context, 80)
    assert not isinstance(found, str)
    return found


def of(device: str, level: str = "advanced", chords: tuple[tuple[str, int], ...] | None = None
       ) -> list[Fill]:
    return [f for f in lines(level, chords) if f.device == device]


def harmony(text: str, following: str | None = None, key: Key = C) -> Harmony:
    return harmony_of(parse_chord(text), key, None if following is None else
                      parse_chord(following))


def test_there_are_many_devices_to_choose_from() -> None:
    assert len({f.device for f in lines("advanced")}) >= 12
    assert len({f.device for f in lines("intermediate")}) >= 10


def test_the_rhythm_answer_has_the_phrases_rhythm() -> None:
    """Three notes of it at least, at the same place in the beat, on other pitches."""
    onsets = [n.onset_quarter for n in scene("advanced").phrase]
    for fill in of(ANSWER_RHYTHM):
        own = [n.onset_quarter for n in line_of(fill)]
        steps = [b - a for a, b in pairwise(own)]
        heard = [b - a for a, b in pairwise(onsets)]
        assert len(own) >= 3
        assert any(heard[i:i + len(steps)] == steps for i in range(len(heard)))
        assert "rhythm" in fill.reasons[0]
    assert of(ANSWER_RHYTHM)


def test_the_shape_answer_has_the_phrases_shape() -> None:
    """Three intervals of it at least: same directions, sizes within a whole step."""
    midis = [n.midi for n in scene("advanced").phrase]
    heard = [b - a for a, b in pairwise(midis)]
    for fill in of(ANSWER_SHAPE):
        own = [b.midi - a.midi for a, b in pairwise(line_of(fill))]
        assert len(own) >= 3
        assert any(all((a > 0) == (b > 0) and abs(a - b) <= 2 for a, b in
                       zip(heard[i:i + len(own)], own, strict=True))
                   for i in range(len(heard) - len(own) + 1))
        assert "shape" in fill.reasons[0]
    assert of(ANSWER_SHAPE)


def test_a_sequence_says_its_cell_twice() -> None:
    for fill in of(SEQUENCE):
        line = line_of(fill)
        half = len(line) // 2
        first, second = line[:half], line[half:]
        assert ([b.onset_quarter - a.onset_quarter for a, b in pairwise(first)]
                == [b.onset_quarter - a.onset_quarter for a, b in pairwise(second)])
        ups = [[b.midi > a.midi for a, b in pairwise(g)] for g in (first, second)]
        assert ups[0] == ups[1] and first[0].midi != second[0].midi
    assert of(SEQUENCE)


def test_octaves_are_octaves_up_high() -> None:
    for level in ("beginner", "intermediate", "advanced"):
        fills = of("octaves with a rhythm", level)
        for fill in fills:
            by_onset: dict[Fraction, list[int]] = {}
            for note in fill.notes:
                if note.hand == "right":
                    by_onset.setdefault(note.onset_quarter, []).append(note.midi)
            assert all(max(keys) - min(keys) == 12 for keys in by_onset.values())
            assert max(max(keys) for keys in by_onset.values()) >= 76
        assert fills or level == "beginner"


def test_an_enclosure_lies_on_both_sides_of_its_target() -> None:
    for fill in of("enclosure of a target"):
        line = [n.midi for n in line_of(fill)]
        landing = scene("advanced").landing_midi
        assert landing is not None
        if "landing note" in fill.reasons[0]:
            assert (line[-1] - landing) * (line[-2] - landing) < 0
            assert abs(line[-1] - landing) <= 2 and abs(line[-2] - landing) <= 2
    assert of("enclosure of a target")


def test_a_scale_run_runs() -> None:
    for fill in of("scale run", "intermediate"):
        steps = [b.midi - a.midi for a, b in pairwise(line_of(fill))]
        longest = run = 1
        for a, b in pairwise(steps):
            run = run + 1 if abs(a) <= 3 and abs(b) <= 3 and a * b > 0 else 1
            longest = max(longest, run)
        assert longest >= 3
    assert of("scale run", "intermediate")


def test_figures_are_there() -> None:
    """The moves that make a figure stand at the start of the line that is named by it."""
    names = [name for name, _, _ in FIGURES]
    found = [f for f in lines("advanced") if f.device in names]
    assert found
    for fill in found:
        moves = tuple(move_name(b.midi - a.midi) for a, b in pairwise(line_of(fill)))
        turn = names.index(fill.device)
        least = least_moves(turn)
        assert moves[:least] in (figure_moves(turn, False)[:least],
                                 figure_moves(turn, True)[:least])


def test_plans_mix_steps_thirds_and_leaps() -> None:
    """About half steps, a quarter thirds, the rest larger (Weimar Jazz Database)."""
    kinds_of_moves = [m[1] for turn in range(8) for m in plan(24, turn) if len(m) == 2]
    share = {k: kinds_of_moves.count(k) / len(kinds_of_moves) for k in "stl"}
    assert 0.45 <= share["s"] <= 0.65 and 0.2 <= share["t"] <= 0.35 and share["l"] >= 0.08
    assert all(moves.table.shape == (49,) for moves in moves_for(plan(6, 1)))


ALTERED = (("Am7", 4), ("Dm7", 1), ("G7", 7), ("Cmaj7", 4))


def test_altered_colours_are_for_advanced_players_over_chords_that_take_them() -> None:
    melody = [("B4", Fraction(6)), ("C5", Fraction(2))]
    for level in ("beginner", "intermediate", "advanced"):
        context = context_of(chorus_of("4/4", "C", 100, melody, [("G7", 6), ("Cmaj7", 2)]),
                             level=level)
        found = propose_line(context, 80)
        assert not isinstance(found, str)
        fills = [f for f in found if f.device == "altered colours"]
        assert bool(fills) == (level == "advanced")
        for fill in fills:
            tones = {n.midi % 12 for n in line_of(fill)}
            assert len(tones & {8, 10, 1, 3}) >= 2


def test_which_chords_take_the_altered_colours() -> None:
    assert altered_kinds(harmony("G7", "Cmaj7"), 11) is not None
    assert altered_kinds(harmony("G7", "Cmaj7"), 9) is None  # the melody holds a natural ninth
    assert altered_kinds(harmony("G13", "Cmaj7"), None) is None
    assert altered_kinds(harmony("Cmaj7"), None) is None
    assert altered_kinds(harmony("Bb7", "Cmaj7"), None) is None  # the backdoor stays plain


def test_upper_structures_over_a_dominant() -> None:
    """D, E flat's tritone and the rest over C7 (Levine, The Jazz Piano Book, ch. 14): none
    holds the fourth or the major seventh."""
    found = structure_triads(harmony("C7", "Fmaj7"))
    assert len(found) >= 2
    for _, classes in found:
        assert not classes & {5, 11}
    assert frozenset({2, 6, 9}) not in [c for _, c in structure_triads(harmony("C9", "Fmaj7"))]
    assert dict(structure_triads(harmony("Dm7", "G7")))["minor triad on the fifth"] == {9, 0, 4}


def test_chord_tones_tensions_and_notes_to_avoid() -> None:
    """The fourth over a major seventh chord passes, the ninth may be held (Berklee chord
    scale sheet: a half step above a chord tone is to be avoided)."""
    row = kinds(harmony("Cmaj7"), "advanced")
    assert [row[pc] for pc in (0, 4, 7, 11)] == [0, 0, 0, 0]
    assert row[2] == 1 and row[9] == 1 and row[5] == 2 and row[6] == 3
    bare = kinds(harmony("C"), "beginner", C)
    assert bare[0] == bare[4] == bare[7] == 0 and bare[9] == 1
    assert kinds(harmony("F"), "beginner", Key.parse("F"))[11] == 3


def test_pentatonic_scales() -> None:
    name, classes = pentatonic(harmony("Dm7", "G7")) or ("", frozenset())
    assert name == "minor pentatonic" and classes == {2, 5, 7, 9, 0}
    assert pentatonic(harmony("Cdim7")) is None


def test_blues_where_the_tune_bears_it() -> None:
    assert not scene("advanced").blues
    blues = context_of(chorus_of("4/4", "C", 120, [("C5", 4), ("E5", 4)], [("C7", 8)]))
    assert blues.blues and blues_classes(C) == {0, 3, 5, 6, 7, 10}
    minor = context_of(chorus_of("4/4", "Cm", 120, [("C5", 4), ("Eb5", 4)], [("Cm6", 8)]))
    assert minor.blues


@pytest.mark.parametrize(("midis", "chord", "names"), [
    ((75, 76), "Cmaj7", ["D#5", "E5"]), ((73, 72), "Cmaj7", ["Db5", "C5"]),
    ((68, 67), "G7b9", ["Ab4", "G4"]), ((63, 59), "B7", ["D#4", "B3"]),
    ((66, 65), "Bb7", ["Gb4", "F4"]), ((66, 67), "C7", ["F#4", "G4"])])
def test_spelling_follows_chord_and_direction(midis: tuple[int, int], chord: str,
                                              names: list[str]) -> None:
    heard = harmony(chord)
    slots = [Slot(Fraction(i), 0, False, False, kinds(heard, "advanced"), 0) for i in range(2)]
    assert [str(p) for p in spell_line(midis, slots, [heard], None)] == names


def test_the_left_hand_answers_and_does_not_double() -> None:
    """Over four beats with notes on 2, 2&, 3: one stroke where the gap opens, one after the
    line, none with it."""
    chorus = chorus_of("4/4", "C", 120, [("E5", 4), ("D5", 4)], [("Cmaj7", 8)])
    context = context_of(chorus)
    half = Fraction(1, 2)
    line = [Above(o, o + half, 72) for o in (Fraction(1), Fraction(3, 2), Fraction(2))]
    strikes = left_rhythm(context, line, Fraction(4))
    assert strikes[0].onset_quarter == 0 and len(strikes) == 2
    assert strikes[1].again and strikes[1].onset_quarter not in {n.onset_quarter for n in line}


@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_reasons_name_what_is_there(level: str) -> None:
    """Every note name in a reason is a note of the fill, of the landing or of a chord."""
    for fill in lines(level):
        context = scene(level)
        known = {n.pitch.note_name.pretty for n in fill.notes}
        assert context.landing is not None
        known.add(context.landing.pitch.note_name.pretty)
        for reason in fill.reasons:
            for word in reason.replace(",", " ").replace(":", " ").replace(".", " ").split():
                if len(word) <= 2 and word[0] in "BCDEFG" and word[1:] in ("", "♭", "♯"):
                    assert word in known, (fill.device, reason)


def test_many_notes_in_little_room_cost() -> None:
    """Seven notes within a fifth are no journey; six are, or seven that reach farther."""
    cell = next(c for c in cells(scene("intermediate"))
                if not c.problem.repeats_ok and c.problem.landing == 72)
    row = (65, 67, 69, 70, 69, 67, 65)
    staying = _wandering(cell, row) - _wandering(cell, row[:6])
    assert staying > 0
    assert _wandering(cell, (*row[:6], 60)) == _wandering(cell, row[:6])
