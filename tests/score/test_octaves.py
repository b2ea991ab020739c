"""8va lines: where, and nothing of the music changed by them."""

from __future__ import annotations

from fractions import Fraction

from lxml import etree
from tests.score.reread import (
    attacks_by_music21,
    attacks_by_partitura,
    attacks_by_verovio,
    attacks_of,
)
from tests.score.schema import schema_errors
from tests.score.written import arrangement, chorus_of, hand

from fillwright import HandNote
from fillwright.score import to_musicxml
from fillwright.score.octaves import octave_lines
from fillwright.score.voices import columns_of


def lines(melody: str, right: str = "") -> list[tuple[str, str]]:
    chorus = chorus_of("High", [("4/4", 3)], "C", melody, "C:4")
    notes: list[HandNote] = hand(right, "right") if right else []
    return [(str(start), str(end))
            for start, end in octave_lines(columns_of(arrangement(chorus, notes)),
                                           {bar.onset_quarter for bar in chorus.bars})]


def test_only_what_is_too_high() -> None:
    assert lines("C5:4 E6:4") == []                       # three ledger lines are read
    assert lines("C5:1 G6:1 A6:1 C5:1") == [("1", "3")]


def test_the_neighbours_on_ledger_lines_come_along() -> None:
    assert lines("C5:1 E5:1 C6:1 G6:1 D6:1 E5:1 C5:2") == [("2", "5")]


def test_it_ends_where_the_music_takes_breath() -> None:
    assert lines("G6:1 C6:1.5 G5:.5 E5:1 C5:4") == [("0", "4")]           # at the bar line
    assert lines("G6:1 C6:.5 A5:.5 r:1 E5:1 C5:4") == [("0", "2")]        # at a rest
    assert lines("G6:1 C6:.5 A5:.5 C5:2") == [("0", "3/2")]          # not over what is low


def test_it_begins_where_the_music_takes_breath() -> None:
    assert lines("G5:.5 A5:.5 C6:.5 G6:.5 C5:2") == [("0", "2")]          # at the bar line
    assert lines("C5:1 r:1 G5:.5 G6:.5 C5:1") == [("2", "3")]             # at a rest
    assert lines("C5:1 G5:.5 C6:.5 G6:1 C5:1") == [("3/2", "3")]     # not over what is low


def test_not_while_something_low_sounds() -> None:
    assert lines("C5:4", "r:1 G6:1 A6:1") == []


def test_not_over_long_rests() -> None:
    assert lines("G6:1 r:5 G6:1") == [("0", "1"), ("6", "7")]


def test_read_back_unchanged() -> None:
    """music21, partitura and verovio as oracles."""
    chorus = chorus_of("High", [("4/4", 2)], "Eb", "C5:1 G5:1 B6:1 C7:1 Bb6:2 C5:2", "C:4")
    arranged = arrangement(chorus, hand("r:1 G6:1 B5:1 C6:1 Bb5:2", "right"))
    data = to_musicxml(arranged)
    assert schema_errors(data) == []
    shifts = [shift.get("type") for shift in etree.fromstring(data).iter("octave-shift")]
    assert shifts == ["down", "stop"]
    wanted = attacks_of(arranged)
    assert attacks_by_music21(data) == wanted
    assert attacks_by_partitura(data, Fraction(0)) == wanted
    assert attacks_by_verovio(data, arranged) == wanted
