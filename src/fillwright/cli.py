"""The command line: it parses, calls and prints.

Heavy modules are imported inside the commands, so that ``--help`` is quick. Results go to
stdout, warnings and errors to stderr. Input that cannot be used ends with exit status 2 and
one line that begins with the file's name.
"""

from __future__ import annotations

import os
import sys
import warnings as python_warnings
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fillwright.cli_audit import audit, audit_lines, audit_table
from fillwright.cli_options import (
    FORMATS,
    TUNE_HELP,
    AddedBars,
    Choruses,
    ChorusesOption,
    EndingOption,
    Family,
    Feel,
    FeelOption,
    IntroOption,
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
    check_mix,
    check_picks,
    sheet_path,
    weights,
)
from fillwright.cli_shared import (
    HandOption,
    HandSize,
    JsonOption,
    fail,
    one_clear_sentence,
    print_lines,
    warn,
)
from fillwright.cli_shelf import shelf
from fillwright.errors import InputError
from fillwright.exact import Fraction

if TYPE_CHECKING:
    from fillwright.arranging.model import Arrangement, Options
    from fillwright.tune.model import Chorus, Gap, Tune

__all__ = ["app", "main"]


app = typer.Typer(
    add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False,
    no_args_is_help=True, context_settings={"help_option_names": ["-h", "--help"]},
    help="Finds the places of a lead sheet where the melody holds still and fills them: solo "
         "jazz piano, on paper and in sound.")


# --- what the commands share ----------------------------------------------------------------


def _for(level: Level, hand: HandSize, without: Iterable[str] | None = None) -> Options:
    """The settings of a player."""
    from fillwright.arranging.model import Options

    return Options(level=level.value, hand=hand.value, without=tuple(without or ()),
                   formats=FORMATS)


def _tuned(options: Options, tempo: float | None, feel: Feel | None, octave: Octave,
           key: str | None) -> Options:
    """The same with what was asked of the tune."""
    return replace(options, tempo=None if tempo is None else Fraction(str(tempo)),
                   feel=None if feel is None else feel.value, octave=octave.value, key=key)


def _long(options: Options, choruses: Choruses, intro: AddedBars, ending: AddedBars) -> Options:
    """The same with what was asked of the form."""
    return replace(options, choruses=int(choruses), introduction=int(intro), ending=int(ending))


def _read(path: Path, part: str | None) -> Tune:
    """The tune of a file, or of what is piped in for ``-``."""
    from fillwright.tune.limits import MAX_UNPACKED_BYTES
    from fillwright.tune.read import read_bytes, read_tune

    if str(path) != "-":
        return read_tune(path, part=part)
    return read_bytes(sys.stdin.buffer.read(MAX_UNPACKED_BYTES + 1), "-", part=part)


@dataclass(frozen=True)
class _Prepared:
    tune: Tune
    chorus: Chorus
    gaps: tuple[Gap, ...]


def _prepare(path: Path, part: str | None, options: Options) -> _Prepared:
    from fillwright.arranging.build import prepare

    tune = _read(path, part)
    chorus, gaps = prepare(tune, options)
    return _Prepared(tune, chorus, gaps)


# --- commands -------------------------------------------------------------------------------


@app.command(epilog="Example: fillwright gaps tune.musicxml --tempo 120")
def gaps(tune: TuneArgument, tempo: TempoOption = None, feel: FeelOption = None,
         octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
         choruses: ChorusesOption = Choruses.ONE, intro: IntroOption = AddedBars.NONE,
         ending: EndingOption = AddedBars.NONE, part: PartOption = None,
         json: JsonOption = False) -> None:
    """List the places where the melody holds or rests for two beats or more."""
    options = _long(_tuned(_for(Level.INTERMEDIATE, HandSize.MEDIUM), tempo, feel, octave, key),
                    choruses, intro, ending)
    with one_clear_sentence(tune):
        found = _prepare(tune, part, options)
    warn(tune, found.chorus.warnings)
    if json:
        from fillwright.contract import dump, gaps_document

        sys.stdout.write(dump(gaps_document(found.chorus, options, found.gaps,
                                            found.chorus.warnings)))
        return
    from fillwright.tables import chorus_line, gap_table

    print_lines([chorus_line(found.chorus), "", *gap_table(found.gaps)])


@app.command(epilog="Example: fillwright fills tune.musicxml --gap 3 --family line "
                    "--level advanced")
