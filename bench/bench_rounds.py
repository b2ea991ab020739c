"""Rounds through twelve keys over some sheets: each key is the first one moved, or says why not.

    python -m bench.bench_rounds SHEET ...

For the first gaps of each sheet, at two levels and in each family: how many keys have the same
strokes as the first key, moved; how many differ and say how; and every one that differs and says
nothing.
"""

from __future__ import annotations

import sys
from collections import Counter
from fractions import Fraction
from pathlib import Path

from fillwright import InputError, Options, find_gaps, read_tune, unfold
from fillwright.lesson import InKey, round_of_keys

GAPS, TEMPO = 2, 120


def main(paths: list[str]) -> None:
    total: Counter[str] = Counter()
    for path in map(Path, paths):
        try:
            found = looked_at(path)
        except InputError as error:
            print(f"{path.name}: {error}", flush=True)
            continue
        total += found
        print(f"{path.name}: {told(found)}", flush=True)
    print(f"all: {told(total)}")


def looked_at(path: Path) -> Counter[str]:
    tune = read_tune(path)
    counts: Counter[str] = Counter()
    for gap in find_gaps(unfold(tune))[:GAPS]:
        for level in ("beginner", "advanced"):
            options = Options(level=level, tempo=Fraction(TEMPO))
            for family in ("comp", "reharm", "line"):
                try:
                    keys = round_of_keys(tune, "fourths", gap=gap.number, fill=f"{family}:1",
                                         options=options).keys
                except InputError:
                    continue  # no such fill there
                for one in keys:
                    same = moved(keys[0]) == moved(one)
                    word = "same" if same else "explained" if one.changed else "unexplained"
                    counts[word] += 1
                    if word == "unexplained":
                        print(f"  {path.name}, gap {gap.number}, {level} {family}: {one.key}")
    return counts


def moved(one: InKey) -> tuple[tuple[Fraction, Fraction, int, str], ...]:
    """The strokes from the first one on, above the lowest key."""
    notes = [note for fill in one.fills for note in fill.notes]
    if not notes:
        return ()
    start, low = min(note.onset_quarter for note in notes), min(note.midi for note in notes)
    return tuple(sorted((note.onset_quarter - start, note.duration_quarter, note.midi - low,
                         note.hand) for note in notes))


def told(counts: Counter[str]) -> str:
    return ", ".join(f"{counts[word]} {word}" for word in ("same", "explained", "unexplained"))


if __name__ == "__main__":
    main(sys.argv[1:])
