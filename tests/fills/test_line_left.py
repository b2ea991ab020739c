"""What the hands do in a line: what lies under it, how quick cells go, how it comes to the landing.

Known answers from common practice unless a source is named.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from tests.fills.builders import chorus_of
from tests.fills.line_rules import line_of

from fillwright import Chorus, Fill, find_gaps, propose

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
    """C, then E and G; or C, G and the E above."""
    seen = set()
    for fill in (*lines(gap([("C", 4)]), 10), *lines(gap([("C", 4)], tempo=66), 10)):
        left = sorted((n.onset_quarter - START, str(n.pitch)) for n in fill.notes
                      if n.hand == "left")
        seen.add(tuple(name for _, name in left[:3]) if left[1][0] else ())
    assert {("C3", "E3", "G3"), ("C3", "G3", "E4")} <= seen


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
    for chords in ([("C", 6)], [("Dm7", 2), ("G7", 3)], [("F7", 5)]):
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
    become sixteenths whose beat is not struck."""
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
                assert not any(t == 3 and (beat, 0) not in ticks for beat, t in ticks), fill.device


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
