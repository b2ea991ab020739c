"""The ladders of all offers of some sheets, heard by an independent recogniser.

    python -m bench.bench_ladders SHEET ...

For each sheet: its offers at the advanced level, how many have a rung of each lower level, and
every ladder that does not fall, cannot be played or is not the idea any more.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

from tests.lesson.recognise import ORDER, wrong

from fillwright import InputError, find_gaps, ladder, propose, read_tune, unfold


def main(paths: list[str]) -> None:
    total: Counter[str] = Counter()
    for path in map(Path, paths):
        try:
            found, failures = looked_at(path)
        except InputError as error:
            print(f"{path.name}: {error}", flush=True)
            continue
        total += found
        print(f"{path.name}: {told(found)}", flush=True)
        for text in failures:
            print(f"  {text}", flush=True)
    print(f"all: {told(total)}")


def looked_at(path: Path) -> tuple[Counter[str], list[str]]:
    chorus = unfold(read_tune(path))
    fills = propose(chorus, find_gaps(chorus), level="advanced", count=1).fills
    counts = Counter({"offers": len(fills)})
    failures: list[str] = []
    for fill in fills:
        counts.update({rung.level for rung in ladder(fill).rungs})
        own = list(wrong([fill]))
        counts["wrong"] += bool(own)
        failures += own
    return counts, failures


def told(counts: Counter[str]) -> str:
    return f"{counts['offers']} offers, {counts['wrong']} wrong; with a rung: " + ", ".join(
        f"{level} {counts[level]}" for level in ORDER)


if __name__ == "__main__":
    main(sys.argv[1:])
