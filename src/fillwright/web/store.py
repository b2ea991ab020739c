"""Tunes, choices and settings in SQLite, so that nothing is lost.

Every change is one transaction, on disk before it is acknowledged (write-ahead log, full
synchronisation): a process killed in the middle of a save leaves the state before or after
it. Each change names the version it was made from; if another tab was faster, the change is
refused with `Conflict` and the other's version. All states of a tune are kept in a row, and
undo and redo move along it. A state that cannot be read gives way to the one before it.

A file beside the database keeps a little room on the disk, so that a tune can be taken off the
shelf even when the disk is full.
"""

from __future__ import annotations

import json
import os
import secrets
import sqlite3
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from fillwright.edition.decisions import Decisions
from fillwright.edition.model import Edition
from fillwright.errors import InputError
from fillwright.web.database import connect, is_whole, migrate
from fillwright.web.safekeeping import back_up, salvage
from fillwright.web.shelf_file import KeptTune
from fillwright.web.trouble import StoreTrouble, told

__all__ = ["FILE_NAME", "Conflict", "Missing", "Record", "Store"]

_NO_FACTS: Mapping[str, Any] = MappingProxyType({})
_UNREADABLE = (InputError, ValueError, TypeError, RecursionError)

FILE_NAME = "fillwright.sqlite3"
"""Of the file, in the data folder."""

ROOM_BYTES = 512 * 1024
"""Kept free for taking a tune off the shelf when the disk is full."""

_NO_ROOM = ("full", "other")
"""Trouble that a full disk makes: SQLite does not always know why a file cannot be made."""

KEPT_STATES = 200
"""States of a tune that undo can go back through."""

def _nothing(before: Decisions, after: Decisions) -> Collection[str]:
    return ()


class Missing(Exception):
    """There is no such tune."""


class Conflict(Exception):
    """Somebody else changed the tune; `version` is theirs. `subject` is what both decided, as in
    `fillwright.web.changes.differences`; "" where that is not known."""

    def __init__(self, version: int, subject: str = "") -> None:
        super().__init__(f"version {version}")
        self.version = version
        self.subject = subject


@dataclass(frozen=True, slots=True)
class Record:
    """A tune on the shelf with its state.

    version            grows by one with every change, also by undo and redo
    undo, redo         what would be undone or redone, "" if nothing
    note               a sentence where the last state could not be read, else ""
    folder             "" for the shelf itself
    facts              what the shelf shows of it
    """

    id: str
    title: str
    name: str
    data: bytes
    version: int
    state: Decisions
    undo: str
    redo: str
    note: str = ""
    folder: str = ""
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def edition(self) -> Edition:
        return Edition(self.data, self.name, self.state)


