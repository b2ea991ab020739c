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
    from fillwright.lesson.choices import Choice
    from fillwright.lesson.drills import Drill, DrillGap
    from fillwright.progress import Progress
    from fillwright.tune.model import Tune

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
          take: Annotated[Path | None, typer.Option(
              "--take", metavar="FILE.mid", help="The gaps were answered by playing: say of a "
              "recorded take what would have worked.", show_default=False)] = None,
          student: Annotated[str | None, typer.Option(
              "--student", metavar="NAME", help="With --ask or --take: keep the answers in this "
              "student's book, and show where choosing is slow.", show_default=False)] = None,
          data: DataOption = None, json: JsonOption = False) -> None:
    """List for each gap which of comp, reharm and line would work, and why."""
    from fillwright.progress import Progress

    options = tuned(for_player(level, hand, without), tempo, feel, octave, key)
    if student is not None and not ask and take is None:
        raise typer.BadParameter("answers are kept with --ask or --take",
                                 param_hint="--student")
    if output is not None:
        checked(output, tune)
    with one_clear_sentence(tune), Progress(sys.stderr) as progress:
        from fillwright.lesson.drills import drill as drill_of

        sheet = read_sheet(tune, part)
        found = drill_of(sheet, options, progress=progress.update)
        files = {} if output is None else _paper(found, progress)
    lines = [] if output is None else ["", *file_lines(written(files, output, tune))]
    warn(tune, found.chorus.warnings)
    if take is not None:
        _played(found, sheet, take, (student, data), json)
        return
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
    from fillwright.lesson.choices import choice_of
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
        print_lines(_verdict(one, choice))
    print_lines(_kept(made, student, data))


def _played(found: Drill, sheet: Tune, take: Path, book: tuple[str | None, Path | None],
            json: bool) -> None:
    """Say of each gap how a take answers it and what would have worked, and keep that."""
    from fillwright.lesson.choices import choices_played
    from fillwright.tables import gap_heading
    from fillwright.take import check_take, read_take

    with one_clear_sentence(take):
        rows = choices_played(found, check_take(read_take(take), sheet, found.options))
    summary = _kept([choice for _, _, choice in rows], *book)
    if json:
        from fillwright.contract import dump
        from fillwright.lesson.documents import drill_document

        sys.stdout.write(dump(drill_document(found) | {"answers": [
            {"number": one.gap.number, "family": choice.family, "device": heard.device,
             "works": choice.works, "seconds": round(choice.seconds, 2)}
            for one, heard, choice in rows]}))
        return
    for one, heard, choice in rows:
        near = "" if heard.device is None else f", nearest to {heard.device}"
        print_lines([gap_heading(one.gap), f"  heard as {choice.family}{near}",
                     *_verdict(one, choice)])
    print_lines(summary)


def _verdict(one: DrillGap, choice: Choice) -> list[str]:
    others = [fill.family for fill, _ in one.works if fill.family != choice.family]
    return [f"  {one.answer(choice.family)}",
            *([f"  also: {', '.join(others)}"] if others else []), ""]


def _kept(made: list[Choice], student: str | None, data: Path | None) -> list[str]:
    """Keep answers for a student, where one is named; what is to be said: how many worked, and
    where choosing is slow."""
    from fillwright.lesson.choices import slow_kinds
    from fillwright.lesson.telling import choice_lines

    kept = tuple(made)
    if student is not None:
        with open_book(data) as book:
            for choice in made:
                book.chose(student, choice, datetime.now(UTC))
            kept = book.choices(student)
    worked = sum(choice.works for choice in made)
    return [f"{worked} of {len(made)} would have worked",
            *(["", *choice_lines(slow_kinds(kept))] if kept else [])]
