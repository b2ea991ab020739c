"""Graded sets: which gaps go into a pack, found by computing, written as a plan to be edited.

    one_device    the same device over rising difficulty, at all levels
    every_device  each device of a family once at a level, easy ones first
    gaps_in_order the gaps of tunes in the order to learn them, easy ones first

`plan_text` writes what was found as the plan that `plan.read_plan` reads.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from fillwright.arranging.build import CHOICES
from fillwright.errors import InputError
from fillwright.fills.asked import family_of
from fillwright.fills.devices.registry import (
    device_names,
    devices_in,
    is_called,
    known_devices,
)
from fillwright.fills.model import FAMILIES, Fill
from fillwright.hands.model import LEVELS
from fillwright.lesson.plan import MOST_ITEMS, Item
from fillwright.lesson.task import Tunes
from fillwright.tune.model import Gap

__all__ = ["Found", "Search", "plan_text"]

_AGAIN, _SAME_FAMILY = 6, 2
"""What a device, and a family, that has been met costs each time, in points of difficulty: our
own judgement, so that a set is no row of one idea."""

_NAMED = frozenset({"level", "hand"})
"""What a set says of its items, whatever an edition has decided."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Found:
    """A fill that belongs into a set, and the item that hands it out."""

    item: Item
    gap: Gap
    fill: Fill


class Search:
    """Looks through the gaps of some tunes.

    tunes      as a plan names them
    where      the folder from where they are named, or the tunes themselves
    hand       for which hand
    progress   called with gaps looked through, gaps in all
    """

    def __init__(self, tunes: Sequence[str], where: Path | Tunes, hand: str = "medium",
                 progress: Progress | None = None) -> None:
        if not tunes:
            raise InputError("name a tune at least")
        self._names, self._hand = tuple(tunes), hand
        self._tunes = where if isinstance(where, Tunes) else Tunes(where)
        self._progress = progress or (lambda done, total: None)

    def one_device(self, device: str, count: int = 10) -> tuple[Found, ...]:
        """The same device, each time in another gap and harder, whatever the level. Raises
        InputError for what is no device, and where no gap has it."""
        name = known_devices([device])[0]
        families = [family for family, names in device_names().items() if name in names]
        fitting = [found for level in LEVELS
                   for found in self._offers(level, families or FAMILIES)
                   if is_called(found.fill.device, name)]
        if not fitting:
            raise InputError(f"no gap of {', '.join(self._names)} has {name!r}")
        rising: list[Found] = []
        for found in sorted(fitting, key=_ease):
            if not rising or (found.fill.difficulty > rising[-1].fill.difficulty
                              and not any(_same_gap(found, other) for other in rising)):
                rising.append(found)
        return _spread(rising, count)

    def every_device(self, family: str, level: str, count: int = MOST_ITEMS
                     ) -> tuple[Found, ...]:
        """Each device of a family that is offered at a level, where it is easiest. A gap is not
        taken twice where another has the device too. Raises InputError."""
        best: dict[str, list[Found]] = {}
        for found in self._offers(level, [family_of(family)]):
            best.setdefault(_plain(found.fill), []).append(found)
        chosen: list[Found] = []
        for places in sorted(best.values(), key=len):  # those with the least choice first
            places.sort(key=_ease)
            free = [place for place in places
                    if not any(_same_gap(place, other) for other in chosen)]
            chosen.append((free or places)[0])
        if not chosen:
            raise InputError(f"no gap of {', '.join(self._names)} has a {family} fill for "
                             f"{level} players")
        return tuple(sorted(chosen, key=_ease)[:count])

    def gaps_in_order(self, level: str, count: int = MOST_ITEMS) -> tuple[Found, ...]:
        """Every gap once, easy ones first. Of what its families offer first a gap gets the
        easiest, unless that has been met several times and another is little harder. Raises
        InputError where no gap has a fill."""
        offered: dict[tuple[str, int], list[Found]] = {}
        for found in self._offers(level, FAMILIES, most=1):
            offered.setdefault((found.item.tune, found.item.gap), []).append(found)
        if not offered:
            raise InputError(f"no gap of {', '.join(self._names)} has a fill for {level} players")
        met: Counter[str] = Counter()

        def tired(found: Found) -> int:
            return (found.fill.difficulty + _AGAIN * met[_plain(found.fill)]
                    + _SAME_FAMILY * met[found.fill.family])

        order: list[Found] = []
        for fills in sorted(offered.values(), key=lambda fills: min(map(_ease, fills))):
            chosen = min(fills, key=lambda found: (tired(found), _ease(found)))
            met.update((_plain(chosen.fill), chosen.fill.family))
            order.append(chosen)
        return tuple(sorted(order, key=_ease)[:count])

    def _offers(self, level: str, families: Sequence[str], most: int = CHOICES
                ) -> Iterator[Found]:
        """What is offered in all gaps, at most so much of a family."""
        items = [Item(name, 1, level=level, hand=self._hand, named=_NAMED)
                 for name in self._names]
        offers = [self._tunes.offers(item) for item in items]
        total = sum(len(one.gaps) for one in offers)
        done = 0
        for item, one in zip(items, offers, strict=True):
            for gap in one.gaps:
                for family in families:
                    fills = one.fills(gap.number, family, most)
                    for fill in () if isinstance(fills, str) else fills:
                        yield Found(Item(item.tune, gap.number, fill.id, level, self._hand,
                                         named=_NAMED), gap, fill)
                done += 1
                self._progress(done, total)


def _ease(found: Found) -> tuple[int, str, int, str]:
    return found.fill.difficulty, found.item.tune, found.item.gap, found.fill.id


def _same_gap(one: Found, other: Found) -> bool:
    return (one.item.tune, one.item.gap) == (other.item.tune, other.item.gap)


def _plain(fill: Fill) -> str:
    """The device of a table that its name begins with, without its rhythm."""
    return devices_in(fill.device, fill.family)[0]


def _spread(found: Sequence[Found], count: int) -> tuple[Found, ...]:
    """So many of a row, evenly, with its first and last."""
    if len(found) <= count:
        return tuple(found)
    if count == 1:
        return (found[0],)
    return tuple(found[place * (len(found) - 1) // (count - 1)] for place in range(count))


def plan_text(title: str, found: Sequence[Found], show: str = "filled") -> str:
    """A plan in TOML, with a remark on each item.

    >>> plan_text("A set", ())
    'title = "A set"\\n'
    """
    parts = [f"title = {_quoted(title)}\n"]
    for one in found:
        fill, gap, item = one.fill, one.gap, one.item
        parts.append("\n".join([
            "", f"# {fill.device} ({fill.family}), difficulty {fill.difficulty}; bar {gap.bar}, "
            f"beat {gap.beat}", "[[item]]", f"tune = {_quoted(item.tune)}", f"gap = {gap.number}",
            f"fill = {_quoted(fill.id)}", f"level = {_quoted(item.level)}",
            f"hand = {_quoted(item.hand)}", f"show = {_quoted(show)}", ""]))
    return "".join(parts)


def _quoted(text: str) -> str:
    """A text as TOML writes it; JSON's way is one of them but for one sign."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
