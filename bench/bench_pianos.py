"""SoundFonts beside the one that comes along: size, and what is heard of them.

    python -m bench.bench_pianos [SOUNDFONT ...]

Of each: megabytes; how fast a held note dies away (decibels a second, C3 and B4; a grand loses
about ten); what a harder touch changes, in decibels; how uneven neighbouring keys are (the spread
of the steps of their levels, in decibels); how many onsets of a chorus an onset detector hears
within 50 ms, and how far off in the median.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from tests.sound.played_scores import whole_chorus
from tests.sound.test_audio import _found_onsets

from fillwright import Performance, perform
from fillwright.sound.model import PlayedNote
from fillwright.sound.synth import FRAMES_A_SEC, bundled_soundfont, played_pieces

C3, B4 = 48, 71
SOFT, USUAL, HARD = 40, 70, 100


def heard(notes: list[PlayedNote], piano: Path) -> NDArray[np.float64]:
    """One channel, 1.0 at full scale."""
    length = max(note.onset_sec + note.duration_sec for note in notes)
    whole = Performance("", tuple(notes), (), (), (), 60.0, length)
    samples: NDArray[np.float64] = np.concatenate(list(played_pieces(whole, piano))).mean(axis=1)
    return samples / 32768


def key(midi: int, velocity: int, piano: Path, length_sec: float = 3.0) -> NDArray[np.float64]:
    return heard([PlayedNote(0.0, length_sec, midi, velocity, "right", 0)], piano)


def level_db(samples: NDArray[np.float64], start_sec: float, end_sec: float) -> float:
    part = samples[int(start_sec * FRAMES_A_SEC):int(end_sec * FRAMES_A_SEC)]
    return float(10 * np.log10(np.mean(part ** 2) + 1e-12))


def onsets(piano: Path) -> tuple[int, int, float]:
    """Strokes at different times, how many are found, how far off in the median (seconds)."""
    performance = perform(whole_chorus(120))
    samples = np.concatenate(list(played_pieces(performance, piano))).astype(np.float32) / 32768
    found = _found_onsets(samples / np.abs(samples).max(), FRAMES_A_SEC)
    struck = sorted({note.onset_sec for note in performance.notes})
    apart = [np.abs(found - place).min() for place in struck]
    near = [distance for distance in apart if distance < 0.05]
    return len(struck), len(near), float(np.median(near))


def main() -> None:
    print(f"{'SoundFont':24} {'MB':>6} {'C3 dB/s':>8} {'B4 dB/s':>8} {'touch dB':>9} "
          f"{'uneven dB':>10} {'onsets':>8} {'off ms':>7}")
    for piano in (bundled_soundfont(), *map(Path, sys.argv[1:])):
        low, high = (key(midi, USUAL, piano) for midi in (C3, B4))
        dies = [(level_db(one, 0.1, 0.3) - level_db(one, 2.1, 2.3)) / 2 for one in (low, high)]
        soft, hard = (key(B4, velocity, piano) for velocity in (SOFT, HARD))
        levels = [level_db(key(midi, USUAL, piano, 0.4), 0, 0.4) for midi in range(55, 80)]
        strokes, near, off = onsets(piano)
        print(f"{piano.name:24} {piano.stat().st_size / 1e6:6.1f} {dies[0]:8.1f} {dies[1]:8.1f} "
              f"{level_db(hard, 0, 0.5) - level_db(soft, 0, 0.5):9.1f} "
              f"{np.std(np.diff(levels)):10.2f} "
              f"{near:4}/{strokes:<3} {1000 * off:7.1f}", flush=True)


if __name__ == "__main__":
    main()
