"""What is measured in recordings: level, peak, seam, onsets, the tune above what sounds with it.

The first bars of the demo tunes, and of sheets as arguments, at one level after the other.

    python -m bench.bench_heard [SHEET ...]

Of each: loudness by ITU-R BS.1770 (pyloudnorm) and the peak between the samples (scipy's
resampling to four times the frames); the largest step from sample to sample where the end is
put before the beginning; how many strokes an onset detector hears within 50 ms, and how far off
in the median; by how many decibels the tune is above what is struck with it, in the median and
how often by 3 or more.
"""

from __future__ import annotations

import io
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
from tests.sound.test_audio import _found_onsets

from fillwright import Arrangement, Options, Performance, arrange, perform, read_tune
from fillwright.demo import DEMO_TUNES, demo_path
from fillwright.sound import to_flac
from fillwright.sound.synth import FRAMES_A_SEC, played_pieces

LEVELS = ("beginner", "intermediate", "advanced")
BARS = 12
BELOW_HEARING = 10
"""In decibels of a 16-bit step: nothing is struck there."""


def melody_above(arrangement: Arrangement, performance: Performance) -> list[float]:
    """Decibels between the tune and the rest, where both are struck."""
    roles = [note.role for note in arrangement.notes]
    parts = []
    for wanted in (True, False):
        kept = replace(performance, pedals=(), notes=tuple(
            n for n in performance.notes if (roles[n.index] == "melody") == wanted))
        parts.append(np.concatenate(list(played_pieces(kept, None))).astype(np.float32))
    apart = []
    for onset in sorted({n.onset_sec for n in performance.notes if roles[n.index] == "melody"}):
        start = int(onset * FRAMES_A_SEC)
        levels = [10 * np.log10(np.mean(part[start:start + FRAMES_A_SEC // 5] ** 2) + 1e-12)
                  for part in parts]
        if levels[1] > BELOW_HEARING:
            apart.append(float(levels[0] - levels[1]))
    return apart


def main() -> None:
    import pyloudnorm  # type: ignore[import-untyped]
    import soundfile  # type: ignore[import-untyped]
    from scipy.signal import resample_poly

    wanted = [(demo_path(name), LEVELS[place % 3]) for place, name in enumerate(DEMO_TUNES)]
    wanted += [(Path(name), LEVELS[place % 3]) for place, name in enumerate(sys.argv[1:])]
    print(f"{'tune':16} {'level':13} {'LUFS':>6} {'dBTP':>6} {'seam':>8} {'onsets':>9} "
          f"{'off ms':>7} {'tune dB':>8} {'3 dB':>6}")
    for path, level in wanted:
        done = arrange(read_tune(path), Options(level=level))
        bars = done.chorus.bars
        performance = perform(done, Fraction(0), bars[min(BARS, len(bars)) - 1].end_quarter)
        samples, rate = soundfile.read(io.BytesIO(to_flac(performance)), dtype="float32",
                                       always_2d=True)
        peak = 20 * np.log10(np.abs(resample_poly(samples, 4, 1, axis=0)).max())
        seam = np.abs(np.diff(np.concatenate([samples[-rate // 100:], samples[:8]]), axis=0)).max()
        found = _found_onsets(samples, rate)
        struck = sorted({note.onset_sec for note in performance.notes})
        near = [d for d in (np.abs(found - place).min() for place in struck) if d < 0.05]
        apart = melody_above(done, performance)
        loudness = pyloudnorm.Meter(rate).integrated_loudness(samples)
        print(f"{path.stem:16} {level:13} {loudness:6.1f} {peak:6.1f} {seam:8.5f} "
              f"{len(near):4}/{len(struck):<4} "
              f"{1000 * np.median(near):7.1f} {np.median(apart):8.1f} "
              f"{np.mean([one >= 3 for one in apart]):6.0%}", flush=True)


if __name__ == "__main__":
    main()
