"""Routes of the library: its page, what is brought, what is asked, the way to the shelf."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from fillwright.errors import InputError
from fillwright.hands.model import LEVELS
from fillwright.library import SORTS, Question, span_of, table_names
from fillwright.web.house import Routes
from fillwright.web.jobs import Job
from fillwright.web.wire import file_name, json_body, media_type, route

__all__ = ["LibraryRoutes"]

_TEXTS = ("over", "holding", "device", "key", "title", "level", "hand", "sort")
_HANDS = ("small", "medium", "large")
_MOST_FILES = 200
_MOST_LISTED = 500
_MOST_TEXT = 200


class LibraryRoutes(Routes):
    def routes(self) -> list[Route]:
        return [
            route("/library", self.page),
            route("/api/library", self.ask),
            route("/api/library/state", self.state),
            route("/api/library/files", self.bring, "POST"),
            route("/api/library/jobs", self.start, "POST"),
            route("/api/library/like", self.like),
            route("/api/library/order", self.order),
            route("/api/library/open", self.open, "POST"),
        ]

    async def page(self, request: Request) -> Response:
        return self.house.html(request, "library.html", levels=LEVELS, hands=_HANDS, sorts=SORTS)

    async def state(self, request: Request) -> Response:
        return JSONResponse(await self.service.library.state())

    async def ask(self, request: Request) -> Response:
        return JSONResponse(await self.service.library.ask(_question(request.query_params)))

    async def bring(self, request: Request) -> Response:
        """Files, several at once; they are read when all have come."""
        if media_type(request) != "multipart/form-data":
            raise HTTPException(415, "The body is to be files.")
        files = []
        async with request.form(max_files=_MOST_FILES, max_fields=4) as form:
            for upload in form.getlist("file"):
                if not isinstance(upload, str):
                    files.append((file_name(upload.filename), await upload.read()))
        if not files:
            raise InputError("no file came with it")
        return JSONResponse({"new": await self.service.library.keep(files)}, status_code=201)

    async def start(self, request: Request) -> Response:
        """Long work: `kind` is "add", "list" or "work"."""
        body = await json_body(request)
        asked = body.get("asked", {})
        if not isinstance(asked, dict):
            raise InputError("what is asked is an object")
        job = self._started(body.get("kind"), _question(asked))
        return JSONResponse(job.value(self.house.say(request)), status_code=202)

    def _started(self, kind: object, question: Question) -> Job:
        library = self.service.library
        if kind == "add":
            return library.add()
        if kind == "list":
            return library.list_out(question)
        if kind == "work":
            return library.work_out(question.level, question.hand)
        raise InputError("what can be done is add, list, work")

    async def like(self, request: Request) -> Response:
        query = request.query_params
        return JSONResponse(await self.service.library.like(
            query.get("tune", ""), _whole(query.get("gap"), 1, 100_000, "a gap"),
            _question(query)))

    async def order(self, request: Request) -> Response:
        query = request.query_params
        question = _question({name: query[name] for name in ("level", "hand") if name in query})
        known = table_names(query.getlist("known"))
        return JSONResponse(await self.service.library.order(question.level, question.hand, known))

    async def open(self, request: Request) -> Response:
        """Where a tune stands on the shelf; it is brought there if it does not."""
        body = await json_body(request)
        sheet, player = body.get("sheet"), _question(
            {name: body[name] for name in ("level", "hand") if name in body})
        if isinstance(sheet, bool) or not isinstance(sheet, int) or not 0 < sheet < 2 ** 53:
            raise InputError("a tune of the library has a number")
        key = await self.service.library.open(sheet, player.level, player.hand)
        self.service.events.publish("", {"shelf": True})
        return JSONResponse({"id": key})


def _question(query: Mapping[str, Any]) -> Question:
    """What is asked, as the page writes it. Raises InputError."""
    asked: dict[str, Any] = {}
    for name in _TEXTS:
        value = query.get(name, "")
        if not isinstance(value, str) or len(value) > _MOST_TEXT:
            raise InputError(f"{name} is a line of text")
        if value.strip():
            asked[name] = value.strip()
    for name in ("beats", "tempo"):
        if query.get(name):
            asked[name] = span_of(str(query[name])[:_MOST_TEXT])
    if query.get("max_difficulty"):
        asked["max_difficulty"] = _whole(query["max_difficulty"], 0, 1000, "the difficulty")
    if query.get("count"):
        asked["count"] = _whole(query["count"], 1, _MOST_LISTED, "how many are listed")
    return Question(**asked)


def _whole(text: object, least: int, most: int, what: str) -> int:
    if not isinstance(text, str | int) or not str(text).isdecimal() or not (
            least <= int(str(text)[:9]) <= most):
        raise InputError(f"{what} is a number from {least} to {most}")
    return int(text)
