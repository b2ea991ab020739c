"""What comes in with a request, checked, and what an error is in an answer."""

from __future__ import annotations

import json
import re
from collections.abc import Awaitable, Callable
from dataclasses import fields
from typing import Any
from urllib.parse import quote

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from fillwright.errors import InputError
from fillwright.score import Printing
from fillwright.web.changes import BadChord
from fillwright.web.pool import Cancelled, TooSlow, WorkerDied
from fillwright.web.store import Conflict, Missing
from fillwright.web.trouble import StoreTrouble
from fillwright.web.words import Say

__all__ = ["asked_printing", "download", "failure", "file_name", "gap_number", "json_body",
           "media_type", "pasted_name", "printing_of", "route", "short_text", "unless_known",
           "version_of"]


def route(path: str, endpoint: Callable[[Request], Awaitable[Response]], method: str = "GET"
          ) -> Route:
    """A route of one method."""
    return Route(path, endpoint, methods=[method])


def download(name: str) -> dict[str, str]:
    """Headers of what is to be a file on the other side."""
    return {"content-disposition": f"attachment; filename*=UTF-8''{quote(name)}"}


def short_text(value: object, what: str, most: int) -> str:
    """A line of text, without what is around it. Raises InputError."""
    if not isinstance(value, str) or len(value.strip()) > most or not value.isprintable():
        raise InputError(f"{what} is a line of at most {most} characters")
    return value.strip()


def failure(error: Exception, say: Say) -> tuple[int, dict[str, Any]]:
    """What went wrong, as a status and the JSON that says so."""
    if isinstance(error, BadChord):
        return 422, {"error": error.message, "position": error.position}
    if isinstance(error, InputError):
        return 422, {"error": str(error)}
    if isinstance(error, Missing):
        return 404, {"error": say("server.no_tune")}
    if isinstance(error, Conflict):
        return 409, {"error": _told(error, say), "version": error.version,
                     "conflict": error.subject}
    if isinstance(error, StoreTrouble):
        return error.status, {"error": str(error)}
    if isinstance(error, TooSlow):
        return 503, {"error": say("server.too_slow")}
    if isinstance(error, Cancelled):
        return 503, {"error": say("server.closing")}
    if isinstance(error, WorkerDied):
        return 500, {"error": say("server.not_worked_out")}
    if isinstance(error, HTTPException):
        return error.status_code, {"error": str(error.detail)}
    raise error


def _told(conflict: Conflict, say: Say) -> str:
    """What two pages decided at once."""
    kind, _, name = conflict.subject.partition(" ")
    if kind == "gap":
        return say("server.conflict_gap", gap=name)
    if kind == "chord":
        return say("server.conflict_chord")
    return say("server.conflict_setting" if kind == "setting" else "server.conflict")


def unless_known(request: Request, content: bytes, kind: str, mark: str) -> Response:
    """What the browser has already is not sent again; it asks each time whether it may have
    changed."""
    headers = {"etag": f'"{mark}"', "cache-control": "no-cache"}
    if request.headers.get("if-none-match") == headers["etag"]:
        return Response(status_code=304, headers=headers)
    return Response(content, media_type=kind, headers=headers)


def media_type(request: Request) -> str:
    """What a request says its body is."""
    return request.headers.get("content-type", "").split(";")[0].strip().lower()


async def json_body(request: Request) -> dict[str, Any]:
    """A body that is a JSON object. Raises HTTPException."""
    if media_type(request) != "application/json":
        raise HTTPException(415, "The body is to be JSON.")
    try:
        body = json.loads(await request.body())
    except (ValueError, RecursionError):
        raise HTTPException(400, "The body is not JSON.") from None
    if not isinstance(body, dict):
        raise HTTPException(400, "The body is to be an object.")
    return body


def version_of(body: dict[str, Any]) -> int:
    """The version that a change was made from. Raises InputError."""
    version = body.get("version")
    if isinstance(version, bool) or not isinstance(version, int) or abs(version) > 2 ** 53:
        raise InputError("a change names the version it was made from")
    return version


def printing_of(value: object) -> Printing:
    """What is chosen of the printed page. Raises InputError."""
    if not isinstance(value, dict) or value.keys() - {f.name for f in fields(Printing)}:
        raise InputError("what is chosen of the page is "
                         + ", ".join(f.name for f in fields(Printing)))
    return Printing(**value)


def asked_printing(request: Request) -> Printing:
    """The same as JSON in the address. Raises InputError."""
    try:
        return printing_of(json.loads(request.query_params.get("printing", "{}")))
    except (ValueError, RecursionError):
        raise InputError("what is chosen of the page is not JSON") from None


def gap_number(request: Request) -> int:
    """The gap of a path. Raises InputError for a number no tune has."""
    number: int = request.path_params["gap"]
    if number > 100_000:
        raise InputError(f"there is no gap {number}")
    return number


def file_name(name: str | None) -> str:
    """The last part of a file's name, for its ending and for messages; nothing is opened."""
    last = re.split(r"[\\/]", name or "")[-1]
    return re.sub(r"[^\w .()+-]", "", last)[-100:].strip() or "tune.musicxml"


def pasted_name(text: str) -> str:
    """A name whose ending says what a pasted text is."""
    return "pasted.musicxml" if text.lstrip("\ufeff \t\r\n").startswith("<") else "pasted.abc"
