"""Learn from real solos what the lines of the package cost, and say how good it is.

    python tools/learn_lines.py PHRASES.npz            # prints the figures
    python tools/learn_lines.py PHRASES.npz --write    # and writes the package's tables

PHRASES.npz has one row a note, grouped by solo and phrase: `solo`, `phrase`, `bar`, `pos` (48ths of
a 4/4 bar), `midi`, `dur` (length class), `root`, `cls` (0 dominant, 1 major, 2 minor, 3 half-
diminished, 4 diminished), `tempo`, `feel` (0 swing, 1 ballad). Source: Weimar Jazz Database
(Jazzomat Research Project), ODbL 1.0, through the R package jazzodata.

Three of every four solos are learnt from, the fourth is looked at. What is written are tables of
costs in hundredths of a bit, no phrase:

    interval  the next interval, seen from the chord of the note moved to: place of that note in
              the bar, class of chord, degree moved from, interval before, interval
    start     the first note of a phrase: class, place, degree
    end       the last note: class, place, degree, against any note there
    figure    how a beat is divided: tempo, strong or weak beat, figure before, figure
    length    how a note sounds until the next: tempo, gap, length class

Each is smoothed by interpolation with its simpler tables (after Witten & Bell, IEEE Trans.
Information Theory 37, 1991).
"""

from __future__ import annotations

import argparse
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log2
from pathlib import Path
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from fillwright.fills.devices.line.learnt import (
    FIGURES,
    LENGTHS,
    LIMIT,
    NO_INTERVAL,
    PLACES,
    TEMPOS,
    before_class,
    gap_class,
    place_of,
    tempo_class,
)

TARGET = (Path(__file__).resolve().parent.parent / "src" / "fillwright" / "data"
          / "line_costs.npz")
CLASSES = 5
BEAT, BAR = 12, 48
MOST_NOTES, MOST_BEATS = 20, 16
"""A rhythm is learnt from phrases as short as a fill can be."""

Context: TypeAlias = tuple[int, ...]
GRIDS = ((0, (0, 6)), (1, (0, 4, 8)), (1, (0, 3, 6, 9)))
"""Ways to divide a beat, and what each costs (in 12ths of a beat off the place)."""

BEHIND = {(3, 9): (0, 6), (3,): (0,), (4,): (6,), (8,): (6,), (0, 8): (0, 6)}
"""What is played behind the beat, as it is written."""

CAUTION = 20
"""How much a fuller context is doubted for each kind of value seen in it (least bits on the
unseen solos)."""


@dataclass(frozen=True)
class Phrase:
    """Notes of one phrase: pitch, class and root of the chord, length class, onset in 12ths of a
    beat as played; tempo class."""

    midis: tuple[int, ...]
    classes: tuple[int, ...]
    roots: tuple[int, ...]
    lengths: tuple[int, ...]
    played: tuple[int, ...]
    tempo: int

    @property
    def written(self) -> tuple[int, ...] | None:
        return written(self.played, fast=self.tempo == len(TEMPOS))


