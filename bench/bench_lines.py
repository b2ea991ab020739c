"""What the lines of the line family are made of, against the statistics of real solos.

Every gap of the demo tunes and of the lead sheets in music21's corpus that carry chord
symbols is given its lines at each level; intervals, leaps, chord tones and rates are counted
and printed beside the range wanted. The ranges come from the Weimar Jazz Database
(Pfleiderer et al., *Inside the Jazzomat*, Schott Campus 2017): of 200,353 intervals 54 % are
steps, 26 % thirds, 0.6 % more than an octave, 5 % repeats; 64 % of leaps of a fourth or more
are followed by opposite motion; chord tones fall more often on beats than between.

    python bench/bench_lines.py [tune.musicxml ...]
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from time import perf_counter

from fillwright.fills.devices.line.family import propose_line
from fillwright.fills.hearing import hear, situation_of
from fillwright.fills.model import Fill
from fillwright.fills.situation import LEAST_SECONDS, Task, task_of
from fillwright.tune.form import unfold
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import Chorus
from fillwright.tune.read import read_tune

__all__ = ["CHORD_TONES_ON_STRONG", "CORPUS", "NOTES_PER_SECOND", "RANGES", "Count",
           "corpus_sheets", "count_lines", "demo_tunes", "is_apart"]

APART = ("octave", "repeated", "arpeggi")
"""Words in the names of devices whose intervals are counted apart: they leap, or repeat, by
design."""

CORPUS = ("leadSheet/fosterBrownHair.mxl", "leadSheet/berlinAlexandersRagtime.mxl",
          "nottingham-dataset/reelsa-c.abc", "demos/ComprehensiveChordSymbolsTestFile.mxl",
          "monteverdi/madrigal.3.12.mxl", "monteverdi/madrigal.3.2.mxl")

RANGES: dict[str, tuple[float, float]] = {
    "steps": (45, 62),
    "thirds": (20, 33),
    "over an octave": (0, 2),
    "repeats": (0, 10),
    "leaps turned back": (55, 100),
}
CHORD_TONES_ON_STRONG = {"beginner": 100.0, "intermediate": 75.0, "advanced": 60.0}
NOTES_PER_SECOND = {"beginner": 4, "intermediate": 7, "advanced": 10}


def is_apart(device: str) -> bool:
    return any(word in device for word in APART)


@dataclass
class Count:
    """Sums over many lines. Shares are in per cent."""

    lines: int = 0
    gaps: int = 0
    seconds: float = 0.0
    intervals: dict[str, int] = field(default_factory=dict)
    leaps: int = 0
    turned: int = 0
    strong: list[int] = field(default_factory=lambda: [0, 0])
    beats: list[int] = field(default_factory=lambda: [0, 0])
    between: list[int] = field(default_factory=lambda: [0, 0])
    last: list[int] = field(default_factory=lambda: [0, 0])
    fastest: int = 0
    devices: dict[str, int] = field(default_factory=dict)
    empty: list[str] = field(default_factory=list)

    def share(self, name: str) -> float:
        if name == "leaps turned back":
            return 100 * self.turned / max(self.leaps, 1)
        return 100 * self.intervals.get(name, 0) / max(sum(self.intervals.values()), 1)

    @staticmethod
    def per_cent(pair: list[int]) -> float:
        return 100 * pair[0] / max(pair[1], 1)


def top_line(fill: Fill) -> list[tuple[Fraction, int]]:
    """(onset, highest MIDI number) of the right hand."""
    highest: dict[Fraction, int] = {}
    for note in fill.notes:
        if note.hand == "right":
            highest[note.onset_quarter] = max(highest.get(note.onset_quarter, 0), note.midi)
    return sorted(highest.items())


def _interval_name(size: int) -> str:
    if size == 0:
        return "repeats"
    if size <= 2:
        return "steps"
    if size <= 4:
        return "thirds"
    return "leaps" if size <= 12 else "over an octave"


def add_line(count: Count, context: Task, fill: Fill) -> None:
    """Count one line."""
    line = top_line(fill)
    count.lines += 1
    count.devices[fill.device] = count.devices.get(fill.device, 0) + 1
    seconds = [context.seconds(onset) for onset, _ in line]
    for index, start in enumerate(seconds):
        count.fastest = max(count.fastest,
                            sum(1 for s in seconds[index:] if s < start + 1 - 1e-9))
    steps = [b - a for (_, a), (_, b) in pairwise(line)]
    if not is_apart(fill.device):
        for step in steps:
            name = _interval_name(abs(step))
            count.intervals[name] = count.intervals.get(name, 0) + 1
        for step, following in pairwise(steps):
            if abs(step) >= 5:
                count.leaps += 1
                count.turned += following * step < 0
    for index, (onset, midi) in enumerate(line):
        place = context.beat_at(onset) - 1
        chord = context.span_at(onset).harmony
        tone = chord.is_tone(midi % 12)
        on_beat = place.denominator == 1
        for pair in ((count.beats,) if on_beat else (count.between,)):
            pair[0] += tone
            pair[1] += 1
        if on_beat and place % 2 == 0:
            count.strong[0] += tone
            count.strong[1] += 1
        if index + 1 == len(line):
            count.last[0] += tone
            count.last[1] += 1


def count_lines(choruses: Iterable[Chorus], level: str, hand: str = "medium", options: int = 3,
                most_gaps: int | None = None, count: Count | None = None) -> Count:
    """Lines of every gap of some choruses (at most `most_gaps` of each), added to `count`."""
    count = Count() if count is None else count
    for chorus in choruses:
        gaps = find_gaps(chorus)
        for gap in gaps[:most_gaps]:
            context = task_of(situation_of(hear(chorus), gaps, gap.number),
                                  level=level, hand=hand)
            if not context.spans or gap.seconds < LEAST_SECONDS:
                continue
            count.gaps += 1
            begin = perf_counter()
            found = propose_line(context, options)
            count.seconds += perf_counter() - begin
            if isinstance(found, str):
                count.empty.append(f"{chorus.tune.title} bar {gap.bar}, {float(gap.beats)} "
                                   f"beats: {found}")
                continue
            for fill in found:
                add_line(count, context, fill)
    return count


def demo_tunes() -> Iterator[Chorus]:
    """The choruses of the tunes that come with the package."""
    folder = files("fillwright") / "data"
    for path in sorted(folder.iterdir(), key=lambda p: p.name):
        if path.name.endswith(".musicxml"):
            yield unfold(read_tune(Path(str(path))))


def corpus_sheets(names: Iterable[str] = CORPUS) -> Iterator[Chorus]:
    """The sheets of music21's corpus that carry chord symbols in more than a dozen places, and
    a madrigal or two with some."""
    from music21.common import getCorpusFilePath

    folder = Path(str(getCorpusFilePath()))
    for name in names:
        yield unfold(read_tune(folder / name))


def report(name: str, choruses: list[Chorus]) -> None:
    print(name)
    for level in ("beginner", "intermediate", "advanced"):
        count = count_lines(choruses, level)
        print(f"  {level}: {count.lines} lines in {count.gaps} gaps, "
              f"{len(count.empty)} gaps empty, "
              f"{1000 * count.seconds / max(count.gaps, 1):.0f} ms a gap")
        for term, (low, high) in RANGES.items():
            print(f"    {term:22} {count.share(term):5.1f} %   wanted {low} to {high}")
        wanted = CHORD_TONES_ON_STRONG[level]
        print(f"    chord tones, strong    {count.per_cent(count.strong):5.1f} %   "
              f"wanted {wanted:.0f} or more")
        print(f"    chord tones, beats     {count.per_cent(count.beats):5.1f} %   "
              f"between {count.per_cent(count.between):.1f} %, last notes "
              f"{count.per_cent(count.last):.1f} %")
        print(f"    most notes in a second {count.fastest:5}     "
              f"wanted {NOTES_PER_SECOND[level]} or fewer")
        print("    " + ", ".join(f"{device} {number}" for device, number in sorted(
            count.devices.items(), key=lambda d: (-d[1], d[0]))))
        for line in count.empty[:5]:
            print(f"    empty: {line}")


def main(names: list[str]) -> None:
    if names:
        report("given tunes", [unfold(read_tune(Path(name))) for name in names])
        return
    report("demo tunes", list(demo_tunes()))
    report("corpus lead sheets", list(corpus_sheets()))


if __name__ == "__main__":
    main(sys.argv[1:])
