"""Proposing every fill of a 32-bar tune against engraving the result, in one run.

Reference: verovio loading and drawing the arrangement made from the same tune. The aim is
10 times that the first time in a fresh process for each level, and 4 a beat faster with chords and
hands known. Tempos of one pace have the same fills (`fills.tempo.pace_of`), so that at some of the
next tempos only is every gap heard anew: the next alone, the mean of twelve, and the dearest
of them. Asked once more for the very same, the fills that were kept are set at their places.
"""

from __future__ import annotations

import subprocess
import sys
from time import process_time

import verovio

from fillwright.arranging.build import arrange, prepare
from fillwright.arranging.model import Options
from fillwright.demo import demo_path
from fillwright.fills.propose import propose
from fillwright.hands import LEVELS
from fillwright.score.musicxml import to_musicxml
from fillwright.tune import read_tune

TUNE = "lamp"
BEATS = 12
"""So many times one beat a minute faster."""


def main() -> None:
    if len(sys.argv) > 1:
        measure(sys.argv[1])
        return
    for level in LEVELS:
        subprocess.run([sys.executable, __file__, level], check=True)


def measure(level: str) -> None:
    tune = read_tune(demo_path(TUNE))
    options = Options(level=level)
    chorus, gaps = prepare(tune, options)
    start = process_time()
    propose(chorus, gaps, level=level)
    cold = process_time() - start
    start = process_time()
    propose(chorus, gaps, level=level)
    kept = process_time() - start
    warm = []
    for faster in range(1, BEATS + 1):
        other, other_gaps = prepare(tune, Options(level=level, tempo=chorus.tempo_bpm + faster))
        start = process_time()
        propose(other, other_gaps, level=level)
        warm.append(process_time() - start)
    view = to_musicxml(arrange(tune, options), view=True).decode()
    start = process_time()
    toolkit = verovio.toolkit()
    toolkit.setOptions({"breaks": "auto", "scale": 40})
    engrave(toolkit, view)
    first = process_time() - start
    again = min(engrave(toolkit, view) for _ in range(3))
    print(f"proposing all fills of {TUNE}, {level}: cold {cold / first:.1f} times the first "
          f"engraving of the result and {cold / again:.1f} times a later one (aim: 10), a beat "
          f"faster {warm[0] / again:.1f}, on average {sum(warm) / BEATS / again:.1f} and where the "
          f"pace is another {max(warm) / again:.1f} times a later one (aim: 4), the same again "
          f"{kept / again:.2f} times")


def engrave(toolkit: verovio.toolkit, view: str) -> float:
    """Seconds it takes to load the score and draw its pages."""
    start = process_time()
    if not toolkit.loadData(view):
        raise SystemExit("the engraver refused the score")
    for page in range(1, toolkit.getPageCount() + 1):
        toolkit.renderToSVG(page)
    return process_time() - start


if __name__ == "__main__":
    main()
