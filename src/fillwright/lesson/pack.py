"""A pack: what a teacher hands out, made from a plan.

`pack_files` makes all of it: ``pack.pdf`` to print, ``answers.pdf`` for the teacher,
``student.html`` to play with, ``pack.json`` for other programs.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from fillwright.contract import VERSION, dump, fill_value, gap_value, options_value, tune_value
from fillwright.lesson.paper import answers_pdf, pack_pdf, staff_unit, staff_width
from fillwright.lesson.plan import PackPlan
from fillwright.lesson.staff import StaffWanted, engraved
from fillwright.lesson.takehome import DrawnItem, page_html
from fillwright.lesson.task import GapTask, sheet_of
from fillwright.score.fonts import uncovered

__all__ = ["PACK_FILES", "pack_document", "pack_files", "pack_warnings"]

PACK_FILES = ("pack.pdf", "answers.pdf", "student.html", "pack.json")

_WIDE_BARS = 4
_NARROW, _NARROW_UNIT, _NARROW_BARS = 900, 9.0, 2
"""A telephone's staff: its width, half the distance of two lines, bars to a line."""

Stage = Callable[[str], None]


def pack_files(plan: PackPlan, tasks: Sequence[GapTask], stage: Stage | None = None
               ) -> dict[str, bytes]:
    """Bytes by file name, those of `PACK_FILES`.

    tasks   those of the plan, as `task.tasks_of` gives them
    stage   called with a word on what is being made

    Raises `EngravingError`.
    """
    say = stage or (lambda _: None)
    say("engraving")
    handed, filled = _drawn(plan, tasks)
    files = {"pack.pdf": pack_pdf(plan, tasks, [staff.wide for staff in handed]),
             "answers.pdf": answers_pdf(plan, tasks, [staff.wide for staff in filled])}
    say("playing")
    files["student.html"] = page_html(plan, tasks, handed, filled)
    files["pack.json"] = dump(pack_document(plan, tasks)).encode()
    return files


def pack_warnings(plan: PackPlan, tasks: Sequence[GapTask]) -> tuple[str, ...]:
    """What a teacher should know: how the sheets were understood, hints that say nothing, and
    characters that may not be printed."""
    found = [f"{task.title}: {warning}" for task in tasks for warning in task.chorus.warnings]
    found += [f"item {task.number}: the fill adds no chord, so the names of its chords are those "
              "of the sheet" for task in tasks if task.item.show == "chords"
              and not any(span.added for span in task.fill.chords)]
    rare = uncovered("".join([plan.title, plan.teacher, plan.student, plan.date,
                              *(text for task in tasks for text in (task.title,
                                                                    task.item.words))]))
    if rare:
        found.append("printed only if this computer has a typeface with them: " + ", ".join(rare))
    return tuple(dict.fromkeys(found))


def _drawn(plan: PackPlan, tasks: Sequence[GapTask]) -> tuple[list[DrawnItem], list[DrawnItem]]:
    """The staves of each task, as it is handed out and filled; what is handed out filled is
    engraved once."""
    looks = ((staff_width(plan), staff_unit(plan), _WIDE_BARS),
             (_NARROW, _NARROW_UNIT, _NARROW_BARS))
    handed = [(task, task.item.show, task.item.counts) for task in tasks]
    filled = [(task, "filled", True) for task in tasks]
    places = {_name(one): one for one in (*handed, *filled)}
    sheets = [(sheet_of(task, show), counts) for task, show, counts in places.values()]
    staves = engraved([StaffWanted(sheet, width, unit, bars, counts)
                       for width, unit, bars in looks for sheet, counts in sheets])
    drawn = {name: DrawnItem(wide, narrow) for name, wide, narrow in zip(
        places, staves[:len(places)], staves[len(places):], strict=True)}
    return [drawn[_name(one)] for one in handed], [drawn[_name(one)] for one in filled]


def _name(one: tuple[GapTask, str, bool]) -> tuple[int, str, bool]:
    task, show, counts = one
    return task.number, show, counts


def pack_document(plan: PackPlan, tasks: Sequence[GapTask]) -> dict[str, Any]:
    """What ``pack.json`` holds (docs/json.md)."""
    return {"version": VERSION, "title": plan.title, "teacher": plan.teacher,
            "student": plan.student, "date": plan.date, "paper": plan.paper,
            "warnings": list(pack_warnings(plan, tasks)),
            "items": [_item_value(task) for task in tasks]}


def _item_value(task: GapTask) -> dict[str, Any]:
    item = task.item
    return {"number": task.number, "source": item.tune, "tune": tune_value(task.chorus),
            "options": options_value(task.options), "show": item.show, "words": item.words,
            "gap": gap_value(task.gap, task.chorus), "fill": fill_value(task.fill, task.gap)}
