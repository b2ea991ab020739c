"""A pack, its answers and a study as PDF: one entry for each staff. The same entries give the
same bytes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from lxml import etree

from fillwright.fills.model import Fill
from fillwright.lesson.plan import PackPlan
from fillwright.lesson.saying import Say, describing, heading, in_key, say_in, what_to_do
from fillwright.lesson.task import GapTask
from fillwright.score.handdrawing import hand_picture
from fillwright.score.pictures import pictures_of
from fillwright.score.typeset import typeset
from fillwright.tune.model import Gap

__all__ = ["LARGER", "STAFF_UNIT", "STAFF_WIDTHS", "answers_pdf", "entry_of", "pack_pdf",
           "printed", "staff_unit", "staff_width"]

LARGER = 4 / 3
"""Larger print against the usual."""
_ALONE = 1.2
"""What is alone on its page has room for larger notes."""

_TEMPLATE = Path(__file__).resolve().parent / "pack.typ"
_PAPERS = {"A4": "a4", "Letter": "us-letter"}
STAFF_WIDTHS = {"A4": 1800, "Letter": 1859}
"""Between the margins, in tenths of a millimetre."""
_SIZE_PT = 10.5
STAFF_UNIT = 7.5
_PICTURE_SCALE = 0.95


def staff_width(plan: PackPlan) -> int:
    """In tenths of a millimetre."""
    return STAFF_WIDTHS[plan.paper]


def staff_unit(plan: PackPlan) -> float:
    """Half the distance of two staff lines, in tenths of a millimetre."""
    return STAFF_UNIT * (LARGER if plan.larger_print else _ALONE if len(plan.items) == 1 else 1)


def pack_pdf(plan: PackPlan, tasks: Sequence[GapTask], staves: Sequence[str]) -> bytes:
    """What is handed out; `staves`: one a task, as it is handed out."""
    say = say_in(plan.language)
    entries = []
    drawings: dict[str, str] = {}
    for task, staff in zip(tasks, staves, strict=True):
        item, fill = task.item, task.fill
        filled = item.show == "filled"
        entries.append(entry_of(
            task.number, fill if filled else None, task.gap, staff, drawings,
            pictured=item.hand_pictures) | _head(task, say) | {
            "task": what_to_do(task, say),
            "device": "" if item.show == "blank" else fill.device})
        if not item.counts:
            entries[-1]["counts"] = ""
        if not item.reasons:
            entries[-1]["reasons"] = []
    fifths = tasks[0].chorus.key.fifths if len(tasks) == 1 else None
    return _set(plan, say, entries, drawings, write_in=fifths)


def answers_pdf(plan: PackPlan, tasks: Sequence[GapTask], staves: Sequence[str]) -> bytes:
    """The same for the teacher; `staves` are filled."""
    say = say_in(plan.language)
    entries = []
    drawings: dict[str, str] = {}
    for task, staff in zip(tasks, staves, strict=True):
        entries.append(entry_of(task.number, task.fill, task.gap, staff, drawings)
                       | _head(task, say) | {
            "describing": describing(task, say),
            "device": f"{task.fill.device} ({task.fill.family})", "words": []})
    return _set(plan, say, entries, drawings, answers=True)


def entry_of(number: int, fill: Fill | None, gap: Gap, staff: str, drawings: dict[str, str], *,
             pictured: bool = True) -> dict[str, Any]:
    """What is printed of a staff and of the fill in it, None where that is not shown; what is
    drawn goes into `drawings`."""
    drawings[f"staff-{number}.svg"] = staff
    return {"number": str(number), "heading": "", "describing": "", "words": [], "task": "",
            "staff": f"staff-{number}.svg", "device": "" if fill is None else fill.device,
            "counts": "" if fill is None else fill.counts,
            "reasons": [] if fill is None else list(fill.reasons),
            "pictures": [] if fill is None or not pictured else _pictures(
                number, fill, gap, drawings)}


def _head(task: GapTask, say: Say) -> dict[str, Any]:
    return {"heading": heading(task, say), "describing": in_key(task, say),
            "words": [part for part in task.item.words.split("\n") if part]}


def _pictures(number: int, fill: Fill, gap: Gap, drawings: dict[str, str]
              ) -> list[tuple[str, float]]:
    """File names and widths in millimetres of the hand pictures of a fill."""
    found = []
    for place, picture in enumerate(pictures_of(fill, gap)):
        name = f"hands-{number}-{place}.svg"
        drawings[name] = hand_picture(picture)
        width = etree.fromstring(drawings[name]).get("width", "0mm").removesuffix("mm")
        found.append((name, float(width)))
    return found


def _set(plan: PackPlan, say: Say, entries: Sequence[Mapping[str, Any]],
         drawings: Mapping[str, str], *, answers: bool = False, write_in: int | None = None
         ) -> bytes:
    """`write_in`: the key signature of empty staves below, as fifths; None for no staves."""
    title = f"{plan.title}: {say('pack.answers')}" if answers else plan.title
    # Larger print is for the student; the staves of the answers are drawn for it as well.
    larger = LARGER if plan.larger_print and not answers else 1.0
    shrunk = LARGER if plan.larger_print and answers else 1.0
    return printed(say, title, entries, drawings, {
        "language": plan.language, "paper": _PAPERS[plan.paper],
        "size": _SIZE_PT * larger, "scale": _PICTURE_SCALE * larger,
        "staff_percent": 100 / shrunk,
        "under": " · ".join(part for part in (
            plan.teacher, plan.date, plan.student) if part),
        "blank_name": "" if plan.student or answers else say("pack.name"),
        "empty_staves": write_in is not None, "fifths": write_in or 0, "own": say("pack.own")})


_PLAIN = {"language": "en", "paper": "a4", "size": _SIZE_PT, "scale": _PICTURE_SCALE,
          "staff_percent": 100, "under": "", "blank_name": "", "notes": [], "empty_staves": False,
          "fifths": 0, "own": ""}


def printed(say: Say, title: str, entries: Sequence[Mapping[str, Any]],
            drawings: Mapping[str, str], look: Mapping[str, Any]) -> bytes:
    """Entries under a title; `look` is what differs from `_PLAIN`."""
    pictured = any(entry["pictures"] for entry in entries)
    added = any("[" in drawings[entry["staff"]] for entry in entries)
    return typeset(_TEMPLATE.read_text(encoding="utf-8"), {
        **_PLAIN, **look, "title": title,
        "legend": [say(key) for key, wanted in (("pack.hands", pictured), ("pack.added", added))
                   if wanted],
        "caution": say("pack.caution"), "count": say("pack.count"), "why": say("pack.why"),
        "page": say("pack.page", page="{page}", pages="{pages}"), "items": list(entries)},
        drawings)
