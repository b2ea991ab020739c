"""Proposing every fill of a 32-bar tune against engraving the result, in one run.

Reference: verovio loading and drawing the arrangement made from the same tune. The aim is
20 times that or less, better 5. Proposing is measured cold (its caches empty) in a fresh
process for each level, and warm.
"""

from __future__ import annotations

import subprocess
import sys
from time import process_time

import verovio

from fillwright.arrange.build import arrange, prepare
from fillwright.arrange.model import Options
from fillwright.demo import demo_path
from fillwright.fills.propose import propose
from fillwright.hands.model import LEVELS
from fillwright.score.musicxml import to_musicxml
from fillwright.tune.read import read_tune

TUNE = "lamp"


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
    warm = process_time() - start
    view = to_musicxml(arrange(tune, options), view=True).decode()
    toolkit = verovio.toolkit()
    toolkit.setOptions({"breaks": "auto", "scale": 40})
    engraving = min(engraved(toolkit, view) for _ in range(3))
    print(f"proposing all fills of {TUNE}, {level}: {cold / engraving:.1f} times the engraving "
          f"of the result cold, {warm / engraving:.1f} warm (aim: 20 at most, better 5)")


def engraved(toolkit: verovio.toolkit, view: str) -> float:
    start = process_time()
    if not toolkit.loadData(view):
        raise SystemExit("the engraver refused the score")
    for page in range(1, toolkit.getPageCount() + 1):
        toolkit.renderToSVG(page)
    return process_time() - start


if __name__ == "__main__":
    main()
