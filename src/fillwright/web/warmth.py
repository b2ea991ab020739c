"""What is worked out while nobody asks for anything, so that it is there when somebody does."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from fillwright.edition.decisions import Pick
from fillwright.errors import InputError
from fillwright.fills.model import FAMILIES
from fillwright.web.pool import Cancelled, TooSlow, WorkerDied
from fillwright.web.store import Record

if TYPE_CHECKING:
    from fillwright.web.service import Ask, Service

__all__ = ["Warmth"]

SHOWN_OPTIONS = 3
"""Options of a family that are shown until more are asked for."""
NEAR = 3
"""Gaps that are made ready with their sound before the whole chorus is thought of."""


class Warmth:
    """One piece of it for each process that remembers tunes."""

    def __init__(self, service: Service) -> None:
        self._service = service
        self._tasks: dict[str, asyncio.Task[None]] = {}
        self._first: dict[str, int] = {}  # of each tune the gap that was opened last

    def begin(self, record: Record, first: int = 1) -> None:
        """Work out the options of an open tune, and how the first of each family sounds: gap
        `first` and those near it, that gap for the other levels too, then the options of all
        others, then the chorus."""
        self._first = {record.id: first}
        ask = self._service.ask(record)
        old = self._tasks.get(ask.worker.name)
        if old is not None:
            old.cancel()
        self._tasks[ask.worker.name] = asyncio.create_task(self._all(record, ask, first))

    def go_on(self, record: Record) -> None:
        """The same for what a tune has become, from the gap that was opened last."""
        self.begin(record, self._first.get(record.id, 1))

    def close(self) -> None:
        for task in self._tasks.values():
            task.cancel()

    async def _all(self, record: Record, ask: Ask, first: int) -> None:
        with suppress(InputError, TooSlow, WorkerDied, Cancelled):
            gaps = len((await self._idly(ask, "overview"))["gaps"])
            order = sorted(range(1, gaps + 1),
                           key=lambda number: (abs(number - first), -number))
            for number in order[:NEAR]:
                await self._one(record, number)
            for number in order[NEAR:]:
                for family in FAMILIES:
                    await self._idly(ask, "options", number, family, SHOWN_OPTIONS)
            while ask.worker.is_busy:
                await asyncio.sleep(0.02)
            await self._service.longwork.sound_of(record)
            if first <= gaps:
                for state in record.state.at_other_levels():
                    await self._one(replace(record, state=state), first)
            for number in order[NEAR:]:
                await self._one(record, number)

    async def _one(self, record: Record, number: int) -> None:
        ask = self._service.ask(record)
        for family in FAMILIES:
            page = await self._idly(ask, "options", number, family, SHOWN_OPTIONS)
            for fill in page["fills"][:1]:
                await self._idly(ask, "heard", number, Pick(fill["id"]),
                                 self._service.near(record.state, number))

    async def _idly(self, ask: Ask, task: str, *arguments: Any) -> Any:
        while ask.worker.is_busy:
            await asyncio.sleep(0.02)
        return await self._service.answer(ask, task, *arguments)
