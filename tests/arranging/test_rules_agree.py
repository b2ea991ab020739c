"""What is offered breaks no rule: the audit, which knows only the notes, agrees with what was
asked of each draft."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st
from tests.fills.builders import chorus_of

from fillwright import find_gaps, propose
from fillwright.arranging.audit import audit_fill
from fillwright.arranging.texture import held_note
from fillwright.hands import HAND_SIZES, LEVELS

pytestmark = pytest.mark.slow

CHORDS = st.sampled_from(["Cmaj7", "C7", "C9", "C13", "F7", "G7", "G7b9", "G7sus4", "Dm7", "Am7",
                          "Bm7b5", "E7", "A7b9", "Db7", "Bdim7", "C6"])
HELD = st.sampled_from(["G4", "A4", "Bb4", "C5", "Db5", "D5", "E5", "F5"])


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow],
          phases=(Phase.explicit, Phase.generate))
@given(chord=CHORDS, goal=CHORDS, held=HELD, level=st.sampled_from(LEVELS),
       hand=st.sampled_from(HAND_SIZES), tempo=st.sampled_from([66, 132, 216]))
@example("F7", "F7", "C5", "intermediate", "large", 216)  # a substitute into the landing's chord
def test_what_is_offered_has_no_finding(chord: str, goal: str, held: str, level: str, hand: str,
                                        tempo: int) -> None:
    chorus = chorus_of("4/4", "C", tempo, [(held, 4), ("E5", 1), ("D5", 1), ("C5", 6)],
                       [(chord, 4), (goal, 4), ("Cmaj7", 4)])
    gaps = find_gaps(chorus)
    for fill in propose(chorus, gaps, level=level, hand=hand, count=2).fills:
        gap = gaps[fill.gap - 1]
        before = () if gap.held is None else (
            replace(held_note(fill, gap.held), finger=fill.melody_finger),)
        found = audit_fill(fill, before, chorus, gap, hand).findings
        assert not found, (fill.device, found)


@pytest.mark.parametrize(("alter", "octave"), [(-1, 4), (-1, 5), (1, 5)])
def test_a_note_moved_to_a_half_step_is_found(alter: int, octave: int) -> None:
    """Each fill of a gap with one of its notes a half step beside the held melody note, or a minor
    ninth below it."""
    chorus = chorus_of("4/4", "C", 120, [("E5", 4), ("D5", 4)], [("C6", 4), ("G7", 4)])
    gaps = find_gaps(chorus)
    for fill in propose(chorus, gaps, numbers=[1], count=1).fills:
        gap = gaps[0]
        assert gap.held is not None
        wrong = replace(fill.notes[0], onset_quarter=gap.onset_quarter,
                        pitch=replace(gap.held.pitch, alter=alter, octave=octave), finger=None)
        own = replace(fill, notes=tuple(sorted((wrong, *fill.notes[1:]), key=lambda n: (
            n.onset_quarter, n.midi))))
        found = audit_fill(own, (held_note(fill, gap.held),), chorus, gap, "medium")
        assert found.of("rubs"), fill.device
