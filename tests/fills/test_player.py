"""Levels and hands as values, and that nobody else asks for their names."""

from __future__ import annotations

import pickle
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from fillwright import InputError
from fillwright.fills import (
    ADVANCED,
    ALL_LEVELS,
    BEGINNER,
    INTERMEDIATE,
    LARGE,
    Level,
    hand_of,
    level_of,
    player_of,
)
from fillwright.hands import HAND_SIZES, LEVELS

PACKAGE = Path(__file__).resolve().parents[2] / "src" / "fillwright"


def test_every_name_has_its_value() -> None:
    assert tuple(level.name for level in ALL_LEVELS) == LEVELS
    assert [level_of(name) for name in LEVELS] == list(ALL_LEVELS)
    assert [level.rank for level in ALL_LEVELS] == [0, 1, 2]
    assert [hand_of(name).name for name in HAND_SIZES] == list(HAND_SIZES)
    assert player_of("advanced", "large").level is ADVANCED
    assert player_of("advanced", "large").hand is LARGE


@pytest.mark.parametrize(("level", "hand", "said"), [
    ("expert", "medium", "'expert' is no level"), ("beginner", "huge", "'huge' is no hand")])
def test_another_name_is_said_to_be_none(level: str, hand: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        player_of(level, hand)


def test_more_is_asked_of_a_higher_level() -> None:
    for low, high in pairwise(ALL_LEVELS):
        assert high.is_taught(low) and not low.is_taught(high)
        assert low.difficulty < high.difficulty and low.line.rate < high.line.rate
        assert low.voicing.palette < high.voicing.palette
        assert low.reharm.least_chord_sec > high.reharm.least_chord_sec
        assert low.base.lowest > high.base.lowest
        assert set(low.rhythm.density) == set(high.rhythm.density) == set(low.rhythm.pull)
        for style, density in low.rhythm.density.items():
            assert density <= high.rhythm.density[style]
            assert low.rhythm.pull[style][1] <= high.rhythm.pull[style][1]


def test_a_level_is_equal_by_value_and_goes_to_another_process() -> None:
    again = pickle.loads(pickle.dumps(INTERMEDIATE))
    assert again == INTERMEDIATE and hash(again) == hash(INTERMEDIATE)
    busier = replace(BEGINNER, difficulty=(0, 39))
    assert busier != BEGINNER
    with pytest.raises(ValueError, match="no level"):
        replace(BEGINNER, difficulty=(50, 40))
    assert repr(ADVANCED) == "<level advanced>" and isinstance(busier, Level)


def test_what_is_easy_for_one_level_is_hard_for_another() -> None:
    for difficulty, ease in ((36, (4, 2, 1)), (64, (4, 4, 2)), (9, (0, 0, 0)), (91, (4, 4, 4))):
        assert tuple(level.ease(difficulty) for level in ALL_LEVELS) == ease, difficulty


def test_a_small_beginners_hand_is_spared() -> None:
    keys = {(level, hand): player_of(level, hand).most_base_keys
            for level in LEVELS for hand in HAND_SIZES}
    assert [pair for pair, most in keys.items() if most < 4] == [("beginner", "small")]


_ASKS = re.compile(r'[=!]= *"(?:beginner|intermediate|advanced|small|large)"'
                   r'|"(?:beginner|intermediate|advanced)" *:')


def test_nobody_asks_for_the_name_of_a_level_or_hand() -> None:
    found = [f"{path.relative_to(PACKAGE)}: {line.strip()}"
             for part in ("fills", "arranging", "score")
             for path in sorted((PACKAGE / part).rglob("*.py"))
             for line in path.read_text(encoding="utf-8").splitlines() if _ASKS.search(line)]
    assert found == []
