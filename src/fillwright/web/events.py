"""What happens, told to the pages that are open, as server-sent events (WHATWG HTML, 9.2).

A page that listens holds a connection, no thread and no process. There are only so many; one
that does not take what it is told is hung up on, and comes back by itself.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Mapping
from typing import Any
from weakref import WeakKeyDictionary

__all__ = ["Events"]

MOST_LISTENERS = 64
MOST_WAITING = 32
"""Events that wait for a slow page."""
STILL_SEC = 15.0
"""A comment is sent this often, so that a page that is gone is noticed."""
COME_BACK_MS = 1500
"""How long a page waits before it listens again."""


class Events:
    """Channels by name: the id of a tune; "" is the shelf."""

    def __init__(self) -> None:
        # An answer that is never sent is thrown away with its queue, and is no listener then.
        self._listening: WeakKeyDictionary[asyncio.Queue[str | None], str] = WeakKeyDictionary()

    def publish(self, channel: str, value: Mapping[str, Any]) -> None:
        """Tell all who listen to a channel."""
        text = _event(value)
        for queue, theirs in list(self._listening.items()):
            if theirs == channel:
                self._put(queue, text)

    def _put(self, queue: asyncio.Queue[str | None], text: str | None) -> None:
        if queue.qsize() >= MOST_WAITING:
            del self._listening[queue]
            while not queue.empty():
                queue.get_nowait()
            text = None
        queue.put_nowait(text)

    def stream(self, channel: str, first: Mapping[str, Any]) -> AsyncIterator[str] | None:
        """The events of a channel from now on, `first` before them; None where too many listen
        already."""
        if len(self._listening) >= MOST_LISTENERS:
            return None
        queue: asyncio.Queue[str | None] = asyncio.Queue()
        self._listening[queue] = channel
        queue.put_nowait(f"retry: {COME_BACK_MS}\n{_event(first)}")
        return self._told(queue)

    async def _told(self, queue: asyncio.Queue[str | None]) -> AsyncIterator[str]:
        try:
            while True:
                try:
                    async with asyncio.timeout(STILL_SEC):
                        text = await queue.get()
                except TimeoutError:
                    text = ": still here\n\n"
                if text is None:
                    return
                yield text
        finally:
            self._listening.pop(queue, None)

    @property
    def listeners(self) -> int:
        return len(self._listening)

    def close(self) -> None:
        """Hang up on all."""
        for queue in list(self._listening):
            queue.put_nowait(None)


def _event(value: Mapping[str, Any]) -> str:
    return f"data: {json.dumps(value, separators=(',', ':'))}\n\n"
