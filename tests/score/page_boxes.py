"""Rough boxes of the words and note heads of an engraved page."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from lxml import etree

from fillwright.score.labels import text_width

__all__ = ["Box", "heads_of", "words_of"]

_SVG = "{http://www.w3.org/2000/svg}"
# SMuFL: whole, half and black note heads.
_HEADS = {"E0A2": 1.69, "E0A3": 1.18, "E0A4": 1.18}


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in the lengths of the page (y grows downwards), and what it holds."""

    what: str
    left: float
    top: float
    right: float
    bottom: float


def words_of(svg: str) -> list[Box]:
    """All pieces of text on the music, one box for each text element."""
    page = etree.fromstring(svg.encode("utf-8"))
    return list(_words(page))


def _words(page: etree._Element) -> Iterator[Box]:
    for text in page.iter(f"{_SVG}text"):
        group = text.getparent()
        assert group is not None
        kind = group.get("class") or ""
        if kind in ("page-foot", "pgHead") or text.get("x") is None:
            continue
        width, size, content = 0.0, 0.0, ""
        for part in text.iter():
            if not part.text or not part.text.strip():
                continue
            own = float((part.get("font-size") or "0").removesuffix("px"))
            if part.get("font-family") == "Leipzig":
                width += 0.3 * own  # an accidental or the note of the tempo mark
            else:
                width += text_width(part.text.strip(), own)
                size = max(size, own)
            content += part.text.strip()
        if not content:
            continue
        x, y = float(text.get("x", 0)), float(text.get("y", 0))
        anchor = [element.get("text-anchor") for element in text.iter()
                  if element.get("text-anchor")]
        left = x - width / 2 if "middle" in anchor else x
        name = (group.get("id") or "").rstrip("0123456789")
        what = name if name in ("count", "gap") else kind
        yield Box(f"{what} {content}", left, y - 0.68 * size, left + width, y + 0.05 * size)


def heads_of(svg: str) -> list[Box]:
    """All note heads."""
    page = etree.fromstring(svg.encode("utf-8"))
    boxes = []
    for use in page.iter(f"{_SVG}use"):
        glyph = (use.get("href") or "").lstrip("#")[:4]
        place = re.match(r"translate\((-?\d+), (-?\d+)\) scale\(([\d.]+)", use.get("transform", ""))
        if glyph not in _HEADS or place is None:
            continue
        space = 250 * float(place[3])
        x, y = float(place[1]), float(place[2])
        boxes.append(Box("head", x, y - space / 2, x + _HEADS[glyph] * space, y + space / 2))
    return boxes
