"""Hand pictures on paper: pages in SVG for the hand-out, drawn as on the screen.

Lengths are tenths of a millimetre.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lxml import etree

from fillwright.score.handdrawing import Picture, draw_picture, picture_width, write

__all__ = ["HandRow", "hand_pages"]

Element = etree._Element

_SVG = "http://www.w3.org/2000/svg"
_MARGIN, _FOOT = 140, 190
_LEGEND = "Squares: left hand. Circles: right hand. Ring: the melody. Numbers: fingers."
_CAUTION = ("A stretch that hurts is to be rolled or left out; pain is a matter for a teacher or "
            "a doctor.")


@dataclass(frozen=True, slots=True)
class HandRow:
    """One fill: a heading, its counts, and its pictures as of `pictures_of`."""

    heading: str
    counts: str
    pictures: Sequence[Picture]


def hand_pages(title: str, rows: Sequence[HandRow], paper: tuple[int, int] = (2100, 2970)
               ) -> list[str]:
    """As many pages of this width and height as the rows need; [] without rows."""
    width, height = paper
    pages: list[Element] = []
    y = height
    for row in rows:
        lines = _lines(row.pictures, width)
        if y + 110 + 215 * len(lines) > height - _FOOT:
            pages.append(_page(title, width, height))
            y = 330
        page = pages[-1]
        write(page, _MARGIN, y, row.heading, 44, font_weight="bold")
        write(page, _MARGIN, y + 52, f"Count {row.counts}", 40)
        y += 110
        for line in lines:
            x = float(_MARGIN)
            for picture in line:
                x = draw_picture(page, x, y, picture) + 50
            y += 215
        y += 40
    return [str(etree.tostring(page, encoding="unicode")) for page in pages]


def _page(title: str, width: int, height: int) -> Element:
    page = etree.fromstring(f'<svg xmlns="{_SVG}" viewBox="0 0 {width} {height}"/>')
    write(page, width / 2, 170, f"{title}: hands", 64, font_weight="bold", text_anchor="middle")
    write(page, width / 2, 235, _LEGEND, 34, text_anchor="middle")
    write(page, width / 2, height - 90, _CAUTION, 28, text_anchor="middle")
    return page


def _lines(pictures: Sequence[Picture], room: int) -> list[list[Picture]]:
    lines: list[list[Picture]] = [[]]
    x = 0.0
    for picture in pictures:
        width = picture_width(picture)
        if lines[-1] and x + width > room - 2 * _MARGIN:
            lines.append([])
            x = 0.0
        lines[-1].append(picture)
        x += width + 50
    return lines
