"""What touches or nearly touches on pages, by kind, for a hundred bars; and how full they are.

The demo tunes at three levels; with sheets as arguments, each of them too, at one level after
the other.

    python -m bench.bench_paper [SHEET ...]
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

from tests.score.touching import touches

import fillwright
from fillwright import Options, arrange, read_tune
from fillwright.score import engrave_arrangement

DATA = Path(fillwright.__file__).parent / "data"
LEVELS = ("beginner", "intermediate", "advanced")


def main() -> None:
    wanted = [(path, level) for path in sorted(DATA.glob("*.musicxml")) for level in LEVELS]
    wanted += [(Path(name), LEVELS[place % 3]) for place, name in enumerate(sys.argv[1:])]
    hard, near, bars = Counter[str](), Counter[str](), 0
    for path, level in wanted:
        done = arrange(read_tune(path), Options(level=level))
        pages = engrave_arrangement(done).pages
        bars += len(done.chorus.bars)
        before = hard.total(), near.total()
        for page in pages:
            for touch in touches(page):
                (hard if touch.is_hard else near)[" and ".join(touch.kinds)] += 1
        lines = [page.count('class="system"') for page in pages]
        print(f"{path.stem:16} {level:13} {len(done.chorus.bars):4} bars, "
              f"{hard.total() - before[0]:3} overlap, {near.total() - before[1]:3} nearly; lines "
              f"on pages: {lines}", flush=True)
    for name, found in (("overlap", hard), ("nearer than 0.3 mm", near)):
        print(f"{name}: {100 * found.total() / bars:.1f} for a hundred of {bars} bars",
              dict(found.most_common()))


if __name__ == "__main__":
    main()
