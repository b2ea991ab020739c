"""Backups of the tunes, and saving what can be read of a damaged file.

A backup is a copy made by SQLite's own backup, checked before it takes its place; the last few
are kept, and any of them can be put in the place of the file again. Of a damaged file each row
that can be read is copied into a new one; what is lost is taken from the last backup where it has
it, and told. The damaged file itself is kept.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterable
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fillwright.web.database import connect, is_whole, migrate

__all__ = ["back_up", "backups_of", "restore", "salvage", "tunes_in"]

KEPT_BACKUPS = 7
EVERY_SEC = 24 * 3600.0
"""A backup is made when the last one is older than this and something has changed since."""

_FURTHER = 64
"""Rows are looked for so far beyond the last one known: what counts them may be damaged."""
_STATES_AROUND = 220
"""States are looked for so far around the last one."""

_Row = tuple[Any, ...]


def backups_of(path: Path) -> list[Path]:
    """The backups of a file, the newest first."""
    return sorted((path.parent / "backups").glob(f"{path.stem}-*{path.suffix}"), reverse=True)


def back_up(path: Path, now_sec: float | None = None, every_sec: float = EVERY_SEC) -> Path | None:
    """Make a backup if one is due, and forget the oldest. Returns it.

    Raises OSError, sqlite3.Error; then those that are there have not been touched.
    """
    now_sec = time.time() if now_sec is None else now_sec
    newest = next(iter(backups_of(path)), None)
    if newest is not None:
        made_sec = newest.stat().st_mtime
        changed_sec = max(part.stat().st_mtime for part in (path, _beside(path, "-wal"))
                          if part.exists())
        if now_sec - made_sec < every_sec or changed_sec <= made_sec:
            return None
    stamp = time.strftime("%Y-%m-%d-%H%M%S", time.localtime(now_sec))
    made = path.parent / "backups" / f"{path.stem}-{stamp}{path.suffix}"
    made.parent.mkdir(exist_ok=True)
    _copied(path, made)
    for old in backups_of(path)[KEPT_BACKUPS:]:
        old.unlink(missing_ok=True)
    return made


def _copied(path: Path, made: Path) -> None:
    """Copy a file that may be in use, and see whether the copy is whole."""
    part = made.with_suffix(".part")
    try:
        part.unlink(missing_ok=True)
        with closing(connect(path)) as source, closing(sqlite3.connect(part)) as target:
            source.backup(target)
            target.execute("PRAGMA journal_mode=DELETE")
        if not is_whole(part):
            raise sqlite3.DatabaseError("the copy is not whole")
        part.replace(made)
    finally:
        part.unlink(missing_ok=True)


def tunes_in(backup: Path) -> int | None:
    """How many tunes a backup has; None where it is damaged."""
    with suppress(sqlite3.Error), closing(connect(backup)) as connection:
        if is_whole(backup):
            return int(connection.execute("SELECT count(*) FROM tunes").fetchone()[0])
    return None


def restore(path: Path, backup: Path, now_sec: float | None = None) -> Path | None:
    """Put a backup in the place of the file, also while a page has that open. Returns where is
    kept what was there: None where nothing was.

    Raises OSError, sqlite3.Error; then the file is as it was.
    """
    stamp = time.strftime("%Y%m%d-%H%M%S", time.localtime(now_sec))
    try:
        whole = path.exists() and is_whole(path)
    except sqlite3.DatabaseError:
        whole = False
    if not whole:
        kept = _set_aside(path, path.with_name(f"{path.stem}.damaged-{stamp}{path.suffix}"))
        _copied(backup, path)
        return kept
    kept = path.with_name(f"{path.stem}.before-{stamp}{path.suffix}")
    _copied(path, kept)
    with closing(connect(backup)) as source, closing(connect(path)) as target:
        source.backup(target)
        migrate(target)  # a page that has it open knows only the newest tables
    return kept


def _set_aside(path: Path, kept: Path) -> Path | None:
    """Move a file away, with its log."""
    there = path.exists()
    for ending in ("", "-wal"):
        if _beside(path, ending).exists():
            _beside(path, ending).replace(_beside(kept, ending))
    _beside(path, "-shm").unlink(missing_ok=True)
    return kept if there else None


def _beside(path: Path, ending: str) -> Path:
    return path.with_name(path.name + ending)


# --- a damaged file ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Tune:
    """What can be read of a tune: its row ("" as title where even that cannot be read), None
    where the sheet is lost; and its states."""

    title: str
    row: _Row | None
    states: tuple[_Row, ...] = ()


def salvage(path: Path, now_sec: float | None = None) -> list[str]:
    """Put a new file in the place of a damaged one, with every row that can be read.

    Returns a sentence for the whole, and one for each thing that is lost or older. Raises
    OSError, sqlite3.Error; then nothing has been moved.
    """
    stamp = time.strftime("%Y%m%d-%H%M%S", time.localtime(now_sec))
    kept = path.with_name(f"{path.stem}.damaged-{stamp}{path.suffix}")
    fresh = _beside(path, ".new")
    found = _read(path)
    older: dict[str, _Tune] = {}
    backup = next(iter(backups_of(path)), None)
    if backup is not None:
        older = {tune.row[0]: tune for tune in _read(backup) if tune.row is not None}
    said = [f"The file of the tunes was damaged. What could be read is here again; the damaged "
            f"file is kept as {kept.name}."]
    saved, lost = _sorted_out(found, older, backup)
    _write(fresh, saved)
    _set_aside(path, kept)
    fresh.replace(path)
    return [*said, *(lost or ["Nothing is lost."])]


def _sorted_out(found: Iterable[_Tune], older: dict[str, _Tune], backup: Path | None
                ) -> tuple[list[_Tune], list[str]]:
    """The tunes of the new file, and what is said of those that are lost or older."""
    name = getattr(backup, "name", "")
    saved: list[_Tune] = []
    said: list[str] = []
    taken: set[str] = set()
    lost: list[str] = []
    for tune in found:
        if tune.row is None:
            lost.append(tune.title)
            continue
        key, place = tune.row[0], tune.row[5]
        states = {state[1]: state for state in tune.states}
        if place not in states:
            before = older[key].states if key in older else ()
            states = {state[1]: state for state in before if state[1] <= place} | states
            said.append(f"{tune.title}: " + (
                f"what was decided is here as it was in {name}." if place in states else
                "the last decisions are lost, those before are here." if states else
                "the sheet is here, what was decided is lost."))
            place = place if place in states else max(states, default=place)
        saved.append(_Tune(tune.title, (*tune.row[:5], place, tune.row[6]),
                           tuple(states.values())))
        taken.add(key)
    for key, tune in older.items():
        if key not in taken and (lost or not taken):
            saved.append(tune)
            lost = [title for title in lost if title != tune.title]
            said.append(f"{tune.title}: it is here as it was in {name}.")
    said += [f"{title or 'A tune whose title cannot be read'}: it is lost." for title in lost]
    return saved, said


def _read(path: Path) -> list[_Tune]:
    with closing(connect(path)) as connection:
        return [_tune(connection, row) for row in _row_ids(connection)
                if _there(connection, row)]


def _asked(connection: sqlite3.Connection, question: str, *values: Any) -> list[_Row] | None:
    """The rows of an answer; None where the page they are on is damaged."""
    try:
        return list(connection.execute(question, values).fetchall())
    except sqlite3.DatabaseError:
        return None


def _row_ids(connection: sqlite3.Connection) -> list[int]:
    """Row numbers of tunes: those of the index and of the table, from either end, and those
    that may be between."""
    known: set[int] = set()
    for question in ("SELECT rowid FROM tunes ORDER BY id",
                     "SELECT rowid FROM tunes NOT INDEXED ORDER BY rowid",
                     "SELECT rowid FROM tunes NOT INDEXED ORDER BY rowid DESC"):
        with suppress(sqlite3.DatabaseError):
            for row in connection.execute(question):
                known.add(row[0])
    return sorted(known | set(range(1, max(known, default=0) + _FURTHER)))


def _there(connection: sqlite3.Connection, row: int) -> bool:
    """Whether there is such a row, readable or not."""
    found = _asked(connection, "SELECT rowid FROM tunes NOT INDEXED WHERE rowid = ?", row)
    if found:
        return True
    listed = _asked(connection, "SELECT 1 FROM tunes WHERE rowid = ? ORDER BY id", row)
    indexed = _asked(connection, "SELECT rowid FROM tunes ORDER BY id")
    return found is None and (bool(listed) or (row,) in (indexed or []))


def _tune(connection: sqlite3.Connection, row: int) -> _Tune:
    found = _asked(connection, "SELECT id, title, name, data, version, place, changed_sec "
                   "FROM tunes NOT INDEXED WHERE rowid = ?", row)
    if not found:
        title = _asked(connection, "SELECT title FROM tunes NOT INDEXED WHERE rowid = ?", row)
        return _Tune(str(title[0][0]) if title else "", None)
    key, title_, *_, place, _ = found[0]
    states = _asked(connection, "SELECT tune, place, what, value FROM states WHERE tune = ?", key)
    if states is None:
        states = []
        for at in range(max(0, place - _STATES_AROUND), place + _STATES_AROUND):
            states += _asked(connection, "SELECT tune, place, what, value FROM states "
                             "WHERE tune = ? AND place = ?", key, at) or []
    return _Tune(title_, found[0], tuple(states))


def _write(path: Path, tunes: Iterable[_Tune]) -> None:
    path.unlink(missing_ok=True)
    with closing(connect(path)) as connection:
        migrate(connection)
        connection.execute("BEGIN")
        for tune in tunes:
            connection.execute("INSERT OR IGNORE INTO tunes VALUES (?, ?, ?, ?, ?, ?, ?)",
                               tune.row or ())
            connection.executemany("INSERT OR IGNORE INTO states VALUES (?, ?, ?, ?)",
                                   tune.states)
        connection.execute("COMMIT")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.execute("PRAGMA journal_mode=DELETE")
