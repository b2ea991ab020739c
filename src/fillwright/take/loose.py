"""What is struck beside the melody: nothing on paper says where in the tune it lies, a beat does.

The same stroke lies on another off-beat by another beat. So what is to be explained by a beat is
placed by that beat itself, and what lies nowhere by it counts against it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.exact import Fraction
from fillwright.take.beat import BeatMap
from fillwright.take.timing import PARTS, Clock, Habit, HeardNote

__all__ = ["LOOSE_WEIGHT", "Grid", "Loose"]

LOOSE_WEIGHT = 0.7          # of a stroke without a written place, beside one of the melody
_ON_GRID_BEATS = 0.11       # further off, and it is not known what was meant


@dataclass(frozen=True, slots=True)
class Loose:
    """A chord of one hand, or a single key, when it is struck.

    part     as in `HeardNote`; never "melody"
    """

    sec: float
    part: str


class Grid:
    """The beats and off-beats of a chorus, in order; in meters whose beat is no quarter the beats
    alone."""

    def __init__(self, clock: Clock) -> None:
        self.places = _places(clock)
        found = [clock.place(place) for place in self.places]
        self.quarters = np.array([float(place) for place in self.places])
        self._phases = np.array([phase for _, phase, _ in found])
        self._kinds = [kind for _, _, kind in found]
        self._swung = np.array([kind == "off" and clock.swings(place) for place, kind in
                                zip(self.places, self._kinds, strict=True)])
        self._beats = np.array([float(clock.chorus.bar_at(place).meter.beat_quarter)
                                for place in self.places])

    def placed(self, loose: Sequence[Loose], beat: BeatMap, habit: Habit
               ) -> list[HeardNote | None]:
        """Where each lies by a beat; None where that is no place of the grid."""
        quarter_secs = beat.quarter_secs(self.quarters)
        swing = np.where(self._swung, (habit.offbeat - self._phases) * quarter_secs
                         * beat.step_quarter, 0.0)
        even = beat.secs(self.quarters) + swing
        found: list[HeardNote | None] = [None] * len(loose)
        for part in PARTS:
            own = [index for index, one in enumerate(loose) if one.part == part]
            if not own:
                continue
            late = np.array([habit.late_sec.get((part, kind), 0.0) for kind in self._kinds])
            secs = np.array([loose[index].sec for index in own])
            for index, place in zip(own, _nearest(secs, even + late,
                                                  quarter_secs * self._beats), strict=True):
                if place >= 0:
                    found[index] = HeardNote(self.places[place], loose[index].sec, part,
                                             LOOSE_WEIGHT)
        return found


def _places(clock: Clock) -> tuple[Fraction, ...]:
    found = []
    for bar in clock.chorus.bars:
        unit = bar.meter.beat_quarter
        step = unit / 2 if unit == 1 else unit
        place, _ = clock.beat_of(bar.onset_quarter)
        while place < bar.onset_quarter + bar.length_quarter:
            if place >= bar.onset_quarter:
                found.append(place)
            place += step
    return tuple(found)


def _nearest(secs: npt.NDArray[np.float64], expected: npt.NDArray[np.float64],
             beat_secs: npt.NDArray[np.float64]) -> list[int]:
    """For each second the index of the place that is expected nearest to it; -1 where that is
    too far off. A beat that steps back may bring a place before the one before it."""
    order = np.argsort(expected, kind="stable")
    after = np.clip(np.searchsorted(expected[order], secs), 1, len(order) - 1)
    low, high = order[after - 1], order[after]
    near = np.where(np.abs(expected[low] - secs) <= np.abs(expected[high] - secs), low, high)
    off = np.abs(expected[near] - secs)
    found: list[int] = np.where(off < _ON_GRID_BEATS * beat_secs[near], near, -1).tolist()
    return found