class Store:
    """One database file. Safe to use from many threads and processes.

    A damaged file is saved row by row; `said` are the sentences about it. Raises `StoreTrouble`
    for a file that cannot be used, OSError.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.said: list[str] = []
        path.parent.mkdir(parents=True, exist_ok=True)
        self._room = path.with_suffix(".room")
        try:
            self._begin()
        except StoreTrouble as trouble:
            if trouble.kind not in _NO_ROOM or not self._room.exists():
                raise
            self._room.unlink()  # the log needs some
            self._begin()
        self._keep_room()

    def _begin(self) -> None:
        path = self.path
        with told():
            try:
                if not is_whole(path):
                    self.said = salvage(path)
            except sqlite3.DatabaseError as error:
                if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_NOTADB:
                    raise
                raise StoreTrouble("damaged", f"{path.name} is not a file of tunes") from error
            # As long as one connection is open, the log stays, which needs room to be made.
            self._anchor = connect(path, any_thread=True)
            migrate(self._anchor)
            self._anchor.execute("SELECT count(*) FROM tunes").fetchone()

    def close(self) -> None:
        self._anchor.close()

    def back_up(self) -> None:
        """Make a backup if one is due. What stands in the way of it does not stop the work."""
        with suppress(OSError, sqlite3.Error):
            back_up(self.path)

    def _keep_room(self) -> None:
        with suppress(OSError):
            if not self._room.exists() or self._room.stat().st_size < ROOM_BYTES:
                self._room.write_bytes(os.urandom(ROOM_BYTES))

    def _open(self) -> sqlite3.Connection:
        return connect(self.path)

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        with told(), closing(self._open()) as connection:
            yield connection

    @contextmanager
    def _change(self) -> Iterator[sqlite3.Connection]:
        with told(), closing(self._open()) as connection:
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
            except BaseException:
                if connection.in_transaction:  # a full disk has ended it already
                    connection.execute("ROLLBACK")
                raise
            connection.execute("COMMIT")

    def shelf(self) -> list[dict[str, Any]]:
        """What stands on the shelf, last changed first: with its folder, how many gaps are
        decided, what is known of it, and which of how many with that title it is, in the order
        in which they were brought."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT id, title, name, changed_sec, coalesce(folder, ''), "
                "coalesce(facts, '{}'), value, "
                "row_number() OVER (PARTITION BY title ORDER BY tunes.rowid), "
                "count(*) OVER (PARTITION BY title) FROM tunes "
                "LEFT JOIN cards ON cards.tune = id "
                "LEFT JOIN states ON states.tune = id AND states.place = tunes.place "
                "ORDER BY changed_sec DESC, id").fetchall()
        return [{"id": key, "title": title, "name": name, "changed_sec": changed,
                 "folder": folder, "decided": _decided(value), "number": number,
                 "alike": alike, **json.loads(facts)}
                for key, title, name, changed, folder, facts, value, number, alike in rows]

    def add(self, title: str, edition: Edition, facts: Mapping[str, Any] = _NO_FACTS,
            folder: str = "") -> str:
        """Put a tune on the shelf. Returns its id."""
        key = secrets.token_hex(8)
        with self._change() as connection:
            connection.execute("INSERT INTO tunes VALUES (?, ?, ?, ?, 1, 0, ?)",
                               (key, title, edition.name, edition.sheet, time.time()))
            connection.execute("INSERT INTO states VALUES (?, 0, '', ?)",
                               (key, json.dumps(edition.decisions.value())))
            _card(connection, key, folder=folder, facts=facts)
        return key

    def rename(self, key: str, title: str) -> None:
        """Raises `Missing`."""
        with self._change() as connection:
            if not connection.execute("UPDATE tunes SET title = ? WHERE id = ?",
                                      (title, key)).rowcount:
                raise Missing

    def put_into(self, key: str, folder: str) -> None:
        """Put a tune into a folder. Raises `Missing`."""
        with self._change() as connection:
            _there(connection, key)
            _card(connection, key, folder=folder)

    def copy(self, key: str, title: str) -> str:
        """A second one with the same decisions, in the same folder; title "": the same. Returns
        its id. Raises `Missing`."""
        record = self.get(key)
        return self.add(title or record.title, record.edition, record.facts, record.folder)

    def know(self, key: str, facts: Mapping[str, Any]) -> None:
        """Keep what the shelf shows of a tune."""
        with suppress(Missing), self._change() as connection:
            _there(connection, key)
            _card(connection, key, facts=facts)

    def without_facts(self) -> list[str]:
        """Tunes of which the shelf knows nothing yet."""
        with self._reading() as connection:
            return [key for key, in connection.execute(
                "SELECT id FROM tunes LEFT JOIN cards ON tune = id "
                "WHERE coalesce(facts, '{}') = '{}' ORDER BY changed_sec DESC")]

    def everything(self) -> list[KeptTune]:
        """All tunes with their states, last changed first. What cannot be read is left out."""
        with self._reading() as connection:
            connection.execute("BEGIN")
            rows = connection.execute("SELECT id, title, name, data, place, changed_sec, "
                                      "coalesce(folder, '') FROM tunes LEFT JOIN cards "
                                      "ON tune = id ORDER BY changed_sec DESC, id").fetchall()
            return [_kept(connection, *row) for row in rows]

    def add_all(self, tunes: Iterable[KeptTune]) -> int:
        """Put tunes on the shelf as they were on another: all or none. One that is there with
        other decisions is put beside it. Returns how many are new."""
        new = 0
        with self._change() as connection:
            for tune in tunes:
                key = tune.id
                if connection.execute("SELECT 1 FROM tunes WHERE id = ?", (key,)).fetchone():
                    there = _record(connection, key)
                    if (there.data, there.state) == (tune.data, tune.edition.decisions):
                        continue
                    key = secrets.token_hex(8)
                connection.execute("INSERT INTO tunes VALUES (?, ?, ?, ?, 1, ?, ?)", (
                    key, tune.title, tune.name, tune.data, tune.place, tune.changed_sec))
                connection.executemany(
                    "INSERT INTO states VALUES (?, ?, ?, ?)",
                    [(key, place, what, json.dumps(state.value()))
                     for place, what, state in tune.states])
                _card(connection, key, folder=tune.folder)
                new += 1
        return new

    def remove(self, key: str) -> None:
        """Raises `Missing`. Where the disk is full, the room kept for this is used."""
        try:
            self._remove(key)
        except StoreTrouble as trouble:
            if trouble.kind not in _NO_ROOM:
                raise
            self._room.unlink(missing_ok=True)
            self._remove(key)
        with suppress(sqlite3.Error):
            self._anchor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        self._keep_room()

    def _remove(self, key: str) -> None:
        with self._change() as connection:
            if not connection.execute("DELETE FROM tunes WHERE id = ?", (key,)).rowcount:
                raise Missing

    def get(self, key: str) -> Record:
        """Raises `Missing`."""
        with self._reading() as connection:
            connection.execute("BEGIN")
            return _record(connection, key)

    def touched_since(self, key: str, version: int) -> frozenset[str] | None:
        """What was decided otherwise since a version; None where that is not known any more."""
        with self._reading() as connection:
            now = connection.execute("SELECT version FROM tunes WHERE id = ?", (key,)).fetchone()
            rows = connection.execute("SELECT what FROM touched WHERE tune = ? AND version > ?",
                                      (key, version)).fetchall()
        if now is None or version > now[0] or len(rows) < now[0] - version:
            return None
        return frozenset(subject for what, in rows for subject in json.loads(what))

    def put(self, key: str, version: int, state: Decisions, what: str,
            touched: Collection[str] = ()) -> Record:
        """Save a new state, made from `version`. `what` says in a few words what changed,
        `touched` what is decided otherwise.

        Raises `Missing`, `Conflict`.
        """
        with self._change() as connection:
            place = _check(connection, key, version)
            connection.execute("DELETE FROM states WHERE tune = ? AND (place > ? OR place < ?)",
                               (key, place, place - KEPT_STATES))
            connection.execute("INSERT INTO states VALUES (?, ?, ?, ?)",
                               (key, place + 1, what, json.dumps(state.value())))
            _advance(connection, key, place + 1, touched)
            return _record(connection, key)

    def step(self, key: str, version: int, by: int,
             differences: Callable[[Decisions, Decisions], Collection[str]] = _nothing
             ) -> Record:
        """Undo (-1) or redo (+1); nothing happens at the end of the row.

        differences   says what is decided otherwise in another state

        Raises `Missing`, `Conflict`.
        """
        with self._change() as connection:
            place = _check(connection, key, version) + by
            if connection.execute("SELECT 1 FROM states WHERE tune = ? AND place = ?",
                                  (key, place)).fetchone():
                before = _record(connection, key).state
                touched = differences(before, _readable(connection, key, place)[0])
                _advance(connection, key, place, touched)
            return _record(connection, key)


