"""Who may ask, how much, how long; and the headers every answer carries.

The page is for the one person at this computer. Other web sites that person has open can
send requests to the loopback address too, and a name can be pointed at it (DNS rebinding);
so a request must name this server as its host, a request from another site is refused, and
whatever changes something needs the token that only this server's own pages know. A server
that is open to the network asks for its pass phrase first (`fillwright.web.door`).
"""

from __future__ import annotations

import asyncio
import hmac
import logging
import secrets
from collections.abc import Awaitable, Callable, Collection, Mapping, MutableMapping
from types import MappingProxyType
from typing import Any

from starlette.responses import JSONResponse

from fillwright.web.door import COOKIE, Door

__all__ = ["ENTRANCE", "MAX_BODY_BYTES", "Guard"]

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

ENTRANCE = "/enter"
"""Where the pass phrase is given."""

MAX_BODY_BYTES = 8 * 1024 * 1024
_NONE_LARGER: Mapping[str, int] = MappingProxyType({})
BODY_SEC = 20.0
"""A body has to be there within this time."""

_SAFE = frozenset({"GET", "HEAD"})
_METHODS = _SAFE | {"POST", "PUT", "DELETE"}
_POLICY = ("default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
           "font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; "
           "frame-ancestors 'none'")
_HEADERS = tuple((name.encode(), value.encode()) for name, value in (
    ("content-security-policy", _POLICY),
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", "camera=(), geolocation=(), microphone=(self)"),
))
_log = logging.getLogger("fillwright.web")


class _TooLarge(Exception):
    pass


class Guard:
    """ASGI middleware around the whole application.

    hosts    what the Host header may say, exactly, with the port; the address a request came
             in by is right as well: no other site can point its name at a bare address
    larger   path -> bytes a body may have there; elsewhere MAX_BODY_BYTES. `*` stands for one part
             of a path, whatever it is
    door     knows who has given the pass phrase; None: nobody is asked
    """

    def __init__(self, app: App, hosts: Collection[str],
                 larger: Mapping[str, int] = _NONE_LARGER, door: Door | None = None) -> None:
        self.app = app
        self.door = door
        self.larger = larger
        self.hosts = frozenset(hosts)
        self.token = secrets.token_urlsafe(32)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        started = False

        async def answer(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                names = {name for name, _ in message.get("headers", ())}
                extra = [*_HEADERS]
                if b"cache-control" not in names:
                    extra.append((b"cache-control", b"no-store"))
                message = {**message, "headers": [*message.get("headers", ()), *extra]}
            await send(message)

        most = self._most(scope["path"])
        refusal = self._refusal(scope)
        try:
            if refusal is None:
                try:
                    receive = await _read_all(receive, scope, most)
                    await self.app(scope, receive, answer)
                    return
                except _TooLarge:
                    refusal = (413, f"More than {most // 1024 ** 2} MB are not taken.")
                except TimeoutError:
                    refusal = (408, "The upload took too long.")
            await _plain(*refusal, scope, receive, answer)
        except Exception:
            _log.exception("a request failed")
            if not started:
                await _plain(500, "Something went wrong here. The server's log says more.",
                             scope, receive, answer)

    def _most(self, path: str) -> int:
        parts = path.split("/")
        for pattern, most in self.larger.items():
            wanted = pattern.split("/")
            if len(wanted) == len(parts) and all(
                    one in ("*", part) for one, part in zip(wanted, parts, strict=True)):
                return most
        return MAX_BODY_BYTES

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        headers: dict[bytes, bytes] = {}
        for name, value in scope["headers"]:
            if name in headers and name in (b"host", b"origin", b"x-token"):
                return 400, "A header is there twice."
            headers[name] = value
        host = headers.get(b"host", b"").decode("latin-1").lower()
        if host not in self.hosts and host not in _reached(scope):
            return 421, "This server does not go by that name."
        method = scope["method"]
        if method not in _METHODS:
            return 405, "Not a method that is used here."
        site = headers.get(b"sec-fetch-site", b"none")
        origin = headers.get(b"origin")
        if origin is not None and origin.decode("latin-1").lower() != f"http://{host}":
            return 403, "Requests from other sites are refused."
        if site not in (b"none", b"same-origin") and not (
                method in _SAFE and headers.get(b"sec-fetch-mode") == b"navigate"):
            return 403, "Requests from other sites are refused."
        if self.door is not None and scope["path"] == ENTRANCE:
            return None
        if method not in _SAFE and not hmac.compare_digest(
                headers.get(b"x-token", b""), self.token.encode()):
            return 403, "The page is out of date: load it again."
        if self.door is not None and not _has_phrase(self.door, headers.get(b"cookie", b"")):
            if scope["path"].startswith("/api/"):
                return 401, "The pass phrase is asked for: load the page again."
            if not scope["path"].startswith("/static/"):  # style and icon, nothing of the tunes
                scope["path"], scope["raw_path"] = ENTRANCE, ENTRANCE.encode()
        return None


def _reached(scope: Scope) -> set[str]:
    """The Host that a client sends who typed the address this connection came in by."""
    server = scope.get("server")
    if not server or not server[1]:
        return set()
    name = str(server[0]).lower().removeprefix("::ffff:")
    shown = f"[{name}]" if ":" in name else name
    return {f"{shown}:{server[1]}", *([shown] if server[1] == 80 else [])}


def _has_phrase(door: Door, header: bytes) -> bool:
    for pair in header.decode("latin-1").split(";"):
        name, _, value = pair.strip().partition("=")
        if name == COOKIE and door.knows(value):
            return True
    return False


async def _read_all(receive: Receive, scope: Scope, most: int) -> Receive:
    """The whole body, within its limits, before anything else looks at it."""
    if scope["method"] in _SAFE:
        return receive
    for name, value in scope["headers"]:
        if name == b"content-length" and (not value.isdigit() or int(value) > most):
            raise _TooLarge
    parts: list[bytes] = []
    size = 0
    async with asyncio.timeout(BODY_SEC):
        while True:
            message = await receive()
            if message["type"] == "http.disconnect":
                break
            parts.append(message.get("body", b""))
            size += len(parts[-1])
            if size > most:
                raise _TooLarge
            if not message.get("more_body", False):
                break
    whole: Message | None = {"type": "http.request", "body": b"".join(parts), "more_body": False}

    async def replay() -> Message:
        nonlocal whole
        if whole is not None:
            message, whole = whole, None
            return message
        return await receive()

    return replay


async def _plain(status: int, message: str, scope: Scope, receive: Receive, send: Send) -> None:
    await JSONResponse({"error": message}, status_code=status)(scope, receive, send)
