"""Routes of students: who they are, what they practise, how it went, how they chose."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from fillwright.contract import dump
from fillwright.errors import InputError
from fillwright.given import several
from fillwright.lesson import ClassBook, Student, keys_named, noted, slow_kinds, student_of
from fillwright.lesson.documents import kinds_value, progress_document, today_document
from fillwright.theory.key import Key
from fillwright.web.house import House, Routes
from fillwright.web.pack_routes import Book, now
from fillwright.web.wire import download, json_body, route

__all__ = ["StudentRoutes"]

MOST_CHOICES = 400


class StudentRoutes(Routes):
    """A student is named in the query, or in the body of what changes something."""

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.book = Book(house)

    def routes(self) -> list[Route]:
        student = "/api/student"
        return [
            route("/api/students", self.students),
            route("/api/students", self.add, "POST"),
            route(student, self.student),
            route(student, self.change, "PUT"),
            route(student, self.delete, "DELETE"),
            route(f"{student}/today", self.today),
            route(f"{student}/export", self.export),
            route(f"{student}/items", self.give, "POST"),
            route(f"{student}/items", self.take_back, "DELETE"),
            route(f"{student}/rate", self.rate, "POST"),
            route("/api/tunes/{tune}/practice", self.practised),
            route("/api/choices", self.choices, "POST"),
        ]

    async def students(self, request: Request) -> Response:
        def act(book: ClassBook) -> list[dict[str, Any]]:
            return [{**_who(one), "items": len(shares),
                     "due": sum(share.item.due is not None and share.item.due <= now()
                                for share in shares)}
                    for one in book.students() for shares in [book.shares(one.name, now())]]

        return JSONResponse({"students": await self.book(act)})

    async def add(self, request: Request) -> Response:
        body = await json_body(request)
        student = student_of(body.get("name", ""), **_wish(body))
        await self.book(lambda book: book.add(student))
        return JSONResponse(_who(student), status_code=201)

    async def student(self, request: Request) -> Response:
        name = _named(request)

        def act(book: ClassBook) -> dict[str, Any]:
            return {"student": _who(book.student(name)), **progress_document(
                book.shares(name, now()), slow_kinds(book.choices(name)))}

        return JSONResponse(await self.book(act))

    async def change(self, request: Request) -> Response:
        """The student of the query, otherwise."""
        name, body = _named(request), await json_body(request)
        wish = _wish(body) | ({"name": body["name"]} if "name" in body else {})
        return JSONResponse(_who(await self.book(lambda book: book.change(name, **wish))))

    async def delete(self, request: Request) -> Response:
        name = _named(request)
        await self.book(lambda book: book.delete(name))
        return JSONResponse({})

    async def today(self, request: Request) -> Response:
        name, text = _named(request), request.query_params.get("minutes", "20")
        if not text.isdecimal() or len(text) > 4:
            raise InputError("minutes are a whole number")

        def act(book: ClassBook) -> dict[str, Any]:
            return today_document(name, int(text), book.today(name, int(text), now()),
                                  book.minutes_done(name, now()))

        return JSONResponse(await self.book(act))

    async def export(self, request: Request) -> Response:
        name = _named(request)
        text = dump(await self.book(lambda book: book.export(name, now())))
        return Response(text, media_type="application/json",
                        headers=download("student.json"))

    async def give(self, request: Request) -> Response:
        """A device in some keys, or a gap of a tune."""
        body = await json_body(request)
        name, keys = str(body.get("name", "")), body.get("keys") or ""
        wish = {key: body[key] for key in ("device", "tune", "gap", "fill", "tempo")
                if key in body}
        names = [str(key.tonic) for key in keys_named(keys, Key(0))] if keys else [""]
        if any(not isinstance(wish.get(key, ""), str) for key in ("device", "tune", "fill")):
            raise InputError("what is practised is named as text")
        given = await self.book(lambda book: [book.give(name, **wish, key=key) for key in names])
        return JSONResponse({"numbers": [item.number for item in given]}, status_code=201)

    async def take_back(self, request: Request) -> Response:
        """An item, named in the query by its number, is no longer practised."""
        name, number = _named(request), request.query_params.get("number", "")
        if not number.isdecimal() or len(number) > 9:
            raise InputError("an item is named by its number")
        item = await self.book(lambda book: book.take_back(name, int(number)))
        return JSONResponse({"what": item.words})

    async def practised(self, request: Request) -> Response:
        """Who practises gaps of a tune as it is written, or devices that may be played in it,
        and how that went the last time."""
        title = (await self.house.record(request)).title

        def act(book: ClassBook) -> list[dict[str, Any]]:
            return [{"name": one.name, "items": items} for one in book.students()
                    if (items := _of_tune(book, one.name, title))]

        return JSONResponse({"students": await self.book(act)})

    async def rate(self, request: Request) -> Response:
        body = await json_body(request)
        number, tempo = body.get("number"), body.get("tempo")
        if isinstance(number, bool) or not isinstance(number, int):
            raise InputError("an item is named by its number")
        item = await self.book(lambda book: book.rate(
            str(body.get("name", "")), number, str(body.get("rating", "")), now(), tempo))
        assert item.due is not None
        return JSONResponse({"number": number, "what": item.words, "tempo": item.now_tempo,
                             "due": item.due.isoformat()})

    async def choices(self, request: Request) -> Response:
        """Answers of a drill: kept for a student, if one is named; where choosing is slow."""
        body = await json_body(request)
        rows: list[Any] = list(several(body.get("choices", []), "choices"))
        if len(rows) > MOST_CHOICES or not all(isinstance(row, dict) for row in rows):
            raise InputError(f"answers are a list of at most {MOST_CHOICES}")
        made = [noted(row.get("kind"), row.get("family"), row.get("works"), row.get("seconds"))
                for row in rows]
        name = body.get("name")
        if name is None:
            return JSONResponse({"kinds": kinds_value(slow_kinds(made))})

        def act(book: ClassBook) -> list[dict[str, Any]]:
            for choice in made:
                book.chose(str(name), choice, now())
            return kinds_value(slow_kinds(book.choices(str(name))))

        return JSONResponse({"kinds": await self.book(act)})


def _of_tune(book: ClassBook, name: str, title: str) -> list[dict[str, Any]]:
    """The gaps of a tune that a student practises in its own key, and all their devices, each with
    the tonic of its key, if it has one."""
    last = {review.number: {"rating": review.rating, "at": review.at.isoformat()}
            for review in book.reviews(name)}
    return [{"number": one.number, "gap": one.gap, "device": one.device, "what": one.words,
             "tonic": Key.parse(one.key).tonic.pitch_class if one.key else None,
             "tempo": one.now_tempo, "aim": one.tempo, "last": last.get(one.number)}
            for one in (share.item for share in book.shares(name, now()))
            if one.device or (one.tune == title and not one.key)]


def _wish(body: Mapping[str, Any]) -> dict[str, Any]:
    """What is said of a student beside the name. Raises InputError."""
    wish = {name: body[name] for name in ("level", "hand", "without", "notes") if name in body}
    if not isinstance(wish.get("without", []), list):
        raise InputError("devices that are off are a list")
    return wish


def _who(student: Student) -> dict[str, Any]:
    return {"name": student.name, "level": student.level, "hand": student.hand,
            "without": list(student.without), "notes": student.notes}


def _named(request: Request) -> str:
    return request.query_params.get("name", "")
