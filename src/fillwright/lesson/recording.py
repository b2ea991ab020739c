"""What a student hears: a performance as a small recording, the hands apart.

An MP3 with the left hand on the left channel and the right hand on the right one, so that a
player can silence one; every browser decodes it. The program's own piano plays.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fillwright.sound.level import Level, peaks_of
from fillwright.sound.model import Performance
from fillwright.sound.synth import FRAMES_A_SEC, played_pieces

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Recording", "recorded"]

_SLOWER = 2
"""The recording has half the frames of the program's own: up to 12 kHz, where a piano ends."""
RATE = FRAMES_A_SEC // _SLOWER
_TAPS, _PASSED = 48, 0.46
"""Of the filter for that: taps to each side, share of the band that passes."""
_COMPRESSION = 0.6
"""Of libsndfile, 0 for the best sound, 1 for the smallest file."""


@dataclass(frozen=True, slots=True)
class Recording:
    """`frames` of sound at `rate` a second; the file may have more at its edges."""

    mp3: bytes
    frames: int
    rate: int = RATE


def recorded(performance: Performance) -> Recording:
    """The same performance gives the same bytes. Raises InputError where there is no piano."""
    import numpy as np
    import soundfile  # type: ignore[import-untyped]

    hands = [_hand(performance, hand) for hand in ("left", "right")]
    frames = min(len(hand) for hand in hands)
    both = np.stack([hand[:frames] for hand in hands], axis=1)
    exact = (both / 32768.0).astype(np.float32)
    level = Level(peaks_of(both), frames)
    level.hear(exact.copy(), 0)
    end = level.end(exact.copy(), 0) or frames
    sound = _halved(level.levelled(exact, 0, end))
    buffer = io.BytesIO()
    soundfile.write(buffer, sound, RATE, format="MP3", subtype="MPEG_LAYER_III",
                    compression_level=_COMPRESSION, bitrate_mode="VARIABLE")
    return Recording(buffer.getvalue(), len(sound))


def _hand(performance: Performance, hand: str) -> NDArray[np.int16]:
    """One hand alone, as long as both together, on one channel."""
    import numpy as np

    notes = tuple(note for note in performance.notes if note.hand == hand)
    alone = replace(performance, notes=notes,
                    length_sec=max(performance.length_sec, performance.sounding_end_sec))
    sound = np.concatenate(list(played_pieces(alone, None)))
    mono: NDArray[np.int16] = sound.astype(np.int32).mean(axis=1).round().astype(np.int16)
    return mono


def _halved(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    """Every second frame, with what lies too high for that taken out: a sinc of half the band,
    under a Blackman window."""
    import numpy as np

    places = np.arange(-_TAPS, _TAPS + 1)
    filtering = np.sinc(_PASSED * places) * np.blackman(len(places))
    filtering = (filtering / filtering.sum()).astype(np.float32)
    slower = np.stack([np.convolve(sound[:, hand], filtering, "same")[::_SLOWER]
                       for hand in range(sound.shape[1])], axis=1)
    found: NDArray[np.float32] = np.clip(slower, -1.0, 1.0).astype(np.float32)
    return found
