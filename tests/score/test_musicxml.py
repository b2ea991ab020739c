"""The written file against the W3C schema and other readers."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from lxml import etree
from schema import schema_errors
from written import ballad, swing_tune, waltz

from fillwright.arrange.model import Arrangement
from fillwright.score.musicxml import to_musicxml

TUNES: dict[str, Callable[[str], Arrangement]] = {
    "swing": swing_tune, "waltz": waltz, "ballad": ballad}


@pytest.mark.parametrize("view", [False, True])
@pytest.mark.parametrize("level", ["beginner", "advanced"])
@pytest.mark.parametrize("name", sorted(TUNES))
def test_valid_against_the_schema(name: str, level: str, view: bool) -> None:
    """W3C MusicXML 4.0 schema."""
    assert schema_errors(to_musicxml(TUNES[name](level), view=view)) == []


@pytest.mark.parametrize("name", sorted(TUNES))
def test_as_many_attacks_as_notes(name: str) -> None:
    arrangement = TUNES[name]("advanced")
    root = etree.fromstring(to_musicxml(arrangement))
    attacks = [str(note.get("id")) for note in root.iter("note")
               if note.find("pitch") is not None and note.find("tie[@type='stop']") is None]
    assert sorted(attacks) == sorted(f"n{i}" for i in range(len(arrangement.notes)))
