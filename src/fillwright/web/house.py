"""What all routes share: the service behind them, the pages, the language of whoever asks."""

from __future__ import annotations

import asyncio

from starlette.requests import Request
from starlette.responses import HTMLResponse

from fillwright.web.assets import Assets
from fillwright.web.door import Door
from fillwright.web.service import Service
from fillwright.web.store import Record
from fillwright.web.words import Say

__all__ = ["House", "Routes"]

_BY_LANGUAGE = {"vary": "accept-language, cookie"}


class House:
    """`token` is what a page's own requests bring; `door` asks for the pass phrase, None: nobody
    is asked."""

    def __init__(self, service: Service) -> None:
        self.service = service
        self.assets = Assets()
        self.token = ""
        self.door: Door | None = None

    async def record(self, request: Request) -> Record:
        """The tune of a path. Raises `Missing`."""
        return await asyncio.to_thread(self.service.store.get, request.path_params["tune"])

    def say(self, request: Request) -> Say:
        """In the language of whoever asks."""
        return self.assets.words.say(self.assets.words.preferred(request))

    def html(self, request: Request, name: str, status: int = 200, **values: object
             ) -> HTMLResponse:
        language = self.assets.words.preferred(request)
        return HTMLResponse(self.assets.page(name, language, **{"token": self.token, **values}),
                            status_code=status, headers=_BY_LANGUAGE)


class Routes:
    """A group of routes."""

    def __init__(self, house: House) -> None:
        self.house = house
        self.service = house.service
