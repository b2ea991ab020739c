"""Where a melody holds. Counting beats is common practice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.fills.builders import chorus_of
from tests.tune.sheets import chord, notes, play

from fillwright import find_gaps
from fillwright.tune import ChordSpan

F = Fraction


def test_a_whole_note_tied_to_a_half_is_a_gap_of_six_beats() -> None:
    chorus = chorus_of("4/4", "C", 120, [("C5", 6), ("D5", 1), ("E5", 1)], [("Cmaj7", 8)])
    gap = find_gaps(chorus)[0]
    assert (gap.beats, gap.duration_quarter) == (F(6), F(6))
    assert gap.seconds == pytest.approx(3.0)
    assert gap.why == ("held",)
    assert gap.landing is not None and str(gap.landing.pitch) == "D5"
    assert gap.landing.onset_quarter == 6


def test_a_short_note_and_its_rest_are_one_gap() -> None:
    chorus = chorus_of("4/4", "C", 120, [("C5", 1), (None, 2), ("D5", 1)], [("Cmaj7", 4)])
    gap = find_gaps(chorus)[0]
    assert gap.why == ("rest",)
    assert (gap.onset_quarter, gap.duration_quarter) == (F(0), F(3))
    assert gap.held is not None and gap.held.duration_quarter == 1


def test_seconds_are_not_short_by_rounding() -> None:
    """Three beats at 200 last 0.9 s, which is time for a fill, not a little less."""
    chorus = chorus_of("4/4", "C", 200, [("C5", 3), ("D5", 1), ("E5", 4)], [("C", 8)])
    assert find_gaps(chorus)[0].seconds == 0.9


def test_one_beat_and_a_half_is_too_short() -> None:
    chorus = chorus_of("4/4", "C", 120, [("C5", "3/2"), ("D5", "1/2")] * 2, [("C", 4)])
    assert find_gaps(chorus) == ()


@pytest.mark.parametrize(("meter", "length", "beats"), [
    ("4/4", 2, 2), ("2/2", 2, 2), ("3/4", 3, 3), ("6/8", 3, 2), ("12/8", "9/2", 3),
    ("5/8", 2, 2), ("9/8", 3, 2)])
def test_felt_beats_by_meter(meter: str, length: int, beats: int) -> None:
    chorus = chorus_of(meter, "C", 120, [("C5", length), ("D5", "1/2"), ("E5", "1/2")],
                       [("C", 6)])
    assert find_gaps(chorus)[0].beats == beats


def test_in_six_eight_two_quarters_are_too_short() -> None:
    chorus = chorus_of("6/8", "C", 60, [("C5", 2), ("D5", 1)] * 2 + [("C5", 1)], [("C", 7)])
    assert [g.beats for g in find_gaps(chorus)] == []


def test_the_rest_at_the_start_is_a_gap_without_a_held_note() -> None:
    chorus = chorus_of("4/4", "C", 120, [(None, 3), ("C5", 1), ("D5", 4)],
                       [("Cmaj7", 4), ("Dm7", 4)])
    first, last = find_gaps(chorus)
    assert (first.held, first.why) == (None, ("rest", "pickup"))
    assert first.beats == 3
    assert last.why == ("held", "ending") and last.landing is None


def test_a_pickup_is_counted_from_the_end_of_its_bar_and_is_no_gap() -> None:
    chorus = chorus_of("4/4", "C", 120, [("G4", 1), ("C5", 4)], [("C", 5)], pickup=1)
    only = find_gaps(chorus)
    assert [g.onset_quarter for g in only] == [1]
    assert chorus.beat_in_bar(F(0)) == 4
    assert (only[0].bar, only[0].beat) == ("1", F(1))


def test_chords_are_cut_to_the_gap_and_the_landing_names_its_own() -> None:
    chorus = chorus_of("4/4", "C", 120, [("C5", 1), ("A4", 5), ("G4", 2)],
                       [("Fmaj7", 3), ("Fm6", 1), ("Cmaj7", 4)])
    gap = find_gaps(chorus)[0]
    assert [(c.onset_quarter, c.duration_quarter, str(c.symbol)) for c in gap.chords] == [
        (F(1), F(2), "Fmaj7"), (F(3), F(1), "Fm6"), (F(4), F(2), "Cmaj7")]
    assert str(gap.landing_chord) == "Cmaj7"


def test_no_chord_is_still_a_gap() -> None:
    chorus = chorus_of("4/4", "C", 120, [("C5", 4)], [("N.C.", 4)])
    gap = find_gaps(chorus)[0]
    assert gap.harmonies == (None,)


@given(st.lists(st.tuples(st.sampled_from(["C5", "E5", None]),
                          st.sampled_from(["1/2", 1, "3/2", 2, 3, 4, "1/3"])),
                min_size=1, max_size=12))
def test_gaps_are_disjoint_long_enough_and_between_melody_onsets(
        row: list[tuple[str | None, str | int]]) -> None:
    if all(name is None for name, _ in row):
        row = [*row, ("C5", 1)]
    chorus = chorus_of("4/4", "C", 100, row, [("C", 1)])
    onsets = {n.onset_quarter for n in chorus.melody}
    end = F(0)
    for number, gap in enumerate(find_gaps(chorus), start=1):
        assert gap.number == number and gap.beats >= 2 and gap.onset_quarter >= end
        assert gap.onset_quarter in onsets or gap.onset_quarter == 0
        assert gap.end_quarter in onsets or gap.end_quarter == chorus.length_quarter
        assert not any(gap.onset_quarter < o < gap.end_quarter for o in onsets)
        assert sum(c.duration_quarter for c in gap.chords) <= gap.duration_quarter
        end = gap.end_quarter


class Counted(tuple[ChordSpan, ...]):
    """A row of chords that counts how many of them are looked at."""

    looks = 0

    def __getitem__(self, index: Any) -> Any:
        Counted.looks += 1
        return super().__getitem__(index)

    def __iter__(self) -> Iterator[ChordSpan]:
        for span in super().__iter__():
            Counted.looks += 1
            yield span


def test_a_gap_looks_at_its_own_chords_only() -> None:
    chorus = play([chord("C") + chord("F", offset=8) + notes("C5:16")] * 200)
    counted = replace(chorus, chords=Counted(chorus.chords))
    Counted.looks = 0
    assert find_gaps(counted) == find_gaps(chorus)
    assert len(find_gaps(chorus)) == 200
    assert 0 < Counted.looks < 200 * 40


def test_the_chord_at_a_place() -> None:
    chorus = play([notes("C5:8") + chord("C") + notes("C5:8"), chord("F") + notes("C5:16")])
    places = [chorus.chord_index_at(Fraction(place, 2)) for place in range(0, 18)]
    assert places == [None] * 4 + [0] * 4 + [1] * 10
