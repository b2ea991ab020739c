"""What a strict teacher counts in whole choruses.

Most figures come from the documents that `fillwright arrange` writes (arrangement.json), so that
two versions of the program are measured alike. What is printed and heard, and how far a second
time through differs from the first, is counted where the choruses are worked out now.

    python -m bench.bench_chorus                  the demo tunes, worked out now
    python -m bench.bench_chorus SHEET[@TEMPO]... lead sheets, worked out now
    python -m bench.bench_chorus FOLDER COUNT [K/N]  so many of the lead sheets in a folder, spread
                                                  over all of them, worked out now at the tempos of
                                                  bench_comp; or the K-th of N parts of them
    python -m bench.bench_chorus FOLDER [WORD]    documents (*.arr.json or arrangement.json, also
                                                  in folders below) whose path has that word

With --show each figure names the places it counts.
"""

from __future__ import annotations

import json
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import groupby, pairwise
from pathlib import Path
from statistics import mean
from typing import Any

from bench.bench_comp import spread

from fillwright.arranging.articulation import touch_of
from fillwright.arranging.build import Offers
from fillwright.arranging.dynamics import free_swells, plan_dynamics
from fillwright.arranging.model import Arrangement, Decided, Options
from fillwright.contract import arrangement_document, dump
from fillwright.demo import DEMO_TUNES, demo_path
from fillwright.fills.model import FAMILIES
from fillwright.hands import LEVELS
from fillwright.score.musicxml import to_musicxml
from fillwright.sound.perform import perform
from fillwright.tune import read_tune

Document = dict[str, Any]
Cell = tuple[tuple[Fraction, int], ...]
LOW_ROOT = 47  # B2
LEAST_CHORD = 2  # quarters: a shorter chord passes
LONGEST_TRIPLET = Fraction(4, 3)  # beats
TWO_OCTAVES = 24
LEAST_GAP_SEC = 0.9  # a shorter gap is nobody's to fill
SIGNS = ("<dynamics", "<wedge type=\"crescendo", "<wedge type=\"diminuendo", "<accent", "<tenuto",
         "<staccato")
"""Printed dynamics and touch, as MusicXML names them."""


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


def twice_in_a_row(document: Document) -> Iterator[tuple[str, bool]]:
    """Fills, one after the other: has one the device of the one before?"""
    for before, here in pairwise(sorted(document["fills"], key=lambda fill: fill["gap"])):
        yield f"gap {here['gap']}: {here['device']}", before["device"] == here["device"]


def rung(document: Document) -> Iterator[tuple[str, bool]]:
    """Fills that the tune follows: is the landing's own key held down until it is struck?"""
    gaps = {gap["number"]: gap for gap in document["gaps"]}
    for fill in document["fills"]:
        gap = gaps[fill["gap"]]
        if gap["landing"] is None:
            continue
        end = span(gap)[1]
        shift = fill["shift"]
        if shift is not None:
            end = min(end, Fraction(shift["landing_quarter"]))
        yield f"gap {fill['gap']}: {fill['device']}", any(
            n["midi"] == gap["landing"]["midi"] and span(n)[1] >= end and span(n)[0] < end
            for n in fill["notes"])


def holes(document: Document, notes: list[Note]) -> Iterator[tuple[str, bool]]:
    """Melody notes of more than a beat: is there nothing for two octaves under one, for longer
    than a beat?"""
    upper, lower = (int(n) for n in document["tune"]["meter"].split("/"))
    beat = Fraction(3, 2) if lower == 8 and upper % 3 == 0 else Fraction(1)
    under = [n for n in notes if n.role != "melody"]
    for sung in notes:
        if sung.role != "melody" or sung.end - sung.onset <= beat:
            continue
        row = [n for n in under if n.onset < sung.end and n.end > sung.onset]
        times = sorted({sung.onset, sung.end, *(t for n in row for t in (n.onset, n.end)
                                                if sung.onset < t < sung.end)})
        empty, found = Fraction(0), False
        for start, stop in pairwise(times):
            down = sorted(n.midi for n in row if n.onset <= start < n.end)
            wide = bool(down) and max(
                b - a for a, b in pairwise([*down, sung.midi])) >= TWO_OCTAVES
            empty = empty + stop - start if wide else Fraction(0)
            found |= empty > beat
        yield f"quarter {sung.onset}", found


