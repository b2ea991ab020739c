"""What the sound of a long chorus costs: processor time and memory, a process for each length.

A chorus of held notes and chords at 120 beats a minute, gaps left open: 1, 2, 5 and 10 minutes.

    python -m bench.bench_sound
"""

from __future__ import annotations

import resource
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from time import process_time

MINUTES = (1, 2, 5, 10)
BARS_A_MINUTE = 30


def measure(minutes: int) -> None:
    """Print seconds of processor time, megabytes before and at most, and megabytes of FLAC."""
    from bench.bench_bars import sheet

    from fillwright.arranging.assemble import complete
    from fillwright.arranging.model import Decided, Options
    from fillwright.arranging.story import story_of
    from fillwright.sound.audio import render_sound
    from fillwright.tune import find_gaps, read_bytes, unfold

    chorus = unfold(read_bytes(sheet(minutes * BARS_A_MINUTE // 2), "long.musicxml"),
                    tempo=Fraction(120))
    gaps = find_gaps(chorus)
    done = complete(story_of(chorus, gaps), {}, Decided({gap.number: None for gap in gaps}),
                    Options())
    before, start = _most_mb(), process_time()
    flac = render_sound(done, ("flac",))["arrangement.flac"]
    print(process_time() - start, before, _most_mb(), len(flac) / 1e6)


def _most_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> None:
    if len(sys.argv) > 1:
        measure(int(sys.argv[1]))
        return
    print(f"{'minutes':>8} {'seconds':>8} {'a minute':>9} {'MB before':>10} {'MB at most':>11} "
          f"{'MB of FLAC':>11}")
    for minutes in MINUTES:
        text = subprocess.run([sys.executable, "-m", "bench.bench_sound", str(minutes)],
                              check=True, capture_output=True, text=True,
                              cwd=Path(__file__).parent.parent).stdout
        seconds, before, most, flac = (float(word) for word in text.split())
        print(f"{minutes:8} {seconds:8.1f} {seconds / minutes:9.2f} {before:10.0f} {most:11.0f} "
              f"{flac:11.1f}")


if __name__ == "__main__":
    main()
