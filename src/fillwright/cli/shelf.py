"""The commands of the shelf: all tunes of the page as one file, out and in, and backups."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fillwright.cli.shared import fail, one_clear_sentence, print_lines
from fillwright.errors import InputError, printable_name

if TYPE_CHECKING:
    from fillwright.web.store import Store

__all__ = ["shelf"]

shelf = typer.Typer(no_args_is_help=True, rich_markup_mode=None,
                    help="The tunes of the page: all in one file, out and in, and backups.")

DataOption = Annotated[Path | None, typer.Option(
    "--data", metavar="DIR", help="Where tunes and choices are kept. Default: the user's data "
    "folder.", show_default=False)]


@shelf.command(epilog="Example: fillwright shelf save tunes.json")
def save(file: Annotated[Path, typer.Argument(metavar="FILE", help="- for the output.")],
         replace: Annotated[bool, typer.Option(
             "--replace", help="Write over a file that is there.")] = False,
         data: DataOption = None) -> None:
    """Save everything: all tunes, with all that was decided, in one file."""
    from fillwright.web.shelf_file import shelf_text

    with _opened(data) as store:
        tunes = store.everything()
    text = shelf_text(tunes)
    if str(file) == "-":
        sys.stdout.write(text)
        return
    if file.exists() and not replace:
        fail(str(file), "it is there already; --replace writes over it")
    part = file.with_name(f".{file.name}.{os.getpid()}")
    try:
        try:
            part.write_text(text, encoding="utf-8")
            part.replace(file)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        fail(str(file), f"cannot be written: {error.strerror}")
    print_lines([f"{file}: {_tunes(len(tunes))}"])


@shelf.command(epilog="Example: fillwright shelf bring tunes.json")
def bring(file: Annotated[Path, typer.Argument(metavar="FILE", help="As it was saved here or on "
                                               "the page; - for one that is piped in.")],
          data: DataOption = None) -> None:
    """Put all tunes of a saved file on the shelf. What is there already stays as it is."""
    from fillwright.arranging.build import prepare
    from fillwright.web.shelf_file import MAX_SHELF_BYTES, read_shelf

    try:
        with sys.stdin.buffer if str(file) == "-" else file.open("rb") as opened:
            text = opened.read(MAX_SHELF_BYTES + 1)
    except OSError as error:
        fail(str(file), f"cannot be read: {error.strerror}")
    if len(text) > MAX_SHELF_BYTES:
        fail(str(file), f"it has more than {MAX_SHELF_BYTES // 1024 ** 2} MB")
    good, refused = [], []
    with one_clear_sentence(file):
        for tune in read_shelf(text, file.name):
            try:
                prepare(tune.edition.tune(), tune.edition.decisions.options)
                good.append(tune)
            except InputError as error:
                refused.append(f"{tune.title}: {error.message}")
    with _opened(data) as store:
        new = store.add_all(good)
    for sentence in refused:
        print(printable_name(f"{file.name}: {sentence}"), file=sys.stderr)
    print_lines([f"{_tunes(new)} brought, {len(good) - new} there already"])
    if refused:
        raise typer.Exit(2)


@shelf.command(epilog="Example: fillwright shelf backups")
def backups(data: DataOption = None) -> None:
    """List the backups, the newest first."""
    from fillwright.web.safekeeping import backups_of, tunes_in

    lines = []
    for path in backups_of(_path(data)):
        count = tunes_in(path)
        lines.append(f"{path.name}   {'it is damaged' if count is None else _tunes(count)}")
    print_lines(lines or ["There is no backup yet; the page makes one a day."])


@shelf.command(epilog="Example: fillwright shelf restore fillwright-2026-01-31-180000.sqlite3")
def restore(backup: Annotated[str, typer.Argument(
                metavar="BACKUP", help="One that 'shelf backups' lists, or 'newest'.")],
            data: DataOption = None) -> None:
    """Put the tunes back as they were in a backup. What is there now is kept in a file beside
    it."""
    from fillwright.web.safekeeping import backups_of, restore, tunes_in
    from fillwright.web.trouble import StoreTrouble, told

    path = _path(data)
    found = {made.name: made for made in backups_of(path)}
    chosen = next(iter(found.values()), None) if backup == "newest" else found.get(backup)
    if chosen is None:
        fail(backup, "there is no such backup; 'fillwright shelf backups' lists them")
    if tunes_in(chosen) is None:
        fail(chosen.name, "it is damaged; take another")
    try:
        with told():
            kept = restore(path, chosen)
    except (OSError, StoreTrouble) as error:
        fail(chosen.name, getattr(error, "strerror", None) or str(error))
    with _opened(data) as store:
        count = len(store.shelf())
    lines = [f"{_tunes(count)} {'is' if count == 1 else 'are'} here again, as in {chosen.name}"]
    print_lines(lines if kept is None else [*lines, f"what was there before: {kept.name}"])


def _path(data: Path | None) -> Path:
    from fillwright.web.serve import data_folder
    from fillwright.web.store import FILE_NAME

    return (data or data_folder()) / FILE_NAME


@contextmanager
def _opened(data: Path | None) -> Iterator[Store]:
    """The shelf; a running page may have it open too."""
    from fillwright.web.store import Store
    from fillwright.web.trouble import StoreTrouble

    path = _path(data)
    try:
        with closing(Store(path)) as store:
            for sentence in store.said:
                print(sentence, file=sys.stderr)
            yield store
    except (OSError, StoreTrouble) as error:
        fail(str(path.parent), f"cannot be used: {getattr(error, 'strerror', None) or error}")


def _tunes(count: int) -> str:
    return f"{count} tune" if count == 1 else f"{count} tunes"
