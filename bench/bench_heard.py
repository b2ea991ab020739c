"""What is measured in recordings: level, peak, seam, onsets, swing, swells, the tune above what
sounds with it.

The first bars of the demo tunes, and of sheets as arguments, at one level after the other.

    python -m bench.bench_heard [SHEET ...]

Of each: loudness by ITU-R BS.1770 (pyloudnorm) and the peak between the samples (scipy's
resampling to four times the frames); the largest step from sample to sample where the end is
put before the beginning; how many strokes an onset detector hears within 50 ms, and how far off
in the median; by how many decibels the tune is above what is struck with it, in the median and
how often by 3 or more; the ratio of long to short of the right hand's eighths, in the median of so
many pairs, heard in a recording of that hand alone; by how many decibels the tune grows (or falls)
over each hairpin between two levels, against a recording of the same keys all struck alike.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from tests.sound.test_audio import _found_onsets

from fillwright import Arrangement, Options, Performance, arrange, perform, read_tune
from fillwright.arranging.dynamics import Hairpin, plan_dynamics
from fillwright.demo import DEMO_TUNES, demo_path
from fillwright.sound import one_hand, to_flac
from fillwright.sound.synth import FRAMES_A_SEC, played_pieces

LEVELS = ("beginner", "intermediate", "advanced")
BARS = 12
BELOW_HEARING = 10
"""In decibels of a 16-bit step: nothing is struck there."""
HEARD_SEC = 0.05
STEADY_VELOCITY = 64


def melody_above(arrangement: Arrangement, performance: Performance) -> list[float]:
    """Decibels between the tune and the rest, where both are struck."""
    roles = [note.role for note in arrangement.notes]
    parts = [_played(replace(performance, pedals=(), notes=tuple(
        n for n in performance.notes if (roles[n.index] == "melody") == wanted)))
        for wanted in (True, False)]
    apart = []
    for onset in sorted({n.onset_sec for n in performance.notes if roles[n.index] == "melody"}):
        levels = [_level_db(part, onset, onset + 0.2) for part in parts]
        if levels[1] > BELOW_HEARING:
            apart.append(levels[0] - levels[1])
    return apart


def swung_pairs(arrangement: Arrangement, performance: Performance) -> list[float]:
    """Long to short of two eighths of the right hand on a beat that go on to the next one."""
    alone = one_hand(performance, "right")
    found = _found_onsets(*_recorded(alone))
    seconds: dict[Fraction, float] = {}
    for n in alone.notes:
        place = arrangement.notes[n.index].onset_quarter
        seconds[place] = max(seconds.get(place, 0.0), n.onset_sec)
    ratios = []
    for place in sorted(seconds):
        bar = arrangement.chorus.bar_at(place)
        three = [place, place + Fraction(1, 2), place + 1]
        if (bar.end_quarter - place) % 1 or bar.meter.beat_quarter.denominator > 1 or any(
                one not in seconds for one in three) or any(
                place < one < three[2] and one != three[1] for one in seconds):
            continue
        heard = [float(found[np.abs(found - seconds[one]).argmin()]) for one in three]
        if all(abs(one - seconds[at]) < HEARD_SEC for one, at in zip(heard, three, strict=True)):
            long, short = (b - a for a, b in pairwise(heard))
            ratios.append(long / short)
    return ratios


def grown(arrangement: Arrangement) -> list[tuple[Hairpin, float]]:
    """By how many decibels the tune in the two beats after each hairpin is above the two before
    it, less what it would be with all keys struck alike."""
    found = []
    roles = [note.role for note in arrangement.notes]
    length = 2 * arrangement.chorus.meter.beat_quarter
    sides = float(length) * arrangement.chorus.seconds_per_quarter
    for pin in plan_dynamics(arrangement).hairpins:
        levels = []
        for start in (pin.onset_quarter - length, pin.end_quarter):
            part = perform(arrangement, start, min(start + length,
                                                   arrangement.chorus.length_quarter))
            tune = replace(part, pedals=(), notes=tuple(
                n for n in part.notes if roles[n.index] == "melody"))
            steady = replace(tune, notes=tuple(replace(n, velocity=STEADY_VELOCITY)
                                               for n in tune.notes))
            levels += [_level_db(_played(one), 0.0, sides) for one in (tune, steady)
                       if tune.notes]
        if len(levels) == 4:
            found.append((pin, levels[2] - levels[3] - levels[0] + levels[1]))
    return found


def _played(performance: Performance) -> NDArray[np.float32]:
    """Before it is levelled."""
    return np.concatenate([*played_pieces(performance, None)]).astype(np.float32)


def _recorded(performance: Performance) -> tuple[NDArray[np.float32], int]:
    import soundfile  # type: ignore[import-untyped]

    samples, rate = soundfile.read(io.BytesIO(to_flac(performance)), dtype="float32",
                                   always_2d=True)
    return samples, rate


def _level_db(samples: NDArray[np.float32], start_sec: float, end_sec: float) -> float:
    part = samples[int(start_sec * FRAMES_A_SEC):int(end_sec * FRAMES_A_SEC)]
    return float(10 * np.log10(np.mean(part ** 2) + 1e-12))


def measured(done: Arrangement) -> str:
    """A row of all of it."""
    import pyloudnorm  # type: ignore[import-untyped]
    from scipy.signal import resample_poly

    bars = done.chorus.bars
    performance = perform(done, Fraction(0), bars[min(BARS, len(bars)) - 1].end_quarter)
    samples, rate = _recorded(performance)
    peak = 20 * np.log10(np.abs(resample_poly(samples, 4, 1, axis=0)).max())
    seam = np.abs(np.diff(np.concatenate([samples[-rate // 100:], samples[:8]]), axis=0)).max()
    found = _found_onsets(samples, rate)
    struck = sorted({note.onset_sec for note in performance.notes})
    near = [d for d in (np.abs(found - place).min() for place in struck) if d < HEARD_SEC]
    apart = melody_above(done, performance)
    swing = swung_pairs(done, performance)
    loudness = pyloudnorm.Meter(rate).integrated_loudness(samples)
    return (f"{float(done.chorus.tempo_bpm):4.0f} {loudness:6.1f} {peak:6.1f} {seam:8.5f} "
            f"{len(near):4}/{len(struck):<4} {1000 * np.median(near):7.1f} "
            f"{_median(apart):>8} {np.mean([one >= 3 for one in apart]):6.0%} "
            f"{_median(swing):>7} of {len(swing):<3} "
            + " ".join(f"{'<' if pin.last > pin.first else '>'}{gain:+.1f}"
                       for pin, gain in grown(done)))


def _median(values: Sequence[float]) -> str:
    return f"{np.median(values):.2f}" if values else "-"


def main() -> None:
    wanted = [(demo_path(name), LEVELS[place % 3]) for place, name in enumerate(DEMO_TUNES)]
    wanted += [(Path(name), LEVELS[place % 3]) for place, name in enumerate(sys.argv[1:])]
    print(f"{'tune':16} {'level':13} {'bpm':>4} {'LUFS':>6} {'dBTP':>6} {'seam':>8} {'onsets':>9} "
          f"{'off ms':>7} {'tune dB':>8} {'3 dB':>6} {'swing':>14} hairpins dB")
    for path, level in wanted:
        print(f"{path.stem:16} {level:13} "
              f"{measured(arrange(read_tune(path), Options(level=level)))}", flush=True)


if __name__ == "__main__":
    main()
