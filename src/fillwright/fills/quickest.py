"""The fastest tempo at which a level plays what a fill's hands do, as the level's own rules have
it: `hands.difficulty` knows what fingers can, not what is played."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.player import Level
from fillwright.fills.tempo import BALLAD_BELOW, sixteenths_to
from fillwright.hands.difficulty import highest_tempo
from fillwright.hands.model import HandNote
from fillwright.tune.model import Meter

__all__ = ["divided_to", "quickest_tempo"]

_IN_FOUR = 4


def quickest_tempo(notes: Sequence[HandNote], size: str, level: Level, meter: Meter,
             offset_quarter: Fraction = Fraction(0)) -> int | None:
    """Felt beats a minute up to which a fill's notes are the level's, by their difficulty and by
    how they divide the beat; None where they are too hard at any tempo."""
    limit = highest_tempo(notes, size, level.difficulty[1], meter.beat_quarter, offset_quarter)
    most = divided_to(notes, level, meter)
    return limit if most is None or limit is None else min(limit, most)


def divided_to(notes: Sequence[HandNote], level: Level, meter: Meter) -> int | None:
    """Felt beats a minute up to which a level's lines divide the beat as a hand does here; None
    where it is not divided in four."""
    if meter.is_compound or not any(
            Fraction(0) < b - a <= meter.beat_quarter / _IN_FOUR
            for hand in ("right", "left")
            for a, b in pairwise(sorted({n.onset_quarter for n in notes if n.hand == hand}))):
        return None
    return sixteenths_to(meter) if _IN_FOUR in level.line.divisions else BALLAD_BELOW - 1
