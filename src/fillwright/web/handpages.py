"""Hand pictures on paper: A4 pages in SVG for the hand-out, drawn as on the screen.

Left hand: squares. Right hand: circles. The melody's note: a ring. Lengths are tenths of a
millimetre.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lxml import etree

__all__ = ["HandRow", "hand_pages"]

Element = etree._Element
Picture = Mapping[str, Any]

_SVG = "http://www.w3.org/2000/svg"
_WIDTH, _HEIGHT, _MARGIN = 2100, 2970, 140
_BOTTOM = 2780
_WHITE, _LONG, _SHORT, _BLACK = 34, 118, 74, 22
_APART = 14
"""Semitones between two keys from which the keyboard is drawn in two pieces."""
_STEPS = (0, 0, 1, 1, 2, 3, 3, 4, 4, 5, 5, 6)
_BLACKS = frozenset({1, 3, 6, 8, 10})
_LEGEND = "Squares: left hand. Circles: right hand. Ring: the melody. Numbers: fingers."
_CAUTION = ("A stretch that hurts is to be rolled or left out; pain is a matter for a teacher or "
            "a doctor.")


@dataclass(frozen=True, slots=True)
class HandRow:
    """One fill: a heading, its counts, and its pictures as of `pictures_of`."""

    heading: str
    counts: str
    pictures: Sequence[Picture]


def hand_pages(title: str, rows: Sequence[HandRow]) -> list[str]:
    """As many pages as the rows need; [] without rows."""
    pages: list[Element] = []
    y = _HEIGHT
    for row in rows:
        lines = _lines(row.pictures)
        if y + 110 + 215 * len(lines) > _BOTTOM:
            pages.append(_page(title))
            y = 330
        page = pages[-1]
        _text(page, _MARGIN, y, row.heading, 44, font_weight="bold")
        _text(page, _MARGIN, y + 52, f"Count {row.counts}", 40)
        y += 110
        for line in lines:
            x = float(_MARGIN)
            for picture in line:
                x = _draw(page, x, y, picture) + 50
            y += 215
        y += 40
    return [str(etree.tostring(page, encoding="unicode")) for page in pages]


def _page(title: str) -> Element:
    page = etree.fromstring(f'<svg xmlns="{_SVG}" viewBox="0 0 {_WIDTH} {_HEIGHT}"/>')
    _text(page, _WIDTH / 2, 170, f"{title}: hands", 64, font_weight="bold", text_anchor="middle")
    _text(page, _WIDTH / 2, 235, _LEGEND, 34, text_anchor="middle")
    _text(page, _WIDTH / 2, _HEIGHT - 90, _CAUTION, 28, text_anchor="middle")
    return page


def _lines(pictures: Sequence[Picture]) -> list[list[Picture]]:
    lines: list[list[Picture]] = [[]]
    x = 0.0
    for picture in pictures:
        width = _width(picture)
        if lines[-1] and x + width > _WIDTH - 2 * _MARGIN:
            lines.append([])
            x = 0.0
        lines[-1].append(picture)
        x += width + 50
    return lines


def _pieces(picture: Picture) -> list[list[Mapping[str, Any]]]:
    pieces: list[list[Mapping[str, Any]]] = []
    for key in picture["keys"]:
        if pieces and key["midi"] - pieces[-1][-1]["midi"] <= _APART:
            pieces[-1].append(key)
        else:
            pieces.append([key])
    return pieces


def _edges(piece: Sequence[Mapping[str, Any]]) -> tuple[int, int]:
    """From a C or F below to an E or B above."""
    low, high = piece[0]["midi"] - 1, piece[-1]["midi"] + 1
    while low % 12 not in (0, 5):
        low -= 1
    while high % 12 not in (4, 11):
        high += 1
    return low, high


def _place(midi: int) -> int:
    return midi // 12 * 7 + _STEPS[midi % 12]


def _width(picture: Picture) -> float:
    spans = [_edges(piece) for piece in _pieces(picture)]
    return sum((_place(high) - _place(low) + 1) * _WHITE + 24 for low, high in spans) - 24


def _draw(page: Element, x: float, y: float, picture: Picture) -> float:
    """One picture with its chord's name; returns where it ends."""
    _text(page, x, y, picture["chord"], 38, font_weight="bold")
    top = y + 14
    for piece in _pieces(picture):
        low, high = _edges(piece)
        first = _place(low)
        for black in (False, True):
            for midi in range(low, high + 1):
                if (midi % 12 in _BLACKS) == black:
                    _key(page, x + (_place(midi) - first) * _WHITE, top, midi, black)
        for key in piece:
            black = key["midi"] % 12 in _BLACKS
            _finger(page, x + (_place(key["midi"]) - first + (1 if black else 0.5)) * _WHITE,
                    top + (_SHORT - 20 if black else _LONG - 24), key)
        x += (_place(high) - first + 1) * _WHITE + 24
    return x - 24


def _key(page: Element, x: float, y: float, midi: int, black: bool) -> None:
    if black:
        x, width, height, fill = x + _WHITE - _BLACK / 2, _BLACK, _SHORT, "#222"
    else:
        width, height, fill = _WHITE, _LONG, "#fff"
    _add(page, "rect", x=x, y=y, width=width, height=height, fill=fill, stroke="#222",
         stroke_width=2)
    if midi % 12 == 0:
        _text(page, x + _WHITE / 2, y + _LONG + 26, f"C{midi // 12 - 1}", 22, text_anchor="middle")


def _finger(page: Element, x: float, y: float, key: Mapping[str, Any]) -> None:
    ring = key["role"] == "melody"
    fill, ink = ("#fff", "#000") if ring else ("#000", "#fff")
    edge = "#000" if ring else "#fff"
    if key["hand"] == "left":
        _add(page, "rect", x=x - 14, y=y - 14, width=28, height=28, fill=fill, stroke=edge,
             stroke_width=3)
    else:
        _add(page, "circle", cx=x, cy=y, r=15, fill=fill, stroke=edge, stroke_width=3)
    _text(page, x, y + 9, str(key["finger"] or "·"), 26, font_weight="bold",
          text_anchor="middle", fill=ink)


def _text(page: Element, x: float, y: float, words: str, size: int, **look: object) -> None:
    """Words at a place; `look` is what differs from plain black from the left."""
    plain: dict[str, object] = {"font_weight": "normal", "text_anchor": "start", "fill": "#000"}
    _add(page, "text", x=x, y=y, font_family="Liberation Serif, Times New Roman, serif",
         font_size=size, **{**plain, **look}).text = words


def _add(page: Element, name: str, **attributes: object) -> Element:
    return etree.SubElement(page, f"{{{_SVG}}}{name}", {
        key.replace("_", "-"): str(value) for key, value in attributes.items()})
