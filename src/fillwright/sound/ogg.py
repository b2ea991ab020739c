"""An Ogg file with a serial number that does not change.

An encoder numbers its stream at random, so that two streams can be joined in one file; the same
sound is to give the same bytes. The layout of a page and its checksum are those of RFC 3533,
section 6.
"""

from __future__ import annotations

from functools import lru_cache

__all__ = ["numbered"]

_HEAD_BYTES = 27
_SERIAL, _CHECKSUM = slice(14, 18), slice(22, 26)
_POLYNOMIAL = 0x04C11DB7


def numbered(file: bytes, serial: int = 1) -> bytes:
    """The same file with this serial number on all of its pages."""
    found = bytearray(file)
    at = 0
    while at < len(found):
        if found[at:at + 4] != b"OggS":
            raise ValueError("not an Ogg file")
        lengths = found[at + _HEAD_BYTES:at + _HEAD_BYTES + found[at + _HEAD_BYTES - 1]]
        page = found[at:at + _HEAD_BYTES + len(lengths) + sum(lengths)]
        page[_SERIAL] = serial.to_bytes(4, "little")
        page[_CHECKSUM] = bytes(4)
        page[_CHECKSUM] = _checksum(bytes(page)).to_bytes(4, "little")
        found[at:at + len(page)] = page
        at += len(page)
    return bytes(found)


@lru_cache(maxsize=1)
def _table() -> tuple[int, ...]:
    values = []
    for byte in range(256):
        value = byte << 24
        for _ in range(8):
            value = (value << 1) ^ (_POLYNOMIAL if value & 0x80000000 else 0)
        values.append(value & 0xFFFFFFFF)
    return tuple(values)


def _checksum(page: bytes) -> int:
    table, value = _table(), 0
    for byte in page:
        value = ((value << 8) & 0xFFFFFFFF) ^ table[(value >> 24) ^ byte]
    return value
