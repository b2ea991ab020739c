"""The offer: from a family's candidates the best that differ and can be played.

A `Family` is an object that gives a stream of candidates, best first. `options` reads it,
keeps to one notion of "another idea" (see `fillwright.fills.idea`), has every draft finished,
and gives the fills in the order in which they are chosen. Nothing in that order depends on
how many are asked for, so asking for one more begins with what was given before.

The order: as the stream comes, but what stands back comes after the rest: a device that is
offered already, what is far from the best, what the family itself holds back, and what does
not suit the level. Of what stands back, what the family holds back comes last; else devices
offered least come first, then the cheapest.

Where a task states an idea, `taken_up` gives what takes it up instead: what the family finds for
it is finished and then heard, so that only what a listener knows again is given.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Protocol

from fillwright.fills.draft import Draft
from fillwright.fills.finish import finish
from fillwright.fills.idea import Idea
from fillwright.fills.model import Fill
from fillwright.fills.player import Player
from fillwright.fills.relation import Relation, cell_of, relation_of
from fillwright.fills.situation import Task

__all__ = ["ENOUGH", "Candidate", "Family", "options", "played_of", "taken_up"]

ENOUGH = 6
"""Options of a gap after which nothing far from the best is offered."""

TRIED = 16
"""Drafts of a family that are finished for one stated idea, at most ..."""

TURNS = 4
"""... and of one candidate (design choice: what takes an idea up is near the top, or nowhere)."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """An idea that may be offered.

    cost      as costs of the family go; the cheapest come first
    device    its name; a device is offered once before any is offered again
    drafts    the ways to play it, best first, given how many options stand before it (so that
              the options of a page need not all be played alike). They are built when they are
              asked for; the first that is another idea and is not refused is offered
    idea      where it is known before a draft is built; None where the draft tells
    last      held back by its family until nothing better is left
    """

    cost: int
    device: str
    drafts: Callable[[int], Iterable[Draft]]
    idea: Idea | None = None
    last: bool = False


class Family(Protocol):
    """One of the three ways to answer a gap.

    name       "comp", "reharm" or "line"
    far        how much dearer than the best option a candidate may be and still be taken as
               it comes
    patience   after so many drafts refused in a row no more are built
    """

    name: str
    far: int
    patience: int

    def candidates(self, situation: Task, player: Player, without: frozenset[str]
                   ) -> Iterator[Candidate]:
        """The candidates, best first, found as they are asked for.

        without   names of devices that are switched off; they are not in the stream
        """
        ...

    def related(self, task: Task) -> Iterator[Candidate]:
        """Candidates that may take up the idea a task states, best first."""
        ...

    def suits(self, fill: Fill, player: Player) -> bool:
        """Whether a fill is what the level wants. What is too plain or a strain stands back."""
        ...

    def why_not(self, situation: Task, player: Player) -> str:
        """Why there is nothing to offer, in a sentence without its full stop."""
        ...


def options(family: Family, task: Task) -> Iterator[Fill]:
    """The options of a gap, one after the other, found as they are asked for."""
    state = _State(family, task)
    for candidate in family.candidates(task, task.player, task.without):
        if state.refused >= family.patience:
            break
        if candidate.last or state.known[candidate.device] or state.is_far(candidate):
            state.waiting.append(_Waiting(candidate))
            continue
        fill = state.finished(candidate)
        if fill is None:
            continue
        if not family.suits(fill, task.player):
            state.waiting.append(_Waiting(candidate, fill))
            continue
        yield state.take(candidate, fill)
    while state.waiting:
        one = state.next_waiting()
        if len(state.taken) >= ENOUGH and state.is_far(one.candidate):
            continue
        fill = one.fill or state.finished(one.candidate)
        if fill is not None and state.is_new(fill.idea):
            yield state.take(one.candidate, fill)


def played_of(candidates: Iterable[Candidate], task: Task, count: int) -> tuple[Fill, ...]:
    """At most `count` fills made of the first candidates, no two of one device."""
    found: dict[str, Fill] = {}
    for candidate in islice(candidates, TRIED):
        for draft in islice(candidate.drafts(0), TURNS):
            fill = None if draft.device in (*task.without, *found) else finish(task, draft)
            if isinstance(fill, Fill):
                found[draft.device] = fill
                break
        if len(found) == count:
            break
    return tuple(found.values())


def taken_up(family: Family, task: Task, count: int) -> tuple[Fill, ...]:
    """At most `count` fills that take up the idea a task states, each in another way; none where
    the family finds none."""
    stated = task.stated
    assert stated is not None
    found: dict[Relation, Fill] = {}
    tried = 0
    for candidate in family.related(task):
        if candidate.device in task.without:
            continue
        for draft in islice(candidate.drafts(0), TURNS):
            tried += 1
            fill = finish(task, draft) if draft.device not in task.without else None
            if isinstance(fill, Fill) and fill.shift is None:
                way = relation_of(stated.cell, cell_of(fill, task.onset_quarter))
                if way not in (None, Relation.COPY) and way not in found:
                    found[way] = fill
                    break
        if len(found) == count or tried >= TRIED:
            break
    return tuple(found.values())


@dataclass(frozen=True, slots=True)
class _Waiting:
    """What stands back; `fill` where it is finished already."""

    candidate: Candidate
    fill: Fill | None = None


class _State:
    """What an offer has so far: its options, how often each device is among them, what stands
    back, and how many drafts were refused since the last option."""

    def __init__(self, family: Family, task: Task) -> None:
        self.family, self.task = family, task
        self.taken: list[Fill] = []
        self.known: Counter[str] = Counter()
        self.waiting: list[_Waiting] = []
        self.refused = 0

    def is_far(self, candidate: Candidate) -> bool:
        if not self.taken:
            return False
        return candidate.cost > min(f.total_cost for f in self.taken) + self.family.far

    def is_new(self, idea: Idea) -> bool:
        return all(idea.is_another_than(fill.idea) for fill in self.taken)

    def next_waiting(self) -> _Waiting:
        def rank(place: int) -> tuple[bool, int, int, int]:
            one = self.waiting[place].candidate
            return one.last, self.known[one.device], one.cost, place

        return self.waiting.pop(min(range(len(self.waiting)), key=rank))

    def take(self, candidate: Candidate, fill: Fill) -> Fill:
        self.taken.append(fill)
        self.known[candidate.device] += 1
        self.refused = 0
        return fill

    def finished(self, candidate: Candidate) -> Fill | None:
        """The first way to play a candidate that is a new idea and is not refused."""
        if candidate.device in self.task.without or (
                candidate.idea is not None and not self.is_new(candidate.idea)):
            return None
        for draft in candidate.drafts(len(self.taken)):
            if self.refused >= self.family.patience:
                return None
            if draft.device in self.task.without or not self.is_new(draft.idea):
                continue
            fill = finish(self.task, draft)
            if isinstance(fill, Fill):
                return fill
            self.refused += 1
        return None
