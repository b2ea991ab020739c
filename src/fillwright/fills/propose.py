"""All options for the gaps of a chorus, best first, or the reason why there are none."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable
from dataclasses import replace
from types import MappingProxyType

from fillwright.fills.devices.comp.family import propose_comp
from fillwright.fills.devices.line.family import propose_line
from fillwright.fills.devices.reharm.family import propose_reharm
from fillwright.fills.model import FAMILIES, EmptyFamily, Fill, Proposal
from fillwright.fills.reuse import moved, surroundings
from fillwright.fills.situation import LEAST_SECONDS, GapContext, make_context
from fillwright.tune.model import Chorus, Gap

__all__ = ["MOST_BEATS", "propose", "propose_gap"]

MOST_BEATS = 40
"""Ten bars of four; real sheets have gaps of up to nine beats, introductions up to eight bars."""

_PROPOSERS: MappingProxyType[str, Callable[[GapContext, int], tuple[Fill, ...] | str]] = (
    MappingProxyType({"comp": propose_comp, "reharm": propose_reharm, "line": propose_line}))


def propose_gap(context: GapContext, family: str, count: int) -> tuple[Fill, ...] | str:
    """At most `count` distinct fills of one family, best first, or a sentence why none."""
    if not context.spans:
        return "no chord sounds in this gap"
    if context.gap.seconds < LEAST_SECONDS:
        return (f"{context.gap.seconds:.1f} seconds are too short to leave the melody and "
                "come back")
    if context.gap.beats > MOST_BEATS:
        return (f"{float(context.gap.beats):g} beats are a solo of their own, more than one "
                f"fill ({MOST_BEATS} at most)")
    found = _PROPOSERS[family](context, count)
    if isinstance(found, str):
        return found
    # A device may be two in a row; switched off by its whole name, it is left out here.
    kept = tuple(fill for fill in found if fill.device not in context.without)
    return _numbered(kept) or "nothing fits here"


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
    """
    fills: list[Fill] = []
    empty: list[EmptyFamily] = []
    wanted = [g for g in gaps if numbers is None or g.number in numbers]
    known: dict[tuple[Hashable, str], tuple[GapContext, tuple[Fill, ...] | str]] = {}
    for done, gap in enumerate(wanted, start=1):
        context = make_context(chorus, gaps, gap.number, level=level, hand=hand,
                               without=frozenset(without))
        near = surroundings(context)
        for family in FAMILIES:
            if families is not None and family not in families:
                continue
            if (near, family) in known:
                origin, found = known[near, family]
                if not isinstance(found, str):
                    found = tuple(moved(fill, origin, context) for fill in found)
            else:
                found = propose_gap(context, family, count)
                known[near, family] = (context, found)
            if isinstance(found, str):
                empty.append(EmptyFamily(gap.number, family, found))
            else:
                fills += found
        if progress is not None:
            progress(done, len(wanted))
    return Proposal(tuple(fills), tuple(empty))
