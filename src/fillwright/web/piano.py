"""The keys of the piano the browser plays: one short recording for every fourth key.

Each is one key of the SoundFont played by `fillwright.sound`, so that the page sounds like
the files it exports. The browser bends the nearest recording by at most a whole step.
"""

from __future__ import annotations

from pathlib import Path

from fillwright.sound.audio import to_flac
from fillwright.sound.model import Performance, PlayedNote

__all__ = ["SAMPLED_KEYS", "sample"]

SAMPLED_KEYS = tuple(range(24, 106, 4))
"""MIDI numbers, C1 to G#7."""

_HELD_SEC = 4.0
_LOUDNESS = 88


def sample(midi: int, soundfont: Path | None = None) -> bytes:
    """FLAC of one key, held; `soundfont`: None for the one that comes along.

    Raises ValueError for a key that is not sampled, InputError for an unusable SoundFont.
    """
    if midi not in SAMPLED_KEYS:
        raise ValueError(f"not a sampled key: {midi}")
    held = _HELD_SEC if midi < 84 else _HELD_SEC / 2
    note = PlayedNote(0.0, held, midi, _LOUDNESS, "right", 0)
    return to_flac(Performance("", (note,), (), (), (), 60.0, held), soundfont)
