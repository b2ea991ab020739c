"""Routes of long work, and of the piano."""

from __future__ import annotations

import hashlib

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from fillwright.errors import InputError
from fillwright.web.house import House, Routes
from fillwright.web.jobs import Job
from fillwright.web.longwork import KINDS
from fillwright.web.wire import download, json_body, printing_of, route, unless_known

__all__ = ["SAMPLED_KEYS", "WorkRoutes"]

SAMPLED_KEYS = tuple(range(24, 106, 4))
"""As in `fillwright.web.piano`, which is not imported here because it loads the sound."""
KEPT_KEYS = 3 * len(SAMPLED_KEYS)
"""Of the pianos chosen last."""
WAIT_SEC = 10.0
_FILES = {"pdf": "application/pdf", "musicxml": "application/vnd.recordare.musicxml+xml",
          "mid": "audio/midi", "flac": "audio/flac", "json": "application/json"}


class WorkRoutes(Routes):
    def __init__(self, house: House) -> None:
        super().__init__(house)
        self._keys: dict[tuple[str, int], bytes] = {}

    def routes(self) -> list[Route]:
        return [
            route("/api/tunes/{tune}/jobs", self.start, "POST"),
            route("/api/jobs/{job}", self.job),
            route("/api/jobs/{job}", self.cancel, "DELETE"),
            route("/api/jobs/{job}/result", self.result),
            route("/api/piano", self.pianos),
            route("/api/piano", self.choose_piano, "PUT"),
            route("/api/piano/{midi:int}", self.piano_key),
        ]

    async def start(self, request: Request) -> Response:
        body = await json_body(request)
        kind = body.get("kind")
        if kind not in KINDS:
            raise InputError(f"what can be made is {', '.join(KINDS)}")
        job = self.service.longwork.start(await self.house.record(request), str(kind),
                                          printing_of(body.get("printing", {})))
        return JSONResponse(job.value(self.house.say(request)), status_code=202)

    def _job(self, request: Request) -> Job:
        job = self.service.jobs.get(request.path_params["job"])
        if job is None:
            raise HTTPException(404, self.house.say(request)("server.no_work"))
        return job

    async def job(self, request: Request) -> Response:
        job = self._job(request)
        if "wait" in request.query_params:
            await self.service.jobs.wait(job, WAIT_SEC)
        return JSONResponse(job.value(self.house.say(request)))

    async def cancel(self, request: Request) -> Response:
        job = self._job(request)
        await self.service.jobs.cancel(job)
        return JSONResponse(job.value(self.house.say(request)))

    async def result(self, request: Request) -> Response:
        job = self._job(request)
        if job.state != "done":
            say = self.house.say(request)
            raise HTTPException(409, job.value(say)["message"] or say("server.not_ready"))
        if isinstance(job.result, dict):
            return JSONResponse({name: value for name, value in job.result.items()
                                 if name != "files"})  # those are asked for one by one
        name, content = job.result
        return Response(content, media_type=_FILES[name.rsplit(".", 1)[1]],
                        headers=download(name))

    # --- the piano ----------------------------------------------------------------------------

    async def pianos(self, request: Request) -> Response:
        """The keys that are sampled, and the pianos there are."""
        return JSONResponse({"keys": list(SAMPLED_KEYS), **await self.service.room.there()})

    async def choose_piano(self, request: Request) -> Response:
        name = (await json_body(request)).get("piano")
        if not isinstance(name, str):
            raise InputError("a piano has a name")
        await self.service.room.choose(name)
        return await self.pianos(request)

    async def piano_key(self, request: Request) -> Response:
        midi = request.path_params["midi"]
        if midi not in SAMPLED_KEYS:
            raise HTTPException(404, "That key is not sampled.")
        piano = await self.service.room.played()
        sample = self._keys.get((piano.mark, midi))
        if sample is None:
            sample = await self.service.room.strike(piano, midi)
            while len(self._keys) >= KEPT_KEYS:
                del self._keys[next(iter(self._keys))]
            self._keys[piano.mark, midi] = sample
        return unless_known(request, sample, "audio/flac",
                            hashlib.sha256(sample).hexdigest()[:16])
