"""The file of the library: its tables, how it is opened, and what can be wrong with it.

The version of the tables is kept in the file (`PRAGMA user_version`). All that stands here can
be made again from the sheets, so a file of an older version is emptied and filled anew by the
next adding; one of a newer version is not touched. Every sheet is one transaction in a write-ahead
log: a process that is killed leaves whole sheets, and the next run goes on after them.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fillwright.errors import InputError

__all__ = ["FILE_NAME", "SCHEMA_VERSION", "TABLES", "connect", "default_path", "reading",
           "transaction", "trouble"]

FILE_NAME = "library.sqlite3"

SCHEMA_VERSION = 2

_WAIT_SEC = 30
"""How long a sheet waits for another program that writes one."""

TABLES = ("sheets", "files", "rows", "gaps", "told", "devices", "players", "worked", "offers",
           "may", "ease")

_SCHEMA = ("""
CREATE TABLE sheets (
    id INTEGER PRIMARY KEY, content TEXT NOT NULL UNIQUE, fingerprint TEXT NOT NULL,
    description INTEGER NOT NULL, first INTEGER NOT NULL, title TEXT NOT NULL,
    folded TEXT NOT NULL, key TEXT NOT NULL, tonic INTEGER NOT NULL, mode TEXT NOT NULL,
    meter TEXT NOT NULL, bars INTEGER NOT NULL, tempo REAL NOT NULL, marked INTEGER NOT NULL,
    feel TEXT NOT NULL)""", """
CREATE INDEX sheets_fingerprint ON sheets (fingerprint, id)""", """
CREATE TABLE files (
    path BLOB NOT NULL, number INTEGER NOT NULL, bytes INTEGER NOT NULL,
    changed_ns INTEGER NOT NULL, digest TEXT NOT NULL, description INTEGER NOT NULL,
    sheet INTEGER REFERENCES sheets(id), refused TEXT NOT NULL,
    PRIMARY KEY (path, number)) WITHOUT ROWID""", """
CREATE INDEX files_sheet ON files (sheet)""", """
CREATE TABLE rows (id INTEGER PRIMARY KEY, row TEXT NOT NULL UNIQUE)""", """
CREATE TABLE gaps (
    id INTEGER PRIMARY KEY, sheet INTEGER NOT NULL REFERENCES sheets(id) ON DELETE CASCADE,
    beats REAL NOT NULL, seconds REAL NOT NULL, row INTEGER NOT NULL, into_row INTEGER NOT NULL,
    semitones INTEGER, key_semitones INTEGER, landing INTEGER, place INTEGER NOT NULL,
    number INTEGER NOT NULL, alike INTEGER NOT NULL, time INTEGER NOT NULL, held INTEGER)""", """
CREATE UNIQUE INDEX gaps_sheet ON gaps (sheet, number)""", """
CREATE TABLE told (
    gap INTEGER PRIMARY KEY REFERENCES gaps(id) ON DELETE CASCADE, bar TEXT NOT NULL,
    pass INTEGER NOT NULL, beat TEXT NOT NULL, beats TEXT NOT NULL, why TEXT NOT NULL,
    chords TEXT NOT NULL, functions TEXT NOT NULL, degree TEXT NOT NULL, held TEXT NOT NULL,
    section TEXT NOT NULL)""", """
CREATE TABLE devices (
    id INTEGER PRIMARY KEY, family TEXT NOT NULL, name TEXT NOT NULL, UNIQUE (family, name))""", """
CREATE TABLE players (
    id INTEGER PRIMARY KEY, level TEXT NOT NULL, hand TEXT NOT NULL, UNIQUE (level, hand))""", """
CREATE TABLE worked (
    player INTEGER NOT NULL, sheet INTEGER NOT NULL REFERENCES sheets(id) ON DELETE CASCADE,
    depth INTEGER NOT NULL, program INTEGER NOT NULL, failed TEXT NOT NULL,
    PRIMARY KEY (player, sheet)) WITHOUT ROWID""", """
CREATE INDEX worked_sheet ON worked (sheet)""", """
CREATE TABLE offers (
    player INTEGER NOT NULL, device INTEGER NOT NULL, difficulty INTEGER NOT NULL,
    gap INTEGER NOT NULL REFERENCES gaps(id) ON DELETE CASCADE, rank INTEGER NOT NULL,
    PRIMARY KEY (player, device, difficulty, gap)) WITHOUT ROWID""", """
