"""Where a page can be turned: how long a hand is free around each bar line, and lines of music
that end there.

A hand is free from the last stroke of its staff before the bar line to the first one after it:
it rests, or holds what the pedal holds as well.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lxml import etree

__all__ = ["TURN_SEC", "Bars", "free_seconds", "starts_for_turning"]

Element = etree._Element
_SVG = "{http://www.w3.org/2000/svg}"

TURN_SEC = 1.0
"""A page is turned in about a second (common practice)."""
_FEWEST = 2
"""Bars on a line that gives one to its neighbour."""


def free_seconds(timemap: Iterable[Mapping[str, Any]], systems: Sequence[Element]) -> list[float]:
    """For the beginning of each bar, the seconds in which one of the hands strikes nothing.

    timemap   the engraver's, with the bars
    systems   the lines as they are drawn, one below the other

    0 where the timemap does not say when a bar begins.
    """
    bars = [bar for system in systems for bar in system.iter(f"{_SVG}g")
            if bar.get("class") == "measure"]
    staff_of = {name: staff for bar in bars for name, staff in _notes(bar)}
    strokes: dict[int, list[float]] = {staff: [] for staff in set(staff_of.values())}
    starts: dict[str, float] = {}
    for moment in timemap:
        second = float(moment["tstamp"]) / 1000
        starts.setdefault(moment.get("measureOn", ""), second)
        for staff in {staff_of[name] for name in moment.get("on", ()) if name in staff_of}:
            strokes[staff].append(second)
    begins = [starts.get(bar.get("id", "")) for bar in bars]
    return [0.0 if second is None else
            max((_around(second, struck) for struck in strokes.values()), default=0.0)
            for second in begins]


def _around(second: float, struck: Sequence[float]) -> float:
    place = bisect_left(struck, second)
    before = struck[place - 1] if place else 0.0
    return (struck[place] if place < len(struck) else float("inf")) - before


def _notes(bar: Element) -> Iterator[tuple[str, int]]:
    """The notes that are struck, and the staff each stands on. What a tie leads to has the name
    of the note it began with, and a number behind it."""
    staves = [group for group in bar if (group.get("class") or "").split()[:1] == ["staff"]]
    for number, staff in enumerate(staves):
        for note in staff.iter(f"{_SVG}g"):
            name = note.get("id", "")
            if note.get("class") == "note" and "-" not in name:
                yield name, number


@dataclass(frozen=True, slots=True)
class Bars:
    """What is known of the bars of a score before they stand in lines.

    widths    natural ones
    starts    which of them begin a section
    room      for the bars of a line
    """

    widths: Sequence[float]
    starts: Sequence[bool]
    room: float


def starts_for_turning(bars: Bars, breaks: Sequence[int], free: Sequence[float]) -> list[int]:
    """For each bar that begins a line, the one with which the line would begin if it were the
    first of a page: itself where the page can be turned before it, else its neighbour before or
    behind if that leaves time to turn (or more of it) and both lines still fit. A section keeps
    the beginning of its line.

    breaks   bars that begin a line, without the first
    free     seconds in which a hand is free, around the beginning of each bar
    """
    edges = [0, *breaks, len(bars.widths)]
    found = []
    for before, at, after in zip(edges, edges[1:], edges[2:], strict=False):
        choice = [at]
        if free[at] < TURN_SEC and not bars.starts[at]:
            choice += [other for other in (at - 1, at + 1)
                       if other - before >= _FEWEST and after - other >= _FEWEST
                       and sum(bars.widths[before:other]) <= bars.room
                       and sum(bars.widths[other:after]) <= bars.room]
        found.append(max(choice, key=lambda bar: min(TURN_SEC, free[bar])))
    return found
