"""Labels of gaps, fitted to the laid-out page.

The engraver sets only the circled number of a gap, so that long names of devices do not
stretch the bars. Here the name is broken into lines that fit between its box and the next
one, or the end of the line of music.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from lxml import etree

__all__ = ["COUNT_ID", "FINGER_ID", "FONT_SHARE", "GAP_EM", "LABEL_ID", "LINE_SHARE", "TEMPO_ID",
           "Box", "boxes_of", "centre_counts", "clear_signs", "text_width", "wrap",
           "write_words"]

Element = etree._Element
_SVG = "{http://www.w3.org/2000/svg}"

LABEL_ID = "gap"
COUNT_ID = "count"
TEMPO_ID = "tempo"
FINGER_ID = "fing"
"""Fingers have an id of this, A or B (above, below), the staff and a number."""
FONT_SHARE = 0.8
"""Size of a label against other text."""
LINE_SHARE = 1.05
"""Distance of two lines of a label, against its size."""
GAP_EM = 0.6
"""Air between a box and the name beside it."""
_MOST_LINES, _LEAST_EM = 2, 10
"""Of a label, and how wide one at the end of a line of music may be: it moves left as a whole."""
_SIGN_SHARE, _SIGN_STROKE = 1.27, 0.01
"""Size of a flat or sharp against the one the engraver gives it, and how much thicker it is drawn,
against its size: a third taller than a capital, its stem as heavy as that of a letter."""
_SIGNS = {"♭": "\uea64", "♮": "\uea65", "♯": "\uea66"}
"""In the music font, as the engraver has them; those of a text font are thin and small."""
_SIGN_SIZE = 1.78
"""Size the engraver gives a sign, against that of the letters."""
_FLAT = _SIGNS["♭"]
"""It stands on the line of the letters; a sharp or a natural has its middle at theirs."""
_SIGN_AIR = 0.06
"""On both sides of a sign, against the size of the letters: the stem of a flat would stand on the
serif of an E."""
_SIGN_TALL, _CAPITAL_TALL = 0.43, 0.655
"""Heights of a sharp and of a capital, against the size of their fonts (Leipzig, Liberation
Serif)."""
_HEAD_UNITS = 11.8
"""Width of half a note head, in SVG lengths for each unit of the page style."""


@dataclass(frozen=True, slots=True)
class Box:
    """A circled number on a page: its place in the SVG's own lengths (tenths of a unit).

    room   from the end of the circle to the next one, or to the end of the line of music
    """

    key: str
    left: float
    right: float
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


def boxes_of(groups: Sequence[Element], right_edge: float, size: float) -> list[Box]:
    """The circled numbers of one line of music, from left to right."""
    found: list[tuple[str, float, float]] = []
    for group in groups:
        ring = group.find(f"{_SVG}ellipse")
        if ring is not None:
            middle, half = float(ring.get("cx", 0)), float(ring.get("rx", 0))
            found.append((group.get("id", ""), middle - half, middle + half))
    found.sort(key=lambda box: box[1])
    limits = [*(left - GAP_EM * size for _, left, _ in found[1:]), right_edge]
    return [Box(key, left, right, limit - right - GAP_EM * size)
            for (key, left, right), limit in zip(found, limits, strict=False)]


def wrap(text: str, room: float, size: float, force: bool = False) -> list[str] | None:
    """Lines that fit, all of one size; None where two are not enough: with `force` they are broken
    all the same."""
    if not text:
        return []
    lines = _greedy(text.split(), max(room, _LEAST_EM * size) if force else room, size)
    fits = len(lines) <= _MOST_LINES and all(text_width(line, size) <= room for line in lines)
    return lines if fits or force else None


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


def clear_signs(page: Element) -> None:
    """Flats and sharps of chord symbols upright, as tall and as heavy as is read from afar; slanted
    among italics a flat reads as a stroke. A sharp is set around the middle of the letters."""
    for group in page.iter(f"{_SVG}g"):
        if group.get("class") != "harm":
            continue
        _close_up(group)
        _set_signs(group)


def write_words(text: Element, words: str, size: float) -> None:
    """Words with their flats and sharps as chord symbols have them."""
    if not any(sign in words for sign in _SIGNS):
        text.text = words
        return
    for part in re.split(f"([{''.join(_SIGNS)}])", words):
        sign = _SIGNS.get(part)
        if part:
            etree.SubElement(text, f"{_SVG}tspan", {
                "font-size": f"{size * (_SIGN_SIZE if sign else 1):.0f}px",
                **({"font-family": "Leipzig"} if sign else {})}).text = sign or part
    _set_signs(text)


def _set_signs(group: Element) -> None:
    letters, low, was_sign = 0.0, 0.0, False
    for part in group.iter(f"{_SVG}tspan"):
        if not (part.text or "").strip():
            continue
        wanted, is_sign = 0.0, part.get("font-family") == "Leipzig"
        if is_sign:
            size = _size(part) * _SIGN_SHARE
            part.set("font-size", f"{size:.0f}px")
            part.set("font-style", "normal")
            part.set("stroke", "currentColor")
            part.set("stroke-width", f"{size * _SIGN_STROKE:.0f}")
            if part.text != _FLAT:
                wanted = (_SIGN_TALL * size - _CAPITAL_TALL * letters) / 2
        else:
            letters = _size(part)
        if is_sign or was_sign:
            part.set("dx", f"{_SIGN_AIR * letters:.0f}")
        if round(wanted - low):
            part.set("dy", f"{wanted - low:.0f}")
            low += round(wanted - low)
        was_sign = is_sign


def _close_up(group: Element) -> None:
    """No line breaks between the parts of its words: who sets a page may count them as
    characters, and move another than is meant."""
    for text in group.iter(f"{_SVG}text"):
        for part in text.iter():
            if "\n" in (part.text or "") and not (part.text or "").strip():
                part.text = None
            if part is not text and "\n" in (part.tail or "") and not (part.tail or "").strip():
                part.tail = None


def _size(part: Element) -> float:
    return float(part.get("font-size", "0").removesuffix("px"))
