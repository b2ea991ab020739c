"""The application: the routes of all parts, what is answered where something fails, its life."""

from __future__ import annotations

from collections.abc import AsyncIterator, Collection
from contextlib import asynccontextmanager
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from fillwright.errors import InputError
from fillwright.take.recording import MAX_RECORDING_BYTES, OpenEar, open_piano_ear
from fillwright.web.door import Door
from fillwright.web.gap_routes import GapRoutes
from fillwright.web.guard import Guard
from fillwright.web.house import House
from fillwright.web.library_routes import LibraryRoutes
from fillwright.web.pack_routes import PackRoutes
from fillwright.web.pages import Pages
from fillwright.web.pianos import Pianos
from fillwright.web.pool import Cancelled, Pool, TooSlow, WorkerDied
from fillwright.web.service import BadChord, Service
from fillwright.web.shelf_file import MAX_SHELF_BYTES
from fillwright.web.shelf_routes import ShelfRoutes
from fillwright.web.store import FILE_NAME, Conflict, Missing, Store
from fillwright.web.student_routes import StudentRoutes
from fillwright.web.take_routes import TakeRoutes
from fillwright.web.trouble import StoreTrouble
from fillwright.web.tune_routes import TuneRoutes
from fillwright.web.wire import failure
from fillwright.web.work_routes import SAMPLED_KEYS, WorkRoutes

__all__ = ["SAMPLED_KEYS", "create_app"]

_ERRORS = (BadChord, StoreTrouble, InputError, Missing, Conflict, TooSlow, Cancelled, WorkerDied,
           HTTPException)


def create_app(data_folder: Path, hosts: Collection[str], workers: int,
               door: Door | None = None, soundfont: Path | None = None,
               open_ear: OpenEar | None = None) -> tuple[Guard, Service]:
    """The whole application, and its service, to be closed before the last answers are waited
    for: what waits for work is answered then.

    data_folder   where the database lives; made if need be
    hosts         what the Host header may say, with the port
    workers       processes that compute
    door          asks for the pass phrase; None: nobody is asked
    soundfont     the piano that plays until another is chosen; None for the one that was last
    open_ear      gets what hears recordings ready, in a process of its own; None: the one of the
                  extra `listen`
    """
    service = Service(Store(data_folder / FILE_NAME), Pool(workers),
                      Pianos(data_folder, soundfont), open_ear or open_piano_ear)
    house = House(service)

    @asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        service.wake()
        yield
        await service.close()

    async def failed(request: Request, error: Exception) -> Response:
        status, value = failure(error, house.say(request))
        if request.url.path.startswith("/api/"):
            return JSONResponse(value, status_code=status)
        return house.html(request, "error.html", status, message=value["error"])

    parts = (Pages(house), ShelfRoutes(house), TuneRoutes(house), GapRoutes(house),
             WorkRoutes(house), TakeRoutes(house), PackRoutes(house), StudentRoutes(house),
             LibraryRoutes(house))
    starlette = Starlette(lifespan=life, exception_handlers=dict.fromkeys(_ERRORS, failed),
                          routes=[route for part in parts for route in part.routes()])
    guard = Guard(starlette, hosts, {"/api/shelf": MAX_SHELF_BYTES,
                                     "/api/tunes/*/takes": MAX_RECORDING_BYTES}, door)
    house.door = door
    house.token = guard.token
    return guard, service