def written(played: Sequence[int], fast: bool) -> tuple[int, ...] | None:
    """Onsets put on eighths, triplets or (unless it is fast) sixteenths beat by beat, as a
    player would write them: a late off-beat is a swung eighth, a pair that lies behind is on
    the beat. None where two notes fall together."""
    result: list[int] = []
    beats: dict[int, list[int]] = defaultdict(list)
    for place in played:
        beats[place // BEAT].append(place % BEAT)
    for beat, places in beats.items():
        options = [found for price, grid in (GRIDS[:2] if fast else GRIDS)
                   if (found := _on_grid(places, grid, price)) is not None]
        if not options:
            return None
        figure = tuple(min(options)[1])
        if not any(place < 3 for place in beats.get(beat + 1, ())):
            figure = {(9,): (6,), (0, 9): (0, 6)}.get(figure, figure)
        figure = BEHIND.get(figure, figure)
        result += [beat * BEAT + place for place in figure]
    return tuple(result) if all(a < b for a, b in pairwise(result)) else None


def _on_grid(places: Sequence[int], grid: Sequence[int], price: int
             ) -> tuple[int, list[int]] | None:
    points = [*grid, BEAT]
    chosen = [min(points, key=lambda point: abs(point - place)) for place in places]
    if len(set(chosen)) < len(places):
        return None
    off = sum(0 if len(grid) == 2 and point == 6 and place in (6, 7, 8)
              else abs(point - place) for point, place in zip(chosen, places, strict=True))
    return off + price, chosen


def read(path: Path) -> Iterator[tuple[int, Phrase]]:
    """(number of the solo, phrase) for each phrase over swing or ballad feel."""
    rows = dict(np.load(path))
    cuts = np.flatnonzero(np.diff(rows["solo"].astype(int) * 1000 + rows["phrase"])) + 1
    for part in np.split(np.arange(len(rows["solo"])), cuts):
        if len(part) < 2 or rows["feel"][part[0]] > 1:
            continue
        onsets = rows["bar"][part].astype(int) * BAR + rows["pos"][part]
        midis, classes, roots, lengths = (tuple(rows[name][part].astype(int).tolist())
                                          for name in ("midi", "cls", "root", "dur"))
        yield int(rows["solo"][part[0]]), Phrase(
            midis, classes, roots, lengths, tuple(onsets.tolist()),
            tempo_class(int(rows["tempo"][part[0]])))


class Backed:
    """Counts in nested contexts, from none to the fullest, interpolated (Witten & Bell)."""

    def __init__(self, size: int, depth: int) -> None:
        self.size = size
        self.counts: list[dict[Context, Counter[int]]] = [defaultdict(Counter)
                                                          for _ in range(depth)]

    def add(self, contexts: Sequence[Context], value: int) -> None:
        for table, context in zip(self.counts, contexts, strict=True):
            table[context][value] += 1

    def row(self, contexts: Sequence[Context]) -> npt.NDArray[np.float64]:
        """Probabilities of all values; fewer contexts than the depth give a simpler table."""
        row = np.full(self.size, 1 / self.size)
        for table, context in zip(self.counts, contexts, strict=False):
            seen = table.get(context)
            if seen:
                total, kinds = sum(seen.values()), len(seen)
                here = np.zeros(self.size)
                for value, count in seen.items():
                    here[value] = count
                doubt = CAUTION * kinds
                row = (here + doubt * row) / (total + doubt)
        return row


def moves(phrase: Phrase) -> Iterator[tuple[int, tuple[int, int, int, int]]]:
    """(interval, (place, class, degree, interval before)) of each move."""
    before = NO_INTERVAL
    for index, (low, high) in enumerate(pairwise(phrase.midis), start=1):
        interval = max(-LIMIT, min(LIMIT, high - low))
        yield interval + LIMIT, (place_of(phrase.played[index] % BAR), phrase.classes[index],
                                 (low - phrase.roots[index]) % 12, before)
        before = before_class(high - low)


def interval_contexts(place: int, cls: int, degree: int, before: int) -> list[Context]:
    return [(), (before,), (before, degree), (before, degree, cls), (before, degree, cls, place)]


def figures(phrase: Phrase) -> Iterator[tuple[int, tuple[int, int, int]]]:
    """(figure, (tempo, strong, figure before)) of each beat of a short phrase, its end last."""
    onsets = phrase.written
    if onsets is None or len(onsets) > MOST_NOTES:
        return
    first, last = onsets[0] // BEAT, onsets[-1] // BEAT
    if last - first >= MOST_BEATS:
        return
    places: dict[int, list[int]] = defaultdict(list)
    for onset in onsets:
        places[onset // BEAT].append(onset % BEAT)
    before = len(FIGURES)
    for beat in range(first, last + 1):
        figure = tuple(places.get(beat, ()))
        if figure not in FIGURES:
            return
        number = FIGURES.index(figure)
        yield number, (phrase.tempo, beat % 2, before)
        before = number
    yield len(FIGURES), (phrase.tempo, (last + 1) % 2, before)


def figure_contexts(tempo: int, strong: int, before: int) -> list[Context]:
    return [(), (before,), (before, tempo), (before, tempo, strong)]


def learn(phrases: Iterable[Phrase]) -> dict[str, Backed]:
    interval, figure = Backed(2 * LIMIT + 1, 5), Backed(len(FIGURES) + 1, 4)
    start, note, end = Backed(12, 3), Backed(12, 3), Backed(12, 3)
    length = Backed(len(LENGTHS), 2)
    for phrase in phrases:
        for value, context in moves(phrase):
            interval.add(interval_contexts(*context), value)
        for value, (tempo, strong, before) in figures(phrase):
            figure.add(figure_contexts(tempo, strong, before), value)
        degrees = [(m - r) % 12 for m, r in zip(phrase.midis, phrase.roots, strict=True)]
        wheres = [place_of(o % BAR) for o in phrase.played]
        for index, (degree, cls, where) in enumerate(zip(degrees, phrase.classes, wheres,
                                                         strict=True)):
            contexts: list[Context] = [(), (cls,), (cls, where)]
            note.add(contexts, degree)
            if index == 0:
                start.add(contexts, degree)
            if index == len(degrees) - 1:
                end.add(contexts, degree)
        for index, (low, high) in enumerate(pairwise(phrase.played)):
            length.add([(phrase.tempo,), (phrase.tempo, gap_class(high - low))],
                       LENGTHS.index(phrase.lengths[index]))
    return {"interval": interval, "figure": figure, "start": start, "note": note, "end": end,
            "length": length}


def tables(models: dict[str, Backed]) -> dict[str, npt.NDArray[np.int16]]:
    """The costs that are written, in hundredths of a bit."""
    befores = NO_INTERVAL + 1
    interval = [[[[models["interval"].row(interval_contexts(place, cls, degree, before))
                   for before in range(befores)] for degree in range(12)]
                 for cls in range(CLASSES)] for place in range(len(PLACES))]
    figure = [[[models["figure"].row(figure_contexts(tempo, strong, before))
                for before in range(len(FIGURES) + 1)] for strong in range(2)]
              for tempo in range(len(TEMPOS) + 1)]
    at = [[[(), (cls,), (cls, where)] for where in range(len(PLACES))] for cls in range(CLASSES)]
    start = [[models["start"].row(contexts) for contexts in row] for row in at]
    end = [[models["end"].row(contexts) / models["note"].row(contexts) for contexts in row]
           for row in at]
    length = [[models["length"].row([(tempo,), (tempo, gap)]) for gap in range(5)]
              for tempo in range(len(TEMPOS) + 1)]
    return {name: np.round(-100 * np.log2(np.array(rows))).astype(np.int16)
            for name, rows in (("interval", interval), ("figure", figure), ("start", start),
                               ("end", end), ("length", length))}


def print_figures(models: dict[str, Backed], unseen: Sequence[Phrase]) -> None:
    """Bits a note on unseen solos, for each table and those it backs off to."""
    names = ("interval alone", "and interval before", "and degree", "and class of chord",
             "and place in the bar")
    found = [(value, interval_contexts(*c)) for p in unseen for value, c in moves(p)]
    _print_depths("the next interval", names, models["interval"], found)
    parts = ("figure alone", "and the figure before", "and tempo", "and strong or weak beat")
    found = [(value, figure_contexts(*c)) for p in unseen for value, c in figures(p)]
    _print_depths("the division of a beat", parts, models["figure"], found)


def _print_depths(what: str, names: Sequence[str], model: Backed,
                  found: Sequence[tuple[int, list[Context]]]) -> None:
    print(f"{what}: {len(found)} in unseen solos; evenly spread {log2(model.size):.2f} bits")
    for depth, name in enumerate(names, start=1):
        bits = [-log2(model.row(contexts[:depth])[value]) for value, contexts in found]
        print(f"  {name:24} {sum(bits) / len(bits):.2f} bits")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("phrases", type=Path)
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    solos = list(read(asked.phrases))
    models = learn(phrase for solo, phrase in solos if solo % 4 != 3)
    print_figures(models, [phrase for solo, phrase in solos if solo % 4 == 3])
    if asked.write:
        np.savez_compressed(TARGET, **tables(models))  # type: ignore[arg-type]
        print(f"{TARGET.name}: {TARGET.stat().st_size} bytes")


if __name__ == "__main__":
    main()
