"""Whether proposing and arranging grow faster than the bars: a tune of 32, 320 and 3,200 bars.

The demo tune is laid end to end; ratios are to the 32 bars. Each length begins with nothing kept.
Chords and lead-ins that are heard alike share their fills, so these grow by less than the bars;
a line says something else each time its music comes again, and is looked for anew. Choosing and
building are measured once each, with the fills chosen first; a chorus that should rise or lie
easier is chosen and built several times, whatever its length. Within the 32 bars hardly anything
comes again, so that choosing has less to look at there: 320 and 3,200 bars are to be compared.
The collector of cycles rests while the clock runs, as in `timeit`.

    python -m bench.bench_growth [MOST]     MOST tunes end to end at most (100)
"""

from __future__ import annotations

import gc
import sys
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from time import process_time

from fillwright.arranging.assemble import assemble
from fillwright.arranging.audit import audit_arrangement
from fillwright.arranging.build import prepare
from fillwright.arranging.choose import choose_fills
from fillwright.arranging.merit import Wishes
from fillwright.arranging.model import Options
from fillwright.arranging.story import story_of
from fillwright.demo import demo_path
from fillwright.fills.hearing import hear, situation_of
from fillwright.fills.model import Fill
from fillwright.fills.propose import propose
from fillwright.memory import forget_all
from fillwright.tune import Chorus, Gap, find_gaps, read_tune

TIMES = (1, 10, 100)
TUNE = "lamp"


def end_to_end(chorus: Chorus, times: int) -> Chorus:
    """A chorus so many times in a row."""
    length = chorus.length_quarter

    def at(number: int) -> Fraction:
        return number * length
    return replace(
        chorus,
        bars=tuple(replace(bar, onset_quarter=bar.onset_quarter + at(n))
                   for n in range(times) for bar in chorus.bars),
        melody=tuple(replace(note, onset_quarter=note.onset_quarter + at(n))
                     for n in range(times) for note in chorus.melody),
        chords=tuple(replace(span, onset_quarter=span.onset_quarter + at(n))
                     for n in range(times) for span in chorus.chords),
        harmonies=chorus.harmonies * times, length_quarter=length * times)


def arranging(chorus: Chorus, gaps: tuple[Gap, ...], fills: Sequence[Fill]
              ) -> tuple[float, float]:
    """Seconds it takes to choose a fill for each gap, and to build and audit the chorus."""
    options = Options()
    offered: dict[int, list[Fill]] = {gap.number: [] for gap in gaps}
    for fill in fills:
        offered[fill.gap].append(fill)
    start = process_time()
    chosen = choose_fills(story_of(chorus, gaps), offered, {}, Wishes())
    middle = process_time()
    audit_arrangement(assemble(chorus, gaps, chosen, options))
    return middle - start, process_time() - middle


def main() -> None:
    most = int(sys.argv[1]) if len(sys.argv) > 1 else max(TIMES)
    chorus, gaps = prepare(read_tune(demo_path(TUNE)), Options())
    propose(chorus, gaps)
    first: tuple[float, ...] | None = None
    gc.disable()
    for times in (times for times in TIMES if times <= most):
        whole = end_to_end(chorus, times)
        gc.collect()
        start = process_time()
        found = find_gaps(whole)
        finding = process_time() - start
        start = process_time()
        hearing = hear(whole)
        for gap in found:
            situation_of(hearing, found, gap.number)
        hearing_sec = process_time() - start
        forget_all()
        start = process_time()
        proposal = propose(whole, found)
        proposing = process_time() - start
        now = finding, hearing_sec, proposing, *arranging(whole, found, proposal.fills)
        first = first or now
        ratios = [here / once for here, once in zip(now, first, strict=True)]
        words = ("finding gaps", "hearing", "proposing", "choosing", "building")
        said = ", ".join(f"{word} {ratio:.1f}" for word, ratio in zip(words, ratios, strict=True))
        print(f"{32 * times:5} bars, {len(found)} gaps: {said} times that of 32 bars", flush=True)


if __name__ == "__main__":
    main()
