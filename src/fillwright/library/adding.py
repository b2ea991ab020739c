"""Folders are added to the library: what is new or changed is read, by several processes.

Every file is one transaction, so that a run that ends in the middle, however it ends, has lost
nothing and the next one goes on. Files of the same size and date as before are not read again;
what has another date and the same bytes is not described again. A process that dies on a file is
replaced, and that file is refused.
"""

from __future__ import annotations

import hashlib
import multiprocessing
import os
import signal
import sqlite3
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any, TypeVar

from fillwright.errors import InputError, printable_name
from fillwright.library.describe import describe
from fillwright.library.folders import Sighting, sheets_below
from fillwright.library.shelving import (
    Known,
    TuneRead,
    forget_files,
    known_files,
    player_id,
    put_file,
    put_work,
    touch_file,
    unworked,
)
from fillwright.library.working import Work, work_out
from fillwright.tune.abc import abc_numbers
from fillwright.tune.read import file_bytes, read_bytes

__all__ = ["Added", "Each", "FileRead", "SheetTask", "Wish", "add_folders", "by_processes",
           "read_file",
           "work_sheets"]

T = TypeVar("T")
R = TypeVar("R")
Progress = Callable[[int, int], None]
Each = Callable[[Callable[[Any], Any], Sequence[Any], Callable[[Any], Any]], Iterator[Any]]
"""Who does some work: given what is to be done with a task, the tasks, and what is said of one on
which a process dies; gives the answers as they are ready."""

_AHEAD = 4
"""Files a process that are under way at most, so that memory does not grow with the shelf."""
_FEW = 12
"""Files that are read here: a process of its own takes a second to start."""


@dataclass(slots=True)
class Added:
    """What became of every file of some folders, by its path.

    refused  (path, sentence): what cannot be read, and tunes in a file that cannot
    copies   (path, title of the tune it is a copy of): the same music in any key
    """

    added: list[str] = field(default_factory=list)
    unchanged: list[str] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    refused: list[tuple[str, str]] = field(default_factory=list)
    copies: list[tuple[str, str]] = field(default_factory=list)
    worked: int = 0


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


@dataclass(frozen=True, slots=True)
class Wish:
    """For whom devices are worked out, and to which depth (see `working`)."""

    level: str
    hand: str
    depth: str


@dataclass(frozen=True, slots=True)
class _ToWork:
    """A sheet whose devices are worked out."""

    sheet: int
    content: str
    number: int
    path: str
    wish: Wish
    data: bytes | None = None


def _worked(task: _ToWork) -> tuple[int, Work | None]:
    """The devices of a sheet, None where its file has changed meanwhile."""
    path, wish = Path(task.path), task.wish
    try:
        data = file_bytes(path) if task.data is None else task.data
        if hashlib.sha256(data).hexdigest() != task.content.partition("#")[0]:
            return task.sheet, None
        tune = read_bytes(data, path.name, number=task.number or None)
        return task.sheet, work_out(tune, wish.level, wish.hand, wish.depth)
    except Exception:  # what cannot be worked out stays described
        return task.sheet, None


def add_folders(connection: sqlite3.Connection, places: Iterable[str | Path], *,
                each: Each | None = None, progress: Progress | None = None) -> Added:
    """Describe every new or changed sheet in and below some places; `each` does the work, here if
    it is None. Raises InputError for a place that is not there, and where the library cannot be
    written."""
    each = each or by_processes(1)
    roots = list(places)
    result = Added()
    known = known_files(connection)
    tasks, present = _looked(sheets_below(roots), known, result)
    for done, read in enumerate(each(read_file, tasks, _crashed), 1):
        _keep(connection, read, known, result)
        if progress is not None:
            progress(done, len(tasks))
    gone = _gone(known, roots, present, [path for path, _ in result.refused])
    forget_files(connection, gone)
    result.gone = [_printed(path) for path in gone]
    result.copies = _copies(connection, [*result.added, *result.changed])
    return result


