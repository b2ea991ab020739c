"""All options for the gaps of a chorus, best first, or the reason why there are none."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, islice
from types import MappingProxyType

from fillwright.errors import InputError
from fillwright.fills.asked import check_asked
from fillwright.fills.devices.comp.family import COMP
from fillwright.fills.devices.line.family import LINE
from fillwright.fills.devices.reharm.family import REHARM
from fillwright.fills.hearing import hear, situation_of
from fillwright.fills.model import FAMILIES, EmptyFamily, Fill, Proposal
from fillwright.fills.offer import Family, options, played_of, taken_up
from fillwright.fills.place import HEIGHT, TAKES_UP, placed
from fillwright.fills.player import Player, player_of
from fillwright.fills.processes import dealt, spread
from fillwright.fills.relation import Stated, stated_by
from fillwright.fills.situation import LEAST_SECONDS, Situation, Task, task_of
from fillwright.memory import OFFERS
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import Chorus, Gap

__all__ = ["fills_in_turn", "fills_of", "no_room", "propose", "shout", "take_up", "why_none"]

MOST_BEATS = 40
"""Ten bars of four; real sheets have gaps of up to nine beats, introductions up to eight bars."""

_FAMILIES: MappingProxyType[str, Family] = MappingProxyType(
    {"comp": COMP, "reharm": REHARM, "line": LINE})

TAKEN_UP = 3
"""Ways in which a family takes up an idea, at most."""

_NEVER_AGAIN = frozenset({"line"})
"""Families that say something else where the music comes again."""


def fills_of(task: Task, family: str, count: int) -> tuple[Fill, ...] | str:
    """At most `count` distinct fills of one family, best first, or a sentence why none.

    They count from the gap's onset and are not placed yet (see `fills.place`).
    """
    found = tuple(islice(fills_in_turn(task, family), count))
    return found or why_none(task, family)


def fills_in_turn(task: Task, family: str) -> Iterator[Fill]:
    """The same one after the other, found as they are asked for."""
    if not no_room(task):
        yield from _numbered(options(_FAMILIES[family], task))


def why_none(task: Task, family: str) -> str:
    """Why a gap has no fill of a family, in a sentence without its full stop."""
    return no_room(task) or _FAMILIES[family].why_not(task, task.player)


def no_room(situation: Situation, gap: Gap | None = None) -> str:
    """Why a gap is left to the tune whatever the family, in a sentence without its full stop; ""
    where it is not. Whether there is time for any fill is the one thing that the gap's own seconds
    decide, not those of its pace."""
    if not situation.spans:
        return "no chord sounds in this gap"
    if gap is not None and gap.seconds < LEAST_SECONDS:
        return f"{gap.seconds:.1f} seconds are too short to leave the melody and come back"
    if situation.beats > MOST_BEATS:
        return (f"{float(situation.beats):g} beats are a solo of their own, more than one fill "
                f"({MOST_BEATS} at most)")
    return ""


def _asked(task: Task, gap: Gap, family: str, count: int) -> tuple[Fill, ...] | str:
    """The options of one family for a gap."""
    form = task.form
    return no_room(task, gap) or _kept(
        task, family, count,
        (form.time, form.turn, form.turns) if family in _NEVER_AGAIN else None)


def _numbered(fills: Iterable[Fill]) -> Iterator[Fill]:
    """Options that share device, rhythm and added chords, told apart by a number."""
    seen: dict[str, int] = {}
    for fill in fills:
        seen[fill.id] = seen.get(fill.id, 0) + 1
        if seen[fill.id] > 1:
            name = f"{fill.id}-{seen[fill.id]}"
            fill = replace(fill, id=name, chords=tuple(
                replace(c, fill=name) if c.added else c for c in fill.chords))
        yield fill


@OFFERS.keep
def _kept(task: Task, family: str, count: int, times: tuple[int, int, int] | None
          ) -> tuple[Fill, ...] | str:
    """`fills_of`, remembered; `times` where the family minds how often the like was heard."""
    return fills_of(task, family, count)


@OFFERS.keep
def _kept_again(task: Task, family: str, count: int) -> tuple[Fill, ...]:
    return taken_up(_FAMILIES[family], task, count)


@OFFERS.keep
def _kept_shouts(task: Task, count: int) -> tuple[Fill, ...]:
    return played_of(COMP.at_the_height(task), task, count)


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
            situation = situation_of(hearing, self.gaps, number, self.same_each_time)
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


def take_up(chorus: Chorus, gaps: tuple[Gap, ...], number: int, stated: Fill, player: Player,
            without: Collection[str] = ()) -> tuple[Fill, ...]:
    """Fills of a gap that take up a fill of an earlier one where the music was the same: displaced,
    thicker, elsewhere, in another family. They are beside what `propose` gives there, and their
    ids name the fill they take up.

    stated    a fill of another gap of this chorus
    without   names of devices that are switched off, checked before
    """
    task = _asked_for(chorus, gaps, number, player, without,
                      stated_by(stated, gaps[stated.gap - 1].onset_quarter))
    return () if task is None else tuple(
        fill for family in FAMILIES
        for fill in _named(_kept_again(task, family, TAKEN_UP), chorus, gaps[number - 1],
                           stated.id))


def shout(chorus: Chorus, gaps: tuple[Gap, ...], number: int, player: Player,
          without: Collection[str] = ()) -> tuple[Fill, ...]:
    """Fills of a gap for the high point of a chorus: full chords of both hands. They are beside
    what `propose` gives there, and their ids say so.

    without   names of devices that are switched off, checked before
    """
    if not player.level.comp.shouts:
        return ()
    task = _asked_for(chorus, gaps, number, player, without)
    return () if task is None else _named(_kept_shouts(task, TAKEN_UP), chorus, gaps[number - 1],
                                          HEIGHT)


def _asked_for(chorus: Chorus, gaps: tuple[Gap, ...], number: int, player: Player,
               without: Collection[str], stated: Stated | None = None) -> Task | None:
    """A gap with what is asked for in its chorus; None where there is no time for any fill."""
    situation = situation_of(hear(chorus), gaps, number)
    if no_room(situation, gaps[number - 1]):
        return None
    return task_of(situation, player, frozenset(without), stated)


def _named(fills: tuple[Fill, ...], chorus: Chorus, gap: Gap, why: str) -> tuple[Fill, ...]:
    """Fills at their place, with the reason they were asked for in their ids."""
    return tuple(replace(placed(replace(fill, id=f"{fill.id}{TAKES_UP}{why}"), gap), chorus=chorus)
                 for fill in _numbered(fills))
