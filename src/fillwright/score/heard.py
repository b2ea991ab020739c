"""The lead sheet with what became of each melody note in a take.

A note is marked by shape and by tone: played, a dot; wrong, a cross; missed, an open diamond
around the head. The marks are groups ``<g class="heard missed" data-note="3">``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from lxml import etree

from fillwright.score.engraver import Engraving, engrave_musicxml
from fillwright.score.lead import lead_sheet
from fillwright.tune.model import Chorus, Gap

__all__ = ["TONES", "heard_sheet"]

Element = etree._Element

_SVG = "{http://www.w3.org/2000/svg}"
_HEAD = re.compile(r"translate\((-?\d+(?:\.\d+)?),\s*(-?\d+(?:\.\d+)?)\)")
_NOTE = re.compile(r"n(\d+)$")

TONES = {"played": "#1e6b3c", "wrong": "#b3261e", "missed": "#9a5b00"}
"""Of the marks on paper; a screen has its own."""

# Lengths in the engraver's own measure: 150 is the distance of two staff lines.
_HALF_HEAD = 90
_OFF = 250              # of a dot or a cross from its head, away from the stem
_DOT, _CROSS, _DIAMOND = 60, 105, 225
_STROKE = 44


def heard_sheet(chorus: Chorus, gaps: Sequence[Gap], status: Mapping[int, str], *,
                engrave: Callable[..., Engraving] = engrave_musicxml) -> Engraving:
    """The pages of the lead sheet, its notes marked.

    status    melody note -> "played", "wrong" or "missed"; what was never reached has none
    engrave   as in `lead_sheet`

    Raises `EngravingError`.
    """
    done = lead_sheet(chorus, gaps, engrave=engrave)
    pages = []
    for text in done.pages:
        page = etree.fromstring(text.encode("utf-8"))
        for system in page.iter(f"{_SVG}g"):
            if system.get("class") == "system":
                _mark(system, status)
        pages.append(str(etree.tostring(page, encoding="unicode")))
    return Engraving(tuple(pages), done.timemap)


def _mark(system: Element, status: Mapping[int, str]) -> None:
    heads: dict[int, tuple[float, float]] = {}
    for group in system.iter(f"{_SVG}g"):
        name = _NOTE.search(group.get("id", ""))
        if (group.get("class") or "").split(" ")[0] == "note" and name is not None:
            place = _head(group)
            if place is not None:
                heads[int(name[1])] = place
    middle = _middle(system)
    for number, (x, y) in sorted(heads.items()):
        kind = status.get(number)
        if kind is None:
            continue
        mark = etree.SubElement(system, f"{_SVG}g", {"class": f"heard {kind}"})
        away = y - _OFF if y < middle else y + _OFF
        etree.SubElement(mark, f"{_SVG}path", _shape(kind, x + _HALF_HEAD, y, away))


def _shape(kind: str, x: float, y: float, away: float) -> dict[str, str]:
    tone = TONES[kind]
    if kind == "played":
        r = _DOT
        return {"d": f"M{x - r:.0f} {away:.0f}a{r} {r} 0 1 0 {2 * r} 0a{r} {r} 0 1 0 {-2 * r} 0z",
                "fill": tone, "stroke": "none"}
    line = {"fill": "none", "stroke": tone, "stroke-width": str(_STROKE)}
    if kind == "wrong":
        r = _CROSS
        return {"d": f"M{x - r:.0f} {away - r:.0f}l{2 * r} {2 * r}m0 {-2 * r}l{-2 * r} {2 * r}",
                **line}
    r = _DIAMOND
    return {"d": f"M{x - r:.0f} {y:.0f}l{r} {-r}l{r} {r}l{-r} {r}z", **line}


def _head(group: Element) -> tuple[float, float] | None:
    for use in group.iter(f"{_SVG}use"):
        parent = use.getparent()
        found = _HEAD.match(use.get("transform", ""))
        if parent is not None and parent.get("class") == "notehead" and found is not None:
            return float(found[1]), float(found[2])
    return None


def _middle(system: Element) -> float:
    """Of the staff: heads above it have their stems down."""
    heights = [float(found[1]) for path in system.iter(f"{_SVG}path")
               if (found := re.match(r"M-?\d+ (-?\d+) L-?\d+ \1$", path.get("d", "")))]
    return (min(heights) + max(heights)) / 2 if heights else 0.0
