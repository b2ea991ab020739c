"""Swing against published numbers; the time map as a map."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from tests.sound.played_scores import COMMON, arranged, note

from fillwright import perform
from fillwright.sound.timemap import TimeMap
from fillwright.swing import (
    SHORTEST_EIGHTH_SEC,
    grid_ratio,
    lateness_sec,
    line_ratio,
    offbeat_place,
)
from fillwright.tune import Meter

# Medians of the ratio of two eighths by tempo, from note to note, counted over the 456 solos of
# the Weimar Jazz Database (Pfleiderer et al., Inside the Jazzomat, 2017): middle of the tempo
# class in beats a minute, and the median.
COUNTED_LINE = ((110, 1.37), (130, 1.30), (150, 1.30), (170, 1.28), (190, 1.33), (210, 1.22),
                (230, 1.21), (250, 1.19), (280, 1.13), (350, 1.09))
# The same with the annotated beats as frame, which is how a steady hand is heard.
COUNTED_GRID = ((110, 1.78), (130, 1.75), (150, 1.86), (170, 1.73), (190, 1.69), (210, 1.57),
                (230, 1.42), (250, 1.39), (280, 1.28), (350, 1.18))
# Mean of on-beat note minus annotated beat in the same data, milliseconds.
COUNTED_LATE_MS = ((90, 34), (120, 30), (160, 23), (200, 17), (240, 10), (300, 5))


def _soloist_fit(bpm: float) -> float:
    """Friberg & Sundström, Music Perception 19(3), 2002: linear fit for soloists, constants
    as in A. Friberg's published rule file."""
    return 2.0483 - 0.0031 * bpm


def _ride_fit(bpm: float) -> float:
    """The same source, for the ride cymbal."""
    return 4.9396 - 0.0124 * bpm


@pytest.mark.parametrize(("bpm", "median"), COUNTED_LINE)
def test_line_ratio_is_near_the_counted_medians(bpm: int, median: float) -> None:
    assert line_ratio(bpm) == pytest.approx(median, abs=0.08)


@pytest.mark.parametrize(("bpm", "median"), COUNTED_GRID)
def test_steady_ratio_is_near_the_counted_medians(bpm: int, median: float) -> None:
    assert grid_ratio(bpm) == pytest.approx(median, abs=0.2)


@pytest.mark.parametrize(("bpm", "mean_ms"), COUNTED_LATE_MS)
def test_lateness_is_near_the_counted_means(bpm: int, mean_ms: float) -> None:
    assert 1000 * lateness_sec(bpm) == pytest.approx(mean_ms, abs=2)


def test_lateness_at_150_is_near_thirty_milliseconds() -> None:
    # Nelias et al., Communications Physics 5, 2022: about 30 ms, or 9 % of a beat at most.
    assert 0.02 <= lateness_sec(150) <= 0.03
    assert all(lateness_sec(bpm) <= 0.09 * 60 / bpm for bpm in range(30, 401))


def test_mean_line_ratio_is_that_of_soloists() -> None:
    # Corcoran & Frieler, Music Perception 38(4), 2021: 1.3 to 1 is typical, 2 to 1 a myth.
    mean = sum(line_ratio(bpm) for bpm in range(120, 241)) / 121
    assert mean == pytest.approx(1.3, abs=0.05)
    assert all(grid_ratio(bpm) < 2 for bpm in range(30, 401))


@pytest.mark.parametrize("bpm", range(120, 241, 10))
def test_ratios_from_medium_to_fast(bpm: int) -> None:
    assert 1.2 <= line_ratio(bpm) <= 1.7
    # Steady hands lie between the published soloists and the published drummers.
    assert _soloist_fit(bpm) - 0.03 <= grid_ratio(bpm) < _ride_fit(bpm)
    assert line_ratio(bpm) < grid_ratio(bpm)


