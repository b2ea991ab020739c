"""What a strict teacher counts in whole choruses, read from their documents.

The figures come from the documents that `fillwright arrange` writes (arrangement.json), so that
two versions of the program are measured alike.

    python -m bench.bench_chorus                 the demo tunes, computed now
    python -m bench.bench_chorus FOLDER [WORD]   documents (*.arr.json or arrangement.json, also
                                                 in folders below) whose path has that word
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any

from fillwright.demo import DEMO_TUNES, demo_path
from fillwright.hands import LEVELS

Document = dict[str, Any]
Cell = tuple[tuple[Fraction, int], ...]
LOW_ROOT = 47  # B2
LEAST_CHORD = 2  # quarters: a shorter chord passes
LONGEST_TRIPLET = Fraction(4, 3)  # beats


@dataclass(frozen=True, slots=True)
class Note:
    onset: Fraction
    end: Fraction
    midi: int
    hand: str
    role: str


@dataclass(slots=True)
class Counted:
    """How often something was found, of how many."""

    found: int = 0
    of: int = 0
    where: list[str] = field(default_factory=list)

    def add(self, found: bool, where: str) -> None:
        self.of += 1
        self.found += found
        if found:
            self.where.append(where)

    def __str__(self) -> str:
        return f"{self.found:4} of {self.of:5} ({100 * self.found / max(self.of, 1):5.1f} %)"


def span(row: Document) -> tuple[Fraction, Fraction]:
    start = Fraction(row["onset_quarter"])
    return start, start + Fraction(row["duration_quarter"])


def notes_of(document: Document) -> list[Note]:
    return [Note(*span(n), n["midi"], n["hand"], n["role"]) for n in document["notes"]]


def filled(document: Document) -> list[tuple[Fraction, Fraction]]:
    numbers = {fill["gap"] for fill in document["fills"]}
    return [span(gap) for gap in document["gaps"] if gap["number"] in numbers]


def pitch_class(name: str) -> int:
    return ({"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[name[0]]
            + name.count("#") - name[1:].count("b")) % 12


def bare_chords(document: Document, notes: list[Note]) -> Iterator[tuple[str, bool]]:
    """Seventh chords of the base that no fill touches: is one without its seventh (or, for a
    major seventh, its sixth) in the hands and in the melody?"""
    busy = filled(document)
    for chord in document["chords"]:
        if chord.get("added") or not {"7", "b7", "bb7"} & set(chord["degrees"]):
            continue
        start, stop = span(chord)
        row = [n for n in notes if n.onset < stop and n.end > start]
        if (stop - start < LEAST_CHORD or any(a < stop and start < b for a, b in busy)
                or not any(n.role == "base" for n in row)):
            continue
        root = pitch_class(chord["root"])
        told = {10} if "b7" in chord["degrees"] else {9, 11} if "7" in chord["degrees"] else {9}
        yield f"{chord['symbol']} at {start}", not told & {(n.midi - root) % 12 for n in row}


def repeated_places(document: Document) -> Iterator[tuple[Document, Document]]:
    """Gaps that stand where an earlier one stood: the melody of the quarters before, the held
    note, its length and its chord come again; with the latest such one before."""
    seen: dict[object, Document] = {}
    upper, lower = (int(n) for n in document["tune"]["meter"].split("/"))
    bar = Fraction(4 * upper, lower)
    melody = [(Fraction(n["onset_quarter"]), n["midi"]) for n in document["melody"]]
    for gap in document["gaps"]:
        start, stop = span(gap)
        heard = (tuple((o - start, m) for o, m in melody if start - bar <= o < start),
                 gap["held"] and gap["held"]["midi"], stop - start, gap["beat"],
                 gap["chords"][0]["symbol"] if gap["chords"] else None)
        if heard in seen:
            yield seen[heard], gap
        seen[heard] = gap


def played(document: Document, gap: Document) -> frozenset[tuple[Fraction, int]]:
    start = Fraction(gap["onset_quarter"])
    return frozenset((Fraction(n["onset_quarter"]) - start, n["midi"])
                     for fill in document["fills"] if fill["gap"] == gap["number"]
                     for n in fill["notes"])


def grows(document: Document, notes: list[Note]) -> bool:
    """Has the last third more strokes under and around the melody than the first?"""
    third = Fraction(document["tune"]["length_quarter"]) / 3
    onsets = [n.onset for n in notes if n.role != "melody"]
    return sum(o >= 2 * third for o in onsets) > sum(o < third for o in onsets)


def ends_low(document: Document, notes: list[Note]) -> bool:
    """Does the chord that sounds at the very end stand on its root, or the bass its symbol names,
    low down? After an added chord the printed one comes back."""
    length = Fraction(document["tune"]["length_quarter"])
    last = max((c for c in document["chords"] if span(c)[1] >= length),
               key=lambda c: (Fraction(c["onset_quarter"]), c["added"]))
    since = max([span(last)[0], *(span(c)[1] for c in document["chords"]
                                  if c["added"] and span(c)[1] < length)])
    bass = pitch_class(last["bass"] or last["root"])
    return any(n.midi <= LOW_ROOT and n.midi % 12 == bass and n.end > since for n in notes)


def cells(document: Document, notes: list[Note]) -> list[Cell]:
    """What the left hand does in each bar that no fill touches: places and intervals."""
    upper, lower = (int(n) for n in document["tune"]["meter"].split("/"))
    bar, length = Fraction(4 * upper, lower), Fraction(document["tune"]["length_quarter"])
    busy, found = filled(document), list[Cell]()
    start = length % bar
    while start < length:
        row = [n for n in notes if n.hand == "left" and n.role == "base"
               and start <= n.onset < start + bar]
        if row and not any(a < start + bar and start < b for a, b in busy):
            lowest = min(n.midi for n in row)
            found.append(tuple((n.onset - start, n.midi - lowest) for n in row))
        start += bar
    return found


def rhythm(cell: Cell) -> tuple[Fraction, ...]:
    return tuple(sorted({place for place, _ in cell}))


def crossed(document: Document, notes: list[Note]) -> Iterator[tuple[str, bool]]:
    """Left-hand strokes of the base: does one fall inside a note of a triplet in the melody?"""
    upper, lower = (int(n) for n in document["tune"]["meter"].split("/"))
    if lower == 8 and upper % 3 == 0:
        return
    melody = [n for n in notes if n.role == "melody" and (n.end - n.onset).denominator % 3 == 0
              and n.end - n.onset <= LONGEST_TRIPLET]
    for onset in sorted({n.onset for n in notes if n.role == "base" and n.hand == "left"}):
        yield f"quarter {onset}", any(n.onset < onset < n.end for n in melody)


def count(documents: list[tuple[str, Document]]) -> dict[str, Counted]:
    rows: dict[str, Counted] = defaultdict(Counted)
    for name, document in documents:
        notes = notes_of(document)
        for where, bare in bare_chords(document, notes):
            rows["sevenths missing in base"].add(bare, f"{name} {where}")
        for first, again in repeated_places(document):
            one, two = played(document, first), played(document, again)
            if one and two:
                rows["equal fills in repeated places"].add(one == two, f"{name} {again['bar']}")
        rows["last third fuller"].add(grows(document, notes), name)
        rows["low root at the end"].add(ends_low(document, notes), name)
        row = cells(document, notes)
        for before, after in pairwise(row):
            rows["left-hand cell as the bar before"].add(before == after, name)
            rows["left-hand rhythm as the bar before"].add(rhythm(before) == rhythm(after), name)
        for where, wrong in crossed(document, notes):
            rows["three against two"].add(wrong, f"{name} {where}")
    return rows


def longest(documents: list[tuple[str, Document]]) -> tuple[int, str]:
    """The longest run of bars with one left-hand cell."""
    runs = [(sum(1 for _ in run), name) for name, document in documents
            for _, run in groupby(cells(document, notes_of(document)))]
    return max(runs, default=(0, ""))


def documents_in(folder: Path | None, word: str) -> Iterator[tuple[str, Document]]:
    if folder is not None:
        for path in sorted(p for p in folder.rglob("*.json") if word in str(p) and (
                p.name.endswith(".arr.json") or p.name == "arrangement.json")):
            if path.stat().st_size:
                yield path.name.split(".")[0], json.loads(path.read_text())
        return
    for name in DEMO_TUNES:
        for level in LEVELS:
            with tempfile.TemporaryDirectory() as made:
                subprocess.run([sys.executable, "-m", "fillwright.cli", "arrange",
                                str(demo_path(name)), "--level", level, "-o", made,
                                "--formats", "json"], capture_output=True, check=True)
                yield f"{name}-{level}", json.loads(Path(made, "arrangement.json").read_text())


def main(arguments: list[str]) -> None:
    words = [a for a in arguments if not a.startswith("--")]
    documents = list(documents_in(Path(words[0]) if words else None,
                                  words[1] if len(words) > 1 else ""))
    for level in (*LEVELS, None):
        own = [d for d in documents if level is None or d[1]["options"]["level"] == level]
        print(f"== {level or 'all levels'}: {len(own)} choruses")
        for what, counted in count(own).items():
            print(f"{what:35} {counted}")
            if "--show" in arguments and level is not None and "missing" in what + (
                    "missing" if "against" in what else ""):
                for where in counted.where[:12]:
                    print(f"      {where}")
        run, name = longest(own)
        print(f"{'longest run of one left-hand cell':35} {run:4} bars ({name})")


if __name__ == "__main__":
    main(sys.argv[1:])
