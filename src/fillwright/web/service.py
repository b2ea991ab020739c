"""Between the routes and the work: the store, the workers, and what has been worked out.

Answers are kept by what they depend on (the bytes of the sheet, corrections, settings), so
that nothing has to be thrown away when a setting changes, and going back costs nothing.
"""

from __future__ import annotations

import asyncio
import hashlib
from collections import OrderedDict
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from fillwright.demo import DEMO_TUNES, demo_path
from fillwright.edition.decisions import (
    ChordChange,
    Decisions,
    Pick,
    chord_change,
    read_pick,
)
from fillwright.edition.file import edition_from_text, is_edition
from fillwright.edition.model import Edition
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.model import FAMILIES
from fillwright.web.jobs import Job, Jobs, Shared
from fillwright.web.pianos import Piano, Pianos
from fillwright.web.pool import Cancelled, Pool, TooSlow, Worker, WorkerDied
from fillwright.web.shelf_file import read_shelf
from fillwright.web.store import Record, Store

__all__ = ["SHOWN_OPTIONS", "Ask", "BadChord", "Service"]

READ_SEC = 15.0
QUICK_SEC = 30.0
STRIKE_SEC = 20.0
MIDDLE_C = 60
LONG_SEC = 300.0
KEPT_ANSWERS = 1200
SHOWN_OPTIONS = 3
"""Options of a family that are shown until more are asked for."""
MOST_JOBS = 60
BACKUP_LOOK_SEC = 3600.0
"""How often it is looked whether a backup is due."""
NEAR_GAPS = 3
"""Gaps to either side that can reach into the bars around one: a gap has two beats or more."""

_OPEN = Pick("open")


class BadChord(InputError):
    """A chord symbol that cannot be read; `position` counts characters from 0."""

    def __init__(self, message: str, position: int) -> None:
        super().__init__(message)
        self.position = position


@dataclass(frozen=True, slots=True)
class Ask:
    """An edition without its choices as the workers want it, its key, and the worker that
    knows it."""

    sheet: Edition
    key: str
    worker: Worker


