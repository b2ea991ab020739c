"""The command `drill`: for each gap what would have worked, to train the choice."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fillwright.cli.asked import for_player, read_sheet, tuned
from fillwright.cli.folder import checked, written
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
          json: JsonOption = False) -> None:
    """List for each gap which of comp, reharm and line would work, and why."""
    from fillwright.progress import Progress

    options = tuned(for_player(level, hand, without), tempo, feel, octave, key)
    if output is not None:
        checked(output, tune)
    with one_clear_sentence(tune), Progress(sys.stderr) as progress:
        from fillwright.lesson.drills import drill as drill_of

        found = drill_of(read_sheet(tune, part), options, progress=progress.update)
        files = {} if output is None else _paper(found, progress)
    lines = [] if output is None else ["", *written(files, output, tune)]
    warn(tune, found.chorus.warnings)
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
