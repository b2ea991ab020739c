"""Hand pictures under a line of music: those of the fills that begin in it, in order.

The pictures of a gap stand on one row, below its circled number or as near to it as there is room;
where they are more than a row holds, each row of them has the number.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from lxml import etree

from fillwright.score.handdrawing import (
    PICTURE_ABOVE,
    PICTURE_HEIGHT,
    Picture,
    draw_picture,
    picture_width,
    write,
)
from fillwright.score.ink import around, drawn_on
from fillwright.score.labels import LABEL_ID, write_words
from fillwright.score.moving import shift
from fillwright.score.placing import Extent

__all__ = ["with_hands"]

Element = etree._Element
_SVG = "{http://www.w3.org/2000/svg}"

_SCALE = 6.2
"""From the pictures' own lengths, tenths of a millimetre, to the page's: .62 of their size."""
_AIR = 260
_APART, _GAPS_APART = 50, 90
_NUMBER_SIZE, _DIGIT, _NUMBER_AIR = 38, 19, 25
"""Of the number of a gap, of each of its figures, and before what it belongs to."""
_LETTER = 21
"""Of a chord's name, on the average."""
_MEASURED = ("x", "y", "width", "height", "cx", "cy", "r", "font-size", "stroke-width")


@dataclass(frozen=True, slots=True)
class _Placed:
    """A picture with its left edge and its row; `number` of the gap before its first one."""

    picture: Picture
    left: float
    row: int
    number: str


def with_hands(line: Extent, pictures: Mapping[str, Sequence[Picture]], right_edge: float
               ) -> Extent:
    """A line of music with these pictures below it, by the numbers of the gaps."""
    boxes = {(group.get("id") or "").removeprefix(LABEL_ID): around(ink)
             for group in line.group.iter(f"{_SVG}g")
             if (group.get("id") or "").startswith(LABEL_ID)
             and (ink := [area for thing in drawn_on(group) for area in thing.areas])}
    wanted = sorted((box.left, number) for number, box in boxes.items() if pictures.get(number))
    placed = [*_placed([(left / _SCALE, number, pictures[number]) for left, number in wanted],
                       right_edge / _SCALE)]
    if not placed:
        return line
    for one in placed:
        top = line.bottom + _AIR + _SCALE * (one.row * (PICTURE_HEIGHT + _APART) + PICTURE_ABOVE)
        group = etree.SubElement(line.group, f"{_SVG}g", {"class": "hand-strip"})
        if one.number:
            write(group, 0, 0, one.number, _NUMBER_SIZE, font_weight="bold")
        draw_picture(group, _number_width(one.number), 0, one.picture)
        _enlarge(group)
        _sign(group)
        shift(group, _SCALE * one.left, top)
    rows = placed[-1].row + 1
    return replace(line, bottom=line.bottom + _AIR + _SCALE * (
        rows * PICTURE_HEIGHT + (rows - 1) * _APART))


def _placed(wanted: Iterable[tuple[float, str, Sequence[Picture]]], edge: float
            ) -> Iterator[_Placed]:
    at, row = 0.0, 0
    for left, number, several in wanted:
        for place, part in enumerate(_rows(number, several, edge)):
            widths = [_width(picture) for picture in part]
            whole = _number_width(number) + sum(widths) + _APART * (len(part) - 1)
            if place or at > max(0.0, edge - whole):
                at, row = 0.0, row + 1
            at = max(at, min(left, edge - whole))
            for first, (picture, width) in enumerate(zip(part, widths, strict=True)):
                name = "" if first else number
                yield _Placed(picture, at, row, name)
                at += _number_width(name) + width + _APART
            at += _GAPS_APART - _APART


def _rows(number: str, several: Sequence[Picture], edge: float) -> list[list[Picture]]:
    """The pictures of a gap, as many on a row as fit."""
    rows: list[list[Picture]] = []
    at = edge + 1.0
    for picture in several:
        width = _width(picture)
        if at + width > edge:
            rows.append([])
            at = _number_width(number)
        rows[-1].append(picture)
        at += width + _APART
    return rows


def _width(picture: Picture) -> float:
    return max(picture_width(picture), _LETTER * len(picture["chord"]))


def _number_width(number: str) -> int:
    return _DIGIT * len(number) + _NUMBER_AIR if number else 0


def _enlarge(group: Element) -> None:
    for element in group.iter():
        for name in _MEASURED:
            if element.get(name) is not None:
                element.set(name, f"{_SCALE * float(element.get(name, '0')):.0f}"
                            + ("px" if name == "font-size" else ""))


def _sign(group: Element) -> None:
    """The flats and sharps of chord names as those above the staff."""
    for text in [*group.iter(f"{_SVG}text")]:
        words, text.text = text.text or "", None
        write_words(text, words, float(text.get("font-size", "0").removesuffix("px")))
