"""A pack of ten items: what it costs against engraving and playing one chorus.

    python -m bench.bench_pack

The aim is a pack in twenty seconds, whose page is smaller than 5 MB. The reference is what the
program needs for all files of one chorus of 32 bars. Processor time has the engraver's process in
it; the clock means something where nothing else runs.
"""

from __future__ import annotations

import os
import time
from pathlib import Path

from fillwright import Options, arrange, read_tune
from fillwright.demo import demo_path
from fillwright.lesson import Search, pack_files, plan_text, read_plan_text, tasks_of
from fillwright.output import render

ITEMS = 10


def seconds() -> float:
    """Of processor time, in this process and those it waited for."""
    return sum(os.times()[:4])


def main() -> None:
    start = seconds()
    render(arrange(read_tune(demo_path("lamp")), Options()))
    reference = seconds() - start
    found = Search(["lamp", "ferry"], Path()).gaps_in_order("intermediate", ITEMS)
    for show in ("filled", "rhythm"):
        text = 'answers_in_page = true\n' + plan_text("Ten items", found, show)
        start, clock = seconds(), time.perf_counter()
        plan = read_plan_text(text)
        files = pack_files(plan, tasks_of(plan, Path()))
        spent, clock = seconds() - start, time.perf_counter() - clock
        print(f"a pack of {len(found)}, {show}: {spent:.1f} s of processor time, "
              f"{spent / reference:.2f} of all files of a chorus; {clock:.1f} s by the clock; the "
              f"page has {len(files['student.html']) / 1e6:.1f} MB", flush=True)


if __name__ == "__main__":
    main()
