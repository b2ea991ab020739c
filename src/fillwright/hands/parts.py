"""Fingers for everything one hand plays: chords, lines, and keys held under them.

Each onset is a layer of the lattice, each fingering of the keys then down is a state. A key
that is held while others are struck keeps its finger, and all of it must stay within reach.
The step costs are those of single notes in succession (`fillwright.hands.costs`); between
chords they are averaged over the pairs of a key left and a key struck. In a run of single
notes a state also remembers the finger before, because a change of position is a matter of
three notes (Parncutt et al. 1997, rules 4 and 5). After a rest, or where a key is let go
early, the hand lands afresh and legato costs do not apply.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from fillwright.hands.chords import all_fingerings
from fillwright.hands.costs import TERMS, pair_costs, position_costs
from fillwright.hands.jumps import jump_ok
from fillwright.hands.reach import MAX_NOTES, is_black, mirrored, ruler
from fillwright.lattice import FORBIDDEN, Costs, k_best_paths

__all__ = ["PartFingering", "finger_part", "plan_part"]

PartNote = tuple[Fraction, Fraction, int]
_Table = npt.NDArray[np.int64]

LIFT_SECONDS = 0.15
"""A silence this long before the next stroke frees the hand from legato (common practice)."""

_NONE_FIXED: Mapping[int, int] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class PartFingering:
    """Fingers of one hand for a whole part.

    fingers   in the order of the notes given
    cost      in half points; `costs` keeps it apart by term
    """

    fingers: tuple[int, ...]
    cost: int
    costs: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class _Event:
    """An onset, for the right hand.

    midis    the keys down, ascending
    held     for each key its place in the event before, where it was down already, else -1
    fixed    for each key the finger it must take, or 0
    free     the hand lands afresh: no legato from the event before
    rolled   the chord is rolled and may exceed the reach
    """

    midis: tuple[int, ...]
    held: tuple[int, ...]
    fixed: tuple[int, ...]
    free: bool
    rolled: bool


def finger_part(notes: Sequence[PartNote], hand: str, size: str, seconds_per_quarter: float,
                fixed: Mapping[int, int] = _NONE_FIXED, rolled: Collection[int] = ()
                ) -> tuple[int, ...] | None:
    """Fingers for one hand's notes, in the order given, or None where it cannot play them.

    notes    (onset_quarter, duration_quarter, MIDI number), in any order; a note whose end
             lies after a later onset is a key held meanwhile
    fixed    index of a note -> finger it must take
    rolled   indices of the notes of rolled chords

    >>> up = [(Fraction(i, 2), Fraction(1, 2), m) for i, m in enumerate((60, 62, 64, 65, 67))]
    >>> finger_part(up, "right", "medium", 0.5)
    (1, 2, 3, 4, 5)
    """
    plan = plan_part(notes, hand, size, seconds_per_quarter, fixed, rolled)
    return None if plan is None else plan.fingers


def plan_part(notes: Sequence[PartNote], hand: str, size: str, seconds_per_quarter: float,
              fixed: Mapping[int, int] = _NONE_FIXED, rolled: Collection[int] = ()
              ) -> PartFingering | None:
    """Like `finger_part`, with what the fingering costs."""
    if hand not in ("left", "right"):
        raise ValueError(f"not a hand: {hand!r}")
    if not notes:
        return PartFingering((), 0, ())
    built = _events(notes, hand, size, seconds_per_quarter, fixed, frozenset(rolled))
    if built is None:
        return None
    events, struck = built
    solved = _solve(_low(events), size)
    if solved is None:
        return None
    fingers = [0] * len(notes)
    for chosen, indices in zip(solved.fingers, struck, strict=True):
        for finger, index in zip(chosen, indices, strict=True):
            if index >= 0:
                fingers[index] = finger
    return PartFingering(tuple(fingers), solved.cost, solved.costs)


def _events(notes: Sequence[PartNote], hand: str, size: str, seconds_per_quarter: float,
            fixed: Mapping[int, int], rolled: frozenset[int]
            ) -> tuple[tuple[_Event, ...], list[list[int]]] | None:
    """The onsets in order, and for each key of each the index of the note it strikes (-1
    where it is held); None where there are too many keys or too little time."""
    order = sorted(range(len(notes)), key=lambda index: (notes[index][0], notes[index][2]))
    groups: list[list[int]] = []
    for index in order:
        if groups and notes[groups[-1][0]][0] == notes[index][0]:
            groups[-1].append(index)
        else:
            groups.append([index])
    events: list[_Event] = []
    struck_all: list[list[int]] = []
    down: dict[int, tuple[Fraction, int]] = {}  # key -> (end, finger fixed for it)
    before: tuple[int, ...] = ()
    before_struck: list[int] = []
    for group in groups:
        onset = notes[group[0]][0]
        keys = [notes[index][2] for index in group]
        if len(set(keys)) != len(keys):
            return None
        kept = {midi: held for midi, held in down.items()
                if held[0] > onset and midi not in keys}
        if len(kept) + len(keys) > MAX_NOTES:
            return None
        free = False
        if before_struck:
            since = float(onset - notes[before_struck[0]][0]) * seconds_per_quarter
            leaving = [notes[index][2] for index in before_struck]
            if not jump_ok(leaving, keys, since, size):
                return None
            last_end = max(end for end, _ in down.values())
            free = float(onset - last_end) * seconds_per_quarter >= LIFT_SECONDS
        by_key = {notes[index][2]: index for index in group}
        midis = sorted([*kept, *keys])
        if hand == "left":
            midis.reverse()
        events.append(_Event(
            tuple(midis if hand == "right" else map(mirrored, midis)),
            tuple(before.index(midi) if midi in kept else -1 for midi in midis),
            tuple(kept[midi][1] if midi in kept else fixed.get(by_key[midi], 0)
                  for midi in midis),
            free, any(index in rolled for index in group)))
        struck_all.append([by_key.get(midi, -1) for midi in midis])
        down = kept | {notes[index][2]: (onset + notes[index][1], fixed.get(index, 0))
                       for index in group}
        before, before_struck = tuple(midis), group
    return tuple(events), struck_all


def _low(events: tuple[_Event, ...]) -> tuple[_Event, ...]:
    """The same part in the lowest octave it can lie in, so that octaves share their answer."""
    octaves = min(event.midis[0] for event in events) // 12
    return tuple(_Event(tuple(midi - 12 * octaves for midi in event.midis), event.held,
                        event.fixed, event.free, event.rolled) for event in events)


@dataclass(frozen=True, slots=True)
class _Solved:
    fingers: tuple[tuple[int, ...], ...]
    cost: int
    costs: tuple[tuple[str, int], ...]


@lru_cache(maxsize=8192)
def _solve(events: tuple[_Event, ...], size: str) -> _Solved | None:
    layers: list[tuple[tuple[int, ...], ...]] = []
    local: list[Costs] = []
    for event in events:
        states, costs = _states(event.midis, event.fixed, event.rolled, size)
        if not states:
            return None
        layers.append(states)
        local.append(costs)
    wide = _remembering(events)
    steps: list[Costs] = []
    for i in range(1, len(events)):
        table = _step(events[i - 1].midis, events[i].midis, events[i].held, events[i].free,
                      layers[i - 1], layers[i], size)
        if wide[i - 1]:
            table = np.tile(table, (1, len(layers[i - 2]), 1))
            table[_POSITION] += _change(events[i - 2].midis[0], events[i - 1].midis[0],
                                        events[i].midis[0], layers[i - 2], layers[i - 1],
                                        layers[i], size)
        if wide[i]:
            table = _spread(table, len(layers[i - 1]))
        steps.append(dict(zip(TERMS, table, strict=True)))
    for i, remembers in enumerate(wide):
        if remembers:
            local[i] = {term: np.tile(cost, len(layers[i - 1]))
                        for term, cost in local[i].items()}
    sizes = [len(layer) * (len(layers[i - 1]) if wide[i] else 1)
             for i, layer in enumerate(layers)]
    paths = k_best_paths(sizes, local, steps)
    if not paths:
        return None
    chosen = tuple(layers[i][state % len(layers[i])] for i, state in enumerate(paths[0].states))
    return _Solved(chosen, paths[0].total, paths[0].costs)


def _remembering(events: tuple[_Event, ...]) -> list[bool]:
    """Whether a state remembers the finger before: in the middle of three single notes."""
    joined = [i > 0 and not events[i].free
              and len(events[i - 1].midis) == len(events[i].midis) == 1
              for i in range(len(events))]
    return [joined[i] and i + 1 < len(events) and joined[i + 1] for i in range(len(events))]


@lru_cache(maxsize=16384)
def _states(midis: tuple[int, ...], fixed: tuple[int, ...], rolled: bool, size: str
            ) -> tuple[tuple[tuple[int, ...], ...], Costs]:
    options = [option for option in all_fingerings(midis, "right", size, rolled)
               if all(want in (0, finger)
                      for want, finger in zip(fixed, option.fingers, strict=True))]
    rows = [dict(option.costs) for option in options]
    return (tuple(option.fingers for option in options),
            {term: np.array([row[term] for row in rows], dtype=np.int64)
             for term in (rows[0] if rows else ())})


_POSITION = TERMS.index("position")


@lru_cache(maxsize=4096)
def _pair_table(distance: int, first_black: bool, second_black: bool, size: str, bound: bool
                ) -> _Table:
    """Costs of one key after another: (terms, first finger - 1, second finger - 1)."""
    table = np.zeros((len(TERMS), 5, 5), dtype=np.int64)
    for first in range(5):
        for second in range(5):
            for term, cost in pair_costs(first + 1, second + 1, distance, first_black,
                                         second_black, size, bound):
                table[TERMS.index(term), first, second] = cost
    return table


@lru_cache(maxsize=16384)
def _step(before: tuple[int, ...], after: tuple[int, ...], held: tuple[int, ...], free: bool,
          states_before: tuple[tuple[int, ...], ...], states_after: tuple[tuple[int, ...], ...],
          size: str) -> _Table:
    """Costs between two onsets: (terms, states before, states after).

    The mean over the pairs of a key left and a key struck, rounded down; a held key that
    would change its finger is forbidden.
    """
    fingers_before = np.array(states_before, dtype=np.int64)
    fingers_after = np.array(states_after, dtype=np.int64)
    total = np.zeros((len(TERMS), len(states_before), len(states_after)), dtype=np.int64)
    pairs = [(left, struck) for left in range(len(before)) if left not in held
             for struck in range(len(after)) if held[struck] < 0]
    for left, struck in pairs:
        distance = ruler(after[struck]) - ruler(before[left])
        if free and distance:
            continue
        table = _pair_table(distance, is_black(before[left]), is_black(after[struck]), size,
                            len(pairs) == 1)
        total += table[:, fingers_before[:, left, None] - 1, fingers_after[None, :, struck] - 1]
    if len(pairs) > 1:
        total //= len(pairs)
    for place, kept in enumerate(held):
        if kept >= 0:
            changed = fingers_before[:, kept, None] != fingers_after[None, :, place]
            total[_POSITION][changed] = FORBIDDEN
    return total


@lru_cache(maxsize=4096)
def _change_table(distance: int, between: bool, size: str) -> _Table:
    """Costs of three notes: (first finger - 1, middle finger - 1, third finger - 1)."""
    return np.array([[[position_costs(first, middle, third, distance, between, size)
                       for third in range(1, 6)] for middle in range(1, 6)]
                     for first in range(1, 6)], dtype=np.int64)


def _change(first: int, middle: int, third: int, states_first: tuple[tuple[int, ...], ...],
            states_middle: tuple[tuple[int, ...], ...],
            states_third: tuple[tuple[int, ...], ...], size: str) -> _Table:
    """The same for the states there are: (first and middle states, third states)."""
    between = min(first, third) < middle < max(first, third)
    table = _change_table(ruler(third) - ruler(first), between, size)
    if len(states_first) == len(states_middle) == len(states_third) == 5:
        return table.reshape(25, 5)
    rows = [[state[0] - 1 for state in states]
            for states in (states_first, states_middle, states_third)]
    return table[np.ix_(*rows)].reshape(-1, len(states_third))


def _spread(table: _Table, count: int) -> _Table:
    """Step costs into states that remember the state before.

    table   (terms, states before, states): of the states before, the last `count` places of
            the index are those remembered
    count   number of states to remember
    """
    terms, before, after = table.shape
    spread = np.full((terms, before, count, after), 0, dtype=np.int64)
    spread[_POSITION] = FORBIDDEN
    rows = np.arange(before)
    spread[:, rows, rows % count] = table
    return spread.reshape(terms, before, count * after)
