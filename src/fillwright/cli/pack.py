"""The command that makes a pack: what a teacher hands out."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from fillwright.cli.folder import FolderOption, checked, written
from fillwright.cli.shared import CAUTION, one_clear_sentence, print_lines, warn

__all__ = ["pack"]

_WHAT = {"pack.pdf": "to print and hand out", "answers.pdf": "for the teacher",
         "student.html": "the student opens it in a browser",
         "pack.json": "for other programs"}


def pack(plan: Annotated[Path, typer.Argument(
             metavar="PLAN", help="A plan: a .toml file with a title and an [[item]] for each "
             "gap: tune, gap, fill, level, hand, tempo, key, show, words.", show_default=False)],
         output: FolderOption) -> None:
    """Make a pack to hand out from a plan: gaps of any tunes, blank, with hints or filled."""
    from fillwright.lesson import pack_files, pack_warnings, read_plan, tasks_of
    from fillwright.progress import Progress

    with one_clear_sentence(plan):
        read = read_plan(plan)
    checked(output, plan)  # before it is made, not after
    with one_clear_sentence(plan), Progress(sys.stderr) as progress:
        tasks = tasks_of(read, plan.parent, progress.update)
        files = pack_files(read, tasks, progress.stage)
    found = written(files, output, plan)
    warn(plan, pack_warnings(read, tasks))
    paths = {path.name: str(path) for path in found}
    width = max(map(len, paths.values()))
    count = len(read.items)
    print_lines([f"{read.title}: {count} item{'s' if count > 1 else ''}",
                 *(f"  {paths[name].ljust(width)}   {_WHAT[name]}" for name in paths), CAUTION])
