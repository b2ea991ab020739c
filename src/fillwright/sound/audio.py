"""A performance as audio: MIDI through a SoundFont, at a proper level, as FLAC.

The piano is the General MIDI SoundFont that comes with the `pretty_midi` package, or any
.sf2 file the user names. The package is only located, never imported.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from fillwright.arranging.model import Arrangement
from fillwright.errors import InputError
from fillwright.sound.midi import to_midi, to_render_midi
from fillwright.sound.model import Performance
from fillwright.sound.perform import perform

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["PEAK_DBFS", "render_sound", "to_flac"]

PEAK_DBFS = -3.0
TAIL_SEC = 2.5          # time for the last chord to die away after the keys are up
FADE_SEC = 0.05
SILENCE_DBFS = -80.0    # what is quieter at the end is cut off

# Sampled pianos of this size lose some 30 dB in a second where a real one loses ten (measured
# on the bundled one, B4 to G5), so that held notes vanish. What is soft is lifted a little:
# by a third of its distance from full scale, no more than LIFT_DB, and silence not at all.
LIFT_SHARE = 1 / 3
LIFT_DB = 9.0
LIFT_FADES_DBFS = (-75.0, -60.0)    # full lift above the second, none below the first
LIFT_BLOCK_SEC = 0.005
LIFT_RELEASE_DB_PER_SEC = 60.0      # how fast the lift may grow again after something loud

PIECE_FRAMES = 1 << 18
"""Frames that are worked on at a time, about six seconds."""


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
            click: bool = False) -> bytes:
    """Stereo FLAC, peak at `PEAK_DBFS`, with a tail. Deterministic.

    Raises InputError for a SoundFont that cannot be used.
    """
    import soundfile  # type: ignore[import-untyped]

    samples, rate = _rendered(performance, soundfont, click)
    buffer = io.BytesIO()
    soundfile.write(buffer, _levelled(samples, rate), rate, format="FLAC", subtype="PCM_16")
    return buffer.getvalue()


def _rendered(performance: Performance, soundfont: Path | None,
              click: bool) -> tuple[NDArray[np.float32], int]:
    import midirenderer
    import soundfile

    midi = to_render_midi(performance, click, TAIL_SEC)
    path = soundfont or _bundled_soundfont()
    try:
        wave = midirenderer.render_wave_from(_font_bytes(path), midi)
    except OSError as error:
        raise InputError(f"the SoundFont cannot be read: {error.strerror}", path.name) from None
    except (ValueError, RuntimeError) as error:
        raise InputError(f"not a usable SoundFont (.sf2): {error}", path.name) from None
    samples, rate = soundfile.read(io.BytesIO(wave), dtype="float32", always_2d=True)
    return samples, int(rate)


@lru_cache(maxsize=2)
def _font_bytes(path: Path) -> bytes:
    return path.read_bytes()


def _bundled_soundfont() -> Path:
    spec = find_spec("pretty_midi")
    if spec is None or spec.origin is None:
        raise InputError("the package pretty_midi, which brings the piano, is not installed")
    fonts = sorted(Path(spec.origin).parent.glob("*.sf2"))
    if not fonts:
        raise InputError("no SoundFont comes with the installed pretty_midi; name one")
    return fonts[0]


def _levelled(samples: NDArray[np.float32], rate: int) -> NDArray[np.float32]:
    """Scaled to the peak aimed at; the silent end cut off and the last moment faded.

    The samples are worked on in place and piece by piece: ten minutes of them are 200 MB, and
    each whole copy as much again.
    """
    import numpy as np

    peak = _peak(samples)
    if peak == 0.0:
        return samples
    samples /= peak
    _lift(samples, rate)
    samples *= 10 ** (PEAK_DBFS / 20) / _peak(samples)
    fade = int(FADE_SEC * rate)
    scaled = samples[:min(len(samples), _last_loud(samples) + 1 + fade)]
    fade = min(fade, len(scaled))
    scaled[len(scaled) - fade:] *= np.linspace(1.0, 0.0, fade, dtype=np.float32)[:, None]
    return scaled


def _pieces(samples: NDArray[np.float32], frames: int = PIECE_FRAMES) -> Iterator[slice]:
    return (slice(start, min(start + frames, len(samples)))
            for start in range(0, len(samples), frames))


def _peak(samples: NDArray[np.float32]) -> float:
    import numpy as np

    return max((float(np.abs(samples[piece]).max(initial=0.0)) for piece in _pieces(samples)),
               default=0.0)


def _last_loud(samples: NDArray[np.float32]) -> int:
    """The last frame that is not silence."""
    import numpy as np

    for piece in reversed(list(_pieces(samples))):
        loud = np.flatnonzero(np.abs(samples[piece]).max(axis=1) > 10 ** (SILENCE_DBFS / 20))
        if len(loud):
            return int(piece.start) + int(loud[-1])
    return 0


def _lift(samples: NDArray[np.float32], rate: int) -> None:
    """Soft passages and dying notes raised, in place; full scale stays full scale."""
    import numpy as np

    block = int(LIFT_BLOCK_SEC * rate)
    count = -(-len(samples) // block)
    peaks = np.zeros(count)
    for piece in _pieces(samples, PIECE_FRAMES // block * block):
        loud = np.abs(samples[piece]).max(axis=1)
        loud = np.pad(loud, (0, -len(loud) % block)).reshape(-1, block).max(axis=1)
        first = piece.start // block
        peaks[first:first + len(loud)] = loud
    level_db = 20 * np.log10(np.maximum(peaks, 1e-6))
    low, high = LIFT_FADES_DBFS
    wanted = np.minimum(-level_db * LIFT_SHARE, LIFT_DB) * np.clip(
        (level_db - low) / (high - low), 0.0, 1.0)
    # A block takes the least of its own lift and its neighbours', so that attacks pass as
    # they are; after one, the lift grows at a limited pace.
    edged = np.pad(wanted, 1, mode="edge")
    wanted = np.minimum(np.minimum(edged[:-2], edged[1:-1]), edged[2:])
    slope = LIFT_RELEASE_DB_PER_SEC * LIFT_BLOCK_SEC * np.arange(count)
    gain_db = np.minimum.accumulate(wanted - slope) + slope
    places, factors = (np.arange(count) + 0.5) * block, 10 ** (gain_db / 20)
    for piece in _pieces(samples):
        gain = np.interp(np.arange(piece.start, piece.stop), places, factors)
        samples[piece] *= gain.astype(np.float32)[:, None]
