"""Labels of gaps, fitted to the laid-out page.

The engraver sets only the boxed number of a gap, so that long names of devices do not
stretch the bars. Here the name is broken into lines that fit between its box and the next
one, or the end of the line of music.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from lxml import etree

from fillwright.score.obstacles import Area, areas_of, first_free_fall, first_free_rise

__all__ = [
    "COUNT_ID",
    "FONT_SHARE",
    "LABEL_ID",
    "TEMPO_ID",
    "Box",
    "boxes_of",
    "centre_counts",
    "tempo_to_the_left",
    "text_width",
    "write_labels",
]

Element = etree._Element
_SVG = "{http://www.w3.org/2000/svg}"

LABEL_ID = "gap"
COUNT_ID = "count"
TEMPO_ID = "tempo"
FONT_SHARE = 0.8
"""Size of a label against other text."""
LINE_SHARE = 1.05
"""Distance of two lines of a label, against its size."""
_GAP_EM = 0.6
_MOST_LINES = 3
_MOST_RISE_EM = 6
_MOST_FALL_EM = 3
_BESIDE_EM = 1.3
_DESCENDER_EM = 0.25
_SPACE_UNITS, _AIR_UNITS = 20, 10
"""A staff space, and half of one, for each unit."""
_HEAD_UNITS = 11.8
"""Width of half a note head, in SVG lengths for each unit of the page style."""


@dataclass(frozen=True, slots=True)
class Box:
    """A boxed number on a page: its place in the SVG's own lengths (tenths of a unit).

    room   from the end of the box to the next one, or to the end of the line of music
    """

    key: str
    page: int
    left: float
    right: float
    baseline: float
    room: float


@lru_cache(maxsize=1)
def _advances() -> dict[str, float]:
    """Widths of the characters of the italic text font, in ems (verovio's own table)."""
    import verovio

    path = Path(verovio.__file__).parent / "data" / "text" / "Times-italic.xml"
    root = etree.parse(str(path)).getroot()
    unit = float(root.get("units-per-em", "2048"))
    return {chr(int(glyph.get("c", "0"), 16)): float(glyph.get("h-a-x", unit / 2)) / unit
            for glyph in root}


def text_width(text: str, size: float) -> float:
    """Width of italic text, in the measure of its size."""
    advances = _advances()
    return sum(advances.get(character, 0.6) for character in text) * size


def boxes_of(pages: list[Element], right_edge: float, size: float) -> list[Box]:
    """All boxed numbers of laid-out pages, in order."""
    found: list[tuple[str, int, float, float, float]] = []
    for number, page in enumerate(pages):
        for group in page.iter(f"{_SVG}g"):
            key = group.get("id", "")
            rect, text = group.find(f"{_SVG}rect"), group.find(f"{_SVG}text")
            if not re.fullmatch(f"{LABEL_ID}\\d+", key) or rect is None or text is None:
                continue
            left, width = float(rect.get("x", 0)), float(rect.get("width", 0))
            found.append((key, number, left, left + width, float(text.get("y", 0))))
    boxes = []
    for index, (key, number, left, right, baseline) in enumerate(found):
        limit = right_edge
        if index + 1 < len(found):
            following = found[index + 1]
            if following[1] == number and following[4] == baseline and following[2] > left:
                limit = following[2] - _GAP_EM * size
        boxes.append(Box(key, number, left, right, baseline, limit - right - _GAP_EM * size))
    return boxes


def write_labels(pages: list[Element], boxes: list[Box], names: Mapping[str, str],
                 size: float) -> None:
    """Set the names beside their boxes. What needs more lines grows upwards, and a label
    that would meet something else rises with its box until it is clear."""
    groups = {group.get("id"): group for page in pages for group in page.iter(f"{_SVG}g")}
    keys = {box.key for box in boxes}
    for number, page in enumerate(pages):
        obstacles: list[Area] | None = None
        for box in boxes:
            lines, scale = _wrap(names.get(box.key, ""), box.room, size)
            if box.page != number or not lines:
                continue
            group = groups[box.key]
            if obstacles is None:
                obstacles = [area for element, area in areas_of(page)
                             if not any(parent.get("id") in keys
                                        for parent in element.iterancestors(f"{_SVG}g"))]
            start, step = box.right + _GAP_EM * size, LINE_SHARE * size
            more = (len(lines) - 1) * step
            last = max(text_width(line, size * scale) for line in lines)
            area = Area(box.left, box.baseline - more - 0.8 * size, start + last,
                        box.baseline + _DESCENDER_EM * size)
            rise = more + first_free_rise(area, obstacles, 0.2 * size, _MOST_RISE_EM * size)
            for part in list(group):
                if part.get("y") is not None:
                    part.set("y", f"{float(part.get('y', 0)) - rise:.0f}")
            for place, line in enumerate(lines):
                text = etree.SubElement(group, f"{_SVG}text", {
                    "x": f"{start:.0f}", "y": f"{box.baseline - rise + place * step:.0f}",
                    "font-size": f"{size * scale:.0f}px", "font-style": "italic"})
                text.text = line
            obstacles.append(area.raised(rise - more))


def _wrap(text: str, room: float, size: float) -> tuple[list[str], float]:
    """Lines that fit, and the scale they need: smaller only where three lines are not
    enough."""
    if not text:
        return [], 1.0
    for scale in (1.0, 0.9, 0.8):
        lines = _greedy(text.split(), room, size * scale)
        if len(lines) <= _MOST_LINES and all(
                text_width(line, size * scale) <= room for line in lines):
            return lines, scale
    return _greedy(text.split(), max(room, 6 * size), size * 0.8), 0.8


def _greedy(words: list[str], room: float, size: float) -> list[str]:
    lines = [words[0]]
    for word in words[1:]:
        longer = f"{lines[-1]} {word}"
        if text_width(longer, size) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def centre_counts(page: Element, unit: float) -> None:
    """Move counts from the left edge of their note heads to the middle."""
    for group in page.iter(f"{_SVG}g"):
        if group.get("id", "").startswith(COUNT_ID):
            for text in group.findall(f"{_SVG}text"):
                text.set("x", f"{float(text.get('x', 0)) + _HEAD_UNITS * unit:.0f}")


def tempo_to_the_left(page: Element) -> None:
    """Set tempo words flush with the left end of their line of music."""
    for system in page.iter(f"{_SVG}g"):
        if system.get("class") != "system":
            continue
        lines = [float(path.get("d", "").split()[0][1:]) for path in system.iter(f"{_SVG}path")
                 if _class_of(path.getparent()) == "staff"]
        for group in system.iter(f"{_SVG}g"):
            if group.get("id", "").startswith(TEMPO_ID) and lines:
                for text in group.findall(f"{_SVG}text"):
                    text.set("x", f"{min(lines):.0f}")


def lower_counts(page: Element, size: float) -> None:
    """Lower a row of counts that stands beside a low note, with the whole row of its line.

    The engraver sees to it that no count stands on a note; one right beside it would be read
    as part of it. `size` is that of a label.
    """
    rows: dict[str, list[Area]] = {}
    texts: dict[str, list[Element]] = {}
    others: list[Area] = []
    for element, area in areas_of(page):
        parent = element.getparent()
        if parent is None or not parent.get("id", "").startswith(COUNT_ID):
            others.append(area)
            continue
        beside = _BESIDE_EM * size
        y = element.get("y", "0")
        texts.setdefault(y, []).append(element)
        rows.setdefault(y, []).append(
            Area(area.left - beside, area.top, area.right + beside, area.bottom))
    for y, row in rows.items():
        fall = max(first_free_fall(area, others, 0.1 * size, _MOST_FALL_EM * size)
                   for area in row)
        for text in texts[y]:
            text.set("y", f"{float(y) + fall:.0f}")


def give_dynamics_air(page: Element, unit: float) -> None:
    """Set dynamic marks and hairpins half a staff space lower, where nothing stands in the way:
    the engraver puts them close below the notes, or on the last line of the staff."""
    fall = _AIR_UNITS * unit
    space = _SPACE_UNITS * unit
    marks = [use for use in page.iter(f"{_SVG}use") if _is_dynamic(use)]
    pins = [line for line in page.iter(f"{_SVG}polyline")
            if _class_of(line.getparent()) == "hairpin"]
    if not marks and not pins:
        return
    others = [area for element, area in areas_of(page) if not _is_dynamic(element)]
    for use in marks:
        x, y, *scale = re.findall(r"-?[\d.]+", use.get("transform", ""))
        area = Area(float(x), float(y), float(x) + 2 * space, float(y) + fall + space)
        if not any(area.meets(other) for other in others):
            use.set("transform", f"translate({x}, {float(y) + fall:.0f}) "
                                 f"scale({', '.join(scale)})")
    for line in pins:
        numbers = [float(n) for n in re.findall(r"-?[\d.]+", line.get("points", ""))]
        across, down = numbers[0::2], numbers[1::2]
        area = Area(min(across), min(down), max(across), max(down) + fall)
        if not any(area.meets(other) for other in others):
            line.set("points", " ".join(f"{x:.0f},{y + fall:.0f}"
                                        for x, y in zip(across, down, strict=True)))


def _class_of(element: Element | None) -> str:
    return "" if element is None else element.get("class") or ""


def _is_dynamic(element: Element) -> bool:
    return _class_of(element.getparent()) == "dynam"
