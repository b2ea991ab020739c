"""A whole arrangement of a bundled tune, as it is played."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from tests.demo_arrangements import arranged

from fillwright import Arrangement, perform
from fillwright.sound.perform import RESTRIKE_SEC
from fillwright.sound.timemap import TimeMap

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def arrangement() -> Arrangement:
    return arranged("umbrella")


def _at_tempo(arrangement: Arrangement, bpm: int) -> Arrangement:
    return replace(arrangement, chorus=replace(arrangement.chorus, tempo_bpm=Fraction(bpm)))


@pytest.mark.parametrize("bpm", [50, 80, 126, 200, 260])
def test_every_held_note_sounds_as_long_as_its_fill_says(arrangement: Arrangement,
                                                         bpm: int) -> None:
    arrangement = _at_tempo(arrangement, bpm)
    played = perform(arrangement)
    time_map = TimeMap(arrangement.chorus, ((n.hand, n.onset_quarter)
                                            for n in arrangement.notes))
    by_index = {n.index: n for n in played.notes}
    gaps = {gap.number: gap for gap in arrangement.gaps}
    checked = 0
    for fill in arrangement.fills:
        gap = gaps[fill.gap]
        if gap.held is None:
            continue
        index = next(index for index, n in enumerate(arrangement.notes)
                     if n.role == "melody" and n.onset_quarter == gap.onset_quarter)
        end = by_index[index].release_sec
        end = next((up for down, up in played.pedal_spans() if down <= end < up), end)
        wanted = time_map.place_sec(fill.held_end.until_quarter)
        # A key struck again at that moment has to come up just before.
        assert wanted - RESTRIKE_SEC - 1e-6 <= end <= wanted + 1e-6
        checked += 1
    assert checked == sum(gaps[fill.gap].held is not None for fill in arrangement.fills) > 0


@pytest.mark.parametrize("bpm", [60, 126, 240])
def test_every_key_of_a_whole_arrangement_is_played_in_order(arrangement: Arrangement,
                                                             bpm: int) -> None:
    arrangement = _at_tempo(arrangement, bpm)
    played = perform(arrangement)
    assert sorted(n.index for n in played.notes) == list(range(len(arrangement.notes)))
    for hand in ("left", "right"):
        at = sorted((arrangement.notes[n.index].onset_quarter, n.onset_sec)
                    for n in played.notes if n.hand == hand)
        assert all(one[1] < two[1] for one, two in pairwise(at) if one[0] < two[0])
