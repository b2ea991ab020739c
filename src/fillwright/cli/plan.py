"""The command that proposes a plan of a pack: a graded set, for the teacher to edit."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fillwright.cli.options import Family, Level, LevelOption
from fillwright.cli.shared import HandOption, HandSize, fail, one_clear_sentence, print_lines

if TYPE_CHECKING:
    from fillwright.lesson.sets import Found, Search

__all__ = ["plan"]

_SHOWS = ("blank", "rhythm", "chords", "first", "filled")


def _show(text: str) -> str:
    if text not in _SHOWS:
        raise typer.BadParameter(f"{text!r} is not one of {', '.join(_SHOWS)}")
    return text


def plan(tunes: Annotated[list[str], typer.Argument(
             metavar="TUNE...", help="Lead sheets, or tunes that come along (lamp, snow).",
             show_default=False)],
         output: Annotated[Path, typer.Option(
             "--output", "-o", metavar="PLAN", help="The file to write, ending in .toml.",
             show_default=False)],
         device: Annotated[str | None, typer.Option(
             "--device", metavar="NAME", help="One device, easy to hard, at all levels.",
             show_default=False)] = None,
         family: Annotated[Family | None, typer.Option(
             "--family", help="Every device of a family at the level.",
             show_default=False)] = None,
         level: LevelOption = Level.INTERMEDIATE, hand: HandOption = HandSize.MEDIUM,
         items: Annotated[int, typer.Option(
             "--items", min=1, max=100, metavar="N", help="At most so many items.")] = 10,
         show: Annotated[str, typer.Option(
             "--show", callback=_show, help=f"How they are handed out: {', '.join(_SHOWS)}.")]
         = "filled") -> None:
    """Propose a plan for a pack: one device, a family, or else the gaps in the order to learn
    them. It is a file to be edited; then: fillwright pack PLAN -o DIR."""
    from fillwright.lesson.sets import Search, plan_text
    from fillwright.progress import Progress

    if device is not None and family is not None:
        raise typer.BadParameter("one device, or all of a family", param_hint="--family")
    if output.exists():
        raise typer.BadParameter(f"{output} is there already", param_hint="--output")
    named = [_named(name, output.parent) for name in tunes]
    with one_clear_sentence(Path(tunes[0])), Progress(sys.stderr) as progress:
        search = Search(named, output.parent, hand.value, progress.update)
        title, found = _found(search, device, family, level, items)
    try:
        output.write_text(plan_text(title, found, show), encoding="utf-8")
    except OSError as error:
        fail(output.name, f"cannot be written: {error.strerror}")
    print_lines([f"{output}: {len(found)} item{'s' if len(found) != 1 else ''}",
                 *(f"  {one.item.tune}, gap {one.item.gap}, {one.item.level}: {one.fill.device}, "
                   f"difficulty {one.fill.difficulty}" for one in found)])


def _found(search: Search, device: str | None, family: Family | None, level: Level, items: int
           ) -> tuple[str, tuple[Found, ...]]:
    """A title, and what is in the set."""
    if device is not None:
        return f"{device}, easy to hard", search.one_device(device, items)
    if family is not None:
        return (f"{family.value}, {level.value}",
                search.every_device(family.value, level.value, items))
    return f"In the order to learn them, {level.value}", search.gaps_in_order(level.value, items)


def _named(tune: str, folder: Path) -> str:
    """A tune as a plan in this folder names it."""
    from fillwright.demo import DEMO_TUNES

    if tune in DEMO_TUNES and not Path(tune).exists():
        return tune
    return Path(os.path.relpath(tune, folder)).as_posix()
