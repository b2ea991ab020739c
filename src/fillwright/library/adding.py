"""Folders are added to the library: what is new or changed is read, by several processes.

Every file is one transaction, so that a run that ends in the middle, however it ends, has lost
nothing and the next one goes on. Files of the same size and date as before are not read again;
what has another date and the same bytes is not described again. A process that dies on a file is
replaced, and that file is refused.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from fillwright.errors import InputError, printable_name
from fillwright.library.describe import describe
from fillwright.library.folders import Sighting, sheets_below
from fillwright.library.processes import Each, by_processes
from fillwright.library.shelving import (
    Known,
    TuneRead,
    forget_files,
    known_files,
    named,
    put_file,
    refused_tunes,
    touch_file,
)
from fillwright.tune.abc import abc_numbers
from fillwright.tune.read import file_bytes

__all__ = ["Added", "FileRead", "SheetTask", "add_folders", "read_file"]

Progress = Callable[[int, int], None]


@dataclass(slots=True)
class Added:
    """What became of every file of some folders, by its path.

    refused  (path, sentence): what cannot be read, and tunes in a file that cannot, whether
             they were tried now or before
    copies   (path, title of the tune it is a copy of): the same music in any key
    """

    added: list[str] = field(default_factory=list)
    unchanged: list[str] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    refused: list[tuple[str, str]] = field(default_factory=list)
    copies: list[tuple[str, str]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class SheetTask:
    """A file to be read; `digest` is that of the bytes that are described already, or "". The
    bytes come along where the file cannot be read at the place of work."""

    seen: Sighting
    digest: str = ""
    data: bytes | None = None

    @property
    def path(self) -> str:
        return self.seen.path


@dataclass(frozen=True, slots=True)
class FileRead:
    """What was read of a file; `tunes` is empty where its bytes are those of before."""

    seen: Sighting
    digest: str
    tunes: tuple[TuneRead, ...]


def read_file(task: SheetTask) -> FileRead:
    """Read and describe all tunes of a file. Never raises for what is in the file."""
    path = Path(task.seen.path)
    try:
        data = file_bytes(path) if task.data is None else task.data
    except InputError as error:
        return FileRead(task.seen, "", (TuneRead(0, None, error.message),))
    digest = hashlib.sha256(data).hexdigest()
    if digest == task.digest:
        return FileRead(task.seen, digest, ())
    numbers = abc_numbers(data) if path.suffix.lower() == ".abc" else ()
    if len(numbers) < 2:
        return FileRead(task.seen, digest, (_described(data, path.name, None),))
    return FileRead(task.seen, digest, tuple(_described(data, path.name, n) for n in numbers))


def _described(data: bytes, name: str, number: int | None) -> TuneRead:
    try:
        return TuneRead(number or 0, describe(data, name, number))
    except InputError as error:
        return TuneRead(number or 0, None, error.message)
    except Exception as error:
        return TuneRead(number or 0, None, "the program failed on this tune "
                        f"({type(error).__name__}: {error})")


def add_folders(connection: sqlite3.Connection, places: Iterable[str | Path], *,
                each: Each | None = None, progress: Progress | None = None) -> Added:
    """Describe every new or changed sheet in and below some places; `each` does the work, here if
    it is None. Raises InputError for a place that is not there, and where the library cannot be
    written."""
    each = each or by_processes(1)
    roots = list(places)
    result = Added()
    known = known_files(connection)
    tasks, present = _looked(sheets_below(roots), known, refused_tunes(connection), result)
    for done, read in enumerate(each(read_file, tasks, _crashed), 1):
        _keep(connection, read, known, result)
        if progress is not None:
            progress(done, len(tasks))
    for paths in (result.added, result.changed, result.unchanged):
        paths.sort()  # whichever process was faster
    gone = _gone(known, roots, present, [path for path, _ in result.refused])
    forget_files(connection, gone)
    result.gone = [_printed(path) for path in gone]
    result.copies = _copies(connection, [*result.added, *result.changed])
    return result


def _looked(seen: Iterable[Sighting], known: dict[bytes, Known],
            refused: dict[bytes, list[TuneRead]], result: Added
            ) -> tuple[list[SheetTask], set[bytes]]:
    """The files to be read, and the paths of all that are there."""
    tasks: list[SheetTask] = []
    present: set[bytes] = set()
    for one in seen:
        path = os.fsencode(one.path)
        present.add(path)
        if one.trouble:
            result.refused.append((one.path, one.trouble))
            continue
        before = known.get(path)
        if before is not None and before.is_like(one):
            _tell_again(one.path, before, refused.get(path, []), result)
        else:
            current = before is not None and before.is_like(
                Sighting(one.path, before.bytes, before.changed_ns))
            tasks.append(SheetTask(one, before.digest if before is not None and current else ""))
    return tasks, present


def _tell_again(path: str, before: Known, refused: list[TuneRead], result: Added) -> None:
    """A file is as it was: a teacher who asks again is told again what is wrong with it."""
    result.refused += [(named(path, tune.number), tune.refused) for tune in refused]
    if len(refused) < before.tunes:
        result.unchanged.append(path)


def _keep(connection: sqlite3.Connection, read: FileRead, known: dict[bytes, Known],
          result: Added) -> None:
    path = read.seen.path
    if not read.tunes:
        touch_file(connection, read.seen)
        before = known[os.fsencode(path)]
        _tell_again(path, before, refused_tunes(connection, path).get(os.fsencode(path), []),
                    result)
        return
    put_file(connection, read.seen, read.digest, read.tunes)
    result.refused += [(named(path, tune.number), tune.refused) for tune in read.tunes
                       if tune.refused]
    if any(tune.facts is not None for tune in read.tunes):
        (result.changed if os.fsencode(path) in known else result.added).append(path)


def _gone(known: Iterable[bytes], roots: Sequence[str | Path], present: set[bytes],
          unread: Iterable[str]) -> list[bytes]:
    """Files that lay in and below these places and are there no more; what lies below a folder
    that cannot be read just now stays."""
    def inside(path: bytes, folders: Iterable[bytes]) -> bool:
        return any(path == folder or path.startswith(folder.rstrip(b"/") + b"/")
                   for folder in folders)

    here = [os.fsencode(os.path.abspath(root)) for root in roots]
    closed = [os.fsencode(path) for path in unread]
    return sorted(path for path in known if path not in present and inside(path, here)
                  and not inside(path, closed))


def _copies(connection: sqlite3.Connection, paths: Iterable[str]) -> list[tuple[str, str]]:
    found = []
    for path in paths:
        for title, in connection.execute(
                "SELECT other.title FROM files JOIN sheets ON sheets.id = files.sheet "
                "JOIN sheets AS other ON other.fingerprint = sheets.fingerprint AND other.first "
                "WHERE files.path = ?1 AND (NOT sheets.first OR EXISTS (SELECT 1 FROM files AS "
                "twin WHERE twin.sheet = sheets.id AND twin.path < ?1))", (os.fsencode(path),)):
            found.append((path, title))
    return found


def _crashed(task: SheetTask) -> FileRead:
    return FileRead(task.seen, "", (TuneRead(0, None, "the program failed on this file"),))


def _printed(path: bytes) -> str:
    return printable_name(os.fsdecode(path))
