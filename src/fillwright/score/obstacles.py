"""What is drawn on a laid-out page, as rough boxes, so that words can keep clear of it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from lxml import etree

__all__ = ["Area", "areas_of", "first_free_fall", "first_free_rise"]

Element = etree._Element
_SVG = "{http://www.w3.org/2000/svg}"
_EM_WIDTH = 0.5
"""Average width of a character, in its size: enough to know what is near."""
_MUSIC_EM = 1000
"""Glyphs of the music font are drawn at a thousandth; a staff space is a quarter of that."""


@dataclass(frozen=True, slots=True)
class Area:
    """A rectangle in the page's own lengths; y grows downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Area) -> bool:
        return (self.left < other.right and other.left < self.right
                and self.top < other.bottom and other.top < self.bottom)

    def raised(self, by: float) -> Area:
        return Area(self.left, self.top - by, self.right, self.bottom - by)


def areas_of(page: Element) -> Iterator[tuple[Element, Area]]:
    """Elements with their areas: glyphs, stems, beams, octave lines, boxes and words.

    Staff lines and bar lines are left out.
    """
    for element in page.iter(f"{_SVG}use", f"{_SVG}path", f"{_SVG}polygon", f"{_SVG}rect",
                             f"{_SVG}text"):
        numbers = [float(n) for n in re.findall(r"-?[\d.]+", _numbers_in(element))]
        if element.tag == f"{_SVG}use" and len(numbers) >= 3:
            space = _MUSIC_EM / 4 * numbers[2]
            yield element, Area(numbers[0], numbers[1] - space, numbers[0] + 1.2 * space,
                                numbers[1] + space)
        elif element.tag == f"{_SVG}text":
            area = _text_area(element)
            if area is not None:
                yield element, area
        elif element.tag == f"{_SVG}rect" and len(numbers) == 4:
            x, y, width, height = numbers
            yield element, Area(x, y, x + width, y + height)
        elif element.tag == f"{_SVG}polygon" and len(numbers) >= 4:
            yield element, _hull(numbers)
        elif element.tag == f"{_SVG}path" and len(numbers) == 4:
            parent = element.getparent()
            kind = "" if parent is None else parent.get("class")
            if kind == "stem" and numbers[0] == numbers[2]:
                yield element, _hull(numbers)
            elif kind == "octave":
                across, down = numbers[0::2], numbers[1::2]
                yield element, Area(min(across), min(down), max(across), max(down) + 1)


def first_free_rise(area: Area, obstacles: list[Area], pad: float, most: float) -> float:
    """How far an area has to rise to be clear; 0 where that would be more than `most`."""
    rise = 0.0
    while rise <= most:
        met = [other for other in obstacles if area.raised(rise).meets(other)]
        if not met:
            return rise
        rise = max(rise + 1, area.bottom - min(other.top for other in met) + pad)
    return 0.0


def first_free_fall(area: Area, obstacles: list[Area], pad: float, most: float) -> float:
    """The same downwards."""
    turned = [Area(o.left, -o.bottom, o.right, -o.top) for o in obstacles]
    return first_free_rise(Area(area.left, -area.bottom, area.right, -area.top), turned, pad,
                           most)


def _numbers_in(element: Element) -> str:
    if element.tag == f"{_SVG}rect":
        return " ".join(str(element.get(name, "0")) for name in ("x", "y", "width", "height"))
    return (element.get("transform") or element.get("points") or element.get("d") or "")


def _hull(numbers: list[float]) -> Area:
    across, down = numbers[0::2], numbers[1::2]
    return Area(min(across), min(down), max(across), max(down))


def _text_area(text: Element) -> Area | None:
    content, size, middle = "", 0.0, False
    for part in text.iter():
        middle |= part.get("text-anchor") == "middle"
        if part.text and part.text.strip():
            content += part.text.strip()
            own = float((part.get("font-size") or "0").removesuffix("px"))
            size = size if part.get("font-family") else max(size, own)
    if not content or text.get("x") is None:
        return None
    width = _EM_WIDTH * len(content) * size
    left = float(text.get("x", 0)) - (width / 2 if middle else 0)
    y = float(text.get("y", 0))
    return Area(left, y - 0.68 * size, left + width, y + 0.1 * size)
