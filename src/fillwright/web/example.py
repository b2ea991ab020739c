"""What comes out, for somebody who has brought nothing yet: a gap of a demo tune with one answer
of each family, to be looked at and heard."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

from fillwright.demo import demo_path
from fillwright.edition.decisions import Decisions, Pick
from fillwright.fills.model import FAMILIES
from fillwright.web.store import Record

if TYPE_CHECKING:
    from fillwright.web.service import Service

__all__ = ["example"]

TUNE, GAP = "umbrella", 1
"""Its first note is held for five beats and a half."""


async def example(service: Service) -> dict[str, Any]:
    """The bars around the gap as they are written; of each family an idea with its staff and its
    sound. Families without an idea are left out."""
    data = await asyncio.to_thread(demo_path(TUNE).read_bytes)
    record = Record("", TUNE, f"{TUNE}.musicxml", data, 1, Decisions(), "", "")
    ask = service.ask(record)
    overview = await service.answer(ask, "overview")
    ideas = []
    for family in FAMILIES:
        page = await service.answer(ask, "options", GAP, family, 1)
        for fill in page["fills"]:
            pick = Pick(fill["id"])
            ideas.append({
                "family": family, "device": fill["device"],
                "staff": await service.answer(ask, "staff", GAP, pick, f"example-{family}"),
                "play": (await service.answer(ask, "heard", GAP, pick, ()))["context"]})
    return {"title": overview["tune"]["title"], "gap": overview["gaps"][GAP - 1],
            "phrase": await service.answer(service.drawing(record), "phrase", GAP),
            "ideas": ideas}
