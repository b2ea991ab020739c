"""The command `ladder`: one idea from the level it is offered at down to a beginner's."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fillwright.cli.asked import for_player, read_sheet, tuned
from fillwright.cli.folder import checked, file_lines, written
from fillwright.cli.options import (
    FeelOption,
    GapOption,
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
from fillwright.errors import InputError

if TYPE_CHECKING:
    from fillwright.arranging.model import Options
    from fillwright.fills.ladder.rungs import Ladder

__all__ = ["FillOption", "ladder"]


def _fill(text: str) -> str:
    """What can name a fill. Raises BadParameter."""
    from fillwright.arranging.user_picks import OPEN, check_pick

    try:
        check_pick(text)
    except InputError as error:
        raise typer.BadParameter(error.message) from error
    if text == OPEN:
        raise typer.BadParameter("a gap left open has no idea to thin")
    return text


FillOption = Annotated[str, typer.Option(
    "--fill", metavar="FILL", callback=_fill, show_default=False,
    help="The idea: a fill's id, or FAMILY:RANK as fills lists them.")]


def ladder(tune: TuneArgument,
           gap: GapOption, fill: FillOption, level: LevelOption = Level.ADVANCED,
           hand: HandOption = HandSize.MEDIUM, tempo: TempoOption = None,
           feel: FeelOption = None, octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
           without: WithoutOption = None, part: PartOption = None,
           output: Annotated[Path | None, typer.Option(
               "--output", "-o", metavar="DIR", help="Write the rungs as a study into this "
               "folder: a page of levels with hand pictures, score, MIDI, sound.",
               show_default=False)] = None,
           json: JsonOption = False) -> None:
    """Thin one idea step by step, each step with the highest tempo of its level."""
    options = tuned(for_player(level, hand, without), tempo, feel, octave, key)
    if output is not None:
        checked(output, tune)
    with one_clear_sentence(tune):
        from fillwright.arranging.build import Offers
        from fillwright.fills.ladder.rungs import ladder as ladder_of

        offers = Offers(read_sheet(tune, part), options)
        idea = offers.picked(gap, fill)
        assert idea is not None  # "open" is refused above
        found = ladder_of(idea, hand=options.hand, chorus=offers.chorus)
        files = {} if output is None else _study(found, options)
    lines = [] if output is None else ["", *file_lines(written(files, output, tune))]
    warn(tune, offers.chorus.warnings)
    if json:
        from fillwright.contract import dump
        from fillwright.lesson.documents import ladder_document

        sys.stdout.write(dump(ladder_document(found, options, offers.chorus.warnings)))
        return
    from fillwright.lesson.telling import ladder_lines
    from fillwright.tables import chorus_line

    print_lines([chorus_line(found.chorus), "", *ladder_lines(found), *lines])


def _study(found: Ladder, options: Options) -> dict[str, bytes]:
    """A page of levels instead of the pages of an arrangement."""
    from fillwright.lesson.study import study_of, study_pdf
    from fillwright.output import render

    formats = tuple(name for name in options.formats if name not in ("pdf", "svg"))
    return {"study.pdf": study_pdf(found, options), **render(study_of(found, options), formats)}