class Service:
    """`pianos`: those that can be chosen."""

    def __init__(self, store: Store, pool: Pool, pianos: Pianos) -> None:
        self.store = store
        self._pianos = pianos
        self.pool = pool
        self.jobs = Jobs()
        self._answers: OrderedDict[tuple[Any, ...], asyncio.Future[Any]] = OrderedDict()
        self._warming: dict[str, asyncio.Task[None]] = {}

    def wake(self) -> None:
        """Start the workers before anybody needs them."""
        async def one(worker: Worker) -> None:
            with suppress(TooSlow, WorkerDied, Cancelled):
                await worker.run("wake", limit_sec=LONG_SEC)

        for worker in (self.pool.reader, *self.pool.workers):
            self._warming[f"wake {worker.name}"] = asyncio.create_task(one(worker))
        self._warming["backups"] = asyncio.create_task(self._back_up())

    async def _back_up(self) -> None:
        while True:
            await asyncio.to_thread(self.store.back_up)
            await asyncio.sleep(BACKUP_LOOK_SEC)

    async def close(self) -> None:
        for task in self._warming.values():
            task.cancel()
        await asyncio.to_thread(self.pool.close)
        self.store.close()

    # --- the shelf --------------------------------------------------------------------------

    async def bring(self, data: bytes, name: str) -> str:
        """Read a lead sheet, or an edition, in a process that can be killed; put it on the
        shelf.

        Returns its id. Raises InputError with one sentence.
        """
        if not data.strip():
            raise InputError("there is nothing in it", name)
        edition = Edition(data, name)
        if is_edition(data):
            edition = await asyncio.to_thread(edition_from_text, data, name)
        found = await self._readable(edition)
        title = (found["title"] or name.rsplit(".", 1)[0] or "Untitled")[:200]
        return await asyncio.to_thread(self.store.add, title, edition.name, edition.sheet,
                                       edition.decisions)

    async def _readable(self, edition: Edition) -> dict[str, Any]:
        """What the reader says of a sheet with its settings. Raises InputError."""
        try:
            found: dict[str, Any] = await self.pool.reader.run("read", edition,
                                                               limit_sec=READ_SEC)
        except TooSlow:
            raise InputError("reading it took too long", edition.name) from None
        except WorkerDied:
            raise InputError("it cannot be read", edition.name) from None
        return found

    async def bring_shelf(self, data: bytes) -> dict[str, Any]:
        """Put all tunes of a saved shelf on this one: all that can be read, and a sentence for
        each other. Raises InputError."""
        tunes = await asyncio.to_thread(read_shelf, data, "the shelf")
        good, refused = [], []
        for tune in tunes:
            try:
                await self._readable(tune.edition)
                good.append(tune)
            except InputError as error:
                refused.append(f"{tune.title}: {error.message}")
        new = await asyncio.to_thread(self.store.add_all, good)
        return {"new": new, "there": len(good) - new, "refused": refused}

    async def bring_demo(self, name: str) -> str:
        """A tune that comes with the program. Raises InputError."""
        if name not in DEMO_TUNES:
            raise InputError(f"{name[:40]} is not one of {', '.join(DEMO_TUNES)}")
        path = demo_path(name)
        return await self.bring(await asyncio.to_thread(path.read_bytes), path.name)

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
            self._answers[key] = kept
            kept.add_done_callback(lambda done: self._settle(key, done))
            while len(self._answers) > KEPT_ANSWERS:
                self._answers.popitem(last=False)
        else:
            self._answers.move_to_end(key)
        return await asyncio.shield(kept)

    def _settle(self, key: tuple[Any, ...], done: asyncio.Future[Any]) -> None:
        """Failures are not remembered."""
        if (done.cancelled() or done.exception() is not None) and self._answers.get(key) is done:
            del self._answers[key]

    async def tune(self, record: Record) -> dict[str, Any]:
        """Everything the page shows of a tune but the music itself."""
        ask = self.ask(record)
        overview = await self.answer(ask, "overview")
        return {"id": record.id, "title": record.title, "name": record.name,
                "version": record.version, "undo": record.undo, "redo": record.redo,
                "sheet": ask.key[:16], "drawing": self.drawing(record).key[:16],
                **record.state.value(), **overview,
                "warnings": [*overview["warnings"], *record.state.warnings,
                             *([record.note] if record.note else [])]}

    async def options(self, record: Record, gap: int, counts: Mapping[str, int]
                      ) -> dict[str, Any]:
        """A gap, and the options of some families: family -> how many."""
        ask = self.ask(record)
        gaps = (await self.answer(ask, "overview"))["gaps"]
        if not 1 <= gap <= len(gaps):
            raise InputError(f"there is no gap {gap}; the tune has {len(gaps)}")
        families = {family: await self.answer(ask, "options", gap, family, count)
                    for family, count in counts.items()}
        self.warm(record, gap)
        return {"gap": gaps[gap - 1], "families": families}

    def warm(self, record: Record, first: int = 1) -> None:
        """Work out the options of an open tune, and how the first of each family sounds,
        while nobody asks for anything: gap `first` and those near it before the others, and
        that gap for the other levels too."""
        ask = self.ask(record)
        old = self._warming.get(ask.worker.name)
        if old is not None:
            old.cancel()

        async def one(record: Record, number: int) -> None:
            ask, near = self.ask(record), _near(record.state, number)
            for family in FAMILIES:
                page = await self._idly(ask, "options", number, family, SHOWN_OPTIONS)
                for fill in page["fills"][:1]:
                    await self._idly(ask, "heard", number, Pick(fill["id"]), near)

        async def all_gaps() -> None:
            with suppress(InputError, TooSlow, WorkerDied, Cancelled):
                gaps = len((await self._idly(ask, "overview"))["gaps"])
                order = sorted(range(1, gaps + 1),
                               key=lambda number: (abs(number - first), -number))
                for place, number in enumerate(order):
                    await one(record, number)
                    if place == 2:
                        for state in record.state.at_other_levels():
                            await one(replace(record, state=state), first)

        self._warming[ask.worker.name] = asyncio.create_task(all_gaps())

    async def _idly(self, ask: Ask, task: str, *arguments: Any) -> Any:
        while ask.worker.is_busy:
            await asyncio.sleep(0.02)
        return await self.answer(ask, task, *arguments)

    async def heard(self, record: Record, gap: int, pick: Pick) -> Any:
        """How a choice sounds, between those made for the gaps around it."""
        return await self.answer(self.ask(record), "heard", gap, pick, _near(record.state, gap))

    # --- changes ------------------------------------------------------------------------------

    async def change(self, record: Record, version: int, change: Any
                     ) -> tuple[Record, list[str]]:
        """Save a change made from `version`. Raises InputError, `BadChord`, `Conflict`.

        Returns the new record, and a sentence for each choice that has no place in it.
        """
        state, what = await self._changed(record, change)
        lost: list[str] = []
        if state.chords != record.state.chords or (
                state.options, state.part) != (record.state.options, record.state.part):
            # What cannot be arranged is not saved.
            after = await self.answer(self.ask(replace(record, state=state)), "overview")
            before = await self.answer(self.ask(record), "overview")
            state, lost = _renumbered(state, before["gaps"], after["gaps"])
        record = await asyncio.to_thread(self.store.put, record.id, version, state, what)
        return record, lost

    async def _changed(self, record: Record, change: Any) -> tuple[Decisions, str]:
        if not isinstance(change, dict) or len(change) != 1:
            raise InputError("a change is an object with one entry")
        state = record.state
        kind, value = next(iter(change.items()))
        if kind == "settings":
            names = ", ".join(sorted(map(str, value))) if isinstance(value, dict) else ""
            return state.with_settings(value), f"settings: {names}"[:80]
        if kind == "chord":
            found = await self._chord(record, value)
            if value.get("from") is None:
                return state.with_chord(found), f"chord {found.text or 'taken away'}"
            gone = await self._chord(record, _place(value["from"]))
            return state.with_chord(gone).with_chord(found), f"chord {found.text} moved"
        if kind == "pick" and isinstance(value, dict):
            gap, pick = _gap_number(value.get("gap")), read_pick(value)
            if pick != _OPEN:
                await self.answer(self.ask(record), "check", gap, pick)
            elif gap > len((await self.answer(self.ask(record), "overview"))["gaps"]):
                raise InputError(f"there is no gap {gap}")
            return state.with_pick(gap, pick), f"choice for gap {gap}"
        if kind == "unpick":
            gap = _gap_number(value)
            return state.with_pick(gap, None), f"no choice for gap {gap}"
        raise InputError("there is no such change")

    async def _chord(self, record: Record, value: Any) -> ChordChange:
        if not isinstance(value, dict):
            raise InputError("a chord is an object")
        text = value.get("text")
        if not isinstance(text, str) or len(text) > 60:
            raise InputError("a chord symbol has at most 60 characters")
        if text.strip():
            found = await self.answer(self.ask(record), "chord", text)
            if not found["ok"]:
                raise BadChord(found["message"], found["position"])
            text = found["text"]
        change = chord_change(value.get("bar"), value.get("onset"), text)
        bars = (await self.answer(self.ask(record), "overview"))["bars"]
        lengths = {bar["bar"]: Fraction(bar["length_quarter"]) for bar in bars}
        if change.bar not in lengths:
            raise InputError("there is no such bar")
        if change.onset_quarter >= lengths[change.bar]:
            raise InputError("the bar is not that long")
        return change

    # --- the piano ----------------------------------------------------------------------------

    async def piano(self) -> Piano:
        """The one that is played."""
        return await asyncio.to_thread(self._pianos.played)

    async def pianos_there(self) -> dict[str, Any]:
        """Their names, which is played, and the folder to put others into."""
        there = await asyncio.to_thread(self._pianos.there)
        return {"pianos": [piano.name for piano in there], "played": (await self.piano()).name,
                "folder": str(self._pianos.folder)}

    async def choose_piano(self, name: str) -> None:
        """Keep a choice for all tunes, if the piano sounds. Raises InputError."""
        piano = await asyncio.to_thread(self._pianos.named, name)
        await self.strike(piano, MIDDLE_C)
        try:
            await asyncio.to_thread(self._pianos.choose, piano)
        except OSError as error:
            raise InputError(f"the choice cannot be kept: {error.strerror}") from error

    async def strike(self, piano: Piano, midi: int) -> bytes:
        """A key of it, as the browser plays it. Raises InputError."""
        try:
            sample: bytes = await self.pool.reader.run("piano", midi, piano.path,
                                                       limit_sec=STRIKE_SEC)
        except TooSlow:
            raise InputError("this piano takes too long to sound", piano.name) from None
        except WorkerDied:
            raise InputError("this piano cannot be played", piano.name) from None
        return sample

    # --- long work ----------------------------------------------------------------------------

    def start(self, record: Record, kind: str) -> Job:
        """The whole chorus ("chorus"), or a file to take away. Raises InputError."""
        piano = self._pianos.played()
        if self.jobs.running >= MOST_JOBS:
            raise InputError("too much is being worked out at once; try again in a moment")
        ask, decisions = self.ask(record), record.state
        task = ("chorus", ask.sheet, decisions) if kind == "chorus" else (
            "export", ask.sheet, decisions, kind, piano.path)

        key = (ask.key, repr(decisions), kind, piano.mark)

        async def work(job: Shared) -> Any:
            kept = self._answers.get(key)
            if kept is not None and kept.done():
                return kept.result()
            if kind not in ("lead.pdf", "blank.pdf"):  # these need no fills
                await self._ready(ask, {gap for gap, _ in decisions.picks}, job)
            result = await ask.worker.run(*task, limit_sec=LONG_SEC, progress=job.progress,
                                          cancel=job.cancel)
            if kind == "chorus":
                future: asyncio.Future[Any] = asyncio.get_running_loop().create_future()
                future.set_result(result)
                self._answers[key] = future
            return result

        return self.jobs.start(work, key)

    async def _ready(self, ask: Ask, picked: set[int], job: Shared) -> None:
        """Work out the gaps one by one, so that others may ask in between."""
        gaps = len((await self.answer(ask, "overview"))["gaps"])
        for number in range(1, gaps + 1):
            job.progress("job_gaps", number - 1, gaps)
            for family in FAMILIES if number not in picked else ():
                await ask.worker.run("ready", ask.sheet, number, family, limit_sec=QUICK_SEC,
                                     cancel=job.cancel)