def test_ratios_never_grow_with_tempo_and_never_invert() -> None:
    tempi = range(30, 500)
    for ratio in (grid_ratio, line_ratio):
        values = [ratio(bpm) for bpm in tempi]
        assert all(slow >= fast - 1e-9 for slow, fast in pairwise(values))
        assert min(values) == pytest.approx(1.0)
    assert grid_ratio(120) - grid_ratio(240) > 0.2


@pytest.mark.parametrize("bpm", range(40, 400, 7))
def test_swing_makes_no_note_too_short(bpm: int) -> None:
    place = offbeat_place(bpm)
    if place > 0.5:
        assert (1 - place) * 60 / bpm >= SHORTEST_EIGHTH_SEC - 1e-9


def _places(notes: list[tuple[str, str]], meter: Meter = COMMON, bpm: int = 140) -> list[float]:
    """Onsets in quarters of what a left hand plays: (onset, duration) pairs."""
    played = perform(arranged([note("C3", onset, length, "left", "base")
                               for onset, length in notes], meter=meter, bpm=bpm))
    return [n.onset_sec / played.seconds_per_quarter for n in played.notes]


def test_only_the_offbeat_eighth_moves() -> None:
    place = offbeat_place(140)
    assert _places([("0", "1/2"), ("1/2", "1/2"), ("1", "1")]) == pytest.approx([0, place, 1])


def test_triplets_keep_their_thirds() -> None:
    thirds = [(str(Fraction(k, 3)), "1/3") for k in range(6)]
    assert _places(thirds) == pytest.approx([k / 3 for k in range(6)])
    quarters = [(str(Fraction(2 * k, 3)), "2/3") for k in range(3)]
    assert _places(quarters) == pytest.approx([0, 2 / 3, 4 / 3])


def test_sixteenths_and_dotted_figures_are_straight() -> None:
    sixteenths = [(str(Fraction(k, 4)), "1/4") for k in range(4)]
    assert _places(sixteenths, bpm=66) == pytest.approx([0, 0.25, 0.5, 0.75])
    assert _places([("0", "3/4"), ("3/4", "1/4")]) == pytest.approx([0, 0.75])


def test_sextuplets_do_not_swing_their_middle() -> None:
    sixths = [(str(Fraction(k, 6)), "1/6") for k in range(6)]
    assert _places(sixths) == pytest.approx([k / 6 for k in range(6)])


def test_a_triplet_in_one_hand_leaves_the_other_swinging() -> None:
    played = perform(arranged(
        [note("C3", "1/2", "1/2", "left", "base")]
        + [note("C6", Fraction(k, 3), "1/3", "right", "base") for k in range(3)]))
    left = [n for n in played.notes if n.hand == "left"]
    assert left[0].onset_sec / played.seconds_per_quarter == pytest.approx(offbeat_place(140))


@pytest.mark.parametrize("meter", [Meter(6, 8), Meter(12, 8), Meter(9, 8), Meter(7, 8),
                                   Meter(5, 8)])
def test_eighth_meters_are_not_swung(meter: Meter) -> None:
    eighths = [(str(Fraction(k, 2)), "1/2") for k in range(5)]
    assert _places(eighths, meter=meter, bpm=80) == pytest.approx([k / 2 for k in range(5)])


@pytest.mark.parametrize("meter", [Meter(3, 4), Meter(2, 2), Meter(5, 4)])
def test_quarter_and_half_meters_are_swung(meter: Meter) -> None:
    assert _places([("0", "1/2"), ("1/2", "1/2")], meter=meter)[1] > 0.55


def test_straight_feel_leaves_everything_in_place() -> None:
    eighths = [note("C5", Fraction(k, 2), "1/2") for k in range(8)]
    played = perform(arranged(eighths, feel="straight"))
    assert [n.onset_sec / played.seconds_per_quarter for n in played.notes] == pytest.approx(
        [k / 2 for k in range(8)])


def test_a_pickup_eighth_is_an_offbeat() -> None:
    played = perform(arranged([note("G4", 0, "1/2"), note("C5", "1/2", 4)], pickup="1/2"))
    place = (offbeat_place(140) - 0.5) * played.seconds_per_quarter
    assert played.notes[0].onset_sec == pytest.approx(place)


