"""The student's own beat: a smooth map from score time to seconds.

The map is piecewise linear between beats. It pays for leaving what was played, gently for what
lies far off (a late landing does not pull the beat with it), and for bending: a tempo may change
by about one part in eighty from beat to beat. That is a penalised fit, solved exactly in time
that grows with the beats, and repeated with new weights until it rests (iteratively reweighted
least squares). Where a student waits and then goes on at the later time, the map may step.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["FAR_PRICE", "BeatMap", "Evidence", "fit_beat"]

_SPREAD_SEC = 0.015         # tapping with a metronome: 2 to 4 % of the interval (Repp 2005)
_BEND_SHARE = 0.013         # of a beat, from beat to beat
_FAR = 2.5                  # so many spreads away, evidence counts for a quarter
_ROUNDS = 12

FAR_PRICE = 0.5 * _FAR ** 2
"""What clear evidence costs at most, however far off it lies, in nats."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """Something played whose place in the tune is known.

    weight   1 for a clear one
    """

    quarter: float
    sec: float
    weight: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class BeatMap:
    """Score time to seconds within one run.

    start_quarter, step_quarter   of the knots
    knots    seconds at the knots, steps left out
    steps    (quarter, seconds): where the student waited (or hurried) and went on from there
    price    what it pays for leaving the evidence and for bending, in nats
    """

    start_quarter: float
    step_quarter: float
    knots: npt.NDArray[np.float64]
    steps: tuple[tuple[float, float], ...] = ()
    price: float = 0.0

    def _index(self, quarter: float) -> int:
        place = int((quarter - self.start_quarter) / self.step_quarter)
        return min(max(place, 0), len(self.knots) - 2)

    def smooth_sec(self, quarter: float) -> float:
        """Seconds, as if there were no steps."""
        index = self._index(quarter)
        share = (quarter - self.start_quarter) / self.step_quarter - index
        return float(self.knots[index] + share * (self.knots[index + 1] - self.knots[index]))

    def secs(self, quarters: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """When places are played, shape (places,)."""
        found = self._smooth_secs(quarters)
        for at, by in self.steps:
            found = found + np.where(at <= quarters + 1e-9, by, 0.0)
        return found

    def quarter_secs(self, quarters: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """How long a quarter lasts at places, shape (places,); see `quarter_sec`."""
        end = self.start_quarter + (len(self.knots) - 1) * self.step_quarter
        low = np.maximum(quarters - self.step_quarter, self.start_quarter)
        high = np.maximum(np.minimum(quarters + self.step_quarter, end), low + 1e-6)
        found: npt.NDArray[np.float64] = (
            (self._smooth_secs(high) - self._smooth_secs(low)) / (high - low))
        return found

    def _smooth_secs(self, quarters: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        places = (quarters - self.start_quarter) / self.step_quarter
        left = np.clip(places.astype(int), 0, len(self.knots) - 2)
        found: npt.NDArray[np.float64] = (
            self.knots[left] + (places - left) * (self.knots[left + 1] - self.knots[left]))
        return found

    def stepped(self, quarter: float, before: bool = False) -> float:
        """The sum of the steps up to a place, that at the place among them unless `before`."""
        return sum(by for at, by in self.steps
                   if at < quarter - 1e-9 or (not before and at <= quarter + 1e-9))

    def sec(self, quarter: float) -> float:
        """When a place is played."""
        return self.smooth_sec(quarter) + self.stepped(quarter)

    def quarter_sec(self, quarter: float) -> float:
        """How long a quarter lasts there: of the beat before and the beat after."""
        around = self.step_quarter
        low = max(quarter - around, self.start_quarter)
        high = max(min(quarter + around, self.start_quarter
                       + (len(self.knots) - 1) * self.step_quarter), low + 1e-6)
        return (self.smooth_sec(high) - self.smooth_sec(low)) / (high - low)

    def quarter(self, sec: float) -> float:
        """The place that is played at a time."""
        low = 0
        times = [float(knot) + self.stepped(self.start_quarter + index * self.step_quarter)
                 for index, knot in enumerate(self.knots)]
        low = min(max(bisect_right(times, sec) - 1, 0), len(times) - 2)
        span = max(times[low + 1] - times[low], 1e-6)
        return self.start_quarter + self.step_quarter * (low + (sec - times[low]) / span)


def fit_beat(evidence: Sequence[Evidence], beat_quarter: float,
             steps: Mapping[float, float] | None = None) -> BeatMap:
    """The map through evidence, which is in order of score time and has two places at least.

    steps   where the map steps, and by how much
    """
    steps = dict(steps or {})
    start = np.floor(evidence[0].quarter / beat_quarter) * beat_quarter
    count = int(np.ceil((evidence[-1].quarter - start) / beat_quarter)) + 2
    quarters = np.array([one.quarter for one in evidence])
    places = (quarters - start) / beat_quarter
    secs = np.array([one.sec - sum(by for at, by in steps.items() if at <= one.quarter + 1e-9)
                     for one in evidence])
    trust = np.array([one.weight for one in evidence])
    left = np.minimum(places.astype(int), count - 2)
    share = places - left
    slope = (np.median(np.diff(secs)[np.diff(quarters) > 0]
                       / np.diff(quarters)[np.diff(quarters) > 0])
             if np.any(np.diff(quarters) > 0) else 0.5)
    bend = max(_BEND_SHARE * float(slope) * beat_quarter, 1e-4)
    weights = trust.copy()
    knots, off = np.zeros(count), np.zeros(len(secs))
    spread = 4 * _SPREAD_SEC        # first of all everything has a say
    for _ in range(_ROUNDS):
        knots = _solve(count, (left, share, secs, weights / _SPREAD_SEC ** 2), 1 / bend ** 2)
        off = secs - (knots[left] * (1 - share) + knots[left + 1] * share)
        weights = trust / (1 + (off / (_FAR * spread)) ** 2) ** 2
        spread = max(spread * 0.7, _SPREAD_SEC)
    far = (off / (_FAR * _SPREAD_SEC)) ** 2
    price = float(np.sum(trust * FAR_PRICE * far / (1 + far))
                  + 0.5 * np.sum((np.diff(knots, 2) / bend) ** 2))
    return BeatMap(float(start), beat_quarter, knots, tuple(sorted(steps.items())), price)


_Points = tuple[npt.NDArray[np.int64], npt.NDArray[np.float64], npt.NDArray[np.float64],
                npt.NDArray[np.float64]]


def _solve(count: int, points: _Points, stiffness: float) -> npt.NDArray[np.float64]:
    """Least squares with a penalty on second differences: a matrix of five diagonals."""
    left, share, secs, weights = points
    main, near, far = np.full(count, 1e-9), np.zeros(count), np.zeros(count)
    right = np.zeros(count)
    np.add.at(main, left, weights * (1 - share) ** 2)
    np.add.at(main, left + 1, weights * share ** 2)
    np.add.at(near, left, weights * (1 - share) * share)
    np.add.at(right, left, weights * (1 - share) * secs)
    np.add.at(right, left + 1, weights * share * secs)
    for offset, factor in ((0, 1.0), (1, 4.0), (2, 1.0)):
        main[offset:count - 2 + offset] += stiffness * factor
    near[:count - 2] -= 2 * stiffness
    near[1:count - 1] -= 2 * stiffness
    far[:count - 2] += stiffness
    return _five_diagonals(main.tolist(), near.tolist(), far.tolist(), right.tolist())


def _five_diagonals(main: list[float], near: list[float], far: list[float], right: list[float]
                    ) -> npt.NDArray[np.float64]:
    """Solve a symmetric positive definite system of bandwidth two (LDL', no pivots)."""
    count = len(main)
    one, two = [0.0] * count, [0.0] * count
    for row in range(count):
        if row >= 1:
            main[row] -= one[row - 1] ** 2 * main[row - 1]
            right[row] -= one[row - 1] * right[row - 1]
        if row >= 2:
            main[row] -= two[row - 2] ** 2 * main[row - 2]
            right[row] -= two[row - 2] * right[row - 2]
        if row + 1 < count:
            mixed = one[row - 1] * two[row - 1] * main[row - 1] if row >= 1 else 0.0
            one[row] = (near[row] - mixed) / main[row]
        if row + 2 < count:
            two[row] = far[row] / main[row]
    found = [value / pivot for value, pivot in zip(right, main, strict=True)]
    for row in range(count - 1, -1, -1):
        if row + 1 < count:
            found[row] -= one[row] * found[row + 1]
        if row + 2 < count:
            found[row] -= two[row] * found[row + 2]
    return np.array(found)
