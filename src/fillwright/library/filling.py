"""Devices worked out for a player where they are not known yet: of a whole shelf, or only of the
tunes that a question lists.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path

from fillwright.errors import InputError
from fillwright.library.asking import Question
from fillwright.library.finding import Answer, find_gaps_in, sheets_of, sheets_that_match
from fillwright.library.processes import Each, by_processes
from fillwright.library.shelving import (
    failed_work,
    named,
    player_id,
    put_failed,
    put_work,
    unworked,
)
from fillwright.library.working import Work, work_out
from fillwright.tune.read import file_bytes, read_bytes

__all__ = ["Wish", "Worked", "find_worked", "work_sheets"]

Progress = Callable[[int, int], None]

_BATCH = 12
"""Tunes that are worked out before it is looked again whether enough is listed."""


@dataclass(frozen=True, slots=True)
class Wish:
    """For whom devices are worked out, and to which depth (see `working`)."""

    level: str
    hand: str
    depth: str


@dataclass(frozen=True, slots=True)
class Worked:
    """What became of the tunes that were to be worked out for a level.

    tunes    how many were
    failed   (path, sentence) of the others, those that failed before as well
    """

    level: str
    tunes: int = 0
    failed: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class _Task:
    """A sheet whose devices are worked out."""

    sheet: int
    content: str
    number: int
    path: str
    wish: Wish
    data: bytes | None = None

    @property
    def name(self) -> str:
        return named(self.path, self.number)


@dataclass(frozen=True, slots=True)
class _Done:
    """The devices of a sheet, or why there are none; `for_good` where trying again is of no
    use."""

    task: _Task
    work: Work | None = None
    failed: str = ""
    for_good: bool = False


def _work(task: _Task) -> _Done:
    """The devices of a sheet. Never raises for what is in the file."""
    path, wish = Path(task.path), task.wish
    done = _Task(task.sheet, task.content, task.number, task.path, wish)  # without the bytes
    try:
        data = file_bytes(path) if task.data is None else task.data
    except InputError as error:
        return _Done(done, None, error.message)
    if hashlib.sha256(data).hexdigest() != task.content.partition("#")[0]:
        return _Done(done, None, "it is another file than it was; add its folder again")
    try:
        tune = read_bytes(data, path.name, number=task.number or None)
        return _Done(done, work_out(tune, wish.level, wish.hand, wish.depth))
    except Exception as error:  # what cannot be worked out stays described
        return _Done(done, None, "the program failed on this tune "
                     f"({type(error).__name__}: {error})", for_good=True)


def _crashed(task: _Task) -> _Done:
    return _Done(task, None, "the program failed on this tune", for_good=True)


def work_sheets(connection: sqlite3.Connection, wish: Wish, *, each: Each | None = None,
                progress: Progress | None = None, only: Collection[int] | None = None) -> Worked:
    """Work the devices of all sheets out that are not yet; `only` of some sheets."""
    each = each or by_processes(1)
    player = player_id(connection, wish.level, wish.hand, make=True) or 0
    tasks = [_Task(one.sheet, one.content, one.number, os.fsdecode(one.path), wish)
             for one in unworked(connection, player, wish.depth)
             if only is None or one.sheet in only]
    count, failed = 0, failed_work(connection, player)
    for done, made in enumerate(each(_work, tasks, _crashed), 1):
        if made.work is not None:
            put_work(connection, player, made.task.sheet, made.work)
            count += 1
        else:
            failed.append((made.task.name, made.failed))
            if made.for_good:
                put_failed(connection, player, made.task.sheet, made.failed)
        if progress is not None:
            progress(done, len(tasks))
    return Worked(wish.level, count, tuple(failed))


def find_worked(connection: sqlite3.Connection, question: Question, most: int, *,
                each: Each | None = None, progress: Progress | None = None) -> Answer:
    """The gaps that answer a question, with the tunes worked out that are listed and are not yet,
    or until enough are: `most` of them."""
    wish = Wish(question.level, question.hand, "may" if question.may else "offered")
    tried: set[int] = set()
    while True:
        answer = find_gaps_in(connection, question)
        wanted = _lacking(connection, question, answer, wish)
        batch = [sheet for sheet in wanted if sheet not in tried][:min(_BATCH, most - len(tried))]
        if not batch:
            return answer
        before = len(tried)
        tried.update(batch)
        work_sheets(connection, wish, each=each, only=frozenset(batch),
                    progress=None if progress is None else _from(progress, before))


def _from(progress: Progress, before: int) -> Progress:
    return lambda done, total: progress(before + done, before + total)


def _lacking(connection: sqlite3.Connection, question: Question, answer: Answer, wish: Wish
             ) -> list[int]:
    """The tunes that are worked out next: those listed, or where devices are asked for, those that
    may have some, as long as fewer are listed than are wanted."""
    if not answer.unworked:
        return []
    player = player_id(connection, wish.level, wish.hand) or -1
    left = [one.sheet for one in unworked(connection, player, wish.depth)]
    if question.asks_for_offers or question.may:
        if len(answer.gaps) >= question.count:
            return []
        asked = set(sheets_that_match(connection, question))
    else:
        asked = set(sheets_of(connection, [gap.id for gap in answer.gaps]))
    return [sheet for sheet in left if sheet in asked]
