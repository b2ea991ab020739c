"""Whether proposing grows faster than the bars: a tune of 32, 320 and 3,200 bars.

The demo tune is laid end to end; ratios are to the 32 bars. Each length begins with nothing kept.
Chords and lead-ins that are heard alike share their fills, so these grow by less than the bars;
a line says something else each time its music comes again, and is looked for anew.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from time import process_time

from fillwright.arranging.build import prepare
from fillwright.arranging.model import Options
from fillwright.demo import demo_path
from fillwright.fills.hearing import hear, situation_of
from fillwright.fills.propose import propose
from fillwright.memory import forget_all
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import Chorus
from fillwright.tune.read import read_tune

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


def main() -> None:
    chorus, gaps = prepare(read_tune(demo_path(TUNE)), Options())
    propose(chorus, gaps)
    first: tuple[float, float, float] | None = None
    for times in TIMES:
        whole = end_to_end(chorus, times)
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
        propose(whole, found)
        proposing = process_time() - start
        now = finding, hearing_sec, proposing
        first = first or now
        print(f"{32 * times:5} bars, {len(found)} gaps: finding gaps {finding / first[0]:.1f}, "
              f"hearing {hearing_sec / first[1]:.1f}, proposing {proposing / first[2]:.1f} times "
              f"that of 32 bars")


if __name__ == "__main__":
    main()
