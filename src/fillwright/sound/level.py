"""How loud a recording is: as loud as others of its kind, what is soft lifted a little, the
silent end cut off.

A recording comes in pieces, several times over: first the peaks of its moments, from which the
lift follows (`Level`); then each piece is heard as it will be lifted, for its loudness and its
true peak; then from the end, for the last sound; then each is given out. No pass keeps a piece.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from fillwright.sound.loudness import Loudness
from fillwright.sound.synth import FRAMES_A_SEC

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["LOUDNESS_LUFS", "MOMENT_FRAMES", "TRUE_PEAK_DBTP", "Level", "lift_db", "peaks_of"]

# What streamed music is asked to have (AES TD1008, from memory): -16 LUFS, at most -1 dBTP. A
# little is left for what a lossy encoder adds to a peak.
LOUDNESS_LUFS = -16.0
TRUE_PEAK_DBTP = -1.3
FADE_SEC = 0.05
SILENCE_DBFS = -80.0    # what is quieter at the end is cut off

# Sampled pianos of this size lose some 30 dB in a second where a real one loses ten (measured
# on the bundled one, B4 to G5), so that held notes vanish. What is soft is lifted a little:
# by a third of its distance from full scale, no more than LIFT_DB, and silence not at all.
LIFT_SHARE = 1 / 3
LIFT_DB = 9.0
LIFT_FADES_DBFS = (-75.0, -60.0)    # full lift above the second, none below the first
MOMENT_SEC = 0.005
LIFT_RELEASE_DB_PER_SEC = 60.0      # how fast the lift may grow again after something loud

MOMENT_FRAMES = int(MOMENT_SEC * FRAMES_A_SEC)
FADE_FRAMES = int(FADE_SEC * FRAMES_A_SEC)


def peaks_of(samples: NDArray[np.int16]) -> NDArray[np.float64]:
    """The peak of each moment, 1.0 at full scale. Samples are frames by channels."""
    import numpy as np

    loud = np.abs(samples.astype(np.int32)).max(axis=1)
    moments = np.pad(loud, (0, -len(loud) % MOMENT_FRAMES)).reshape(-1, MOMENT_FRAMES)
    found: NDArray[np.float64] = moments.max(axis=1) / 32768.0
    return found


def lift_db(peaks: NDArray[np.float64]) -> NDArray[np.float64]:
    """By how much each moment of a recording with a peak at 1.0 is raised, from the moments'
    peaks; full scale stays full scale."""
    import numpy as np

    level_db = 20 * np.log10(np.maximum(peaks, 1e-6))
    low, high = LIFT_FADES_DBFS
    wanted = np.minimum(-level_db * LIFT_SHARE, LIFT_DB) * np.clip(
        (level_db - low) / (high - low), 0.0, 1.0)
    # A moment takes the least of its own lift and its neighbours', so that attacks pass as
    # they are; after one, the lift grows at a limited pace.
    edged = np.pad(wanted, 1, mode="edge")
    wanted = np.minimum(np.minimum(edged[:-2], edged[1:-1]), edged[2:])
    slope = LIFT_RELEASE_DB_PER_SEC * MOMENT_SEC * np.arange(len(wanted))
    lifted: NDArray[np.float64] = np.minimum.accumulate(wanted - slope) + slope
    return lifted


class Level:
    """What is done to the pieces of a recording. They are floats, 1.0 at full scale, and are
    changed in place; `start` is the place of a piece's first frame in the recording."""

    def __init__(self, peaks: NDArray[np.float64], frames: int) -> None:
        """peaks, frames   of the whole recording"""
        import numpy as np

        self.frames = frames
        self.peak = float(peaks.max(initial=0.0))
        self._places = (np.arange(len(peaks)) + 0.5) * MOMENT_FRAMES
        self._factors = 10 ** (lift_db(peaks / (self.peak or 1.0)) / 20)
        self._heard = Loudness()

    def _lifted(self, samples: NDArray[np.float32], start: int) -> NDArray[np.float32]:
        import numpy as np

        if self.peak:
            samples /= self.peak
            gain = np.interp(np.arange(start, start + len(samples)), self._places, self._factors)
            samples *= gain.astype(np.float32)[:, None]
        return samples

    def _scaled(self, samples: NDArray[np.float32], start: int) -> NDArray[np.float32]:
        samples = self._lifted(samples, start)
        if self.peak:
            samples *= self._gain
        return samples

    @cached_property
    def _gain(self) -> float:
        """To the wanted loudness; what is too short to have one, or would reach too far, to the
        highest peak."""
        highest = 10 ** (TRUE_PEAK_DBTP / 20) / self._heard.true_peak
        return float(min(highest, 10 ** ((LOUDNESS_LUFS - self._heard.lufs) / 20)))

    def hear(self, samples: NDArray[np.float32], start: int) -> None:
        """The second pass: all pieces, in order."""
        self._heard.hear(self._lifted(samples, start))

    def end(self, samples: NDArray[np.float32], start: int) -> int:
        """The third pass, from the last piece back: the frame where the recording may end, a fade
        after what is heard last; 0 if that is not in this piece."""
        import numpy as np

        loud = np.flatnonzero(np.abs(self._scaled(samples, start)).max(axis=1)
                              > 10 ** (SILENCE_DBFS / 20))
        return min(self.frames, start + int(loud[-1]) + 1 + FADE_FRAMES) if len(loud) else 0

    def levelled(self, samples: NDArray[np.float32], start: int, end: int
                 ) -> NDArray[np.float32]:
        """The last pass: what is to be written of a recording that ends at `end`, faded."""
        import numpy as np

        scaled = self._scaled(samples, start)[:max(0, end - start)]
        fade = min(FADE_FRAMES, end)
        into = max(0, start - (end - fade))     # of the fade, before this piece
        faded = scaled[max(0, end - fade - start):]
        faded *= np.linspace(1.0, 0.0, fade, dtype=np.float32)[into:into + len(faded), None]
        return scaled
