"""What real solos cost: the surprise of an interval, of the way a beat is divided, of a beginning
and an end, in hundredths of a bit.

The tables lie in the package (`data/line_costs.npz`) and hold no phrase, only costs;
`tools/learn_lines.py` learns them. Source: Weimar Jazz Database (Jazzomat Research Project),
ODbL 1.0, through the R package jazzodata: 258 of 344 solos over swing and ballad feel.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

__all__ = ["FIGURES", "LENGTHS", "LIMIT", "NO_INTERVAL", "PLACES", "TEMPOS", "TICKS",
           "before_class", "gap_class", "place_of", "table", "tempo_class"]

TICKS = 12
"""Parts of a beat that places are told apart by."""

LIMIT = 14
"""Wider intervals count as this many semitones."""

PLACES = ("strong beat", "weak beat", "eighth between", "elsewhere")
"""Places in the bar, as an index of a table: beats 1 and 3, beats 2 and 4 ..."""

TEMPOS = (90, 160)
"""Tempo classes in beats a minute: below the first, below the second, from there on. Solos
divide beats in four up to about 90, and in two from about 160 on."""

LENGTHS = (-2, -1, 0, 1, 2)
"""Length classes of a note: under a third of a beat, half a beat, a beat, two, longer."""

_NEAR = 9
NO_INTERVAL = 2 * _NEAR + 1
"""The class of the interval before the second note of a phrase: none."""

FIGURES: tuple[tuple[int, ...], ...] = (
    (), (0,), (6,), (0, 6),
    (4,), (8,), (0, 4), (4, 8), (0, 4, 8),
    (3,), (9,), (0, 3), (0, 9), (3, 6), (3, 9), (6, 9), (0, 3, 6), (0, 3, 9), (0, 6, 9),
    (3, 6, 9), (0, 3, 6, 9))
"""Ways to divide a beat, as onsets in `TICKS`; 6 is the swung eighth."""


def tempo_class(beats_per_minute: float) -> int:
    return sum(beats_per_minute >= edge for edge in TEMPOS)


def place_of(tick: int) -> int:
    """The place of a tick of a 4/4 bar, as an index of `PLACES`.

    >>> [PLACES[place_of(tick)] for tick in (0, 12, 18, 21)]
    ['strong beat', 'weak beat', 'eighth between', 'elsewhere']
    """
    if tick % (2 * TICKS) == 0:
        return 0
    if tick % TICKS == 0:
        return 1
    return 2 if tick % TICKS in (6, 8) else 3


def before_class(interval: int) -> int:
    """An interval as it counts for the next one."""
    return max(-_NEAR, min(_NEAR, interval)) + _NEAR


def gap_class(ticks: int) -> int:
    """A gap between two onsets: under a half, about a half, a beat, two, longer."""
    return sum(ticks >= edge for edge in (5, 9, 15, 27))


@cache
def _tables() -> MappingProxyType[str, npt.NDArray[np.int64]]:
    with (files("fillwright") / "data" / "line_costs.npz").open("rb") as stream:
        return MappingProxyType({name: rows.astype(np.int64)
                                 for name, rows in np.load(stream).items()})


def table(name: str) -> npt.NDArray[np.int64]:
    """A table of costs by name: "interval" (place, class, degree, interval before, interval +
    LIMIT), "figure" (tempo, weak, figure before, figure or end), "start" and "end" (class, place,
    degree), "length" (tempo, gap, length)."""
    return _tables()[name]
