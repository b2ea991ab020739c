"""Slurs led around the fingers of their notes: a finger belongs between its note and the slur."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence

from lxml import etree

from fillwright.score.obstacles import Area

__all__ = ["lead_around"]

Element = etree._Element
_SVG = "{http://www.w3.org/2000/svg}"
_NUMBER = re.compile(r"-?[\d.]+")

# Lengths of the page: a hundred to a millimetre.
_AIR = 45
_BESIDE = 35
_STEPS = 48
_SLANTS = tuple(range(-900, 901, 75))
"""How much more the end of a slur may be raised than its beginning."""
_BENDS = tuple(range(0, 801, 40))
"""How much more bent it may be, at its handles."""

_Point = tuple[float, float]
_Curve = tuple[_Point, _Point, _Point, _Point]


def lead_around(slur: Element, fingers: Sequence[Area]) -> None:
    """Raise a slur that is bent upwards, at its ends and between them, so little that the fingers
    it meets, and all others over its notes, stand under it. One that meets none stays."""
    for path in slur.iter(f"{_SVG}path"):
        numbers = [float(n) for n in _NUMBER.findall(path.get("d", ""))]
        if "C" not in path.get("d", "") or len(numbers) != 14:
            continue
        points = [*zip(numbers[0::2], numbers[1::2], strict=True)]
        upper: _Curve = (points[0], points[1], points[2], points[3])
        lower: _Curve = (points[6], points[5], points[4], points[3])
        if max(upper[1][1], upper[2][1]) >= max(upper[0][1], upper[3][1]):
            continue
        if not any(_meets(curve, finger) for curve in (upper, lower) for finger in fingers):
            continue
        raised = _raised([*_wanted(lower, fingers)])
        if raised is None:
            continue
        one, other = (_moved(curve, *raised) for curve in (upper, lower))
        path.set("d", "M{} C{} {} {} C{} {} {}".format(*(
            f"{x:.0f},{y:.0f}" for x, y in (*one, other[2], other[1], other[0]))))


def _along(curve: _Curve) -> Iterator[tuple[float, float, float]]:
    """How far along it, and where, it has points."""
    for step in range(_STEPS + 1):
        t = step / _STEPS
        weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t ** 3)
        yield (t, sum(w * p[0] for w, p in zip(weights, curve, strict=True)),
               sum(w * p[1] for w, p in zip(weights, curve, strict=True)))


def _meets(curve: _Curve, finger: Area) -> bool:
    wide = finger.widened(_AIR)
    return any(Area(x1, min(y1, y2), x2, max(y1, y2)).meets(wide)
               for (_, x1, y1), (_, x2, y2) in itertools.pairwise(_along(curve)))


def _wanted(lower: _Curve, fingers: Sequence[Area]) -> Iterator[tuple[float, float]]:
    """How far along a slur it is to be raised, and by how much at least, to be over the fingers."""
    points = [*_along(lower)]
    step = (points[-1][1] - points[0][1]) / _STEPS
    for finger in fingers:
        for t, x, y in points:
            if finger.left - _BESIDE - step <= x <= finger.right + _BESIDE + step:
                yield t, y - (finger.top - _AIR)


def _raised(wanted: Sequence[tuple[float, float]]) -> tuple[float, float, float] | None:
    """By how much to raise its beginning and its end, and to bend it: the least that is enough."""
    best: tuple[float, float, float, float] | None = None
    for slant, bend in itertools.product(_SLANTS, _BENDS):
        start = max(0.0, float(-slant),
                    *(need - slant * t - 3 * t * (1 - t) * bend for t, need in wanted))
        cost = start + (start + slant) + max(start, start + slant) + bend
        if best is None or cost < best[0]:
            best = (cost, start, start + slant, bend)
    return None if best is None else best[1:]


def _moved(curve: _Curve, start: float, end: float, bend: float) -> _Curve:
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = curve
    return ((x0, y0 - start), (x1, y1 - start - (end - start) / 3 - bend),
            (x2, y2 - start - 2 * (end - start) / 3 - bend), (x3, y3 - end))
