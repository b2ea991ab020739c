"""The command `take`: what a student played, against the tune."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from fillwright.cli.asked import for_player, read_sheet, tuned, with_form
from fillwright.cli.options import (
    AddedBars,
    Choruses,
    ChorusesOption,
    EndingOption,
    FeelOption,
    IntroOption,
    KeyOption,
    Level,
    Octave,
    OctaveOption,
    PartOption,
    TempoOption,
    TuneArgument,
)
from fillwright.cli.shared import (
    HandOption,
    HandSize,
    JsonOption,
    one_clear_sentence,
    print_lines,
    warn,
)

__all__ = ["take"]


def take(tune: TuneArgument,
         played: Annotated[Path, typer.Argument(
             metavar="TAKE.mid", help="What the student played: a Standard MIDI File.",
             show_default=False)],
         arrangement: Annotated[Path | None, typer.Option(
             "--arrangement", metavar="FILE.json", help="The written chorus that the student "
             "played from, as `arrange` writes it; its key, octave and form hold.",
             show_default=False)] = None,
         hand: HandOption = HandSize.MEDIUM, tempo: TempoOption = None, feel: FeelOption = None,
         octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
         choruses: ChorusesOption = Choruses.ONE, intro: IntroOption = AddedBars.NONE,
         ending: EndingOption = AddedBars.NONE, part: PartOption = None,
         json: JsonOption = False) -> None:
    """Hear what a student played and say what a teacher would say of it."""
    from fillwright.arranging.build import prepare
    from fillwright.take import check_take, read_take, read_written

    options = with_form(tuned(for_player(Level.INTERMEDIATE, hand), tempo, feel, octave, key),
                        choruses, intro, ending)
    with one_clear_sentence(tune):
        sheet = read_sheet(tune, part)
    written = None
    if arrangement is not None:
        with one_clear_sentence(arrangement):
            written = read_written(arrangement)
            options = written.options_for(options)
            written.check_fits(prepare(sheet, options)[0])
    with one_clear_sentence(played):
        report = check_take(read_take(played), sheet, options, written)
    warn(tune, report.chorus.warnings)
    warn(played, report.warnings)
    if json:
        from fillwright.contract import dump, take_document

        sys.stdout.write(dump(take_document(report, options)))
        return
    from fillwright.tables import take_lines

    print_lines(take_lines(report))
