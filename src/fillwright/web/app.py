"""The routes: they take a request apart, ask, and answer."""

from __future__ import annotations

import asyncio
import hashlib
import re
from collections.abc import AsyncIterator, Awaitable, Callable, Collection
from contextlib import asynccontextmanager
from pathlib import Path
from urllib.parse import parse_qs, quote

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from fillwright.demo import DEMO_TUNES
from fillwright.edition.decisions import read_pick
from fillwright.edition.file import edition_text
from fillwright.errors import InputError
from fillwright.fills.model import FAMILIES
from fillwright.web.assets import Assets
from fillwright.web.door import COOKIE, KEPT_SEC, Door
from fillwright.web.guard import ENTRANCE, Guard
from fillwright.web.jobs import Job
from fillwright.web.pianos import Pianos
from fillwright.web.pool import Cancelled, Pool, TooSlow, WorkerDied
from fillwright.web.service import SHOWN_OPTIONS, BadChord, Service
from fillwright.web.shelf_file import MAX_SHELF_BYTES, shelf_text
from fillwright.web.store import FILE_NAME, Conflict, Missing, Record, Store
from fillwright.web.trouble import StoreTrouble
from fillwright.web.wire import (
    failure,
    file_name,
    gap_number,
    json_body,
    media_type,
    pasted_name,
    unless_known,
    version_of,
)
from fillwright.web.words import Say

__all__ = ["SAMPLED_KEYS", "create_app"]

SAMPLED_KEYS = tuple(range(24, 106, 4))
"""As in `fillwright.web.piano`, which is not imported here because it loads the sound."""
KEPT_KEYS = 3 * len(SAMPLED_KEYS)
"""Of the pianos chosen last."""
MOST_OPTIONS = 24
_BY_LANGUAGE = {"vary": "accept-language, cookie"}
WRONG_SEC = 0.5
_FILES = {"pdf": "application/pdf", "musicxml": "application/vnd.recordare.musicxml+xml",
          "mid": "audio/midi", "flac": "audio/flac", "json": "application/json"}
_EXPORTS = ("pdf", "musicxml", "mid", "flac", "json", "lead.pdf", "blank.pdf", "hands.pdf")


