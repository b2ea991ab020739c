"""What a teacher struck out of lines once: each rule here failed before it was mended."""

from __future__ import annotations

from itertools import pairwise

import pytest
from tests.fills.builders import chorus_of, context_of
from tests.fills.line_rules import line_of

from fillwright.fills.context import GapContext
from fillwright.fills.line import propose_line
from fillwright.fills.model import Fill
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.harmony import analyse
from fillwright.theory.key import Key

C = Key.parse("C")


def held_over(chord: str, held: str = "E5", level: str = "advanced", beats: int = 4,
              landing: str | None = "D5", tempo: int = 120, key: str = "C") -> GapContext:
    """A held note over one chord, and a landing a step away (None: the tune ends)."""
    melody: list[tuple[str | None, int]] = [(held, beats)]
    if landing is not None:
        melody.append((landing, 4))
    chorus = chorus_of("4/4", key, tempo, melody, [(chord, beats + (4 if landing else 0))])
    return context_of(chorus, level=level)


def lines(context: GapContext, count: int = 3) -> tuple[Fill, ...]:
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
