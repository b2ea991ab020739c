"""A pack and its answers as PDF, set by typst. The same pack gives the same bytes."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from lxml import etree

from fillwright.lesson.plan import PackPlan
from fillwright.lesson.saying import Say, describing, heading, say_in
from fillwright.lesson.task import GapTask
from fillwright.score.fonts import font_folder
from fillwright.score.handdrawing import hand_picture
from fillwright.score.pictures import pictures_of

__all__ = ["LARGER", "answers_pdf", "pack_pdf", "staff_width", "staff_unit"]

LARGER = 4 / 3
"""Larger print against the usual."""

_TEMPLATE = Path(__file__).resolve().parent / "pack.typ"
_PAPERS = {"A4": "a4", "Letter": "us-letter"}
_WIDTHS = {"A4": 1800, "Letter": 1859}
"""Between the margins, in tenths of a millimetre."""
_SIZE_PT = 10.5
_UNIT = 7.5
_PICTURE_SCALE = 0.95
_EPOCH_SEC = 0


def staff_width(plan: PackPlan) -> int:
    """In tenths of a millimetre."""
    return _WIDTHS[plan.paper]


def staff_unit(plan: PackPlan) -> float:
    """Half the distance of two staff lines, in tenths of a millimetre."""
    return _UNIT * (LARGER if plan.larger_print else 1)


def pack_pdf(plan: PackPlan, tasks: Sequence[GapTask], staves: Sequence[str]) -> bytes:
    """What is handed out; `staves`: one a task, as it is handed out."""
    say = say_in(plan.language)
    entries, files = [], {}
    for task, staff in zip(tasks, staves, strict=True):
        filled, item = task.item.show == "filled", task.item
        entry = {**_head(task, say), "staff": f"staff-{task.number}.svg",
                 "task": say(f"pack.show_{item.show}"),
                 "device": "" if item.show == "blank" else task.fill.device,
                 "counts": task.fill.counts if item.counts and filled else "",
                 "reasons": list(task.fill.reasons) if item.reasons and filled else []}
        files[f"staff-{task.number}.svg"] = staff
        entry["pictures"] = _pictures(task, files) if item.hand_pictures and filled else []
        entries.append(entry)
    return _set(plan, say, entries, files)


def answers_pdf(plan: PackPlan, tasks: Sequence[GapTask], staves: Sequence[str]) -> bytes:
    """The same for the teacher; `staves` are filled."""
    say = say_in(plan.language)
    entries, files = [], {}
    for task, staff in zip(tasks, staves, strict=True):
        fill = task.fill
        files[f"staff-{task.number}.svg"] = staff
        entries.append({**_head(task, say), "staff": f"staff-{task.number}.svg", "task": "",
                        "words": [], "device": f"{fill.device} ({fill.family})",
                        "counts": fill.counts, "reasons": list(fill.reasons),
                        "pictures": _pictures(task, files)})
    return _set(plan, say, entries, files, answers=True)


def _head(task: GapTask, say: Say) -> dict[str, Any]:
    return {"number": str(task.number), "heading": heading(task, say),
            "describing": describing(task, say),
            "words": [part for part in task.item.words.split("\n") if part]}


def _pictures(task: GapTask, files: dict[str, str]) -> list[tuple[str, float]]:
    """File names and widths in millimetres of the hand pictures of a fill."""
    found = []
    for place, picture in enumerate(pictures_of(task.fill, task.gap)):
        name = f"hands-{task.number}-{place}.svg"
        files[name] = hand_picture(picture)
        width = etree.fromstring(files[name]).get("width", "0mm").removesuffix("mm")
        found.append((name, float(width)))
    return found


def _set(plan: PackPlan, say: Say, entries: Sequence[Mapping[str, Any]], files: Mapping[str, str],
         *, answers: bool = False) -> bytes:
    import typst

    pictured = any(entry["pictures"] for entry in entries)
    added = any("[" in files[entry["staff"]] for entry in entries)
    title = f"{plan.title}: {say('pack.answers')}" if answers else plan.title
    data = {
        "title": title, "language": plan.language, "paper": _PAPERS[plan.paper],
        "size": _SIZE_PT * (LARGER if plan.larger_print else 1),
        "scale": _PICTURE_SCALE * (LARGER if plan.larger_print else 1),
        "under": " · ".join(part for part in (
            plan.teacher, plan.date, plan.student) if part),
        "blank_name": "" if plan.student or answers else say("pack.name"),
        "legend": [say(key) for key, wanted in (("pack.hands", pictured), ("pack.added", added))
                   if wanted],
        "caution": say("pack.caution"), "count": say("pack.count"), "why": say("pack.why"),
        "page": say("pack.page", page="{page}", pages="{pages}"), "items": list(entries)}
    with tempfile.TemporaryDirectory(prefix="fillwright-") as folder:
        for name, content in files.items():
            (Path(folder) / name).write_text(content, encoding="utf-8")
        (Path(folder) / "data.json").write_text(json.dumps(data), encoding="utf-8")
        main = Path(folder) / "main.typ"
        main.write_bytes(_TEMPLATE.read_bytes())
        return bytes(typst.compile(str(main), root=folder, font_paths=[str(font_folder())],
                                   ignore_system_fonts=True, format="pdf",
                                   timestamp=_EPOCH_SEC, pdf_tags=False))
