"""Which of some tunes a take is of."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from fillwright.take.follow import follow
from fillwright.take.model import Take
from fillwright.take.score import MelodyLine, line_of
from fillwright.tune.form import unfold
from fillwright.tune.model import Chorus, Tune

__all__ = ["best_fit"]

_LEAST_A_NOTE = 1.5     # nats a written note that is gone by; chance gives a third
_CLEARLY = 1.5          # times as much as speaks for the next


def best_fit(take: Take, tunes: Iterable[Tune | Chorus]) -> Tune | None:
    """The tune that is heard in a take, in the key it is written in; None where none is heard
    clearly. The same melody brought twice is one tune: the first of them is meant."""
    found: list[tuple[float, MelodyLine, Tune]] = []
    for tune in tunes:
        chorus = tune if isinstance(tune, Chorus) else unfold(tune)
        line = line_of(chorus)
        if len(line):
            found.append((follow(take.strokes, line).score, line, chorus.tune))
    found.sort(key=lambda one: -one[0])
    if not found or found[0][0] < _LEAST_A_NOTE * min(len(found[0][1]), len(take.strokes)):
        return None
    rivals = [score for score, line, _ in found if not _same(line, found[0][1])]
    if rivals and found[0][0] < _CLEARLY * rivals[0]:
        return None
    return found[0][2]


def _same(one: MelodyLine, other: MelodyLine) -> bool:
    """Whether the shorter is how the other begins: bars before it and a second chorus make no
    other tune."""
    count = min(len(one), len(other))
    return (np.array_equal(one.quarters[:count] - one.quarters[0],
                           other.quarters[:count] - other.quarters[0])
            and np.array_equal(one.midis[:count], other.midis[:count]))
