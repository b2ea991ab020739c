"""What touches or nearly touches on pages, by kind, for a hundred bars; how full they are, and
how many seconds a hand is free where each but the last is turned: of all, and of those where there
are more than two, as two lie side by side.

The demo tunes at three levels; with sheets as arguments, each of them too, at one level after
the other.

    python -m bench.bench_paper [SHEET ...]
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

from lxml import etree
from tests.score.touching import touches

import fillwright
from fillwright import Options, arrange, read_tune
from fillwright.score import Engraving, engrave_arrangement
from fillwright.score.turning import TURN_SEC, free_seconds

DATA = Path(fillwright.__file__).parent / "data"
LEVELS = ("beginner", "intermediate", "advanced")


def turns(engraving: Engraving) -> list[float]:
    """Seconds that a hand is free at the end of each page but the last."""
    pages = [[group for group in etree.fromstring(page.encode()).iter("{*}g")
              if group.get("class") == "system"] for page in engraving.pages]
    free = free_seconds(engraving.timemap, [system for page in pages for system in page])
    bars = [sum(group.get("class") == "measure" for system in page for group in system.iter())
            for page in pages]
    return [round(free[sum(bars[:page])], 1) for page in range(1, len(pages))]


def main() -> None:
    wanted = [(path, level) for path in sorted(DATA.glob("*.musicxml")) for level in LEVELS]
    wanted += [(Path(name), LEVELS[place % 3]) for place, name in enumerate(sys.argv[1:])]
    hard, near, bars = Counter[str](), Counter[str](), 0
    turned: list[list[float]] = []
    for path, level in wanted:
        done = arrange(read_tune(path), Options(level=level))
        engraving = engrave_arrangement(done)
        pages = engraving.pages
        turned.append(turns(engraving))
        bars += len(done.chorus.bars)
        before = hard.total(), near.total()
        for page in pages:
            for touch in touches(page):
                (hard if touch.is_hard else near)[" and ".join(touch.kinds)] += 1
        lines = [page.count('class="system"') for page in pages]
        print(f"{path.stem:16} {level:13} {len(done.chorus.bars):4} bars, "
              f"{hard.total() - before[0]:3} overlap, {near.total() - before[1]:3} nearly; lines "
              f"on pages: {lines}; free where they are turned: {turned[-1]}", flush=True)
    for name, found in (("overlap", hard), ("nearer than 0.3 mm", near)):
        print(f"{name}: {100 * found.total() / bars:.1f} for a hundred of {bars} bars",
              dict(found.most_common()))
    for fewest in (1, 2):
        seconds = [second for one in turned if len(one) >= fewest for second in one]
        free = sum(second >= TURN_SEC for second in seconds)
        print(f"turned where a hand is free for {TURN_SEC:.0f} second: {free} of {len(seconds)} "
              f"where there are more than {fewest} pages")


if __name__ == "__main__":
    main()
