"""What the engraver's own format needs before it is laid out.

Verovio turns MusicXML into MEI; here the MEI is given what MusicXML cannot say or the
conversion leaves out: rows for chord symbols, gap labels and counts (each at one height
along a system, each with room of its own), italics for added chords, a centred title and
line breaks.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass

from lxml import etree

__all__ = ["Heading", "add_breaks", "choose_breaks", "dress"]

Element = etree._Element
_NS = "http://www.music-encoding.org/ns/mei"
_M = f"{{{_NS}}}"
_ID = "{http://www.w3.org/XML/1998/namespace}id"

_CHORD_ROW, _LABEL_ROW, _COUNT_ROW = "1", "2", "3"


@dataclass(frozen=True, slots=True)
class Heading:
    """What stands at the top of the first page."""

    title: str = ""
    subtitle: str = ""


def dress(mei: bytes, heading: Heading) -> Element:
    """The MEI tree, ready for line breaks."""
    root = etree.fromstring(mei)
    for measure in root.iter(f"{_M}measure"):
        _rows(measure)
    score_def = next(root.iter(f"{_M}scoreDef"))
    for old in score_def.findall(f"{_M}pgHead") + score_def.findall(f"{_M}pgFoot"):
        score_def.remove(old)
    for place, element in enumerate(_head(heading)):
        score_def.insert(place, element)
    return root


def _rows(measure: Element) -> None:
    for harm in measure.findall(f"{_M}harm"):
        harm.set("n", _CHORD_ROW)
        _italicise_added(harm)
    for direction in measure.findall(f"{_M}dir"):
        rends = direction.findall(f"{_M}rend")
        if direction.get("place") == "below":
            direction.tag = f"{_M}harm"
            direction.set("n", _COUNT_ROW)
        elif rends and rends[0].get("rend") == "box":
            direction.tag = f"{_M}harm"
            direction.set("n", _LABEL_ROW)
            rends[0].set("fontsize", "80%")
            for rend in rends[1:]:
                rend.set("fontsize", "85%")
            if len(rends) > 1:
                rends[0].tail = "\u00a0\u00a0"
    for tempo in measure.findall(f"{_M}tempo"):
        rends = tempo.findall(f"{_M}rend")
        if len(rends) > 1:
            rends[0].tail = "\u00a0\u00a0 " + (rends[0].tail or "").strip()


def _italicise_added(harm: Element) -> None:
    """Chord symbols in square brackets are set in italics."""
    text = harm.text or ""
    if "[" not in text:
        return
    harm.text = ""
    for part in re.findall(r"\[[^\]]*\]|[^\[]+", text):
        if part.startswith("["):
            etree.SubElement(harm, f"{_M}rend", {"fontstyle": "italic"}).text = part
        elif len(harm):
            harm[-1].tail = (harm[-1].tail or "") + part
        else:
            harm.text += part


def _head(heading: Heading) -> list[Element]:
    if not heading.title and not heading.subtitle:
        return []
    head = etree.Element(f"{_M}pgHead", {"func": "first"})
    if heading.title:
        title = etree.SubElement(head, f"{_M}rend", {"halign": "center", "valign": "top",
                                                     "fontsize": "180%", "fontweight": "bold"})
        title.text = heading.title
    if heading.subtitle:
        etree.SubElement(head, f"{_M}lb")
        under = etree.SubElement(head, f"{_M}rend", {"halign": "center", "valign": "top",
                                                     "fontsize": "100%"})
        under.text = heading.subtitle
    return [head]


# --- line breaks ------------------------------------------------------------------------

def choose_breaks(widths: Sequence[float], starts: Sequence[bool], room: float,
                  has_pickup: bool, per_line: int = 4) -> list[int]:
    """Indices of bars that begin a line.

    A line has `per_line` bars, counted from the start of each section, where their
    natural widths fit into `room`; else it is halved. A pickup goes with the first line.
    """
    breaks: list[int] = []
    edges = [index for index, start in enumerate(starts) if start and index]
    if has_pickup and 1 in edges:
        edges.remove(1)
    edges = [0, *edges, len(widths)]
    for low, high in itertools.pairwise(edges):
        place = low
        size = per_line + (1 if has_pickup and low == 0 else 0)
        while place < high:
            breaks += _fit(widths, place, min(place + size, high), room,
                           1 if has_pickup and place == 0 else 0)
            place += size
            size = per_line
    return [index for index in breaks if index]


def _fit(widths: Sequence[float], low: int, high: int, room: float, pickup: int) -> list[int]:
    count = high - low - pickup
    if count <= 1 or sum(widths[low:high]) <= room:
        return [low]
    middle = low + pickup + (count + 1) // 2
    return _fit(widths, low, middle, room, pickup) + _fit(widths, middle, high, room, 0)


def add_breaks(root: Element, breaks: Sequence[int]) -> None:
    """Put a system break before each of these bars."""
    wanted = set(breaks)
    for index, measure in enumerate(list(root.iter(f"{_M}measure"))):
        if index in wanted:
            measure.addprevious(etree.Element(f"{_M}sb"))
