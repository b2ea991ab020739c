"""The whole chorus, and files to take away: long work, watched, cancelled, shared."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fillwright.edition.decisions import Decisions
from fillwright.errors import InputError
from fillwright.web.jobs import Job, Shared
from fillwright.web.store import Record

if TYPE_CHECKING:
    from fillwright.web.service import Ask, Service

__all__ = ["EXPORTS", "KINDS", "LongWork"]

LONG_SEC = 300.0
MOST_JOBS = 60
EXPORTS = ("pdf", "musicxml", "mid", "flac", "json", "lead.pdf", "blank.pdf", "hands.pdf")
KINDS = ("sound", "chorus", *EXPORTS)
"""What can be made: how the chorus sounds, the same with its pages, files."""
_OF_THE_SHEET = ("lead.pdf", "blank.pdf")
"""These need no fills."""


class LongWork:
    def __init__(self, service: Service) -> None:
        self._service = service

    def start(self, record: Record, kind: str) -> Job:
        """Begin with one of `KINDS`. Raises InputError."""
        service = self._service
        piano = service.room.pianos.played()
        if service.jobs.running >= MOST_JOBS:
            raise InputError("too much is being worked out at once; try again in a moment")
        ask, decisions = service.ask(record), record.state
        if kind not in EXPORTS:
            return service.jobs.start(lambda job: self._chorus(record, kind, job),
                                      (ask.key, repr(decisions), kind))

        async def work(job: Shared) -> Any:
            if kind not in _OF_THE_SHEET:
                await self._ready(ask, decisions, job)
            return await ask.worker.run("export", ask.sheet, decisions, kind, piano.path,
                                        limit_sec=LONG_SEC, progress=job.progress,
                                        cancel=job.cancel)

        return service.jobs.start(work, (ask.key, repr(decisions), kind, piano.mark))

    async def sound_of(self, record: Record) -> Any:
        """How the chorus sounds, worked out for nobody in particular."""
        return await self._chorus(record, "sound", Shared())

    async def _chorus(self, record: Record, kind: str, job: Shared) -> Any:
        service = self._service
        ask, decisions = service.ask(record), record.state
        key = (ask.key, kind, repr(decisions))
        kept = service.known(key)
        if kept is not None:
            return kept
        await self._ready(ask, decisions, job)
        result, rest = await ask.worker.run(kind, ask.sheet, decisions, limit_sec=LONG_SEC,
                                            progress=job.progress, cancel=job.cancel)
        service.remember(key, result)
        if service.chosen(record) is None:
            service.remember((ask.key, "chosen", repr(decisions)), (rest, result["fills"]))
            service.events.publish(record.id, {"version": record.version, "chosen": True})
        return result

    async def decide(self, ask: Ask, task: str, state: Decisions, *arguments: Any) -> Any:
        """A choice that the worker makes: other decisions."""
        return await ask.worker.run(task, ask.sheet, state, *arguments, limit_sec=LONG_SEC)

    async def _ready(self, ask: Ask, decisions: Decisions, job: Shared) -> None:
        """Work out what is missing one by one, so that others may ask in between."""
        missing = await ask.worker.run("missing", ask.sheet, decisions, limit_sec=LONG_SEC,
                                       cancel=job.cancel)
        for place, (number, family) in enumerate(missing):
            job.progress("job_gaps", place, len(missing))
            await ask.worker.run("ready", ask.sheet, number, family, limit_sec=LONG_SEC,
                                 cancel=job.cancel)
