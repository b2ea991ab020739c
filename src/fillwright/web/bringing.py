"""What is put on the shelf: read first, in a process that can be killed."""

from __future__ import annotations

import asyncio
from typing import Any

from fillwright.arranging.model import Options
from fillwright.demo import DEMO_TUNES, demo_path
from fillwright.edition.decisions import Decisions
from fillwright.edition.file import edition_from_text, is_edition
from fillwright.edition.model import Edition
from fillwright.errors import InputError
from fillwright.web.pool import Pool, TooSlow, WorkerDied
from fillwright.web.shelf_file import read_shelf
from fillwright.web.store import Store

__all__ = ["Bringing"]

READ_SEC = 15.0


class Bringing:
    def __init__(self, store: Store, pool: Pool) -> None:
        self._store = store
        self._pool = pool

    async def bring(self, data: bytes, name: str, level: str = "", hand: str = "") -> str:
        """Put a lead sheet, or an edition, on the shelf. Returns its id. Raises InputError with
        one sentence.

        level, hand   of the player a lead sheet is set to; "" for the usual one
        """
        if not data.strip():
            raise InputError("there is nothing in it", name)
        usual = Options()
        edition = Edition(data, name, Decisions(Options(level=level or usual.level,
                                                        hand=hand or usual.hand)))
        if is_edition(data):
            edition = await asyncio.to_thread(edition_from_text, data, name)
        found = await self.readable(edition)
        title = (found["title"] or name.rsplit(".", 1)[0] or "Untitled")[:200]
        return await asyncio.to_thread(self._store.add, title, edition, found["facts"])

    async def readable(self, edition: Edition) -> dict[str, Any]:
        """What the reader says of a sheet with its settings. Raises InputError."""
        try:
            found: dict[str, Any] = await self._pool.reader.run("read", edition,
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
                await self.readable(tune.edition)
                good.append(tune)
            except InputError as error:
                refused.append(f"{tune.title}: {error.message}")
        new = await asyncio.to_thread(self._store.add_all, good)
        return {"new": new, "there": len(good) - new, "refused": refused}

    async def bring_demo(self, name: str) -> str:
        """A tune that comes with the program. Raises InputError."""
        if name not in DEMO_TUNES:
            raise InputError(f"{name[:40]} is not one of {', '.join(DEMO_TUNES)}")
        path = demo_path(name)
        return await self.bring(await asyncio.to_thread(path.read_bytes), path.name)
