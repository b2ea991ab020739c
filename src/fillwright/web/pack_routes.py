"""Routes of packs: what is to be handed out, gap by gap, and making it."""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any, TypeVar

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from fillwright.errors import InputError
from fillwright.fills.model import FAMILIES
from fillwright.given import given_whole
from fillwright.hands.model import HAND_SIZES, LEVELS
from fillwright.lesson import PACK_FILES, ClassBook, plan_of
from fillwright.lesson.class_book import FILE_NAME
from fillwright.web.house import House, Routes
from fillwright.web.store import Missing, Record
from fillwright.web.wire import download, json_body, route, short_text

__all__ = ["Book", "PackRoutes"]

T = TypeVar("T")

_ABOVE = ("title", "teacher", "student", "date", "paper", "language", "larger_print",
          "answers_in_page", "hand_pictures", "counts", "reasons")
_ITEM = ("tune", "gap", "fill", "level", "hand", "show", "words", "hand_pictures", "counts",
         "reasons")
_SEEN = ("place", "device")
"""What the page says of an item beside what the plan of a pack knows."""
_NEW = {"teacher": "", "student": "", "date": "", "paper": "A4", "larger_print": False,
        "answers_in_page": False, "hand_pictures": True, "counts": True, "reasons": True,
        "items": []}
_TYPES = {"pdf": "application/pdf", "html": "text/html; charset=utf-8",
          "json": "application/json"}
MOST_PACKS, MOST_TUNES, MOST_LETTERS = 500, 40, 120


class Book:
    """The class book in the folder of the tunes, opened for one act at a time."""

    def __init__(self, house: House) -> None:
        self._path = house.service.store.path.parent / FILE_NAME

    async def __call__(self, act: Callable[[ClassBook], T]) -> T:
        def opened() -> T:
            with ClassBook(self._path) as book:
                return act(book)

        return await asyncio.to_thread(opened)


def now() -> datetime:
    return datetime.now(UTC)


