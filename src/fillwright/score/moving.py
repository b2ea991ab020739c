"""Moving what is drawn on a page: its numbers are rewritten, so that nothing needs a transform."""

from __future__ import annotations

import re

from lxml import etree

__all__ = ["cut", "flatten", "shift"]

Element = etree._Element
_SVG = "{http://www.w3.org/2000/svg}"
_PLACE = re.compile(r"translate\(\s*(-?[\d.]+)[,\s]+(-?[\d.]+)\s*\)")
_TURN = re.compile(r"(rotate\(\s*-?[\d.]+)[,\s]+(-?[\d.]+)[,\s]+(-?[\d.]+)\s*\)")
_PAIR = re.compile(r"(-?[\d.]+)([\s,]+)(-?[\d.]+)")
_ACROSS, _DOWN = ("x", "cx"), ("y", "cy")


def shift(group: Element, right: float, down: float) -> None:
    """Move a group with all it holds by whole lengths of the page.

    Paths are of absolute moves, lines and curves, as the engraver writes them.
    """
    right, down = round(right), round(down)
    if not right and not down:
        return
    for element in group.iter():
        for name in _ACROSS:
            if element.get(name) is not None:
                element.set(name, _number(float(element.get(name, "0")) + right))
        for name in _DOWN:
            if element.get(name) is not None:
                element.set(name, _number(float(element.get(name, "0")) + down))
        for name in ("d", "points"):
            if element.get(name):
                element.set(name, _PAIR.sub(
                    lambda pair: f"{_number(float(pair[1]) + right)}{pair[2]}"
                                 f"{_number(float(pair[3]) + down)}", element.get(name, "")))
        how = element.get("transform")
        if how:
            how = _PLACE.sub(lambda place: f"translate({_number(float(place[1]) + right)}, "
                                           f"{_number(float(place[2]) + down)})", how)
            element.set("transform", _TURN.sub(
                lambda turn: f"{turn[1]} {_number(float(turn[2]) + right)},"
                             f"{_number(float(turn[3]) + down)})", how))


def flatten(group: Element, share: float) -> bool:
    """Make a hairpin less open, about its middle; whether there is one."""
    found = False
    for line in group.iter(f"{_SVG}polyline"):
        points = [(float(pair[1]), float(pair[3]))
                  for pair in _PAIR.finditer(line.get("points", ""))]
        middle = sum(y for _, y in points) / len(points)
        line.set("points", " ".join(f"{_number(x)},{_number(round(middle + share * (y - middle)))}"
                                    for x, y in points))
        found = True
    return found


def cut(hairpin: Element, left: float, right: float) -> None:
    """Leave of a hairpin what lies between two places; where its point is cut off, it comes to a
    point again."""
    for line in hairpin.iter(f"{_SVG}polyline"):
        points = [(float(pair[1]), float(pair[3]))
                  for pair in _PAIR.finditer(line.get("points", ""))]
        new = [(min(right, max(left, x)), y) for x, y in points]
        (x1, y1), (x2, y2) = points[0], points[1]
        if len(points) == 3:            # open, the point, open
            share = abs(new[0][0] - x2) / abs(x1 - x2)
            new = [(x, y2 + share * (y - y2)) for x, y in new]
        elif x1 != x2:                  # what goes on from the line of music before, or to the next
            new = [(x, y1 + (y2 - y1) * (x - x1) / (x2 - x1)) for x, _ in new]
        line.set("points", " ".join(f"{_number(x)},{_number(round(y))}" for x, y in new))


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
