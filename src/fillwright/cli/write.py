"""The command `write`: notes of one's own for a gap, typed as text, and what the rules say."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from fillwright.cli.asked import for_player, tuned
from fillwright.cli.options import (
    FeelOption,
    GapOption,
    KeyOption,
    Level,
    LevelOption,
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

__all__ = ["write"]


def write(tune: TuneArgument,
          notes: Annotated[str, typer.Argument(
              metavar="NOTES", show_default=False, help="Counts with keys, each hand: "
              "'R: 2& D5, 3 F5 A5, 4 - | 1 G5 ; L: 2& C3 Bb3'. A bar line goes to the next bar, - "
              "lets go, =1/2 behind keys is a length in quarters.")],
          gap: GapOption, level: LevelOption = Level.INTERMEDIATE,
          hand: HandOption = HandSize.MEDIUM, tempo: TempoOption = None,
          feel: FeelOption = None, octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
          part: PartOption = None,
          why_not: Annotated[bool, typer.Option(
              "--why-not", help="Say also what it costs against the program's first offer, and the "
              "smallest change that mends what the rules find.")] = False,
          json: JsonOption = False) -> None:
    """Type a fill of your own: it is fingered and counted, and the rules say what they find."""
    options = tuned(for_player(level, hand), tempo, feel, octave, key)
    with one_clear_sentence(tune):
        from fillwright.edition import desk_with, findings_of, own_fill, typed_pick
        from fillwright.edition import why_not as asked_why

        desk = desk_with(tune, part, options)
        chorus, place = desk.chorus, desk.gap(gap)
        pick = typed_pick(notes, chorus, place)
        fill = own_fill(pick, chorus, place, options)
        found = findings_of(fill, chorus, place, hand.value)
        answer = asked_why(desk, gap, pick) if why_not else None
    warn(tune, chorus.warnings)
    if json:
        from fillwright.contract import dump, fill_value

        value = {"fill": fill_value(fill, place), "pick": pick.value(), "findings": found}
        sys.stdout.write(dump(value if answer is None else {**value, "why_not": answer.value()}))
        return
    from fillwright.tables import fill_lines

    says = [f"bar {one['bar']}, beat {one['beat']}: {one['message']}" for one in found]
    print_lines([*fill_lines(fill, 1, place, chorus, hand.value),
                 *(says or ["The rules find nothing to say."]),
                 *(() if answer is None else answer.lines())])
