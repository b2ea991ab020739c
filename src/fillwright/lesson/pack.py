"""A pack: what a teacher hands out, made from a plan.

`pack_files` makes all of it: ``pack.pdf`` to print, ``answers.pdf`` for the teacher,
``pack.json`` for other programs.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from fillwright.contract import VERSION, dump, fill_value, gap_value, options_value, tune_value
from fillwright.lesson.paper import Staves, answers_pdf, pack_pdf, staff_unit, staff_width
from fillwright.lesson.plan import Plan
from fillwright.lesson.staff import Wanted, engraved
from fillwright.lesson.task import Task, sheet_of, tasks_of

__all__ = ["PACK_FILES", "pack_document", "pack_files"]

PACK_FILES = ("pack.pdf", "answers.pdf", "pack.json")

Stage = Callable[[str], None]


def pack_files(plan: Plan, folder: Path, progress: Callable[[int, int], None] | None = None,
               stage: Stage | None = None) -> dict[str, bytes]:
    """Bytes by file name, those of `PACK_FILES`.

    folder     from where the plan's tunes are named
    progress   called with items looked up, items in all
    stage      called with a word on what is being made

    Raises InputError, which names the item, and `EngravingError`.
    """
    say = stage or (lambda _: None)
    tasks = tasks_of(plan, folder, progress)
    say("engraving")
    staves = _staves(plan, tasks)
    return {"pack.pdf": pack_pdf(plan, tasks, staves),
            "answers.pdf": answers_pdf(plan, tasks, staves),
            "pack.json": dump(pack_document(plan, tasks)).encode()}


def _staves(plan: Plan, tasks: Sequence[Task]) -> Staves:
    width, unit = staff_width(plan), staff_unit(plan)
    handed = [Wanted(sheet_of(task, task.item.show), width, unit, counts=task.item.counts)
              for task in tasks]
    filled = [Wanted(sheet_of(task, "filled"), width, unit) for task in tasks]
    done = engraved([*handed, *filled])
    return Staves(done[:len(tasks)], done[len(tasks):])


def pack_document(plan: Plan, tasks: Sequence[Task]) -> dict[str, Any]:
    """What ``pack.json`` holds (docs/json.md)."""
    return {"version": VERSION, "title": plan.title, "teacher": plan.teacher,
            "student": plan.student, "date": plan.date, "paper": plan.paper,
            "items": [_item_value(task) for task in tasks]}


def _item_value(task: Task) -> dict[str, Any]:
    item = task.item
    return {"number": task.number, "source": item.tune, "tune": tune_value(task.chorus),
            "options": options_value(item.options), "show": item.show, "words": item.words,
            "gap": gap_value(task.gap, task.chorus), "fill": fill_value(task.fill, task.gap)}
