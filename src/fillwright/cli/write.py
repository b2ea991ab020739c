"""The command `write`: notes of one's own for a gap, typed as text, and what the rules say."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from fillwright.cli.asked import for_player, prepared, tuned
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
from fillwright.errors import InputError

__all__ = ["write"]


def write(tune: TuneArgument,
          notes: Annotated[str, typer.Argument(
              metavar="NOTES", show_default=False, help="Counts with keys, each hand: "
              "'R: 2& D5, 3 F5 A5, 4 - | 1 G5 ; L: 2& C3 Bb3'. A bar line goes to the next bar, - "
              "lets go, =1/2 behind keys is a length in quarters.")],
          gap: GapOption, level: LevelOption = Level.INTERMEDIATE,
          hand: HandOption = HandSize.MEDIUM, tempo: TempoOption = None,
          feel: FeelOption = None, octave: OctaveOption = Octave.AUTO, key: KeyOption = None,
          part: PartOption = None, json: JsonOption = False) -> None:
    """Type a fill of your own: it is fingered and counted, and the rules say what they find."""
    options = tuned(for_player(level, hand), tempo, feel, octave, key)
    with one_clear_sentence(tune):
        from fillwright.edition import findings_of, own_fill, typed_pick

        sheet = prepared(tune, part, options)
        if gap > len(sheet.gaps):
            raise InputError(f"there is no gap {gap}; the tune has {len(sheet.gaps)}")
        place = sheet.gaps[gap - 1]
        pick = typed_pick(notes, sheet.chorus, place)
        fill = own_fill(pick, sheet.chorus, place, options)
        found = findings_of(fill, sheet.chorus, place, hand.value)
    warn(tune, sheet.chorus.warnings)
    if json:
        from fillwright.contract import dump, fill_value

        sys.stdout.write(dump({"fill": fill_value(fill, place), "pick": pick.value(),
                               "findings": found}))
        return
    from fillwright.tables import fill_lines

    says = [f"bar {one['bar']}, beat {one['beat']}: {one['message']}" for one in found]
    print_lines([*fill_lines(fill, 1, place, sheet.chorus, hand.value),
                 *(says or ["The rules find nothing to say."])])
