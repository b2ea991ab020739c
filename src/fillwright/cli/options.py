"""The options of the commands: what each may be, and what is said of it."""

from __future__ import annotations

import re
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from fillwright.errors import InputError

__all__ = ["ALL_FORMATS", "FORMATS", "MORE_FORMATS", "TUNE_HELP", "AddedBars", "ChordStyle",
           "ChordsOption", "Choruses", "ChorusesOption", "CountsOption", "EditionOption",
           "EndingOption", "Family", "Feel", "FeelOption", "Fingering", "FingeringOption",
           "FormatsOption", "GapOption", "HandsOption", "IntroOption", "KeyOption", "LargeOption",
           "Level", "LevelOption", "MaybeGapOption", "MaybeTuneArgument", "Octave",
           "OctaveOption", "PaperOption", "PaperSize", "PartOption", "PickOption", "SaveOption",
           "TempoOption", "TuneArgument", "WithoutOption", "check_formats", "check_mix",
           "check_picks", "sheet_path", "weights"]

class Level(StrEnum):
    """Those of `hands.model.LEVELS`, written out so that asking for help imports no searches."""

    BEGINNER = "beginner"
    INTERMEDIATE = "intermediate"
    ADVANCED = "advanced"


class Family(StrEnum):
    COMP = "comp"
    REHARM = "reharm"
    LINE = "line"


class Feel(StrEnum):
    SWING = "swing"
    STRAIGHT = "straight"


class Octave(StrEnum):
    AUTO = "auto"
    WRITTEN = "0"
    UP = "1"


class Choruses(StrEnum):
    ONE = "1"
    TWO = "2"


class AddedBars(StrEnum):
    NONE = "0"
    TWO = "2"
    FOUR = "4"


class Fingering(StrEnum):
    AUTO = "auto"
    ALL = "all"
    FILLS = "fills"
    HELPFUL = "helpful"
    NONE = "none"


class ChordStyle(StrEnum):
    WRITTEN = "written"
    WORDS = "words"
    SIGNS = "signs"


class PaperSize(StrEnum):
    A4 = "A4"
    LETTER = "Letter"


FORMATS = ("json", "musicxml", "mid", "svg", "pdf", "flac")
MORE_FORMATS = ("mp3", "opus", "left", "right", "clicks", "lead")
"""Those of `arranging.model`, once more, so that --help need not read the program."""
ALL_FORMATS = ",".join(FORMATS)


def _key(text: str | None) -> str | None:
    from fillwright.theory.key import Key

    if text is not None:
        try:
            Key.parse(text)
        except ValueError as error:
            raise typer.BadParameter(f"{error}; write it like Ab, F#m or 'C minor'") from error
    return text


def check_picks(texts: list[str] | None) -> list[str] | None:
    """A command's choices, as they were written. Raises BadParameter."""
    from fillwright.arranging.user_picks import parse_pick

    for text in texts or ():
        try:
            parse_pick(text)
        except InputError as error:
            raise typer.BadParameter(error.message) from error
    return texts


def _devices(names: list[str] | None) -> list[str] | None:
    if not names:
        return names
    from fillwright.fills.devices.registry import known_devices

    try:
        return list(known_devices(names))
    except InputError as error:
        raise typer.BadParameter(error.message) from error


def check_formats(text: str) -> str:
    """Formats without repetition, comma-separated. Raises BadParameter."""
    names = [name.strip() for name in text.split(",") if name.strip()]
    unknown = [name for name in names if name not in FORMATS + MORE_FORMATS]
    if unknown or not names:
        raise typer.BadParameter(f"{(unknown or [text])[0]!r} is not one of "
                                 f"{', '.join(FORMATS + MORE_FORMATS)}")
    return ",".join(dict.fromkeys(names))


def check_mix(text: str | None) -> str | None:
    """A mix as it was written. Raises BadParameter."""
    if text is not None:
        weights(text)
    return text


def weights(text: str) -> tuple[tuple[str, int], ...]:
    """``comp=2,line=1`` as (family, weight). Raises BadParameter."""
    from fillwright.arranging.model import weights_of

    found: list[tuple[str, int]] = []
    for word in text.split(","):
        name, _, number = (piece.strip() for piece in word.partition("="))
        if not re.fullmatch("[0-9]{1,2}", number):
            raise typer.BadParameter(f"{word.strip()!r} is not a family and its weight, 0 to 99; "
                                     "write it like comp=2,reharm=1,line=1")
        found.append((name, int(number)))
    try:
        return weights_of(found)
    except InputError as error:
        raise typer.BadParameter(error.message) from error


