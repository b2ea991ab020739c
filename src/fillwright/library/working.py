"""Which devices a gap takes for a player: what may be used, and what is offered.

Three depths, each exact in what it says:

may       every device that may be used at the gap: a texture that is tried there, a move that
          stands in a progression of the gap, a line that is taught at the level. One that is not
          among them is never offered. No hand is moved for it: some ten milliseconds a gap.
offered   the first three options of each family, as `fillwright fills` prints them, with the
          difficulty of each.
full      all options that the program would ever offer there.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

from fillwright.arranging.build import prepare
from fillwright.arranging.model import Options
from fillwright.errors import InputError
from fillwright.fills.devices.comp.family import textures_at
from fillwright.fills.devices.registry import DEVICES, LINE_DEVICES, devices_in
from fillwright.fills.devices.reharm.family import PLANS
from fillwright.fills.devices.reharm.plan import plans
from fillwright.fills.hearing import hear, situation_of
from fillwright.fills.player import player_of
from fillwright.fills.propose import no_room, propose
from fillwright.fills.situation import LEAST_SECONDS, Situation, Task, task_of
from fillwright.tune.model import Tune

__all__ = ["DEPTHS", "FAMILY_OF", "DeviceOffer", "GapWork", "Work", "check_depth", "devices_in",
           "work_out"]

DEPTHS = ("may", "offered", "full")
_COUNTS = MappingProxyType({"offered": 3, "full": 1000})


@dataclass(frozen=True, slots=True)
class DeviceOffer:
    """A device that is offered: its best option's difficulty and place among the options of its
    family, from 1."""

    family: str
    name: str
    difficulty: int
    rank: int


@dataclass(frozen=True, slots=True)
class GapWork:
    """A gap's devices: those that may be used, by name, and those that are offered."""

    number: int
    may: frozenset[str]
    offers: tuple[DeviceOffer, ...] = ()


@dataclass(frozen=True, slots=True)
class Work:
    """What was worked out of a tune for a player, to a depth of `DEPTHS`."""

    level: str
    hand: str
    depth: str
    gaps: tuple[GapWork, ...]


def check_depth(depth: str) -> str:
    """Raises InputError for what is none of `DEPTHS`."""
    if depth not in DEPTHS:
        raise InputError(f"{depth!r} is no depth; there are {', '.join(DEPTHS)}")
    return depth


def work_out(tune: Tune, level: str, hand: str, depth: str) -> Work:
    """The devices of every gap. Raises InputError for a level, hand or depth that is none."""
    check_depth(depth)
    player = player_of(level, hand)
    chorus, gaps = prepare(tune, Options(level=level, hand=hand))
    hearing = hear(chorus)
    known: dict[Situation, frozenset[str]] = {}
    may: list[frozenset[str]] = []
    for gap in gaps:
        if gap.seconds < LEAST_SECONDS:
            may.append(frozenset())
            continue
        situation = situation_of(hearing, gaps, gap.number)
        if situation not in known:
            known[situation] = _may(task_of(situation, player))
        may.append(known[situation])
    offers: dict[int, dict[tuple[str, str], DeviceOffer]] = {}
    if depth != "may":
        ranks: dict[tuple[int, str], int] = {}
        for fill in propose(chorus, gaps, level=level, hand=hand, count=_COUNTS[depth]).fills:
            rank = ranks[fill.gap, fill.family] = ranks.get((fill.gap, fill.family), 0) + 1
            found = offers.setdefault(fill.gap, {})
            for name in devices_in(fill.device, fill.family):
                found.setdefault((fill.family, name),
                                 DeviceOffer(fill.family, name, fill.difficulty, rank))
    return Work(level, hand, depth, tuple(
        GapWork(gap.number, one, tuple(offers.get(gap.number, {}).values()))
        for gap, one in zip(gaps, may, strict=True)))


def _may(task: Task) -> frozenset[str]:
    if no_room(task):
        return frozenset()
    comp = {texture.name for texture in textures_at(task, task.player)[2]}
    reharm = {name for plan in plans(task, PLANS) for name in devices_in(plan.device, "reharm")}
    line = {device.name for device in LINE_DEVICES if device.is_taught(task.player.level)}
    return frozenset(comp | reharm | line)


FAMILY_OF: MappingProxyType[str, str] = MappingProxyType({
    device.name: family for family, devices in DEVICES.items() for device in devices})
"""The name in a table: its family."""
