"""What usually stands between two chords: a prior learnt from real changes.

The tables of `prior.tsv` are the weights of a log-linear model, counted and fitted by
`tools/learn_changes.py` from the changes of jazz recordings (Weimar Jazz Database, ODbL 1.0,
through the R package jazzodata) and of public-domain lead sheets (OpenEWLD). A chord that is
looked for is seen from several sides: from the root of the chord that comes, from the chord
before, from the tonic of the key; with the place in the bar and in the form, and with the
melody note above. Each side gives every chord a weight; their sum says how likely it is.

The prior ranks. Whether a chord may stand there, and what it does, is a matter of the moves.
Costs are tenths of a natural logarithm: 0 is certain, 23 is one in ten, 46 one in a hundred.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt

from fillwright.fills.devices.reharm.function import Chord
from fillwright.memory import SEARCHES

__all__ = ["CHORDS", "CLASSES", "UNIT", "Around", "Tables", "OwnChord", "chances", "cost",
           "forget", "parsed", "tables", "views"]

CLASSES = "Mm7ho"
"""The classes of quality: major, minor, dominant, half-diminished, diminished."""

CHORDS = tuple((root, quality) for root in range(12) for quality in CLASSES)
"""The chords a place may have, in the order of all tables."""

_PLACES = {chord: place for place, chord in enumerate(CHORDS)}

UNIT = 100
"""Weights in the file are whole numbers, this many to a natural logarithm."""

_COST = 10
_LEAST = 1e-4

# How much the tune's own other places count. `OwnChord.likeness` names the row; the first number
# is how many observations of the prior one of them is worth, the second by how much it
# raises what the prior says of its chord. Tuned on the rows and sheets by cross-validation.
OWN_WEIGHTS: Mapping[str, tuple[float, float]] = {
    "same phrase": (20.0, 0.0),   # the same four chords around
    "same side": (1.8, 0.4),      # the same two, and the one before or the one after them
    "same pair": (0.3, 0.5),      # the same two
    "same goal": (0.05, 0.1),     # another chord before
    "moved": (0.02, 0.1),         # the same two in another key
}
_MOST_OWN = 3
"""More places of one kind than this say no more."""

Tonality = tuple[int, str]
"""Pitch class of the tonic, and the mode."""

Tables = Mapping[str, Mapping[str, npt.NDArray[np.float64]]]
"""By side and what is seen from there: the weights of `CHORDS`, roots counted from the side's
own pitch class."""


@dataclass(frozen=True, slots=True)
class Around:
    """Where a chord is looked for.

    here, goal        the chord before and the chord after
    key, here_key     the local keys of the goal and of the chord here
    home              the key of the tune
    before, after     the chords on the other sides of those two, or None
    place, goal_place  in the bar: 0 its beginning, 1 its middle, 2 elsewhere
    beats             how long the chord lasts, in whole felt beats, 1 to 4
    form              2 where the goal begins eight bars, 1 where it begins four, else 0
    note              pitch class of the melody note above, or None
    """

    here: Chord
    goal: Chord
    key: Tonality
    here_key: Tonality
    home: Tonality
    before: Chord | None = None
    after: Chord | None = None
    place: int = 1
    goal_place: int = 0
    beats: int = 2
    form: int = 0
    note: int | None = None


@dataclass(frozen=True, slots=True)
class OwnChord:
    """A chord that the tune itself has at another place like this one, and how like it is
    (see `OWN_WEIGHTS`)."""

    chord: Chord
    likeness: str


def _near(chord: Chord | None, root: int) -> str:
    return "none" if chord is None else f"{(chord[0] - root) % 12}{chord[1]}"


def views(around: Around) -> tuple[tuple[str, int, str], ...]:
    """The sides a place is seen from: (name, the pitch class roots are counted from, what is
    seen)."""
    (a, ac), (b, bc) = around.here, around.goal
    (k, km), (h, hm), (ka, kam) = around.key, around.home, around.here_key
    apart = (a - b) % 12
    before, after = _near(around.before, a), _near(around.after, b)
    place, goal_place, beats = around.place, around.goal_place, around.beats
    found = [
        ("goal", b, bc),
        ("motion", b, f"{apart}"),
        ("motion to goal", b, f"{apart} {bc}"),
        ("pair", b, f"{apart} {ac} {bc}"),
        ("here", a, ac),
        ("here and before", a, f"{ac} {before}"),
        ("goal and after", b, f"{bc} {after}"),
        ("key", k, km),
        ("key and goal", k, f"{km} {(b - k) % 12} {bc}"),
        ("key and here", ka, f"{kam} {(a - ka) % 12} {ac}"),
        ("key and pair", k, f"{km} {(a - k) % 12} {ac} {(b - k) % 12} {bc}"),
        ("pair and before", b, f"{apart} {ac} {bc} {before}"),
        ("pair and after", b, f"{apart} {ac} {bc} {after}"),
        ("home", h, hm),
        ("home and goal", h, f"{hm} {(b - h) % 12} {bc}"),
        ("place", b, f"{place} {beats}"),
        ("place and goal", b, f"{place} {bc}"),
        ("place and pair", b, f"{place} {beats} {apart} {ac} {bc}"),
        ("form", b, f"{around.form} {bc}"),
        ("goal's place", b, f"{goal_place} {bc}"),
        ("beats", b, f"{beats} {goal_place} {bc}"),
    ]
    if around.note is not None:
        found.append(("note", around.note, ""))
    return tuple(found)


def parsed(lines: Iterable[str]) -> Tables:
    """The tables of a file: side, what is seen, and the weights of chords, such as ``7m:54``,
    with tabs between; lines with # in front are remarks."""
    found: dict[str, dict[str, npt.NDArray[np.float64]]] = {}
    places = {f"{root}{quality}": place for place, (root, quality) in enumerate(CHORDS)}
    for line in lines:
        if line.startswith("#") or not line.strip():
            continue
        side, seen, weights = line.rstrip("\n").split("\t")
        row = [0.0] * len(CHORDS)
        for pair in weights.split():
            name, weight = pair.split(":")
            row[places[name]] = int(weight) / UNIT
        # doubled, so that a turn by any root is a slice
        found.setdefault(side, {})[seen] = np.array(row + row)
    return found


