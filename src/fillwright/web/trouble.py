"""What can go wrong with the file of the tunes, each in one sentence."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["StoreTrouble", "told"]


class StoreTrouble(Exception):
    """The file of the tunes cannot be read or written.

    kind     "full", "locked", "damaged", "version", "read only" or "other"
    status   of the answer to the request
    """

    def __init__(self, kind: str, sentence: str, status: int = 503) -> None:
        super().__init__(sentence)
        self.kind = kind
        self.status = status


_SENTENCES = {
    "full": ("The disk is full, so this was not saved; taking a tune off the shelf still works.",
             507),
    "locked": ("Another program holds the file of the tunes; try again in a moment.", 503),
    "damaged": ("The file of the tunes is damaged. Stop the program and start it again: it then "
                "saves what can be read.", 500),
    "read only": ("The file of the tunes cannot be written: it, or its folder, is protected.",
                  503),
    "other": ("The file of the tunes cannot be used just now.", 503),
}
_KINDS = {
    sqlite3.SQLITE_FULL: "full", sqlite3.SQLITE_BUSY: "locked", sqlite3.SQLITE_LOCKED: "locked",
    sqlite3.SQLITE_CORRUPT: "damaged", sqlite3.SQLITE_NOTADB: "damaged",
    sqlite3.SQLITE_READONLY: "read only", sqlite3.SQLITE_PERM: "read only",
}
_FULL_TOO = {sqlite3.SQLITE_IOERR_WRITE, sqlite3.SQLITE_IOERR_SHMSIZE,
             sqlite3.SQLITE_IOERR_TRUNCATE, sqlite3.SQLITE_IOERR_FSYNC}
"""What some file systems answer where there is no room."""


def kind_of(error: sqlite3.Error) -> str:
    code = getattr(error, "sqlite_errorcode", None) or 0
    if code in _FULL_TOO:
        return "full"
    return _KINDS.get(code & 0xFF, "other")


@contextmanager
def told() -> Iterator[None]:
    """Turn an error of the database into a `StoreTrouble`."""
    try:
        yield
    except sqlite3.Error as error:
        kind = kind_of(error)
        raise StoreTrouble(kind, *_SENTENCES[kind]) from error
