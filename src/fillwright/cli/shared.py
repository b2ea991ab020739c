"""What the commands share: options, printing, and the one line for input that is at fault."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from fillwright.errors import InputError, printable_name

__all__ = ["CAUTION", "HandOption", "HandSize", "JsonOption", "fail", "one_clear_sentence",
           "print_lines", "warn"]

CAUTION = ("A stretch that hurts is rolled or left out; pain is a matter for a teacher or a "
           "doctor.")


class HandSize(StrEnum):
    SMALL = "small"
    MEDIUM = "medium"
    LARGE = "large"


HandOption = Annotated[HandSize, typer.Option("--hand", help=f"What the hand reaches. {CAUTION}")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON only.")]


def fail(source: str, message: str, status: int = 2) -> NoReturn:
    """One line on stderr, then the end."""
    print(printable_name(" ".join(f"{source}: {message}".split())), file=sys.stderr)
    raise typer.Exit(status)


@contextmanager
def one_clear_sentence(path: Path) -> Iterator[None]:
    """Turn what can go wrong with a file into one line that begins with its name.

    Status 2 where the input is at fault, 1 where the program is.
    """
    name = printable_name(path.name or str(path))  # "." has none
    try:
        yield
    except InputError as error:
        other = "" if name.startswith(error.source) else f"{error.source}: "
        fail(name, other + error.message)
    except typer.Exit:
        raise
    except Exception as error:
        if os.environ.get("FILLWRIGHT_TRACEBACK"):
            raise
        fail(name, f"the program failed on this tune ({type(error).__name__}: {error}); "
             "set FILLWRIGHT_TRACEBACK=1 to see where", status=1)


def warn(path: Path, messages: Iterable[str]) -> None:
    for message in messages:
        print(f"{printable_name(path.name)}: warning: {' '.join(message.split())}", file=sys.stderr)


def print_lines(lines: Iterable[str]) -> None:
    print("\n".join(lines))