@cache
def tables() -> Tables:
    """The tables of the package."""
    text = files("fillwright.fills.devices.reharm").joinpath("prior.tsv").read_text("utf-8")
    return parsed(text.splitlines())


def chances(around: Around, learnt: Tables, ways: Iterable[OwnChord] = ()
            ) -> npt.NDArray[np.float64]:
    """How likely each of `CHORDS` is; their sum is 1. The two chords around are none."""
    total = np.zeros(len(CHORDS))
    for side, root, seen in views(around):
        row = learnt.get(side, {}).get(seen)
        if row is not None:
            start = len(CHORDS) - len(CLASSES) * root
            total += row[start:start + len(CHORDS)]
    sides = [_PLACES[chord] for chord in (around.here, around.goal)]
    total = np.exp(total - total.max())
    total[sides] = 0.0
    return _with_own(total / total.sum(), ways, sides)


def _with_own(plain: npt.NDArray[np.float64], ways: Iterable[OwnChord], sides: list[int]
              ) -> npt.NDArray[np.float64]:
    counts: dict[tuple[str, Chord], int] = {}
    for way in ways:
        counts[way.likeness, way.chord] = counts.get((way.likeness, way.chord), 0) + 1
    if not counts:
        return plain
    added, raised = np.zeros(len(CHORDS)), np.ones(len(CHORDS))
    for (likeness, chord), times in counts.items():
        more, up = OWN_WEIGHTS[likeness]
        place = _PLACES[chord]
        added[place] += more * min(times, _MOST_OWN)
        raised[place] += up * min(times, _MOST_OWN)
    raised[sides], added[sides] = 1.0, 0.0
    plain = plain * raised
    total: npt.NDArray[np.float64] = (plain / plain.sum() + added) / (1 + added.sum())
    return total


@SEARCHES.keep
def _costs(around: Around, ways: tuple[OwnChord, ...]) -> tuple[int, ...]:
    found = chances(around, tables(), ways)
    return tuple(np.rint(-_COST * np.log(np.maximum(found, _LEAST))).astype(int).tolist())


def cost(chord: Chord, around: Around, ways: tuple[OwnChord, ...] = ()) -> int:
    """What it costs that a chord stands at a place.

    ways   what the tune itself has at other places like this one

    >>> five_one = Around((2, "m"), (0, "M"), (0, "major"), (0, "major"), (0, "major"))
    >>> cost((7, "7"), five_one) < cost((5, "M"), five_one)
    True
    """
    return _costs(around, ways)[_PLACES[chord]]


def forget() -> None:
    """Drop what is remembered of costs: other tables are to be used."""
    _costs.cache_clear()
