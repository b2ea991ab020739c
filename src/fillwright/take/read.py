"""A take, read from a Standard MIDI File."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from pathlib import Path

from fillwright.errors import InputError, printable_name
from fillwright.given import a
from fillwright.take.model import PEDAL_DOWN, PedalMove, Stroke, Take
from fillwright.take.smf import MidiNote, PlayedFile, read_played
from fillwright.tune.read import file_bytes

__all__ = ["MAX_BYTES", "MAX_SECONDS", "MAX_STROKES", "read_take", "take_from_bytes",
           "take_of_keys"]

MAX_BYTES = 16 * 1024 * 1024
MAX_SECONDS = 3600.0
"""A take of one tune; ten minutes is long."""
MAX_STROKES = 60_000
"""An hour at sixteen strokes a second."""


def read_take(path: str | Path) -> Take:
    """Read what a student played.

    path   a Standard MIDI File, type 0 or 1, in ticks of a quarter or in frames; the hands may
           be on tracks of their own or on one

    Raises InputError, whose `source` is the file's name, where it is not MIDI, has no notes or
    is longer than a take can be. What can be understood is read, with a sentence in
    `Take.warnings` for each thing that needed good will.
    """
    if not isinstance(path, str | Path):
        raise InputError(f"a take is read from the name of a file, not from {a(path)}")
    path = Path(path)
    return take_from_bytes(file_bytes(path, MAX_BYTES), path.name)


def take_from_bytes(data: bytes, name: str) -> Take:
    """The take of a file's bytes; raises InputError."""
    try:
        if len(data) > MAX_BYTES:
            raise InputError(f"the file is larger than {MAX_BYTES // 2 ** 20} MB")
        return _take(read_played(data), name)
    except InputError as error:
        raise InputError(error.message, name) from error


def take_of_keys(keys: Iterable[tuple[float, float, int, int]],
                 pedal: Iterable[tuple[float, int]], name: str,
                 warnings: tuple[str, ...] = ()) -> Take:
    """The take of keys (down and up in seconds, MIDI number, velocity) and moves of the damper
    pedal (seconds, value). Raises InputError where there are none, or too many."""
    notes = tuple(MidiNote(*key, 0, order) for order, key in enumerate(sorted(keys)))
    return _take(PlayedFile(notes, tuple(sorted(pedal)), warnings), name)


def _take(played: PlayedFile, name: str) -> Take:
    if not played.notes:
        raise InputError("no note is played in it")
    if len(played.notes) > MAX_STROKES:
        raise InputError(f"it has {len(played.notes):,} notes; a take has {MAX_STROKES:,} at most")
    zero = played.notes[0].onset_sec
    length = played.notes[-1].onset_sec - zero
    if length > MAX_SECONDS:
        raise InputError(f"it lasts {_duration(length)}; a take lasts an hour at most")
    pedal = tuple(PedalMove(sec - zero, value) for sec, value in played.pedal)
    return Take(printable_name(name), _strokes(played.notes, zero, pedal), pedal,
                played.warnings)


def _duration(seconds: float) -> str:
    return f"{seconds / 3600:.1f} hours"


def _strokes(notes: Iterable[MidiNote], zero: float, pedal: tuple[PedalMove, ...]
             ) -> tuple[Stroke, ...]:
    notes = list(notes)
    again: dict[int, float] = {}        # by key: when it is struck next
    ups = [move.onset_sec for move in pedal if move.value < PEDAL_DOWN]
    strokes: list[Stroke] = []
    for event in range(len(notes) - 1, -1, -1):
        note = notes[event]
        onset = note.onset_sec - zero
        release = max(note.release_sec - zero, onset)
        until = max(_pedalled(release, pedal, ups), release)
        if note.midi in again and again[note.midi] < until:
            until = max(again[note.midi], release)
        again[note.midi] = onset
        strokes.append(Stroke(event, onset, release, until, note.midi, note.velocity, note.track))
    return tuple(reversed(strokes))


def _pedalled(release: float, pedal: tuple[PedalMove, ...], ups: list[float]) -> float:
    """Until when the pedal holds what is let go at `release`."""
    index = bisect_right(pedal, release, key=lambda move: move.onset_sec)
    if not index or pedal[index - 1].value < PEDAL_DOWN:
        return release
    later = bisect_right(ups, release)
    return ups[later] if later < len(ups) else release
