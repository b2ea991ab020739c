"""The one exception users see: a clear sentence about their input."""

from __future__ import annotations

__all__ = ["InputError", "TextError", "printable_name"]


def printable_name(name: str) -> str:
    """A file's name as text: bytes of it that are no UTF-8, which Python keeps as half
    characters that cannot be written, become the sign for an unknown one."""
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


class InputError(Exception):
    """Input that cannot be understood or is out of bounds.

    The message is one sentence; `source` is the file's name (no folder), so that
    the command line can print ``source: message`` and exit with status 2.
    """

    def __init__(self, message: str, source: str = "") -> None:
        super().__init__(message)
        self.message = " ".join(message.split())
        self.source = printable_name(source)

    def __str__(self) -> str:
        return f"{self.source}: {self.message}" if self.source else self.message


class TextError(InputError, ValueError):
    """A text that is no pitch, key or chord: a ValueError too, as Python's own readers of text
    have it."""
