"""Shared options are the same as computed ones."""

from __future__ import annotations

from tests.fills.builders import chorus_of

from fillwright.fills.model import FAMILIES
from fillwright.fills.propose import propose, propose_gap
from fillwright.fills.situation import make_context
from fillwright.tune.gaps import find_gaps


def test_a_repeated_phrase_has_the_options_it_would_have_alone() -> None:
    melody: list[tuple[str | None, int]] = [("E5", 1), ("D5", 1), ("C5", 2)] * 3
    chords = [("Dm7", 2), ("G7", 2), ("Cmaj7", 4)]
    chorus = chorus_of("4/4", "C", 120, [*melody, ("A4", 4)], [*chords, *chords])
    gaps = find_gaps(chorus)
    proposal = propose(chorus, gaps, count=2)
    for gap in gaps:
        context = make_context(chorus, gaps, gap.number, level="intermediate", hand="medium")
        for family in FAMILIES:
            alone = propose_gap(context, family, 2)
            shared = proposal.of(gap.number, family)
            assert shared == (() if isinstance(alone, str) else alone)
