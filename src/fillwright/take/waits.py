"""Where a student waited in a gap (or lost a beat) and went on from there: the beat steps.

A step is taken where the map is a good deal cheaper with it: without it, it would have to bend,
or to leave what was played on one side. A landing that is late with the hands in place again soon
after is no wait, and a tempo that bends evenly has no step.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fillwright.exact import Fraction
from fillwright.take.beat import BeatMap, Evidence, fit_beat
from fillwright.take.timing import Habit, HeardNote

__all__ = ["waits"]

_LEAST_SEC = 0.06           # a smaller step is late at most
_LEAST_GAIN = 10.0          # nats by which the map has to be cheaper
_AROUND_BEATS = 16.0        # how far the map is looked at on both sides
_AFTER_BEATS = 0.9          # from here on it is seen what stays
_LEAST_EACH = 4             # strokes on each side
_ROUNDS = 2


def waits(heard: Sequence[HeardNote], habit: Habit, beat: BeatMap, landings: Sequence[Fraction]
          ) -> dict[float, float]:
    """The steps at the landings of a run: place -> seconds."""
    unit = beat.step_quarter
    evidence = [Evidence(float(one.quarter), one.sec - habit.shift_sec(
        one.quarter, one.part, beat.quarter_sec(float(one.quarter)) * unit), one.weight)
        for one in heard]
    found: dict[float, float] = {}
    for landing in landings:
        place = float(landing)
        near = [one for one in evidence if abs(one.quarter - place) <= _AROUND_BEATS * unit]
        before = [one for one in near if one.quarter < place]
        after = [one for one in near if one.quarter >= place + _AFTER_BEATS * unit]
        if min(_places(before), _places(after)) < _LEAST_EACH:
            continue
        own = {at: by for at, by in found.items() if abs(at - place) <= _AROUND_BEATS * unit}
        step = _first_guess(before, after, place, unit, own)
        plain = fit_beat(near, unit, own)
        for _ in range(_ROUNDS):
            stepped = fit_beat(near, unit, {**own, place: step})
            step += _left_over(before, after, stepped, place)
        if abs(step) >= _LEAST_SEC and fit_beat(
                near, unit, {**own, place: step}).price < plain.price - _LEAST_GAIN:
            found[place] = step
    return found


def _places(evidence: Sequence[Evidence]) -> int:
    return len({one.quarter for one in evidence})


def _first_guess(before: Sequence[Evidence], after: Sequence[Evidence], place: float, unit: float,
                 own: dict[float, float]) -> float:
    """How far the maps of the two sides are apart where they should meet."""
    left, right = fit_beat(before, unit, own), fit_beat(after, unit)
    return right.smooth_sec(place) - left.smooth_sec(place) - left.stepped(place)


def _left_over(before: Sequence[Evidence], after: Sequence[Evidence], beat: BeatMap, place: float
               ) -> float:
    """What the step still lacks: near it, by the medians of both sides."""
    reach = 4 * beat.step_quarter
    sides = [[one.sec - beat.sec(one.quarter) for one in side
              if abs(one.quarter - place) <= reach] for side in (before, after)]
    if not all(sides):
        return 0.0
    return float(np.median(sides[1]) - np.median(sides[0]))
