"""Accidentals of two voices that stand side by side, far enough apart to be told apart.

The engraver interlocks those of one chord, but of two voices it may leave one a hair from the
other.
"""

from __future__ import annotations

import math

from lxml import etree

from fillwright.score.ink import MM, Drawn, drawn_on
from fillwright.score.moving import shift

__all__ = ["part_signs"]

_AIR = 0.3 * MM
_FURTHEST = 3 * _AIR
"""A sign that would have to go further away from its note is left where it is."""


def part_signs(system: etree._Element) -> None:
    """Move the left one of two accidentals that nearly touch a little to the left."""
    signs = sorted((thing for thing in drawn_on(system) if thing.kind == "accid"),
                   key=lambda thing: -thing.box.left)
    gone = dict.fromkeys(map(id, signs), 0.0)
    for place, sign in enumerate(signs):
        lack = 0.0
        for other in signs[:place]:
            if other.group is not sign.group:
                lack = max(lack, _lack(sign, other, gone[id(other)]))
        if 0 < lack <= _FURTHEST:
            lack = math.ceil(lack)
            shift(sign.group, -lack, 0)
            gone[id(sign)] = lack


def _lack(sign: Drawn, other: Drawn, gone: float) -> float:
    """How far a sign has to go to the left for air before another, which has `gone` so far."""
    return max((a.right - (b.left - gone) + _AIR for a in sign.areas for b in other.areas
                if a.top - _AIR < b.bottom and b.top < a.bottom + _AIR
                and b.left - gone < a.right + _AIR and a.left < b.right), default=0.0)
