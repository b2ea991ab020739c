"""The commands that write a chorus: of a tune or an edition, and of a tune that comes along."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fillwright.cli.asked import for_player, only_with_a_tune, read_sheet, tuned, with_form
from fillwright.cli.audit import audit_lines, audit_table
from fillwright.cli.folder import FolderOption, checked, written
from fillwright.cli.options import (
    ALL_FORMATS,
    FORMATS,
    AddedBars,
    ChordsOption,
    ChordStyle,
    Choruses,
    ChorusesOption,
    CountsOption,
    EditionOption,
    EndingOption,
    FeelOption,
    Fingering,
    FingeringOption,
    FormatsOption,
    HandsOption,
    IntroOption,
    KeyOption,
    LargeOption,
    Level,
    LevelOption,
    MaybeTuneArgument,
    Octave,
    OctaveOption,
    PaperOption,
    PaperSize,
    PartOption,
    PickOption,
    SaveOption,
    TempoOption,
    WithoutOption,
    check_mix,
    weights,
)
from fillwright.cli.shared import (
    HandOption,
    HandSize,
    one_clear_sentence,
    print_lines,
    warn,
)

if TYPE_CHECKING:
    from fillwright.arranging.model import Arrangement, Options

__all__ = ["arrange", "demo"]


def arrange(context: typer.Context,
            output: FolderOption, tune: MaybeTuneArgument = None,
            edition: EditionOption = None,
            level: LevelOption = Level.INTERMEDIATE, hand: HandOption = HandSize.MEDIUM,
            tempo: TempoOption = None, feel: FeelOption = None,
            octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
            without: WithoutOption = None,
            pick: PickOption = None, formats: FormatsOption = ALL_FORMATS,
            choruses: ChorusesOption = Choruses.ONE, intro: IntroOption = AddedBars.NONE,
            ending: EndingOption = AddedBars.NONE,
            mix: Annotated[str | None, typer.Option(
                "--mix", metavar="LIST", callback=check_mix,
                help="How often each family is chosen: comp=2,reharm=1,line=1. One that is "
                "not named is left out. Default: evenly.",
                show_default=False)] = None,
            same: Annotated[bool, typer.Option(
                "--same-each-time", help="A phrase that comes again keeps its fill, note for "
                "note; else its idea comes back changed.")] = False,
            click: Annotated[bool, typer.Option(
                "--click", help="Sound with a count-in and a click.")] = False,
            soundfont: Annotated[Path | None, typer.Option(
                "--soundfont", metavar="PATH", exists=True, dir_okay=False,
                help="The piano to play: a SoundFont (.sf2). Default: the one that comes along.",
                show_default=False)] = None,
            audit: Annotated[bool, typer.Option(
                "--audit", help="Print the rules of the hands that were checked.")] = False,
            part: PartOption = None,
            fingering: FingeringOption = Fingering.AUTO, counts: CountsOption = True,
            large: LargeOption = False, paper: PaperOption = PaperSize.A4,
            chords: ChordsOption = ChordStyle.WRITTEN, save_paper: SaveOption = False,
            hand_pictures: HandsOption = False) -> None:
    """Build a whole chorus for two hands and write it: page, score, MIDI, sound, JSON."""
    extras = _Extras(formats.split(","), click, soundfont, audit,
                     {"fingering": fingering.value, "counts": counts, "large": large,
                      "paper": paper.value, "chords": chords.value, "saving": save_paper,
                      "hands": hand_pictures})
    if edition is not None:
        only_with_a_tune(context, _WITH_AN_EDITION)
        _write_edition(edition, output, extras)
        return
    if tune is None:
        raise typer.BadParameter("give a tune, or an edition with --edition", param_hint="TUNE")
    from fillwright.arranging.user_picks import parse_pick

    options = replace(
        with_form(tuned(for_player(level, hand, without), tempo, feel, octave, key),
              choruses, intro, ending),
        picks=tuple(parse_pick(text) for text in pick or ()), same_each_time=same,
        mix=() if mix is None else weights(mix), formats=tuple(formats.split(",")))
    _write_arrangement(tune, output, options, part, extras)


def demo(output: Annotated[Path, typer.Option(
             "--output", "-o", metavar="DIR", help="The folder to write into.")] = Path("out/demo"),
         tune: Annotated[str, typer.Option("--tune", metavar="NAME", help="Which tune.")] = "lamp",
         level: LevelOption = Level.INTERMEDIATE, hand: HandOption = HandSize.MEDIUM,
         list_: Annotated[bool, typer.Option("--list", help="List the tunes and stop.")] = False
         ) -> None:
    """Arrange one of the tunes that come with the program."""
    from fillwright.demo import DEMO_TUNES, demo_path

    names = [f"  {name:<10}{what}" for name, what in DEMO_TUNES.items()]
    if list_:
        print_lines(names)
        return
    if tune not in DEMO_TUNES:
        raise typer.BadParameter(f"{tune!r} is not one of {', '.join(DEMO_TUNES)}",
                                 param_hint="--tune")
    _write_arrangement(demo_path(tune), output, for_player(level, hand), None)
    print_lines(["", "The tunes (fillwright demo --tune NAME):", *names])


_WHAT = {
    "arrangement.pdf": "the pages for the music stand",
    "arrangement.flac": "to listen to",
    "arrangement.mp3": "to send to a student",
    "arrangement.opus": "to send to a student, smaller",
    "arrangement-right.flac": "the right hand alone",
    "arrangement-left.flac": "the left hand alone",
    "arrangement-clicks.flac": "the beat to play to",
    "arrangement.mid": "for a digital piano",
    "arrangement.musicxml": "for any notation program",
    "arrangement-lead.musicxml": "melody and chords as they are played",
    "page-1.svg": "the first page as a picture",
    "arrangement.json": "for other programs",
}


@dataclass(frozen=True)
class _Extras:
    """Wishes that change no note: which files, a click, another piano, the table of rules,
    what is chosen of the printed page (as `score.Printing` has it)."""

    formats: Sequence[str] = FORMATS
    click: bool = False
    soundfont: Path | None = None
    rules: bool = False
    printing: Mapping[str, Any] = field(default_factory=dict)


def _write_arrangement(path: Path, folder: Path, options: Options, part: str | None,
                       extras: _Extras = _Extras()) -> None:
    from fillwright.arranging import build

    def made(progress: Callable[[int, int], None]) -> Arrangement:
        return build.arrange(read_sheet(path, part), options, progress=progress)

    _write(path, folder, made, extras)


_WITH_AN_EDITION = frozenset({"edition", "output", "formats", "click", "soundfont", "audit",
                              "fingering", "counts", "large", "paper", "chords", "save_paper",
                              "hand_pictures"})


def _write_edition(path: Path, folder: Path, extras: _Extras) -> None:
    from fillwright.edition.file import open_edition

    def made(progress: Callable[[int, int], None]) -> Arrangement:
        return open_edition(path).arrange(progress)

    _write(path, folder, made, extras)


def _write(path: Path, folder: Path,
           made: Callable[[Callable[[int, int], None]], Arrangement], extras: _Extras) -> None:
    """Make an arrangement, write its files, and say what is in it."""
    from fillwright.arranging.audit import audit_arrangement
    from fillwright.output import render
    from fillwright.progress import Progress

    checked(folder, path)  # before minutes of computing, not after
    with one_clear_sentence(path), Progress(sys.stderr) as progress:
        arrangement = made(progress.update)
        files = render(arrangement, extras.formats, progress.stage, extras.soundfont,
                       extras.click, extras.printing)
        found = audit_arrangement(arrangement)
    paths = written(files, folder, path)
    warn(path, arrangement.warnings)
    print_lines([*_summary(arrangement, paths), *audit_lines(found, arrangement.chorus.bars),
                 *(["", *audit_table(found)] if extras.rules else [])])


def _summary(arrangement: Arrangement, written: Iterable[Path]) -> list[str]:
    from fillwright.tables import chorus_line, difficulty_lines

    by_family = {name: sum(fill.family == name for fill in arrangement.fills)
                 for name in ("comp", "reharm", "line")}
    filled = ", ".join(f"{number} {name}" for name, number in by_family.items() if number)
    left = len(arrangement.gaps) - len(arrangement.fills)
    lines = [chorus_line(arrangement.chorus),
             f"{len(arrangement.gaps)} gaps: {len(arrangement.fills)} filled"
             + (f" ({filled})" if filled else "") + (f", {left} left open" if left else ""),
             *difficulty_lines(arrangement), *(f"  {sentence}" for sentence in arrangement.story)]
    paths = {path.name: str(path) for path in written if path.name in _WHAT}
    width = max(map(len, paths.values()), default=0)
    return lines + [f"  {paths[name].ljust(width)}   {what}" for name, what in _WHAT.items()
                    if name in paths]
