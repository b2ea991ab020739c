"""The command `take`: what a student played, against the tune."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

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
from fillwright.progress import Progress

if TYPE_CHECKING:
    from fillwright.arranging.model import Options
    from fillwright.fills.model import Fill
    from fillwright.take import Report, Take
    from fillwright.tune.model import Tune

__all__ = ["take"]


def take(tune: TuneArgument,
         played: Annotated[Path, typer.Argument(
             metavar="TAKE", help="What the student played: a Standard MIDI File, or a recording "
             "(WAV, FLAC, MP3, M4A ...; with the extra fillwright[listen]).",
             show_default=False)],
         arrangement: Annotated[Path | None, typer.Option(
             "--arrangement", metavar="FILE.json", help="The written chorus that the student "
             "played from, as `arrange` writes it; its key, octave and form hold.",
             show_default=False)] = None,
         hand: HandOption = HandSize.MEDIUM, tempo: TempoOption = None, feel: FeelOption = None,
         octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
         choruses: ChorusesOption = Choruses.ONE, intro: IntroOption = AddedBars.NONE,
         ending: EndingOption = AddedBars.NONE, part: PartOption = None,
         keep: Annotated[int | None, typer.Option(
             "--keep", metavar="GAP", min=1, help="Print what was played in this gap as a fill of "
             "its own, with what the rules say of it (JSON).", show_default=False)] = None,
         among: Annotated[Path | None, typer.Option(
             "--among", metavar="FOLDER", exists=True, file_okay=False, show_default=False,
             help="Where the take is of another tune, name its sheet in this folder.")] = None,
         processes: Annotated[int, typer.Option(
             "--processes", min=0, max=64, metavar="P", help="How many listen to a recording at "
             "once; 0: as many as processors and free memory allow.")] = 0,
         json: JsonOption = False,
         folder: Annotated[Path | None, typer.Option(
             "--output", "-o", metavar="DIR", help="Write report.pdf for the student, and "
             "report.json, into this folder.", show_default=False)] = None) -> None:
    """Hear what a student played and say what a teacher would say of it."""
    from fillwright.arranging.build import prepare
    from fillwright.take import NotHeard, check_take, read_written

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
        heard = _heard(played, processes)
        try:
            report = check_take(heard, sheet, options, paper)
        except NotHeard as error:
            raise InputError(error.message + _rather(heard, among), error.source) from error
        kept = None if keep is None else _kept(report, keep, hand.value)
    if folder is not None:
        _write(report, sheet, options, folder, played)
    warn(tune, report.chorus.warnings)
    warn(played, report.warnings)
    if kept is not None:
        from fillwright.contract import dump

        sys.stdout.write(dump(kept))
        return
    if json:
        from fillwright.contract import dump, take_document

        sys.stdout.write(dump(take_document(report, options)))
        return
    from fillwright.tables import take_lines

    print_lines(take_lines(report))


def _heard(played: Path, processes: int) -> Take:
    """The take of a file. Listening to a recording is long work: what it takes is said first."""
    from fillwright.take import read_take
    from fillwright.take.recording import hear_recording, is_recording, read_recording
    from fillwright.take.recording.piano_ear import memory_words, open_piano_ear, processes_for

    if not is_recording(played):
        return read_take(played)
    recording = read_recording(played)
    number = processes or processes_for(recording.length_sec)
    with Progress(sys.stderr, what="piece") as progress:
        progress.stage(f"{played.name}: getting ready to listen ({memory_words(number)})")
        return hear_recording(recording, open_piano_ear, number, progress.update)


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


def _kept(report: Report, number: int, hand: str) -> dict[str, Any]:
    """What was played in a gap, the first time that it was filled."""
    from fillwright.contract import fill_value
    from fillwright.take import kept_fill, kept_findings

    played = [one for one in report.gaps if one.gap.number == number]
    if not played:
        raise InputError(f"gap {number} was not come by")
    heard = next((one for one in played if one.answer != "open"), played[0])
    fill = kept_fill(report, heard, hand)
    found = kept_findings(fill, report.chorus, heard.gap, hand)
    return {"fill": fill_value(fill, heard.gap),
            "findings": [{"rule": one.rule, "onset_quarter": str(one.onset_quarter),
                          "sentence": one.message} for one in found.findings]}


def _rather(heard: Take, folder: Path | None) -> str:
    """Which sheet of a folder it is of, as the end of a sentence."""
    if folder is None:
        return ""
    from fillwright import read_tune
    from fillwright.library.folders import sheets_below
    from fillwright.take import best_fit

    tunes = {}
    for sighting in sheets_below([folder]):
        path = Path(sighting.path)
        try:
            tunes[str(path.relative_to(folder.absolute()))] = read_tune(path)
        except InputError:      # what cannot be read is nothing it could be of
            continue
    if not tunes:
        return f"; and there is no lead sheet in {folder.name}"
    best = best_fit(heard, tunes.values())
    if best is None:
        return f"; nor is any of the {len(tunes)} sheets in {folder.name} clearly"
    name = next(name for name, tune in tunes.items() if tune is best)
    return f"; it is {best.title!r} ({name})"
