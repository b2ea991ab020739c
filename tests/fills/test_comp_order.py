"""What of comping stands back behind the rest: what is far harder, and a top line without a
shape (common practice)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.fills.builders import chorus_of, one_task, options_of

from fillwright import Pitch
from fillwright.fills import player_of
from fillwright.fills.devices.comp.family import COMP, _turnings
from fillwright.fills.devices.comp.search import FoundHands
from fillwright.fills.player import ALL_LEVELS, Level
from fillwright.fills.voicing.voicings import Voicing


@pytest.mark.parametrize("level", ALL_LEVELS)
def test_what_is_far_harder_than_the_rest_stands_back(level: Level) -> None:
    task = one_task(chorus_of("4/4", "C", 120, [("E5", 4), ("D5", 4)], [("Cmaj7", 4), ("G7", 4)]))
    found = options_of(task, "comp", 1)
    assert not isinstance(found, str)
    player = player_of(level.name, "medium")
    assert COMP.suits(replace(found[0], difficulty=level.at_ease), player)
    assert not COMP.suits(replace(found[0], difficulty=level.at_ease + 1), player)


@pytest.mark.parametrize(("tops", "times"), [
    ("C5 D5 E5 F5", 0), ("C5 E5 D5 C5", 1), ("C5 E5 D5 G5", 2), ("C5 C5 D5 D5 C5", 1)])
def test_a_line_of_tops_turns(tops: str, times: int) -> None:
    right = tuple(Voicing("one", ("3",), (Pitch.parse(top),), 0) for top in tops.split())
    assert _turnings(FoundHands((), right, ())) == times
