"""Between the routes and the work: the store, the workers, and what has been worked out.

Answers are kept by what they depend on (the bytes of the sheet, corrections, settings), so
that nothing has to be thrown away when a setting changes, and going back costs nothing.
"""

from __future__ import annotations

import asyncio
import hashlib
from collections import OrderedDict
from collections.abc import Hashable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from fillwright.arranging.model import Chosen
from fillwright.edition.decisions import Decisions, Pick
from fillwright.edition.model import Edition
from fillwright.errors import InputError
from fillwright.fills.model import FAMILIES
from fillwright.take.recording import OpenEar, open_piano_ear
from fillwright.web.bringing import Bringing
from fillwright.web.changes import BadChord, Changes
from fillwright.web.events import Events
from fillwright.web.facts import facts_of
from fillwright.web.jobs import Jobs
from fillwright.web.library_room import LibraryRoom
from fillwright.web.longwork import LONG_SEC, LongWork
from fillwright.web.pianos import Pianos
from fillwright.web.pool import Cancelled, Pool, TooSlow, Worker, WorkerDied
from fillwright.web.recordings import Recordings
from fillwright.web.room import PianoRoom
from fillwright.web.store import Record, Store
from fillwright.web.takes import Takes
from fillwright.web.warmth import SHOWN_OPTIONS, Warmth

__all__ = ["SHOWN_OPTIONS", "Ask", "BadChord", "Service"]

QUICK_SEC = 30.0
KEPT_ANSWERS = 1200
BACKUP_LOOK_SEC = 3600.0
"""How often it is looked whether a backup is due."""
NEAR_GAPS = 3
"""Gaps to either side that can reach into the bars around one: a gap has two beats or more."""

_OPEN = Pick("open")


@dataclass(frozen=True, slots=True)
class Ask:
    """An edition without its choices as the workers want it, its key, and the worker that
    knows it."""

    sheet: Edition
    key: str
    worker: Worker


