"""The file of the tunes: opened, brought up to date, and checked.

The version of its tables is kept in the file (`PRAGMA user_version`); the first program wrote
none, which counts as 0. A file of a newer version is not touched.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from fillwright.web.trouble import StoreTrouble

__all__ = ["SCHEMA_VERSION", "connect", "is_whole", "migrate"]

_FIRST = ("""
CREATE TABLE IF NOT EXISTS tunes (
    id TEXT PRIMARY KEY, title TEXT NOT NULL, name TEXT NOT NULL, data BLOB NOT NULL,
    version INTEGER NOT NULL, place INTEGER NOT NULL, changed_sec REAL NOT NULL)""", """
CREATE TABLE IF NOT EXISTS states (
    tune TEXT NOT NULL REFERENCES tunes(id) ON DELETE CASCADE, place INTEGER NOT NULL,
    what TEXT NOT NULL, value TEXT NOT NULL, PRIMARY KEY (tune, place)) WITHOUT ROWID""")

_SECOND = ("""
CREATE TABLE touched (
    tune TEXT NOT NULL REFERENCES tunes(id) ON DELETE CASCADE, version INTEGER NOT NULL,
    what TEXT NOT NULL, PRIMARY KEY (tune, version)) WITHOUT ROWID""", """
CREATE TABLE cards (
    tune TEXT PRIMARY KEY REFERENCES tunes(id) ON DELETE CASCADE, folder TEXT NOT NULL,
    facts TEXT NOT NULL) WITHOUT ROWID""")
"""What each change touched, so that changes of two pages are merged; and what the shelf shows of
a tune."""

_STEPS: tuple[tuple[str, ...], ...] = (_FIRST, _SECOND)
"""What leads from each version to the next."""

SCHEMA_VERSION = len(_STEPS)

_WAIT_SEC = 6
"""How long a change waits for another program that writes."""


def connect(path: Path, *, any_thread: bool = False) -> sqlite3.Connection:
    """A connection that takes no transactions by itself and keeps what it acknowledges."""
    connection = sqlite3.connect(path, timeout=_WAIT_SEC, isolation_level=None,
                                 check_same_thread=not any_thread)
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("PRAGMA foreign_keys=ON")
    return connection


def migrate(connection: sqlite3.Connection) -> None:
    """Make the tables, or bring them up to date: all steps or none. Raises `StoreTrouble` for a
    file of a newer version."""
    if _version(connection) == SCHEMA_VERSION:
        return
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("BEGIN IMMEDIATE")
    try:
        version = _version(connection)  # another process may have been faster
        if version > SCHEMA_VERSION:
            raise StoreTrouble("version", "it was written by a newer version of this program "
                               f"(tables of version {version}, this one knows {SCHEMA_VERSION})")
        for step in _STEPS[version:]:
            for statement in step:
                connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


def _version(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def is_whole(path: Path) -> bool:
    """Whether a file is there and no page of it is damaged. Raises sqlite3.DatabaseError for
    one that is no database at all."""
    with closing(connect(path)) as connection:
        try:
            return bool(connection.execute("PRAGMA quick_check(1)").fetchone() == ("ok",))
        except sqlite3.DatabaseError as error:
            if error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_CORRUPT:
                return False
            raise
