"""What the tune and the chords around make of a dominant, and how comping keeps to it. Rules
without a source are common practice."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from tests.fills.builders import chorus_of, one_task, situation_of_gap

from fillwright import ChordSymbol, Key
from fillwright.fills import fills_of
from fillwright.theory import analyse

LEVELS = ("beginner", "intermediate", "advanced")


def test_a_triad_is_a_dominant_before_its_own_seventh_chord() -> None:
    """A, A7, D minor: the seventh belongs to the first of them too; not where the third falls."""
    row = analyse([ChordSymbol.parse(text) for text in ("A", "A7", "Dm")], Key(0))
    assert row[0] is not None and row[0].function == "V7/II" and "b7" in row[0].tones
    turned = analyse([ChordSymbol.parse(text) for text in ("D", "Dm", "G7")], Key(0))
    assert turned[0] is not None and "b7" not in turned[0].tones


@pytest.mark.parametrize(("held", "fifth"), [("D#5", "#5"), ("Eb5", "b13")])
def test_a_dominant_has_the_raised_fifth_of_the_tune_by_its_name(held: str, fifth: str) -> None:
    chorus = chorus_of("4/4", "C", 132, [(held, 4), ("C5", 4)], [("G", 4), ("Cmaj7", 4)])
    harmony = situation_of_gap(chorus).spans[0].harmony
    assert fifth in (*harmony.tones, *harmony.tensions)
    assert "5" not in harmony.tones and "13" not in harmony.tensions
    for level in LEVELS:
        fills = fills_of(one_task(chorus, 1, level), "comp", 6)
        assert not isinstance(fills, str)
        for fill in fills:
            slides = "slid into" in fill.device  # between the beats, foreign to the chord
            assert not [n for n in fill.notes if n.midi % 12 == 2
                        and n.onset_quarter < Fraction(7, 2)
                        and not (slides and n.onset_quarter.denominator > 1)], fill.device


def test_a_dominant_after_its_minor_tonic_has_no_colour_of_major() -> None:
    """D minor, A, D: no F sharp and no B over A, unless the tune sings it."""
    def tensions(melody: str) -> set[str]:
        chorus = chorus_of("4/4", "C", 132, [("F5", 4), (melody, 4), ("D5", 4)],
                           [("Dm7", 4), ("A7", 4), ("D", 4)])
        return set(situation_of_gap(chorus, 2).spans[0].harmony.tensions)

    assert not {"9", "13"} & tensions("E5")
    assert "9" in tensions("B4")


def test_a_plain_tunes_dominant_may_have_the_flat_nine_of_its_minor_tonic() -> None:
    """D minor, A7, D minor: B flat is the key's own; not where the tune sings B."""
    def altered(melody: str) -> tuple[str, ...]:
        chorus = chorus_of("4/4", "Dm", 132, [("F5", 4), (melody, 4), ("D5", 8)],
                           [("Dm", 4), ("A7", 4), ("Dm", 8)])
        return situation_of_gap(chorus, 2).spans[0].alterations

    assert altered("E5") == ("b9",) and altered("B4") == ()


@pytest.mark.parametrize("level", LEVELS)
def test_a_push_has_its_third_and_does_not_rub_the_landing(level: str) -> None:
    """G minor seven early under a landing on A: no B flat above it."""
    chorus = chorus_of("4/4", "F", 132, [("C5", 4), ("A4", 2), ("G4", 2)],
                       [("F#dim7", 4), ("Gm7", 4)])
    pushes = 0
    for fill in fills_of(one_task(chorus, 1, level), "comp", 24):
        assert not isinstance(fill, str)
        early = [n for n in fill.notes if n.onset_quarter == Fraction(7, 2)]
        if "takes Gm7" not in " ".join(fill.reasons) or not early:
            continue
        pushes += 1
        assert any(n.midi % 12 == 10 for n in early), fill.device
        assert 70 not in {n.midi for n in early}, fill.device
    assert pushes


def test_a_beginner_has_a_beat_to_count_by() -> None:
    """No three strokes in a row between the beats, the first with the melody note."""
    chorus = chorus_of("4/4", "C", 132, [("E5", 1.5), ("A4", 2.5), ("A4", 4)],
                       [("A7", 4), ("Dm7", 4)])
    for fill in fills_of(one_task(chorus, 1, "beginner"), "comp", 24):
        assert not isinstance(fill, str)
        onsets = sorted({n.onset_quarter for n in fill.notes})
        off = [(onset + Fraction(3, 2)) % 1 != 0 for onset in onsets]
        assert not any(a and b and c for (a, b), (_, c) in pairwise(pairwise(off))), fill.counts


def test_a_pickup_that_fills_a_short_bar_is_counted_on_in_it() -> None:
    """Four quarters and a pickup of two are one bar of three two; what follows is the next."""
    situation = situation_of_gap(chorus_of("3/2", "C", 63, [("E5", 6), ("G4", 6)], [("C", 12)]))
    whole = situation.bars[0]
    row = [(0, 4, False), (4, 2, True), (6, 6, False), (12, 2, True)]
    bars = tuple(replace(whole, onset_quarter=Fraction(onset), length_quarter=Fraction(length),
                         is_pickup=pickup)
                 for onset, length, pickup in row)
    counted = replace(situation, bars=bars)
    assert [counted.bar_count_at(bar.onset_quarter) for bar in bars] == [0, 0, 1, 2]


@pytest.mark.parametrize(("chords", "heard"), [
    ([("C7", 4), ("Bb", 4)], ["Bb"]),
    ([("C7", Fraction(7, 2)), ("F", Fraction(1, 2)), ("Bb", 4)], ["F", "Bb"])])
def test_a_note_before_the_bar_has_the_coming_chord_but_where_one_is_printed_with_it(
        chords: list[tuple[str, Fraction | int]], heard: list[str]) -> None:
    """The melody's F comes half a beat early: to B flat, unless the sheet goes to F first."""
    chorus = chorus_of("4/4", "F", 132, [("G4", 3.5), ("F4", 3.5), ("A4", 1)], chords)
    situation = situation_of_gap(chorus, 2)
    assert [str(span.harmony.symbol) for span in situation.spans] == heard
