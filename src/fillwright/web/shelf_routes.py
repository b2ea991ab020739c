"""Routes of the shelf: what stands there, what is brought, renamed, copied, put into a folder."""

from __future__ import annotations

import asyncio
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from fillwright.errors import InputError
from fillwright.web.example import example
from fillwright.web.house import Routes
from fillwright.web.pasted import bare_chords
from fillwright.web.shelf_file import shelf_text
from fillwright.web.wire import (
    download,
    file_name,
    json_body,
    media_type,
    pasted_name,
    route,
    short_text,
)

__all__ = ["ShelfRoutes"]

MOST_TITLE, MOST_FOLDER = 200, 80


class ShelfRoutes(Routes):
    def routes(self) -> list[Route]:
        tune = "/api/tunes/{tune}"
        return [
            route("/api/tunes", self.shelf),
            route("/api/tunes", self.bring, "POST"),
            route("/api/example", self.example),
            route("/api/shelf", self.whole_shelf),
            route("/api/shelf", self.bring_shelf, "POST"),
            route(tune, self.remove, "DELETE"),
            route(f"{tune}/name", self.rename, "PUT"),
            route(f"{tune}/folder", self.put_into, "PUT"),
            route(f"{tune}/copy", self.copy, "POST"),
        ]

    async def shelf(self, request: Request) -> Response:
        return JSONResponse({"tunes": await asyncio.to_thread(self.service.store.shelf)})

    async def example(self, request: Request) -> Response:
        """What an empty shelf shows."""
        return JSONResponse(await example(self.service))

    async def whole_shelf(self, request: Request) -> Response:
        """Everything as one file to take away."""
        tunes = await asyncio.to_thread(self.service.store.everything)
        text = await asyncio.to_thread(shelf_text, tunes)
        return Response(text, media_type="application/json",
                        headers=download("fillwright-shelf.json"))

    async def bring_shelf(self, request: Request) -> Response:
        if media_type(request) != "application/json":
            raise HTTPException(415, "The body is to be JSON.")
        return JSONResponse(await self.service.bringing.bring_shelf(await request.body()))

    async def bring(self, request: Request) -> Response:
        bringing = self.service.bringing
        if media_type(request) == "multipart/form-data":
            key = await self._uploaded(request)
        else:
            body = await json_body(request)
            if isinstance(body.get("demo"), str):
                key = await bringing.bring_demo(body["demo"])
            elif isinstance(body.get("text"), str):
                text = body["text"]
                if chords := bare_chords(text):
                    raise HTTPException(422, self.house.say(request)(
                        "server.only_chords", chords=", ".join(chords[:3])))
                key = await bringing.bring(text.encode("utf-8", "replace"), pasted_name(text))
            else:
                raise InputError("bring a file, a text, or the name of a demo tune")
        self.service.events.publish("", {"shelf": True})
        return JSONResponse({"id": key}, status_code=201)

    async def _uploaded(self, request: Request) -> str:
        async with request.form(max_files=1, max_fields=4) as form:
            upload = form.get("file")
            if upload is None or isinstance(upload, str):
                raise InputError("no file came with it")
            return await self.service.bringing.bring(await upload.read(),
                                                     file_name(upload.filename))

    async def remove(self, request: Request) -> Response:
        tune = request.path_params["tune"]
        await asyncio.to_thread(self.service.store.remove, tune)
        await asyncio.to_thread(self.service.takes.forget, tune)
        return self._changed({})

    async def rename(self, request: Request) -> Response:
        title = short_text((await json_body(request)).get("title"), "a title", MOST_TITLE)
        if not title:
            raise InputError("a tune has a title")
        await asyncio.to_thread(self.service.store.rename, request.path_params["tune"], title)
        return self._changed({"title": title})

    async def put_into(self, request: Request) -> Response:
        """A folder is there as long as a tune is in it; "" is the shelf itself."""
        folder = short_text((await json_body(request)).get("folder"), "a folder", MOST_FOLDER)
        await asyncio.to_thread(self.service.store.put_into, request.path_params["tune"], folder)
        return self._changed({"folder": folder})

    async def copy(self, request: Request) -> Response:
        """A second one with the same decisions, for another student."""
        title = short_text((await json_body(request)).get("title"), "a title", MOST_TITLE)
        key = await asyncio.to_thread(self.service.store.copy, request.path_params["tune"], title)
        return self._changed({"id": key}, 201)

    def _changed(self, value: dict[str, Any], status: int = 200) -> Response:
        self.service.events.publish("", {"shelf": True})
        return JSONResponse(value, status_code=status)
