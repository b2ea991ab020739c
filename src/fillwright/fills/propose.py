"""All options for the gaps of a chorus, best first, or the reason why there are none."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace
from types import MappingProxyType

from fillwright.fills.asked import check_asked
from fillwright.fills.devices.comp.family import COMP
from fillwright.fills.devices.line.family import LINE
from fillwright.fills.devices.reharm.family import REHARM
from fillwright.fills.hearing import hear, situation_of
from fillwright.fills.model import FAMILIES, EmptyFamily, Fill, Proposal
from fillwright.fills.offer import Family, offer
from fillwright.fills.place import placed
from fillwright.fills.player import player_of
from fillwright.fills.situation import LEAST_SECONDS, Situation, Task, task_of
from fillwright.tune.model import Chorus, Gap

__all__ = ["MOST_BEATS", "fills_of", "propose"]

MOST_BEATS = 40
"""Ten bars of four; real sheets have gaps of up to nine beats, introductions up to eight bars."""

_FAMILIES: MappingProxyType[str, Family] = MappingProxyType(
    {"comp": COMP, "reharm": REHARM, "line": LINE})

_NEVER_AGAIN = frozenset({"line"})
"""Families that say something else where the music comes again."""


def fills_of(task: Task, family: str, count: int) -> tuple[Fill, ...] | str:
    """At most `count` distinct fills of one family, best first, or a sentence why none.

    They count from the gap's onset and are not placed yet (see `fills.place`).
    """
    if not task.spans:
        return "no chord sounds in this gap"
    if task.duration_sec < LEAST_SECONDS:
        return f"{task.duration_sec:.1f} seconds are too short to leave the melody and come back"
    if task.beats > MOST_BEATS:
        return (f"{float(task.beats):g} beats are a solo of their own, more than one fill "
                f"({MOST_BEATS} at most)")
    found = offer(_FAMILIES[family], task, count)
    return found if isinstance(found, str) else _numbered(found)


def _numbered(fills: tuple[Fill, ...]) -> tuple[Fill, ...]:
    """Options that share device, rhythm and added chords, told apart by a number."""
    seen: dict[str, int] = {}
    result = []
    for fill in fills:
        seen[fill.id] = seen.get(fill.id, 0) + 1
        if seen[fill.id] > 1:
            name = f"{fill.id}-{seen[fill.id]}"
            fill = replace(fill, id=name, chords=tuple(
                replace(c, fill=name) if c.added else c for c in fill.chords))
        result.append(fill)
    return tuple(result)


def propose(chorus: Chorus, gaps: tuple[Gap, ...], *, level: str = "intermediate",
            hand: str = "medium", families: Collection[str] | None = None,
            numbers: Collection[int] | None = None, count: int = 3,
            without: Collection[str] = (),
            progress: Callable[[int, int], None] | None = None) -> Proposal:
    """Options for every gap (or those in `numbers`) and family.

    count     at most this many per gap and family
    without   names of devices that are switched off
    progress  called with (gaps done, gaps in all)

    Raises InputError where the level, hand, a family, number or device is none.
    """
    without = check_asked(chorus, gaps, level=level, hand=hand, families=families,
                          numbers=numbers, count=count, without=without)
    fills: list[Fill] = []
    empty: list[EmptyFamily] = []
    hearing, player = hear(chorus), player_of(level, hand)
    wanted = [g for g in gaps if numbers is None or g.number in numbers]
    known: dict[tuple[Situation, str, int], tuple[Fill, ...] | str] = {}
    for done, gap in enumerate(wanted, start=1):
        situation = situation_of(hearing, gaps, gap.number)
        for family in FAMILIES:
            if families is not None and family not in families:
                continue
            key = situation, family, situation.form.time if family in _NEVER_AGAIN else 0
            if key not in known:
                known[key] = fills_of(
                    task_of(situation, player, without),
                    family, count)
            found = known[key]
            if isinstance(found, str):
                empty.append(EmptyFamily(gap.number, family, found))
            else:
                fills += [replace(placed(fill, gap), chorus=chorus) for fill in found]
        if progress is not None:
            progress(done, len(wanted))
    return Proposal(tuple(fills), tuple(empty))
