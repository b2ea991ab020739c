"""How loud a recording sounds and how far its wave reaches, by ITU-R BS.1770.

Loudness is integrated over the whole with both gates; the true peak is that of the wave between
the samples, found by interpolation to four times their number. Both take the pieces of a
recording one after the other, at 48,000 frames a second.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from fillwright.sound.synth import FRAMES_A_SEC

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Loudness", "loudness_lufs"]

# The two filters in a row that weigh frequencies as a head and an ear do (BS.1770-5, annex 1,
# tables 1 and 2, for 48 kHz): numerator, denominator.
_SHELF = ((1.53512485958697, -2.69169618940638, 1.19839281085285),
          (1.0, -1.69065929318241, 0.73248077421585))
_HIGH_PASS = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))
_RINGS_FRAMES = 8192        # for so long the filters are heard after a sound, at most
_HOP_FRAMES = FRAMES_A_SEC // 10
_HOPS_A_BLOCK = 4           # blocks of .4 s overlap by three quarters
_OFFSET_DB = -0.691
_ABSOLUTE_GATE_LUFS, _RELATIVE_GATE_DB = -70.0, -10.0

_TIMES = 4
_TAPS = 24                  # of each of the interpolating filters


class Loudness:
    """Pieces of one recording, heard in order: floats, frames by channels, 1.0 at full scale.
    All but the last are whole tenths of a second."""

    def __init__(self) -> None:
        self._before: NDArray[np.float32] | None = None
        self._hops: list[NDArray[np.float64]] = []
        self._peak = 0.0

    def hear(self, samples: NDArray[np.float32]) -> None:
        import numpy as np

        if self._before is None:
            self._before = np.zeros((_RINGS_FRAMES, samples.shape[1]), np.float32)
        known = len(self._before)
        whole = np.concatenate([self._before, samples])
        weighed = _weighed(whole)[known:]
        count = len(weighed) // _HOP_FRAMES
        power = (weighed[:count * _HOP_FRAMES] ** 2).sum(axis=1)
        self._hops.append(power.reshape(count, _HOP_FRAMES).mean(axis=1))
        self._peak = max(self._peak, _true_peak(whole[known - 2 * _TAPS:]))
        self._before = whole[-_RINGS_FRAMES:]

    @property
    def lufs(self) -> float:
        """Integrated loudness; minus infinity for silence and for less than .4 s."""
        import numpy as np

        hops = np.concatenate(self._hops) if self._hops else np.zeros(0)
        if len(hops) < _HOPS_A_BLOCK:
            return -np.inf
        blocks = np.convolve(hops, np.full(_HOPS_A_BLOCK, 1 / _HOPS_A_BLOCK), "valid")
        loud = blocks[_lufs(blocks) > _ABSOLUTE_GATE_LUFS]
        if not len(loud):
            return -np.inf
        gate = float(_lufs(loud.mean())) + _RELATIVE_GATE_DB
        return float(_lufs(loud[_lufs(loud) > gate].mean()))

    @property
    def true_peak(self) -> float:
        """1.0 at full scale."""
        return self._peak


def loudness_lufs(samples: NDArray[np.float32]) -> float:
    """Integrated loudness of a whole recording, frames by channels."""
    heard = Loudness()
    heard.hear(samples)
    return heard.lufs


def _lufs(power: NDArray[np.float64] | float) -> NDArray[np.float64]:
    import numpy as np

    found: NDArray[np.float64] = _OFFSET_DB + 10 * np.log10(np.maximum(power, 1e-20))
    return found


def _weighed(samples: NDArray[np.float32]) -> NDArray[np.float64]:
    """Through both filters, by their frequency response; room for their ringing is added, so
    that the end does not come round to the beginning."""
    import numpy as np

    size = 1 << (len(samples) + _RINGS_FRAMES - 1).bit_length()
    spectrum = np.fft.rfft(samples, size, axis=0) * _response(size)[:, None]
    found: NDArray[np.float64] = np.fft.irfft(spectrum, size, axis=0)[:len(samples)]
    return found


@lru_cache(maxsize=4)
def _response(size: int) -> NDArray[np.complex128]:
    import numpy as np

    turn = np.exp(-2j * np.pi * np.arange(size // 2 + 1) / size)
    found = np.ones(len(turn), np.complex128)
    for above, below in (_SHELF, _HIGH_PASS):
        found *= (above[0] + above[1] * turn + above[2] * turn ** 2) / (
            below[0] + below[1] * turn + below[2] * turn ** 2)
    return found


def _true_peak(samples: NDArray[np.float32]) -> float:
    import numpy as np

    highest = float(np.abs(samples).max(initial=0.0))
    if len(samples) < _TAPS:
        return highest
    for channel in samples.T:
        for taps in _interpolators():
            highest = max(highest, float(np.abs(np.convolve(channel, taps, "valid")).max()))
    return highest


@lru_cache(maxsize=1)
def _interpolators() -> tuple[NDArray[np.float32], ...]:
    """Windowed sinc filters for the places a quarter, a half and three quarters between."""
    import numpy as np

    found = []
    for part in range(1, _TIMES):
        places = np.arange(_TAPS) - (_TAPS / 2 - 1) - part / _TIMES
        taps = np.sinc(places) * np.kaiser(2 * _TAPS * _TIMES + 1, 6.0)[
            np.round((places / _TAPS + 0.5) * 2 * _TAPS * _TIMES).astype(int)]
        found.append((taps / taps.sum()).astype(np.float32))
    return tuple(found)
