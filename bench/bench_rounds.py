"""Rounds through twelve keys over some sheets: each key is the first one moved, or says why not.

    python -m bench.bench_rounds [--gaps N] [--level LEVEL ...] SHEET ...

For N gaps of each sheet, spread over it, at the levels named and in each family: how many keys have
the same strokes as the first key, moved; how many differ and say how (other fingers are no other
strokes), by what they say; and every one that differs and says nothing.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

from fillwright import InputError, Options, find_gaps, read_tune, unfold
from fillwright.lesson import InKey, round_of_keys

LEVELS, FAMILIES = ("beginner", "intermediate", "advanced"), ("comp", "reharm", "line")
TEMPO = 120
SAYS = ("octave higher", "octave lower", "the melody lies", "without", "no hand", "another one")
"""What tells of other strokes."""


def main() -> None:
    parser = argparse.ArgumentParser(description="Rounds through twelve keys over some sheets.")
    parser.add_argument("sheets", nargs="+", type=Path)
    parser.add_argument("--gaps", type=int, default=2)
    parser.add_argument("--level", nargs="+", choices=LEVELS, default=["beginner", "advanced"])
    asked = parser.parse_args()
    total: Counter[str] = Counter()
    for path in asked.sheets:
        try:
            found = looked_at(path, asked.gaps, asked.level)
        except InputError as error:
            print(f"{path.name}: {error}", flush=True)
            continue
        total += found
        print(f"{path.name}: {told(found)}", flush=True)
    print(f"all: {told(total)}")
    for word in SAYS:
        print(f"  {total[word]} say {word!r}")


def looked_at(path: Path, most: int, levels: Sequence[str]) -> Counter[str]:
    tune = read_tune(path)
    counts: Counter[str] = Counter()
    gaps = find_gaps(unfold(tune))
    for gap in gaps[::max(len(gaps) // most, 1)][:most]:
        for level in levels:
            options = Options(level=level, tempo=Fraction(TEMPO))
            for family in FAMILIES:
                try:
                    keys = round_of_keys(tune, "fourths", gap=gap.number, fill=f"{family}:1",
                                         options=options).keys
                except InputError:
                    continue  # no such fill there
                for one in keys:
                    said = [word for word in SAYS if any(word in text for text in one.changed)]
                    same = moved(keys[0]) == moved(one)
                    word = "same" if same else "explained" if said else "unexplained"
                    counts.update([word] if same else [word, *said])
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
    main()
