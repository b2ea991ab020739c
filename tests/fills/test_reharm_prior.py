"""What is learnt from changes: what it says of plain cadences, in every key, and of a tune."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright.fills.devices.reharm.own import Standing, own_chords
from fillwright.fills.devices.reharm.prior import (
    CHORDS,
    Around,
    OwnChord,
    chances,
    cost,
    parsed,
    tables,
)

CHORD = st.tuples(st.integers(0, 11), st.sampled_from("Mm7ho"))
TONALITY = st.tuples(st.integers(0, 11), st.sampled_from(["major", "minor"]))
AROUND = st.builds(Around, here=CHORD, goal=CHORD, key=TONALITY, here_key=TONALITY, home=TONALITY,
                   before=st.none() | CHORD, after=st.none() | CHORD, place=st.integers(0, 2),
                   beats=st.integers(1, 4), note=st.none() | st.integers(0, 11))
C_MAJOR = (0, "major")


def in_c(here: tuple[int, str], goal: tuple[int, str]) -> Around:
    return Around(here, goal, C_MAJOR, C_MAJOR, C_MAJOR)


def first(around: Around, *ways: OwnChord) -> tuple[int, str]:
    return CHORDS[int(np.argmax(chances(around, tables(), ways)))]


@pytest.mark.parametrize("here, goal, wanted", [
    ((2, "m"), (0, "M"), (7, "7")),    # II and I: V
    ((2, "h"), (0, "m"), (7, "7")),    # in minor
    ((0, "M"), (2, "m"), (9, "7")),    # I and II: the dominant of II
    ((5, "M"), (0, "M"), (6, "o")),    # IV and I: the passing diminished chord
    ((4, "m"), (2, "m"), (9, "7")),    # III VI II, common practice
])
def test_the_likeliest_chord_of_a_plain_cadence(here: tuple[int, str], goal: tuple[int, str],
                                                wanted: tuple[int, str]) -> None:
    assert first(in_c(here, goal)) == wanted


@settings(max_examples=60, deadline=None)
@given(AROUND, st.integers(1, 11))
def test_chances_add_up_and_are_the_same_in_every_key(around: Around, by: int) -> None:
    def up(pair: tuple[int, str]) -> tuple[int, str]:
        return (pair[0] + by) % 12, pair[1]

    found = chances(around, tables())
    assert found.sum() == pytest.approx(1)
    assert found[CHORDS.index(around.here)] == found[CHORDS.index(around.goal)] == 0
    moved = replace(
        around, here=up(around.here), goal=up(around.goal), key=up(around.key),
        here_key=up(around.here_key), home=up(around.home),
        before=None if around.before is None else up(around.before),
        after=None if around.after is None else up(around.after),
        note=None if around.note is None else (around.note + by) % 12)
    there = chances(moved, tables())
    for place, chord in enumerate(CHORDS):
        assert there[CHORDS.index(up(chord))] == pytest.approx(found[place])


def test_a_tune_goes_its_own_way() -> None:
    around = in_c((0, "M"), (5, "M"))
    chord = (10, "7")
    assert first(around) != chord
    assert first(around, OwnChord(chord, "same phrase")) == chord
    plain = cost(chord, around)
    assert plain > cost(chord, around, (OwnChord(chord, "same pair"),)) > cost(
        chord, around, (OwnChord(chord, "same side"),))


def test_which_places_are_like_a_place() -> None:
    place = Standing((9, "m"), (2, "m"), (7, "7"), (0, "M"), (5, "M"), where=1)
    def likeness(other: Standing) -> list[tuple[tuple[int, str], str]]:
        return [(way.chord, way.likeness) for way in own_chords(place, [place, other])]

    tritone = (1, "7")
    assert likeness(replace(place, chord=tritone, where=2)) == [(tritone, "same phrase")]
    assert likeness(replace(place, chord=tritone, where=2, before=None)) == [
        (tritone, "same side")]
    assert likeness(replace(place, chord=tritone, where=2, before=None, after=None)) == [
        (tritone, "same pair")]
    assert likeness(replace(place, chord=tritone, where=2, here=(4, "m"))) == [
        (tritone, "same goal")]
    assert likeness(Standing(None, (4, "m"), (9, "7"), (2, "M"), None, where=2)) == [
        ((7, "7"), "moved")]
    assert likeness(replace(place, chord=tritone)) == []  # the place itself, played again


def test_the_tables_say_where_they_come_from() -> None:
    path = Path(__file__).parents[2] / "src/fillwright/fills/devices/reharm/prior.tsv"
    head = path.read_text("utf-8").split("goal\t")[0]
    assert "Weimar Jazz Database" in head and "ODbL" in head and "OpenEWLD" in head


def _tool() -> ModuleType:
    path = Path(__file__).parents[2] / "tools" / "learn_changes.py"
    spec = importlib.util.spec_from_file_location("learn_changes", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    import sys
    sys.modules["learn_changes"] = module
    spec.loader.exec_module(module)
    return module


def test_the_tool_learns_what_a_file_of_changes_says(tmp_path: Path) -> None:
    """In these changes, made up for the test, the way from II to I is the flat II."""
    row = " | ".join(f"{bar}.1 D-7 | {bar}.3 Db7 | {bar + 1}.1 Cj7" for bar in range(1, 17, 2))
    path = tmp_path / "changes.tsv"
    path.write_text("row\ttune\tkey\tmetre\ttempo\tfeel\ttonality\tchanges\n"
                    f"0\t0\tC-maj\t4/4\t120\tSWING\tFUNCTIONAL\t{row}\n")
    tool = _tool()
    examples = [example for found in tool.rows(path) for example in found]
    learnt = parsed(tool.learn(examples))
    found = chances(in_c((2, "m"), (0, "M")), learnt)
    assert CHORDS[int(np.argmax(found))] == (1, "7")
    assert tool.ranks([e for e in examples if e.answer == (1, "7")], learnt, None) == [1] * 8
