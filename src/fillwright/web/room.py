"""The piano that is played: chosen for all tunes, and struck in a process that can be killed."""

from __future__ import annotations

import asyncio
from typing import Any

from fillwright.errors import InputError
from fillwright.web.pianos import Piano, Pianos
from fillwright.web.pool import Pool, TooSlow, WorkerDied

__all__ = ["PianoRoom"]

STRIKE_SEC = 20.0
MIDDLE_C = 60


class PianoRoom:
    """`pianos`: those that can be chosen."""

    def __init__(self, pianos: Pianos, pool: Pool) -> None:
        self.pianos = pianos
        self._pool = pool

    async def played(self) -> Piano:
        return await asyncio.to_thread(self.pianos.played)

    async def there(self) -> dict[str, Any]:
        """Their names, which is played, and the folder to put others into."""
        there = await asyncio.to_thread(self.pianos.there)
        return {"pianos": [piano.name for piano in there], "played": (await self.played()).name,
                "folder": str(self.pianos.folder)}

    async def choose(self, name: str) -> None:
        """Keep a choice for all tunes, if the piano sounds. Raises InputError."""
        piano = await asyncio.to_thread(self.pianos.named, name)
        await self.strike(piano, MIDDLE_C)
        try:
            await asyncio.to_thread(self.pianos.choose, piano)
        except OSError as error:
            raise InputError(f"the choice cannot be kept: {error.strerror}") from error

    async def strike(self, piano: Piano, midi: int) -> bytes:
        """A key of it, as the browser plays it. Raises InputError."""
        try:
            sample: bytes = await self._pool.reader.run("piano", midi, piano.path,
                                                        limit_sec=STRIKE_SEC)
        except TooSlow:
            raise InputError("this piano takes too long to sound", piano.name) from None
        except WorkerDied:
            raise InputError("this piano cannot be played", piano.name) from None
        return sample