def _looked(seen: Iterable[Sighting], known: dict[bytes, Known], result: Added
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
            result.unchanged.append(one.path)
        else:
            current = before is not None and before.is_like(
                Sighting(one.path, before.bytes, before.changed_ns))
            tasks.append(SheetTask(one, before.digest if before is not None and current else ""))
    return tasks, present


def _keep(connection: sqlite3.Connection, read: FileRead, known: dict[bytes, Known],
          result: Added) -> None:
    path = read.seen.path
    if not read.tunes:
        touch_file(connection, read.seen)
        result.unchanged.append(path)
        return
    put_file(connection, read.seen, read.digest, read.tunes)
    for tune in read.tunes:
        if tune.refused:
            name = path if not tune.number else f"{path}#{tune.number}"
            result.refused.append((name, tune.refused))
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


def work_sheets(connection: sqlite3.Connection, wish: Wish, *, each: Each | None = None,
                progress: Progress | None = None, only: frozenset[int] | None = None) -> int:
    """Work the devices of all sheets out that are not yet; `only` of some sheets. Returns how
    many sheets were worked out."""
    each = each or by_processes(1)
    player = player_id(connection, wish.level, wish.hand, make=True)
    tasks = [_ToWork(sheet, content, number, os.fsdecode(path), wish)
             for sheet, content, number, path in unworked(connection, player or 0, wish.depth)
             if only is None or sheet in only]
    count = 0
    for done, (sheet, work) in enumerate(
            each(_worked, tasks, lambda task: (task.sheet, None)), 1):
        if work is not None:
            put_work(connection, player or 0, sheet, work)
            count += 1
        if progress is not None:
            progress(done, len(tasks))
    return count


def _crashed(task: SheetTask) -> FileRead:
    return FileRead(task.seen, "", (TuneRead(0, None, "the program failed on this file"),))


def _printed(path: bytes) -> str:
    return printable_name(os.fsdecode(path))


def by_processes(processes: int) -> Each:
    """So many processes of this computer do it."""
    return partial(_each, processes=processes)


def _each(work: Callable[[T], R], tasks: Sequence[T], crashed: Callable[[T], R], *,
          processes: int) -> Iterator[R]:
    """What `work` makes of each task, as it is ready; `crashed` of those on which a process
    dies."""
    if processes == 1 or len(tasks) < _FEW:
        yield from map(work, tasks)
        return
    waiting = iter(tasks)
    suspects: list[T] = []
    while True:
        left = _through_pool(work, waiting, processes, suspects)
        yield from left
        if not suspects:
            return
        for task in suspects:  # one of them has killed a process: each in one of its own
            yield _alone(work, task, crashed)
        suspects.clear()


def _through_pool(work: Callable[[T], R], tasks: Iterator[T], processes: int, suspects: list[T]
                  ) -> Iterator[R]:
    """Until all tasks are done, or a process dies: then `suspects` are those under way."""
    with _pool(processes) as pool:
        under_way: dict[Future[R], T] = {}
        try:
            while _refill(pool, work, tasks, under_way, _AHEAD * processes):
                for future in wait(under_way, return_when=FIRST_COMPLETED).done:
                    answer = future.result()
                    del under_way[future]
                    yield answer
        except BrokenProcessPool:
            suspects += under_way.values()


def _refill(pool: ProcessPoolExecutor, work: Callable[[T], R], tasks: Iterator[T],
            under_way: dict[Future[R], T], most: int) -> bool:
    """Give the processes more to do; whether anything is under way then."""
    for task in islice(tasks, max(most - len(under_way), 0)):
        future: Future[R] = Future()
        under_way[future] = task  # a pool that breaks now has it among what was under way
        started = pool.submit(work, task)
        del under_way[future]
        under_way[started] = task
    return bool(under_way)


def _alone(work: Callable[[T], R], task: T, crashed: Callable[[T], R]) -> R:
    with _pool(1) as pool:
        try:
            return pool.submit(work, task).result()
        except BrokenProcessPool:
            return crashed(task)


def _pool(processes: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(processes, multiprocessing.get_context("spawn"),
                               initializer=_begin)


def _begin() -> None:
    """In a process of its own: it ends with the one that started it, which alone hears Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = os.getppid()

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(1)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
