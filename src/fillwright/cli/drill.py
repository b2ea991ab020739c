"""The command `drill`: for each gap what would have worked, to train the choice."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from fillwright.cli.asked import for_player, read_sheet, tuned
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

__all__ = ["drill"]


def drill(tune: TuneArgument, level: LevelOption = Level.INTERMEDIATE,
          hand: HandOption = HandSize.MEDIUM, tempo: TempoOption = None,
          feel: FeelOption = None, octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
          without: WithoutOption = None, part: PartOption = None,
          questions: Annotated[bool, typer.Option(
              "--questions", help="The gaps alone, to be answered first.")] = False,
          json: JsonOption = False) -> None:
    """List for each gap which of comp, reharm and line would work, and why."""
    from fillwright.progress import Progress

    options = tuned(for_player(level, hand, without), tempo, feel, octave, key)
    with one_clear_sentence(tune), Progress(sys.stderr) as progress:
        from fillwright.lesson.drills import drill as drill_of

        found = drill_of(read_sheet(tune, part), options, progress=progress.update)
    warn(tune, found.chorus.warnings)
    if json:
        from fillwright.contract import dump
        from fillwright.lesson.documents import drill_document

        sys.stdout.write(dump(drill_document(found)))
        return
    from fillwright.lesson.telling import drill_lines
    from fillwright.tables import chorus_line

    print_lines([chorus_line(found.chorus), "", *drill_lines(found, answers=not questions)])