def _kept(connection: sqlite3.Connection, key: str, title: str, name: str, data: bytes,
          place: int, changed_sec: float, folder: str) -> KeptTune:
    states = []
    for at, what, value in connection.execute("SELECT place, what, value FROM states WHERE "
                                              "tune = ? ORDER BY place", (key,)):
        with suppress(*_UNREADABLE):
            states.append((at, what, Decisions.read(json.loads(value))))
    if place not in {at for at, _, _ in states}:
        states.append((place, "", _readable(connection, key, place)[0]))
    return KeptTune(key, title, name, data, place, changed_sec,
                    tuple(sorted(states, key=lambda state: state[0])), folder)


def _check(connection: sqlite3.Connection, key: str, version: int) -> int:
    row = connection.execute("SELECT version, place FROM tunes WHERE id = ?", (key,)).fetchone()
    if row is None:
        raise Missing
    if row[0] != version:
        raise Conflict(row[0])
    return int(row[1])


def _advance(connection: sqlite3.Connection, key: str, place: int, touched: Collection[str]
             ) -> None:
    connection.execute("UPDATE tunes SET version = version + 1, place = ?, changed_sec = ? "
                       "WHERE id = ?", (place, time.time(), key))
    connection.execute("INSERT OR REPLACE INTO touched SELECT id, version, ? FROM tunes "
                       "WHERE id = ?", (json.dumps(sorted(touched)), key))
    connection.execute("DELETE FROM touched WHERE tune = ? AND version <= "
                       "(SELECT version FROM tunes WHERE id = ?) - ?", (key, key, KEPT_STATES))


