"""The commands that list: the gaps of a tune, and what could be played in each."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from fillwright.cli.asked import for_player, prepared, tuned, with_form
from fillwright.cli.options import (
    AddedBars,
    Choruses,
    ChorusesOption,
    EndingOption,
    Family,
    FeelOption,
    IntroOption,
    KeyOption,
    Level,
    LevelOption,
    MaybeGapOption,
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
from fillwright.errors import InputError

if TYPE_CHECKING:
    pass

__all__ = ["fills", "gaps"]


def gaps(tune: TuneArgument, tempo: TempoOption = None, feel: FeelOption = None,
         octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
         choruses: ChorusesOption = Choruses.ONE, intro: IntroOption = AddedBars.NONE,
         ending: EndingOption = AddedBars.NONE, part: PartOption = None,
         json: JsonOption = False) -> None:
    """List the places where the melody holds or rests for two beats or more."""
    player = for_player(Level.INTERMEDIATE, HandSize.MEDIUM)
    options = with_form(tuned(player, tempo, feel, octave, key), choruses, intro, ending)
    with one_clear_sentence(tune):
        found = prepared(tune, part, options)
    warn(tune, found.chorus.warnings)
    if json:
        from fillwright.contract import dump, gaps_document

        sys.stdout.write(dump(gaps_document(found.chorus, options, found.gaps,
                                            found.chorus.warnings)))
        return
    from fillwright.tables import chorus_line, gap_table

    print_lines([chorus_line(found.chorus), "", *gap_table(found.gaps)])


def fills(tune: TuneArgument,
          gap: MaybeGapOption = None,
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

    options = with_form(tuned(for_player(level, hand, without), tempo, feel, octave, key),
                    choruses, intro, ending)
    with one_clear_sentence(tune), Progress(sys.stderr) as progress:
        found = prepared(tune, part, options)
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
