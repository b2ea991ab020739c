"""The command `round`: a fill, a phrase or a chorus through the keys a teacher names."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from typing import Annotated

import typer

from fillwright.cli.asked import for_player, read_sheet, tuned
from fillwright.cli.audit import audit_lines
from fillwright.cli.folder import FolderOption, checked, written
from fillwright.cli.options import (
    FORMATS,
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
    check_formats,
    check_picks,
)
from fillwright.cli.shared import HandOption, HandSize, one_clear_sentence, print_lines, warn

__all__ = ["round_"]


def _bars(text: str | None) -> str | None:
    """``5-8``, as it was written. Raises BadParameter."""
    if text is not None and not re.fullmatch(r"\s*\w+\s*-\s*\w+\s*", text):
        raise typer.BadParameter(f"{text!r} is not two bars; write them like 5-8")
    return text


def round_(tune: TuneArgument, output: FolderOption,
           keys: Annotated[str, typer.Option(
               "--keys", metavar="LIST", help="In their order: 'C F Bb', or fourths, fifths, half "
               "steps, whole steps, minor thirds, major thirds, from the tune's own key on; "
               "'half steps down' goes down.", show_default=False)],
           gap: Annotated[int | None, typer.Option(
               "--gap", min=1, metavar="N", help="One gap with the bars around it. Default: the "
               "whole chorus.", show_default=False)] = None,
           fill: Annotated[str | None, typer.Option(
               "--fill", metavar="FILL", help="What to play in the gap: a fill's id, or "
               "FAMILY:RANK. Default: the best that is offered.", show_default=False)] = None,
           bars: Annotated[str | None, typer.Option(
               "--bars", metavar="FROM-TO", callback=_bars, help="A phrase, by printed numbers of "
               "bars.", show_default=False)] = None,
           level: LevelOption = Level.INTERMEDIATE, hand: HandOption = HandSize.MEDIUM,
           tempo: TempoOption = None, feel: FeelOption = None,
           octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
           without: WithoutOption = None,
           pick: Annotated[list[str] | None, typer.Option(
               "--pick", metavar="GAP=FILL", callback=check_picks,
               help="Keep a choice for the chorus; may be given several times.",
               show_default=False)] = None,
           formats: Annotated[str, typer.Option(
               "--formats", callback=check_formats, metavar="LIST",
               help="Comma-separated.")] = ",".join(FORMATS),
           part: PartOption = None) -> None:
    """Take a fill, a phrase or a chorus through several keys, hands fitted anew in each."""
    from fillwright.progress import Progress

    options = replace(tuned(for_player(level, hand, without), tempo, feel, octave, key),
                      formats=tuple(formats.split(",")))
    checked(output, tune)
    with one_clear_sentence(tune), Progress(sys.stderr) as progress:
        from fillwright.arranging.user_picks import parse_pick
        from fillwright.contract import dump
        from fillwright.lesson.documents import round_document
        from fillwright.lesson.rounds import round_of_keys
        from fillwright.output import render

        options = replace(options, picks=tuple(parse_pick(text) for text in pick or ()))
        first, _, last = (bars or "").partition("-")
        found = round_of_keys(read_sheet(tune, part), keys, gap=gap, fill=fill, options=options,
                              bars=(first.strip(), last.strip()) if bars else None)
        files = {"round.json": dump(round_document(found)).encode(),
                 **render(found.arrangement, options.formats, progress.stage)}
    lines = written(files, output, tune)
    warn(tune, found.arrangement.warnings)
    from fillwright.lesson.telling import round_lines

    print_lines([found.arrangement.chorus.tune.title, *round_lines(found), *lines,
                 *audit_lines(found.audit(), found.arrangement.chorus.bars)])
