"""What a strict teacher counts in comping fills and in the base texture, over many sheets.

The figures are read from the documents that `fillwright fills --json` and `fillwright arrange`
write, so that two versions of the program are measured alike.

    python -m bench.bench_comp                    the demo tunes
    python -m bench.bench_comp FOLDER [COUNT]     documents (*.fills.json, *.arr.json) in a folder,
                                                  or COUNT of the lead sheets in it, spread over
                                                  all of them, computed now
"""

from __future__ import annotations

import json
import sys
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

from fillwright.arranging.build import CHOICES, Offers
from fillwright.arranging.model import Decided, Options
from fillwright.contract import arrangement_document, dump, fills_document
from fillwright.demo import DEMO_TUNES, demo_path
from fillwright.errors import InputError
from fillwright.fills.propose import propose
from fillwright.hands import LEVELS, playable
from fillwright.rules.sound import RUB
from fillwright.tune import read_tune

Document = dict[str, Any]
TEMPI = (63, 132, 132, 200, 132, 100)
BALLAD = 90  # felt beats a minute
TWO_OCTAVES = 24
LOW = 48  # C3


@dataclass(frozen=True, slots=True)
class Note:
    onset: Fraction
    end: Fraction
    midi: int
    hand: str
    finger: int
    role: str


@dataclass(frozen=True, slots=True)
class Case:
    """One comping fill in its gap; all times in quarters.

    held_end   where the held note ends as written, at most the gap's end
    """

    fill: Document
    gap: Document
    notes: tuple[Note, ...]
    onset: Fraction
    end: Fraction
    held_end: Fraction
    beats: Fraction
    beat: Fraction
    tempo: float
    hand: str
    level: str
    where: str

    @property
    def held(self) -> int | None:
        return None if self.gap["held"] is None else int(self.gap["held"]["midi"])

    @property
    def until(self) -> Fraction:
        return Fraction(self.fill["melody_until_quarter"])

    @property
    def slow(self) -> bool:
        return self.tempo < BALLAD

    @property
    def onsets(self) -> tuple[Fraction, ...]:
        return tuple(sorted({(n.onset - self.onset) / self.beat for n in self.notes}))

    def of(self, hand: str) -> dict[Fraction, list[Note]]:
        rows: dict[Fraction, list[Note]] = defaultdict(list)
        for note in self.notes:
            if note.hand == hand:
                rows[note.onset].append(note)
        return dict(sorted(rows.items()))


def notes_of(rows: Iterable[Document]) -> tuple[Note, ...]:
    return tuple(Note(Fraction(n["onset_quarter"]),
                      Fraction(n["onset_quarter"]) + Fraction(n["duration_quarter"]),
                      n["midi"], n["hand"], n["finger"], n["role"]) for n in rows)


def cases_of(document: Document, melody: Document | None, where: str) -> Iterator[Case]:
    """The comping fills of a document; `melody` is the arrangement of the same tune."""
    tune = document["tune"]
    ends = {} if melody is None else {
        n["onset_quarter"]: Fraction(n["onset_quarter"]) + Fraction(n["duration_quarter"])
        for n in melody["melody"]}
    gaps = {g["number"]: g for g in document["gaps"]}
    for fill in document["fills"]:
        if fill["family"] != "comp":
            continue
        gap = gaps[fill["gap"]]
        onset, length = Fraction(gap["onset_quarter"]), Fraction(gap["duration_quarter"])
        beats = Fraction(gap["beats"])
        yield Case(fill, gap, notes_of(fill["notes"]), onset, onset + length,
                   min(onset + length, ends.get(gap["onset_quarter"], onset + length)), beats,
                   length / beats, float(Fraction(tune["tempo"])), document["options"]["hand"],
                   document["options"]["level"], f"{where} gap {gap['number']}")


def needless(case: Case) -> bool:
    """Was the held note let go for a chord that the same hand could have played under it?"""
    held = case.held
    if held is None or case.fill["melody_kept"] != "released":
        return False
    first = next((row for onset, row in case.of("right").items()
                  if onset >= case.until and onset > case.onset), None)
    if first is None:
        return False
    keys = sorted({n.midi for n in first})
    return (keys[-1] < held and not RUB.among(keys, held)
            and len(keys) < 5 and playable((*keys, held), "right", case.hand))


def let_go(case: Case) -> bool:
    """Is the held note gone before its written end?"""
    return case.fill["melody_kept"] == "released" and case.until < case.held_end


def lost_early(case: Case) -> bool:
    """In a ballad's three beats and more: is the held note gone after a beat?"""
    return case.until - case.onset <= case.beat < case.held_end - case.onset


def rings_landing(case: Case) -> bool:
    landing = case.gap["landing"]
    return landing is not None and any(n.midi == landing["midi"] and n.end >= case.end
                                       for n in case.notes)


