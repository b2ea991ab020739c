"""From what was typed to the settings of a player, the sheet, its chorus and its gaps."""

from __future__ import annotations

import sys
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from fillwright.cli.options import FORMATS, AddedBars, Choruses, Feel, Level, Octave
from fillwright.cli.shared import HandSize
from fillwright.exact import Fraction

if TYPE_CHECKING:
    from fillwright.arranging.model import Options
    from fillwright.tune.model import Chorus, Gap, Tune

__all__ = ["Prepared", "for_player", "only_with_a_tune", "prepared", "read_sheet", "tuned",
           "with_form"]


def for_player(level: Level, hand: HandSize, without: Iterable[str] | None = None) -> Options:
    """The settings of a player."""
    from fillwright.arranging.model import Options

    return Options(level=level.value, hand=hand.value, without=tuple(without or ()),
                   formats=FORMATS)


def tuned(options: Options, tempo: float | None, feel: Feel | None, octave: Octave,
           key: str | None) -> Options:
    """The same with what was asked of the tune."""
    return replace(options, tempo=None if tempo is None else Fraction(str(tempo)),
                   feel=None if feel is None else feel.value, octave=octave.value, key=key)


def with_form(options: Options, choruses: Choruses, intro: AddedBars, ending: AddedBars) -> Options:
    """The same with what was asked of the form."""
    return replace(options, choruses=int(choruses), introduction=int(intro), ending=int(ending))


def only_with_a_tune(context: typer.Context, allowed: Collection[str]) -> None:
    """Refuse what an edition has decided already: every option but those allowed."""
    for name in context.params:
        source = context.get_parameter_source(name)
        if name not in allowed and source is not None and source.name == "COMMANDLINE":
            said = "TUNE" if name == "tune" else f"--{name}"
            raise typer.BadParameter("the edition has decided this already", param_hint=said)


def read_sheet(path: Path, part: str | None) -> Tune:
    """The tune of a file, or of what is piped in for ``-``."""
    from fillwright.tune.limits import MAX_UNPACKED_BYTES
    from fillwright.tune.read import read_bytes, read_tune

    if str(path) != "-":
        return read_tune(path, part=part)
    return read_bytes(sys.stdin.buffer.read(MAX_UNPACKED_BYTES + 1), "-", part=part)


@dataclass(frozen=True)
class Prepared:
    tune: Tune
    chorus: Chorus
    gaps: tuple[Gap, ...]


def prepared(path: Path, part: str | None, options: Options) -> Prepared:
    from fillwright.arranging.prepare import prepare

    tune = read_sheet(path, part)
    chorus, gaps = prepare(tune, options)
    return Prepared(tune, chorus, gaps)
