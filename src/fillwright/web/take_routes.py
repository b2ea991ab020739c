"""Routes of the takes of a tune: brought, listed, heard, deleted."""

from __future__ import annotations

import asyncio
from pathlib import PurePath

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from fillwright.errors import InputError
from fillwright.take.recording import MISSING, is_recording
from fillwright.web.house import Routes
from fillwright.web.pool import TooSlow, WorkerDied
from fillwright.web.store import Missing, Record
from fillwright.web.takes import KeptTake
from fillwright.web.wire import download, file_name, json_body, media_type, route

__all__ = ["TakeRoutes"]

READ_SEC = 15.0
KINDS = ("report", "pdf")


class TakeRoutes(Routes):
    def routes(self) -> list[Route]:
        takes = "/api/tunes/{tune}/takes"
        return [
            route(takes, self.takes),
            route(takes, self.bring, "POST"),
            route(f"{takes}/{{take}}", self.file),
            route(f"{takes}/{{take}}", self.remove, "DELETE"),
            route(f"{takes}/{{take}}/jobs", self.start, "POST"),
        ]

    async def takes(self, request: Request) -> Response:
        record = await self.house.record(request)
        kept = await asyncio.to_thread(self.service.takes.of, record.id)
        return JSONResponse({"takes": [take.value() for take in kept],
                             "listens": self.service.recordings.can_hear,
                             "needs": self.service.recordings.needs()})

    async def bring(self, request: Request) -> Response:
        """A Standard MIDI File, as a form has it, or a recording, which is long work to hear. What
        is neither is not kept."""
        record = await self.house.record(request)
        if media_type(request) != "multipart/form-data":
            raise HTTPException(415, "The body is to be a form with a file.")
        async with request.form(max_files=1, max_fields=4) as form:
            upload = form.get("file")
            if upload is None or isinstance(upload, str):
                raise InputError("no file came with it")
            data, name = await upload.read(), file_name(upload.filename)
        if is_recording(name):
            if not self.service.recordings.can_hear:
                raise InputError(MISSING, name)
            job = self.service.recordings.begin(record.id, name, data)
            return JSONResponse(job.value(self.house.say(request)), status_code=202)
        try:
            await self.service.pool.reader.run("read_take", data, name, limit_sec=READ_SEC)
        except TooSlow:
            raise InputError("reading it took too long", name) from None
        except WorkerDied:
            raise InputError("it cannot be read", name) from None
        take = await asyncio.to_thread(self.service.takes.add, record.id, name, data)
        return JSONResponse(take.value(), status_code=201)

    async def file(self, request: Request) -> Response:
        """The take itself, to take away."""
        _, take, data = await self._kept(request)
        return Response(data, media_type="audio/midi",
                        headers=download(f"{PurePath(take.name).stem}.mid"))

    async def remove(self, request: Request) -> Response:
        record, take, _ = await self._kept(request)
        await asyncio.to_thread(self.service.takes.remove, record.id, take.id)
        return JSONResponse({})

    async def _kept(self, request: Request) -> tuple[Record, KeptTake, bytes]:
        """The take of a path, and its tune. Raises HTTPException, `Missing`."""
        record = await self.house.record(request)
        try:
            return record, *await asyncio.to_thread(
                self.service.takes.get, record.id, request.path_params["take"])
        except Missing:
            raise HTTPException(404, self.house.say(request)("server.no_take")) from None

    async def start(self, request: Request) -> Response:
        """Hear a take: long work."""
        kind = (await json_body(request)).get("kind")
        if kind not in KINDS:
            raise InputError(f"what can be made of a take is {', '.join(KINDS)}")
        record, take, data = await self._kept(request)
        language = self.house.assets.words.preferred(request) if kind == "pdf" else None
        job = self.service.longwork.hear(record, take, data, language)
        return JSONResponse(job.value(self.house.say(request)), status_code=202)
