"""A performance through a SoundFont, a piece at a time, so that length costs no memory.

The synthesizer of the package `midirenderer` plays a MIDI file as a whole. For each piece it
is given a short one, which begins early enough that every key that may still be heard is struck
in it, and what comes before the piece is thrown away. Events lie in the middle between two of
the synthesizer's blocks, so that each falls into the same block however the pieces are cut.
"""

from __future__ import annotations

import io
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.util import find_spec
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwright.errors import InputError
from fillwright.sound.midi import played_events
from fillwright.sound.model import Performance

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["FRAMES_A_SEC", "PIECE_SEC", "bundled_soundfont", "played_pieces"]

FRAMES_A_SEC = 48_000
_FRAMES_A_BLOCK = 64
"""What the synthesizer works out at a time; events begin with a block."""
_BLOCKS_A_SEC = FRAMES_A_SEC // _FRAMES_A_BLOCK

PIECE_SEC = 20
TAIL_SEC = 2.5          # time for the last chord to die away after the keys are up
_RINGS_SEC = 4.0        # and for any other, and its reverberation, until nothing is left of it

_PEDAL = 64
_TICKS_A_BLOCK = 2


def played_pieces(performance: Performance, soundfont: Path | None, click: bool = False,
                  piece_sec: int = PIECE_SEC) -> Iterator[NDArray[np.int16]]:
    """Stereo samples, frames by 2, at `FRAMES_A_SEC`: one piece after the other, at least one.

    Raises InputError for a SoundFont that cannot be used.
    """
    timed, end_sec = played_events(performance, click)
    events = [_Event(ceil(sec * _BLOCKS_A_SEC), message) for sec, message in timed]
    end = ceil((end_sec + TAIL_SEC) * _BLOCKS_A_SEC)
    path = soundfont or bundled_soundfont()
    spans = _sounding(events, end)
    step = piece_sec * _BLOCKS_A_SEC
    for start in range(0, end, step):
        stop = min(start + step, end)
        first = _early_enough(spans, start)
        midi = _midi(events, first, stop)
        samples = _synthesized(path, midi)[(start - first) * _FRAMES_A_BLOCK:]
        yield samples[:(stop - start) * _FRAMES_A_BLOCK]


@dataclass(frozen=True, slots=True)
class _Event:
    """A MIDI message and the block that begins with it."""

    block: int
    message: Any


def _sounding(events: Sequence[_Event], end: int) -> list[tuple[int, int]]:
    """(first block, last block) of each stroke: until its key and the pedal are up."""
    spans: list[tuple[int, int]] = []
    down: dict[tuple[int, int], int] = {}
    held: list[int] = []
    pedal = False
    for event in events:
        message = event.message
        if message.type == "note_on":
            down.setdefault((message.channel, message.note), event.block)
        elif message.type == "note_off":
            struck = down.pop((message.channel, message.note), event.block)
            if pedal:
                held.append(struck)
            else:
                spans.append((struck, event.block))
        elif message.type == "control_change" and message.control == _PEDAL:
            pedal = message.value >= 64
            if not pedal:
                spans += [(struck, event.block) for struck in held]
                held.clear()
    return spans + [(struck, end) for struck in (*held, *down.values())]


def _early_enough(spans: Sequence[tuple[int, int]], start: int) -> int:
    """The block to begin with, so that what is heard from `start` on is whole."""
    rings = round(_RINGS_SEC * _BLOCKS_A_SEC)
    heard = [first for first, last in spans if first < start < last + rings]
    return max(0, min([start - rings, *heard]))


def _midi(events: Sequence[_Event], first: int, stop: int) -> bytes:
    """The part of a performance from one block to another, as a Standard MIDI File."""
    import mido  # type: ignore[import-untyped]

    begin = bisect_left(events, first, key=lambda event: event.block)
    last = bisect_left(events, stop, key=lambda event: event.block)
    pedal = [event for event in events[:begin] if event.message.type == "control_change"
             and event.message.control == _PEDAL][-1:]
    setup = [event.message for event in events[:begin]
             if event.block == 0 and not event.message.type.startswith("note")]
    messages = [(0, message) for message in (*setup, *(event.message for event in pedal))]
    messages += [(max(0, (event.block - first) * _TICKS_A_BLOCK - 1), event.message)
                 for event in events[begin:last]]
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=1_000_000)])
    now = 0
    for tick, message in messages:
        track.append(message.copy(time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track",  # a block more than is used
                                  time=(stop - first + 1) * _TICKS_A_BLOCK - now))
    file = mido.MidiFile(type=0, ticks_per_beat=_BLOCKS_A_SEC * _TICKS_A_BLOCK)
    file.tracks.append(track)
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def _synthesized(path: Path, midi: bytes) -> NDArray[np.int16]:
    import midirenderer
    import soundfile  # type: ignore[import-untyped]

    try:
        wave = midirenderer.render_wave_from(_font_bytes(path, path.stat().st_mtime_ns), midi)
    except OSError as error:
        raise InputError(f"the SoundFont cannot be read: {error.strerror}", path.name) from None
    except (ValueError, RuntimeError) as error:
        raise InputError(f"not a usable SoundFont (.sf2): {error}", path.name) from None
    samples, rate = soundfile.read(io.BytesIO(wave), dtype="int16", always_2d=True)
    if rate != FRAMES_A_SEC:
        raise RuntimeError(f"the synthesizer gives {rate} frames a second")
    found: NDArray[np.int16] = samples
    return found


@lru_cache(maxsize=2)
def _font_bytes(path: Path, changed_ns: int) -> bytes:
    return path.read_bytes()


def bundled_soundfont() -> Path:
    spec = find_spec("pretty_midi")
    if spec is None or spec.origin is None:
        raise InputError("the package pretty_midi, which brings the piano, is not installed")
    fonts = sorted(Path(spec.origin).parent.glob("*.sf2"))
    if not fonts:
        raise InputError("no SoundFont comes with the installed pretty_midi; name one")
    return fonts[0]
