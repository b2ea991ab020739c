"""How long ``fillwright --help`` takes, next to importing numpy: python -m bench.bench_startup

Both are whole processes of the same interpreter, taken in turns. The aim is a ratio under 3.
"""

from __future__ import annotations

import subprocess
import sys
import time
from statistics import median

ROUNDS = 15
HELP = [sys.executable, "-m", "fillwright.cli", "--help"]
NUMPY = [sys.executable, "-c", "import numpy"]


def seconds_of(command: list[str]) -> float:
    start_sec = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start_sec


def main() -> None:
    for command in (HELP, NUMPY):  # once before, so that both are in the file cache
        seconds_of(command)
    pairs = [(seconds_of(HELP), seconds_of(NUMPY)) for _ in range(ROUNDS)]
    help_sec, numpy_sec = (median(column) for column in zip(*pairs, strict=True))
    print(f"start-up: --help {help_sec * 1000:.0f} ms, import numpy {numpy_sec * 1000:.0f} ms, "
          f"ratio {help_sec / numpy_sec:.2f} (aim: under 3)")


if __name__ == "__main__":
    main()
