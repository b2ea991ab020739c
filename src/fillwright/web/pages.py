"""Routes of the pages themselves, and of what they are made of."""

from __future__ import annotations

import asyncio
from urllib.parse import parse_qs

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from fillwright.demo import DEMO_TUNES
from fillwright.fills.devices.registry import device_names
from fillwright.lesson.rounds import ORDERS
from fillwright.web.door import COOKIE, KEPT_SEC
from fillwright.web.guard import ENTRANCE
from fillwright.web.house import House
from fillwright.web.wire import route, unless_known

__all__ = ["Pages"]

WRONG_SEC = 0.5
"""How long a wrong pass phrase waits for its answer."""


class Pages:
    def __init__(self, house: House) -> None:
        self.house = house
        self._wrong = asyncio.Lock()

    def routes(self) -> list[Route]:
        return [
            route("/", self.shelf),
            route("/tunes/{tune}", self.tune),
            route("/lessons", self.lessons),
            route("/static/{name}", self.static),
            route(ENTRANCE, self.enter_page),
            route(ENTRANCE, self.enter, "POST"),
            route("/api/hello", self.hello),
        ]

    async def shelf(self, request: Request) -> Response:
        return self.house.html(request, "shelf.html", demos=DEMO_TUNES)

    async def tune(self, request: Request) -> Response:
        record = await self.house.record(request)
        return self.house.html(request, "tune.html", tune=record.id, title=record.title,
                               orders=tuple(ORDERS))

    async def lessons(self, request: Request) -> Response:
        return self.house.html(request, "lessons.html", devices=device_names(),
                               orders=tuple(ORDERS))

    async def hello(self, request: Request) -> Response:
        """What a page needs to go on after the server was started anew."""
        return JSONResponse({"token": self.house.token, "assets": self.house.assets.version})

    async def enter_page(self, request: Request) -> Response:
        if self.house.door is None:
            raise HTTPException(404, self.house.say(request)("server.no_page"))
        return self._enter(request, 401, "")

    async def enter(self, request: Request) -> Response:
        """The pass phrase was typed. Wrong ones are answered one after the other, slowly."""
        door = self.house.door
        if door is None:
            raise HTTPException(404, self.house.say(request)("server.no_page"))
        typed = parse_qs((await request.body())[:2000].decode("utf-8", "replace"))
        if not door.opens(typed.get("phrase", [""])[0]):
            async with self._wrong:
                await asyncio.sleep(WRONG_SEC)
            return self._enter(request, 403, self.house.say(request)("server.wrong_phrase"))
        answer = RedirectResponse("/", status_code=303)
        answer.set_cookie(COOKIE, door.cookie(), max_age=KEPT_SEC, httponly=True, samesite="lax")
        return answer

    def _enter(self, request: Request, status: int, message: str) -> Response:
        """Without the token, which is for those who have come in."""
        return self.house.html(request, "enter.html", status, token="", message=message)

    async def static(self, request: Request) -> Response:
        asset = self.house.assets.get(request.path_params["name"])
        if asset is None:
            raise HTTPException(404, self.house.say(request)("server.no_file"))
        return unless_known(request, asset.content, asset.media_type, asset.etag)