class _App:
    """What the routes share."""

    def __init__(self, store: Store, pool: Pool, pianos: Pianos) -> None:
        self.service = Service(store, pool, pianos)
        self.assets = Assets()
        self.token = ""
        self.door: Door | None = None
        self._wrong = asyncio.Lock()
        self.keys: dict[tuple[str, int], bytes] = {}

    async def record(self, request: Request) -> Record:
        return await asyncio.to_thread(self.service.store.get, request.path_params["tune"])

    def html(self, request: Request, name: str, status: int = 200, **values: object
             ) -> HTMLResponse:
        language = self.assets.words.preferred(request)
        return HTMLResponse(self.assets.page(name, language, **{"token": self.token, **values}),
                            status_code=status, headers=_BY_LANGUAGE)

    def say(self, request: Request) -> Say:
        """In the language of whoever asks."""
        return self.assets.words.say(self.assets.words.preferred(request))

    # --- pages --------------------------------------------------------------------------------

    async def shelf_page(self, request: Request) -> Response:
        return self.html(request, "shelf.html", demos=DEMO_TUNES)

    async def tune_page(self, request: Request) -> Response:
        record = await self.record(request)
        return self.html(request, "tune.html", tune=record.id, title=record.title)

    async def enter_page(self, request: Request) -> Response:
        if self.door is None:
            raise HTTPException(404, self.say(request)("server.no_page"))
        return self._enter(request, 401, "")

    async def enter(self, request: Request) -> Response:
        """The pass phrase was typed. Wrong ones are answered one after the other, slowly."""
        if self.door is None:
            raise HTTPException(404, self.say(request)("server.no_page"))
        typed = parse_qs((await request.body())[:2000].decode("utf-8", "replace"))
        if not self.door.opens(typed.get("phrase", [""])[0]):
            async with self._wrong:
                await asyncio.sleep(WRONG_SEC)
            return self._enter(request, 403, self.say(request)("server.wrong_phrase"))
        answer = RedirectResponse("/", status_code=303)
        answer.set_cookie(COOKIE, self.door.cookie(), max_age=KEPT_SEC, httponly=True,
                          samesite="lax")
        return answer

    def _enter(self, request: Request, status: int, message: str) -> Response:
        """Without the token, which is for those who have come in."""
        return self.html(request, "enter.html", status, token="", message=message)

    async def static(self, request: Request) -> Response:
        asset = self.assets.get(request.path_params["name"])
        if asset is None:
            raise HTTPException(404, "There is no such file.")
        return unless_known(request, asset.content, asset.media_type, asset.etag)

    # --- the shelf ----------------------------------------------------------------------------

    async def shelf(self, request: Request) -> Response:
        return JSONResponse({"tunes": await asyncio.to_thread(self.service.store.shelf)})

    async def whole_shelf(self, request: Request) -> Response:
        """Everything as one file to take away."""
        tunes = await asyncio.to_thread(self.service.store.everything)
        text = await asyncio.to_thread(shelf_text, tunes)
        return Response(text, media_type="application/json", headers={
            "content-disposition": 'attachment; filename="fillwright-shelf.json"'})

    async def bring_shelf(self, request: Request) -> Response:
        if media_type(request) != "application/json":
            raise HTTPException(415, "The body is to be JSON.")
        return JSONResponse(await self.service.bring_shelf(await request.body()))

    async def bring(self, request: Request) -> Response:
        if media_type(request) == "multipart/form-data":
            key = await self._uploaded(request)
        else:
            body = await json_body(request)
            if isinstance(body.get("demo"), str):
                key = await self.service.bring_demo(body["demo"])
            elif isinstance(body.get("text"), str):
                text = body["text"]
                key = await self.service.bring(text.encode("utf-8", "replace"), pasted_name(text))
            else:
                raise InputError("bring a file, a text, or the name of a demo tune")
        return JSONResponse({"id": key}, status_code=201)

    async def _uploaded(self, request: Request) -> str:
        async with request.form(max_files=1, max_fields=4) as form:
            upload = form.get("file")
            if upload is None or isinstance(upload, str):
                raise InputError("no file came with it")
            return await self.service.bring(await upload.read(), file_name(upload.filename))

    async def remove(self, request: Request) -> Response:
        await asyncio.to_thread(self.service.store.remove, request.path_params["tune"])
        return JSONResponse({})

    # --- a tune -------------------------------------------------------------------------------

    async def tune(self, request: Request) -> Response:
        record = await self.record(request)
        value = await self.service.tune(record)
        self.service.warm(record)
        return JSONResponse(value)

    async def change(self, request: Request) -> Response:
        body = await json_body(request)
        record, lost = await self.service.change(await self.record(request), version_of(body),
                                                 body.get("change"))
        return JSONResponse({**await self.service.tune(record), "lost": lost})

    async def undo(self, request: Request) -> Response:
        return await self._step(request, -1)

    async def redo(self, request: Request) -> Response:
        return await self._step(request, 1)

    async def _step(self, request: Request, by: int) -> Response:
        version = version_of(await json_body(request))
        record = await asyncio.to_thread(self.service.store.step, request.path_params["tune"],
                                          version, by)
        return JSONResponse(await self.service.tune(record))

    async def edition(self, request: Request) -> Response:
        """The tune with all that was decided, as one file to take away."""
        record = await self.record(request)
        text = await asyncio.to_thread(edition_text, record.edition)
        name = f"{record.name.rsplit('.', 1)[0] or 'tune'}.edition.json"
        return Response(text, media_type="application/json", headers={
            "content-disposition": f"attachment; filename*=UTF-8''{quote(name)}"})

    async def lead(self, request: Request) -> Response:
        return await self._drawn(request, "lead")

    async def blank(self, request: Request) -> Response:
        return await self._drawn(request, "blank")

    async def _drawn(self, request: Request, task: str) -> Response:
        ask = self.service.drawing(await self.record(request))
        return JSONResponse({"pages": await self.service.answer(ask, task)})

    async def chord(self, request: Request) -> Response:
        text = (await json_body(request)).get("text")
        if not isinstance(text, str) or not 0 < len(text) <= 60:
            raise InputError("a chord symbol has 1 to 60 characters")
        ask = self.service.ask(await self.record(request))
        return JSONResponse(await self.service.answer(ask, "chord", text))

    async def gap(self, request: Request) -> Response:
        """Without a query all families; else those that it names, with how many options."""
        query = request.query_params
        wanted = {family: query.get(family, str(SHOWN_OPTIONS)) for family in FAMILIES
                  if family in query or not any(name in query for name in FAMILIES)}
        for text in wanted.values():
            if re.fullmatch(r"[1-9]\d?", text) is None or int(text) > MOST_OPTIONS:
                raise InputError(f"at most {MOST_OPTIONS} options of a family are shown")
        counts = {family: int(text) for family, text in wanted.items()}
        return JSONResponse(await self.service.options(await self.record(request),
                                                       gap_number(request), counts))

    async def phrase(self, request: Request) -> Response:
        """The bars around a gap as they stand on the sheet."""
        ask = self.service.drawing(await self.record(request))
        return JSONResponse(await self.service.answer(ask, "phrase", gap_number(request)))

    async def heard(self, request: Request) -> Response:
        pick = read_pick(await json_body(request))
        return JSONResponse(await self.service.heard(await self.record(request),
                                                     gap_number(request), pick))

    async def check(self, request: Request) -> Response:
        return await self._of_fill(request, "check")

    async def staff(self, request: Request) -> Response:
        return await self._of_fill(request, "staff", "staff")

    async def _of_fill(self, request: Request, task: str, *more: str) -> Response:
        pick = read_pick(await json_body(request))
        ask = self.service.ask(await self.record(request))
        return JSONResponse(
            await self.service.answer(ask, task, gap_number(request), pick, *more))

    # --- long work ----------------------------------------------------------------------------

    async def start(self, request: Request) -> Response:
        kind = (await json_body(request)).get("kind")
        if kind != "chorus" and kind not in _EXPORTS:
            raise InputError(f"what can be made is chorus, {', '.join(_EXPORTS)}")
        job = self.service.start(await self.record(request), str(kind))
        return JSONResponse(job.value(self.say(request)), status_code=202)

    def _job(self, request: Request) -> Job:
        job = self.service.jobs.get(request.path_params["job"])
        if job is None:
            raise HTTPException(404, "There is no such work.")
        return job

    async def job(self, request: Request) -> Response:
        job = self._job(request)
        if "wait" in request.query_params:
            await self.service.jobs.wait(job, 10.0)
        return JSONResponse(job.value(self.say(request)))

    async def cancel(self, request: Request) -> Response:
        job = self._job(request)
        await self.service.jobs.cancel(job)
        return JSONResponse(job.value(self.say(request)))

    async def result(self, request: Request) -> Response:
        job = self._job(request)
        if job.state != "done":
            raise HTTPException(409, job.value(self.say(request))["message"])
        if isinstance(job.result, dict):
            return JSONResponse(job.result)
        name, content = job.result
        return Response(content, media_type=_FILES[name.rsplit(".", 1)[1]], headers={
            "content-disposition": f"attachment; filename*=UTF-8''{quote(name)}"})

    # --- the piano ----------------------------------------------------------------------------

    async def pianos(self, request: Request) -> Response:
        """The keys that are sampled, and the pianos there are."""
        return JSONResponse({"keys": list(SAMPLED_KEYS), **await self.service.pianos_there()})

    async def choose_piano(self, request: Request) -> Response:
        name = (await json_body(request)).get("piano")
        if not isinstance(name, str):
            raise InputError("a piano has a name")
        await self.service.choose_piano(name)
        return await self.pianos(request)

    async def piano_key(self, request: Request) -> Response:
        midi = request.path_params["midi"]
        if midi not in SAMPLED_KEYS:
            raise HTTPException(404, "That key is not sampled.")
        piano = await self.service.piano()
        sample = self.keys.get((piano.mark, midi))
        if sample is None:
            sample = await self.service.strike(piano, midi)
            while len(self.keys) >= KEPT_KEYS:
                del self.keys[next(iter(self.keys))]
            self.keys[piano.mark, midi] = sample
        return unless_known(request, sample, "audio/flac",
                             hashlib.sha256(sample).hexdigest()[:16])

    # --- what went wrong ----------------------------------------------------------------------

    async def failed(self, request: Request, error: Exception) -> Response:
        status, value = failure(error, self.say(request))
        if request.url.path.startswith("/api/"):
            return JSONResponse(value, status_code=status)
        return self.html(request, "error.html", status, message=value["error"])


