"""The command `round`: a fill, a phrase or a chorus through the keys a teacher names."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fillwright.cli.asked import for_player, only_with_a_tune, read_sheet, tuned
from fillwright.cli.audit import audit_lines
from fillwright.cli.folder import FolderOption, checked, file_lines, written
from fillwright.cli.options import (
    ALL_FORMATS,
    EditionOption,
    FeelOption,
    FormatsOption,
    KeyOption,
    Level,
    LevelOption,
    MaybeGapOption,
    MaybeTuneArgument,
    Octave,
    OctaveOption,
    PartOption,
    PickOption,
    TempoOption,
    WithoutOption,
)
from fillwright.cli.shared import HandOption, HandSize, one_clear_sentence, print_lines, warn

if TYPE_CHECKING:
    from fillwright.lesson.rounds import Round

__all__ = ["round_"]


def _bars(text: str | None) -> str | None:
    """``5-8``, as it was written. Raises BadParameter."""
    if text is not None and not re.fullmatch(r"\s*\w+\s*-\s*\w+\s*", text):
        raise typer.BadParameter(f"{text!r} is not two bars; write them like 5-8")
    return text


_WITH_AN_EDITION = frozenset({"edition", "output", "keys", "gap", "fill", "bars", "formats"})


def round_(context: typer.Context, output: FolderOption,
           keys: Annotated[str, typer.Option(
               "--keys", metavar="LIST", help="In their order: 'C F Bb', or fourths, fifths, half "
               "steps, whole steps, minor thirds, major thirds, from the tune's own key on; "
               "'half steps down' goes down.", show_default=False)],
           tune: MaybeTuneArgument = None, edition: EditionOption = None,
           gap: MaybeGapOption = None,
           fill: Annotated[str | None, typer.Option(
               "--fill", metavar="FILL", help="What to play in the gap: a fill's id, or "
               "FAMILY:RANK. Default: what is picked for it, else the best that is offered.",
               show_default=False)] = None,
           bars: Annotated[str | None, typer.Option(
               "--bars", metavar="FROM-TO", callback=_bars, help="A phrase, by printed numbers of "
               "bars. Default: the gap, or the whole chorus.", show_default=False)] = None,
           level: LevelOption = Level.INTERMEDIATE, hand: HandOption = HandSize.MEDIUM,
           tempo: TempoOption = None, feel: FeelOption = None,
           octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
           without: WithoutOption = None, pick: PickOption = None,
           formats: FormatsOption = ALL_FORMATS, part: PartOption = None) -> None:
    """Take a fill, a phrase or a chorus through several keys, hands fitted anew in each."""
    if edition is not None:
        only_with_a_tune(context, _WITH_AN_EDITION)
    source = edition or tune
    if source is None:
        raise typer.BadParameter("give a tune, or an edition with --edition", param_hint="TUNE")
    options = None if edition is not None else replace(
        tuned(for_player(level, hand, without), tempo, feel, octave, key),
        formats=tuple(formats.split(",")))
    checked(output, source)

    def found() -> Round:
        from fillwright.arranging.user_picks import parse_pick
        from fillwright.edition.file import open_edition
        from fillwright.lesson.rounds import round_of_keys

        first, _, last = (bars or "").partition("-")
        given = open_edition(source) if options is None else read_sheet(source, part)
        asked = None if options is None else replace(
            options, picks=tuple(parse_pick(text) for text in pick or ()))
        return round_of_keys(given, keys, gap=gap, fill=fill, options=asked,
                             bars=(first.strip(), last.strip()) if bars else None)

    _write(found, source, output, formats.split(","))


def _write(made: Callable[[], Round], source: Path, output: Path, formats: Sequence[str]) -> None:
    from fillwright.progress import Progress

    with one_clear_sentence(source), Progress(sys.stderr) as progress:
        from fillwright.contract import dump
        from fillwright.lesson.documents import round_document
        from fillwright.output import render

        found = made()
        files = {"round.json": dump(round_document(found)).encode(),
                 **render(found.arrangement, formats, progress.stage)}
    lines = file_lines(written(files, output, source))
    warn(source, found.arrangement.warnings)
    from fillwright.lesson.telling import round_lines

    print_lines([found.arrangement.chorus.tune.title, *round_lines(found), *lines,
                 *audit_lines(found.audit(), found.arrangement.chorus.bars)])