class Service:
    """
    pianos    those that can be chosen
    open_ear  gets what hears recordings ready
    """

    def __init__(self, store: Store, pool: Pool, pianos: Pianos,
                 open_ear: OpenEar = open_piano_ear) -> None:
        self.store = store
        self.pool = pool
        self.room = PianoRoom(pianos, pool)
        self.takes = Takes(store.path.parent / "takes")
        self.jobs = Jobs()
        self.recordings = Recordings(store.path.parent / "listening", self.takes, self.jobs,
                                     open_ear)
        self.events = Events()
        self.bringing = Bringing(store, pool)
        self.library = LibraryRoom(store.path.parent, store, self.bringing, self.jobs)
        self.changes = Changes(self)
        self.longwork = LongWork(self)
        self.warmth = Warmth(self)
        self._answers: OrderedDict[Hashable, asyncio.Future[Any]] = OrderedDict()
        self._waking: list[asyncio.Task[None]] = []

    def wake(self) -> None:
        """Start the workers before anybody needs them."""
        async def one(worker: Worker) -> None:
            with suppress(TooSlow, WorkerDied, Cancelled):
                await worker.run("wake", limit_sec=LONG_SEC)

        for worker in self.pool.all:
            self._waking.append(asyncio.create_task(one(worker)))
        self._waking.append(asyncio.create_task(self._back_up()))
        self._waking.append(asyncio.create_task(self._learn_facts()))

    async def _back_up(self) -> None:
        while True:
            await asyncio.to_thread(self.store.back_up)
            await asyncio.sleep(BACKUP_LOOK_SEC)

    async def _learn_facts(self) -> None:
        """What the shelf shows of tunes that an older program put there."""
        for key in await asyncio.to_thread(self.store.without_facts):
            with suppress(Exception):  # it stands on the shelf without them
                record = await asyncio.to_thread(self.store.get, key)
                found = await self.bringing.readable(record.edition)
                await asyncio.to_thread(self.store.know, key, found["facts"])

    async def close(self) -> None:
        for task in self._waking:
            task.cancel()
        self.warmth.close()
        self.library.close()
        await asyncio.to_thread(self.recordings.close)
        self.events.close()
        await asyncio.to_thread(self.pool.close)
        self.store.close()

    # --- questions about a tune ---------------------------------------------------------------

    def ask(self, record: Record) -> Ask:
        state = record.state
        settings = Decisions(replace(state.options, mix=()), state.chords, part=state.part)
        sheet = replace(record.edition, decisions=settings)
        digest = hashlib.sha256(record.data)
        digest.update(repr((record.name, settings)).encode())
        key = digest.hexdigest()
        return Ask(sheet, key, self.pool.worker_for(key))

    def drawing(self, record: Record) -> Ask:
        """The same for what is drawn of the sheet alone: it does not depend on the player."""
        options = replace(record.state.options, level="beginner", hand="medium", without=())
        return self.ask(replace(record, state=replace(record.state, options=options)))

    async def answer(self, ask: Ask, task: str, *arguments: Any) -> Any:
        """Ask the worker, or give the answer it gave before."""
        key = (ask.key, task, repr(arguments))
        kept = self._answers.get(key)
        if kept is None:
            kept = asyncio.ensure_future(
                ask.worker.run(task, ask.sheet, *arguments, limit_sec=QUICK_SEC))
            self._keep(key, kept)
            kept.add_done_callback(lambda done: self._settle(key, done))
        else:
            self._answers.move_to_end(key)
        return await asyncio.shield(kept)

    def _keep(self, key: Hashable, future: asyncio.Future[Any]) -> None:
        self._answers[key] = future
        self._answers.move_to_end(key)
        while len(self._answers) > KEPT_ANSWERS:
            self._answers.popitem(last=False)

    def _settle(self, key: Hashable, done: asyncio.Future[Any]) -> None:
        """Failures are not remembered."""
        if (done.cancelled() or done.exception() is not None) and self._answers.get(key) is done:
            del self._answers[key]

    def known(self, key: Hashable) -> Any:
        """An answer that is there already, else None."""
        kept = self._answers.get(key)
        if kept is None or not kept.done() or kept.cancelled() or kept.exception() is not None:
            return None
        self._answers.move_to_end(key)
        return kept.result()

    def remember(self, key: Hashable, value: Any) -> None:
        future: asyncio.Future[Any] = asyncio.get_running_loop().create_future()
        future.set_result(value)
        self._keep(key, future)

    def chosen(self, record: Record) -> tuple[Chosen, list[dict[str, Any]]] | None:
        """What the program chose in the chorus of a tune as it stands, and the fills of that
        chorus; None where it has not been worked out."""
        found: tuple[Chosen, list[dict[str, Any]]] | None = self.known(
            (self.ask(record).key, "chosen", repr(record.state)))
        return found

    async def tune(self, record: Record) -> dict[str, Any]:
        """Everything the page shows of a tune but the music itself."""
        ask = self.ask(record)
        overview = await self.answer(ask, "overview")
        facts = facts_of(overview, record.state.options.level)
        if facts != record.facts:
            await asyncio.to_thread(self.store.know, record.id, facts)
        state = record.state.value()
        return {"id": record.id, "title": record.title, "name": record.name,
                "version": record.version, "folder": record.folder,
                "sheet": ask.key[:16], "drawing": self.drawing(record).key[:16],
                **state, **overview, "rest": self._rest(record),
                "decided": sum(int(gap) <= len(overview["gaps"]) for gap in state["picks"]),
                "gaps": [{**gap, "ideas": self._ideas(ask, gap["number"])}
                         for gap in overview["gaps"]],
                "warnings": [*overview["warnings"], *record.state.warnings,
                             *([record.note] if record.note else [])]}

    def _rest(self, record: Record) -> dict[str, dict[str, str | None]] | None:
        """What the program plays in the gaps that are not decided; None: not yet worked out."""
        chosen = self.chosen(record)
        kept = record.state.rest if chosen is None else chosen[0]
        if kept is None:
            return None
        devices = {fill["id"]: fill["device"] for fill in (chosen[1] if chosen else ())}
        picked = dict(record.state.picks)
        return {str(gap): {"fill": fill, "device": devices.get(fill),
                           "family": next((f for f in FAMILIES if f"-{f}-" in fill), None)}
                for gap, fill in kept.fills if gap not in picked}

    def _ideas(self, ask: Ask, number: int) -> dict[str, int] | None:
        """How many of the shown ideas each family has; None where that is not yet known."""
        pages = {family: self.known((ask.key, "options", repr((number, family, SHOWN_OPTIONS))))
                 for family in FAMILIES}
        if any(page is None for page in pages.values()):
            return None
        return {family: len(page["fills"]) for family, page in pages.items()}

    async def options(self, record: Record, gap: int, counts: Mapping[str, int]
                      ) -> dict[str, Any]:
        """A gap, and the options of some families: family -> how many."""
        ask = self.ask(record)
        gaps = (await self.answer(ask, "overview"))["gaps"]
        if not 1 <= gap <= len(gaps):
            raise InputError(f"there is no gap {gap}; the tune has {len(gaps)}")
        families = {family: await self.answer(ask, "options", gap, family, count)
                    for family, count in counts.items()}
        self.warmth.begin(record, gap)
        return {"gap": gaps[gap - 1], "families": families}

    async def heard(self, record: Record, gap: int, pick: Pick) -> Any:
        """How a choice sounds, between those made for the gaps around it."""
        return await self.answer(self.ask(record), "heard", gap, pick,
                                 self.near(record.state, gap))

    @staticmethod
    def near(state: Decisions, gap: int) -> tuple[tuple[int, Pick], ...]:
        """The choices that may sound within a bar of a gap."""
        return tuple((number, pick) for number, pick in state.picks
                     if 0 < abs(number - gap) <= NEAR_GAPS and pick != _OPEN)
