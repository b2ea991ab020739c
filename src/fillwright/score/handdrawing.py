"""Hand pictures as drawings: a piece of keyboard with the keys that are down.

Left hand: squares. Right hand: circles. The melody's note: a ring. A small number says which
key comes first where they are struck one after the other. Lengths are tenths of a millimetre.
Every key and mark carries ``data-midi``, and classes (``white``, ``black``, ``finger``), so that
a page on a screen can light it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from lxml import etree

__all__ = ["PICTURE_ABOVE", "PICTURE_HEIGHT", "Picture", "add", "draw_picture", "hand_picture",
           "picture_width", "write"]

Element = etree._Element
Picture = Mapping[str, Any]
"""A hand picture as `pictures.pictures_of` gives it."""

_SVG = "http://www.w3.org/2000/svg"
_WHITE, _LONG, _SHORT, _BLACK = 34, 132, 74, 22
_ABOVE, _BELOW, _EDGE = 46, 38, 4
"""Room for the chord's name, for the names of keys, and for strokes."""
PICTURE_ABOVE = _ABOVE
PICTURE_HEIGHT = _ABOVE + _LONG + _BELOW
"""Of a picture with its chord's name, and how far below its top the name's line of writing is."""
_APART = 14
"""Semitones between two keys from which the keyboard is drawn in two pieces."""
_STEPS = (0, 0, 1, 1, 2, 3, 3, 4, 4, 5, 5, 6)
_BLACKS = frozenset({1, 3, 6, 8, 10})
_NAME_SIZE = 38
_ORDER_SIZE, _ORDER_BELOW = 24, 21
"""Of the number that says which key comes first, and its line of writing below the black keys: it
stands on the white of its key, between them and the finger."""


def hand_picture(picture: Picture) -> str:
    """One picture as an SVG of its own, with its chord's name."""
    width = max(picture_width(picture), 0.62 * _NAME_SIZE * len(picture["chord"])) + 2 * _EDGE
    height = PICTURE_HEIGHT
    page = etree.fromstring(f'<svg xmlns="{_SVG}" class="keys" '
                            f'viewBox="0 0 {width:.0f} {height}" width="{width / 10:.1f}mm" '
                            f'height="{height / 10:.1f}mm"/>')
    draw_picture(page, _EDGE, _ABOVE - 14, picture)
    return str(etree.tostring(page, encoding="unicode"))


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


def picture_width(picture: Picture) -> float:
    """Of its keyboard, without the chord's name."""
    spans = [_edges(piece) for piece in _pieces(picture)]
    return sum((_place(high) - _place(low) + 1) * _WHITE + 24 for low, high in spans) - 24


def draw_picture(page: Element, x: float, y: float, picture: Picture) -> float:
    """One picture with its chord's name, whose line of writing is at `y`; returns where it
    ends."""
    write(page, x, y, picture["chord"], _NAME_SIZE, font_weight="bold", class_="chord")
    top = y + 14
    in_order = any((key["order"] or 0) > 1 for key in picture["keys"])
    for piece in _pieces(picture):
        low, high = _edges(piece)
        first = _place(low)
        for black in (False, True):
            for midi in range(low, high + 1):
                if (midi % 12 in _BLACKS) == black:
                    _key(page, x + (_place(midi) - first) * _WHITE, top, midi, midi == low)
        for key in piece:
            black = key["midi"] % 12 in _BLACKS
            _finger(page, x + (_place(key["midi"]) - first + (1 if black else 0.5)) * _WHITE,
                    top, key, in_order)
        x += (_place(high) - first + 1) * _WHITE + 24
    return x - 24


def _key(page: Element, x: float, y: float, midi: int, is_first: bool) -> None:
    if midi % 12 in _BLACKS:
        add(page, "rect", x=x + _WHITE - _BLACK / 2, y=y, width=_BLACK, height=_SHORT,
            fill="#222", stroke="#222", stroke_width=2, class_="black", data_midi=midi)
        return
    add(page, "rect", x=x, y=y, width=_WHITE, height=_LONG, fill="#fff", stroke="#222",
        stroke_width=2, class_="white", data_midi=midi)
    if midi % 12 == 0 or is_first:
        name = f"{'F' if midi % 12 else 'C'}{midi // 12 - 1}"
        write(page, x + _WHITE / 2, y + _LONG + 26, name, 22, text_anchor="middle",
              class_="octave")


def _finger(page: Element, x: float, top: float, key: Mapping[str, Any], in_order: bool) -> None:
    black = key["midi"] % 12 in _BLACKS
    y = top + (_SHORT - 20 if black else _LONG - 24)
    ring = key["role"] == "melody"
    fill, ink = ("#fff", "#000") if ring else ("#000", "#fff")
    edge = "#000" if ring else "#fff"
    mark = add(page, "g", class_=f"finger {key['hand']} {key['role']}", data_midi=key["midi"])
    if key["hand"] == "left":
        add(mark, "rect", x=x - 14, y=y - 14, width=28, height=28, fill=fill, stroke=edge,
            stroke_width=3)
    else:
        add(mark, "circle", cx=x, cy=y, r=15, fill=fill, stroke=edge, stroke_width=3)
    write(mark, x, y + 9, str(key["finger"] or "·"), 26, font_weight="bold",
          text_anchor="middle", fill=ink)
    if in_order and key["order"]:
        write(mark, x, top + (24 if black else _SHORT + _ORDER_BELOW), str(key["order"]),
              _ORDER_SIZE,
              text_anchor="middle", fill="#fff" if black else "#000", class_="order")


def write(page: Element, x: float, y: float, words: str, size: int, **look: object) -> None:
    """Words at a place; `look` is what differs from plain black from the left."""
    plain: dict[str, object] = {"font_weight": "normal", "text_anchor": "start", "fill": "#000"}
    add(page, "text", x=x, y=y, font_family="Liberation Serif, Times New Roman, serif",
         font_size=size, **{**plain, **look}).text = words


def add(page: Element, name: str, **attributes: object) -> Element:
    """An element; ``stroke_width=2`` and ``class_="key"`` for names that Python has no way to
    write."""
    return etree.SubElement(page, f"{{{_SVG}}}{name}", {
        key.rstrip("_").replace("_", "-"): str(value) for key, value in attributes.items()})
