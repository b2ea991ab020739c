"""All comping options of a gap against verovio's engraving of the 32-bar result, in one run.

The engraving is timed in this process, without its start; the options are timed cold (no
voicing or rhythm remembered from another gap) and warm (within the proposal for a tune).

    python -m bench.bench_comp_speed
"""

from __future__ import annotations

import gc
from functools import _lru_cache_wrapper
from statistics import median
from time import perf_counter

from fillwright.arranging.build import arrange
from fillwright.arranging.model import Options
from fillwright.demo import demo_path
from fillwright.fills.hearing import hear, situation_of
from fillwright.fills.player import player_of
from fillwright.fills.propose import fills_of
from fillwright.fills.situation import task_of
from fillwright.hands import LEVELS
from fillwright.score.engraver import engrave_here
from fillwright.score.musicxml import to_musicxml
from fillwright.tune import read_tune

COUNT = 6
ENGRAVINGS = 3
TARGET, BETTER = 1.0, 0.3


def forget() -> None:
    """Empty every cache of the package."""
    for thing in gc.get_objects():
        if isinstance(thing, _lru_cache_wrapper) and (
                getattr(thing, "__module__", "") or "").startswith("fillwright."):
            thing.cache_clear()


def main() -> None:
    tune = read_tune(demo_path("lamp"))
    arrangement = arrange(tune, Options())
    view = to_musicxml(arrangement, view=True)
    times = []
    for _ in range(ENGRAVINGS):
        start = perf_counter()
        engrave_here(view)
        times.append(perf_counter() - start)
    engraving = min(times)
    gaps = arrangement.gaps
    print(f"engraving of {len(arrangement.chorus.bars)} bars: {1000 * engraving:.0f} ms")
    for level in LEVELS:
        cold: list[float] = []
        warm: list[float] = []
        for remembered, into in ((False, cold), (True, warm)):
            forget()
            for gap in gaps:
                if not remembered:
                    forget()
                task = task_of(situation_of(hear(arrangement.chorus), gaps, gap.number),
                               player_of(level, "medium"))
                start = perf_counter()
                fills_of(task, "comp", COUNT)
                into.append((perf_counter() - start) / engraving)
        print(f"{level:13} {COUNT} options of a gap / engraving: cold median {median(cold):.3f}, "
              f"worst {max(cold):.3f}; in a tune median {median(warm):.3f} "
              f"(target {TARGET:g}, better {BETTER:g})")


if __name__ == "__main__":
    main()