def hole(case: Case) -> bool:
    """For longer than a beat, two octaves and more under the melody with nothing in them."""
    held = case.held
    if held is None:
        return False
    times = sorted({case.onset, case.until, *(t for n in case.notes for t in (n.onset, n.end)
                                              if t < case.until)})
    empty = Fraction(0)
    for start, stop in pairwise(t for t in times if t <= case.until):
        down = sorted(n.midi for n in case.notes if n.onset <= start < n.end)
        if down and max(b - a for a, b in pairwise(sorted([*down, held]))) >= TWO_OCTAVES:
            empty += stop - start
            if empty > case.beat:
                return True
        else:
            empty = Fraction(0)
    return False


def late_right(case: Case) -> bool:
    """A bass line whose right hand comes half a beat after it."""
    right = case.of("right")
    left = case.of("left")
    if not right or not left or "bass" not in case.fill["device"].split(",")[0]:
        return False
    return min(right) - min(left) == case.beat / 2


def thumb_low(case: Case) -> bool:
    """The thumb alone on a low bass note."""
    return any(len(row) == 1 and row[0].finger == 1 and row[0].midi < LOW
               for row in case.of("left").values())


def low_lone(case: Case) -> bool:
    return any(len(row) == 1 and row[0].midi < LOW for row in case.of("left").values())


def false_diminished(case: Case) -> bool:
    """A diminished chord without its fifth, an added tone in its place."""
    for chord in case.fill["chords"]:
        if chord["kind"] not in ("diminished", "diminished-seventh"):
            continue
        start = Fraction(chord["onset_quarter"])
        stop = start + Fraction(chord["duration_quarter"])
        own = set(chord["pitch_classes"])
        root = _class(chord["root"])
        own.add((root + 9) % 12)
        down = {n.midi % 12 for n in case.notes if start <= n.onset < stop}
        if case.held is not None and start < case.until:
            down.add(case.held % 12)
        if down - own and (root + 6) % 12 not in down:
            return True
    return False


