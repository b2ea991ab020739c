"""The low root of an ending: how it gets there, and when it does not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

from tests.fills.builders import chorus_of
from tests.sound.played_scores import chord, fill_of

from fillwright import ChordSymbol, Fill, HandNote, find_gaps
from fillwright.arranging.ending import grounded, stands_low
from fillwright.tune import ChordSpan

CHORUS = chorus_of("4/4", "C major", 120, [("D5", 2), ("E5", 2), ("C5", 4)], [("G7", 4), ("C6", 4)])
GAP = find_gaps(CHORUS)[-1]
RIGHT = chord("E4 A4", 5, 3, "right", "fill", GAP.number)


def left(pitches: str, onset: int, duration: int) -> list[HandNote]:
    return chord(pitches, onset, duration, "left", "fill", GAP.number)


def fill(notes: Sequence[HandNote]) -> Fill:
    made = fill_of(GAP, notes, "comp", "released", 5)
    return replace(made, chords=(ChordSpan(GAP.onset_quarter, GAP.duration_quarter,
                                           ChordSymbol.parse("C6")),))


def ways(made: Fill) -> list[str]:
    """The left hand of each way, the keys of a stroke joined by a point."""
    found = []
    for one in grounded(made, GAP, CHORUS, "medium"):
        assert stands_low(one) and len(one.reasons) == 1
        strokes = groupby((n for n in one.notes if n.hand == "left"),
                          key=lambda n: n.onset_quarter)
        found.append(" ".join(".".join(str(n.pitch) for n in keys) + f"@{onset}"
                              for onset, keys in strokes))
    return found


def test_the_last_root_goes_down_as_far_as_the_hand_reaches() -> None:
    assert ways(fill([*RIGHT, *left("C3", 4, 4)]))[0] == "C2@4"
    assert ways(fill([*RIGHT, *left("C3 E3", 4, 1)]))[0] != "C2.E3@4"   # a tenth and more
    assert ways(fill([*RIGHT, *left("C4", 4, 4)]))[0] == "C2@4"     # by two octaves


def test_the_last_chord_on_its_root_counts_where_others_follow() -> None:
    assert ways(fill([*RIGHT, *left("C3", 4, 2), *left("G2 E3", 6, 2)]))[0] == "C2@4 G2.E3@6"


def test_a_bass_then_the_chord() -> None:
    assert "C2@4 E3.A3@5" in ways(fill([*RIGHT, *left("E3 A3", 4, 4)]))


def test_a_root_after_the_chord_or_in_its_place() -> None:
    found = ways(fill([*RIGHT, *left("E3 A3", 4, 1)]))
    assert found[0] == "E3.A3@4 C2.C3@5" and found[-1] == "C2.C3@4"  # in octaves: E4 is far above
    no_third = ways(fill([*chord("G3 A4", 5, 3, "right", "fill", GAP.number),
                          *left("E3 A3", 4, 1)]))
    assert no_third == ["E3.A3@4 C2@5"]     # alone it would not tell the chord


def test_what_stands_low_or_goes_on_is_left_alone() -> None:
    low = fill([*RIGHT, *left("C2", 4, 4)])
    assert stands_low(low) and not ways(low)
    goes_on = replace(GAP, landing=CHORUS.melody[0])
    assert not list(grounded(fill([*RIGHT, *left("C3", 4, 4)]), goes_on, CHORUS, "medium"))
