"""Chord symbols that are corrected at all the places where they stand."""

from __future__ import annotations

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.tune.model import Tune

__all__ = ["equal_places"]


def equal_places(tune: Tune, bar: int, onset_quarter: Fraction) -> tuple[tuple[int, Fraction], ...]:
    """Every place of a sheet (printed bar from 0, place in it) with the symbol that stands at
    this one, which is among them. Raises InputError where none stands there."""
    written = [(index, chord.onset_quarter, str(chord.symbol))
               for index, one in enumerate(tune.bars) for chord in one.chords]
    here = [text for index, onset, text in written if (index, onset) == (bar, onset_quarter)]
    if not here:
        raise InputError("no chord symbol stands there")
    return tuple((index, onset) for index, onset, text in written if text == here[0])