def _routes(app: _App) -> list[Route]:
    def route(path: str, endpoint: Callable[[Request], Awaitable[Response]],
              method: str = "GET") -> Route:
        return Route(path, endpoint, methods=[method])

    tune = "/api/tunes/{tune}"
    gap = tune + "/gaps/{gap:int}"
    return [
        route("/", app.shelf_page),
        route("/tunes/{tune}", app.tune_page),
        route("/static/{name}", app.static),
        route(ENTRANCE, app.enter_page),
        route(ENTRANCE, app.enter, "POST"),
        route("/api/tunes", app.shelf),
        route("/api/tunes", app.bring, "POST"),
        route("/api/shelf", app.whole_shelf),
        route("/api/shelf", app.bring_shelf, "POST"),
        route(tune, app.tune),
        route(tune, app.change, "PUT"),
        route(tune, app.remove, "DELETE"),
        route(f"{tune}/undo", app.undo, "POST"),
        route(f"{tune}/redo", app.redo, "POST"),
        route(f"{tune}/edition", app.edition),
        route(f"{tune}/lead", app.lead),
        route(f"{tune}/blank", app.blank),
        route(f"{tune}/chord", app.chord, "POST"),
        route(f"{tune}/jobs", app.start, "POST"),
        route(gap, app.gap),
        route(f"{gap}/phrase", app.phrase),
        route(f"{gap}/heard", app.heard, "POST"),
        route(f"{gap}/staff", app.staff, "POST"),
        route(f"{gap}/check", app.check, "POST"),
        route("/api/jobs/{job}", app.job),
        route("/api/jobs/{job}", app.cancel, "DELETE"),
        route("/api/jobs/{job}/result", app.result),
        route("/api/piano", app.pianos),
        route("/api/piano", app.choose_piano, "PUT"),
        route("/api/piano/{midi:int}", app.piano_key),
    ]


def create_app(data_folder: Path, hosts: Collection[str], workers: int,
               door: Door | None = None, soundfont: Path | None = None
               ) -> tuple[Guard, Service]:
    """The whole application, and its service, to be closed before the last answers are waited
    for: what waits for work is answered then.

    data_folder   where the database lives; made if need be
    hosts         what the Host header may say, with the port
    workers       processes that compute
    door          asks for the pass phrase; None: nobody is asked
    soundfont     the piano that plays until another is chosen; None for the one that was last
    """
    app = _App(Store(data_folder / FILE_NAME), Pool(workers),
               Pianos(data_folder, soundfont))

    @asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        app.service.wake()
        yield
        await app.service.close()

    errors = (BadChord, StoreTrouble, InputError, Missing, Conflict, TooSlow, Cancelled, WorkerDied,
              HTTPException)
    starlette = Starlette(
        lifespan=life,
        exception_handlers=dict.fromkeys(errors, app.failed),
        routes=_routes(app))
    guard = Guard(starlette, hosts, {"/api/shelf": MAX_SHELF_BYTES}, door)
    app.door = door
    app.token = guard.token
    return guard, app.service
