"""Everything that is drawn on an engraved page, as the rectangles its ink fills.

Exact for glyphs and words (outlines of the engraver's fonts), stems, lines and boxes; what is
bent or slanted (slurs, ties, beams, hairpins) is cut into narrow slices. Lengths are those of
the page: a hundred to a millimetre, y grows downwards.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from typing import Any

from lxml import etree

from fillwright.score.embed import FACES, Face, face_of, in_file
from fillwright.score.fonts import font_folder
from fillwright.score.obstacles import Area

__all__ = ["MM", "Drawn", "around", "drawn_on", "text_ink"]

Element = etree._Element
_SVG = "{http://www.w3.org/2000/svg}"
MM = 100
"""Lengths of the page in a millimetre."""
_SLICE = 60
_CURVE_STEPS = 24
_GLYPH_SLICES, _GLYPH_STEPS = 5, 12
_SHAPES = frozenset(_SVG + name for name in (
    "use", "path", "polygon", "polyline", "rect", "ellipse", "text"))
_SKIPPED = frozenset({"sb", "section", "pb", "score", "mdiv", "systemMilestoneEnd"})
_NOTE = ("beam", "chord", "note", "rest")
_ROWS = re.compile(r"(gap|count|tempo)\d+$")
_NUMBER = re.compile(r"-?[\d.]+")
_ROOT = Face("", "normal", "normal")


@dataclass(frozen=True, slots=True)
class Drawn:
    """One thing that is drawn.

    kind     "head", "stem", "chord" (a symbol), "fing", "slur" and so on
    owner    what it is a part of: a note, chord or beam with stems and signs, a label, a tuplet
    voice    place of its layer in its staff, where it has one
    group    the element that moves as a whole
    areas    what its ink fills
    """

    kind: str
    owner: str
    voice: str
    group: Element
    areas: tuple[Area, ...]

    @property
    def box(self) -> Area:
        return around(self.areas)


def around(areas: Sequence[Area]) -> Area:
    """The rectangle around several."""
    return Area(min(a.left for a in areas), min(a.top for a in areas),
                max(a.right for a in areas), max(a.bottom for a in areas))


def drawn_on(page: Element) -> Iterator[Drawn]:
    """All that is drawn below an element: a page, or one system of it. Not what is hidden."""
    outlines: dict[str, str] | None = None
    for element in page.iter():
        if element.tag in _SHAPES:
            parents = [parent for parent in element.iterancestors()
                       if parent.tag in (f"{_SVG}g", f"{_SVG}defs")]
            if any(parent.tag == f"{_SVG}defs" for parent in parents):
                continue
            if outlines is None and element.tag == f"{_SVG}use":  # a word needs none
                outlines = _outlines(page)
            areas = tuple(_turned(_areas(element, outlines or {}), parents))
            if areas and parents:
                thing = _named(element, parents, areas)
                if thing is not None:
                    yield thing


def _outlines(page: Element) -> dict[str, str]:
    """The signs of the music font that a page draws with, by name."""
    tree = page.getroottree().getroot()
    return {symbol.get("id", ""): "".join(p.get("d", "") for p in symbol.iter(f"{_SVG}path"))
            for defs in tree.iter(f"{_SVG}defs") for symbol in defs}


def _named(element: Element, parents: list[Element], areas: tuple[Area, ...]) -> Drawn | None:
    classes = [(parent.get("class") or "").split()[:1] or [""] for parent in parents]
    names = [names[0] for names in classes]
    if names[0] in _SKIPPED:
        return None
    group, kind = parents[0], names[0]
    row = _ROWS.match(group.get("id", ""))
    if kind == "harm":
        kind = row[1] if row is not None else "chord"
        if kind == "gap" and element.tag == f"{_SVG}ellipse":
            kind = "box"
    kind = {"notehead": "head", "chord-symbol": "chord", "ledgerLines": "ledger"}.get(kind, kind)
    owner = next((parent for parent, name in reversed([*zip(parents, names, strict=True)])
                  if name in _NOTE), group)
    voice = next((f"{id(parent.getparent())}-{id(parent)}" for parent, name
                  in zip(parents, names, strict=True) if name == "layer"), "")
    return Drawn(kind, str(id(owner)), voice, group, areas)


# --- shapes -----------------------------------------------------------------------------


def _turned(areas: Iterable[Area], parents: Iterable[Element]) -> Iterator[Area]:
    """Where a group is turned upright (the sign of a rolled chord), its areas so too."""
    turns = [_numbers(parent.get("transform", "")) for parent in parents
             if "rotate(-90" in parent.get("transform", "")]
    for area in areas:
        for _, x, y in turns:
            area = Area(x + area.top - y, y - area.right + x, x + area.bottom - y,
                        y - area.left + x)
        yield area


def _areas(element: Element, outlines: dict[str, str]) -> Iterator[Area]:
    tag = element.tag.removeprefix(_SVG)
    if tag == "use":
        x, y, scale, *_ = _numbers(element.get("transform", ""))
        for left, low, right, high in _outline(
                outlines.get((element.get("href") or "").lstrip("#"), "")):
            yield Area(x + scale * left, y - scale * high, x + scale * right, y - scale * low)
    elif tag == "text":
        yield from text_ink(element)
    elif tag == "rect":
        x, y, width, height = (float(element.get(name, "0"))
                               for name in ("x", "y", "width", "height"))
        if element.get("stroke-opacity") != "0" or float(element.get("fill-opacity", "1")) > 0:
            half = float(element.get("stroke-width", "0")) / 2
            yield Area(x - half, y - half, x + width + half, y + height + half)
    elif tag == "ellipse":
        x, y, rx, ry = (float(element.get(name, "0")) for name in ("cx", "cy", "rx", "ry"))
        half = float(element.get("stroke-width", "0")) / 2
        yield Area(x - rx - half, y - ry - half, x + rx + half, y + ry + half)
    elif tag == "polygon":
        numbers = _numbers(element.get("points", ""))
        yield from _filled([*zip(numbers[0::2], numbers[1::2], strict=True)])
    elif tag == "polyline":
        numbers = _numbers(element.get("points", ""))
        points = [*zip(numbers[0::2], numbers[1::2], strict=True)]
        for start, end in itertools.pairwise(points):
            yield from _line(start, end, float(element.get("stroke-width", "0")))
    else:
        yield from _path(element.get("d", ""), float(element.get("stroke-width", "0")))


def _path(d: str, width: float) -> Iterator[Area]:
    if "C" not in d:
        for start, end in itertools.pairwise(_corners(d)):
            yield from _line(start, end, width)
        return
    numbers = _numbers(d)
    points = [*zip(numbers[0::2], numbers[1::2], strict=True)]
    curves = []
    for at in range(0, len(points) - 3, 3):
        curves.append([_bezier(points[at:at + 4], step / _CURVE_STEPS)
                       for step in range(_CURVE_STEPS + 1)])
    for curve in curves:
        for start, end in itertools.pairwise(curve):
            yield from _line(start, end, width)


def _corners(d: str) -> Iterator[tuple[float, float]]:
    """Where a path of straight lines, all in absolute places, turns."""
    x = y = 0.0
    for action, rest in re.findall(r"([MLHV])([^MLHV]*)", d):
        numbers = _numbers(rest)
        if action == "H":
            x = numbers[0]
        elif action == "V":
            y = numbers[0]
        else:
            x, y = numbers[:2]
        yield x, y


def _bezier(points: Sequence[tuple[float, float]], t: float) -> tuple[float, float]:
    weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t ** 3)
    return (sum(w * p[0] for w, p in zip(weights, points, strict=True)),
            sum(w * p[1] for w, p in zip(weights, points, strict=True)))


def _line(start: tuple[float, float], end: tuple[float, float], width: float) -> Iterator[Area]:
    half = width / 2
    level = start[0] == end[0] or start[1] == end[1]
    steps = 1 if level else max(1, round(abs(end[0] - start[0]) / _SLICE))
    for step in range(steps):
        (x1, y1), (x2, y2) = (
            tuple(a + (b - a) * t / steps for a, b in zip(start, end, strict=True))
            for t in (step, step + 1))
        yield Area(min(x1, x2) - (half if x1 == x2 else 0), min(y1, y2) - (0 if x1 == x2 else half),
                   max(x1, x2) + (half if x1 == x2 else 0), max(y1, y2) + (0 if x1 == x2 else half))


def _filled(points: Sequence[tuple[float, float]]) -> Iterator[Area]:
    """Upright slices of a convex shape."""
    left, right = min(x for x, _ in points), max(x for x, _ in points)
    steps = max(1, round((right - left) / _SLICE))
    edges = [*zip(points, [*points[1:], points[0]], strict=True)]
    for step in range(steps):
        x1, x2 = (left + (right - left) * t / steps for t in (step, step + 1))
        heights = [y for x in (x1, x2) for (ax, ay), (bx, by) in edges
                   if min(ax, bx) <= x <= max(ax, bx)
                   for y in ([ay, by] if ax == bx else [ay + (by - ay) * (x - ax) / (bx - ax)])]
        yield Area(x1, min(heights), x2, max(heights))


def _numbers(text: str) -> list[float]:
    return [float(number) for number in _NUMBER.findall(text)]


@lru_cache(maxsize=512)
def _outline(d: str) -> tuple[tuple[float, float, float, float], ...]:
    """Upright slices of a glyph: left, low, right, high."""
    from fontTools.pens.recordingPen import RecordingPen  # type: ignore[import-untyped]
    from fontTools.svgLib.path import parse_path  # type: ignore[import-untyped]

    pen = RecordingPen()
    parse_path(d, pen)
    edge = [*_along(pen.value)]
    if not edge:
        return ()
    left, right = min(x for x, _ in edge), max(x for x, _ in edge)
    wide = max(1.0, (right - left) / _GLYPH_SLICES)
    heights: dict[int, list[float]] = {}
    for x, y in edge:
        heights.setdefault(min(_GLYPH_SLICES - 1, int((x - left) // wide)), []).append(y)
    return tuple((left + place * wide, min(ys), left + (place + 1) * wide, max(ys))
                 for place, ys in sorted(heights.items()))


def _along(drawn: Sequence[tuple[str, Any]]) -> Iterator[tuple[float, float]]:
    """Points close together on the outline of a glyph."""
    at = (0.0, 0.0)
    for action, points in drawn:
        if action == "moveTo":
            at = points[0]
        elif action in ("lineTo", "curveTo"):
            corners = [at, *points] if action == "curveTo" else [at, at, points[0], points[0]]
            yield from (_bezier(corners, step / _GLYPH_STEPS) for step in range(_GLYPH_STEPS + 1))
            at = points[-1]


# --- words ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Run:
    """Words of one face and size; `start` is the element that says where their line begins,
    `further` and `lower` how far from where what is before them on it ends."""

    start: Element
    face: Face
    size: float
    words: str
    further: float = 0.0
    lower: float = 0.0


def text_ink(text: Element) -> Iterator[Area]:
    """What the words of a `<text>` fill, one area for each run of a face and size."""
    face = _ROOT
    for parent in reversed([*text.iterancestors()]):
        face = face_of(parent, face)
    runs = list(_runs(text, face, 0.0, text))
    for _, line in groupby(runs, key=lambda run: id(run.start)):
        yield from _line_ink(list(line))


def _line_ink(runs: Sequence[_Run]) -> Iterator[Area]:
    start = runs[0].start
    x, y = float(start.get("x", "0")), float(start.get("y", "0"))
    widths = [sum(_glyph(character, run.face)[0] for character in run.words) * run.size
              for run in runs]
    whole = sum(widths) + sum(run.further for run in runs)
    anchors = {element.get("text-anchor") for element in start.iter()}
    x -= whole / 2 if "middle" in anchors else whole if "end" in anchors else 0
    for run, width in zip(runs, widths, strict=True):
        x, y = x + run.further, y + run.lower
        bounds = _bounds(run.words, run.face)
        if bounds is not None:
            left, low, right, high = (bound * run.size for bound in bounds)
            yield Area(x + left, y - high, x + right, y - low)
        x += width


def _runs(element: Element, outer: Face, size: float, start: Element) -> Iterator[_Run]:
    face = face_of(element, outer)
    size = float((element.get("font-size") or str(size)).removesuffix("px"))
    start = element if element.get("x") is not None else start
    if element.text and size:
        yield _Run(start, in_file(face), size, element.text,
                   float(element.get("dx", "0")), float(element.get("dy", "0")))
    for child in element:
        yield from _runs(child, face, size, start)
        if child.tail and size:
            yield _Run(start, in_file(face), size, child.tail)


@lru_cache(maxsize=8)
def _font(face: Face) -> tuple[Any, dict[int, str], Any, float] | None:
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    name = FACES.get(face)
    if name is None:
        return None
    font = TTFont(font_folder() / f"{name}.otf", lazy=True)
    return (font.getGlyphSet(), font.getBestCmap(), font["hmtx"].metrics,
            float(font["head"].unitsPerEm))


@lru_cache(maxsize=2048)
def _glyph(character: str, face: Face) -> tuple[float, tuple[float, ...] | None]:
    """Advance and bounds of a character, in ems; a stranger is half an em square."""
    from fontTools.pens.boundsPen import BoundsPen  # type: ignore[import-untyped]

    font = _font(face)
    name = None if font is None else font[1].get(ord(character))
    if font is None or name is None:
        return 0.5, (0.0, 0.0, 0.5, 0.7)
    glyphs, _, metrics, em = font
    pen = BoundsPen(glyphs)
    glyphs[name].draw(pen)
    bounds = None if pen.bounds is None else tuple(bound / em for bound in pen.bounds)
    return metrics[name][0] / em, bounds


def _bounds(words: str, face: Face) -> tuple[float, float, float, float] | None:
    x, boxes = 0.0, []
    for character in words:
        advance, bounds = _glyph(character, face)
        if bounds is not None:
            boxes.append((x + bounds[0], bounds[1], x + bounds[2], bounds[3]))
        x += advance
    if not boxes:
        return None
    return (min(b[0] for b in boxes), min(b[1] for b in boxes),
            max(b[2] for b in boxes), max(b[3] for b in boxes))