def fills(tune: TuneArgument,
          gap: Annotated[int | None, typer.Option(
              "--gap", min=1, metavar="N", help="One gap only. Default: all.",
              show_default=False)] = None,
          family: Annotated[Family | None, typer.Option(
              "--family", help="One family only. Default: all.", show_default=False)] = None,
          level: LevelOption = Level.INTERMEDIATE, hand: HandOption = HandSize.MEDIUM,
          tempo: TempoOption = None,
          count: Annotated[int, typer.Option(
              "--count", min=1, max=50, metavar="K", help="Options per gap and family.")] = 3,
          processes: Annotated[int, typer.Option(
              "--processes", min=1, max=64, metavar="P",
              help="Spread the gaps over so many processes; worth it for a long tune.")] = 1,
          feel: FeelOption = None, octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
          without: WithoutOption = None, choruses: ChorusesOption = Choruses.ONE,
          intro: IntroOption = AddedBars.NONE, ending: EndingOption = AddedBars.NONE,
          part: PartOption = None, json: JsonOption = False) -> None:
    """List what could be played in each gap, best first, with counts and reasons."""
    from fillwright.progress import Progress

    options = _long(_tuned(_for(level, hand, without), tempo, feel, octave, key),
                    choruses, intro, ending)
    with one_clear_sentence(tune), Progress(sys.stderr) as progress:
        found = _prepare(tune, part, options)
        if gap is not None and gap > len(found.gaps):
            raise InputError(f"there is no gap {gap}; the tune has {len(found.gaps)}")
        from fillwright.fills.propose import propose

        proposal = propose(
            found.chorus, found.gaps, level=options.level, hand=options.hand,
            families=None if family is None else (family.value,),
            numbers=None if gap is None else (gap,), count=count, without=options.without,
            processes=processes, progress=progress.update)
    chosen = [g for g in found.gaps if gap is None or g.number == gap]
    warn(tune, found.chorus.warnings)
    if json:
        from fillwright.contract import dump, fills_document

        sys.stdout.write(dump(fills_document(found.chorus, options, chosen, proposal,
                                             found.chorus.warnings)))
        return
    from fillwright.tables import chorus_line, proposal_lines

    print_lines([chorus_line(found.chorus), "", *proposal_lines(
        found.chorus, chosen, proposal, options.hand)])


@app.command(epilog="Example: fillwright arrange tune.musicxml -o out --level beginner --key F "
                    "--pick 3=line:2")
def arrange(context: typer.Context,
            output: Annotated[Path, typer.Option(
                "--output", "-o", metavar="DIR", help="The folder to write into.",
                show_default=False)],
            tune: Annotated[Path | None, typer.Argument(
                metavar="[TUNE]", help=f"{TUNE_HELP} Not with --edition.", parser=sheet_path,
                show_default=False)] = None,
            edition: Annotated[Path | None, typer.Option(
                "--edition", metavar="FILE", help="An edition saved on the page or from Python: "
                "the sheet and everything that was decided about it.", show_default=False)] = None,
            level: LevelOption = Level.INTERMEDIATE, hand: HandOption = HandSize.MEDIUM,
            tempo: TempoOption = None, feel: FeelOption = None,
            octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
            without: WithoutOption = None,
            pick: Annotated[list[str] | None, typer.Option(
                "--pick", metavar="GAP=FILL", callback=check_picks,
                help="Keep a choice: GAP=ID, GAP=FAMILY:RANK, or GAP=open to leave it; may be "
                "given several times.", show_default=False)] = None,
            formats: Annotated[str, typer.Option(
                "--formats", callback=check_formats, metavar="LIST",
                help="Comma-separated.")] = ",".join(FORMATS),
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
            part: PartOption = None) -> None:
    """Build a whole chorus for two hands and write it: page, score, MIDI, sound, JSON."""
    extras = _Extras(formats.split(","), click, soundfont, audit)
    if edition is not None:
        _only_with_a_tune(context)
        _write_edition(edition, output, extras)
        return
    if tune is None:
        raise typer.BadParameter("give a tune, or an edition with --edition", param_hint="TUNE")
    from fillwright.arranging.user_picks import parse_pick

    options = replace(
        _long(_tuned(_for(level, hand, without), tempo, feel, octave, key),
              choruses, intro, ending),
        picks=tuple(parse_pick(text) for text in pick or ()), same_each_time=same,
        mix=() if mix is None else weights(mix), formats=tuple(formats.split(",")))
    _write_arrangement(tune, output, options, part, extras)


app.command(epilog="Example: fillwright audit score.musicxml --hand small")(audit)


@app.command(epilog="Example: fillwright demo --tune snow -o out/snow")
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
    _write_arrangement(demo_path(tune), output, _for(level, hand), None)
    print_lines(["", "The tunes (fillwright demo --tune NAME):", *names])