def open_gaps(document: Document) -> Iterator[tuple[str, bool]]:
    """Gaps with time for a fill: is one left to the tune?"""
    chosen = {fill["gap"] for fill in document["fills"]}
    for gap in document["gaps"]:
        if gap["seconds"] >= LEAST_GAP_SEC:
            yield f"gap {gap['number']}", gap["number"] not in chosen


def families_of(documents: list[tuple[str, Document]]) -> str:
    """How the fills are shared out, and how many choruses lack a family."""
    rows = [Counter(fill["family"] for fill in d["fills"]) for _, d in documents
            if len(d["fills"]) >= 2 * len(FAMILIES)]
    total = sum(rows, Counter[str]())
    of = max(total.total(), 1)
    return ", ".join(f"{name} {100 * total[name] / of:.0f} %" for name in FAMILIES) + (
        f"; one is missing in {sum(len(row) < len(FAMILIES) for row in rows)} of {len(rows)}")


# --- what is printed and heard: of choruses worked out now ------------------------------------


def signs_in_32_bars(arrangement: Arrangement) -> float:
    """Printed dynamics and touch, reckoned for 32 bars."""
    page = to_musicxml(arrangement).decode()
    return 32 * sum(page.count(sign) for sign in SIGNS) / len(arrangement.chorus.bars)


def heard_marks(arrangement: Arrangement) -> Iterator[tuple[str, bool]]:
    """Printed levels, hairpins and accents: is one not heard in how hard keys are struck?

    A level is to be a velocity louder or softer than the one before, on average over eight
    quarters on either side, each hand against itself; a hairpin to end louder or softer than it
    began; an accent to be
    louder than what its hand plays within a bar around it.
    """
    played = perform(arrangement)
    weights = {note.index: note.velocity for note in played.notes}
    rows = [(n.onset_quarter, n.role, n.hand, weights[i])
            for i, n in enumerate(arrangement.notes)]

    def loud(start: Fraction, end: Fraction, role: str, hand: str = "") -> float | None:
        row = [w for o, r, h, w in rows if start <= o < end and r == role and hand in (h, "")]
        return mean(row) if row else None

    def rises(first: tuple[Fraction, Fraction], last: tuple[Fraction, Fraction]) -> int | None:
        steps = [b - a for role in ("melody", "base", "fill") for hand in ("left", "right")
                 if (a := loud(*first, role, hand)) is not None
                 and (b := loud(*last, role, hand)) is not None]
        return None if not steps else (mean(steps) > 0) - (mean(steps) < 0)

    plan, touch = plan_dynamics(arrangement), touch_of(arrangement)
    for (_, low), (place, high) in pairwise(plan.levels):
        found = rises((place - 8, place), (place, place + 8))
        if found is not None:
            yield f"level at {place}", found != (1 if high > low else -1)
    pins = [(p.onset_quarter, p.end_quarter, p.last > p.first) for p in plan.hairpins]
    pins += [(s.onset_quarter, s.end_quarter, s.rises) for s in free_swells(plan, touch)]
    for start, end, up in pins:
        half = (start + end) / 2
        found = rises((start, half), (half, end + Fraction(1, 100)))
        if found is not None:
            yield f"hairpin at {start}", found != (1 if up else -1)
    for place, hand, role in touch.accents:
        own = loud(place, place + Fraction(1, 100), role, hand)
        around = loud(place - 4, place + 4, role, hand)
        if own is not None and around is not None:
            yield f"accent at {place}", own <= around


def chorus_again(offers: Offers, options: Options) -> Iterator[tuple[str, bool]]:
    """Gaps of a second time through that are filled both times: is one filled alike?"""
    again = replace(options, choruses=2)
    document = json.loads(dump(arrangement_document(
        Offers(offers.written, again).arrangement(Decided(), again))))
    half = len(document["gaps"]) - len(offers.gaps)
    gaps = document["gaps"]
    for number, gap in enumerate(gaps[half:], half):
        one, two = played(document, gaps[number - half]), played(document, gap)
        if one and two:
            yield f"gap {gap['number']}", one == two


@dataclass(slots=True)
class Now:
    """What is counted of choruses that are worked out now, by level."""

    signs: list[float] = field(default_factory=list)
    silent: Counted = field(default_factory=Counted)
    again: Counted = field(default_factory=Counted)


