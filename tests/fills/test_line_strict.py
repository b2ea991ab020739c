"""What a teacher struck out of lines once: each rule here failed before it was mended."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from fillwright.fills.context import GapContext
from fillwright.fills.line import propose_line
from fillwright.fills.model import Fill
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.harmony import analyse
from fillwright.theory.key import Key
from tests.fills.builders import chorus_of, context_of
from tests.fills.line_rules import line_of

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