@app.command(epilog="Example: fillwright serve --port 9000")
def serve(port: Annotated[int, typer.Option(
              "--port", min=0, max=65535, help="0: any free one.")] = 8808,
          host: Annotated[str, typer.Option(
              "--host", metavar="ADDRESS", help="Where to listen: 0.0.0.0 for other devices in "
              "the house, such as a tablet at the piano. They are asked for a pass phrase.")
          ] = "127.0.0.1",
          name: Annotated[list[str] | None, typer.Option(
              "--name", metavar="NAME", help="What this computer is called as well; may be given "
              "several times.", show_default=False)] = None,
          soundfont: Annotated[Path | None, typer.Option(
              "--soundfont", metavar="PATH", exists=True, dir_okay=False, help="The piano of the "
              "page and of its files: a SoundFont (.sf2). Default: the one that comes along.",
              show_default=False)] = None,
          data: Annotated[Path | None, typer.Option(
              "--data", metavar="DIR", help="Where tunes and choices are kept. Default: the "
              "user's data folder.", show_default=False)] = None) -> None:
    """Open the page: a working place in the browser, on this computer unless --host is given."""
    from fillwright.web.serve import data_folder, serve

    def ready(address: str, phrase: str | None) -> None:
        lines = [f"fillwright is open at {address}"]
        if phrase is not None:
            lines += [f"Pass phrase: {phrase}",
                      "Whoever reaches this address and has the phrase can read and change the "
                      "tunes; what is sent is not encrypted."]
        print("\n".join([*lines, "Stop it with Ctrl-C."]), flush=True)

    try:
        serve(host, port, data or data_folder(), ready, name or (), soundfont)
    except InputError as error:
        fail(error.source, error.message)


app.add_typer(shelf, name="shelf")


_WHAT = {
    "arrangement.pdf": "the pages for the music stand",
    "arrangement.flac": "to listen to",
    "arrangement.mid": "for a digital piano",
    "arrangement.musicxml": "for any notation program",
    "page-1.svg": "the first page as a picture",
    "arrangement.json": "for other programs",
}


@dataclass(frozen=True)
class _Extras:
    """Wishes that change no note: which files, a click, another piano, the table of rules."""

    formats: Sequence[str] = FORMATS
    click: bool = False
    soundfont: Path | None = None
    rules: bool = False


def _write_arrangement(path: Path, folder: Path, options: Options, part: str | None,
                       extras: _Extras = _Extras()) -> None:
    from fillwright.arranging import build

    def made(progress: Callable[[int, int], None]) -> Arrangement:
        return build.arrange(_read(path, part), options, progress=progress)

    _write(path, folder, made, extras)


_WITH_AN_EDITION = frozenset({"edition", "output", "formats", "click", "soundfont", "audit"})


def _only_with_a_tune(context: typer.Context) -> None:
    """Refuse what an edition has decided already."""
    for name in context.params:
        source = context.get_parameter_source(name)
        if name not in _WITH_AN_EDITION and source is not None and source.name == "COMMANDLINE":
            said = "TUNE" if name == "tune" else f"--{name}"
            raise typer.BadParameter("the edition has decided this already", param_hint=said)


def _write_edition(path: Path, folder: Path, extras: _Extras) -> None:
    from fillwright.edition.file import open_edition

    def made(progress: Callable[[int, int], None]) -> Arrangement:
        return open_edition(path).arrange(progress)

    _write(path, folder, made, extras)


def _write(path: Path, folder: Path,
           made: Callable[[Callable[[int, int], None]], Arrangement], extras: _Extras) -> None:
    """Make an arrangement, write its files, and say what is in it."""
    from fillwright.arranging.audit import audit_arrangement
    from fillwright.output import check_folder, render, write_folder
    from fillwright.progress import Progress

    if folder.exists() and not folder.is_dir():
        raise typer.BadParameter(f"{folder} is a file", param_hint="--output")
    try:
        check_folder(folder)  # before minutes of computing, not after
    except OSError as error:
        fail(path.name, f"cannot write into {folder}: {error.strerror}")
    with one_clear_sentence(path), Progress(sys.stderr) as progress:
        arrangement = made(progress.update)
        files = render(arrangement, extras.formats, progress.stage, extras.soundfont,
                       extras.click)
        found = audit_arrangement(arrangement)
    try:
        written = write_folder(files, folder)
    except OSError as error:
        fail(path.name, f"cannot write into {folder}: {error.strerror}")
    warn(path, arrangement.warnings)
    print_lines([*_summary(arrangement, written), *audit_lines(found, arrangement.chorus.bars),
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


# --- the door -------------------------------------------------------------------------------


def main(arguments: Sequence[str] | None = None) -> None:
    """The console script; `arguments` default to those of the process. Raises SystemExit."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")
    if not sys.warnoptions:
        # Remarks of the libraries are for their developers, not for those who read stderr.
        python_warnings.simplefilter("ignore")
    try:
        try:
            app(args=arguments, prog_name="fillwright")
        finally:
            sys.stdout.flush()
    except OSError as error:  # a full disk, or a reader that has gone
        with suppress(OSError, ValueError):  # what could not be written is not tried again
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        print(f"fillwright: the output cannot be written: {error.strerror}", file=sys.stderr)
        raise SystemExit(1) from None


if __name__ == "__main__":
    main()