def work_out(path: Path, tempo: Fraction | None, now: dict[str, Now], name: str
             ) -> Iterator[tuple[str, Document]]:
    """The documents of a sheet at the three levels, and what else is counted of them."""
    for level in LEVELS:
        options = Options(level=level, tempo=tempo)
        offers = Offers(read_tune(path), options)
        arrangement = offers.arrangement(Decided(), options)
        where = f"{name}-{level}"
        now[level].signs.append(signs_in_32_bars(arrangement))
        for mark, silent in heard_marks(arrangement):
            now[level].silent.add(silent, f"{where} {mark}")
        for gap, equal in chorus_again(offers, options):
            now[level].again.add(equal, f"{where} {gap}")
        yield where, json.loads(dump(arrangement_document(arrangement)))


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
        for what, found in (("three against two", crossed(document, notes)),
                            ("same device twice in a row", twice_in_a_row(document)),
                            ("landing key rung up to it", rung(document)),
                            ("holes under the melody", holes(document, notes)),
                            ("gaps left to the tune", open_gaps(document))):
            for where, wrong in found:
                rows[what].add(wrong, f"{name} {where}")
    return rows


def longest(documents: list[tuple[str, Document]]) -> tuple[int, str]:
    """The longest run of bars with one left-hand cell."""
    runs = [(sum(1 for _ in run), name) for name, document in documents
            for _, run in groupby(cells(document, notes_of(document)))]
    return max(runs, default=(0, ""))


def documents_in(folder: Path, word: str) -> Iterator[tuple[str, Document]]:
    for path in sorted(p for p in folder.rglob("*.json") if word in str(p) and (
            p.name.endswith(".arr.json") or p.name == "arrangement.json")):
        if path.stat().st_size:
            name = path.parent.name if path.name == "arrangement.json" else path.name.split(".")[0]
            yield name, json.loads(path.read_text())


def sheets_in(words: Sequence[str]) -> Iterator[tuple[str, Path, Fraction | None]]:
    """Names, files and tempos of what is to be worked out."""
    if len(words) > 1 and Path(words[0]).is_dir():
        part, _, parts = (words[2] if len(words) > 2 else "1/1").partition("/")
        for sheet, pace in spread(Path(words[0]), int(words[1]))[int(part) - 1::int(parts)]:
            print(f"{sheet.stem} at {pace}", file=sys.stderr, flush=True)
            yield sheet.stem, sheet, pace
        return
    if not words:
        for name in DEMO_TUNES:
            yield name, demo_path(name), None
    for word in words:
        path, _, tempo = word.partition("@")
        yield Path(path).stem, Path(path), Fraction(tempo) if tempo else None


def print_level(level: str | None, own: list[tuple[str, Document]], show: bool) -> None:
    print(f"== {level or 'all levels'}: {len(own)} choruses")
    for what, counted in count(own).items():
        print(f"{what:35} {counted}")
        if show and level is not None and what in SHOWN:
            for where in counted.where[:12]:
                print(f"      {where}")
    run, name = longest(own)
    print(f"{'longest run of one left-hand cell':35} {run:4} bars ({name})")
    print(f"{'families':35} {families_of(own)}")


SHOWN = frozenset({"sevenths missing in base", "three against two", "same device twice in a row",
                   "landing key rung up to it", "holes under the melody",
                   "equal fills in repeated places"})
"""Figures whose places are named when asked; of the others nearly all are right."""


def print_now(level: str, found: Now, show: bool) -> None:
    print(f"{'signs of dynamics and touch':35} {mean(found.signs):4.0f} in 32 bars, the least "
          f"{min(found.signs):.0f}; under 40 in {sum(n < 40 for n in found.signs)} of "
          f"{len(found.signs)}")
    for what, counted in (("signs that are not heard", found.silent),
                          ("equal fills the second time through", found.again)):
        print(f"{what:35} {counted}")
        for where in counted.where[:12] if show else ():
            print(f"      {where}")


def main(arguments: list[str]) -> None:
    words = [a for a in arguments if not a.startswith("--")]
    now: dict[str, Now] = defaultdict(Now)
    if words and Path(words[0]).is_dir() and not (len(words) > 1 and words[1].isdigit()):
        documents = list(documents_in(Path(words[0]), words[1] if len(words) > 1 else ""))
    else:
        documents = [one for name, path, tempo in sheets_in(words)
                     for one in work_out(path, tempo, now, name)]
    for level in (*LEVELS, None):
        own = [d for d in documents if level is None or d[1]["options"]["level"] == level]
        print_level(level, own, "--show" in arguments)
        if level in now:
            print_now(level, now[level], "--show" in arguments)


if __name__ == "__main__":
    main(sys.argv[1:])
