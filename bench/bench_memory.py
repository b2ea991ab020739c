"""How much memory a process holds that proposes fills for one sheet after the other.

Run with a folder of lead sheets: bench/bench_memory.py FOLDER [MOST]. Every sheet is proposed
at the three levels; the aim is less than 300 MB after sixty sheets. Without a folder the demo
tunes stand for the sheets.
"""

from __future__ import annotations

import sys
from fractions import Fraction
from pathlib import Path
from time import process_time

from fillwright.arranging.build import prepare
from fillwright.arranging.model import Options
from fillwright.demo import DEMO_TUNES, demo_path
from fillwright.errors import InputError
from fillwright.fills.propose import propose
from fillwright.hands import LEVELS
from fillwright.tune import read_tune

AIM_MEGABYTES = 300
TEMPI = (63, 132, 132, 200, 132, 100)
"""Felt beats a minute in turn, so that ballads and fast tunes are among them."""


def held_megabytes() -> int:
    """Memory of this process that is in use now (Linux)."""
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return next(int(line.split()[1]) // 1024 for line in status.splitlines()
                if line.startswith("VmRSS"))


def main() -> None:
    most = int(sys.argv[2]) if len(sys.argv) > 2 else 60
    sheets = ([demo_path(name) for name in DEMO_TUNES] if len(sys.argv) < 2
              else sorted(Path(sys.argv[1]).glob("*.mxl"))[:most])
    print(f"at the start: {held_megabytes()} MB")
    highest, begin, gap_count = 0, process_time(), 0
    for number, path in enumerate(sheets):
        try:
            chorus, gaps = prepare(read_tune(path),
                                   Options(tempo=Fraction(TEMPI[number % len(TEMPI)])))
        except InputError as error:
            print(f"{path.name}: {error}")
            continue
        for level in LEVELS:
            propose(chorus, gaps, level=level)
        gap_count += len(gaps)
        highest = max(highest, held_megabytes())
        if number % 10 == 9 or number + 1 == len(sheets):
            print(f"after {number + 1} sheets at three levels: {held_megabytes()} MB, highest "
                  f"{highest} MB; {1000 * (process_time() - begin) / gap_count / 3:.0f} ms a gap "
                  f"and level", flush=True)
    print(f"aim: less than {AIM_MEGABYTES} MB after sixty sheets")


if __name__ == "__main__":
    main()
