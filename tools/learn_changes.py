"""Learns from real changes what stands between two chords, and writes the tables of the prior.

    python tools/learn_changes.py CHANGES.tsv SHEET... --out prior.tsv
    python tools/learn_changes.py CHANGES.tsv SHEET... --try

`CHANGES.tsv` holds the changes of one recording a row (row, tune, key, metre, tempo, feel,
tonality, changes as ``bar.beat chord | ...``), as they can be taken from the Weimar Jazz
Database (ODbL 1.0) through the R package jazzodata; the sheets are lead sheets that
fillwright reads. What is learnt are weights of classes of chords, no row of changes.

With `--try` nothing is written: every fourth tune of the changes, and a quarter of the sheets
after the other, is held back, and its chords of two beats at most are guessed, without and with
what the tune itself has at its other places. With `--folds DIR` the tables learnt without each
quarter of the sheets are written too, for `bench/bench_recall.py`.

The model is a conditional log-linear one over 60 chords, fitted by L-BFGS with a penalty on
the squares of the weights; seldom seen contexts fall back on the wider ones by that penalty.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize
from scipy.sparse import csr_matrix

from fillwright.errors import InputError
from fillwright.fills.devices.reharm.function import Chord, quality_of
from fillwright.fills.devices.reharm.own import Standing, own_chords
from fillwright.fills.devices.reharm.prior import (
    CHORDS,
    UNIT,
    Around,
    Tables,
    chances,
    parsed,
    views,
)
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.chordtext import parse_chord
from fillwright.theory.key import Key
from fillwright.theory.local_key import local_keys
from fillwright.theory.pitch import NoteName
from fillwright.tune.form import unfold
from fillwright.tune.model import Chorus
from fillwright.tune.read import read_tune

SOURCE = """# What stands between two chords: weights of a log-linear model, see prior.py.
# Written by tools/learn_changes.py. Learnt from the chord changes of the Weimar Jazz Database
# (Jazzomat Research Project, ODbL 1.0), through the R package jazzodata 0.1.4, and of lead sheets
# in the public domain (OpenEWLD). Columns: side, what is seen from there, chord:weight in
# hundredths of a natural logarithm; a chord is semitones above the side's pitch class and class
# of quality (M major, m minor, 7 dominant, h half-diminished, o diminished)."""

FOLDS = 4
LEARNT_BEATS, TRIED_BEATS = 4, 2
LONG_WEIGHT = 0.5
"""What a chord longer than two beats counts, which passes less than it stays."""
LEAST_SEEN = 2
PENALTY = 1.0
STEPS = 60
LEAST_WEIGHT = 8
"""Weights nearer to nothing than this many hundredths are left out."""
RANKS = (1, 3, 10)


@dataclass(frozen=True, slots=True)
class Struck:
    """A chord of a tune: when it begins, in felt beats; its bar and its place in it; the
    melody's longest note above it."""

    beat: Fraction
    symbol: ChordSymbol
    bar: int
    printed_bar: int
    place: Fraction
    bar_beats: Fraction
    note: int | None = None

    @property
    def chord(self) -> Chord:
        if self.symbol.root is None:
            raise ValueError("N.C. is no chord")
        return self.symbol.root.pitch_class, quality_of(self.symbol)

    @property
    def in_bar(self) -> int:
        return 0 if self.place == 0 else 1 if 2 * self.place == self.bar_beats else 2


@dataclass(frozen=True, slots=True)
class Example:
    """A chord between two others, and where it stands."""

    around: Around
    answer: Chord
    beats: Fraction
    standing: Standing
    group: str
    number: int


def of_source(text: str) -> ChordSymbol | None:
    """The chord of a symbol as the changes write it, by its class; None for no chord."""
    match = re.match(r"([A-G][b#]?)(.*)", text.split("/")[0])
    if match is None or text.startswith("NC"):
        return None
    root, rest = match[1], match[2]
    for starts, kind in ((("m7b5",), "m7b5"), (("o",), "dim7"), (("maj", "j", "6"), "maj7"),
                         (("-", "m"), "m7"), (("sus",), "7sus4")):
        if rest.startswith(starts):
            return parse_chord(root + kind)
    if rest.startswith("+") and "7" not in rest:
        return parse_chord(f"{root}+")
    return parse_chord(root + ("7" if rest else ""))


def _home(text: str) -> Key:
    match = re.match(r"([A-G])([b#]?)-(\w+)", text)
    if match is None:
        return Key(0)
    mode = "minor" if match[3] in ("min", "dor") else "major"
    tonic = NoteName(match[1], match[2].count("#") - match[2].count("b")).pitch_class
    return min((key for key in (Key(fifths, mode) for fifths in range(-6, 7))
                if key.tonic.pitch_class == tonic), key=lambda key: abs(key.fifths))


