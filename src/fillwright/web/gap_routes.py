"""Routes of one gap: its options, how they look and sound, what the rules say of them."""

from __future__ import annotations

import re
from types import MappingProxyType

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from fillwright.edition.decisions import read_pick
from fillwright.errors import InputError
from fillwright.fills.model import FAMILIES
from fillwright.given import several
from fillwright.lesson.plan import LANGUAGES
from fillwright.web.house import Routes
from fillwright.web.longwork import LONG_SEC
from fillwright.web.service import SHOWN_OPTIONS
from fillwright.web.wire import download, gap_number, json_body, route, short_text

__all__ = ["GapRoutes"]

MOST_OPTIONS = 24
MOST_LETTERS = 120

ROUND_FILES = MappingProxyType({"pdf": "application/pdf", "mp3": "audio/mpeg"})
"""As what a round is printed and heard."""


class GapRoutes(Routes):
    def routes(self) -> list[Route]:
        gap = "/api/tunes/{tune}/gaps/{gap:int}"
        return [
            route(gap, self.gap),
            route(f"{gap}/phrase", self.phrase),
            route(f"{gap}/tempo", self.tempo),
            route(f"{gap}/heard", self.heard, "POST"),
            route(f"{gap}/staff", self.staff, "POST"),
            route(f"{gap}/check", self.check, "POST"),
            route(f"{gap}/why-not", self.why_not, "POST"),
            route(f"{gap}/typed", self.typed, "POST"),
            route(f"{gap}/ladder", self.ladder),
            route(f"{gap}/study", self.study),
            route(f"{gap}/round", self.round_keys),
            route(f"{gap}/round.{{kind}}", self.round_file),
            route(f"{gap}/played", self.played, "POST"),
        ]

    async def gap(self, request: Request) -> Response:
        """Without a query all families; else those that it names, with how many options."""
        query = request.query_params
        wanted = {family: query.get(family, str(SHOWN_OPTIONS)) for family in FAMILIES
                  if family in query or not any(name in query for name in FAMILIES)}
        for text in wanted.values():
            if re.fullmatch(r"[1-9]\d?", text) is None or int(text) > MOST_OPTIONS:
                raise InputError(f"at most {MOST_OPTIONS} options of a family are shown")
        counts = {family: int(text) for family, text in wanted.items()}
        return JSONResponse(await self.service.options(await self.house.record(request),
                                                       gap_number(request), counts))

    async def phrase(self, request: Request) -> Response:
        """The bars around the gap as the sheet has them."""
        ask = self.service.drawing(await self.house.record(request))
        return JSONResponse(await self.service.answer(ask, "phrase", gap_number(request)))

    async def tempo(self, request: Request) -> Response:
        """Whether a family, or where none is named any, has ideas for the gap at a slower tempo:
        at one mark of the metronome a question, as each takes its time; `next` is the one to ask
        for if there are none."""
        family = request.query_params.get("family")
        if family not in (*FAMILIES, None):
            raise InputError(f"a family is one of {', '.join(FAMILIES)}")
        ask = self.service.ask(await self.house.record(request))
        marks = await self.service.answer(ask, "slower")
        at = request.query_params.get("at", str(marks[0]) if marks else "")
        if marks and at not in map(str, marks):
            raise InputError("the tempos that are tried are " + ", ".join(map(str, marks)))
        tried = [mark for mark in marks if str(mark) == at]
        found = tried and await self.service.answer(
            ask, "ideas_at", tried[0], gap_number(request),
            FAMILIES if family is None else (family,))
        after = [mark for mark in marks if tried and mark < tried[0]]
        return JSONResponse({"tempo": tried[0] if found else None,
                             "next": after[0] if after and not found else None})

    async def heard(self, request: Request) -> Response:
        pick = read_pick(await json_body(request))
        return JSONResponse(await self.service.heard(await self.house.record(request),
                                                     gap_number(request), pick))

    async def ladder(self, request: Request) -> Response:
        """An idea from its own level down to a beginner's."""
        ask = self.service.ask(await self.house.record(request))
        return JSONResponse(await self.service.answer(ask, "ladder", gap_number(request),
                                                      _idea(request)))

    async def study(self, request: Request) -> Response:
        """The same on paper."""
        ask = self.service.ask(await self.house.record(request))
        language = self.house.assets.words.preferred(request)
        name, content = await ask.worker.run(
            "study", ask.sheet, gap_number(request), _idea(request),
            language if language in LANGUAGES else LANGUAGES[0], limit_sec=LONG_SEC)
        return Response(content, media_type="application/pdf", headers=download(name))

    async def round_keys(self, request: Request) -> Response:
        """A fill through the keys that are named, and what is different in each."""
        ask = self.service.ask(await self.house.record(request))
        return JSONResponse({"keys": await ask.worker.run(
            "round_keys", ask.sheet, gap_number(request), *_carried(request),
            limit_sec=LONG_SEC)})

    async def round_file(self, request: Request) -> Response:
        """The same on paper, or as sound."""
        kind = request.path_params["kind"]
        if kind not in ROUND_FILES:
            raise InputError(f"a round is made as one of {', '.join(ROUND_FILES)}")
        ask = self.service.ask(await self.house.record(request))
        name, content = await ask.worker.run(
            "round_file", ask.sheet, gap_number(request), *_carried(request), kind,
            limit_sec=LONG_SEC)
        return Response(content, media_type=ROUND_FILES[kind], headers=download(name))

    async def played(self, request: Request) -> Response:
        """How a student answered who played in the gap of a drill: comp, reharm, line or open."""
        body = await json_body(request)
        rows = list(several(body.get("strokes", []), "strokes"))
        ask = self.service.ask(await self.house.record(request))
        return JSONResponse(await self.service.answer(ask, "played", gap_number(request), rows,
                                                      body.get("speed", 1)))

    async def check(self, request: Request) -> Response:
        return await self._of_fill(request, "check")

    async def why_not(self, request: Request) -> Response:
        return await self._of_fill(request, "why_not")

    async def typed(self, request: Request) -> Response:
        """Notes typed as text, as a choice."""
        text = (await json_body(request)).get("text")
        if not isinstance(text, str):
            raise InputError("notes are typed as text")
        ask = self.service.ask(await self.house.record(request))
        return JSONResponse(await self.service.answer(ask, "typed", gap_number(request), text))

    async def staff(self, request: Request) -> Response:
        return await self._of_fill(request, "staff", "staff")

    async def _of_fill(self, request: Request, task: str, *more: str) -> Response:
        pick = read_pick(await json_body(request))
        ask = self.service.ask(await self.house.record(request))
        return JSONResponse(
            await self.service.answer(ask, task, gap_number(request), pick, *more))


def _carried(request: Request) -> tuple[str, str]:
    """The id of a fill, "" for what is chosen or offered first, and the keys of a round."""
    fill, keys = (request.query_params.get(name, "") for name in ("fill", "keys"))
    return (read_pick({"fill": fill}).fill if fill else "", short_text(keys, "keys", MOST_LETTERS))


def _idea(request: Request) -> str:
    """The id of an idea, of a query. Raises InputError."""
    return read_pick({"fill": request.query_params.get("fill", "")}).fill
