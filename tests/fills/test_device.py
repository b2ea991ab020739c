"""Worked examples as text: read, moved to other keys, heard."""

from __future__ import annotations

from fractions import Fraction

import pytest
from tests.fills.builders import chorus_of, context_of

from fillwright.fills.devices.device import Example, passage_of
from fillwright.fills.draft import Draft, DraftChord, DraftNote
from fillwright.fills.idea import Idea
from fillwright.fills.model import HeldEnd
from fillwright.theory.key import Key
from fillwright.theory.pitch import Interval, Pitch

EXAMPLE = Example("Dm7 2, +Db7 2", "0 2 D3 C4, 2 2 Db3 Cb4", "0 2 F4, 2 2 F4", "Cmaj7 E5", "A4")


def test_an_example_is_read() -> None:
    passage = EXAMPLE.passage()
    assert [(str(c.harmony.symbol), float(c.onset_quarter), float(c.end_quarter), c.added)
            for c in passage.chords] == [("Dm7", 0.0, 2.0, False), ("Db7", 2.0, 4.0, True)]
    assert passage.struck() == ((Fraction(0), (50, 60, 65)), (Fraction(2), (49, 59, 65)))
    assert passage.struck("right") == ((Fraction(0), (65,)), (Fraction(2), (65,)))
    assert (str(passage.held), str(passage.landing)) == ("A4", "E5")
    assert passage.goal is not None and str(passage.goal.symbol) == "Cmaj7"
    assert str(passage.chord_at(Fraction(3)).harmony.symbol) == "Db7"


@pytest.mark.parametrize("semitones", range(12))
def test_an_example_is_moved(semitones: int) -> None:
    steps = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)[semitones]
    plain, moved = EXAMPLE.passage(), EXAMPLE.passage(Interval(steps, semitones))
    assert [n.midi - semitones for n in moved.notes] == [n.midi for n in plain.notes]
    for one, other in zip(plain.chords, moved.chords, strict=True):
        assert (other.harmony.root.pitch_class - semitones - one.harmony.root.pitch_class) % 12 == 0
        assert other.harmony.symbol.kind == one.harmony.symbol.kind
        assert other.harmony.function == one.harmony.function


def test_a_draft_is_heard_from_the_gaps_onset_on() -> None:
    context = context_of(chorus_of("4/4", "C", 120, [("E4", 4), ("A4", 4), ("E5", 4)],
                                   [("Cmaj7", 4), ("Dm7", 4), ("Cmaj7", 4)]), 2)
    harmony, start = context.spans[0].harmony, context.onset_quarter
    draft = Draft("reharm", "walk", (DraftNote(start, Fraction(2), Pitch.parse("D3"), "left"),),
                  (DraftChord(start, context.end_quarter, harmony),), (), (),
                  Idea((), (), "", 0), HeldEnd("finger", context.end_quarter))
    passage = passage_of(context, draft)
    assert passage.struck() == ((Fraction(0), (50,)),)
    assert passage.chords[0].onset_quarter == 0 and passage.key == Key.parse("C")
    assert (str(passage.held), str(passage.landing)) == ("A4", "E5")
