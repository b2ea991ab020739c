"""Counts to say aloud: ``1 & (2) 3 4 &``.

Every felt beat of the gap is named, in brackets where nothing is struck on it; places
between the beats are named only where something is struck (common practice: "&" for the
half of a beat, "e & a" for its quarters, "trip let" for its thirds; in compound meters
the eighths are numbered through the bar).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

from fillwright.exact import Fraction
from fillwright.tune.model import Meter

__all__ = ["SMALLEST", "count_marks", "counts_text"]

SMALLEST = Fraction(1, 96)
"""Less than any part of a beat that is counted, in quarters: a stretch that ends so much after a
place has that place in it."""

_SIMPLE = {Fraction(1, 4): "e", Fraction(1, 2): "&", Fraction(3, 4): "a",
           Fraction(1, 3): "trip", Fraction(2, 3): "let", Fraction(1, 6): "ta",
           Fraction(5, 6): "ta"}


# A place nobody finds without the one before it: "(trip) let", "(&) a".
_BEFORE = {Fraction(2, 3): Fraction(1, 3), Fraction(3, 4): Fraction(1, 2)}


class _Bar(Protocol):
    """A bar of a chorus or of the grid of a gap."""

    @property
    def onset_quarter(self) -> Fraction: ...
    @property
    def length_quarter(self) -> Fraction: ...
    @property
    def end_quarter(self) -> Fraction: ...
    @property
    def meter(self) -> Meter: ...
    @property
    def is_pickup(self) -> bool: ...


def count_marks(bars: Iterable[_Bar], onset_quarter: Fraction, end_quarter: Fraction,
                struck: Iterable[Fraction]) -> tuple[tuple[Fraction, str], ...]:
    """(place, word) pairs over a stretch of some bars, in order.

    A word in brackets is said silently: nothing is struck there.
    """
    hits = sorted({onset for onset in struck if onset_quarter <= onset < end_quarter})
    marks: dict[Fraction, str] = {}
    for bar in bars:
        if bar.onset_quarter < end_quarter and bar.end_quarter > onset_quarter:
            marks |= _bar_marks(bar, onset_quarter, end_quarter, hits)
    return tuple(sorted(marks.items()))


def _bar_marks(bar: _Bar, onset_quarter: Fraction, end_quarter: Fraction,
               hits: Sequence[Fraction]) -> dict[Fraction, str]:
    """The words of one bar by their places."""
    marks: dict[Fraction, str] = {}
    compound = bar.meter.is_compound
    place = bar.onset_quarter
    if bar.is_pickup:  # counted from the end of the bar it stands for
        place -= max(bar.meter.length_quarter - bar.length_quarter, Fraction(0))
    unit = Fraction(1, 2) if compound else bar.meter.beat_quarter
    number = 1
    while place < bar.end_quarter:
        if onset_quarter <= place < end_quarter:
            marks[place] = str(number) if place in hits else f"({number})"
        for hit in hits:
            if not place < hit < min(place + unit, bar.end_quarter):
                continue
            offset = (hit - place) / unit
            marks[hit] = "&" if compound else _SIMPLE.get(offset, "&")
            silent = None if compound else _BEFORE.get(offset)
            if silent is not None and place + silent * unit >= onset_quarter:
                marks.setdefault(place + silent * unit, f"({_SIMPLE[silent]})")
        place += unit
        number += 1
    return marks


def counts_text(marks: Iterable[tuple[Fraction, str]]) -> str:
    """The words in a row, as printed and in the JSON."""
    return " ".join(word for _, word in marks)
