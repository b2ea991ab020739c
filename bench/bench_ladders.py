"""The ladders of all offers of some sheets, heard by an independent recogniser.

    python -m bench.bench_ladders [--level LEVEL ...] [--count N] SHEET ...

For each sheet: its offers at the levels named (advanced; a beginner's have nothing below them),
N a gap and family (as many as the program offers where nothing else is said), how many have a rung
of each level, the processor time of a ladder, and every ladder that does not fall, cannot be
played or is not the idea any more.
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from time import process_time

from tests.lesson.recognise import ORDER, amiss

from fillwright import InputError, find_gaps, ladder, propose, read_tune, unfold


@dataclass
class Found:
    counts: Counter[str] = field(default_factory=Counter)
    seconds: list[float] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)

    def told(self) -> str:
        counts, seconds = self.counts, sorted(self.seconds)
        rungs = ", ".join(f"{level} {counts[level]}" for level in ORDER)
        times = (f"; {seconds[len(seconds) // 2]:.2f} s a ladder, {seconds[-1]:.2f} at most"
                 if seconds else "")
        return f"{counts['offers']} offers, {counts['wrong']} wrong; with a rung: {rungs}{times}"


def main() -> None:
    parser = argparse.ArgumentParser(description="The ladders of all offers of some sheets.")
    parser.add_argument("sheets", nargs="+", type=Path)
    parser.add_argument("--level", nargs="+", choices=ORDER, default=["advanced"])
    parser.add_argument("--count", type=int, default=3)
    asked = parser.parse_args()
    total = Found()
    for path in asked.sheets:
        for level in asked.level:
            try:
                found = looked_at(path, level, asked.count)
            except InputError as error:
                print(f"{path.name}: {error}", flush=True)
                continue
            total.counts += found.counts
            total.seconds += found.seconds
            print(f"{path.name}, {level}: {found.told()}", flush=True)
            for text in found.failures:
                print(f"  {text}", flush=True)
    print(f"all: {total.told()}")


def looked_at(path: Path, level: str, count: int) -> Found:
    chorus = unfold(read_tune(path))
    found = Found()
    for fill in propose(chorus, find_gaps(chorus), level=level, count=count).fills:
        start = process_time()
        made = ladder(fill)
        found.seconds.append(process_time() - start)
        own = list(amiss(fill, made))
        found.counts.update({"offers", *(rung.level for rung in made.rungs)})
        found.counts["wrong"] += bool(own)
        found.failures += own
    return found


if __name__ == "__main__":
    main()
