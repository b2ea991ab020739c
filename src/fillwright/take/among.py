"""Which of some tunes a take is of."""

from __future__ import annotations

from collections.abc import Iterable

from fillwright.take.follow import follow
from fillwright.take.model import Take
from fillwright.take.score import line_of
from fillwright.tune.form import unfold
from fillwright.tune.model import Chorus, Tune

__all__ = ["best_fit"]

_LEAST_A_NOTE = 1.5     # nats a written note that is gone by; chance gives a third
_CLEARLY = 1.5          # times as much as speaks for the next


def best_fit(take: Take, tunes: Iterable[Tune | Chorus]) -> Tune | None:
    """The tune that is heard in a take, in the key it is written in; None where none is heard
    clearly."""
    found = []
    for tune in tunes:
        chorus = tune if isinstance(tune, Chorus) else unfold(tune)
        line = line_of(chorus)
        if len(line):
            found.append((follow(take.strokes, line).score, len(line), chorus.tune))
    found.sort(key=lambda one: -one[0])
    if not found or found[0][0] < _LEAST_A_NOTE * min(found[0][1], len(take.strokes)):
        return None
    if len(found) > 1 and found[0][0] < _CLEARLY * found[1][0]:
        return None
    return found[0][2]
