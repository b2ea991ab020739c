"""A take as a Standard MIDI File, to be kept: a millisecond a tick."""

from __future__ import annotations

from fillwright.take.model import Take

__all__ = ["take_bytes"]

_TICKS = 1000           # a quarter, which lasts a second
_END = b"\x00\xff\x2f\x00"


def take_bytes(take: Take) -> bytes:
    """The strokes and the pedal of a take, as a file that `take_from_bytes` reads."""
    signs: list[tuple[int, int, bytes]] = []
    for stroke in take.strokes:
        down, up = round(stroke.onset_sec * _TICKS), round(stroke.release_sec * _TICKS)
        signs.append((down, 2, bytes((0x90, stroke.midi, stroke.velocity))))
        signs.append((max(up, down + 1), 0, bytes((0x80, stroke.midi, 0))))
    signs += [(round(move.onset_sec * _TICKS), 1, bytes((0xB0, 64, move.value)))
              for move in take.pedal if move.onset_sec >= 0]
    track = bytearray(b"\x00\xff\x51\x03" + (1_000_000).to_bytes(3, "big"))
    now = 0
    for tick, _, message in sorted(signs):
        track += _length(tick - now) + message
        now = tick
    track += _END
    head = b"MThd" + (6).to_bytes(4, "big") + b"\x00\x00\x00\x01" + _TICKS.to_bytes(2, "big")
    return head + b"MTrk" + len(track).to_bytes(4, "big") + bytes(track)


def _length(value: int) -> bytes:
    """A quantity of variable length: seven bits a byte, the last without the eighth.

    >>> _length(200).hex()
    '8148'
    """
    parts = [value & 0x7F]
    while value := value >> 7:
        parts.append(value & 0x7F | 0x80)
    return bytes(reversed(parts))
