"""Connections of slow or too many clients.

A request's head has to be there within `HEAD_SEC`. Where there are too many connections, the
one that has waited longest for its head gives way; if all are at work, the new one is closed.
"""

from __future__ import annotations

import asyncio

from uvicorn.protocols.http.h11_impl import H11Protocol

__all__ = ["HEAD_SEC", "MOST_CONNECTIONS", "MOST_OF_ONE", "Connection"]

HEAD_SEC = 10.0
MOST_CONNECTIONS = 256
MOST_OF_ONE = 128
"""Connections of one address."""


class Connection(H11Protocol):  # type: ignore[misc, unused-ignore]
    """One connection, which does not wait for ever."""

    _head: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        others = [other for other in self.connections  # one that was closed may still be there
                  if isinstance(other, Connection) and other is not self
                  and not other.transport.is_closing()]
        same = [other for other in others
                if other.client and self.client and other.client[0] == self.client[0]]
        for group, most in ((others, MOST_CONNECTIONS), (same, MOST_OF_ONE)):
            if len(group) >= most and not _give_way(group):
                transport.abort()
                return
        self._await_head()

    def connection_lost(self, exc: Exception | None) -> None:
        self._head_is_there()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        if self._is_idle and self._head is None:
            self._await_head()
        super().data_received(data)
        if not self._is_idle:
            self._head_is_there()

    @property
    def _is_idle(self) -> bool:
        """No request is being answered, so that the next head is waited for."""
        return self.cycle is None or self.cycle.response_complete

    def _await_head(self) -> None:
        self._head = self.loop.call_later(HEAD_SEC, self.transport.abort)

    def _head_is_there(self) -> None:
        if self._head is not None:
            self._head.cancel()
            self._head = None

    def _should_upgrade(self) -> bool:
        return False  # there is nothing to upgrade to, and nothing to be said about it


def _give_way(connections: list[Connection]) -> bool:
    """Close the connection that has waited longest for its head, or for its next request."""
    waiting = [(connection._head.when(), connection) for connection in connections
               if connection._head is not None]
    idle = [connection for connection in connections if connection._is_idle]
    if waiting:
        min(waiting, key=lambda pair: pair[0])[1].transport.abort()
    elif idle:
        idle[0].transport.abort()
    return bool(waiting or idle)
