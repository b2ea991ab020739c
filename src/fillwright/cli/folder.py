"""A folder of files that a command writes: asked for before the work, written after it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Annotated

import typer

from fillwright.cli.shared import fail

__all__ = ["FolderOption", "checked", "file_lines", "written"]

FolderOption = Annotated[Path, typer.Option(
    "--output", "-o", metavar="DIR", help="The folder to write into.", show_default=False)]


def checked(folder: Path, source: Path) -> None:
    """Ends the command where the folder cannot be written into."""
    from fillwright.output import check_folder

    if folder.exists() and not folder.is_dir():
        raise typer.BadParameter(f"{folder} is a file", param_hint="--output")
    try:
        check_folder(folder)
    except OSError as error:
        fail(source.name, f"cannot write into {folder}: {error.strerror}")


def written(files: Mapping[str, bytes], folder: Path, source: Path) -> list[Path]:
    """Write all or nothing; the files."""
    from fillwright.output import write_folder

    try:
        return write_folder(files, folder)
    except OSError as error:
        fail(source.name, f"cannot write into {folder}: {error.strerror}")


def file_lines(paths: Iterable[Path]) -> list[str]:
    """A line on each file that people open."""
    return [f"  {path}" for path in paths if path.suffix != ".svg"]
