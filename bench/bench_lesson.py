"""Ladders, a round and a drill of a 32-bar tune against engraving it, in one run.

Reference: verovio loading and drawing an arrangement of the same tune. The aim is the
dearest ladder, with its highest tempos, in half of that, and a fill through twelve keys, hands
fitted anew and all pieces arranged, in ten times that.
"""

from __future__ import annotations

from time import process_time

import verovio

from fillwright import Options, Proposal, arrange, find_gaps, propose, read_tune, unfold
from fillwright.demo import demo_path
from fillwright.lesson import ladder, round_of_keys
from fillwright.memory import forget_all
from fillwright.score.musicxml import to_musicxml

TUNE = "lamp"


def main() -> None:
    tune = read_tune(demo_path(TUNE))
    drawn_sec = engraving_sec(to_musicxml(arrange(tune, Options(level="advanced"))).decode())
    chorus = unfold(tune)
    offers = propose(chorus, find_gaps(chorus), level="advanced", count=1)
    forget_all()
    times = sorted(ladders_sec(offers))
    print(f"reference: verovio draws the arrangement of {TUNE}, once")
    print(f"a ladder, mean of {len(times)}: {sum(times) / len(times) / drawn_sec:.2f}")
    print(f"the dearest of them (aim: 0.5): {times[-1] / drawn_sec:.2f}, "
          f"{times[-1]:.2f} s of processor time (aim: 1 s)")
    start = process_time()
    round_of_keys(tune, "fourths", gap=3, options=Options(level="advanced"))
    print(f"a fill through twelve keys (aim: 10): {(process_time() - start) / drawn_sec:.2f}")


def engraving_sec(score: str) -> float:
    start = process_time()
    toolkit = verovio.toolkit()
    assert toolkit.loadData(score)
    for page in range(1, toolkit.getPageCount() + 1):
        toolkit.renderToSVG(page)
    return process_time() - start


def ladders_sec(offers: Proposal) -> list[float]:
    times = []
    for fill in offers.fills:
        both = []
        for _ in range(2):  # the less of two: a collection of garbage is no part of a ladder
            forget_all()
            start = process_time()
            ladder(fill)
            both.append(process_time() - start)
        times.append(min(both))
    return times


if __name__ == "__main__":
    main()
