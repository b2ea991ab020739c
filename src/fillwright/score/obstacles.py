"""What is in the way on a page: rectangles, and how far others have to move to be clear."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

__all__ = ["Area", "Sky"]

_BIN = 400
"""Width of the strips in which obstacles are kept, in the lengths of the page."""


@dataclass(frozen=True, slots=True)
class Area:
    """A rectangle in the page's own lengths; y grows downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Area) -> bool:
        return (self.left < other.right and other.left < self.right
                and self.top < other.bottom and other.top < self.bottom)

    def raised(self, by: float) -> Area:
        return Area(self.left, self.top - by, self.right, self.bottom - by)

    def moved(self, right: float, down: float) -> Area:
        return Area(self.left + right, self.top + down, self.right + right, self.bottom + down)

    def widened(self, by: float) -> Area:
        return Area(self.left - by, self.top - by, self.right + by, self.bottom + by)


class Sky:
    """Obstacles; more can be added."""

    def __init__(self, areas: Iterable[Area] = ()) -> None:
        self._strips: dict[int, list[Area]] = {}
        self.add(areas)

    def add(self, areas: Iterable[Area]) -> None:
        for area in areas:
            for strip in _strips(area):
                self._strips.setdefault(strip, []).append(area)

    def _near(self, area: Area) -> Iterator[Area]:
        for strip in _strips(area):
            for other in self._strips.get(strip, ()):
                if area.left < other.right and other.left < area.right:
                    yield other

    def meets(self, areas: Sequence[Area], air: float) -> bool:
        """Whether any of these is nearer to an obstacle than `air`."""
        return any(wide.meets(other) for wide in (area.widened(air) for area in areas)
                   for other in self._near(wide))

    def rise(self, areas: Sequence[Area], air: float) -> float:
        """How far these have to rise together so that all have `air` around them."""
        wide = [area.widened(air) for area in areas]
        return _clear([(area.top - other.bottom, area.bottom - other.top)
                       for area in wide for other in self._near(area)])

    def fall(self, areas: Sequence[Area], air: float) -> float:
        """The same downwards."""
        wide = [area.widened(air) for area in areas]
        return _clear([(other.top - area.bottom, other.bottom - area.top)
                       for area in wide for other in self._near(area)])


def _clear(met: Sequence[tuple[float, float]]) -> float:
    """The way to go until nothing is met; `met`: from where to where on that way something is.

    It ends where one of them does, and is never a sum: what is added to a length may be too
    little to change it.
    """
    way = 0.0
    while (on := max((end for begin, end in met if begin < way < end), default=way)) > way:
        way = on
    return way


def _strips(area: Area) -> range:
    return range(int(area.left // _BIN), int(area.right // _BIN) + 1)
