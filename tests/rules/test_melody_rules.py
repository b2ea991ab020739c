"""What the melody asks of what is played around it: broken and kept, rule by rule."""

from __future__ import annotations

from fractions import Fraction as F
from itertools import pairwise

import pytest
from tests.hands.key_notes import key

from fillwright import ChordSymbol, HandNote, Key
from fillwright.rules import (
    AVOID,
    COVERED,
    HEARD_FIRST,
    HOLE,
    LANDING,
    MUD,
    PEDALLED,
    RUB,
    Chords,
    FillSpan,
    HeardChord,
    MelodySpan,
    Passage,
    Rule,
    findings,
)
from fillwright.rules.harmony import under_its_root
from fillwright.theory import harmony_of

HELD = key(0, 4, 72, 5, role="melody")
ROOM = (FillSpan(1, F(0), F(4), F(5)),)


def clean(rule: Rule, *notes: HandNote, held: HandNote = HELD, until: int = 4,
          by_pedal: bool = False, chords: Chords | None = None) -> bool:
    span = MelodySpan(held.onset_quarter, F(until), held.midi, F(1), by_pedal)
    passage = Passage((held, *notes), "medium", 0.5, chords or Chords(), (span,),
                      ((held.onset_quarter, F(4), held.midi),), ROOM)
    assert rule.applies(passage) and rule.tried(passage) > 0
    return not findings(passage, [rule])


def test_heard_first() -> None:
    short = key(0, 1, 72, 5, role="melody")
    assert clean(HEARD_FIRST, key(0, 1, 64, 1))  # with it
    assert clean(HEARD_FIRST, key("1/2", 1, 64, 1))  # under it, while its key is down
    assert clean(HEARD_FIRST, key("1/2", 1, 48, 1, "left"))
    assert clean(HEARD_FIRST, key(1, 1, 76, 1), held=short, until=1)
    assert not clean(HEARD_FIRST, key("1/2", 1, 76, 1))
    let_go = key(0, "1/2", 72, 5, role="melody")
    assert not clean(HEARD_FIRST, key("1/2", 1, 64, 1), held=let_go, until=1)


def test_covered() -> None:
    assert clean(COVERED, key(1, 1, 71, 1), key(1, 1, 60, 1, "left"))
    assert not clean(COVERED, key(1, 1, 74, 1))  # its hand, its key still down
    assert not clean(COVERED, key(1, 1, 72, 1, "left"))
    pedalled = key(0, 1, 72, 5, role="melody")
    assert clean(COVERED, key(1, 1, 74, 1), held=pedalled, by_pedal=True)
    assert not clean(COVERED, key(1, 1, 74, 1, "left"), held=pedalled, by_pedal=True)
    assert not clean(COVERED, key(1, 1, 72, 1), held=pedalled, by_pedal=True)
    late = key(2, 2, 72, 5, role="melody")
    assert not clean(COVERED, key(1, 2, 74, 1), held=late)  # rings over where it is struck
    assert clean(COVERED, key(1, 1, 74, 1), held=late)


def test_pedalled() -> None:
    key_up = key(0, 1, 72, 5, role="melody")

    def chords(*places: int) -> Chords:
        return Chords(tuple(HeardChord(F(a), F(b), ChordSymbol.parse("C"))
                            for a, b in pairwise(places)))

    assert clean(PEDALLED, key(1, 3, 64, 1), held=key_up, by_pedal=True, chords=chords(0, 4))
    assert not clean(PEDALLED, key(1, 3, 64, 1), held=key_up, by_pedal=True,
                     chords=chords(0, 2, 4))
    assert clean(PEDALLED, held=key_up, until=2, by_pedal=True, chords=chords(0, 2, 4))
    assert not clean(PEDALLED, key(1, "1/2", 64, 1), held=key_up, by_pedal=True)


@pytest.mark.parametrize(("onset", "length", "hand", "kept"), [
    (0, 4, "right", True), (3, 1, "right", True), (3, 2, "left", True),
    (3, 2, "right", False), (4, 1, "left", False), (3, 3, "left", False)])
def test_landing(onset: int, length: int, hand: str, kept: bool) -> None:
    assert clean(LANDING, key(onset, length, 60, 1, hand)) == kept


def test_avoid_notes() -> None:
    """C is the flat thirteenth of E-7, and a tension of B flat 7 (Chord Scale Summation,
    Berklee)."""
    def over(text: str, added: bool = True) -> Chords:
        symbol = ChordSymbol.parse(text)
        return Chords((HeardChord(F(0), F(2), ChordSymbol.parse("C")), HeardChord(
            F(2), F(4), symbol, added, harmony_of(symbol, Key(0), None)),
            HeardChord(F(4), F(5), ChordSymbol.parse("F"), True)))
    assert not clean(AVOID, chords=over("Em7"))
    assert clean(AVOID, chords=over("Em7"), until=2)
    assert clean(AVOID, chords=over("Em7", added=False))  # the sheet has it so
    assert clean(AVOID, chords=over("Bb7"))
    late = key("7/2", 2, 72, 5, role="melody")
    assert clean(AVOID, held=late, until=5, chords=over("Em7"))  # pushed: it is the next one's


def test_a_major_seventh_under_its_root_becomes_the_sixth() -> None:
    chord = harmony_of(ChordSymbol.parse("Cmaj7"), Key(0), None)
    assert under_its_root(chord, None) == under_its_root(chord, 76) == chord
    played = under_its_root(chord, 72)
    assert "7" not in played.tones + played.tensions and "6" in played.tones
    dominant = harmony_of(ChordSymbol.parse("C7"), Key(0), None)
    assert under_its_root(dominant, 72) == dominant
    # what is left has no tone that rubs the root in any octave
    classes = [(played.root.pitch_class + step) % 12 for step in (0, 4, 7, 9)]
    assert not RUB.among([36 + pc for pc in classes], 72) and RUB.among([47], 72)


def test_holes_and_mud_are_found_where_they_begin() -> None:
    assert not HOLE.breaks(53, 77) and HOLE.breaks(53, 79)
    triples = [(a, b, c) for a in range(24, 53) for b in range(a + 1, a + 18)
               for c in range(b + 1, b + 18)]
    assert all(MUD.cost(keys) for keys in triples if MUD.pairs(keys))
