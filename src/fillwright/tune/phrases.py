"""Phrases of a form whose sheet has no rehearsal marks.

It is cut into phrases of eight bars, of four where it is short, as a blues is (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.tune.model import ChorusBar

__all__ = ["phrase_starts"]

_SHORT_FORM_BARS = 16
_PHRASE_BARS, _SHORT_PHRASE_BARS = 8, 4


def phrase_starts(bars: Sequence[ChorusBar]) -> list[tuple[int, int]]:
    """Where phrases begin among these bars, and the number of each since the form began, from
    0: they are counted anew wherever the form goes back."""
    printed = len({bar.bar_index for bar in bars})
    length = _SHORT_PHRASE_BARS if printed <= _SHORT_FORM_BARS else _PHRASE_BARS
    found: list[tuple[int, int]] = []
    count, before = 0, -1
    for place, bar in enumerate(bars):
        if bar.bar_index <= before:
            count = 0
        if count % length == 0:
            found.append((place, count // length))
        count, before = count + 1, bar.bar_index
    return found
