"""Ties long enough to be seen.

The engraver begins those that come from the line of music before all at one place behind the clef
and key, and those of a chord that has a second late; to the left one of the two heads there is
hardly any way from there.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from lxml import etree

from fillwright.score.ink import MM, Drawn, drawn_on

__all__ = ["lengthen_ties"]

_LEAST = 2 * MM
_LATE, _FAR = 0.4 * MM, 4 * MM
"""A tie that begins so much later than it could, but no more, belongs to what stands there."""
_AIR = 0.35 * MM
_FLAT, _DEEP, _OF_WIDTH = 0.45 * MM, 0.9 * MM, 0.3
"""How far a tie bends: a share of its width, within limits."""
_THICK = 0.37 * MM
_INNER, _OUTER = 0.28, 0.22
"""Where its two edges bend, in shares of its width."""
_SVG = "{http://www.w3.org/2000/svg}"
_POINT = re.compile(r"(-?[\d.]+)[\s,]+(-?[\d.]+)")
_FRONT = frozenset({"clef", "keyAccid", "meterSig"})
_NOTES = frozenset({"head", "accid"})
_IN_THE_WAY = frozenset({"head", "accid", "dots", "flag", "stem"})


def lengthen_ties(system: etree._Element) -> None:
    """Let ties begin earlier, as far as the signs before them allow: those from the line before if
    they are short, others where the engraver has them begin late."""
    things = list(drawn_on(system))
    first = min((thing.box.left for thing in things if thing.kind in _NOTES), default=0.0)
    front = max((thing.box.right for thing in things
                 if thing.kind in _FRONT and thing.box.right < first), default=first) + _AIR
    notes = [thing for thing in things if thing.kind in _IN_THE_WAY]
    for tie in (thing for thing in things if thing.kind == "tie"):
        box = tie.box
        if box.left < first:
            left = max(front, box.right - _LEAST)
            late = box.left - left > 0
        else:
            left = _after(notes, tie)
            late = _LATE < box.left - left < _FAR
        if late:
            _draw(tie.group, left)


def _after(notes: Sequence[Drawn], tie: Drawn) -> float:
    """Where what stands before a tie at its height ends."""
    box = tie.box
    return max((area.right + _AIR for thing in notes for area in thing.areas
                if area.right <= box.left
                and area.top < box.bottom and box.top < area.bottom), default=box.left)


def _draw(tie: etree._Element, left: float) -> None:
    """A tie anew from a place to where it ends, to the side to which it bends."""
    for path in tie.iter(f"{_SVG}path"):
        points = [(float(x), float(y)) for x, y in _POINT.findall(path.get("d", ""))]
        (_, y), (_, bent), right = points[0], points[1], points[3][0]
        width = right - left
        deep, side = min(_DEEP, max(_FLAT, _OF_WIDTH * width)), 1 if bent > y else -1
        near, far = (round(y + side * depth) for depth in (deep, deep + _THICK))
        x = [round(left + share * width) for share in (0, _INNER, 1 - _INNER, 1)]
        back = [round(left + share * width) for share in (1 - _OUTER, _OUTER)]
        path.set("d", f"M{x[0]},{y:.0f} C{x[1]},{near} {x[2]},{near} {x[3]},{y:.0f} "
                      f"C{back[0]},{far} {back[1]},{far} {x[0]},{y:.0f}")
