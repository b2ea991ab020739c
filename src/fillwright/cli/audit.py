"""The command `audit`, and what `arrange` says of the rules it has kept."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fillwright.cli.shared import (
    HandOption,
    HandSize,
    JsonOption,
    one_clear_sentence,
    print_lines,
    warn,
)
from fillwright.exact import Fraction

if TYPE_CHECKING:
    from fillwright.rules import Audit
    from fillwright.tune.model import ChorusBar

__all__ = ["audit", "audit_lines", "audit_table", "place_words"]


def audit(score: Annotated[Path, typer.Argument(
              metavar="SCORE", help="An arrangement for two hands: .musicxml, .xml or .mxl, from "
              "any notation program.", show_default=False)],
          hand: HandOption = HandSize.MEDIUM,
          tempo: Annotated[float | None, typer.Option(
              "--tempo", min=20, max=400, metavar="BPM", help="Felt beats a minute. Default: as "
              "marked.", show_default=False)] = None,
          json: JsonOption = False) -> None:
    """Check whether two hands can play a score, and say what to do where they cannot."""
    from fillwright.arranging.audit import audit_read
    from fillwright.score.readback import read_arrangement

    asked = None if tempo is None else Fraction(str(tempo))
    with one_clear_sentence(score):
        read = read_arrangement(score)
        found = audit_read(read, hand.value, asked)
    warn(score, read.warnings)
    if json:
        from fillwright.contract import audit_document, dump

        sys.stdout.write(dump(audit_document(read, found, hand.value, asked)))
        return
    bpm = asked or read.tempo_bpm
    bars = sum(not bar.is_pickup for bar in read.bars)
    print_lines([f"{read.title}: {bars} {'bar' if bars == 1 else 'bars'}, {len(read.notes)} notes, "
                 f"{float(bpm):g} beats a minute, {hand.value} hands", "",
                 *audit_table(found), "", *audit_lines(found, read.bars)])


def place_words(bars: Sequence[ChorusBar]) -> Callable[[Fraction], str]:
    """Words for places in a row of bars: "bar 3, beat 2½", "bar 3 (time 2), beat 1"."""
    from fillwright.arranging.from_paper import bar_and_beat
    from fillwright.tables import count_of

    def words(onset_quarter: Fraction) -> str:
        bar, beat = bar_and_beat(bars, onset_quarter)
        times = "" if bar.pass_number == 1 else f" (time {bar.pass_number})"
        return f"bar {bar.number}{times}, beat {count_of(beat)}"

    return words


def audit_table(found: Audit) -> list[str]:
    """The rules that were checked, how often, and how often they are broken."""
    from fillwright.rules import AUDITED
    from fillwright.tables import table

    asks = {rule.name: rule.asks for rule in AUDITED}
    return table(["rule", "checked", "broken", "what it asks"],
                 [[rule, str(count), str(len(found.of(rule))), asks[rule]]
                  for rule, count in found.checked], right=[1, 2])


def audit_lines(found: Audit, bars: Sequence[ChorusBar]) -> list[str]:
    """One line on the whole, then each finding, explained."""
    from fillwright.arranging.audit import explain
    from fillwright.tables import WIDTH

    checked = sum(count for _, count in found.checked)
    broken = len(found.findings)
    lines = [f"audit: {len(found.checked)} rules, {checked} places checked, "
             + ("none violated" if not broken else
                f"{broken} {'finding' if broken == 1 else 'findings'}")]
    for sentence in explain(found, place_words(bars)):
        lines += textwrap.wrap(sentence, WIDTH, initial_indent="  ", subsequent_indent="    ")
    return lines
