"""The door of the command line: it parses, calls and prints.

Heavy modules are imported inside the commands, so that ``--help`` is quick. Results go to
stdout, warnings and errors to stderr. Input that cannot be used ends with exit status 2 and
one line that begins with the file's name.
"""

from __future__ import annotations

import os
import sys
import warnings as python_warnings
from collections.abc import Sequence
from contextlib import suppress

import typer

from fillwright.cli.arrange import arrange, demo
from fillwright.cli.audit import audit
from fillwright.cli.drill import drill
from fillwright.cli.ladder import ladder
from fillwright.cli.library import library
from fillwright.cli.listing import fills, gaps
from fillwright.cli.pack import pack
from fillwright.cli.plan import plan
from fillwright.cli.round import round_
from fillwright.cli.serve import serve
from fillwright.cli.shelf import shelf
from fillwright.cli.student import student
from fillwright.cli.take import take
from fillwright.cli.write import write

__all__ = ["app", "main"]


app = typer.Typer(
    add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False,
    no_args_is_help=True, context_settings={"help_option_names": ["-h", "--help"]},
    help="Finds the places of a lead sheet where the melody holds still and fills them: solo "
         "jazz piano, on paper and in sound.")

# The order in which --help lists them.
app.command(epilog="Example: fillwright gaps tune.musicxml --tempo 120")(gaps)
app.command(epilog="Example: fillwright fills tune.musicxml --gap 3 --family line "
                   "--level advanced")(fills)
app.command(epilog="Example: fillwright arrange tune.musicxml -o out --level beginner --key F "
                   "--pick 3=line:2")(arrange)
app.command(epilog="Example: fillwright plan lamp snow -o lesson.toml --family line")(plan)
app.command(epilog="Example: fillwright pack lesson.toml -o out/lesson")(pack)
app.command(epilog="Example: fillwright ladder tune.musicxml --gap 3 --fill comp:1")(ladder)
app.command("round", epilog="Example: fillwright round tune.musicxml --gap 3 --keys fourths "
                            "-o out/round")(round_)
app.command(epilog="Example: fillwright drill tune.musicxml --level beginner")(drill)
app.command(epilog="Example: fillwright audit score.musicxml --hand small")(audit)
app.command(epilog="Example: fillwright write tune.musicxml --gap 3 'R: 2& D5, 3 F5 A5 ; L: 2 C3'"
            )(write)
app.command(epilog="Example: fillwright take tune.musicxml take.mid")(take)
app.command(epilog="Example: fillwright demo --tune snow -o out/snow")(demo)
app.command(epilog="Example: fillwright serve --port 9000")(serve)
app.add_typer(shelf, name="shelf")
app.add_typer(student, name="student")
app.add_typer(library, name="library")


def main(arguments: Sequence[str] | None = None) -> None:
    """The console script; `arguments` default to those of the process. Raises SystemExit."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")
    if not sys.warnoptions:
        # Remarks of the libraries are for their developers, not for those who read stderr.
        python_warnings.simplefilter("ignore")
    try:
        try:
            app(args=arguments, prog_name="fillwright")
        finally:
            sys.stdout.flush()
    except OSError as error:  # a full disk, or a reader that has gone
        with suppress(OSError, ValueError):  # what could not be written is not tried again
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        print(f"fillwright: the output cannot be written: {error.strerror}", file=sys.stderr)
        raise SystemExit(1) from None
