"""Routes of one tune: what is decided, what is drawn of its sheet, what happens to it."""

from __future__ import annotations

import asyncio

from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from fillwright.edition.file import edition_text
from fillwright.errors import InputError
from fillwright.web.changes import told
from fillwright.web.house import Routes
from fillwright.web.store import Record
from fillwright.web.wire import asked_printing, download, json_body, route, version_of
from fillwright.web.words import Say

__all__ = ["TuneRoutes"]

_EVENTS = {"cache-control": "no-store", "x-accel-buffering": "no"}


class TuneRoutes(Routes):
    def routes(self) -> list[Route]:
        tune = "/api/tunes/{tune}"
        return [
            route(tune, self.tune),
            route(tune, self.change, "PUT"),
            route(f"{tune}/undo", self.undo, "POST"),
            route(f"{tune}/redo", self.redo, "POST"),
            route(f"{tune}/events", self.events),
            route("/api/events", self.shelf_events),
            route(f"{tune}/edition", self.edition),
            route(f"{tune}/lead", self.lead),
            route(f"{tune}/blank", self.blank),
            route(f"{tune}/plain", self.plain),
            route(f"{tune}/chord", self.chord, "POST"),
        ]

    async def tune(self, request: Request) -> Response:
        record = await self.house.record(request)
        value = await self._value(record, self.house.say(request))
        self.service.warmth.begin(record)
        return JSONResponse(value)

    async def _value(self, record: Record, say: Say) -> dict[str, object]:
        value = await self.service.tune(record)
        return {**value, "undo": told(record.undo, say), "redo": told(record.redo, say)}

    async def change(self, request: Request) -> Response:
        body = await json_body(request)
        say = self.house.say(request)
        done = await self.service.changes.change(
            request.path_params["tune"], version_of(body), body.get("change"))
        self.service.warmth.go_on(done.record)
        lost = [say("server.lost_gap", gap=gap) for gap in done.lost]
        return JSONResponse({**await self._value(done.record, say), "lost": lost,
                             "missing": list(done.missing), "merged": done.merged})

    async def undo(self, request: Request) -> Response:
        return await self._step(request, -1)

    async def redo(self, request: Request) -> Response:
        return await self._step(request, 1)

    async def _step(self, request: Request, by: int) -> Response:
        version = version_of(await json_body(request))
        record = await self.service.changes.step(request.path_params["tune"], version, by)
        return JSONResponse(await self._value(record, self.house.say(request)))

    async def events(self, request: Request) -> Response:
        """What happens to the tune from now on, as server-sent events."""
        record = await self.house.record(request)
        known = self.service.chosen(record) is not None
        return self._stream(record.id, {"version": record.version, "chosen": known})

    async def shelf_events(self, request: Request) -> Response:
        """What happens to the shelf."""
        return self._stream("", {})

    def _stream(self, channel: str, now: dict[str, object]) -> Response:
        first = {**now, "token": self.house.token, "assets": self.house.assets.version}
        stream = self.service.events.stream(channel, first)
        if stream is None:
            return JSONResponse({"error": "too many pages listen"}, status_code=503)
        return StreamingResponse(stream, media_type="text/event-stream", headers=_EVENTS)

    async def edition(self, request: Request) -> Response:
        """The tune with all that was decided, as one file to take away."""
        record = await self.house.record(request)
        text = await asyncio.to_thread(edition_text, record.edition)
        name = f"{record.name.rsplit('.', 1)[0] or 'tune'}.edition.json"
        return Response(text, media_type="application/json", headers=download(name))

    async def lead(self, request: Request) -> Response:
        return await self._drawn(request, "lead")

    async def blank(self, request: Request) -> Response:
        return await self._drawn(request, "blank")

    async def _drawn(self, request: Request, task: str) -> Response:
        ask = self.service.drawing(await self.house.record(request))
        printing = asked_printing(request)
        return JSONResponse({"pages": await self.service.answer(ask, task, printing)})

    async def plain(self, request: Request) -> Response:
        """The sheet as it is: its melody over its chords, as a beginner plays them."""
        ask = self.service.drawing(await self.house.record(request))
        return JSONResponse(await self.service.answer(ask, "plain"))

    async def chord(self, request: Request) -> Response:
        text = (await json_body(request)).get("text")
        if not isinstance(text, str) or not 0 < len(text) <= 60:
            raise InputError("a chord symbol has 1 to 60 characters")
        ask = self.service.ask(await self.house.record(request))
        return JSONResponse(await self.service.answer(ask, "chord", text))
