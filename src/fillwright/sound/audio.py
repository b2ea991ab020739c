"""A performance as audio: MIDI through a SoundFont, at a proper level, as FLAC.

The piano is the General MIDI SoundFont that comes with the `pretty_midi` package, or any
.sf2 file the user names. The package is only located, never imported. Everything is done in
pieces; what is kept of them is packed, so that a long chorus takes little more memory than its
file.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from fillwright.arranging.model import Arrangement
from fillwright.sound.level import Level, peaks_of
from fillwright.sound.midi import to_midi
from fillwright.sound.model import Performance
from fillwright.sound.perform import perform
from fillwright.sound.synth import FRAMES_A_SEC, PIECE_SEC, played_pieces

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["render_sound", "to_flac"]


def render_sound(arrangement: Arrangement, formats: Iterable[str] = ("mid", "flac"),
                 soundfont: Path | None = None, click: bool = False) -> dict[str, bytes]:
    """File names and contents: ``arrangement.mid`` and ``arrangement.flac`` as asked for.

    Other formats are left to others. Raises InputError for a SoundFont that cannot be used.
    """
    wanted = set(formats)
    files: dict[str, bytes] = {}
    if not wanted & {"mid", "flac"}:
        return files
    performance = perform(arrangement)
    if "mid" in wanted:
        files["arrangement.mid"] = to_midi(performance, click)
    if "flac" in wanted:
        files["arrangement.flac"] = to_flac(performance, soundfont, click)
    return files


def to_flac(performance: Performance, soundfont: Path | None = None,
            click: bool = False, piece_sec: int = PIECE_SEC) -> bytes:
    """Stereo FLAC, its peak at `level.PEAK_DBFS`, with a tail. Deterministic.

    piece_sec   how much is worked on at a time

    Raises InputError for a SoundFont that cannot be used.
    """
    import numpy as np
    import soundfile  # type: ignore[import-untyped]

    kept: list[tuple[int, bytes]] = []
    peaks, frames = [], 0
    for piece in played_pieces(performance, soundfont, click, piece_sec):
        kept.append((frames, _packed(piece)))
        peaks.append(peaks_of(piece))
        frames += len(piece)
    level = Level(np.concatenate(peaks), frames)
    for start, packed in kept:
        level.hear(_unpacked(packed), start)
    ends = (level.end(_unpacked(packed), start) for start, packed in reversed(kept))
    end = next((end for end in ends if end), frames)
    buffer = io.BytesIO()
    with soundfile.SoundFile(buffer, "w", FRAMES_A_SEC, 2, "PCM_16", format="FLAC") as file:
        for start, packed in kept:
            file.write(level.levelled(_unpacked(packed), start, end))
    return buffer.getvalue()


def _packed(samples: NDArray[np.int16]) -> bytes:
    """Without loss."""
    import soundfile

    buffer = io.BytesIO()
    soundfile.write(buffer, samples, FRAMES_A_SEC, format="FLAC", subtype="PCM_16")
    return buffer.getvalue()


def _unpacked(packed: bytes) -> NDArray[np.float32]:
    import soundfile

    samples: NDArray[np.float32] = soundfile.read(io.BytesIO(packed), dtype="float32",
                                                  always_2d=True)[0]
    return samples
