"""Where a student waited in a gap (or lost a beat) and went on from there: the beat steps.

What is struck in a gap has no written place: a beat that bends hears the fill of one who waits
half a beat away from where it was played, and no wait at all. So each explanation places it by
its own beat: by the one that bends, or by the beat carried on from before until the landing and
that of the other side from there. What lies nowhere costs as much as what lies far off.

A step is taken where the map is a good deal cheaper with it: without it, it would have to bend,
or to leave what was played on one side. Of landings that are near each other the one that
explains the most is heard first. A landing that is late with the hands in place again soon after
is no wait, and a tempo that bends evenly has no step.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fillwright.exact import Fraction
from fillwright.take.beat import FAR_PRICE, BeatMap, Evidence, fit_beat, saved_by_step
from fillwright.take.loose import LOOSE_WEIGHT, Grid, Loose
from fillwright.take.model import TOGETHER_SEC
from fillwright.take.timing import Habit, HeardNote

__all__ = ["waits"]

_LEAST_SEC = 0.06           # a smaller step is late at most
_LEAST_GAIN = 10.0          # nats by which the map has to be cheaper
_LEAST_HOPE = 0.5           # less, if the melody alone is asked roughly, and nothing more is asked
_AROUND_BEATS = 16.0        # how far the map is looked at on both sides
_AFTER_BEATS = 0.9          # from here on it is seen what stays
_LEAST_EACH = 4             # places on each side
_ROUNDS = 2
_AHEAD_BEATS = 2.0          # so far a beat is carried on before it is heard anew


@dataclass(frozen=True, slots=True)
class _Step:
    """A wait at a landing: how long, and how much cheaper the map is with it."""

    sec: float = 0.0
    gain: float = 0.0


def waits(struck: tuple[Sequence[HeardNote], Sequence[Loose], Grid], habit: Habit, beat: BeatMap,
          landings: Sequence[Fraction]) -> dict[float, float]:
    """The steps at the landings of a run: place -> seconds.

    struck   the melody, what was struck beside it by time, and the grid on which that lies
    """
    around = _AROUND_BEATS * beat.step_quarter
    found: dict[float, float] = {}
    open_steps: dict[float, _Step] = {}
    asked = [float(landing) for landing in landings]
    while True:
        for place in asked:
            own = {at: by for at, by in found.items() if abs(at - place) <= around}
            sides = _Sides(struck, habit, beat, place)
            open_steps[place] = sides.step(own) if found or sides.is_doubted() else _Step()
        best = max(open_steps, key=lambda place: (open_steps[place].gain, -place), default=None)
        if best is None or open_steps[best].gain <= _LEAST_GAIN:
            return found
        found[best] = open_steps.pop(best).sec
        asked = [place for place in open_steps
                 if abs(place - best) <= around and open_steps[place].gain > _LEAST_GAIN]


class _Sides:
    """What was struck around a landing, before it and from it on."""

    def __init__(self, struck: tuple[Sequence[HeardNote], Sequence[Loose], Grid], habit: Habit,
                 beat: BeatMap, place: float) -> None:
        melody, loose, self.grid = struck
        self.habit, self.beat, self.place, self.unit = habit, beat, place, beat.step_quarter
        around = _AROUND_BEATS * self.unit
        self.melody = [one for one in melody if abs(float(one.quarter) - place) <= around]
        self.earlier = [one for one in self.melody if float(one.quarter) < place]
        self.later = [one for one in self.melody if float(one.quarter) >= place]
        low, high = beat.sec(place - around), beat.sec(place + around)
        self.loose = [one for one in loose if low <= one.sec <= high]
        turn = min((one.sec for one in self.later), default=high) - TOGETHER_SEC
        self.loose_before = [one for one in self.loose if one.sec < turn]
        self.loose_after = [one for one in self.loose if one.sec >= turn]

    def is_doubted(self) -> bool:
        """Whether the melody alone is better explained by a wait."""
        before, after = self._evidence(self.earlier), self._after(self._evidence(self.later))
        return (min(_places(before), _places(after)) >= 2
                and saved_by_step([*before, *after], self.place, self.beat) > _LEAST_HOPE)

    def step(self, own: Mapping[float, float]) -> _Step:
        """The wait that explains best what was struck, beside the steps that are known."""
        if min(_places(self._evidence(self.earlier)),
               _places(self._after(self._evidence(self.later)))) < _LEAST_EACH:
            return _Step()
        before = self._carried_on({at: by for at, by in own.items() if at < self.place})
        after = self._carried_back({at: by for at, by in own.items() if at > self.place})
        step = after.sec(self.place) - before.sec(self.place)
        if abs(step) < _LEAST_SEC:
            return _Step()
        left = self._of(self.earlier, self.loose_before, before)
        right = self._of(self.later, self.loose_after, after)
        return self._told(left, right, step, own)

    def _told(self, left: list[HeardNote], right: list[HeardNote], step: float,
              own: Mapping[float, float]) -> _Step:
        """How much cheaper the map is with a step, what lies nowhere counted on both sides."""
        sides = [self._evidence([one for one in side if self._is_before(one) == is_before])
                 for side, is_before in ((left, True), (right, False))]
        near = [*sides[0], *sides[1]]
        for _ in range(_ROUNDS):
            stepped = fit_beat(near, self.unit, {**own, self.place: step})
            step += _left_over(sides[0], self._after(sides[1]), stepped, self.place)
        if abs(step) < _LEAST_SEC:
            return _Step()
        stepped = fit_beat(near, self.unit, {**own, self.place: step})
        plain, beat = self._evidence(self.melody), self.beat
        for _ in range(_ROUNDS):
            plain = self._evidence(self._of(self.melody, self.loose, beat))
            beat = fit_beat(plain, self.unit, own)
        count = len(self.melody) + len(self.loose)
        nowhere = FAR_PRICE * LOOSE_WEIGHT
        return _Step(step, beat.price + nowhere * (count - len(plain))
                     - stepped.price - nowhere * (count - len(near)))

    def _carried_on(self, own: Mapping[float, float]) -> BeatMap:
        """The beat of what is before the landing: heard until the last melody note, and carried
        on from there beat by beat by what it finds in its place."""
        until = float(self.earlier[-1].quarter)
        heard = [one for one in self._of(self.earlier, self.loose_before, self.beat)
                 if float(one.quarter) <= until]
        beat = fit_beat(self._evidence(heard), self.unit, own)
        while until < self.place:
            until += _AHEAD_BEATS * self.unit
            heard = [one for one in self._of(self.earlier, self.loose_before, beat)
                     if float(one.quarter) <= until and self._is_before(one)]
            beat = fit_beat(self._evidence(heard), self.unit, own)
        return beat

    def _carried_back(self, own: Mapping[float, float]) -> BeatMap:
        """The beat of what is after the landing; that itself may be late alone."""
        beat = fit_beat(self._after(self._evidence(self.later)), self.unit, own)
        for _ in range(_ROUNDS):
            beat = fit_beat(self._after(self._evidence(
                self._of(self.later, self.loose_after, beat))), self.unit, own)
        return beat

    def _is_before(self, one: HeardNote) -> bool:
        return float(one.quarter) < self.place

    def _after(self, evidence: Sequence[Evidence]) -> list[Evidence]:
        return [one for one in evidence
                if one.quarter >= self.place + _AFTER_BEATS * self.unit]

    def _of(self, melody: Sequence[HeardNote], loose: Sequence[Loose], beat: BeatMap
            ) -> list[HeardNote]:
        placed = [one for one in self.grid.placed(loose, beat, self.habit) if one is not None]
        return sorted([*melody, *placed], key=lambda one: (one.quarter, one.sec))

    def _evidence(self, heard: Sequence[HeardNote]) -> list[Evidence]:
        return [Evidence(float(one.quarter), one.sec - self.habit.shift_sec(
            one.quarter, one.part, self.beat.quarter_sec(float(one.quarter)) * self.unit),
            one.weight) for one in heard]


def _places(evidence: Sequence[Evidence]) -> int:
    return len({one.quarter for one in evidence})


def _left_over(before: Sequence[Evidence], after: Sequence[Evidence], beat: BeatMap, place: float
               ) -> float:
    """What the step still lacks: near it, by the medians of both sides."""
    reach = 4 * beat.step_quarter
    sides = [[one.sec - beat.sec(one.quarter) for one in side
              if abs(one.quarter - place) <= reach] for side in (before, after)]
    if not all(sides):
        return 0.0
    return float(np.median(sides[1]) - np.median(sides[0]))
