"""How far a piano is from concert pitch, and the sound brought there.

An ear knows pianos at A4 = 440 Hz. A piano at home is often some ten or twenty cents flat, an old
one a quarter tone, where a key is as near to one name as to the other. So the tuning is measured
from the partials themselves, and the sound is brought to pitch by being played a little faster or
slower: seconds are counted back afterwards.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fillwright.errors import InputError
from fillwright.take.recording.model import Recording

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["prepared", "tuning_cents"]

_FRAME_SEC = 0.37       # 2.7 Hz a bin, a fifth of a semitone at 220 Hz before it is interpolated
_FRAMES = 240           # spread over the whole recording
_FROM_HZ, _TO_HZ = 130.0, 1000.0
"""Below, a bin is too wide; above, partials are mostly high ones, which a stiff string sharpens."""
_LOUD = 0.1             # of the loudest partial of its frame
_LEAST_SHARED = 0.25
"""How much the partials agree (0: not at all, 1: all the same); less, and nothing is said. Speech
and noise agree by less than .1, a piano by .5 or more (counted on the program's own sound)."""
_LEAST_CENTS = 4.0      # nothing is done for less: nobody hears it


def tuning_cents(samples: NDArray[np.float32], rate: int) -> float:
    """How far above concert pitch it sounds, -50 to 50; 0 where that cannot be said."""
    import numpy as np

    size = int(_FRAME_SEC * rate)
    if len(samples) < size:
        return 0.0
    window = np.hanning(size)
    low, high = int(_FROM_HZ * size / rate), int(_TO_HZ * size / rate)
    total = complex(0)
    weight = 0.0
    for start in np.unique(np.linspace(0, len(samples) - size, _FRAMES).astype(int)):
        spectrum = np.abs(np.fft.rfft(samples[start:start + size] * window))
        peaks = _peaks(spectrum, low, high)
        if not len(peaks):
            continue
        below, at, above = (np.log(spectrum[peaks + by] + 1e-12) for by in (-1, 0, 1))
        place = peaks + 0.5 * (below - above) / (below - 2 * at + above)
        semitones = 12 * np.log2(place * rate / size / 440)
        loud = spectrum[peaks]
        total += complex((loud * np.exp(2j * np.pi * semitones)).sum())
        weight += float(loud.sum())
    if not weight or abs(total) < _LEAST_SHARED * weight:
        return 0.0
    return float(np.angle(total) / (2 * np.pi) * 100)


def _peaks(spectrum: NDArray[np.float64], low: int, high: int) -> NDArray[np.intp]:
    import numpy as np

    inner = spectrum[low:high]
    if not len(inner) or not inner.max() > 0:
        return np.zeros(0, np.intp)
    top = ((inner > spectrum[low - 1:high - 1]) & (inner >= spectrum[low + 1:high + 1])
           & (inner > _LOUD * inner.max()))
    return np.flatnonzero(top) + low


def prepared(recording: Recording, rate: int) -> Recording:
    """The recording at concert pitch, with so many samples a second as an ear wants.

    Raises InputError where another number of samples is wanted and nothing is there to make them.
    """
    cents = tuning_cents(recording.samples, recording.rate)
    if abs(cents) < _LEAST_CENTS:
        cents = 0.0
    if recording.rate == rate and not cents:
        return recording
    try:
        import soxr
    except ImportError as error:
        raise InputError("bringing the sound to the pitch of the ear needs soxr, of the extra "
                         "fillwright[listen]", recording.name) from error
    samples = soxr.resample(recording.samples, recording.rate, rate * 2 ** (cents / 1200))
    return replace(recording, samples=samples, rate=rate, cents=cents)
