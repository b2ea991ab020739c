"""Ties that come from the line of music before, long enough to be seen.

The engraver begins them all at one place behind the clef and key; to the left one of two heads
that stand a second apart there is hardly any way from there.
"""

from __future__ import annotations

from collections.abc import Iterator

from lxml import etree

from fillwright.score.ink import MM, Drawn, drawn_on
from fillwright.score.moving import stretch

__all__ = ["lengthen_ties"]

_LEAST = 2 * MM
_AIR = 0.35 * MM
_FRONT = frozenset({"clef", "keyAccid", "meterSig"})
_NOTES = frozenset({"head", "accid"})


def lengthen_ties(system: etree._Element) -> None:
    """Let short ties at the beginning of a line begin earlier, as far as the signs there allow."""
    things = list(drawn_on(system))
    first = min((thing.box.left for thing in things if thing.kind in _NOTES), default=0.0)
    limit = max((thing.box.right for thing in things
                 if thing.kind in _FRONT and thing.box.right < first), default=first) + _AIR
    for tie in _from_before(things, first):
        box = tie.box
        left = max(limit, box.right - _LEAST)
        if left < box.left:
            stretch(tie.group, left, box.left, box.right)


def _from_before(things: list[Drawn], first: float) -> Iterator[Drawn]:
    """Ties that begin before the first note."""
    return (thing for thing in things if thing.kind == "tie" and thing.box.left < first)
