"""Loudness and true peak against known answers and a general library."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from fillwright.sound import Loudness, loudness_lufs

RATE = 48_000


def sine(hertz: float, level_db: float, seconds: float, phase: float = 0.0
         ) -> NDArray[np.float32]:
    wave = 10 ** (level_db / 20) * np.sin(
        2 * np.pi * hertz * np.arange(int(seconds * RATE)) / RATE + phase)
    return np.stack([wave, wave], axis=1).astype(np.float32)


def test_a_full_sine_of_997_hertz_in_one_channel() -> None:
    """ITU-R BS.1770: it indicates -3.01 LKFS."""
    samples = sine(997, 0, 5)
    samples[:, 1] = 0
    assert loudness_lufs(samples) == pytest.approx(-3.01, abs=0.02)
    assert loudness_lufs(sine(997, -23, 5)) == pytest.approx(-23.0, abs=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_as_a_general_library_measures_it(seed: int) -> None:
    """pyloudnorm, on noise that swells, falls silent and comes back softer."""
    import pyloudnorm  # type: ignore[import-untyped]  # SciPy with it: a second and more

    random = np.random.default_rng(seed)
    shape = np.interp(np.arange(20 * RATE) / RATE, [0, 4, 7, 7.1, 12, 12.1, 20],
                      [.01, .4, .2, 0, 0, .02, .1])
    samples = (random.standard_normal((len(shape), 2)) * shape[:, None] / 3).astype(np.float32)
    samples[:, 1] *= 0.5
    wanted = pyloudnorm.Meter(RATE).integrated_loudness(samples)
    assert loudness_lufs(samples) == pytest.approx(wanted, abs=0.1)
    heard = Loudness()
    for start in range(0, len(samples), RATE):      # in pieces it is the same
        heard.hear(samples[start:start + RATE])
    assert heard.lufs == pytest.approx(loudness_lufs(samples), abs=0.001)


def test_silence_and_a_moment_have_no_loudness() -> None:
    assert loudness_lufs(np.zeros((RATE, 2), np.float32)) == -np.inf
    assert loudness_lufs(sine(997, 0, 0.3)) == -np.inf


def test_the_peak_between_the_samples() -> None:
    """A quarter of the sampling rate, begun at 45 degrees: every sample is 3.01 dB below the
    wave's peak (BS.1770, annex 2, has this as its example)."""
    samples = sine(12_000, -6, 1, np.pi / 4)
    fade = np.minimum(1, np.arange(len(samples)) / 4800)[:, None] * np.minimum(
        1, np.arange(len(samples))[::-1] / 4800)[:, None]
    heard = Loudness()
    heard.hear((samples * fade).astype(np.float32))
    assert 20 * np.log10(np.abs(samples * fade).max()) == pytest.approx(-9.01, abs=0.02)
    assert 20 * np.log10(heard.true_peak) == pytest.approx(-6, abs=0.15)