def _there(connection: sqlite3.Connection, key: str) -> None:
    if connection.execute("SELECT 1 FROM tunes WHERE id = ?", (key,)).fetchone() is None:
        raise Missing


def _card(connection: sqlite3.Connection, key: str, *, folder: str | None = None,
          facts: Mapping[str, Any] | None = None) -> None:
    """Keep what is given of a tune's folder and facts."""
    connection.execute("INSERT OR IGNORE INTO cards VALUES (?, '', '{}')", (key,))
    if folder is not None:
        connection.execute("UPDATE cards SET folder = ? WHERE tune = ?", (folder, key))
    if facts is not None:
        connection.execute("UPDATE cards SET facts = ? WHERE tune = ?",
                           (json.dumps(dict(facts)), key))


def _decided(value: str | None) -> int:
    """How many gaps have a choice in a state."""
    try:
        return len(json.loads(value or "{}").get("picks", {}))
    except (ValueError, AttributeError, TypeError):
        return 0


def _record(connection: sqlite3.Connection, key: str) -> Record:
    row = connection.execute("SELECT title, name, data, version, place FROM tunes WHERE id = ?",
                             (key,)).fetchone()
    if row is None:
        raise Missing
    title, name, data, version, place = row
    near = dict(connection.execute(
        "SELECT place, what FROM states WHERE tune = ? AND place BETWEEN ? AND ?",
        (key, place - 1, place + 1)).fetchall())
    state, note = _readable(connection, key, place)
    folder, facts = connection.execute("SELECT folder, facts FROM cards WHERE tune = ?",
                                       (key,)).fetchone() or ("", "{}")
    return Record(key, title, name, data, version, state,
                  near.get(place, "") if place - 1 in near else "", near.get(place + 1, ""), note,
                  folder, json.loads(facts))


def _readable(connection: sqlite3.Connection, key: str, place: int) -> tuple[Decisions, str]:
    """The state at a place, or the last before it that can be read, and what is said of it."""
    for at, value in connection.execute("SELECT place, value FROM states WHERE tune = ? AND "
                                        "place <= ? ORDER BY place DESC", (key, place)):
        try:
            state = Decisions.read(json.loads(value))
        except _UNREADABLE:
            continue
        return state, "" if at == place else (
            "What was decided last could not be read; this is what was decided before it.")
    return Decisions(), "What was decided could not be read; nothing is decided now."
