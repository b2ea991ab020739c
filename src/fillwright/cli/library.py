"""The commands of the library: folders of sheets in, gaps out."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fillwright.cli.asked import read_sheet
from fillwright.cli.options import Family, Level, TuneArgument
from fillwright.cli.shared import (
    HandOption,
    HandSize,
    JsonOption,
    fail,
    one_clear_sentence,
    print_lines,
)
from fillwright.errors import InputError, printable_name
from fillwright.progress import Progress

if TYPE_CHECKING:
    from fillwright.library import Library

__all__ = ["library"]

library = typer.Typer(no_args_is_help=True, rich_markup_mode=None,
                      help="Many tunes: folders of sheets, and the gaps in them that teach.")

DataOption = Annotated[Path | None, typer.Option(
    "--data", metavar="DIR", help="Where the library is kept. Default: the user's data folder.",
    show_default=False)]
ProcessesOption = Annotated[int, typer.Option(
    "--processes", min=0, max=64, metavar="P", help="How many work at once; 0: one a processor.")]
LevelOption = Annotated[Level, typer.Option("--level", help="Whose devices.")]
KnownOption = Annotated[list[str] | None, typer.Option(
    "--known", metavar="DEVICE", help="What the student knows; may be given several times.",
    show_default=False)]

AtOnceOption = Annotated[bool, typer.Option(
    "--at-once", help="Answer from what is known, without working out the tunes that are listed "
    "and are not worked out yet.")]
_LAZILY = 40
"""Tunes that are worked out for one list at most: some twenty seconds on two processors."""


@library.command(epilog="Example: fillwright library add ~/sheets --level beginner")
def add(folders: Annotated[list[Path], typer.Argument(
            metavar="FOLDER…", help="Folders, looked through with all below them, or sheets.",
            show_default=False)],
        level: Annotated[list[Level] | None, typer.Option(
            "--level", help="Work out as well which devices are offered to this level, and how "
            "hard they are; may be given several times.", show_default=False)] = None,
        hand: HandOption = HandSize.MEDIUM,
        full: Annotated[bool, typer.Option(
            "--full", help="Every device that would ever be offered, not only the first three "
            "options of each family.")] = False,
        processes: ProcessesOption = 0,
        scheduler: Annotated[str, typer.Option(
            "--scheduler", metavar="ADDRESS", help="A Dask scheduler whose workers do it "
            "(pip install 'fillwright[cluster]').", show_default=False)] = "",
        data: DataOption = None, json: JsonOption = False) -> None:
    """Describe all sheets of some folders that are new or have changed. What is done is kept: a
    run that was stopped goes on where it was."""
    number = processes or os.cpu_count() or 1
    with _opened(data) as shelf, Progress(sys.stderr, what="sheet") as progress:
        added = shelf.add(folders, processes=number, scheduler=scheduler,
                          progress=progress.update)
        if not (added.unchanged or added.added or added.changed or added.gone or added.refused):
            _nothing(folders)
        worked = []
        for one in level or ():
            progress.start(f"sheet for {one.value} players,")
            worked.append(shelf.work_out(
                one.value, hand.value, depth="full" if full else "offered", processes=number,
                scheduler=scheduler, progress=progress.update))
    from fillwright.library import added_document, added_lines, worked_lines

    _print(json, lambda: added_document(added, worked), lambda: chain(
        added_lines(added), *map(worked_lines, worked)))


@library.command(epilog="Example: fillwright library find --beats 3.. --over 'IIm7 V7' --holding 5 "
                        "--level beginner --max-difficulty 30")
def find(beats: Annotated[str | None, typer.Option(
             "--beats", metavar="FROM..TO", help="3.. is 3 or more, ..4 at most 4.",
             show_default=False)] = None,
         seconds: Annotated[str | None, typer.Option(
             "--seconds", metavar="FROM..TO", help="At the tune's tempo.",
             show_default=False)] = None,
         tempo: Annotated[str | None, typer.Option(
             "--tempo", metavar="FROM..TO", help="Felt beats a minute.",
             show_default=False)] = None,
         over: Annotated[str, typer.Option(
             "--over", metavar="CHORDS", help="By function, next to each other: 'IIm7 V7'; "
             "without a kind any: 'II V'.", show_default=False)] = "",
         into: Annotated[str, typer.Option(
             "--into", metavar="CHORD", help="The landing's chord by function: Imaj7.",
             show_default=False)] = "",
         holding: Annotated[str, typer.Option(
             "--holding", metavar="DEGREE", help="The held note over its chord: 5, b9.",
             show_default=False)] = "",
         landing: Annotated[str, typer.Option(
             "--landing", metavar="WAY", help="From the held note on: same, 'step up', "
             "'step down', 'leap up', 'leap down'.", show_default=False)] = "",
         place: Annotated[str, typer.Option(
             "--place", metavar="PLACE", help="In the form: turnaround, 'end of a phrase'.",
             show_default=False)] = "",
         key: Annotated[str, typer.Option(
             "--key", metavar="NAME", help="Of the tune: F, Gm.", show_default=False)] = "",
         meter: Annotated[str, typer.Option("--meter", metavar="3/4",
                                            show_default=False)] = "",
         title: Annotated[str, typer.Option(
             "--title", metavar="TEXT", help="Anywhere in the title.", show_default=False)] = "",
         device: Annotated[str, typer.Option(
             "--device", metavar="NAME", help="Offered there, named as the fills are.",
             show_default=False)] = "",
         family: Annotated[Family | None, typer.Option("--family", show_default=False)] = None,
         level: LevelOption = Level.INTERMEDIATE, hand: HandOption = HandSize.MEDIUM,
         max_difficulty: Annotated[int | None, typer.Option(
             "--max-difficulty", min=0, max=1000, metavar="N", show_default=False)] = None,
         may: Annotated[bool, typer.Option(
             "--may", help="Where the device may be used, offered or not.")] = False,
         work: Annotated[bool, typer.Option(
             "--work", help="Work out all that is lacking first, to the full.")] = False,
         at_once: AtOnceOption = False,
         copies: Annotated[bool, typer.Option(
             "--copies", help="The same music in other files and keys too.")] = False,
         sort: Annotated[str, typer.Option(
             "--sort", metavar="ORDER", help="easiest, best, longest or shelf.")] = "easiest",
         count: Annotated[int, typer.Option("--count", min=1, max=10_000, metavar="K")] = 20,
         data: DataOption = None, json: JsonOption = False) -> None:
    """Find gaps: all conditions hold together."""
    from fillwright.library import Question, answer_document, answer_lines, span_of

    with _asked():
        spans = {name: span_of(text) for name, text in (
            ("beats", beats), ("seconds", seconds), ("tempo", tempo)) if text is not None}
        question = Question(
            **spans, over=over, into=into, holding=holding, landing=landing, place=place, key=key,
            meter=meter, title=title, device=device,
            family="" if family is None else family.value, level=level.value, hand=hand.value,
            max_difficulty=max_difficulty, may=may, copies=copies, sort=sort, count=count)
    with _opened(data) as shelf, Progress(sys.stderr, what="tune worked out,") as progress:
        number = os.cpu_count() or 1
        if work:
            shelf.work_for(question, processes=number, progress=progress.update)
        answer = shelf.find(question, working=0 if at_once or work else _LAZILY, processes=number,
                            progress=progress.update)
    _print(json, lambda: answer_document(question, answer), lambda: answer_lines(answer, question))


@library.command(epilog="Example: fillwright library like tune.musicxml --gap 3")
def like(tune: TuneArgument,
         gap: Annotated[int, typer.Option("--gap", min=1, metavar="N")] = 1,
         count: Annotated[int, typer.Option("--count", min=1, max=1000, metavar="K")] = 10,
         device: Annotated[str, typer.Option(
             "--device", metavar="NAME", help="Only where this device is offered: the same idea "
             "elsewhere.", show_default=False)] = "",
         level: LevelOption = Level.INTERMEDIATE, hand: HandOption = HandSize.MEDIUM,
         at_once: AtOnceOption = False, data: DataOption = None, json: JsonOption = False) -> None:
    """Find the gaps most like one of a tune, which need not be on the shelf itself."""
    from fillwright.library import Question, describe_tune, like_document, like_lines

    with _asked():
        question = Question(device=device, level=level.value, hand=hand.value, count=count)
    with one_clear_sentence(tune):
        sheet = describe_tune(read_sheet(tune, None), "")
        if gap > len(sheet.gaps):
            raise InputError(f"there is no gap {gap}; the tune has {len(sheet.gaps)}")
    with _opened(data) as shelf, Progress(sys.stderr, what="tune worked out,") as progress:
        found = shelf.like(sheet.gaps[gap - 1], question, fingerprint=sheet.fingerprint,
                           working=0 if at_once else _LAZILY, processes=os.cpu_count() or 1,
                           progress=progress.update)
    _print(json, lambda: like_document(found), lambda: like_lines(found, device))


@library.command(epilog="Example: fillwright library order --level beginner --known shells")
def order(level: LevelOption = Level.INTERMEDIATE, hand: HandOption = HandSize.MEDIUM,
          known: KnownOption = None,
          gaps: Annotated[bool, typer.Option("--gaps", help="Gaps instead of tunes.")] = False,
          count: Annotated[int, typer.Option("--count", min=1, max=1000, metavar="K")] = 10,
          new: Annotated[int, typer.Option(
              "--new", min=1, max=20, metavar="N", help="New devices each brings at most.")] = 2,
          data: DataOption = None, json: JsonOption = False) -> None:
    """An order of tunes in which each brings a student something new and not too much."""
    from fillwright.library import lacking_lines, order_document, order_lessons, order_lines

    names = _known(known)
    with _opened(data) as shelf:
        lessons = shelf.lessons(level.value, hand.value, gaps=gaps)
        lacking = shelf.lacking(level.value, hand.value)
    _some(lessons, level, hand)
    steps = order_lessons(lessons, names, new_each=new, most=count)
    _print(json, lambda: order_document(steps, lacking),
           lambda: chain(order_lines(steps), lacking_lines(lacking, level.value)))


@library.command(epilog="Example: fillwright library cover --level beginner")
def cover(level: LevelOption = Level.INTERMEDIATE, hand: HandOption = HandSize.MEDIUM,
          data: DataOption = None, json: JsonOption = False) -> None:
    """The fewest tunes that together show every device the shelf offers to a level."""
    from fillwright.library import cover_document, cover_lines, lacking_lines, smallest_cover

    with _opened(data) as shelf:
        lessons = shelf.lessons(level.value, hand.value)
        lacking = shelf.lacking(level.value, hand.value)
    _some(lessons, level, hand)
    found = smallest_cover(lessons)
    _print(json, lambda: cover_document(found, lacking),
           lambda: chain(cover_lines(found), lacking_lines(lacking, level.value)))


@library.command(epilog="Example: fillwright library left tune.musicxml --known shells")
def left(tune: TuneArgument, level: LevelOption = Level.INTERMEDIATE,
         hand: HandOption = HandSize.MEDIUM, known: KnownOption = None,
         json: JsonOption = False) -> None:
    """What a tune still has to teach a student, the easiest first."""
    from fillwright.library import left_document, left_lines, lesson_of, still_to_teach

    names = _known(known)
    with one_clear_sentence(tune):
        found = still_to_teach(lesson_of(read_sheet(tune, None), level.value, hand.value), names)
    _print(json, lambda: left_document(found), lambda: left_lines(found))


@library.command(epilog="Example: fillwright library parquet out/library")
def parquet(folder: Annotated[Path, typer.Argument(metavar="DIR", show_default=False)],
            load: Annotated[bool, typer.Option(
                "--load", help="Take the tables of DIR into the library instead, in place of what "
                "is in it.")] = False,
            data: DataOption = None) -> None:
    """Write all tables of the library as Parquet files, for DuckDB and the like."""
    from fillwright.library.parquet import load_parquet, write_parquet

    with _opened(data) as shelf:
        if load:
            load_parquet(folder, shelf)
        else:
            write_parquet(shelf, folder)
        count = len(shelf)
    print_lines([f"{folder}: {count} tune{'s' * (count != 1)}"])


def _known(names: list[str] | None) -> list[str]:
    from fillwright.library import table_names

    with _asked():
        return table_names(names or ())


def _some(lessons: Collection[object], level: Level, hand: HandSize) -> None:
    if not lessons:
        fail("library", f"nothing is worked out for {level.value} players with a {hand.value} "
             f"hand; 'fillwright library add FOLDER --level {level.value} --hand {hand.value}' "
             "does it")


def _print(json: bool, document: Callable[[], dict[str, Any]],
           lines: Callable[[], Iterable[str]]) -> None:
    """A result as JSON or as lines."""
    if json:
        from fillwright.contract import dump

        sys.stdout.write(dump(document()))
    else:
        print_lines(map(printable_name, lines()))


def _nothing(folders: list[Path]) -> None:
    from fillwright.library import SUFFIXES

    fail(str(folders[0].name or folders[0]), "there is no sheet in it or below it ("
         + ", ".join(SUFFIXES) + ")")


@contextmanager
def _asked() -> Iterator[None]:
    """What is asked, or the usual usage error."""
    try:
        yield
    except InputError as error:
        raise typer.BadParameter(error.message) from error


@contextmanager
def _opened(data: Path | None) -> Iterator[Library]:
    """The library; what is wrong with it, or with a folder, is one line."""
    from fillwright.library import FILE_NAME, Library

    try:
        with Library(None if data is None else data / FILE_NAME) as shelf:
            yield shelf
    except InputError as error:
        fail(error.source or FILE_NAME, error.message)
    except KeyboardInterrupt:
        fail(FILE_NAME, "stopped; what was done is kept, and the same command goes on from here",
             status=130)
