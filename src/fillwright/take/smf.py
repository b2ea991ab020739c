"""The bytes of a Standard MIDI File, as notes and pedal in seconds.

A recorder's file is often cut short or holds a broken sign, and what was played is still
there: so chunks are read one by one, a sign of bad content is skipped by its length, and a
track that breaks off keeps what came before, with a warning. (A library that reads a file as a
whole gives up on all of it.) Standard MIDI Files 1.0, MIDI Manufacturers Association.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field

from fillwright.errors import InputError

__all__ = ["MAX_EVENTS", "PlayedFile", "MidiNote", "read_played"]

MAX_EVENTS = 2_000_000
"""Messages in a file; an hour of dense playing with a finely resolved pedal has a tenth."""

_DRUMS = 9
_SUSTAIN = 64
_MAX_TRACKS = 256
_DEFAULT_TEMPO = 500_000          # microseconds a quarter, until a file says another
_DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}
_SYSTEM_BYTES = {0xF1: 1, 0xF2: 2, 0xF3: 1}


@dataclass(frozen=True, slots=True)
class MidiNote:
    """A key, from down to up, in seconds of the file; `order` is its place in the track."""

    onset_sec: float
    release_sec: float
    midi: int
    velocity: int
    track: int
    order: int


@dataclass(frozen=True, slots=True)
class PlayedFile:
    """What a file holds for a piano. Pedal moves are (seconds, value)."""

    notes: tuple[MidiNote, ...]
    pedal: tuple[tuple[float, int], ...]
    warnings: tuple[str, ...]


@dataclass(slots=True)
class _Events:
    """Of all tracks, at ticks: notes on and off as (tick, order, track, channel, midi,
    velocity), pedal as (tick, order, value), tempos as (tick, microseconds)."""

    notes: list[tuple[int, int, int, int, int, int]] = field(default_factory=list)
    pedal: list[tuple[int, int, int]] = field(default_factory=list)
    tempos: list[tuple[int, int]] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    drums: int = 0
    count: int = 0


class _Cut(Exception):
    """A track breaks off."""


def read_played(data: bytes) -> PlayedFile:
    """Notes and pedal of a file. Raises InputError where it is none, or cannot be one take."""
    kind, division, tracks, warnings = _chunks(data)
    if kind == 2 and len(tracks) > 1:
        raise InputError("a MIDI file of type 2 holds several pieces, not one take")
    events = _Events(warnings=warnings)
    for number, track in enumerate(tracks):
        try:
            _read_track(track, number, events)
        except _Cut as cut:
            events.warnings.append(f"track {number + 1} breaks off ({cut}); what came before is "
                                   "kept")
    if events.drums:
        events.warnings.append("what is on the percussion channel is left out")
    clock = _Clock(division, events.tempos)
    return PlayedFile(_paired(events, clock),
                      tuple((clock.seconds(tick), value)
                            for tick, _, value in sorted(events.pedal)),
                      tuple(events.warnings))


def _chunks(data: bytes) -> tuple[int, int, list[bytes], list[str]]:
    """Type, division, the bytes of the tracks, warnings."""
    start = data.find(b"MThd", 0, 256)      # some recorders put a wrapper of their own before it
    if start < 0 or len(data) < start + 14:
        raise InputError("this is not a Standard MIDI File")
    length = int.from_bytes(data[start + 4:start + 8], "big")
    kind = int.from_bytes(data[start + 8:start + 10], "big")
    division = int.from_bytes(data[start + 12:start + 14], "big")
    if length < 6 or kind > 2:
        raise InputError("the head of the MIDI file is broken")
    if division == 0:
        raise InputError("the MIDI file does not say how long its ticks are")
    place = start + 8 + length
    tracks: list[bytes] = []
    warnings: list[str] = []
    while place + 8 <= len(data) and len(tracks) < _MAX_TRACKS:
        name = data[place:place + 4]
        size = int.from_bytes(data[place + 4:place + 8], "big")
        if name == b"MTrk":
            tracks.append(data[place + 8:place + 8 + size])
            if place + 8 + size > len(data):
                warnings.append("the file breaks off in a track; what came before is kept")
        place += 8 + size
    if not tracks:
        raise InputError("the MIDI file has no track")
    return kind, division, tracks, warnings


class _Bytes:
    """Bytes read one after the other."""

    def __init__(self, data: bytes) -> None:
        self.data, self.place = data, 0

    def byte(self) -> int:
        if self.place >= len(self.data):
            raise _Cut("the last message is not whole")
        self.place += 1
        return self.data[self.place - 1]

    def number(self) -> int:
        """A quantity of variable length: seven bits a byte, four bytes at most."""
        value = 0
        for _ in range(4):
            byte = self.byte()
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value
        raise _Cut("a length has more than four bytes")

    def skip(self, count: int) -> bytes:
        if self.place + count > len(self.data):
            self.place = len(self.data)
            raise _Cut("a sign is longer than the track")
        self.place += count
        return self.data[self.place - count:self.place]


def _read_track(data: bytes, track: int, events: _Events) -> None:
    source, tick, status = _Bytes(data), 0, 0
    while source.place < len(data):
        tick += source.number()
        first = source.byte()
        events.count += 1
        if events.count > MAX_EVENTS:
            raise InputError(f"the MIDI file has more than {MAX_EVENTS:,} events")
        if first == 0xFF:
            kind = source.byte()
            content = source.skip(source.number())
            if kind == 0x2F:
                return
            if kind == 0x51 and len(content) == 3 and any(content):
                events.tempos.append((tick, int.from_bytes(content, "big")))
        elif first in (0xF0, 0xF7):
            source.skip(source.number())
        elif first >= 0xF1:
            source.skip(_SYSTEM_BYTES.get(first, 0))
        else:
            if first >= 0x80:
                status, first = first, source.byte()
            elif not status:
                raise _Cut("a message does not say what it is")
            two = _DATA_BYTES[status & 0xF0] == 2
            _message(events, tick, track, status, (first, source.byte() if two else 0))


def _message(events: _Events, tick: int, track: int, status: int, data: tuple[int, int]) -> None:
    kind, channel = status & 0xF0, status & 0x0F
    key, value = data[0] & 0x7F, data[1] & 0x7F
    if kind in (0x80, 0x90):
        velocity = value if kind == 0x90 else 0
        if channel == _DRUMS:
            events.drums += velocity > 0
        else:
            events.notes.append((tick, events.count, track, channel, key, velocity))
    elif kind == 0xB0 and key == _SUSTAIN and channel != _DRUMS:
        events.pedal.append((tick, events.count, value))


class _Clock:
    """Ticks to seconds: the tempos of all tracks, or the frames of a film (SMPTE)."""

    def __init__(self, division: int, tempos: list[tuple[int, int]]) -> None:
        self._ticks, self._seconds, self._per_tick = [0], [0.0], [0.0]
        if division & 0x8000:
            frames, per_frame = 256 - (division >> 8), division & 0xFF
            if frames not in (24, 25, 29, 30) or not per_frame:
                raise InputError("the MIDI file counts time in frames that do not exist")
            real = 30000 / 1001 if frames == 29 else frames     # 30 drop-frame
            self._per_tick = [1 / (real * per_frame)]
            return
        self._per_tick = [_DEFAULT_TEMPO / 1e6 / division]
        for tick, tempo in sorted(tempos, key=lambda one: one[0]):
            self._seconds.append(self.seconds(tick))
            self._ticks.append(tick)
            self._per_tick.append(tempo / 1e6 / division)

    def seconds(self, tick: int) -> float:
        index = bisect_right(self._ticks, tick) - 1
        return self._seconds[index] + (tick - self._ticks[index]) * self._per_tick[index]


def _paired(events: _Events, clock: _Clock) -> tuple[MidiNote, ...]:
    """Keys down with their keys up: the first that went down comes up first. A key that is
    never let go comes up with the last event."""
    open_keys: dict[tuple[int, int, int], list[tuple[int, int, int]]] = {}
    notes: list[MidiNote] = []
    end = max((event[0] for event in events.notes), default=0)

    def close(track: int, midi: int, down: tuple[int, int, int], tick: int) -> None:
        notes.append(MidiNote(clock.seconds(down[0]), clock.seconds(tick), midi, down[2], track,
                              down[1]))

    # At one tick keys come up before others go down, but not before they went down themselves.
    for tick, order, track, channel, midi, velocity in _in_time(events.notes):
        waiting = open_keys.setdefault((track, channel, midi), [])
        if velocity:
            waiting.append((tick, order, velocity))
        elif waiting:
            close(track, midi, waiting.pop(0), tick)
    stuck = [(key, down) for key, waiting in open_keys.items() for down in waiting]
    for (track, _, midi), down in stuck:
        close(track, midi, down, end)
    if stuck:
        events.warnings.append(f"{len(stuck)} {'key is' if len(stuck) == 1 else 'keys are'} never "
                               "let go; the end of the file lets go of them")
    return tuple(sorted(notes, key=lambda note: (note.onset_sec, note.track, note.order)))


def _in_time(notes: list[tuple[int, int, int, int, int, int]]
             ) -> Iterator[tuple[int, int, int, int, int, int]]:
    yield from sorted(notes, key=lambda event: (event[0], event[2], event[1]))
