"""Where a chorus breathes: the gaps that are left to the tune.

One fill right after another is a chattering accompanist. Before any fill is known this says
which gaps stay open, from how much of the tune lies between them and from where they stand in
the form: where a chorus begins, a fill wants a bar and a half of tune before the next one, where
it ends, half a bar. A short gap is left open sooner than a long one, the last one never.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from fillwright.exact import Fraction
from fillwright.fills.situation import LEAST_SECONDS
from fillwright.lattice import FORBIDDEN, k_best_paths
from fillwright.tune.model import Chorus, Gap

__all__ = ["BREATH_COSTS", "breaths_of"]

BREATH_COSTS: Mapping[str, int] = {
    # Units: a tenth of what a fill wholly without tune before it costs. Design choices.
    "open": 2,           # a gap of two beats left open
    "open late": 9,      # on top of it, the share of the chorus that lies before it
    "open long": 2,      # per beat beyond them: a long note alone is a hole
    "paired": 3,         # one that stands where another stood, or will: an idea comes back here
    "first": 6,          # the first gap: an idea has to be stated before it can be left out
    "close": 10,         # a fill with no tune between it and the one before
    "row": 2,            # per fill beyond two in a row
}

_AIR_FIRST, _AIR_LAST = Fraction(3, 2), Fraction(1, 2)
"""Bars of tune that a fill wants before the next one, where a chorus begins and where it ends."""

_ROW_BARS = 3
"""So many bars of tune end a row of fills."""

_MOST_ROW = 5
"""Longer rows of fills cost no more."""

Costs = npt.NDArray[np.int64]


def breaths_of(chorus: Chorus, gaps: Sequence[Gap], paired: Collection[int | None] = ()
               ) -> frozenset[int]:
    """Numbers of the gaps that are to stay open. Gaps too short for a fill are not counted: they
    are open as it is.

    paired   numbers of the gaps between which an idea may come back
    """
    wide = [gap for gap in gaps if gap.seconds >= LEAST_SECONDS]
    if not wide:
        return frozenset()
    local = [{"open": _open(chorus, gap, is_first=place == 0, is_paired=gap.number in paired)}
             for place, gap in enumerate(wide)]
    steps = [{"row": _steps(chorus, a, b)} for a, b in pairwise(wide)]
    sizes = [_MOST_ROW + 1] * len(wide)
    path = k_best_paths(sizes, local, steps, 1)[0]
    return frozenset(gap.number for gap, row in zip(wide, path.states, strict=True) if row == 0)


def _open(chorus: Chorus, gap: Gap, *, is_first: bool, is_paired: bool) -> Costs:
    """What each state of a gap costs by itself: open, or so many fills in a row with its own."""
    costs = np.zeros(_MOST_ROW + 1, dtype=np.int64)
    costs[0] = BREATH_COSTS["open"] + BREATH_COSTS["open long"] * max(int(gap.beats) - 2, 0)
    costs[0] += int(BREATH_COSTS["open late"] * gap.onset_quarter / chorus.length_quarter)
    costs[0] += BREATH_COSTS["paired"] * is_paired
    if gap.landing is None:
        costs[0] = FORBIDDEN
    elif is_first:
        costs[0] += BREATH_COSTS["first"]
        costs[2:] = FORBIDDEN
    return costs


def _steps(chorus: Chorus, before: Gap, here: Gap) -> Costs:
    """From each state of a gap to each of the next."""
    between = (here.onset_quarter - before.end_quarter) / chorus.meter.length_quarter
    way = here.onset_quarter / chorus.length_quarter
    wanted = _AIR_FIRST + (_AIR_LAST - _AIR_FIRST) * way
    close = int(BREATH_COSTS["close"] * max(wanted - between, Fraction(0)) / wanted)
    costs = np.full((_MOST_ROW + 1, _MOST_ROW + 1), FORBIDDEN, dtype=np.int64)
    costs[:, 0] = 0
    costs[0, 1] = 0
    for row in range(1, _MOST_ROW + 1):
        longer = 1 if between >= _ROW_BARS else min(row + 1, _MOST_ROW)
        costs[row, longer] = close + BREATH_COSTS["row"] * max(longer - 2, 0)
    return costs
