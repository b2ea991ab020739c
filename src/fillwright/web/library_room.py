"""The library on the page: files that are brought, questions, and the way from a gap to the shelf.

The library is the file that `fillwright library` uses as well, beside the shelf's own. Files that
are brought here are kept in the folder `sheets` beside it. Every tune of the shelf lies there too,
in `sheets/shelf`, under its id: so all of them are in the library, and are taken out when they
are taken off the shelf. All is read and worked out in processes of their own.
"""

from __future__ import annotations

import asyncio
import os
import threading
from collections.abc import Callable, Collection, Hashable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from fillwright.errors import InputError
from fillwright.library import (
    FILE_NAME,
    SUFFIXES,
    Counts,
    FoundGap,
    Lesson,
    Library,
    Question,
    added_document,
    answer_document,
    describe,
    gap_document,
    left_document,
    order_document,
    order_lessons,
    still_to_teach,
)
from fillwright.tune.abc import abc_tune
from fillwright.tune.read import file_bytes
from fillwright.web.bringing import Bringing
from fillwright.web.jobs import Job, Jobs, Shared
from fillwright.web.pool import Cancelled
from fillwright.web.store import Missing, Store

__all__ = ["LibraryRoom"]

_LISTED = 40
"""Tunes that are worked out for one list at most."""
MOST_STEPS = 60
Progress = Callable[[int, int], None]
Work = Callable[[Library, Progress], dict[str, Any]]


