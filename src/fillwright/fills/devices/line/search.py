"""The search for the cheapest line: a `Problem` as tables, and the tables as a lattice.

The states of the lattice are (pitch, how it was reached); a step knows two pitches and how
the first of them was reached, which is enough for the recovery of leaps, for runs and for
zigzags. Lines over the same chord share most of what they cost, so every table is made once
for equal arguments and found again by identity. `costs.price` says the same note by
note; the search is checked against it by brute force.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from fillwright.fills.devices.line.costs import (
    ARRIVALS,
    CHROMATIC,
    CONTOUR_SLACK,
    COSTS,
    INTERVALS,
    NO_ARRIVAL,
    PASSING,
    REACH,
    RECOVERY,
    SIXTH,
    SOFT,
    TONE,
    Moves,
    Problem,
    Table,
    costs_by_kind,
    landing_cost,
    price,
)
from fillwright.lattice import FORBIDDEN, Path, k_best_paths
from fillwright.memory import SEARCHES

__all__ = ["Tables", "search_line", "tables_of"]


@dataclass(frozen=True, slots=True, eq=False)
class _Layer:
    """The states of a slot: pitch and arrival of each, and the place of the pitch in the
    slot's pool. One object for equal layers, so that what is computed from it is found again
    by identity."""

    pool: Table
    places: Table
    midis: Table
    arrivals: Table


@dataclass(frozen=True, slots=True, eq=False)
class _Priced:
    """Costs of states, or of the steps between two layers, and the least of them."""

    costs: Table
    least: int


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """The steps between two layers: place of each interval in a table of `moves_of`, and
    its cost, all terms together."""

    place: npt.NDArray[np.uint8]
    total: Table


@dataclass(frozen=True, slots=True)
class Tables:
    """A problem as tables, each shared with all problems that have the same part."""

    layers: tuple[_Layer, ...]
    notes: tuple[_Priced, ...]
    steps: tuple[_Priced, ...]

    @property
    def least(self) -> int:
        """A cost that no line stays below: the cheapest note at each slot and the cheapest
        step between any two. `FORBIDDEN` or more where there is no line."""
        return sum(p.least for p in self.notes) + sum(p.least for p in self.steps)


def search_line(problem: Problem, k: int = 1, tables: Tables | None = None
                ) -> list[tuple[tuple[int, ...], Path]]:
    """The k cheapest lines: pitches as MIDI numbers, and the path with its costs by term.

    tables   the problem's, where they are known

    Two paths of the lattice never have the same pitches: how a pitch was reached follows
    from the pitches.
    """
    tables = tables_of(problem) if tables is None else tables
    return [] if tables is None else [
        (midis, Path(states, total, tuple(sorted(price(problem, midis).items()))))
        for midis, states, total in _solved(tables, k)]


@SEARCHES.keep
def _solved(tables: Tables, k: int
            ) -> tuple[tuple[tuple[int, ...], tuple[int, ...], int], ...]:
    """(pitches, states, total) of the k cheapest lines."""
    paths = k_best_paths([len(layer.midis) for layer in tables.layers],
                         [{"note": p.costs} for p in tables.notes],
                         [{"step": p.costs} for p in tables.steps], k)
    return tuple((tuple(int(layer.midis[state]) for layer, state in
                        zip(tables.layers, path.states, strict=True)), path.states, path.total)
                 for path in paths)


def tables_of(problem: Problem) -> Tables | None:
    """The tables of a problem, or None where a slot has no pitches to reach."""
    pools, slots = problem.pools, problem.slots
    if not slots or not all(pools):
        return None
    layers = [_layer((), pools[0])]
    layers += [_layer(a, b) for a, b in pairwise(pools)]
    if not all(len(layer.midis) for layer in layers):
        return None
    notes = []
    for index, (layer, slot) in enumerate(zip(layers, slots, strict=True)):
        last = index == len(slots) - 1
        lead = None if not last or problem.landing is None else (
            problem.landing, problem.air, problem.same_landing_ok, problem.strict)
        notes.append(_notes(layer, slot.kinds, costs_by_kind(slot, last, problem),
                            problem.goal[index], problem.first if index == 0 else None,
                            problem.foretold if index == len(slots) - 2 else None, lead))
    steps = []
    for index in range(1, len(slots)):
        before, here = slots[index - 1], slots[index]
        steps.append(_shaped(_step(
            layers[index - 1], layers[index], before.kinds, here.kinds, before.closes,
            bool(here.strength and not before.strength),
            here.guides_before if here.change else (), here.guides, problem.repeats_ok,
            problem.strict), problem.moves[index - 1]))
    return Tables(tuple(layers), tuple(notes), tuple(steps))


@SEARCHES.keep
def _layer(before: tuple[int, ...], pool: tuple[int, ...]) -> _Layer:
    """The states of a layer, given the pools of the layer before (() at the start) and of
    the layer itself; by pitch, then by arrival."""
    here = np.array(pool, dtype=np.int64)
    if not before:
        return _Layer(here, np.arange(len(pool)), here,
                      np.full(len(pool), NO_ARRIVAL, dtype=np.int64))
    interval = here[:, None] - np.array(before, dtype=np.int64)[None, :]
    place, reached = np.nonzero(np.abs(interval) <= REACH)
    there = np.zeros((len(pool), 8), dtype=np.bool_)
    there[place, ARRIVALS[interval[place, reached] + REACH]] = True
    places, arrivals = np.nonzero(there)
    return _Layer(here, places, here[places], arrivals)


@SEARCHES.keep
def _notes(layer: _Layer, kinds: tuple[int, ...], kind_costs: tuple[int, int, int, int],
           goal: int, first: int | None, foretold: int | None,
           lead: tuple[int, bool, bool, bool] | None) -> _Priced:
    """What each state pays by itself, all terms together.

    first      the held note, at the first slot
    foretold   the landing's key, at the last slot but one
    lead       landing, air, same_landing_ok and strict of the problem, at the last slot
    """
    midis = layer.midis
    total = (_by_key(kinds, kind_costs)[midis]
             + COSTS["contour"] * _off_by(goal, CONTOUR_SLACK)[midis])
    if first is not None:
        total += COSTS["far start"] * _off_by(first, SIXTH)[midis]
    if foretold is not None:
        total += np.where(midis == foretold, COSTS["landing foretold"], 0)
    if lead is not None:
        landing, air, same_ok, strict = lead
        total += np.array([landing_cost(landing, air, same_ok, strict, midi, kinds[midi % 12])
                           for midi in midis.tolist()], dtype=np.int64)
    return _Priced(total, int(total.min()))


@SEARCHES.keep
def _by_key(kinds: tuple[int, ...], kind_costs: tuple[int, int, int, int]) -> Table:
    """What each of the 128 keys pays for what it is in its chord."""
    row = [kind_costs[kind] for kind in kinds]
    return np.array([row[midi % 12] for midi in range(128)], dtype=np.int64)


@SEARCHES.keep
def _off_by(centre: int, slack: int) -> Table:
    """How far each of the 128 keys lies off `centre` beyond `slack` semitones."""
    off: Table = np.maximum(np.abs(np.arange(128) - centre) - slack, 0)
    return off


@SEARCHES.keep
def _kind_array(kinds: tuple[int, ...]) -> Table:
    return np.array(kinds, dtype=np.int64)


@SEARCHES.keep
def _are(classes: tuple[int, ...]) -> npt.NDArray[np.bool_]:
    """For each of the twelve pitch classes whether it is one of `classes`."""
    return np.isin(np.arange(12), classes)


@SEARCHES.keep
def _step(low_layer: _Layer, high_layer: _Layer, kinds_before: tuple[int, ...],
          kinds_here: tuple[int, ...], closes_before: bool, onto_beat: bool,
          guides_before: tuple[int, ...], guides: tuple[int, ...], repeats_ok: bool,
          strict: bool) -> _Step:
    """The steps between two layers, all terms together (`price` keeps them apart).
    Everything a step depends on is an argument, so that lines over the same chord share
    their tables."""
    # what depends on the two pitches alone is looked at once for each pair of pitches
    low, high = low_layer.pool, high_layer.pool
    never = FORBIDDEN if strict else SOFT
    interval = high[None, :] - low[:, None]
    size = np.abs(interval)
    pair = np.where(size <= REACH, 0, FORBIDDEN)
    low_class, high_class = low % 12, high % 12
    kind_before = _kind_array(kinds_before)[low_class][:, None]
    kind_here = _kind_array(kinds_here)[high_class][None, :]
    if kind_before.max() >= PASSING:
        hangs = (kind_before == CHROMATIC) & ((size != 1) | (kind_here >= CHROMATIC))
        hangs |= (kind_before == PASSING) & ((size > 2) | (size == 0))
        pair[hangs] += never
    if guides_before:
        falls = (_are(guides_before)[low_class][:, None] & _are(guides)[high_class][None, :]
                 & (interval >= -2) & (interval < 0))
        near = (size <= 2) & (size > 0) & (kind_here == TONE) & ~falls
        pair[falls] += COSTS["guide tone"]
        pair[near] += COSTS["common step"]
    if onto_beat:
        pair[(size == 1) & (kind_here == TONE)] += COSTS["half step into beat"]
    place = (np.minimum(np.maximum(interval, -REACH), REACH) + REACH).astype(np.uint8)[
        low_layer.places][:, high_layer.places]
    motion = _motion(closes_before, repeats_ok, strict)[low_layer.arrivals[:, None], place]
    motion += pair[low_layer.places][:, high_layer.places]
    motion[ARRIVALS[place] != high_layer.arrivals] = FORBIDDEN
    return _Step(place, motion)


@SEARCHES.keep
def _motion(closes_before: bool, repeats_ok: bool, strict: bool) -> Table:
    """What an interval costs after an arrival: (arrival, place of the interval)."""
    motion = INTERVALS if strict else np.minimum(INTERVALS, SOFT)
    if repeats_ok:
        return np.repeat(motion[None, :], 8, axis=0)
    # after a breath the line may start anywhere near
    return motion[None, :] + (RECOVERY // 2 if closes_before else RECOVERY)


@SEARCHES.keep
def _shaped(step: _Step, moves: Moves | None) -> _Priced:
    """The costs of steps with what a device's shape adds."""
    costs = step.total if moves is None else step.total + moves.table[step.place]
    return _Priced(costs, int(costs.min()))