def rows(path: Path) -> list[list[Example]]:
    """The examples of each row of a file of changes."""
    found = []
    for line in path.read_text("utf-8").splitlines()[1:]:
        number, tune, key, metre, *_, changes = line.split("\t")
        beats = int(metre.split("/")[0]) if metre else 4
        struck = []
        for event in changes.split(" | "):
            where, text = event.split(" ", 1)
            bar, beat = where.rsplit(".", 1)
            symbol = of_source(text)
            if symbol is not None:
                struck.append(Struck(Fraction(int(bar) * beats + int(beat) - 1), symbol,
                                     int(bar) - 1, int(bar), Fraction(int(beat) - 1),
                                     Fraction(beats)))
        found.append(examples(struck, _home(key), f"row {number}", int(tune)))
    return found


def sheet(path: Path, number: int) -> list[Example]:
    """The examples of a lead sheet, each printed bar once."""
    chorus = unfold(read_tune(path))
    struck = []
    for span in chorus.chords:
        if span.symbol.root is None:
            continue
        bar = chorus.bar_at(span.onset_quarter)
        beat = bar.meter.beat_quarter
        struck.append(Struck(
            span.onset_quarter / beat, span.symbol,
            chorus.bars.index(bar) - chorus.bars[0].is_pickup, bar.bar_index,
            (span.onset_quarter - bar.onset_quarter) / beat, bar.meter.length_quarter / beat,
            _note(chorus, span.onset_quarter, span.end_quarter)))
    return examples(struck, chorus.key, f"sheet {number}", number)


def _note(chorus: Chorus, onset: Fraction, end: Fraction) -> int | None:
    inside = [(min(n.end_quarter, end) - max(n.onset_quarter, onset), -n.onset_quarter, n)
              for n in chorus.melody if n.end_quarter > onset and n.onset_quarter < end]
    return max(inside, key=lambda e: e[:2])[2].midi % 12 if inside else None


def examples(struck: Sequence[Struck], home: Key, group: str, number: int) -> list[Example]:
    """Every chord between two others that lasts four beats at most; its key is heard as it is
    without it."""
    joined: list[Struck] = []
    for one in struck:
        if not joined or joined[-1].chord != one.chord:
            joined.append(one)
    symbols = [one.symbol for one in joined]
    row = [one.chord for one in joined]
    found: list[Example] = []
    seen: set[tuple[int, Fraction]] = set()
    for i in range(1, len(joined) - 1):
        one, goal = joined[i], joined[i + 1]
        beats = goal.beat - one.beat
        if not 0 < beats <= LEARNT_BEATS or row[i - 1] == row[i + 1] == one.chord or (
                (one.printed_bar, one.place) in seen):
            continue
        seen.add((one.printed_bar, one.place))
        keys = local_keys(symbols[:i] + symbols[i + 1:], home)
        here_key, key = keys[i - 1], keys[i]
        form = 0 if goal.in_bar else (goal.bar % 8 == 0) + (goal.bar % 4 == 0)
        around = Around(row[i - 1], row[i + 1], (key.tonic.pitch_class, key.mode),
                        (here_key.tonic.pitch_class, here_key.mode),
                        (home.tonic.pitch_class, home.mode),
                        row[i - 2] if i > 1 else None, row[i + 2] if i + 2 < len(row) else None,
                        one.in_bar, goal.in_bar, max(1, min(int(beats), 4)), form, one.note)
        found.append(Example(around, one.chord, beats, Standing(
            around.before, around.here, one.chord, around.goal, around.after,
            (one.printed_bar, one.place)), group, number))
    return found


def design(examples_: Sequence[Example], columns: dict[tuple[str, str, Chord], int]
           ) -> csr_matrix:
    """One row for each example and chord, one column for each weight."""
    places: list[int] = []
    taken: list[int] = []
    for i, example in enumerate(examples_):
        for side, root, seen in views(example.around):
            for j, (pitch, letter) in enumerate(CHORDS):
                column = columns.get((side, seen, ((pitch - root) % 12, letter)))
                if column is not None:
                    places.append(i * len(CHORDS) + j)
                    taken.append(column)
    return csr_matrix((np.ones(len(places), dtype=np.float32), (places, taken)),
                      shape=(len(examples_) * len(CHORDS), len(columns)))


def learn(learnt_from: Sequence[Example]) -> list[str]:
    """The lines of the tables."""
    seen: Counter[tuple[str, str, Chord]] = Counter()
    for example in learnt_from:
        pitch, letter = example.answer
        for side, root, what in views(example.around):
            seen[side, what, ((pitch - root) % 12, letter)] += 1
    columns = {key: i for i, key in enumerate(
        sorted(key for key, times in seen.items() if times >= LEAST_SEEN))}
    fitted = _fitted(learnt_from, design(learnt_from, columns))
    table: dict[tuple[str, str], list[str]] = {}
    for (side, what, chord), column in columns.items():
        weight = round(UNIT * float(fitted[column]))
        if abs(weight) >= LEAST_WEIGHT:
            table.setdefault((side, what), []).append(f"{chord[0]}{chord[1]}:{weight}")
    return [f"{side}\t{what}\t{' '.join(row)}" for (side, what), row in sorted(table.items())]


