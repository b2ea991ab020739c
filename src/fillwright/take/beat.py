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

__all__ = ["FAR_PRICE", "BeatMap", "Evidence", "fit_beat", "saved_by_step"]

_SPREAD_SEC = 0.015         # tapping with a metronome: 2 to 4 % of the interval (Repp 2005)
_BEND_SHARE = 0.013         # of a beat, from beat to beat
_FAR = 2.5                  # so many spreads away, evidence counts for a quarter
_ROUNDS = 12
_RESTS = 1e-3               # no weight changes by more than this: it rests

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


def saved_by_step(evidence: Sequence[Evidence], place: float, beat: BeatMap) -> float:
    """How many nats it saves, roughly, if a map through evidence may step at a place: all of it
    has its whole weight, and the tempo is that of `beat`. One solution, where `fit_beat` takes
    several."""
    unit = beat.step_quarter
    quarters = np.array([one.quarter for one in evidence])
    first = np.floor((quarters[0] - place) / unit)
    places = (quarters - place) / unit - first
    count = int(places[-1]) + 2
    weights = np.array([one.weight for one in evidence]) / _SPREAD_SEC ** 2
    left = places.astype(int)
    rows = np.arange(len(left))
    knots = np.zeros((len(left), count))
    knots[rows, left] = 1 - (places - left)
    knots[rows, left + 1] = places - left
    bends = np.diff(np.eye(count), 2, axis=0) / (_BEND_SHARE * beat.quarter_sec(place) * unit)
    weighed = knots.T * weights
    later = (quarters >= place - 1e-9).astype(float)
    secs = np.array([one.sec for one in evidence])
    smooth, stepped = np.linalg.solve(
        weighed @ knots + bends.T @ bends + 1e-9 * np.eye(count),
        np.column_stack([weighed @ secs, weighed @ later])).T
    open_sec = float((weights * later) @ (secs - knots @ smooth))
    freedom = float((weights * later) @ (later - knots @ stepped))
    return 0.5 * open_sec ** 2 / freedom if freedom > 0 else 0.0


def fit_beat(evidence: Sequence[Evidence], beat_quarter: float,
             steps: Mapping[float, float] | None = None) -> BeatMap:
    """The map through evidence, which is in order of score time and has two places at least.

    steps   where the map steps, and by how much
    """
    steps = dict(steps or {})
    start = np.floor(evidence[0].quarter / beat_quarter) * beat_quarter
    count = int(np.ceil((evidence[-1].quarter - start) / beat_quarter)) + 2
    quarters = np.array([one.quarter for one in evidence])
    secs = np.array([one.sec - sum(by for at, by in steps.items() if at <= one.quarter + 1e-9)
                     for one in evidence])
    trust = np.array([one.weight for one in evidence])
    apart = np.diff(quarters)
    slope = (np.median(np.diff(secs)[apart > 0] / apart[apart > 0]) if np.any(apart > 0) else 0.5)
    bend = max(_BEND_SHARE * float(slope) * beat_quarter, 1e-4)
    points = _Points((quarters - start) / beat_quarter, secs, count)
    weights, spread = trust, 4 * _SPREAD_SEC        # first of all everything has a say
    knots, off = np.zeros(count), np.zeros(len(secs))
    for _ in range(_ROUNDS):
        knots = points.solved(weights / _SPREAD_SEC ** 2, 1 / bend ** 2)
        off = secs - points.at(knots)
        before, weights = weights, trust / (1 + (off / (_FAR * spread)) ** 2) ** 2
        if spread == _SPREAD_SEC and np.abs(weights - before).max() < _RESTS:
            break
        spread = max(spread * 0.7, _SPREAD_SEC)
    far = (off / (_FAR * _SPREAD_SEC)) ** 2
    price = float(np.sum(trust * FAR_PRICE * far / (1 + far))
                  + 0.5 * np.sum((np.diff(knots, 2) / bend) ** 2))
    return BeatMap(float(start), beat_quarter, knots, tuple(sorted(steps.items())), price)


class _Points:
    """Evidence between knots: least squares with a penalty on second differences, which is a
    matrix of five diagonals."""

    def __init__(self, places: npt.NDArray[np.float64], secs: npt.NDArray[np.float64],
                 count: int) -> None:
        self.count, self.secs = count, secs
        self.left = np.minimum(places.astype(int), count - 2)
        self.share = places - self.left
        self.rest = 1 - self.share

    def at(self, knots: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        found: npt.NDArray[np.float64] = (knots[self.left] * self.rest
                                          + knots[self.left + 1] * self.share)
        return found

    def _sums(self, values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        return np.bincount(self.left, values, self.count).astype(np.float64, copy=False)

    def solved(self, weights: npt.NDArray[np.float64], stiffness: float
               ) -> npt.NDArray[np.float64]:
        """Knots, from one weight a point."""
        low, high = weights * self.rest, weights * self.share
        main = self._sums(low * self.rest) + 1e-9
        main[1:] += self._sums(high * self.share)[:-1]
        near = self._sums(low * self.share)
        right = self._sums(low * self.secs)
        right[1:] += self._sums(high * self.secs)[:-1]
        for offset, factor in ((0, 1.0), (1, 4.0), (2, 1.0)):
            main[offset:self.count - 2 + offset] += stiffness * factor
        near[:-2] -= 2 * stiffness
        near[1:-1] -= 2 * stiffness
        far = np.zeros(self.count)
        far[:-2] += stiffness
        return _five_diagonals(main.tolist(), near.tolist(), far.tolist(), right.tolist())


def _five_diagonals(main: list[float], near: list[float], far: list[float], right: list[float]
                    ) -> npt.NDArray[np.float64]:
    """Solve a symmetric positive definite system of bandwidth two (LDL', no pivots)."""
    ones, twos, found = [], [], []
    one = two = two_before = pivot = pivot_before = last = last_but_one = 0.0
    for row, diagonal in enumerate(main):       # what both rows before it leave of a row
        mixed = one * two * pivot
        new = diagonal - one * one * pivot - two_before * two_before * pivot_before
        value = right[row] - one * last - two_before * last_but_one
        one, two, two_before = (near[row] - mixed) / new, far[row] / new, two
        pivot, pivot_before = new, pivot
        last, last_but_one = value, last
        ones.append(one)
        twos.append(two)
        found.append(value / new)
    last = last_but_one = 0.0
    for row in range(len(found) - 1, -1, -1):
        value = found[row] - ones[row] * last - twos[row] * last_but_one
        last, last_but_one = value, last
        found[row] = value
    return np.array(found)
