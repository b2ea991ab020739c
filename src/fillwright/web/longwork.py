"""The whole chorus, and files to take away: long work, watched, cancelled, shared."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from fillwright.edition.decisions import Decisions
from fillwright.errors import InputError
from fillwright.score import Printing
from fillwright.take import NotHeard
from fillwright.web.jobs import Job, Shared
from fillwright.web.pool import Cancelled
from fillwright.web.store import Missing, Record
from fillwright.web.takes import KeptTake

if TYPE_CHECKING:
    from fillwright.web.service import Ask, Service

__all__ = ["EXPORTS", "KINDS", "LongWork"]

LONG_SEC = 300.0
MOST_JOBS = 60
MOST_COMPARED = 200
"""Tunes of the shelf, the last changed first, that a take of another tune is compared with."""
EXPORTS = ("pdf", "musicxml", "mid", "flac", "json", "lead.pdf", "blank.pdf", "hands.pdf")
KINDS = ("sound", "pages", "drill", *EXPORTS)
"""What can be made: how the chorus sounds, its pages, what would work in each gap, files."""
_OF_THE_SHEET = ("lead.pdf", "blank.pdf")
"""These need no fills."""


class LongWork:
    def __init__(self, service: Service) -> None:
        self._service = service
        self._engraving = asyncio.Lock()

    def start(self, record: Record, kind: str, printing: Printing) -> Job:
        """Begin with one of `KINDS`. Raises InputError."""
        service = self._service
        piano = service.room.pianos.played()
        self._check_room()
        ask, decisions = service.ask(record), record.state
        if kind not in EXPORTS:
            if kind != "pages":
                make = self._sound if kind == "sound" else self._drill
                return service.jobs.start(lambda job: make(record, job),
                                          (ask.key, repr(decisions), kind))
            return service.jobs.start(lambda job: self._pages(record, job, printing),
                                      (ask.key, repr(decisions), kind, printing))

        async def work(job: Shared) -> Any:
            if kind not in _OF_THE_SHEET:
                await self._ready(ask, decisions, job)
            return await ask.worker.run("export", ask.sheet, decisions, kind, printing,
                                        piano.path, limit_sec=LONG_SEC, progress=job.progress,
                                        cancel=job.cancel)

        return service.jobs.start(work, (ask.key, repr(decisions), kind, printing, piano.mark))

    def hear(self, record: Record, take: KeptTake, data: bytes, language: str | None) -> Job:
        """Begin to hear a take against the tune as it stands; with a language, to print what is
        heard. Raises InputError."""
        service = self._service
        self._check_room()
        ask, decisions = service.ask(record), record.state
        key = (ask.key, "take", repr(decisions), take.id, language)
        task, more = ("heard_take", ()) if language is None else ("printed_take", (language,))

        async def work(job: Shared) -> Any:
            kept = service.known(key)
            if kept is None:
                await self._ready(ask, decisions, job)
                try:
                    kept = await ask.worker.run(task, ask.sheet, decisions, data, take.name,
                                                *more, limit_sec=LONG_SEC,
                                                progress=job.progress, cancel=job.cancel)
                except NotHeard as error:
                    return {"not_heard": str(error),
                            "fits": await self._fitting(record, take.name, data, ask, job)}
                if take.notes and isinstance(kept, dict):
                    kept = {**kept, "warnings": [*take.notes, *kept["warnings"]]}
                service.remember(key, kept)
            return kept

        return service.jobs.start(work, key)

    async def _fitting(self, record: Record, name: str, data: bytes, ask: Ask, job: Shared
                       ) -> dict[str, str] | None:
        """The tune of the shelf that a take is of, where it is not this one."""
        store = self._service.store
        others = [row["id"] for row in await asyncio.to_thread(store.shelf)
                  if row["id"] != record.id][:MOST_COMPARED]
        records = {}
        for key in others:
            with suppress(Missing):  # taken off the shelf meanwhile
                records[key] = await asyncio.to_thread(store.get, key)
        best = await ask.worker.run(
            "fitting_tune", data, name, {key: one.edition for key, one in records.items()},
            limit_sec=LONG_SEC, progress=job.progress, cancel=job.cancel)
        return None if best is None else {"id": best, "title": records[best].title}

    def _check_room(self) -> None:
        if self._service.jobs.running >= MOST_JOBS:
            raise InputError("too much is being worked out at once; try again in a moment")

    async def sound_of(self, record: Record) -> None:
        """How the chorus sounds, worked out for nobody in particular: who asks for it meanwhile
        shares the work. Given up by cancelling, it stops as a job does, between two pieces."""
        job = self.start(record, "sound", Printing())
        try:
            while job.state == "running":
                await self._service.jobs.wait(job, LONG_SEC)
        finally:
            job.cancel.set()

    async def _sound(self, record: Record, job: Shared) -> dict[str, Any]:
        """The chorus itself is not stopped once it is begun, as a choice made meanwhile would:
        what the process knows of the tune would be lost."""
        service = self._service
        ask, decisions = service.ask(record), record.state
        key = (ask.key, "sound", repr(decisions))
        kept: dict[str, Any] | None = service.known(key)
        if kept is not None:
            return kept
        await self._ready(ask, decisions, job)
        result: dict[str, Any]
        result, rest = await ask.worker.run("sound", ask.sheet, decisions, limit_sec=LONG_SEC,
                                            progress=job.progress)
        service.remember(key, result)
        if service.chosen(record) is None:
            service.remember((ask.key, "chosen", repr(decisions)), (rest, result["fills"]))
            service.events.publish(record.id, {"version": record.version, "chosen": True})
        return result

    async def _pages(self, record: Record, job: Shared, printing: Printing) -> dict[str, Any]:
        """Engraved by a process of its own, so that whoever asks for a gap meanwhile does not
        wait. Once begun it is not stopped: the process would be lost."""
        service = self._service
        ask, decisions = service.ask(record), record.state
        key = (ask.key, "pages", repr(decisions), printing)
        kept: dict[str, Any] | None = service.known(key)
        if kept is not None:
            return kept
        await self._sound(record, job)
        if job.cancel.is_set():
            raise Cancelled
        view = await ask.worker.run("view", ask.sheet, decisions, printing, limit_sec=LONG_SEC,
                                    progress=job.progress)
        job.progress("job_engraving", 0, 1)
        async with self._engraving:
            if job.cancel.is_set():
                raise Cancelled
            made = {"pages": await service.pool.press.run("pages", view, limit_sec=LONG_SEC)}
        service.remember(key, made)
        return made

    async def _drill(self, record: Record, job: Shared) -> dict[str, Any]:
        service = self._service
        ask = service.ask(record)
        kept: dict[str, Any] | None = service.known((ask.key, "drill"))
        if kept is not None:
            return kept
        await self._ready(ask, ask.sheet.decisions, job)
        made: dict[str, Any] = await ask.worker.run(
            "drill", ask.sheet, limit_sec=LONG_SEC, progress=job.progress, cancel=job.cancel)
        service.remember((ask.key, "drill"), made)
        return made

    def many(self, task: str, key: str, value: dict[str, Any], records: Mapping[str, Record]
             ) -> Job:
        """Begin with work on several tunes. Raises InputError."""
        service = self._service
        self._check_room()
        editions = {name: replace(record.edition, decisions=record.state)
                    for name, record in records.items()}
        worker = service.pool.worker_for(key)

        async def work(job: Shared) -> Any:
            return await worker.run(task, value, editions, limit_sec=LONG_SEC,
                                    progress=job.progress, cancel=job.cancel)

        return service.jobs.start(work)

    async def decide(self, ask: Ask, task: str, state: Decisions, *arguments: Any) -> Any:
        """A choice that the worker makes: other decisions."""
        return await ask.worker.run(task, ask.sheet, state, *arguments, limit_sec=LONG_SEC)

    async def _ready(self, ask: Ask, decisions: Decisions, job: Shared) -> None:
        """Work out what is missing one by one, so that others may ask in between. It is stopped
        in between too: what the process has worked out would be lost with it."""
        missing = await ask.worker.run("missing", ask.sheet, decisions, limit_sec=LONG_SEC,
                                       progress=job.progress)
        for place, (number, family) in enumerate(missing):
            if job.cancel.is_set():
                raise Cancelled
            job.progress("job_gaps", place, len(missing))
            await ask.worker.run("ready", ask.sheet, number, family, limit_sec=LONG_SEC)