def _fitted(learnt_from: Sequence[Example], matrix: csr_matrix) -> npt.NDArray[np.float64]:
    count, width = len(learnt_from), len(CHORDS)
    answers = np.array([CHORDS.index(e.answer) for e in learnt_from])
    counts = np.array([1.0 if e.beats <= TRIED_BEATS else LONG_WEIGHT for e in learnt_from])
    closed = np.zeros((count, width))
    for i, example in enumerate(learnt_from):
        for side in (example.around.here, example.around.goal):
            if side != example.answer:
                closed[i, CHORDS.index(side)] = -30.0
    turned = matrix.T.tocsr()
    every = np.arange(count)
    wanted = turned @ np.bincount(every * width + answers, weights=counts,
                                  minlength=count * width)

    def loss(weights: npt.NDArray[np.float64]) -> tuple[float, npt.NDArray[np.float64]]:
        scores = (matrix @ weights).reshape(count, width) + closed
        scores -= scores.max(axis=1, keepdims=True)
        shares = np.exp(scores)
        sums = shares.sum(axis=1, keepdims=True)
        told = (counts * (scores[every, answers] - np.log(sums[:, 0]))).sum()
        slope = turned @ (shares / sums * counts[:, None]).ravel() - wanted + PENALTY * weights
        return float(0.5 * PENALTY * (weights @ weights) - told), slope

    found = minimize(loss, np.zeros(matrix.shape[1]), jac=True, method="L-BFGS-B",
                     options={"maxiter": STEPS})
    return np.asarray(found.x)


def ranks(tried: Sequence[Example], learnt: Tables, every: Sequence[Example] | None
          ) -> list[int]:
    """At which place of the ranking the chord that stands there comes.

    every   all examples, from which the tune's own other places are taken; None for none
    """
    found = []
    for example in tried:
        own = () if every is None else own_chords(example.standing, [
            e.standing for e in every if e.group == example.group])
        share = chances(example.around, learnt, own)
        found.append(1 + int((share > share[CHORDS.index(example.answer)]).sum()))
    return found


def _report(name: str, found: Sequence[int]) -> None:
    shares = ", ".join(f"at {k} {sum(r <= k for r in found) / len(found):.3f}" for k in RANKS)
    print(f"{name}: {len(found)} places; {shares}", flush=True)


def _short(examples_: Sequence[Example]) -> list[Example]:
    return [e for e in examples_ if e.beats <= TRIED_BEATS]


def try_out(changes: Sequence[Example], sheets: Sequence[Example], folds: Path | None) -> None:
    """Print how much of what was not learnt is guessed."""
    held = _short([e for e in changes if e.number % 4 == 3])
    learnt = parsed(learn([*(e for e in changes if e.number % 4 != 3), *sheets]))
    _report("rows of other tunes", ranks(held, learnt, None))
    _report("rows of other tunes, with their own places", ranks(held, learnt, changes))
    plain: list[int] = []
    own: list[int] = []
    for fold in range(FOLDS):
        lines = learn([*changes, *(e for e in sheets if e.number % FOLDS != fold)])
        if folds is not None:
            folds.mkdir(parents=True, exist_ok=True)
            (folds / f"prior-{fold}.tsv").write_text("\n".join([SOURCE, *lines]) + "\n", "utf-8")
        learnt = parsed(lines)
        tried = _short([e for e in sheets if e.number % FOLDS == fold])
        plain += ranks(tried, learnt, None)
        own += ranks(tried, learnt, sheets)
    _report("other sheets", plain)
    _report("other sheets, with their own places", own)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("changes", type=Path)
    parser.add_argument("sheets", type=Path, nargs="*")
    parser.add_argument("--out", type=Path)
    parser.add_argument("--try", action="store_true", dest="tried")
    parser.add_argument("--folds", type=Path)
    args = parser.parse_args()
    changes = [example for row in rows(args.changes) for example in row]
    sheets: list[Example] = []
    for number, path in enumerate(sorted(args.sheets)):
        try:
            sheets += sheet(path, number)
        except InputError as error:
            print(error, file=sys.stderr)
    if args.tried or args.folds:
        try_out(changes, sheets, args.folds)
    if args.out:
        args.out.write_text("\n".join([SOURCE, *learn([*changes, *sheets])]) + "\n", "utf-8")


if __name__ == "__main__":
    main()
