"""Sheets without signatures: the meter of their bars, the key of their notes and chords."""

from __future__ import annotations

import pytest
from tests.tune.sheets import attributes, chord, notes, read_bars

from fillwright import Key, Tune


def unsigned(bars: list[str]) -> Tune:
    return read_bars(bars, first=attributes(time=None, fifths=None))


@pytest.mark.parametrize(("bars", "meter"), [
    (["C5:8 D5:4"] * 4, "3/4"), (["C5:16"] * 4, "4/4"), (["C5:4 D5:4"] * 3, "2/4"),
    (["C5:20"] * 3, "5/4"), (["G4:4", *["C5:8 D5:4"] * 5, "C5:8"], "3/4"),
    (["C5:12", "C5:16", "C5:8", "C5:4"], "4/4")])
def test_the_meter_is_what_most_bars_hold(bars: list[str], meter: str) -> None:
    tune = unsigned([chord("C") + notes(bar) for bar in bars])
    assert {str(bar.meter) for bar in tune.bars} == {meter}
    assert f"no time signature is written; taken to be in {meter}" in tune.warnings


def test_bars_that_fill_their_meter_are_not_called_short() -> None:
    tune = unsigned([chord("C") + notes("C5:8 D5:4")] * 4)
    assert tune.warnings == ("no time signature is written; taken to be in 3/4",)


def test_a_meter_that_is_written_counts() -> None:
    tune = read_bars([chord("C") + notes("C5:12")] * 4)
    assert str(tune.bars[0].meter) == "4/4"
    assert tune.warnings == ("bars 2, 3 and 4, each: it holds 3 of 4 quarter notes and is "
                             "played as long as that",)


def song(*bars: tuple[str, str, str]) -> Tune:
    """Of root, kind and melody of each bar."""
    return unsigned([chord(root, kind) + notes(line) for root, kind, line in bars])


def test_the_key_is_where_notes_and_chords_are_least_foreign() -> None:
    flats = song(("Bb", "major", "Bb4:8 D5:8"), ("Eb", "major", "Eb5:16"),
                 ("F", "dominant", "A4:8 C5:8"), ("Bb", "major", "Bb4:16"))
    assert flats.key == Key.parse("Bb")
    assert "no key signature is written; taken to be in Bb major" in flats.warnings
    sad = song(("D", "minor", "D5:8 F5:8"), ("Bb", "major", "D5:16"),
               ("A", "dominant", "C#5:8 E5:8"), ("D", "minor", "D5:16"))
    assert sad.key == Key.parse("Dm")


def test_no_signature_is_also_that_of_c() -> None:
    plain = song(("C", "major", "C5:8 E5:8"), ("G", "dominant", "B4:16"), ("C", "major", "C5:16"))
    assert plain.key == Key(0)
    assert not [text for text in plain.warnings if "key" in text]
