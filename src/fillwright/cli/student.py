"""The commands of the class book: students, what they practise, what today, and how it went."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fillwright.cli.options import Level, LevelOption, WithoutOption
from fillwright.cli.shared import CAUTION, HandOption, HandSize, JsonOption, fail, print_lines
from fillwright.errors import InputError

if TYPE_CHECKING:
    from fillwright.lesson.class_book import ClassBook
    from fillwright.lesson.from_take import TakeRating

__all__ = ["DataOption", "open_book", "student"]

student = typer.Typer(no_args_is_help=True, rich_markup_mode=None,
                      help="Students: who they are, what they practise, what is due today. All of "
                      "it stays on this computer.")

NameArgument = Annotated[str, typer.Argument(metavar="NAME", help="A name or an alias.",
                                             show_default=False)]
DataOption = Annotated[Path | None, typer.Option(
    "--data", metavar="DIR", help="Where the book is kept. Default: the user's data folder.",
    show_default=False)]


@contextmanager
def open_book(data: Path | None) -> Iterator[ClassBook]:
    """The open book; what is wrong ends the command with one line."""
    from fillwright.lesson.class_book import FILE_NAME, ClassBook
    from fillwright.web.serve import data_folder

    folder = data_folder() if data is None else data
    try:
        with ClassBook(folder / FILE_NAME) as book:
            yield book
    except InputError as error:
        fail(error.source or FILE_NAME, error.message)
    except OSError as error:
        fail(FILE_NAME, f"cannot be kept in {folder}: {error.strerror}")


def _now() -> datetime:
    return datetime.now(UTC)


@student.command(epilog="Example: fillwright student add Robin --level intermediate")
def add(name: NameArgument, level: LevelOption = Level.BEGINNER,
        hand: HandOption = HandSize.MEDIUM, without: WithoutOption = None,
        notes: Annotated[str, typer.Option("--notes", help="Words of your own.")] = "",
        data: DataOption = None) -> None:
    """Put a student into the book."""
    with open_book(data) as book:
        from fillwright.lesson.students import student_of

        book.add(student_of(name, level.value, hand.value, without or (), notes))
    print_lines([f"{' '.join(name.split())}: {level.value}, {hand.value} hand. {CAUTION}"])


@student.command(epilog="Example: fillwright student change Robin --level intermediate")
def change(name: NameArgument,
           new_name: Annotated[str | None, typer.Option(
               "--name", metavar="NAME", help="Another name.", show_default=False)] = None,
           level: Annotated[Level | None, typer.Option(
               "--level", help="Who plays it.", show_default=False)] = None,
           hand: Annotated[HandSize | None, typer.Option(
               "--hand", help="What the hand reaches.", show_default=False)] = None,
           without: Annotated[list[str] | None, typer.Option(
               "--without", metavar="DEVICE", help="All devices that are left out from now on; '' "
               "for none; may be given several times.", show_default=False)] = None,
           notes: Annotated[str | None, typer.Option(
               "--notes", help="Words of your own.", show_default=False)] = None,
           data: DataOption = None) -> None:
    """Change what is said of a student; what they practise stays."""
    said = {"name": new_name, "level": level and level.value, "hand": hand and hand.value,
            "without": without if without is None else [one for one in without if one],
            "notes": notes}
    wish = {key: value for key, value in said.items() if value is not None}
    if not wish:
        raise typer.BadParameter("say what is to be changed")
    with open_book(data) as book:
        from fillwright.lesson.telling import student_line

        line = student_line(book.change(name, **wish))
    print_lines([line])


@student.command(epilog="Example: fillwright student give Robin --device 'tritone substitute' "
                        "--keys 'C F Bb' --tempo 120")
def give(name: NameArgument,
         device: Annotated[str, typer.Option(
             "--device", help="A device, named as the fills are.", show_default=False)] = "",
         tune: Annotated[str, typer.Option(
             "--tune", help="Or a tune, with --gap.", show_default=False)] = "",
         gap: Annotated[int | None, typer.Option("--gap", min=1, metavar="N",
                                                 show_default=False)] = None,
         fill: Annotated[str, typer.Option("--fill", help="A fill's id.",
                                           show_default=False)] = "",
         keys: Annotated[str, typer.Option(
             "--keys", metavar="LIST", help="One item a key: 'C F Bb', or fourths, half steps … "
             "from C on. Default: the tune's own.", show_default=False)] = "",
         tempo: Annotated[int, typer.Option("--tempo", min=20, max=400, metavar="BPM",
                                            help="Felt beats a minute to arrive at.")] = 120,
         data: DataOption = None) -> None:
    """Give a student something to practise: a device in some keys, or a gap of a tune."""
    with open_book(data) as book:
        from fillwright.lesson import keys_named
        from fillwright.theory.key import Key

        names = [str(key.tonic) for key in keys_named(keys, Key(0))] if keys else [""]
        given = [book.give(name, device=device, tune=tune, gap=gap, fill=fill, key=key,
                           tempo=tempo) for key in names]
    print_lines([f"{item.number:3}  {item.words}, from {item.now_tempo} to {item.tempo} a minute"
                 for item in given])


@student.command("take-back", epilog="Example: fillwright student take-back Robin 3")
def take_back(name: NameArgument,
              number: Annotated[int, typer.Argument(metavar="N", help="The item's number.")],
              data: DataOption = None) -> None:
    """Take back something that a student was to practise, with how it went."""
    with open_book(data) as book:
        item = book.take_back(name, number)
    print_lines([f"{item.words} is no longer practised"])


@student.command("list", epilog="Example: fillwright student list Robin")
def list_(name: Annotated[str | None, typer.Argument(
              metavar="[NAME]", help="One student with all they practise. Default: all students.",
              show_default=False)] = None,
          json: JsonOption = False, data: DataOption = None) -> None:
    """List the students, or what one of them practises and knows in which key."""
    with open_book(data) as book:
        from fillwright.contract import dump
        from fillwright.lesson.telling import progress_lines, student_line

        if json:
            value = ({"students": [book.export(one.name, _now())["student"]
                                   for one in book.students()]}
                     if name is None else book.export(name, _now()))
            sys.stdout.write(dump(value))
            return
        if name is None:
            lines = [student_line(one) for one in book.students()] or ["no students yet"]
        else:
            lines = [student_line(book.student(name)),
                     *progress_lines(book.shares(name, _now()))]
    print_lines(lines)


@student.command(epilog="Example: fillwright student today Robin --minutes 20")
def today(name: NameArgument,
          minutes: Annotated[int, typer.Option("--minutes", min=1, max=1440, metavar="M",
                                               help="At most so many.")] = 20,
          json: JsonOption = False, data: DataOption = None) -> None:
    """What to practise today, mixed, with the tempo to play."""
    with open_book(data) as book:
        from fillwright.contract import dump
        from fillwright.lesson.documents import today_document
        from fillwright.lesson.telling import today_lines

        row, done = book.today(name, minutes, _now()), book.minutes_done(name, _now())
    if json:
        sys.stdout.write(dump(today_document(name, minutes, row, done)))
        return
    print_lines([*today_lines(row, done), CAUTION])


@student.command(epilog="Example: fillwright student rate Robin 3 good")
def rate(name: NameArgument,
         number: Annotated[int, typer.Argument(metavar="N", help="The item's number.")],
         rating: Annotated[str | None, typer.Argument(
             metavar="[again|hard|good|easy]", help="How it went. Not with --take.",
             show_default=False)] = None,
         take: Annotated[Path | None, typer.Option(
             "--take", metavar="FILE.mid", help="Hear it in a Standard MIDI File; a device "
             "with --tune.", show_default=False)] = None,
         tune: Annotated[str | None, typer.Option(
             "--tune", metavar="TUNE", help="What the take is of, where the item is a device: a "
             "sheet, or the name of a demo tune; played in the item's key.",
             show_default=False)] = None,
         tempo: Annotated[int | None, typer.Option(
             "--tempo", min=20, max=400, metavar="BPM", help="The tempo it was played at. Default: "
             "as asked for, or as heard.", show_default=False)] = None,
         data: DataOption = None) -> None:
    """Say how an item went, or let a take say it; it comes again when it is about to be
    forgotten."""
    if (rating is None) == (take is None):
        raise typer.BadParameter("say how it went, or give a take that does")
    if tune is not None and take is None:
        raise typer.BadParameter("--tune says what a take is of")
    said = ""
    with open_book(data) as book:
        if take is not None:
            found = _heard(book, name, number, take, tune)
            rating, tempo, said = found.rating, tempo or found.tempo, f"{found.why} "
        item = book.rate(name, number, str(rating), _now(), tempo)
    assert item.due is not None
    print_lines([f"{said}{item.words}: {rating}, again on {item.due.date()}, at "
                 f"{item.now_tempo} a minute"])


def _heard(book: ClassBook, name: str, number: int, take: Path, tune_name: str | None
           ) -> TakeRating:
    """What a take says of an item, the student's level and hand being known."""
    from fillwright.arranging.model import Options
    from fillwright.demo import DEMO_TUNES, demo_path
    from fillwright.lesson.from_take import rating_of, rating_of_device
    from fillwright.take import check_take, read_take
    from fillwright.tune.read import read_tune

    student = book.student(name)
    item = next((one.item for one in book.shares(name, _now()) if one.item.number == number),
                None)
    if item is None:
        raise InputError(f"{name} practises nothing of number {number}")
    if item.gap is not None and tune_name is not None:
        raise InputError(f"{item.words} has its tune; --tune is for a device")
    source = item.tune or tune_name
    if source is None:
        raise InputError(f"{item.words} may be played in any tune; say in which (--tune)")
    tune = read_tune(demo_path(source) if source in DEMO_TUNES else Path(source))
    options = Options(level=student.level, hand=student.hand, key=item.key or None)
    report = check_take(read_take(take), tune, options)
    return (rating_of_device(report, item.device) if item.gap is None
            else rating_of(report, item.gap))


@student.command(epilog="Example: fillwright student export Robin > robin.json")
def export(name: NameArgument, data: DataOption = None) -> None:
    """Print everything that is kept of a student, as JSON."""
    with open_book(data) as book:
        from fillwright.contract import dump

        text = dump(book.export(name, _now()))
    sys.stdout.write(text)


@student.command(epilog="Example: fillwright student delete Robin --yes")
def delete(name: NameArgument,
           yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
           data: DataOption = None) -> None:
    """Delete a student with everything that is kept of them; nothing of it stays in the file."""
    with open_book(data) as book:
        known = book.student(name).name
        if not yes:
            typer.confirm(f"Delete {known} and everything that is kept?", abort=True)
        book.delete(known)
    print_lines([f"{known} is deleted"])