CREATE INDEX offers_gap ON offers (gap, player, rank)""", """
CREATE TABLE may (
    player INTEGER NOT NULL, gap INTEGER NOT NULL REFERENCES gaps(id) ON DELETE CASCADE,
    m0 INTEGER NOT NULL, m1 INTEGER NOT NULL, m2 INTEGER NOT NULL, m3 INTEGER NOT NULL,
    PRIMARY KEY (player, gap)) WITHOUT ROWID""", """
CREATE INDEX may_gap ON may (gap)""", """
CREATE TABLE ease (
    player INTEGER NOT NULL, family TEXT NOT NULL, difficulty INTEGER NOT NULL,
    gap INTEGER NOT NULL REFERENCES gaps(id) ON DELETE CASCADE, ideas INTEGER NOT NULL,
    PRIMARY KEY (player, family, difficulty, gap)) WITHOUT ROWID""", """
CREATE INDEX ease_gap ON ease (gap)""", """
CREATE INDEX ease_best ON ease (player, family, ideas DESC, difficulty, gap)""", """
CREATE INDEX sheets_copies ON sheets (id) WHERE first = 0""")
"""`first` marks the first of all sheets with the same music; `told` keeps the texts apart, so that
what is searched stays small; `may` has a bit for each device that may be used; `ease` is the
difficulty of a gap's easiest offer, and how many devices are offered, by family and ("") in all;
`failed` says why a sheet cannot be worked out, "" where it is."""


def default_path() -> Path:
    """The file in the user's data folder of this system."""
    from platformdirs import user_data_path

    return user_data_path("fillwright", appauthor=False) / FILE_NAME


def connect(path: Path) -> sqlite3.Connection:
    """A connection that takes no transactions by itself, to a file with its tables made. Raises
    InputError where it cannot be used."""
    with trouble(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        connection = sqlite3.connect(path, timeout=_WAIT_SEC, isolation_level=None)
        try:
            # What was acknowledged outlives a killed process; after a power failure the last
            # sheets may have to be described again.
            connection.execute("PRAGMA synchronous=NORMAL")
            connection.execute("PRAGMA foreign_keys=ON")
            connection.execute("PRAGMA cache_size=-65536")
            _make(connection, path)
        except BaseException:
            connection.close()
            raise
    return connection


def _make(connection: sqlite3.Connection, path: Path) -> None:
    version = _version(connection)
    if version == SCHEMA_VERSION:
        return
    if version > SCHEMA_VERSION:
        raise InputError("it was written by a newer version of this program (tables of "
                         f"version {version}, this one knows {SCHEMA_VERSION})", path.name)
    if not version and connection.execute("SELECT 1 FROM sqlite_master").fetchone():
        raise InputError("it is another program's database", path.name)
    connection.execute("PRAGMA journal_mode=WAL")
    with transaction(connection):
        if _version(connection) == SCHEMA_VERSION:  # another process was faster
            return
        for name in reversed(TABLES):
            connection.execute(f"DROP TABLE IF EXISTS {name}")
        for statement in _SCHEMA:
            connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")


def _version(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """All or nothing."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


@contextmanager
def reading(connection: sqlite3.Connection) -> Iterator[None]:
    """All that is read is of one moment."""
    connection.execute("BEGIN")
    try:
        yield
    finally:
        connection.execute("ROLLBACK")


_SENTENCES = {
    sqlite3.SQLITE_FULL: "the disk is full; what was there before is there still, and the same "
                         "command goes on from here once there is room",
    sqlite3.SQLITE_BUSY: "another program holds it; try again in a moment",
    sqlite3.SQLITE_LOCKED: "another program holds it; try again in a moment",
    sqlite3.SQLITE_CORRUPT: "it is damaged; move it away and add the folders again: everything in "
                            "it is made from the sheets",
    sqlite3.SQLITE_NOTADB: "it is no library of this program",
    sqlite3.SQLITE_READONLY: "it, or its folder, cannot be written",
    sqlite3.SQLITE_CANTOPEN: "it cannot be opened",
}


@contextmanager
def trouble(path: Path) -> Iterator[None]:
    """Turn an error of the database or its folder into an InputError with one sentence."""
    try:
        yield
    except sqlite3.Error as error:
        code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
        if code == sqlite3.SQLITE_IOERR:
            sentence = "it cannot be read or written (the disk may be full)"
        else:
            sentence = _SENTENCES.get(code, f"it cannot be used: {error}")
        raise InputError(sentence, path.name) from error
    except OSError as error:
        raise InputError(f"it cannot be used: {error.strerror or error}", path.name) from error