def _near(state: Decisions, gap: int) -> tuple[tuple[int, Pick], ...]:
    """The choices that may sound within a bar of a gap."""
    return tuple((number, pick) for number, pick in state.picks
                 if 0 < abs(number - gap) <= NEAR_GAPS and pick != _OPEN)


def _renumbered(state: Decisions, before: list[dict[str, Any]], after: list[dict[str, Any]]
                ) -> tuple[Decisions, list[str]]:
    """Choices stay at their place on the sheet when bars are added before it."""
    there = {(gap["bar"], gap["pass"], gap["beat"]): gap["number"] for gap in after}
    numbers = {gap["number"]: there[place] for gap in before
               if (place := (gap["bar"], gap["pass"], gap["beat"])) in there}
    lost = [f"Gap {gap} is not there in this form, so your choice for it was dropped. Undo "
            "brings it back." for gap, _ in state.picks if gap not in numbers]
    return state.renumbered(numbers), lost


def _place(value: Any) -> dict[str, Any]:
    """Where a chord is moved from: there is none there afterwards."""
    if not isinstance(value, dict):
        raise InputError("a chord is moved from a bar and a place in it")
    return {**value, "text": ""}


def _gap_number(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value < 100_000:
        raise InputError("a choice belongs to the number of a gap")
    return value