class LibraryRoom:
    """`folder`: where the page keeps all it has."""

    def __init__(self, folder: Path, store: Store, bringing: Bringing, jobs: Jobs) -> None:
        self._path = folder / FILE_NAME
        self._sheets = folder / "sheets"
        self._of_shelf = self._sheets / "shelf"
        self._store, self._bringing, self._jobs = store, bringing, jobs
        self._closing = threading.Event()
        self._keeping = asyncio.Lock()

    def close(self) -> None:
        """What is under way ends with the sheet it is at."""
        self._closing.set()

    # --- files ------------------------------------------------------------------------------

    async def keep(self, files: Sequence[tuple[str, bytes]]) -> int:
        """Keep files that are brought; one that is there already, under whatever name, is not
        kept twice. Returns how many are new. Raises InputError for what cannot be written."""
        async with self._keeping:
            return await asyncio.to_thread(self._keep, files)

    def _keep(self, files: Sequence[tuple[str, bytes]]) -> int:
        new = 0
        try:
            self._sheets.mkdir(parents=True, exist_ok=True)
            there = {path.stat().st_size for path in self._sheets.iterdir() if path.is_file()}
            for name, data in files:
                if len(data) in there and self._has(data):
                    continue
                _write(_free(self._sheets / name), data)
                there.add(len(data))
                new += 1
        except OSError as error:
            raise InputError(f"the files cannot be kept: {error.strerror or error}") from error
        return new

    def _has(self, data: bytes) -> bool:
        return any(path.is_file() and path.stat().st_size == len(data)
                   and path.read_bytes() == data for path in self._sheets.iterdir())

    def _mirror(self) -> None:
        """The tunes of the shelf as files, those that were taken off no more."""
        self._of_shelf.mkdir(parents=True, exist_ok=True)
        there = {path.stem: path for path in self._of_shelf.iterdir()}
        standing = {str(tune["id"]): str(tune["name"]) for tune in self._store.shelf()}
        for key in standing.keys() - there.keys():
            with suppress(Missing):
                suffix = Path(standing[key]).suffix.lower()
                _write(self._of_shelf / f"{key}{suffix if suffix in SUFFIXES else '.abc'}",
                       self._store.get(key).data)
        for key in there.keys() - standing.keys():
            there[key].unlink(missing_ok=True)

    # --- long work --------------------------------------------------------------------------

    def add(self) -> Job:
        """Take in all files that were brought, and the tunes of the shelf."""
        def work(shelf: Library, progress: Progress) -> dict[str, Any]:
            self._mirror()
            added = shelf.add([self._sheets], processes=_processes(), progress=progress)
            for path, _ in added.refused:  # what is no sheet is told once, and not kept
                if Path(path).parent == self._sheets:
                    Path(path).unlink(missing_ok=True)
            told = added_document(added)
            here = str(self._of_shelf)
            return {"added": sum(not path.startswith(here) for path in added.added),
                    "copies": [{**one, "tune": Path(one["tune"]).name} for one in told["copies"]
                               if not one["tune"].startswith(here)],
                    "refused": [{**one, "tune": Path(one["tune"]).name}
                                for one in told["refused"] if not one["tune"].startswith(here)]}

        return self._start(work, "add", "job_library_reading")

    def list_out(self, question: Question) -> Job:
        """Work out what a question lists."""
        def work(shelf: Library, progress: Progress) -> dict[str, Any]:
            shelf.find(question, working=_LISTED, processes=_processes(), progress=progress)
            return {}

        return self._start(work, ("list", repr(question)), "job_library_working")

    def work_out(self, level: str, hand: str) -> Job:
        """Work out the whole library for a player."""
        def work(shelf: Library, progress: Progress) -> dict[str, Any]:
            worked = shelf.work_out(level, hand, processes=_processes(), progress=progress)
            return {"tunes": worked.tunes, "failed": [
                {"tune": Path(path).name, "reason": reason} for path, reason in worked.failed]}

        return self._start(work, ("work", level, hand), "job_library_working")

    def _start(self, work: Work, key: Hashable, what: str) -> Job:
        async def run(job: Shared) -> dict[str, Any]:
            loop = asyncio.get_running_loop()
            job.progress(what, 0, 0)

            def progress(done: int, total: int) -> None:
                if self._closing.is_set() or job.cancel.is_set():
                    raise Cancelled
                loop.call_soon_threadsafe(job.progress, what, done, total)

            def done() -> dict[str, Any]:
                with Library(self._path, apart=True) as shelf:
                    return work(shelf, progress)

            return await asyncio.to_thread(done)

        return self._jobs.start(run, ("library", key))

    # --- questions --------------------------------------------------------------------------

    async def state(self) -> dict[str, Any]:
        """How much there is, and how many tunes of the shelf are not in it yet."""
        return await asyncio.to_thread(self._state)

    def _state(self) -> dict[str, Any]:
        standing = {str(tune["id"]) for tune in self._store.shelf()}
        there = {path.stem for path in self._of_shelf.iterdir()} if (
            self._of_shelf.is_dir()) else set()
        with Library(self._path) as shelf:
            return {"tunes": len(shelf), "gaps": shelf.find(Question(count=1)).total,
                    "waiting": len(standing ^ there)}

    async def ask(self, question: Question) -> dict[str, Any]:
        """The gaps that answer a question, and what each further choice would leave."""
        def asked() -> dict[str, Any]:
            with Library(self._path) as shelf:
                answer, counts = shelf.find(question), shelf.counts(question)
            return {**answer_document(question, answer), "gaps": _gaps(answer.gaps),
                    **_counts(counts)}

        return await asyncio.to_thread(asked)

    async def like(self, key: str, number: int, question: Question) -> dict[str, Any]:
        """The gaps most like one of a tune on the shelf. Raises InputError, Missing."""
        def asked() -> dict[str, Any]:
            record = self._store.get(key)
            sheet = describe(record.data, record.name)
            if number > len(sheet.gaps):
                raise InputError(f"there is no gap {number}")
            with Library(self._path) as shelf:
                found = shelf.like(sheet.gaps[number - 1], question,
                                   fingerprint=sheet.fingerprint)
            gap = sheet.gaps[number - 1]
            return {"of": {"title": record.title, "number": number, "bar": gap.bar,
                           "beat": gap.beat}, "gaps": _gaps(found)}

        return await asyncio.to_thread(asked)

    async def order(self, level: str, hand: str, known: Collection[str]) -> dict[str, Any]:
        """An order of tunes in which each brings something new, with what each has left then."""
        def asked() -> dict[str, Any]:
            with Library(self._path) as shelf:
                lessons = shelf.lessons(level, hand)
                unworked = shelf.find(Question(level=level, hand=hand, count=1)).unworked
            steps = order_lessons(lessons, known, most=MOST_STEPS)
            told = order_document(steps)["steps"]
            met = set(known)
            for one, step in zip(told, steps, strict=True):
                met |= {brings.device for brings in step.new}
                one["sheet"] = int(step.lesson.key)
                one["left"] = left_document(still_to_teach(step.lesson, met))["devices"]
            return {"steps": told, "unworked": unworked, "devices": _devices(lessons)}

        return await asyncio.to_thread(asked)

    # --- to the shelf -----------------------------------------------------------------------

    async def open(self, sheet: int, level: str, hand: str) -> str:
        """The id of a tune on the shelf, where it is brought for a player if it is not there.
        Raises InputError."""
        there, name, data = await asyncio.to_thread(self._where, sheet)
        return there or await self._bringing.bring(data, name, level, hand)

    def _where(self, sheet: int) -> tuple[str, str, bytes]:
        """The tune's id on the shelf; "" where it is not, with the name and bytes of its file."""
        with Library(self._path) as shelf:
            files = shelf.files_of(sheet)
        self._mirror()
        for path, _ in files:
            if path.parent == self._of_shelf and path.is_file():
                return path.stem, "", b""
        for path, number in files:
            with suppress(InputError):
                data = file_bytes(path)
                data = abc_tune(data, number) if number else data
                for other in self._of_shelf.iterdir():  # it may have come there just now
                    if other.stat().st_size == len(data) and other.read_bytes() == data:
                        return other.stem, "", b""
                return "", path.name, data
        raise InputError("the file of this tune is no longer there; bring it again")


def _processes() -> int:
    """Half of this computer's: the page is to be quick meanwhile."""
    return max(1, (os.cpu_count() or 1) // 2)


def _write(path: Path, data: bytes) -> None:
    """All of it or nothing."""
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(data)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def _free(path: Path) -> Path:
    """A name that no other file has."""
    number, free = 2, path
    while free.exists():
        free = path.with_stem(f"{path.stem} {number}")
        number += 1
    return free


def _gaps(gaps: Sequence[FoundGap]) -> list[dict[str, Any]]:
    """As in the JSON of `library find`, with the sheet's number instead of a path."""
    return [{**gap_document(gap), "sheet": gap.sheet, "tune": ""} for gap in gaps]


def _counts(counts: Counts) -> dict[str, Any]:
    return {"choices": {name: [[one.value, one.count] for one in choices]
                        for name, choices in counts.choices.items()},
            "picture": {"rows": counts.picture.rows, "columns": counts.picture.columns,
                        "cells": counts.picture.cells}}


def _devices(lessons: Sequence[Lesson]) -> list[str]:
    return sorted({device for lesson in lessons for device in lesson.devices})
