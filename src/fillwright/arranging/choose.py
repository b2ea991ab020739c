"""Which fill goes into which gap: one path through a lattice of gaps.

States of a gap are its options and the choice to leave it open; an open state remembers
the device heard last, so that no device comes twice in a row even with air between. What a
path cannot know (how often a device comes in all, what an idea that comes back is made of) is
priced from round to round against the best choice so far; the cheapest whole choice is kept.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt

from fillwright.arranging.merit import (
    STRAINED,
    Setting,
    Wishes,
    fill_costs,
    is_late,
    is_tied_in_layers,
    open_cost,
)
from fillwright.arranging.story import Story
from fillwright.exact import Fraction
from fillwright.fills.model import FAMILIES, Fill
from fillwright.fills.place import taken_from
from fillwright.fills.relation import Cell, Relation, cell_of, develops, relation_of
from fillwright.lattice import FORBIDDEN, k_best_paths
from fillwright.tune.model import Gap

__all__ = ["COSTS", "choose_fills", "ranked", "shifts_of"]

COSTS: Mapping[str, int] = {
    # Units: one step down the ranking of a family costs "rank". All common practice.
    "rank": 4,
    "same family": 6,      # the family of the fill before
    "same rhythm": 6,      # the onsets of the fill before, wherever it stood in its bar
    "open twice": 14,      # two open gaps in a row, neither of them to breathe
    "crowded": 8,          # a fill right after a filled gap, with less than a bar between
    "again": 9,            # per two fills of one device within `_MEMORY_BARS`
    "rhythm again": 3,     # per two fills of one rhythm within them
    "rolled": 30,          # per rolled chord beyond one in eight bars
    "never shifted": 16,   # no landing comes early in a chorus where one could
    "shifted": 40,         # per early or late landing beyond `shifts_of`: a surprise, not a habit
    "mix": 7,              # per fill more or fewer of a family than its share
    "copied": 60,          # where the phrase comes again: note for note what stood there
    "taken up": -26,       # there: its idea comes back changed
    "goes on": -14,        # elsewhere: it makes more of the idea of the fill before
    "worn": 9,             # there: its rhythm a third time and more; it is no news then
    "one way": 5,          # per earlier idea that came back changed in the same way
    "copied elsewhere": 30,  # note for note an earlier fill of another place
    "not copied": 60,      # where "the same each time" is asked for: anything else
}

_WORN = 2
"""So often a rhythm was heard when it is worn out: said, and said again."""

_MEMORY_BARS = 32
"""So far back a listener hears that a device or a rhythm comes again: a form (common practice).
A longer piece is not poorer in fills for it."""

_ROUNDS = 12

_MOST_LOOKS = 400
"""Pairs of fills that are tried for ideas to come back."""

_ROLL_BARS = 8
"""One rolled chord in so many bars is colour; more is a mannerism, and a hand that rolls
everything is too small for the arrangement (common practice)."""
_ROLLED = "rolled"

_SHIFT_BARS, _MOST_SHIFTS = 32, 2
"""One early or late landing in so many bars, one at least and never more than two in all."""
_SHIFTED = "shifted"

Row = npt.NDArray[np.int64]
Priced = str | tuple[Fraction, ...]
"""What may come too often: a device, a family, a rhythm, a roll, a shifted landing."""


@dataclass(frozen=True, slots=True)
class _State:
    fill: Fill | None
    last: tuple[str, str] | None
    """Family and device of the fill heard last, here or before."""
    rank: int = 0
    breathes: bool = False
    """It is open because the chorus is to breathe here."""


@dataclass(frozen=True, slots=True)
class _Layer:
    """A gap: its states, what each costs by itself, and to follow each of the gap before."""

    states: list[_State]
    costs: Mapping[str, Row]
    order: Row


class _SoFar:
    """Fills by their gap; and where each set of keys comes first, so that a copy is found without
    looking through all of them."""

    def __init__(self, cells: Mapping[str, Cell], fills: Sequence[Fill] = ()) -> None:
        self._cells = cells
        self._by_gap: dict[int, Fill] = {}
        self._first: dict[frozenset[tuple[Fraction, int]], int] = {}
        self._rhythms: Counter[tuple[Fraction, ...]] = Counter()
        for fill in fills:
            self.add(fill)

    def add(self, fill: Fill) -> None:
        self._by_gap[fill.gap] = fill
        keys = self._cells[fill.id].keys
        self._first[keys] = min(fill.gap, self._first.get(keys, fill.gap))
        self._rhythms[self._cells[fill.id].onsets] += 1

    def at(self, gap: int) -> Fill | None:
        return self._by_gap.get(gap)

    def before(self, gap: int) -> Fill | None:
        """The fill heard last before a gap."""
        return next((self._by_gap[number] for number in range(gap - 1, 0, -1)
                     if number in self._by_gap), None)

    def is_worn(self, fill: Fill) -> bool:
        """Whether two others have the rhythm of a fill."""
        own = self._by_gap.get(fill.gap)
        onsets = self._cells[fill.id].onsets
        return self._rhythms[onsets] - (
            own is not None and self._cells[own.id].onsets == onsets) >= _WORN

    def has_before(self, fill: Fill) -> bool:
        """Whether an earlier gap has a fill of the same keys at the same places."""
        first = self._first.get(self._cells[fill.id].keys)
        return first is not None and first < fill.gap


class _Task:
    """One chorus to choose for: what stays the same from round to round."""

    def __init__(self, story: Story, options: Mapping[int, Sequence[Fill]],
                 picked: Mapping[int, Fill | None], wishes: Wishes) -> None:
        chorus, gaps = story.chorus, story.gaps
        self.gaps, self.picked, self.story, self.wishes = gaps, picked, story, wishes
        self.setting = Setting.of(story, wishes)
        self.bar_quarter = chorus.meter.length_quarter
        # A melody that waits for a fill and is squeezed to catch up is a pick of the user's.
        self.options = {number: [f for f in fills if wishes.mix.get(f.family, 0) > 0
                                 and not is_late(f, gaps[number - 1])]
                        for number, fills in options.items()}
        every = [f for fills in self.options.values() for f in fills]
        every += [f for f in picked.values() if f is not None]
        onsets = {gap.number: gap.onset_quarter for gap in gaps}
        self.onsets = onsets
        self.forms = max(float(chorus.length_quarter / (_MEMORY_BARS * self.bar_quarter)), 1.0)
        self.cells: dict[str, Cell] = {f.id: cell_of(f, onsets[f.gap]) for f in every}
        self._relations: dict[tuple[str, str], Relation | None] = {}
        self._developed: dict[tuple[str, str], bool] = {}
        self._rows: dict[tuple[int, str | None, tuple[str, str] | None, str | None], int] = {}
        self.rolls = {f.id: _rolls(f) for f in every}
        self.ranks = {f.id: rank for fills in self.options.values() for family in FAMILIES
                      for rank, f in enumerate(f for f in fills if f.family == family
                                               and taken_from(f.id) is None)}
        self.rolls_free = int(chorus.length_quarter / (_ROLL_BARS * self.bar_quarter))
        self.most_shifts = shifts_of(chorus.length_quarter, self.bar_quarter)
        self.alone = {f.id: sum(fill_costs(self.setting, gaps[f.gap - 1], f).values())
                      for f in every}
        self.pushed = frozenset(f.id for f in every if f.shift is not None
                                and not is_late(f, gaps[f.gap - 1]))
        self.layers = _layers(self)

    def relation(self, first: Fill, again: Fill) -> Relation | None:
        """How a fill takes up an earlier one; asked of the same few pairs again and again."""
        pair = first.id, again.id
        if pair not in self._relations:
            self._relations[pair] = relation_of(self.cells[first.id], self.cells[again.id])
        return self._relations[pair]

    def develops(self, first: Fill, again: Fill) -> bool:
        pair = first.id, again.id
        if pair not in self._developed:
            self._developed[pair] = develops(self.cells[first.id], self.cells[again.id])
        return self._developed[pair]

    def in_row(self, index: int, before: Fill | None, last: tuple[str, str] | None,
               fill: Fill | None) -> int:
        """As `_in_row`; whole choices that are compared differ in two gaps."""
        key = (index, None if before is None else before.id, last,
               None if fill is None else fill.id)
        if key not in self._rows:
            self._rows[key] = _in_row(self, index, before, last, fill)
        return self._rows[key]

    def heard_near(self, chosen: Sequence[Fill]) -> tuple[
            dict[str, tuple[int, int]], dict[tuple[Fraction, ...], tuple[int, int]]]:
        """Devices and rhythms, each with how many pairs of its fills lie near each other, and
        how often it comes."""
        devices: dict[str, list[Fraction]] = {}
        rhythms: dict[tuple[Fraction, ...], list[Fraction]] = {}
        for fill in chosen:
            onset = self.onsets[fill.gap]
            devices.setdefault(fill.device, []).append(onset)
            rhythms.setdefault(fill.idea.onsets, []).append(onset)
        near = _MEMORY_BARS * self.bar_quarter
        return ({name: (_pairs_within(row, near), len(row)) for name, row in devices.items()},
                {name: (_pairs_within(row, near), len(row)) for name, row in rhythms.items()})

    def pairs(self, first: int, again: int) -> Iterator[tuple[Fill, Fill]]:
        """The fills of two gaps of which the second takes up the first."""
        for one in self._free(first):
            for two in self._free(again):
                if self.relation(one, two) not in (None, Relation.COPY):
                    yield one, two

    def _free(self, number: int) -> Sequence[Fill]:
        if number not in self.picked:
            return self.options.get(number, ())
        picked = self.picked[number]
        return () if picked is None else (picked,)

    def coming_back(self, fill: Fill, heard: _SoFar, ways: Mapping[Relation, int]
                    ) -> tuple[int, Relation | None]:
        """What a fill costs for what it takes from those heard before it, and how it takes
        it up.

        ways   how often each way was taken before
        """
        place = self.story.returns.get(fill.gap)
        first = None if place is None else heard.at(place)
        relation = None if first is None else self.relation(first, fill)
        if place is not None and self.wishes.same_each_time:
            return (0 if relation is Relation.COPY else COSTS["not copied"]), relation
        if relation is Relation.COPY:
            return COSTS["copied"], None
        cost = COSTS["copied elsewhere"] if heard.has_before(fill) else 0
        if place is None:
            before = heard.before(fill.gap)
            if before is not None and self.develops(before, fill):
                cost += COSTS["goes on"]
        if relation is not None and heard.is_worn(fill):
            return cost + COSTS["worn"], relation
        if relation is not None:
            cost += COSTS["taken up"] + COSTS["one way"] * ways.get(relation, 0)
        return cost, relation

    def in_return(self, fill: Fill, heard: _SoFar) -> int:
        """What a fill costs for what it takes from the fills of a whole choice."""
        return self.coming_back(fill, heard, {})[0]


def _pairs_within(places: Sequence[Fraction], distance: Fraction) -> int:
    """How many pairs of places in order lie no farther apart.

    >>> _pairs_within([Fraction(0), Fraction(4), Fraction(9)], Fraction(5))
    2
    """
    return sum(place - bisect_left(places, onset - distance)
               for place, onset in enumerate(places))


def _rolls(fill: Fill) -> int:
    """How many chords of a fill are rolled."""
    return len({(n.onset_quarter, n.hand) for n in fill.notes if n.rolled})


def shifts_of(length_quarter: Fraction, bar_quarter: Fraction) -> int:
    """How many landings of a piece may come early or late."""
    return min(max(int(length_quarter / (_SHIFT_BARS * bar_quarter)), 1), _MOST_SHIFTS)


def choose_fills(story: Story, options: Mapping[int, Sequence[Fill]],
                 picked: Mapping[int, Fill | None], wishes: Wishes | None = None
                 ) -> tuple[Fill, ...]:
    """At most one fill a gap, in order of gaps.

    One landing in a while comes early or late where the options have such fills.

    options   gap number -> fills, each family best first
    picked    gap number -> the user's choice; None leaves that gap open
    """
    task = _Task(story, options, picked, wishes or Wishes())
    prices: dict[Priced, int] = {}
    best: list[Fill] = []
    best_cost: int | None = None
    best_prices: dict[Priced, int] = {}
    # Rounds in which every gap is free; then one for each gap whose landing may move.
    shifting = [gap.number for gap in story.gaps if gap.number not in picked
                and any(f.id in task.pushed for f in task.options.get(gap.number, ()))]
    for place, moved in enumerate((*[None] * _ROUNDS, *shifting)):
        if place == _ROUNDS and any(f.id in task.pushed for f in best):
            break
        if moved is not None:
            prices = dict(best_prices)
        own_prices = dict(prices)
        chosen, cost = _one_pass(task, prices, best, moved)
        more, raised = _in_all(task, chosen, bool(shifting))
        cost += more
        if best_cost is None or cost < best_cost:
            best, best_cost, best_prices = chosen, cost, own_prices
        for name, rise in raised.items():
            prices[name] = prices.get(name, 0) + rise
    return tuple((_repeated if task.wishes.same_each_time else _taken_up)(task, best))


def ranked(story: Story, fills: Sequence[Fill], others: Mapping[int, Fill | None], wishes: Wishes
           ) -> list[Fill]:
    """Fills of one gap, the one first that fits best among what stands in all other gaps; without
    those that the program never chooses by itself."""
    number = fills[0].gap
    task = _Task(story, {number: fills}, others, wishes)
    around = [fill for fill in others.values() if fill is not None]

    def cost(fill: Fill) -> int:
        return _total(task, sorted([*around, fill], key=lambda one: one.gap))

    return sorted(task.options[number], key=lambda fill: (cost(fill), fill.id))


def _repeated(task: _Task, chosen: Sequence[Fill]) -> Sequence[Fill]:
    """The choice with every return as it was the first time, note for note or open, as far as
    the options have it."""
    by_gap = {fill.gap: fill for fill in chosen}
    for number, first in task.story.returns.items():
        if number in task.picked:
            continue
        if first not in by_gap:
            by_gap.pop(number, None)
            continue
        before = task.cells[by_gap[first].id]
        copies = (fill for fill in task.options.get(number, ())
                  if relation_of(before, task.cells[fill.id]) is Relation.COPY)
        copy = next(copies, by_gap.get(number))
        if copy is not None:
            by_gap[number] = copy
    return [by_gap[number] for number in sorted(by_gap)]


def _taken_up(task: _Task, chosen: Sequence[Fill]) -> Sequence[Fill]:
    """The choice with more of its ideas taken up where the phrase comes again: both fills of
    such a place are exchanged together, which no path sees, where the whole gains by it."""
    if task.wishes.strain >= STRAINED:
        return chosen
    cost, looks = _total(task, chosen), 0
    gaps = {gap.number: gap for gap in task.gaps}
    for number, first in task.story.returns.items():
        for one, two in task.pairs(first, number):
            looks += 1
            if looks > _MOST_LOOKS:
                return chosen
            if any(is_tied_in_layers(fill, gaps[fill.gap]) for fill in (one, two)):
                continue  # an idea is not worth a page of ties
            other = sorted([*(f for f in chosen if f.gap not in (first, number)), one, two],
                           key=lambda fill: fill.gap)
            paid = _total(task, other)
            if paid < cost:
                chosen, cost = other, paid
    return chosen


def _total(task: _Task, chosen: Sequence[Fill]) -> int:
    """What a whole choice costs."""
    by_gap = {fill.gap: fill for fill in chosen}
    total = _in_all(task, chosen, False)[0]
    before: Fill | None = None
    last: tuple[str, str] | None = None
    for index, gap in enumerate(task.gaps):
        fill = by_gap.get(gap.number)
        total += task.in_row(index, before, last, fill)
        last = last if fill is None else (fill.family, fill.device)
        before = fill
    return total


def _in_row(task: _Task, index: int, before: Fill | None, last: tuple[str, str] | None,
            fill: Fill | None) -> int:
    """What a gap costs as it is, after the gap before it as that is.

    last   the device heard last before this gap
    """
    gap = task.gaps[index]
    total = 0
    here = _State(None, last, breathes=task.setting.breathes(gap))
    if fill is not None:
        here = _State(fill, (fill.family, fill.device), task.ranks.get(fill.id, 0))
        total += task.alone[fill.id] + COSTS["rank"] * here.rank
    elif task.options.get(gap.number):
        total += open_cost(task.setting, gap)
    if index:
        ahead = task.gaps[index - 1]
        total += _step(_State(before, last, breathes=before is None and task.setting.breathes(
            ahead)), here, gap.onset_quarter - ahead.end_quarter, task.bar_quarter,
            free=bool({gap.number, ahead.number} & task.picked.keys()))
    return total


def _in_all(task: _Task, chosen: Sequence[Fill], may_shift: bool
            ) -> tuple[int, dict[Priced, int]]:
    """What a whole choice costs beyond its path, and by how much the prices of what it has
    too often rise for the next round."""
    devices, rhythms = task.heard_near(chosen)
    cost = COSTS["again"] * sum(pairs for pairs, _ in devices.values())
    cost += COSTS["rhythm again"] * sum(pairs for pairs, _ in rhythms.values())
    surplus = _surplus(chosen, task.wishes.mix)
    cost += sum(COSTS["mix"] * abs(n) for n in surplus.values()) // 2
    rolls = max(sum([task.rolls[fill.id] for fill in chosen]) - task.rolls_free, 0)
    cost += COSTS["rolled"] * rolls
    shifts = sum(fill.shift is not None for fill in chosen)
    if may_shift and not any(fill.id in task.pushed for fill in chosen):
        cost += COSTS["never shifted"]
    over_shifts = max(shifts - task.most_shifts, 0)
    cost += COSTS["shifted"] * over_shifts
    heard = _SoFar(task.cells)
    ways: Counter[Relation] = Counter()
    for fill in chosen:
        paid, relation = task.coming_back(fill, heard, ways)
        cost += paid
        if relation is not None:
            ways[relation] += 1
        heard.add(fill)
    # a device costs more by how many of its kind are near it, on average
    raised: dict[Priced, int] = {device: 3 * (2 * pairs // n)
                                 for device, (pairs, n) in devices.items() if pairs}
    raised.update({rhythm: 2 * pairs // n for rhythm, (pairs, n) in rhythms.items() if pairs})
    surplus = {family: round(n / task.forms) for family, n in surplus.items()}
    raised.update(surplus)
    raised.update({_ROLLED: 4 if rolls else 0, _SHIFTED: 4 * over_shifts})
    return cost, raised


def _surplus(chosen: Sequence[Fill], weights: Mapping[str, int]) -> dict[str, int]:
    """How many fills a family has beyond its share."""
    total = sum(weights.values()) or 1
    return {family: sum(f.family == family for f in chosen)
            - round(len(chosen) * weights.get(family, 0) / total) for family in FAMILIES}


def _one_pass(task: _Task, prices: Mapping[Priced, int], so_far: Sequence[Fill],
              moved: int | None = None) -> tuple[list[Fill], int]:
    """The cheapest path at the given prices, and its cost without them.

    so_far   the best choice yet: what ideas that come back are compared with
    moved    a gap whose landing comes early or late, whatever it costs
    """
    if not task.gaps:
        return [], 0
    heard = _SoFar(task.cells, so_far)
    layers, local, steps = [], [], []
    for index, (gap, layer) in enumerate(zip(task.gaps, task.layers, strict=True)):
        states, order = layer.states, layer.order
        changing = {name: np.array([0 if s.fill is None else cost(s.fill) for s in states],
                                   dtype=np.int64)
                    for name, cost in (("price", partial(_price, task=task, prices=prices)),
                                       ("coming back", partial(task.in_return, heard=heard)))}
        rows = {**layer.costs, **changing}
        if gap.number == moved:
            kept = [at for at, s in enumerate(states) if s.fill is not None
                    and s.fill.id in task.pushed]
            states = [states[at] for at in kept]
            rows = {name: row[kept] for name, row in rows.items()}
            order = order[:, kept]
        elif index and task.gaps[index - 1].number == moved:
            order = order[kept, :]
        layers.append(states)
        local.append(rows)
        steps.append({"order": order})
    paths = k_best_paths([len(s) for s in layers], local, steps[1:], 1)
    if not paths:
        return [], FORBIDDEN
    chosen = [state.fill for index, place in enumerate(paths[0].states)
              if (state := layers[index][place]).fill is not None]
    costs = dict(paths[0].costs)
    return chosen, paths[0].total - costs.get("price", 0) - costs.get("coming back", 0)


def _layers(task: _Task) -> list[_Layer]:
    """All gaps with what does not change from round to round."""
    layers: list[_Layer] = []
    for index, gap in enumerate(task.gaps):
        before = layers[-1].states if layers else []
        states = _states(task, gap, sorted({s.last for s in before if s.last is not None}))
        order = (_steps(task, index, before, states) if before else
                 np.zeros((0, len(states)), dtype=np.int64))
        layers.append(_Layer(states, _local(task, gap, states), order))
    return layers


def _states(task: _Task, gap: Gap, lasts: Sequence[tuple[str, str]]) -> list[_State]:
    """The options of a gap, and to leave it open after each device that may have come last."""
    if gap.number in task.picked:
        choice = task.picked[gap.number]
        if choice is not None:
            return [_State(choice, (choice.family, choice.device))]
    states: list[_State] = []
    if gap.number not in task.picked:
        for family in FAMILIES:
            own = [f for f in task.options.get(gap.number, ()) if f.family == family]
            states += [_State(f, (f.family, f.device), task.ranks.get(f.id, 0)) for f in own]
    breathes = task.setting.breathes(gap)
    return [*states, *(_State(None, last, breathes=breathes) for last in (None, *lasts))]


def _local(task: _Task, gap: Gap, states: Sequence[_State]) -> dict[str, Row]:
    """What each state of a gap costs by itself, by term."""
    can_fill = any(s.fill is not None for s in states)
    left_open = open_cost(task.setting, gap) if can_fill else 0
    paid = [{} if s.fill is None else fill_costs(task.setting, gap, s.fill) for s in states]
    terms = sorted({term for costs in paid for term in costs})
    found = {term: np.array([costs.get(term, 0) for costs in paid], dtype=np.int64)
             for term in terms}
    found["rank"] = np.array([COSTS["rank"] * s.rank for s in states], dtype=np.int64)
    found["open"] = np.array([left_open if s.fill is None else 0 for s in states],
                             dtype=np.int64)
    return found


def _price(fill: Fill, task: _Task, prices: Mapping[Priced, int]) -> int:
    price = prices.get(fill.device, 0) + prices.get(fill.family, 0)
    price += prices.get(fill.idea.onsets, 0)
    price += prices.get(_ROLLED, 0) * task.rolls[fill.id]
    return price + (prices.get(_SHIFTED, 0) if fill.shift is not None else 0)


def _steps(task: _Task, index: int, left: Sequence[_State], right: Sequence[_State]) -> Row:
    """The costs of going from each state of a gap to each of the next."""
    before, here = task.gaps[index - 1], task.gaps[index]
    between = here.onset_quarter - before.end_quarter
    free = before.number in task.picked or here.number in task.picked
    after: dict[tuple[str, str] | None, list[int]] = {}
    for row, state in enumerate(left):
        after.setdefault(state.last, []).append(row)
    costs = np.full((len(left), len(right)), FORBIDDEN, dtype=np.int64)
    for column, state in enumerate(right):
        # An open gap keeps the device heard last, so it follows only states of that one.
        rows = range(len(left)) if state.fill is not None else after.get(state.last, ())
        for row in rows:
            costs[row, column] = _step(left[row], state, between, task.bar_quarter, free=free)
    return costs


def _step(before: _State, after: _State, between: Fraction, bar_quarter: Fraction,
          free: bool) -> int:
    """What it costs to go on from one gap's state to the next.

    between   quarters from the end of the one gap to the beginning of the next
    free      one of both is the user's choice and is not argued with
    """
    if after.fill is None:
        hole = before.fill is None and not before.breathes and not after.breathes
        return COSTS["open twice"] if hole else 0
    if before.fill is not None and before.fill.shift is not None and between <= 0 and not free:
        return FORBIDDEN  # its landing would open this gap, early or late
    cost = 0
    if before.last is not None:
        if before.last[1] == after.fill.device and not free:
            return FORBIDDEN
        if before.last[0] == after.fill.family:
            cost += COSTS["same family"]
    if before.fill is not None and before.fill.idea.onsets == after.fill.idea.onsets:
        cost += COSTS["same rhythm"]
    if before.fill is not None and between < bar_quarter:
        cost += COSTS["crowded"]
        if before.fill.over_quarter > between:  # its last chord rings into the next fill
            return FORBIDDEN
    return cost
