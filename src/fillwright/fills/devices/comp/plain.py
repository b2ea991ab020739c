"""Songs of plain triads: their chords take the sixth and the ninth for colour, no more.

A sharp eleven, an altered dominant or a stack of fourths is another style than a song whose
sheet says F, B flat, C (common practice).
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from fillwright.fills.situation import GapContext
from fillwright.theory.harmony import Harmony
from fillwright.tune.model import Chorus

__all__ = ["PLAIN_SHARE", "is_plain_song", "plain_context"]

PLAIN_SHARE = 50
"""Percent of a song's chords that are triads or sixths from which on it is plain (design
choice)."""

_TRIAD = frozenset(("1", "b3", "3", "5", "6"))
_COLOURS = ("9", "13")  # the thirteenth of a seventh chord is its sixth


def is_plain_song(chorus: Chorus) -> bool:
    """Are most of the chords plain triads or sixths?"""
    rows = [span.symbol.degrees for span in chorus.chords if span.symbol.is_chord]
    plain = sum(_TRIAD.issuperset(degrees) for degrees in rows)
    return 100 * plain > PLAIN_SHARE * len(rows)


@lru_cache(maxsize=1024)
def _plain(harmony: Harmony) -> Harmony:
    named = harmony.symbol.degrees
    return replace(harmony, tensions=tuple(d for d in harmony.tensions
                                           if d in _COLOURS or d in named))


def plain_context(context: GapContext) -> GapContext:
    """The gap with the harmonies of a plain song."""
    landing = context.gap.landing_harmony
    before = context.previous_harmony
    return replace(
        context,
        gap=replace(context.gap, landing_harmony=None if landing is None else _plain(landing)),
        spans=tuple(replace(span, harmony=_plain(span.harmony)) for span in context.spans),
        previous_harmony=None if before is None else _plain(before))