class PackRoutes(Routes):
    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.book = Book(house)

    def routes(self) -> list[Route]:
        pack = "/api/packs/{pack}"
        return [
            route("/api/packs", self.packs),
            route("/api/packs", self.begin, "POST"),
            route(pack, self.pack),
            route(pack, self.keep, "PUT"),
            route(pack, self.drop, "DELETE"),
            route(f"{pack}/items", self.put_in, "POST"),
            route(f"{pack}/make", self.make, "POST"),
            route("/api/sets", self.propose, "POST"),
            route("/api/jobs/{job}/files/{name}", self.file),
        ]

    async def packs(self, request: Request) -> Response:
        rows = await self.book(lambda book: book.packs())
        return JSONResponse({"packs": [
            {"id": key, "title": document["title"], "student": document["student"],
             "items": len(document["items"]), "changed_sec": changed}
            for key, document, changed in rows]})

    async def begin(self, request: Request) -> Response:
        body = await json_body(request)
        document = _checked({**_NEW, "language": self._language(request),
                             "title": body.get("title", "")})
        if len(await self.book(lambda book: book.packs())) >= MOST_PACKS:
            raise InputError(f"there are {MOST_PACKS} packs already; take one away first")
        key = secrets.token_hex(8)
        await self.book(lambda book: book.keep_pack(key, document, now()))
        return JSONResponse({"id": key}, status_code=201)

    def _language(self, request: Request) -> str:
        language = self.house.assets.words.preferred(request)
        return language if language in ("en", "de") else "en"

    async def pack(self, request: Request) -> Response:
        key = request.path_params["pack"]
        return JSONResponse(await self._value(
            key, await self.book(lambda book: book.pack(key))))

    async def _value(self, key: str, document: Mapping[str, Any]) -> dict[str, Any]:
        """With the titles of its tunes; null where one is no longer on the shelf."""
        shelf = await asyncio.to_thread(self.service.store.shelf)
        titles = {tune["id"]: tune["title"] for tune in shelf}
        return {"id": key, **_NEW, **document, "items": [
            {**item, "title": titles.get(item["tune"])} for item in document["items"]]}

    async def keep(self, request: Request) -> Response:
        key = request.path_params["pack"]
        document = _checked(await json_body(request))

        def act(book: ClassBook) -> None:
            book.pack(key)
            book.keep_pack(key, document, now())

        await self.book(act)
        return JSONResponse(await self._value(key, document))

    async def put_in(self, request: Request) -> Response:
        """More items, at the end."""
        key, body = request.path_params["pack"], await json_body(request)
        more = body.get("items")
        if not isinstance(more, list) or not more:
            raise InputError("what is put into a pack is a list of items")

        def act(book: ClassBook) -> dict[str, Any]:
            before = book.pack(key)
            after = _checked({**before, "items": [*before["items"], *more]})
            book.keep_pack(key, after, now())
            return after

        return JSONResponse(await self._value(key, await self.book(act)))

    async def drop(self, request: Request) -> Response:
        await self.book(lambda book: book.drop_pack(request.path_params["pack"]))
        return JSONResponse({})

    # --- making it ----------------------------------------------------------------------------

    async def make(self, request: Request) -> Response:
        """Long work: its files are those of a pack."""
        key = request.path_params["pack"]
        document = await self.book(lambda book: book.pack(key))
        plan = _plan(document)
        plan_of(plan)  # at least one item
        records = await self._records([item["tune"] for item in document["items"]])
        job = self.service.longwork.many("pack", key, plan, records)
        return JSONResponse(job.value(self.house.say(request)), status_code=202)

    async def propose(self, request: Request) -> Response:
        """Long work: a graded set out of some tunes."""
        body = await json_body(request)
        tunes = body.get("tunes")
        if not isinstance(tunes, list) or not 0 < len(tunes) <= MOST_TUNES or not all(
                isinstance(tune, str) for tune in tunes):
            raise InputError(f"a set is made of 1 to {MOST_TUNES} tunes")
        wish = _wish(body)
        records = await self._records(tunes)
        job = self.service.longwork.many("set", next(iter(records)), wish, records)
        return JSONResponse(job.value(self.house.say(request)), status_code=202)

    async def _records(self, tunes: list[str]) -> dict[str, Record]:
        found = {}
        for number, tune in enumerate(tunes, 1):
            try:
                found[tune] = await asyncio.to_thread(self.service.store.get, tune)
            except Missing:
                raise InputError(f"item {number}: its tune is no longer on the shelf") from None
        return found

    async def file(self, request: Request) -> Response:
        """A file of a pack that was made."""
        job = self.service.jobs.get(request.path_params["job"])
        name = request.path_params["name"]
        made = job.result if job is not None and job.state == "done" else None
        if not isinstance(made, dict) or name not in PACK_FILES or name not in made.get(
                "files", {}):
            raise HTTPException(404, self.house.say(request)("server.no_work"))
        return Response(made["files"][name], media_type=_TYPES[name.rsplit(".", 1)[1]],
                        headers=download(name))


def _checked(body: Mapping[str, Any]) -> dict[str, Any]:
    """A pack as it is kept. Raises InputError."""
    items = body.get("items")
    if not isinstance(items, list) or not all(isinstance(item, dict) for item in items):
        raise InputError("the items of a pack are a list of objects")
    document = {name: body[name] for name in _ABOVE if name in body}
    kept = [{**{name: item[name] for name in _ITEM if name in item},
             **{name: short_text(item.get(name, ""), "what is said of an item", MOST_LETTERS)
                for name in _SEEN}} for item in items]
    document = {**_NEW, "language": "en", **document, "items": kept}
    plan_of(_plan(document), least=0)
    return document


def _plan(document: Mapping[str, Any]) -> dict[str, Any]:
    """The plan of a pack, as `lesson.plan` has it."""
    items = [{name: value for name, value in item.items()
              if name in _ITEM and not (name == "fill" and not value)}
             for item in document["items"]]
    return {**{name: document[name] for name in _ABOVE if name in document}, "item": items}


def _wish(body: Mapping[str, Any]) -> dict[str, Any]:
    """What a set is to be. Raises InputError."""
    kind, name = body.get("kind"), body.get("name", "")
    level, hand = body.get("level", "intermediate"), body.get("hand", "medium")
    if kind not in ("device", "family", "order"):
        raise InputError("a set has one device, a family, or the gaps in order")
    if kind == "family" and name not in FAMILIES:
        raise InputError(f"a family is one of {', '.join(FAMILIES)}")
    if level not in LEVELS or hand not in HAND_SIZES:
        raise InputError("a set is for a level and a hand")
    return {"kind": kind, "name": short_text(name, "a device", MOST_LETTERS), "level": level,
            "hand": hand, "count": given_whole(body.get("count", 10), "how many", 1, 40)}
