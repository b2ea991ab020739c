"""What the hands do in a line: what lies under it, how quick cells go, how it comes to the landing.

Known answers from common practice unless a source is named.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from tests.fills.builders import chorus_of
from tests.fills.line_rules import line_of

from fillwright import Chorus, Fill, Pitch, find_gaps, propose
from fillwright.fills import ADVANCED, INTERMEDIATE, quickest_tempo
from fillwright.hands import HandNote
from fillwright.tune import Meter

Q = Fraction
START = 3
"""Where the gap opens, in quarters."""


def gap(chords: list[tuple[str, int]], held: str = "E5", tempo: int = 120) -> Chorus:
    """Three notes over G7, then a held note over some chords, and a landing on D5 over C."""
    beats = sum(length for _, length in chords)
    melody: list[tuple[str | None, int]] = [
        ("D5", 1), ("A4", 1), ("B4", 1), (held, beats), ("D5", 4)]
    return chorus_of("4/4", "C", tempo, melody, [("G7", START), *chords, ("C", 4)])


def lines(chorus: Chorus, count: int = 3, level: str = "advanced") -> tuple[Fill, ...]:
    found = propose(chorus, find_gaps(chorus), level=level, families=("line",), numbers=[1],
                    count=count).of(1)
    assert found
    return tuple(found)


def test_one_grip_does_not_stand_under_every_line() -> None:
    """Lines over one plain triad: their left hands differ."""
    for tempo in (66, 120):
        lefts = {tuple((n.onset_quarter, n.midi) for n in fill.notes if n.hand == "left")
                 for fill in lines(gap([("C", 4)], tempo=tempo), 5)}
        assert len(lefts) > 1


def test_the_bass_comes_first_or_the_chord_is_broken_to_the_tenth() -> None:
    """C, then E and G together; or C, then G, then the E above."""
    bass_first = broken = 0
    for fill in (*lines(gap([("C", 4)]), 10), *lines(gap([("C", 4)], tempo=66), 10)):
        struck: dict[Fraction, set[str]] = {}
        for note in sorted(fill.notes, key=lambda n: n.onset_quarter):
            if note.hand == "left":
                struck.setdefault(note.onset_quarter, set()).add(str(note.pitch))
        first, *rest = struck.values()
        if first == {"C3"}:
            bass_first += rest[0] in ({"E3", "G3"}, {"G3", "E4"})
            broken += rest == [{"G3"}, {"E4"}]
    assert bass_first and broken


def test_a_written_bass_line_goes_by_step() -> None:
    for one, two in (("C", "C/B"), ("F", "F/E"), ("Dm", "Dm/C")):
        for fill in lines(gap([(one, 2), (two, 3)]), 4, "intermediate"):
            here, there = (min(n.midi for n in fill.notes if n.hand == "left"
                               and n.onset_quarter == place) for place in (START, START + 2))
            assert 0 < here - there <= 2, (fill.device, one, here, there)


@pytest.mark.parametrize("level", ["beginner", "advanced"])
def test_the_left_hand_stays_below_middle_c_under_a_high_line(level: str) -> None:
    for fill in lines(gap([("F", 5)], "C6"), 6, level):
        for onset in {n.onset_quarter for n in fill.notes if n.hand == "left"}:
            assert min(n.midi for n in fill.notes if n.hand == "left"
                       and n.onset_quarter <= onset < n.end_quarter) < 60


def test_quick_cells_go_by_step_or_under_the_hand() -> None:
    """In triplets and sixteenths no leap of a fourth turns back by a third or more."""
    seen = 0
    for chords in ([("C", 6)], [("Dm7", 2), ("G7", 3)], [("F7", 5)], [("Am7", 6)], [("Bb7", 5)]):
        for fill in lines(gap(chords, tempo=72), 10):
            line = line_of(fill)
            for a, b, c in zip(line, line[1:], line[2:], strict=False):
                if c.onset_quarter - b.onset_quarter <= Q(1, 3) >= (
                        b.onset_quarter - a.onset_quarter):
                    one, two = b.midi - a.midi, c.midi - b.midi
                    seen += 1
                    assert one * two >= 0 or min(abs(one), abs(two)) < 3 or (
                        max(abs(one), abs(two)) < 5), fill.device
    assert seen > 20


def test_the_farther_the_landing_the_longer_the_rest_before_it() -> None:
    """A fourth has a beat of rest, a third half of one."""
    for tempo in (80, 160):
        for fill in lines(gap([("C", 4)], tempo=tempo), 10):
            if "octave" in fill.device or fill.shift is not None:
                continue
            last = line_of(fill)[-1]
            rest = START + 4 - last.end_quarter
            assert abs(last.midi - 74) <= (5 if rest >= 1 else 4 if rest >= Q(1, 2) else 2)


@pytest.mark.slow
def test_the_melody_s_rhythm_can_be_counted_where_it_is_answered() -> None:
    """Triplets over two beats become triplets of one, on a beat; a syncopation of eighths does not
    become sixteenths whose beat is not struck, but for a pickup of all the other three."""
    for cell in ([Q(2, 3)] * 3, [Q(1, 2), Q(1), Q(1, 2)], [Q(3, 2), Q(1, 2)]):
        melody = [(name, length) for name, length in zip(("D5", "C5", "B4"), cell, strict=False)]
        chorus = chorus_of("4/4", "C", 63, [("G4", 4), ("A4", 2), *melody, ("C5", 4), ("B4", 4)],
                           [("C", 16)])
        gaps = find_gaps(chorus)
        number = next(g.number for g in gaps if g.onset_quarter == 8)
        for level in ("intermediate", "advanced"):
            for fill in propose(chorus, gaps, level=level, families=("line",), numbers=[number],
                                count=20).of(number):
                ticks = {(int(n.onset_quarter), int(n.onset_quarter * 12 % 12))
                         for n in line_of(fill)}
                assert not {2, 10} & {t for _, t in ticks}, fill.device
                assert not any(t == 3 and (beat, 0) not in ticks
                               and not {(beat, 6), (beat, 9)} <= ticks
                               for beat, t in ticks), fill.device


@pytest.mark.parametrize(("key", "held", "chord", "goal", "name"), [
    ("Gb", "Cb5", "Abdim7", "Gb6", "Cb"), ("Ebm", "Bb4", "Fdim7", "Ebm", "Cb"),
    ("C", "D5", "Fdim7", "C", "B")])
def test_a_diminished_chord_has_plain_names_but_those_of_its_key(
        key: str, held: str, chord: str, goal: str, name: str) -> None:
    """Key 11 is C flat where six flats are printed, or the tune itself has it, else B."""
    chorus = chorus_of("4/4", key, 120, [(held, 4), ("Bb4", 4)], [(chord, 4), (goal, 4)])
    named = {str(n.pitch.note_name) for fill in lines(chorus, 6) for n in fill.notes
             if n.midi % 12 == 11 and n.onset_quarter < 4}
    assert named == {name}


def last_line(chord: str, held: str, key: str, tempo: int, level: str) -> tuple[Fill, ...]:
    """Lines over the last chord of a tune, two bars of it."""
    chorus = chorus_of("4/4", key, tempo, [("D5", 1), ("A4", 1), ("F4", 1), ("B4", 1), (held, 8)],
                       [("G7", 4), (chord, 8)])
    return tuple(propose(chorus, find_gaps(chorus), level=level, families=("line",), numbers=[1],
                         count=4).of(1))


@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
@pytest.mark.parametrize(("chord", "held"), [("C6", "E5"), ("C6", "A5"), ("Cmaj7", "C5")])
def test_a_sixth_chord_is_not_heard_as_its_relative_minor(chord: str, held: str, level: str
                                                          ) -> None:
    """C, E and A without a G or B in either hand are A minor."""
    for fill in lines(gap([(chord, 4)], held), 4, level):
        keys = {n.midi % 12 for n in fill.notes if n.onset_quarter < START + 4}
        assert keys != {0, 4, 9}, fill.device


@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
@pytest.mark.parametrize("tempo", [63, 132])
def test_the_last_sound_of_a_tune_is_its_chord(tempo: int, level: str) -> None:
    """What rings at the end has the third, is no other triad, and is more than a bass."""
    for chord, held in (("C6", "C6"), ("C", "C5"), ("C6", "G5"), ("Cmaj7", "E5")):
        for fill in last_line(chord, held, "C", tempo, level):
            end = max(n.end_quarter for n in fill.notes)
            ringing = [n for n in fill.notes if n.end_quarter == end]
            classes = {n.midi % 12 for n in ringing}
            assert 4 in classes and classes != {0, 4, 9}, (chord, fill.device)
            assert any(n.hand == "left" and n.midi % 12 != 0 for n in ringing), fill.device
            if level == "beginner":
                for onset in {n.onset_quarter for n in fill.notes}:
                    assert sum(n.hand == "left" and n.onset_quarter == onset
                               for n in fill.notes) <= 3


def test_a_low_root_comes_before_the_last_chord() -> None:
    """Where there is time the root lies an octave lower, with the line's last note, and the chord
    that rings comes over it."""
    found = 0
    for fill in last_line("F6", "A4", "F", 63, "intermediate"):
        left = sorted((n.onset_quarter, n.midi) for n in fill.notes if n.hand == "left")
        places = sorted({onset for onset, _ in left})
        before, last = ([m for onset, m in left if onset == place] for place in places[-2:])
        found += before == [41] and len(last) > 1 and places[-2] == line_of(fill)[-1].onset_quarter
    assert found


def test_a_beginner_s_answer_has_no_sixteenths_and_nobody_s_a_snap() -> None:
    """An eighth and a dotted quarter twice as fast would be a sixteenth and a dotted eighth."""
    chorus = chorus_of("4/4", "C", 60, [
        ("G4", 4), ("E5", 2), ("D5", Q(1, 2)), ("B4", Q(3, 2)), ("C5", 4), ("B4", 4)], [("C", 16)])
    gaps = find_gaps(chorus)
    number = next(g.number for g in gaps if g.onset_quarter == 8)
    for level in ("beginner", "intermediate", "advanced"):
        for fill in propose(chorus, gaps, level=level, families=("line",), numbers=[number],
                            count=20).of(number):
            onsets = [n.onset_quarter for n in line_of(fill)]
            if level == "beginner":
                assert all(onset.denominator <= 2 for onset in onsets), fill.device
            assert not any(a.denominator == 1 and b - a == Q(1, 4) and c - b > Q(1, 2)
                           for a, b, c in zip(onsets, onsets[1:], [*onsets[2:], Q(12)],
                                              strict=False)), fill.device


def test_two_voices_go_on_together_into_the_next_chord() -> None:
    """Neither voice is held over a change as the fourth of a major chord: a flat nine over its
    third."""
    chorus = chorus_of("4/4", "Eb", 120, [("Bb5", 1), ("G5", 1), ("Eb5", 8)],
                       [("Eb6", 4), ("Abm", 2), ("Eb", 4)])
    held = 0
    for fill in propose(chorus, find_gaps(chorus), level="intermediate", families=("line",),
                        numbers=[1], count=60).of(1):
        for note in fill.notes:
            if note.hand == "right" and note.onset_quarter < 6 < note.end_quarter:
                held += 1
                assert (note.midi - 63) % 12 != 5, fill.device
    assert held


def test_in_halves_every_half_is_a_main_beat() -> None:
    """In three halves a foreign note stands on no half, as it does on no first beat."""
    chorus = chorus_of("3/2", "G", 126, [("G4", 1), ("B4", 1), ("D5", 4), ("B4", 6)], [("G", 12)])
    for fill in propose(chorus, find_gaps(chorus), level="advanced", families=("line",),
                        numbers=[1], count=30).of(1):
        for note in line_of(fill):
            if note.onset_quarter % 2 == 0:
                assert note.midi % 12 in {0, 2, 4, 6, 7, 9, 11}, fill.device


def test_those_who_alter_chords_are_given_more_than_a_scale() -> None:
    """Four notes by step, one way, in one value stand back for the advanced."""
    for chord in ("C6", "Dm7", "F7", "Gmaj7"):
        for tempo in (72, 132):
            for fill in lines(gap([(chord, 4)], tempo=tempo)):
                line = line_of(fill)
                moves = {b.midi - a.midi for a, b in pairwise(line)}
                values = {b.onset_quarter - a.onset_quarter for a, b in pairwise(line)}
                assert (len(line) < 4 or len(values) > 1 or max(map(abs, moves)) > 2
                        or min(moves) < 0 < max(moves)), fill.device


def test_the_advanced_break_no_bare_triad_first() -> None:
    """Where there is room for more, a first line is not the tones of one triad by thirds and
    wider."""
    for chord in ("C", "F", "G"):
        for tempo in (120, 200):
            line = line_of(lines(gap([(chord, 4)], tempo=tempo), 1)[0])
            root = Pitch.parse(f"{chord}4").midi
            assert (any((n.midi - root) % 12 not in (0, 4, 7) for n in line)
                    or any(abs(b.midi - a.midi) < 3 for a, b in pairwise(line))), chord


def test_no_major_third_where_the_tune_sings_the_minor_one() -> None:
    chorus = chorus_of("4/4", "D", 120, [("A4", 1), ("F5", 3), ("F5", 4), ("E5", 4)],
                       [("D", 8), ("A7", 4)])
    seen = 0
    for level in ("intermediate", "advanced"):
        for fill in propose(chorus, find_gaps(chorus), level=level, families=("line",),
                            count=20).fills:
            if any("sings F over D" in reason for reason in fill.reasons):
                seen += 1
                assert not any(n.midi % 12 == 6 for n in line_of(fill) if n.onset_quarter < 8)
    assert seen > 10


@pytest.mark.parametrize("level", ["beginner", "intermediate"])
def test_a_dominant_has_its_seventh(level: str) -> None:
    """In one hand or the other, or in the tune."""
    without = [(held, tempo, fill.device) for held in ("D5", "B4", "G5") for tempo in (60, 120)
               for fill in lines(gap([("G7", 4)], held, tempo), 6, level)
               if not any(n.midi % 12 == 5 for n in fill.notes)]
    assert not without


@pytest.mark.parametrize(("meter", "most"), [("4/4", 159), ("3/4", 135)])
def test_sixteenths_have_a_tempo_at_which_they_end(meter: str, most: int) -> None:
    """What is printed as the fastest tempo, and what is played there."""
    home = Meter(int(meter[0]), 4)
    row = [HandNote(Q(k, 4), Q(1, 4), Pitch.parse(name), "right", 1 + k, "fill")
           for k, name in enumerate(("C5", "D5", "E5", "F5"))]
    slow = [replace(n, onset_quarter=2 * n.onset_quarter) for n in row]
    for notes, level, limit in ((row, ADVANCED, most), (row, INTERMEDIATE, 89)):
        assert quickest_tempo(notes, "medium", level, home) == limit
    assert (quickest_tempo(slow, "medium", ADVANCED, home) or 0) > most
    bar = home.length_quarter
    for tempo in (most - 30, most + 10):
        chorus = chorus_of(meter, "C", tempo, [("D5", Q(1, 2)), ("E5", Q(1, 2)), ("C5", Q(1, 2)),
                                               ("E5", 2 * bar - Q(3, 2)), ("D5", bar)],
                           [("C6", 2 * bar), ("G7", bar)])
        found = propose(chorus, find_gaps(chorus), level="advanced", families=("line",), count=40)
        quick = [fill for fill in found.fills if any(
            b.onset_quarter - a.onset_quarter <= Q(1, 4) for a, b in pairwise(line_of(fill)))]
        assert bool(quick) == (tempo < most)


def test_a_bass_that_the_hand_leaves_has_the_beat() -> None:
    """Over a melody note that comes off the beat no root is struck alone and left at once for keys
    beyond an octave above it."""
    alone = 0
    for chord in ("F", "Bb7", "Gm7"):
        melody = [("D5", Q(1)), ("A4", Q(3, 2)), ("F5", Q(11, 2)), ("E5", Q(4))]
        chorus = chorus_of("4/4", "F", 132, melody, [(chord, 8), ("C7", 4)])
        for fill in propose(chorus, find_gaps(chorus), level="advanced", families=("line",),
                            numbers=[1], count=20).of(1):
            left = sorted((n for n in fill.notes if n.hand == "left"),
                          key=lambda n: (n.onset_quarter, n.midi))
            first, then = left[0], left[1]
            alone += first.onset_quarter < then.onset_quarter
            top = max(n.midi for n in left if n.onset_quarter == then.onset_quarter)
            assert first.end_quarter > then.onset_quarter or top - first.midi <= 12, (
                chord, fill.device)
    assert alone
