"""In a worker: what the teacher's desk makes for the page. Every answer is JSON or bytes."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from fillwright.edition.desk import Desk
from fillwright.edition.model import Edition
from fillwright.errors import InputError
from fillwright.fills.ladder.rungs import Ladder, ladder, rung_named
from fillwright.fills.model import FAMILIES
from fillwright.lesson.choices import kind_of
from fillwright.lesson.documents import drill_document
from fillwright.lesson.drills import drill_of
from fillwright.lesson.pack import pack_files, pack_warnings
from fillwright.lesson.plan import plan_of
from fillwright.lesson.rounds import Round, round_of_keys
from fillwright.lesson.sets import Found, Search
from fillwright.lesson.study import study_pdf
from fillwright.lesson.task import Tunes, tasks_of
from fillwright.output import render
from fillwright.score.engraver import EngravingError
from fillwright.take import answer_played, strokes_of
from fillwright.web import painter
from fillwright.web.painter import Report

__all__ = ["drill", "found_set", "pack", "played", "round_file", "round_keys", "rungs", "study"]

_COMPARED = 4
"""Offers of a family that what was played is compared with: as many as a take is."""

_NOTICED = 4
"""Points of difficulty, of 100, by which the easiest form of an idea is noticeably easier (design
choice)."""

_NOWHERE = Path("no folder")
"""No tune of a pack on the page is named by its file."""


def rungs(desk: Desk, number: int, fill_id: str) -> dict[str, Any]:
    """The ladder of an idea, or of the idea that a rung is of; `easier`: whether anything on it
    is noticeably so."""
    found = _ladder(desk, number, fill_id)
    hard = [rung.difficulty for rung in found.rungs]
    return {"rungs": [{"level": rung.level, "difficulty": rung.difficulty,
                       "highest_tempo": rung.highest_tempo, "left_out": list(rung.left_out),
                       "fill": painter.one_fill(desk, number, rung.fill)}
                      for rung in found.rungs],
            "easier": hard[0] - hard[-1] >= _NOTICED if hard else False,
            "missing": [{"level": one.level, "reason": one.reason} for one in found.missing]}


def _ladder(desk: Desk, number: int, fill_id: str) -> Ladder:
    rung = rung_named(fill_id)
    idea = desk.picked(number, fill_id if rung is None else rung[0])
    if idea is None:
        raise InputError("a gap left open has no idea to thin")
    return ladder(idea, hand=desk.options.hand, chorus=desk.chorus)


def study(desk: Desk, number: int, fill_id: str, language: str) -> tuple[str, bytes]:
    """A page of levels: its name and the PDF."""
    try:
        made = study_pdf(_ladder(desk, number, fill_id), desk.options, language)
    except EngravingError as error:
        raise InputError(str(error)) from error
    return f"{_file_name(desk.chorus.tune.title)}-gap-{number}-study.pdf", made


def _file_name(title: str) -> str:
    name = re.sub(r"[^\w-]+", "-", title, flags=re.ASCII).strip("-").lower()
    return name[:60] or "tune"


def round_keys(sheet: Edition, number: int, fill_id: str, keys: str) -> list[dict[str, Any]]:
    """A fill through the keys that are named: of each its difficulty, and what the hands make
    different."""
    return [{"tonic": one.key.tonic.pretty, "difficulty": one.difficulty,
             "changed": list(one.changed)} for one in _round(sheet, number, fill_id, keys).keys]


def round_file(sheet: Edition, number: int, fill_id: str, keys: str, kind: str
               ) -> tuple[str, bytes]:
    """The same in one of the formats of `output`: its name and its bytes."""
    found = _round(sheet, number, fill_id, keys).arrangement
    made = next(iter(render(found, (kind,)).values()))
    return f"{_file_name(sheet.tune().title)}-gap-{number}-keys.{kind}", made


def _round(sheet: Edition, number: int, fill_id: str, keys: str) -> Round:
    return round_of_keys(sheet, keys, gap=number, fill=fill_id or None)


def drill(desk: Desk, report: Report) -> dict[str, Any]:
    """The answers for every gap, the kind of each, and how the tune goes by."""
    found = drill_of(desk, lambda done, total: report("job_gaps", done, total))
    value = drill_document(found)
    gaps = [{**entry, "kind": kind_of(one.gap, found.chorus),
             "sheet_bar": found.chorus.sheet_number(one.gap.onset_quarter),
             "onset_quarter": str(one.gap.onset_quarter),
             "end_quarter": str(one.gap.end_quarter)}
            for entry, one in zip(value["gaps"], found.gaps, strict=True)]
    return {"gaps": gaps, "play": painter.plain(desk)["play"]}


def played(desk: Desk, number: int, rows: Sequence[Any], speed: Any) -> dict[str, Any]:
    """What a student who answered by playing has played; the offers of the drill, and those
    after them, are what it may be.

    rows   strokes, as `strokes_of` takes them
    """
    desk.gap(number)
    strokes = strokes_of(desk.chorus, rows, speed)
    found = [desk.fills(number, family, _COMPARED) for family in FAMILIES]
    offers = [fill for some in found if not isinstance(some, str) for fill in some]
    return asdict(answer_played(desk.chorus, desk.gaps, number, strokes, offers, speed))


def pack(plan: Mapping[str, Any], editions: Mapping[str, Edition], report: Report
         ) -> dict[str, Any]:
    """The files of a pack by their names, and what a teacher should know of it."""
    read = plan_of(plan)
    tasks = tasks_of(read, Tunes(_NOWHERE, editions),
                     lambda done, total: report("job_items", done, total))
    try:
        files = pack_files(read, tasks, lambda stage: report(f"job_{stage}", 0, 1))
    except EngravingError as error:
        raise InputError(str(error)) from error
    return {"files": files, "warnings": list(pack_warnings(read, tasks))}


def found_set(wish: Mapping[str, Any], editions: Mapping[str, Edition], report: Report
              ) -> dict[str, Any]:
    """A graded set: items for a pack.

    wish   `kind` ("device", "family", "order"), `name` of the device or the family, `level`,
           `hand`, `count`
    """
    search = Search(tuple(editions), Tunes(_NOWHERE, editions), str(wish["hand"]),
                    lambda done, total: report("job_gaps", done, total))
    level, count = str(wish["level"]), int(wish["count"])
    found: Sequence[Found]
    if wish["kind"] == "device":
        found = search.one_device(str(wish["name"]), count)
    elif wish["kind"] == "family":
        found = search.every_device(str(wish["name"]), level, count)
    else:
        found = search.gaps_in_order(level, count)
    return {"items": [{"tune": one.item.tune, "gap": one.item.gap, "fill": one.fill.id,
                       "level": one.item.level, "hand": one.item.hand, "device": one.fill.device,
                       "difficulty": one.fill.difficulty, "bar": one.gap.bar,
                       "beat": str(one.gap.beat)} for one in found]}
