"""All options for the gaps of a chorus, best first, or the reason why there are none."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from types import MappingProxyType

from fillwright.errors import InputError
from fillwright.fills.asked import check_asked
from fillwright.fills.devices.comp.family import COMP
from fillwright.fills.devices.line.family import LINE
from fillwright.fills.devices.reharm.family import REHARM
from fillwright.fills.hearing import hear, situation_of
from fillwright.fills.model import FAMILIES, EmptyFamily, Fill, Proposal
from fillwright.fills.offer import Family, offer
from fillwright.fills.place import placed
from fillwright.fills.player import Player, player_of
from fillwright.fills.processes import dealt, spread
from fillwright.fills.situation import LEAST_SECONDS, Situation, Task, task_of
from fillwright.memory import OFFERS
from fillwright.tune.gaps import find_gaps
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
    if task.beats > MOST_BEATS:
        return (f"{float(task.beats):g} beats are a solo of their own, more than one fill "
                f"({MOST_BEATS} at most)")
    found = offer(_FAMILIES[family], task, count)
    return found if isinstance(found, str) else _numbered(found)


def _asked(task: Task, gap: Gap, family: str, count: int) -> tuple[Fill, ...] | str:
    """The options of one family for a gap. Whether there is time for any is the one thing that
    its own seconds decide, not those of its pace."""
    if task.spans and gap.seconds < LEAST_SECONDS:
        return f"{gap.seconds:.1f} seconds are too short to leave the melody and come back"
    return _kept(task, family, count, task.form.time if family in _NEVER_AGAIN else 0)


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


@OFFERS.keep
def _kept(task: Task, family: str, count: int, time: int) -> tuple[Fill, ...] | str:
    """`fills_of`, remembered; `time` where the family minds how often the music was heard."""
    return fills_of(task, family, count)


@dataclass(frozen=True, slots=True)
class _Wish:
    """What is asked of every gap of a chorus."""

    chorus: Chorus
    gaps: tuple[Gap, ...]
    player: Player
    families: tuple[str, ...]
    count: int
    without: frozenset[str]
    same_each_time: bool = False

    def answers(self, numbers: Sequence[int]) -> Iterator[tuple[int, list[Fill | EmptyFamily]]]:
        """The options of these gaps, one gap after the other; they do not know their chorus."""
        hearing = hear(self.chorus)
        for number in numbers:
            gap = self.gaps[number - 1]
            situation = situation_of(hearing, self.gaps, number)
            if self.same_each_time:
                situation = replace(situation, form=replace(situation.form, time=0))
            task = task_of(situation, self.player, self.without)
            answer: list[Fill | EmptyFamily] = []
            for family in self.families:
                found = _asked(task, gap, family, self.count)
                if isinstance(found, str):
                    answer.append(EmptyFamily(number, family, found))
                else:
                    answer += [placed(fill, gap) for fill in found]
            yield number, answer

    def all_answers(self, numbers: Sequence[int]) -> list[tuple[int, list[Fill | EmptyFamily]]]:
        return list(self.answers(numbers))

    def parts(self, numbers: Sequence[int], processes: int) -> list[list[int]]:
        """The numbers in parts; gaps that are heard alike stay together and are found once."""
        hearing = hear(self.chorus)
        alike: dict[Situation, list[int]] = {}
        for number in numbers:
            alike.setdefault(situation_of(hearing, self.gaps, number), []).append(number)
        return dealt(list(alike.values()), processes)


def propose(chorus: Chorus, gaps: tuple[Gap, ...], *, level: str = "intermediate",
            hand: str = "medium", families: Collection[str] | None = None,
            numbers: Collection[int] | None = None, count: int = 3,
            without: Collection[str] = (), same_each_time: bool = False, processes: int = 1,
            progress: Callable[[int, int], None] | None = None) -> Proposal:
    """Options for every gap (or those in `numbers`) and family.

    count     at most this many per gap and family
    without   names of devices that are switched off
    same_each_time   music that comes again has the options it had, lines too
    processes over how many processes the gaps are spread; the options are the same
    progress  called with (gaps done, gaps in all)

    Raises InputError where the level, hand, a family, number or device is none.
    """
    without = check_asked(chorus, gaps, level=level, hand=hand, families=families,
                          numbers=numbers, count=count, without=without, processes=processes,
                          progress=progress, same_each_time=same_each_time)
    every = tuple(gaps)
    if any(gap.number != place for place, gap in enumerate(gaps, 1)):  # some of them
        every = find_gaps(chorus)
        if not set(gaps) <= set(every):
            raise InputError("the gaps are those that find_gaps(chorus) gives")
    wish = _Wish(chorus, every, player_of(level, hand),
                 tuple(f for f in FAMILIES if families is None or f in families), count, without,
                 same_each_time)
    chosen = None if numbers is None else frozenset(numbers)
    wanted = [gap.number for gap in gaps if chosen is None or gap.number in chosen]
    known: dict[int, list[Fill | EmptyFamily]] = {}
    for number, answer in (wish.answers(wanted) if processes == 1 else chain.from_iterable(spread(
            wish.all_answers, wish.parts(wanted, processes), processes))):
        known[number] = answer
        if progress is not None:
            progress(len(known), len(wanted))
    ordered = [one for number in wanted for one in known[number]]
    return Proposal(
        tuple(replace(one, chorus=chorus) for one in ordered if isinstance(one, Fill)),
        tuple(one for one in ordered if isinstance(one, EmptyFamily)))