def test_lines_are_late_on_the_beat_and_in_time_off_it() -> None:
    # Friberg & Sundström 2002 and Nelias et al. 2022.
    line = [note("C5", Fraction(k, 2), "1/2") for k in range(8)]
    left = [note("C3", Fraction(k, 2), "1/2", "left", "base") for k in range(8)]
    played = perform(arranged(line + left, bpm=160))
    right = [n.onset_sec for n in played.notes if n.hand == "right"]
    steady = [n.onset_sec for n in played.notes if n.hand == "left"]
    apart = [late - beat for late, beat in zip(right, steady, strict=True)]
    assert apart[::2] == pytest.approx([lateness_sec(160)] * 4)
    assert apart[1::2] == pytest.approx([0.0] * 4)
    long, short = right[3] - right[2], right[4] - right[3]
    assert long / short == pytest.approx(line_ratio(160))


def test_no_lateness_in_comping_straight_feel_or_compound_meter() -> None:
    comp = [note("C5", 0, 1, "right", "base"), note("C3", 0, 1, "left", "base")]
    assert perform(arranged(comp)).notes[1].onset_sec == 0
    melody = [note("C5", 0, 1)]
    assert perform(arranged(melody, feel="straight")).notes[0].onset_sec == 0
    assert perform(arranged(melody, meter=Meter(6, 8), bpm=60)).notes[0].onset_sec == 0


ONSETS = st.lists(
    st.builds(Fraction, st.integers(0, 95), st.sampled_from((2, 3, 4, 5, 6, 8))),
    min_size=1, max_size=16, unique=True)


@settings(max_examples=80, deadline=None)
@example(right=[Fraction(3, 8), Fraction(2, 5)], left=[Fraction(0)], bpm=400, meter=Meter(4, 4),
         pickup=Fraction(0), rolled=False)  # a fortieth of a quarter apart
@given(right=ONSETS, left=ONSETS, bpm=st.integers(40, 400),
       meter=st.sampled_from((Meter(4, 4), Meter(3, 4), Meter(2, 2), Meter(6, 8))),
       pickup=st.sampled_from((Fraction(0), Fraction(1, 2), Fraction(3, 2))),
       rolled=st.booleans())
def test_the_order_of_a_hand_is_kept(right: list[Fraction], left: list[Fraction], bpm: int,
                                     meter: Meter, pickup: Fraction, rolled: bool) -> None:
    notes = [note("C5", onset, "1/8") for onset in right]
    notes += [note("E4", onset, "1/8", "right", "base", rolled=rolled) for onset in right[::2]]
    notes += [note(pitch, onset, "1/8", "left", "base", rolled=rolled) for onset in left
              for pitch in ("C3", "G3")]
    arrangement = arranged(notes, bars=60, bpm=bpm, meter=meter, pickup=pickup)
    played = perform(arrangement)
    for hand in ("right", "left"):
        at = sorted((arrangement.notes[n.index].onset_quarter, n.onset_sec)
                    for n in played.notes if n.hand == hand)
        for (quarter, sec), (later_quarter, later_sec) in pairwise(at):
            assert quarter == later_quarter or sec < later_sec


@settings(max_examples=60, deadline=None)
@given(quarter=st.builds(Fraction, st.integers(0, 400), st.sampled_from((1, 2, 3, 4, 6))),
       bpm=st.integers(40, 400))
def test_beats_stay_in_place_and_nothing_leaves_its_beat(quarter: Fraction, bpm: int) -> None:
    chorus = arranged([note("C5", 0, 1)], bars=101, bpm=bpm).chorus
    time_map = TimeMap(chorus)
    beat = quarter.numerator // quarter.denominator
    low, high = (time_map.steady_sec(Fraction(edge)) for edge in (beat, beat + 1))
    place = time_map.place_sec(quarter)
    assert low - 1e-9 <= place < high
    assert (quarter == beat) == (place == low)
