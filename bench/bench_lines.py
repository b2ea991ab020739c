"""What lines are made of, against real solos.

    python -m bench.bench_lines [SHEET ...] [--tempo 132 200] [--phrases PHRASES.npz]
                                [--documents DIR] [--judge SCRIPT [--python PROGRAM]]

Every gap of the sheets (or of the demo tunes) is given its lines at each level. For advanced
lines of four notes or more, each counted once, intervals, places and chord tones are printed
beside those of phrases of four to fourteen notes in unseen solos (every fourth), where their
file is given: Weimar Jazz Database (Jazzomat Research Project), ODbL 1.0, through the R package
jazzodata. Also printed: first choices of a chorus that are note for note an earlier one,
and the time a gap takes. (That reasons are true is a matter of the tests.)
With --documents the advanced fills are written as JSON, one file a sheet and tempo; --judge
runs a script on them that tells them from real phrases, with another Python where this one
lacks what the script needs.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from time import process_time
from typing import TypeAlias

import numpy as np

from fillwright.arranging.build import prepare
from fillwright.arranging.model import Options
from fillwright.contract import dump, fills_document
from fillwright.errors import InputError
from fillwright.fills.model import Fill, Proposal
from fillwright.fills.propose import propose
from fillwright.hands import LEVELS
from fillwright.theory import degree_pitch_class
from fillwright.tune import Chorus, Gap, read_tune

__all__ = ["FIGURES", "figures", "main", "real_phrases", "repeated_first_choices"]

Note: TypeAlias = tuple[float, int, int, frozenset[int], int]
"""Onset in beats from a bar line, MIDI number, root, places of the chord's tones above the root,
place of its third."""

_TONES = ({0, 4, 7, 10}, {0, 4, 7, 9, 11}, {0, 3, 7, 10}, {0, 3, 6, 10}, {0, 3, 6, 9})
_SHORTEST, _LONGEST = 4, 14
_NEAR = 5
"""Points within which a figure is that of real phrases."""

FIGURES = ("begins on a beat", "ends on a beat", "half steps", "whole steps", "moves upward",
           "leaps turned back", "chord tones on beats", "gaps of about a beat",
           "thirds among all notes", "major thirds among all notes")


def figures(lines: Sequence[Sequence[Note]]) -> dict[str, float]:
    """Per cent of each of `FIGURES`."""
    moves = [[b[1] - a[1] for a, b in pairwise(line)] for line in lines]
    every = [m for row in moves for m in row]
    leaps = [(a, b) for row in moves for a, b in pairwise(row) if abs(a) >= 5]
    gaps = [b[0] - a[0] for line in lines for a, b in pairwise(line)]
    notes = [n for line in lines for n in line]
    beats = [n for n in notes if n[0] % 1 == 0]

    def share(found: Iterable[bool]) -> float:
        row = list(found)
        return 100 * sum(row) / max(len(row), 1)

    return dict(zip(FIGURES, (
        share(line[0][0] % 1 == 0 for line in lines),
        share(line[-1][0] % 1 == 0 for line in lines),
        share(abs(m) == 1 for m in every), share(abs(m) == 2 for m in every),
        share(m > 0 for m in every), share(a * b < 0 for a, b in leaps),
        share((n[1] - n[2]) % 12 in n[3] for n in beats),
        share(.75 <= g < 1.25 for g in gaps),
        share((n[1] - n[2]) % 12 == n[4] for n in notes),
        share((n[1] - n[2]) % 12 == 4 for n in notes)), strict=True))


def over_minor(lines: Iterable[Sequence[Note]]) -> float:
    """Per cent of the notes that stand over a chord with a minor third. Solos have more of these
    chords than most sheets, and by that alone a judge of degrees tells the two apart."""
    thirds = [n[4] for line in lines for n in line]
    return 100 * thirds.count(3) / max(len(thirds), 1)


def real_phrases(path: Path) -> Iterator[list[Note]]:
    """Phrases of the solos that were not learnt from, over swing and ballads."""
    rows = dict(np.load(path))
    cuts = np.flatnonzero(np.diff(rows["solo"].astype(int) * 1000 + rows["phrase"])) + 1
    for part in np.split(np.arange(len(rows["solo"])), cuts):
        if (int(rows["solo"][part[0]]) % 4 != 3 or rows["feel"][part[0]] > 1
                or not _SHORTEST <= len(part) <= _LONGEST):
            continue
        yield [(int(rows["bar"][i]) * 4 + int(rows["pos"][i]) / 12, int(rows["midi"][i]),
                int(rows["root"][i]), frozenset(_TONES[rows["cls"][i]]),
                4 if rows["cls"][i] < 2 else 3) for i in part]


def top_line(fill: Fill) -> list[tuple[Fraction, int]]:
    """(onset, highest MIDI number) of the right hand."""
    highest: dict[Fraction, int] = {}
    for note in fill.notes:
        if note.hand == "right":
            highest[note.onset_quarter] = max(highest.get(note.onset_quarter, 0), note.midi)
    return sorted(highest.items())


def line_notes(chorus: Chorus, fill: Fill) -> list[Note] | None:
    """A line with its chords; None where no chord sounds, or where octaves are struck."""
    notes: list[Note] = []
    line = top_line(fill)
    if sum(n.hand == "right" for n in fill.notes) > len(line):
        return None
    first = line[0][0]
    start = float(chorus.beat_in_bar(first)) - 1  # and on over the bar line
    beat = chorus.bar_at(first).meter.beat_quarter
    for onset, midi in line:
        index = chorus.chord_index_at(onset)
        harmony = None if index is None else chorus.harmonies[index]
        if harmony is None:
            return None
        third = -1 if harmony.third is None else degree_pitch_class(harmony.third)
        notes.append((start + float((onset - first) / beat), midi, harmony.root.pitch_class,
                      frozenset(degree_pitch_class(d) for d in harmony.tones), third))
    return notes


def repeated_first_choices(gaps: Sequence[Gap], proposal: Proposal) -> tuple[int, int]:
    """(first choices that are note for note an earlier one in another place, all of them)."""
    seen: set[tuple[tuple[Fraction, int], ...]] = set()
    again = total = 0
    for gap in gaps:
        fills = proposal.of(gap.number, "line")
        if not fills:
            continue
        total += 1
        key = tuple((n.onset_quarter - gap.onset_quarter, n.midi) for n in fills[0].notes
                    if n.hand == "right")
        again += key in seen
        seen.add(key)
    return again, total


@dataclass
class Count:
    """Sums over the sheets at one level."""

    gaps: int = 0
    fills: int = 0
    empty: int = 0
    again: int = 0
    first: int = 0
    seconds: float = 0.0


def measure(sheets: Sequence[Path], level: str, tempos: Sequence[int], count: int,
            documents: Path | None) -> tuple[Count, list[list[Note]], dict[str, int]]:
    found, lines, devices = Count(), {}, dict[str, int]()
    for path in sheets:
        for tempo in tempos:
            options = Options(level=level, tempo=Fraction(tempo))
            try:
                chorus, gaps = prepare(read_tune(path), options)
            except InputError:
                continue
            begin = process_time()
            proposal = propose(chorus, gaps, level=level, families=("line",), count=count)
            found.seconds += process_time() - begin
            found.gaps += len(gaps)
            found.fills += len(proposal.fills)
            found.empty += len(proposal.empty)
            again, first = repeated_first_choices(gaps, proposal)
            found.again, found.first = found.again + again, found.first + first
            for fill in proposal.fills:
                devices[fill.device] = devices.get(fill.device, 0) + 1
                notes = line_notes(chorus, fill)
                if notes is not None and _SHORTEST <= len(notes) <= _LONGEST:
                    lines[tuple((o, m - notes[0][1], r, t) for o, m, r, t, _ in notes)] = notes
            if documents is not None:
                document = dump(fills_document(chorus, options, gaps, proposal, ()))
                (documents / f"{path.stem}-{tempo}.json").write_text(document)
    return found, list(lines.values()), devices


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("sheets", type=Path, nargs="*")
    parser.add_argument("--tempo", type=int, nargs="+", default=[132, 200])
    parser.add_argument("--levels", nargs="+", default=list(LEVELS))
    parser.add_argument("--count", type=int, default=3)
    parser.add_argument("--phrases", type=Path)
    parser.add_argument("--documents", type=Path)
    parser.add_argument("--judge", type=Path)
    parser.add_argument("--python", default=sys.executable)
    asked = parser.parse_args()
    folder = files("fillwright") / "data"
    sheets = asked.sheets or sorted(Path(str(p)) for p in folder.iterdir()
                                    if p.name.endswith(".musicxml"))
    for level in asked.levels:
        found, lines, devices = measure(sheets, level, asked.tempo, asked.count,
                                        asked.documents if level == LEVELS[-1] else None)
        print(f"{level}: {found.fills} lines in {found.gaps} gaps, {found.empty} empty, "
              f"{1000 * found.seconds / max(found.gaps, 1):.0f} ms a gap; first choices that "
              f"are an earlier one {100 * found.again / max(found.first, 1):.0f} %")
        print("  " + ", ".join(f"{device} {number}" for device, number in sorted(
            devices.items(), key=lambda d: (-d[1], d[0]))))
        phrases = [] if asked.phrases is None else list(real_phrases(asked.phrases))
        real = figures(phrases) if phrases else None
        print(f"  {len(lines)} different lines of {_SHORTEST} to {_LONGEST} notes")
        for name, value in figures(lines).items():
            print(f"    {name:28} {value:5.1f} %"
                  + ("" if real is None else f"   real {real[name]:5.1f} %"
                     + ("   off" if abs(value - real[name]) > _NEAR else "")))
        print(f"    notes over minor chords {over_minor(lines):10.1f} %"
              + ("" if real is None else f"   real {over_minor(phrases):5.1f} %"))
    if asked.judge is not None and asked.documents is not None:
        written = sorted(str(p) for p in asked.documents.glob("*.json"))
        subprocess.run([asked.python, str(asked.judge), *written], check=True)


if __name__ == "__main__":
    main()