def _class(name: str) -> int:
    return ({"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[name[0]]
            + name.count("#") - name[1:].count("b")) % 12


def equal_quarters(case: Case) -> bool:
    """Four strokes a beat apart and of one length, outside a bass that walks or strides."""
    rows = case.of("right") or case.of("left")
    if not case.of("right") and sum(len(row) < 3 for row in rows.values()) > 1:
        return False
    row = [(onset, max(n.end for n in notes) - onset) for onset, notes in rows.items()]
    run = 1
    for (a, length), (b, other) in pairwise(row):
        run = run + 1 if b - a == case.beat and length == other else 1
        if run >= 4:
            return True
    return False


def share(cases: list[Case], test: Callable[[Case], bool], show: int = 0) -> str:
    found = [c for c in cases if test(c)]
    text = f"{len(found):4} of {len(cases):4} ({100 * len(found) / max(len(cases), 1):5.1f} %)"
    for case in found[:show]:
        text += f"\n      {case.where}: {case.fill['device']} [{case.fill['counts']}]"
    return text


def print_rhythms(cases: list[Case]) -> None:
    print("onset patterns (both hands, felt beats from the gap's onset)")
    groups: dict[tuple[str, int], list[Case]] = defaultdict(list)
    for case in cases:
        speed = "ballad" if case.slow else "fast" if case.tempo >= 200 else "medium"
        if case.beats.denominator == 1 and case.beats <= 4:
            groups[speed, int(case.beats)].append(case)
    for (speed, beats), rows in sorted(groups.items()):
        counted = Counter(c.onsets for c in rows)
        top, most = counted.most_common(1)[0]
        print(f"  {speed:7} {beats} beats: {len(rows):4} fills, {len(counted):3} patterns, the "
              f"commonest {100 * most / len(rows):3.0f} % [{' '.join(map(str, top))}]")


def print_cases(cases: list[Case], show: int) -> None:
    held = [c for c in cases if c.held is not None]
    gone = [c for c in held if let_go(c)]
    slow = [c for c in held if c.slow and c.beats >= 3]
    landing = [c for c in cases if c.gap["landing"] is not None]
    bass = [c for c in cases if "bass" in c.fill["device"].split(",")[0] and c.of("right")]
    print_rhythms(cases)
    print("held note let go            ", share(held, let_go))
    print("  without need, of those    ", share(gone, needless, show))
    print("  ... of ballad two beats   ", share([c for c in gone if c.slow and c.beats == 2],
                                                needless))
    print("ballad melody lost in a beat", share(slow, lost_early, show))
    print("landing key rung up to it   ", share(landing, rings_landing, show))
    print("holes under the melody      ", share(held, hole, show))
    print("bass line, right hand late  ", share(bass, late_right, show))
    print("thumb on a lone bass note   ", share([c for c in cases if low_lone(c)], thumb_low, show))
    print("diminished without its fifth", share(cases, false_diminished, show))
    print("four equal quarters         ", share(cases, equal_quarters, show))
    names = Counter(c.fill["device"].split(",")[0] for c in cases)
    most = 100 * names.most_common(1)[0][1] / max(len(cases), 1)
    print(f"textures and devices: {len(names)}, the commonest {most:.0f} %: "
          + ", ".join(f"{n} {k}" for n, k in names.most_common(8)))


def print_base(documents: list[tuple[str, Document]]) -> None:
    """Sevenths in the base texture: chords of two beats and more that no fill touches."""
    by_level: dict[str, list[bool]] = defaultdict(list)
    for _, document in documents:
        notes = notes_of(document["notes"])
        fills = [(Fraction(g["onset_quarter"]),
                  Fraction(g["onset_quarter"]) + Fraction(g["duration_quarter"]))
                 for g in document["gaps"] if any(f["gap"] == g["number"]
                                                  for f in document["fills"])]
        for chord in document["chords"]:
            if chord.get("added") or not {"7", "b7", "bb7"} & set(chord["degrees"]):
                continue
            start = Fraction(chord["onset_quarter"])
            stop = start + Fraction(chord["duration_quarter"])
            if stop - start < 2 or any(a < stop and start < b for a, b in fills):
                continue
            row = [n for n in notes if n.onset < stop and n.end > start]
            if not any(n.role == "base" for n in row):
                continue
            root = _class(chord["root"])
            wanted = {10} if "b7" in chord["degrees"] else {9, 11}
            by_level[document["options"]["level"]].append(
                not wanted & {(n.midi - root) % 12 for n in row})
    for level, rows in by_level.items():
        print(f"base, {level}: chords without their seventh {sum(rows)} of {len(rows)} "
              f"({100 * sum(rows) / max(len(rows), 1):.1f} %)")


def documents_in(folder: Path, count: int) -> Iterator[tuple[str, Document]]:
    """The documents of a folder, or those of the sheets in it, or of the demo tunes."""
    ready = sorted(p for p in folder.glob("*.json")
                   if p.name.endswith((".fills.json", ".arr.json"))) if folder.is_dir() else []
    for path in ready:
        if path.stat().st_size:
            yield path.name.split(".")[0], json.loads(path.read_text())
    if ready:
        return
    rows = spread(folder, count) if folder.is_dir() else [
        (demo_path(name), None) for name in DEMO_TUNES]
    for path, tempo in rows:
        for level in LEVELS:
            yield from computed(path, level, tempo)


def sheets_of(folder: Path) -> list[Path]:
    """The lead sheets in a folder, in order."""
    return sorted(p for p in folder.iterdir()
                  if p.suffix in (".mxl", ".musicxml", ".xml", ".abc"))


def spread(folder: Path, count: int) -> list[tuple[Path, Fraction | None]]:
    """So many of the sheets in a folder (0: all), spread over all of them, each with a tempo."""
    sheets = sheets_of(folder)
    every = max(len(sheets) // count, 1) if count else 1
    return [(path, Fraction(TEMPI[number % len(TEMPI)]))
            for number, path in enumerate(sheets[::every][:count or None])]


def computed(path: Path, level: str, tempo: Fraction | None
             ) -> Iterator[tuple[str, Document]]:
    """The documents of fills and of the chorus; the options are worked out once for both."""
    options = Options(level=level, tempo=tempo)
    name = f"{path.stem}-{level}"
    try:
        offers = Offers(read_tune(path), options)
    except InputError:
        return
    chorus, gaps = offers.chorus, offers.gaps
    arrangement = offers.arrangement(Decided(), options)
    proposal = propose(chorus, gaps, level=level, families=("comp",), count=CHOICES)
    for document in (fills_document(chorus, options, gaps, proposal, chorus.warnings),
                     arrangement_document(arrangement)):
        yield name, json.loads(dump(document))


def main(arguments: list[str]) -> None:
    folder = Path(arguments[0]) if arguments else Path("-")
    count = int(arguments[1]) if len(arguments) > 1 and arguments[1].isdigit() else 0
    show = 4 if "--show" in arguments else 0
    offers: list[tuple[str, Document]] = []
    arranged: list[tuple[str, Document]] = []
    for name, document in documents_in(folder, count):
        if "notes" in document:
            arranged.append((name, document))
        else:
            offers.append((name, document))
    melodies = dict(arranged)
    cases = [case for name, document in offers
             for case in cases_of(document, melodies.get(name), name)]
    for level in LEVELS:
        row = [c for c in cases if c.level == level]
        if row:
            print(f"== {level}: {len(row)} comping fills")
            print_cases(row, show)
    print(f"== all levels: {len(cases)} comping fills")
    if cases:
        print_cases(cases, 0)
    print_base(arranged)


if __name__ == "__main__":
    main(sys.argv[1:])