def sheet_path(text: str | Path) -> Path:
    """The name of a sheet. Raises BadParameter where it is empty."""
    if not str(text):
        raise typer.BadParameter("the name of the tune is empty")
    return Path(text)


TUNE_HELP = ("A lead sheet: .musicxml, .xml, .mxl, .abc, or what music21 reads; - for one that is "
              "piped in.")
TuneArgument = Annotated[Path, typer.Argument(metavar="TUNE", help=TUNE_HELP, parser=sheet_path,
                                              show_default=False)]
MaybeTuneArgument = Annotated[Path | None, typer.Argument(
    metavar="[TUNE]", help=f"{TUNE_HELP} Not with --edition.", parser=sheet_path,
    show_default=False)]
EditionOption = Annotated[Path | None, typer.Option(
    "--edition", metavar="FILE", help="An edition saved on the page or from Python: the sheet and "
    "everything that was decided about it.", show_default=False)]
GapOption = Annotated[int, typer.Option(
    "--gap", min=1, metavar="N", help="The gap.", show_default=False)]
MaybeGapOption = Annotated[int | None, typer.Option(
    "--gap", min=1, metavar="N", help="One gap only. Default: all of them.", show_default=False)]
PickOption = Annotated[list[str] | None, typer.Option(
    "--pick", metavar="GAP=FILL", callback=check_picks,
    help="Keep a choice: GAP=ID, GAP=FAMILY:RANK, or GAP=open to leave it; may be given several "
    "times.", show_default=False)]
FormatsOption = Annotated[str, typer.Option(
    "--formats", callback=check_formats, metavar="LIST",
    help="Comma-separated. Also mp3, opus (to send), left, right (each hand alone), clicks (the "
    "beat alone), lead (melody and chords).")]
PartOption = Annotated[str | None, typer.Option(
    "--part", help="The part with the melody: its id, name or number. Default: the one with "
    "chord symbols.", show_default=False)]
TempoOption = Annotated[float | None, typer.Option(
    "--tempo", min=20, max=400, metavar="BPM", help="Felt beats a minute. Default: as marked.",
    show_default=False)]
FeelOption = Annotated[Feel | None, typer.Option(
    "--feel", help="Default: as marked.", show_default=False)]
OctaveOption = Annotated[Octave, typer.Option(
    "--octave", help="Play the melody as written (0), an octave up (1), or decide (auto).")]
KeyOption = Annotated[str | None, typer.Option(
    "--key", metavar="NAME", callback=_key, help="Move the tune to this key: Ab, F#m.",
    show_default=False)]
LevelOption = Annotated[Level, typer.Option("--level", help="Who plays it.")]
ChorusesOption = Annotated[Choruses, typer.Option(
    "--choruses", help="Once or twice through; the second time is fuller.")]
IntroOption = Annotated[AddedBars, typer.Option("--intro", help="Bars before the tune.")]
EndingOption = Annotated[AddedBars, typer.Option("--ending", help="Bars after the tune.")]
WithoutOption = Annotated[list[str] | None, typer.Option(
    "--without", metavar="DEVICE", callback=_devices, show_default=False,
    help="Leave a device out, named as the fills are; may be given several times.")]
FingeringOption = Annotated[Fingering, typer.Option(
    "--fingering", help="Which fingers are printed: all, those of the fills, where a hand takes a "
    "new place (helpful), none; auto is all for beginners, else none.")]
CountsOption = Annotated[bool, typer.Option(
    "--counts/--no-counts", help="Counts below the fills, to be said aloud.")]
LargeOption = Annotated[bool, typer.Option(
    "--large", help="Music more than a quarter larger, fewer bars to a line.")]
ChordsOption = Annotated[ChordStyle, typer.Option(
    "--chords", help="Chord symbols: as written, in words (maj7, m7), in signs (Δ7, −7).")]
SaveOption = Annotated[bool, typer.Option(
    "--save-paper", help="Smaller music, more of it on a page.")]
HandsOption = Annotated[bool, typer.Option(
    "--hand-pictures", help="Hand pictures of the fills under the staves.")]
PaperOption = Annotated[PaperSize, typer.Option("--paper", help="The sheet it is printed on.")]
