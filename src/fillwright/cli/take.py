"""The command `take`: what a student played, against the tune."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fillwright.cli.asked import for_player, read_sheet, tuned, with_form
from fillwright.cli.folder import checked, written
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
from fillwright.errors import InputError

if TYPE_CHECKING:
    from fillwright.arranging.model import Options
    from fillwright.fills.model import Fill
    from fillwright.take import Report
    from fillwright.tune.model import Tune

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
         json: JsonOption = False,
         folder: Annotated[Path | None, typer.Option(
             "--output", "-o", metavar="DIR", help="Write report.pdf for the student, and "
             "report.json, into this folder.", show_default=False)] = None) -> None:
    """Hear what a student played and say what a teacher would say of it."""
    from fillwright.arranging.build import prepare
    from fillwright.take import check_take, read_take, read_written

    options = with_form(tuned(for_player(Level.INTERMEDIATE, hand), tempo, feel, octave, key),
                        choruses, intro, ending)
    with one_clear_sentence(tune):
        sheet = read_sheet(tune, part)
    paper = None
    if arrangement is not None:
        with one_clear_sentence(arrangement):
            paper = read_written(arrangement)
            options = paper.options_for(options)
            paper.check_fits(prepare(sheet, options)[0])
    with one_clear_sentence(played):
        report = check_take(read_take(played), sheet, options, paper)
    if folder is not None:
        _write(report, sheet, options, folder, played)
    warn(tune, report.chorus.warnings)
    warn(played, report.warnings)
    if json:
        from fillwright.contract import dump, take_document

        sys.stdout.write(dump(take_document(report, options)))
        return
    from fillwright.tables import take_lines

    print_lines(take_lines(report))


def _write(report: Report, sheet: Tune, options: Options, folder: Path, played: Path) -> None:
    """The report on paper and as JSON, into a folder."""
    from fillwright.arranging.build import Offers
    from fillwright.contract import dump, take_document
    from fillwright.lesson import take_pdf

    offers = Offers(sheet, options)

    def find(number: int, fill: str) -> Fill | None:
        try:
            return offers.find(number, fill)
        except InputError:  # a fill of a written chorus that the program does not offer now
            return None

    checked(folder, played)
    with one_clear_sentence(played):
        files = {"report.pdf": take_pdf(report, options, find),
                 "report.json": dump(take_document(report, options)).encode("utf-8")}
    written(files, folder, played)
