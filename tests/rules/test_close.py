"""Keys that stand too close in a chord. Check values are common practice."""

from __future__ import annotations

import pytest

from fillwright import ChordSymbol, HandNote, Key, Pitch
from fillwright.exact import Fraction
from fillwright.rules import CROWDED, HARSH, Chords, HeardChord, Passage
from fillwright.theory import harmony_of


def struck(chord: str, keys: str) -> Passage:
    symbol = ChordSymbol.parse(chord)
    harmony = harmony_of(symbol, Key(0), None)
    notes = tuple(HandNote(Fraction(0), Fraction(2), Pitch.parse(name),
                           "left" if place < 2 else "right", None, "fill")
                  for place, name in enumerate(keys.split()))
    return Passage(notes, "medium", 0.5, Chords((HeardChord(Fraction(0), Fraction(2), symbol, True,
                                                             harmony),)))


@pytest.mark.parametrize(("chord", "keys", "crowded", "harsh"), [
    ("C7", "C3 Bb3 E4 A4", False, False),       # a dominant with its thirteenth
    ("C7", "C3 D3 E4 Bb4", True, False),        # a whole step below E flat 3
    ("Cmaj7", "C3 G3 B4 C5", True, False),      # the seventh right under the doubled root
    ("C7#9", "C3 Bb3 Eb4 E4", True, True),      # the sharp nine right under the third
    ("C7b9", "C3 Bb3 C4 Db4", True, True),      # the flat nine right on the root
    ("C7b9", "C3 Bb3 Db4 E4", False, False),
    ("F", "F2 Ab2 A2 C4", True, True)])         # a cluster low down
def test_what_stands_too_close(chord: str, keys: str, crowded: bool, harsh: bool) -> None:
    passage = struck(chord, keys)
    assert bool(list(CROWDED.findings(passage))) == crowded
    assert bool(list(HARSH.findings(passage))) == harsh
    assert CROWDED.applies(passage) and CROWDED.tried(passage) == 1


def test_nothing_is_asked_where_no_chord_is_heard() -> None:
    assert not CROWDED.applies(Passage((), "medium", 0.5))
