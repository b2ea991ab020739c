"""Words on a sheet: tempo, feel, form (common practice)."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright.theory import spell_plain
from fillwright.tune import Meter
from fillwright.tune.marks import ending_numbers
from fillwright.tune.melody import RawNote, top_line
from fillwright.tune.words import (
    default_tempo,
    feel_word,
    form_word,
    tempo_number,
    tempo_word,
)


@pytest.mark.parametrize(("text", "bpm"), [
    ("Ballad", 66), ("Slow Ballad", 58), ("Slowly", 80), ("Slow", 80), ("Medium Swing", 132),
    ("Med. Swing", 132), ("Medium Up", 180), ("Medium Slow", 100), ("Up-Tempo Swing", 220),
    ("Up", 220), ("Fast Waltz", 220), ("Bossa Nova", 136), ("Moderately", 112),
    ("Medium-up", 180), ("Bright Waltz", 190), ("Allegro", 138),
    ("dolce", None), ("Upbeat pickup", None), ("Slowpoke", None), ("", None), ("Swing", None),
])
def test_tempo_words(text: str, bpm: int | None) -> None:
    assert tempo_word(text) == bpm


def test_tempo_words_keep_their_order_of_speed() -> None:
    row = ["Slow Ballad", "Ballad", "Slow", "Medium Slow", "Medium", "Medium Up", "Fast"]
    speeds = [tempo_word(text) or Fraction(0) for text in row]
    assert speeds == sorted(speeds)


@pytest.mark.parametrize(("meter", "bpm"), [
    ("4/4", 132), ("3/4", 150), ("6/8", 84), ("12/8", 66), ("2/2", 176), ("15/8", 76),
    ("7/8", 132), ("11/4", 132)])
def test_default_tempos(meter: str, bpm: int) -> None:
    beats, kind = meter.split("/")
    assert default_tempo(Meter(int(beats), int(kind))) == bpm


@pytest.mark.parametrize(("text", "number"), [
    ("120", 120), ("c. 96", 96), ("120-132", 120), ("87.5", Fraction(175, 2)), ("fast", None),
    ("", None), (None, None), ("9" * 40, None)])
def test_tempo_numbers(text: str | None, number: Fraction | None) -> None:
    assert tempo_number(text) == number


@pytest.mark.parametrize(("text", "feel"), [
    ("Medium Swing", "swing"), ("Swing!", "swing"), ("Shuffle", "swing"),
    ("Straight 8ths", "straight"), ("Even eighths", "straight"), ("Bossa", "straight"),
    ("Latin", "straight"), ("Latin/Swing", "straight"), ("Ballad", None), ("Seven", None),
])
def test_feel_words(text: str, feel: str | None) -> None:
    assert feel_word(text) == feel


@pytest.mark.parametrize(("text", "found"), [
    ("D.C.", ("da capo",)), ("D.C. al Fine", ("da capo", "al fine")),
    ("Da Capo al Fine", ("da capo", "al fine")), ("D.C. al Coda", ("da capo", "al coda")),
    ("D. S. al Coda", ("dal segno", "al coda")), ("D.S. al ⊕", ("dal segno", "al coda")),
    ("DS al fine", ("dal segno", "al fine")), ("Dal 𝄋 al Fine", ("dal segno", "al fine")),
    ("D.S. al segno e poi la coda", ("dal segno", "al coda")),
    ("D.C. al 2nd ending", ("da capo",)), ("D.S. (no repeat)", ("dal segno",)),
    ("Fine", ("fine",)), ("FINE", ("fine",)), ("To Coda", ("to coda",)), ("to ⊕", ("to coda",)),
    ("Coda", ("coda",)), ("⊕ Coda", ("coda",)), ("⊕", ("coda sign",)), ("Segno", ("segno",)),
    ("To", ("to",)), ("al Fine", ("al fine",)),
    ("", ()), ("Finely", ()), ("Codetta", ()), ("dc motor", ()), ("dolce", ()), ("DSP", ()),
    ("Da capella", ()), ("x" * 100, ()),
])
def test_form_words(text: str, found: tuple[str, ...]) -> None:
    assert form_word(text) == found


@pytest.mark.parametrize(("number", "text", "numbers"), [
    ("1", None, (1,)), ("1,3", None, (1, 3)), ("1, 2", None, (1, 2)), ("1-3", None, (1, 2, 3)),
    ("1.-3.", None, (1, 2, 3)), ("", "2.", (2,)), (None, None, (1,)), ("x", "y", (1,)),
    ("0", None, (1,)), ("999999999", None, (1,)), ("1-999999", None, (1,)), ("3,1", None, (1, 3)),
])
def test_ending_numbers(number: str | None, text: str | None, numbers: tuple[int, ...]) -> None:
    assert ending_numbers(number, text) == numbers


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(1, 12), st.integers(40, 80)),
                max_size=12))
@settings(max_examples=100)
def test_the_top_line_never_overlaps(rows: list[tuple[int, int, int]]) -> None:
    """Each note of it begins where no higher note sounds, and nothing above it is left out."""
    raw = [RawNote(onset, onset + length, midi, spell_plain(midi, True), False, False, False)
           for onset, length, midi in rows]
    line, below = top_line(raw)
    assert below == frozenset()
    if raw == sorted(raw) and all(a.end <= b.onset for a, b in pairwise(raw)):
        assert line == raw
    end = 0
    for note in line:
        assert note.onset >= end
        end = note.end  # type: ignore[assignment]
    for note in raw:
        at_onset = [kept for kept in line if kept.onset <= note.onset < kept.end]
        assert at_onset
        assert at_onset[0].midi >= note.midi
