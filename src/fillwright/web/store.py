"""Tunes, choices and settings in SQLite, so that nothing is lost.

Every change is one transaction, on disk before it is acknowledged (write-ahead log, full
synchronisation): a process killed in the middle of a save leaves the state before or after
it. Each change names the version it was made from; if another tab was faster, the change is
refused with `Conflict` and the other's version. All states of a tune are kept in a row, and
undo and redo move along it.
"""

from __future__ import annotations

import json
import secrets
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fillwright.edition.decisions import Decisions
from fillwright.edition.model import Edition

__all__ = ["Conflict", "Missing", "Record", "Store"]

_UNDECIDED = Decisions()

KEPT_STATES = 200
"""States of a tune that undo can go back through."""

_SCHEMA = """
CREATE TABLE IF NOT EXISTS tunes (
    id TEXT PRIMARY KEY, title TEXT NOT NULL, name TEXT NOT NULL, data BLOB NOT NULL,
    version INTEGER NOT NULL, place INTEGER NOT NULL, changed_sec REAL NOT NULL);
CREATE TABLE IF NOT EXISTS states (
    tune TEXT NOT NULL REFERENCES tunes(id) ON DELETE CASCADE, place INTEGER NOT NULL,
    what TEXT NOT NULL, value TEXT NOT NULL, PRIMARY KEY (tune, place)) WITHOUT ROWID;
"""


class Missing(Exception):
    """There is no such tune."""


class Conflict(Exception):
    """Somebody else changed the tune; `version` is theirs."""

    def __init__(self, version: int) -> None:
        super().__init__(f"version {version}")
        self.version = version


@dataclass(frozen=True, slots=True)
class Record:
    """A tune on the shelf with its state.

    version            grows by one with every change, also by undo and redo
    undo, redo         what would be undone or redone, "" if nothing
    """

    id: str
    title: str
    name: str
    data: bytes
    version: int
    state: Decisions
    undo: str
    redo: str

    @property
    def edition(self) -> Edition:
        return Edition(self.data, self.name, self.state)


class Store:
    """One database file. Safe to use from many threads and processes."""

    def __init__(self, path: Path) -> None:
        self.path = path
        path.parent.mkdir(parents=True, exist_ok=True)
        with closing(self._open()) as connection:
            connection.execute("PRAGMA journal_mode=WAL")
            connection.executescript(_SCHEMA)

    def _open(self) -> sqlite3.Connection:
        connection = sqlite3.connect(self.path, timeout=20, isolation_level=None)
        connection.execute("PRAGMA synchronous=FULL")
        connection.execute("PRAGMA foreign_keys=ON")
        return connection

    @contextmanager
    def _change(self) -> Iterator[sqlite3.Connection]:
        with closing(self._open()) as connection:
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
            except BaseException:
                if connection.in_transaction:  # a full disk has ended it already
                    connection.execute("ROLLBACK")
                raise
            connection.execute("COMMIT")

    def shelf(self) -> list[dict[str, Any]]:
        """What stands on the shelf, last changed first."""
        with closing(self._open()) as connection:
            rows = connection.execute("SELECT id, title, name, changed_sec FROM tunes "
                                      "ORDER BY changed_sec DESC, id").fetchall()
        return [{"id": key, "title": title, "name": name, "changed_sec": changed}
                for key, title, name, changed in rows]

    def add(self, title: str, name: str, data: bytes, state: Decisions = _UNDECIDED) -> str:
        """Put a tune on the shelf. Returns its id."""
        key = secrets.token_hex(8)
        with self._change() as connection:
            connection.execute("INSERT INTO tunes VALUES (?, ?, ?, ?, 1, 0, ?)",
                               (key, title, name, data, time.time()))
            connection.execute("INSERT INTO states VALUES (?, 0, '', ?)",
                               (key, json.dumps(state.value())))
        return key

    def remove(self, key: str) -> None:
        """Raises `Missing`."""
        with self._change() as connection:
            if not connection.execute("DELETE FROM tunes WHERE id = ?", (key,)).rowcount:
                raise Missing

    def get(self, key: str) -> Record:
        """Raises `Missing`."""
        with closing(self._open()) as connection:
            connection.execute("BEGIN")
            return _record(connection, key)

    def put(self, key: str, version: int, state: Decisions, what: str) -> Record:
        """Save a new state, made from `version`. `what` says in a few words what changed.

        Raises `Missing`, `Conflict`.
        """
        with self._change() as connection:
            place = _check(connection, key, version)
            connection.execute("DELETE FROM states WHERE tune = ? AND (place > ? OR place < ?)",
                               (key, place, place - KEPT_STATES))
            connection.execute("INSERT INTO states VALUES (?, ?, ?, ?)",
                               (key, place + 1, what, json.dumps(state.value())))
            _advance(connection, key, place + 1)
            return _record(connection, key)

    def step(self, key: str, version: int, by: int) -> Record:
        """Undo (-1) or redo (+1); nothing happens at the end of the row.

        Raises `Missing`, `Conflict`.
        """
        with self._change() as connection:
            place = _check(connection, key, version) + by
            if connection.execute("SELECT 1 FROM states WHERE tune = ? AND place = ?",
                                  (key, place)).fetchone():
                _advance(connection, key, place)
            return _record(connection, key)


def _check(connection: sqlite3.Connection, key: str, version: int) -> int:
    row = connection.execute("SELECT version, place FROM tunes WHERE id = ?", (key,)).fetchone()
    if row is None:
        raise Missing
    if row[0] != version:
        raise Conflict(row[0])
    return int(row[1])


def _advance(connection: sqlite3.Connection, key: str, place: int) -> None:
    connection.execute("UPDATE tunes SET version = version + 1, place = ?, changed_sec = ? "
                       "WHERE id = ?", (place, time.time(), key))


def _record(connection: sqlite3.Connection, key: str) -> Record:
    row = connection.execute("SELECT title, name, data, version, place FROM tunes WHERE id = ?",
                             (key,)).fetchone()
    if row is None:
        raise Missing
    title, name, data, version, place = row
    near = dict(connection.execute(
        "SELECT place, what FROM states WHERE tune = ? AND place BETWEEN ? AND ?",
        (key, place - 1, place + 1)).fetchall())
    value = connection.execute("SELECT value FROM states WHERE tune = ? AND place = ?",
                               (key, place)).fetchone()[0]
    return Record(key, title, name, data, version, Decisions.read(json.loads(value)),
                  near.get(place, "") if place - 1 in near else "", near.get(place + 1, ""))
