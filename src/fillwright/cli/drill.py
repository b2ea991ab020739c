"""The command `drill`: for each gap what would have worked, to train the choice."""

from __future__ import annotations

import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fillwright.cli.asked import for_player, read_sheet, tuned
from fillwright.cli.folder import checked, file_lines, written
from fillwright.cli.options import (
    FeelOption,
    KeyOption,
    Level,
    LevelOption,
    Octave,
    OctaveOption,
    PartOption,
    TempoOption,
    TuneArgument,
    WithoutOption,
)
from fillwright.cli.shared import (
    HandOption,
    HandSize,
    JsonOption,
    one_clear_sentence,
    print_lines,
    warn,
)
from fillwright.cli.student import DataOption, open_book

if TYPE_CHECKING:
    from fillwright.lesson.drills import Drill
    from fillwright.progress import Progress

__all__ = ["drill"]


def drill(tune: TuneArgument, level: LevelOption = Level.INTERMEDIATE,
          hand: HandOption = HandSize.MEDIUM, tempo: TempoOption = None,
          feel: FeelOption = None, octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
          without: WithoutOption = None, part: PartOption = None,
          questions: Annotated[bool, typer.Option(
              "--questions", help="The gaps alone, to be answered first.")] = False,
          output: Annotated[Path | None, typer.Option(
              "--output", "-o", metavar="DIR", help="Write drill.pdf into this folder: the lead "
              "sheet, a line to tick for each gap, the answers.", show_default=False)] = None,
          ask: Annotated[bool, typer.Option(
              "--ask", help="Ask gap by gap: answer c, r or l; how long it takes is counted.")
          ] = False,
          student: Annotated[str | None, typer.Option(
              "--student", metavar="NAME", help="With --ask: keep the answers in this student's "
              "book, and show where choosing is slow.", show_default=False)] = None,
          data: DataOption = None, json: JsonOption = False) -> None:
    """List for each gap which of comp, reharm and line would work, and why."""
    from fillwright.progress import Progress

    options = tuned(for_player(level, hand, without), tempo, feel, octave, key)
    if student is not None and not ask:
        raise typer.BadParameter("answers are kept with --ask", param_hint="--student")
    if output is not None:
        checked(output, tune)
    with one_clear_sentence(tune), Progress(sys.stderr) as progress:
        from fillwright.lesson.drills import drill as drill_of

        found = drill_of(read_sheet(tune, part), options, progress=progress.update)
        files = {} if output is None else _paper(found, progress)
    lines = [] if output is None else ["", *file_lines(written(files, output, tune))]
    warn(tune, found.chorus.warnings)
    if ask:
        _asked(found, student, data)
        return
    if json:
        from fillwright.contract import dump
        from fillwright.lesson.documents import drill_document

        sys.stdout.write(dump(drill_document(found)))
        return
    from fillwright.lesson.telling import drill_lines
    from fillwright.tables import chorus_line

    print_lines([chorus_line(found.chorus), "", *drill_lines(found, answers=not questions), *lines])


def _paper(found: Drill, progress: Progress) -> dict[str, bytes]:
    from fillwright.lesson.drill_paper import drill_pdf

    progress.stage("engraving")
    return {"drill.pdf": drill_pdf(found)}


_LETTERS = {"c": "comp", "r": "reharm", "l": "line"}


def _asked(found: Drill, student: str | None, data: Path | None) -> None:
    """Ask gap by gap, say what would have worked, and at the end where choosing is slow. An empty
    line, or the end of the input, ends it."""
    from fillwright.lesson.choices import choice_of, slow_kinds
    from fillwright.lesson.telling import choice_lines
    from fillwright.tables import gap_heading

    if student is not None:
        with open_book(data) as book:
            book.student(student)  # before the questions, not after
    made = []
    for one in found.gaps:
        print(f"{gap_heading(one.gap)}\n  c, r or l? ", end="", flush=True)
        start = time.monotonic()
        letter = sys.stdin.readline().strip().lower()[:1]
        seconds = time.monotonic() - start
        if letter not in _LETTERS:
            print()
            break
        choice = choice_of(one, found.chorus, _LETTERS[letter], seconds)
        made.append(choice)
        others = [fill.family for fill, _ in one.works if fill.family != choice.family]
        print_lines([f"  {one.answer(choice.family)}",
                     *([f"  also: {', '.join(others)}"] if others else []), ""])
    kept = tuple(made)
    if student is not None:
        with open_book(data) as book:
            for choice in made:
                book.chose(student, choice, datetime.now(UTC))
            kept = book.choices(student)
    worked = sum(choice.works for choice in made)
    print_lines([f"{worked} of {len(made)} would have worked",
                 *(["", *choice_lines(slow_kinds(kept))] if kept else [])])
