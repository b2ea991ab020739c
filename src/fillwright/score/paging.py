"""Lines of music spread over pages: as few pages as it takes, the last one least full."""

from __future__ import annotations

import copy
import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from lxml import etree

from fillwright.score.ink import around, drawn_on
from fillwright.score.moving import shift
from fillwright.score.placing import Extent
from fillwright.score.turning import TURN_SEC

__all__ = ["Paper", "balanced", "level_of", "levelled", "pages_of", "shares_of"]

Element = etree._Element
_SVG = "{http://www.w3.org/2000/svg}"

_NO_HAND_FREE = 0.15
"""What it costs to turn where no hand has time for it: about what two pages cost of which one has
three lines more than the other, in squares of the share that stays empty."""


_LAST_EMPTY = 0.33
"""What an empty share of the last page costs, where one of another costs 1: a piece may end on a
page that is not full, sooner than lines stand twice as far apart as they are high."""


@dataclass(frozen=True, slots=True)
class Paper:
    """What a page holds, in its own lengths (a hundred to a millimetre).

    height    of the sheet
    room      for music, from the upper margin to the foot
    lines     at most so many
    least     between the ink of two lines
    most      between the staves of two lines
    """

    height: float
    room: float
    lines: int
    least: float
    most: float


def shares_of(drawn: Sequence[Element], extents: Sequence[Extent], paper: Paper,
              free_sec: Sequence[float] = ()) -> tuple[list[int], float]:
    """How many lines each page has, and where they begin on the first, below its head."""
    head = next((g for g in drawn[0].iter(f"{_SVG}g") if g.get("class") == "pgHead"), None)
    low = 0.0
    if head is not None:
        ink = [area for thing in drawn_on(head) for area in thing.areas]
        low = around(ink).bottom + paper.least if ink else 0.0
    heights = [line.bottom - line.top for line in extents]
    return balanced(heights, (paper.room - low, paper.room), paper.least, paper.lines,
                    free_sec), low


def pages_of(drawn: Sequence[Element], extents: Sequence[Extent], paper: Paper,
             free_sec: Sequence[float] = ()) -> list[Element]:
    """Pages with these lines, which stand one below the other on what the engraver drew.

    free_sec   at the end of each line but the last, for turning the page
    """
    shares, low = shares_of(drawn, extents, paper, free_sec)
    for line in extents:
        parent = line.group.getparent()
        if parent is not None:
            parent.remove(line.group)
    bare = copy.deepcopy(drawn[0])
    for old in [g for g in bare.iter(f"{_SVG}g") if g.get("class") == "pgHead"]:
        _remove(old)
    symbols = {symbol.get("id"): symbol for page in drawn for defs in page.iter(f"{_SVG}defs")
               for symbol in defs}
    pages, at, level = [], 0, paper.most
    last = len(shares) - 1
    for number, share in enumerate(shares):
        page = copy.deepcopy(bare) if number else drawn[0]
        lines = extents[at:at + share]
        at += share
        top = low if not number else 0.0
        if share > 1:
            own = level_of(lines, paper.room - top, paper)
            level = min(own, level) if number == last else own
        tops = levelled(lines, paper, level)
        margin = next(g for g in page.iter(f"{_SVG}g") if g.get("class") == "page-margin")
        for line, place in zip(lines, tops, strict=True):
            shift(line.group, 0, top + place - line.top)
            margin.append(line.group)
        _fit(page, paper, symbols)
        pages.append(page)
    return pages


def balanced(heights: Sequence[float], rooms: tuple[float, float], least: float, lines: int,
             free_sec: Sequence[float] = ()) -> list[int]:
    """How many lines each page has: as few pages as they fit on, about equally full but for the
    last, and turned where a hand is free, if it costs no more than three lines' difference.

    rooms      of the first page, of others
    free_sec   how long a hand is free around the end of each line but the last; none: it does
               not matter

    A line that is higher than a page has one to itself.
    """
    first, room = rooms
    count = len(heights)
    best: list[tuple[int, float, int]] = [(0, 0.0, 0)] + [(count + 1, 0.0, 0)] * count
    for end in range(1, count + 1):
        height = -least
        for start in range(end - 1, max(-1, end - 1 - lines), -1):
            height += heights[start] + least
            space = first if start == 0 else room
            if height > space and end - start > 1:
                break
            pages, waste, _ = best[start]
            turn = _turning(free_sec[end - 1]) if end < count and free_sec else 0.0
            empty = (max(0.0, space - height) / room) ** 2
            tried = (pages + 1, waste + turn + (_LAST_EMPTY if end == count else 1) * empty, start)
            best[end] = min(best[end], tried)
    shares: list[int] = []
    end = count
    while end:
        start = best[end][2]
        shares.insert(0, end - start)
        end = start
    return shares


def _turning(free_sec: float) -> float:
    return _NO_HAND_FREE * max(0.0, 1 - free_sec / TURN_SEC)


def levelled(lines: Sequence[Extent], paper: Paper, level: float) -> list[float]:
    """The tops of the lines of a page: staves equally far apart where what is on them allows. On a
    last page they are no further apart than on the page before."""
    tops = [0.0]
    for a, b, least in zip(lines, lines[1:], _tight(lines, paper), strict=False):
        staves = tops[-1] + (a.staff_bottom - a.top) + max(least, level)
        tops.append(staves - (b.staff_top - b.top))
    return tops


def _tight(lines: Sequence[Extent], paper: Paper) -> list[float]:
    """The least distances between the staves of lines."""
    return [a.bottom - a.staff_bottom + paper.least + b.staff_top - b.top
            for a, b in itertools.pairwise(lines)]


def level_of(lines: Sequence[Extent], room: float, paper: Paper) -> float:
    """The distance of staves with which the page is filled, `paper.most` at most."""
    tight = _tight(lines, paper)
    spare = room - sum(line.bottom - line.top for line in lines) - paper.least * len(tight)
    return _level(tight, max(0.0, spare), paper.most)


def _level(tight: Sequence[float], spare: float, most: float) -> float:
    """The distance to which all that is less is widened, with this much to give."""
    ordered, level = sorted(tight), 0.0
    for count in range(1, len(ordered) + 1):
        level = (sum(ordered[:count]) + spare) / count
        if count == len(ordered) or level <= ordered[count]:
            break
    return min(level, most)


def _fit(page: Element, paper: Paper, symbols: dict[str | None, Element]) -> None:
    """The size of the sheet, and the signs that are used on it."""
    for svg in [page, *page.iter(f"{_SVG}svg")]:
        box = svg.get("viewBox", "").split()
        if len(box) == 4:
            inner = svg.get("class") == "definition-scale"
            box[3] = f"{paper.height / (1 if inner else 10):.0f}"
            svg.set("viewBox", " ".join(box))
    used = {(use.get("href") or "").lstrip("#") for use in page.iter(f"{_SVG}use")}
    for defs in page.iter(f"{_SVG}defs"):
        for symbol in list(defs):
            defs.remove(symbol)
        defs.extend(copy.deepcopy(symbols[name]) for name in sorted(used) if name in symbols)


def _remove(element: Element) -> None:
    parent = element.getparent()
    if parent is not None:
        parent.remove(element)
