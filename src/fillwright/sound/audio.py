"""A performance as audio: MIDI through a SoundFont, at a proper level, as FLAC, MP3 or Opus.

The piano is the General MIDI SoundFont that comes with the `pretty_midi` package, or any
.sf2 file the user names. The package is only located, never imported. Everything is done in
pieces; what is kept of them is packed, so that a long chorus takes little more memory than its
file.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from fillwright.arranging.model import Arrangement
from fillwright.sound.level import Level, peaks_of
from fillwright.sound.midi import to_midi
from fillwright.sound.model import Performance
from fillwright.sound.ogg import numbered
from fillwright.sound.perform import perform
from fillwright.sound.synth import FRAMES_A_SEC, PIECE_SEC, played_pieces

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["one_hand", "render_sound", "to_flac", "to_mp3"]

_CODINGS: Mapping[str, tuple[str, str]] = MappingProxyType({
    "flac": ("FLAC", "PCM_16"), "mp3": ("MP3", "MPEG_LAYER_III"), "opus": ("OGG", "OPUS")})
"""Container and coding of a recording, by the end of its file's name."""
_SQUEEZED = {"opus": 0.85}
"""How hard it is pressed: Opus to some 90 kbit a second."""


def render_sound(arrangement: Arrangement, formats: Iterable[str] = ("mid", "flac"),
                 soundfont: Path | None = None, click: bool = False) -> dict[str, bytes]:
    """File names and contents: ``arrangement.mid`` and ``arrangement.flac`` as asked for; also
    ``arrangement.mp3``, ``arrangement.opus``, each hand alone (``left``, ``right``) and the beat
    alone (``clicks``).

    Other formats are left to others. Raises InputError for a SoundFont that cannot be used.
    """
    wanted = set(formats)
    files: dict[str, bytes] = {}
    if not wanted & {"mid", *_CODINGS, "left", "right", "clicks"}:
        return files
    performance = perform(arrangement)
    if "mid" in wanted:
        files["arrangement.mid"] = to_midi(performance, click)
    whole = [name for name in _CODINGS if name in wanted]
    if whole:
        made = _recorded(played_pieces(performance, soundfont, click), whole)
        files |= {f"arrangement.{name}": data for name, data in made.items()}
    for hand in ("left", "right"):
        if hand in wanted:
            files[f"arrangement-{hand}.flac"] = to_flac(
                one_hand(performance, hand), soundfont, click)
    if "clicks" in wanted:
        files["arrangement-clicks.flac"] = to_flac(
            replace(performance, notes=(), pedals=()), soundfont, click=True)
    return files


def one_hand(performance: Performance, hand: str) -> Performance:
    """What one hand plays, with the pedal as it is."""
    return replace(performance, notes=tuple(n for n in performance.notes if n.hand == hand))


def to_flac(performance: Performance, soundfont: Path | None = None,
            click: bool = False, piece_sec: int = PIECE_SEC) -> bytes:
    """Stereo FLAC at `level.LOUDNESS_LUFS`, with a tail. Deterministic.

    piece_sec   how much is worked on at a time

    Raises InputError for a SoundFont that cannot be used.
    """
    return _recorded(played_pieces(performance, soundfont, click, piece_sec), ["flac"])["flac"]


def to_mp3(performance: Performance, soundfont: Path | None = None, click: bool = False) -> bytes:
    """The same as MP3 of 128 to 160 kbit a second, about a megabyte a minute."""
    return _recorded(played_pieces(performance, soundfont, click), ["mp3"])["mp3"]


def _levelled(played: Iterable[NDArray[np.int16]]) -> Iterator[NDArray[np.float32]]:
    """The pieces of a recording as they are to be written."""
    import numpy as np

    kept: list[tuple[int, bytes]] = []
    peaks, frames = [], 0
    for piece in played:
        kept.append((frames, _packed(piece)))
        peaks.append(peaks_of(piece))
        frames += len(piece)
    level = Level(np.concatenate(peaks), frames)
    for start, packed in kept:
        level.hear(_unpacked(packed), start)
    ends = (level.end(_unpacked(packed), start) for start, packed in reversed(kept))
    end = next((end for end in ends if end), frames)
    for start, packed in kept:
        yield level.levelled(_unpacked(packed), start, end)


def _recorded(played: Iterable[NDArray[np.int16]], names: Sequence[str]) -> dict[str, bytes]:
    """One recording in several codings of `_CODINGS`: it is played and levelled once."""
    import soundfile  # type: ignore[import-untyped]

    buffers = {name: io.BytesIO() for name in names}
    with ExitStack() as stack:
        files = [stack.enter_context(soundfile.SoundFile(
            buffers[name], "w", FRAMES_A_SEC, 2, coding, format=container,
            compression_level=_SQUEEZED.get(name)))
            for name, (container, coding) in _CODINGS.items() if name in buffers]
        for piece in _levelled(played):
            # A lossy encoder takes no more than a second at once without harm.
            for start in range(0, len(piece), FRAMES_A_SEC):
                for file in files:
                    file.write(piece[start:start + FRAMES_A_SEC])
    made = {name: buffer.getvalue() for name, buffer in buffers.items()}
    return {name: numbered(data) if data.startswith(b"OggS") else data
            for name, data in made.items()}


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
