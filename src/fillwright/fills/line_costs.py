"""What a note of a line costs, and the search for the cheapest line.

A `Problem` is a row of slots (onsets with their harmony) and for each the pitches allowed.
The states of the lattice are (pitch, how it was reached); a step knows two pitches and how
the first of them was reached, which is enough for the recovery of leaps, for runs and for
zigzags. The same tables price a line that is given (`price`), so that the search can be
checked against brute force and the costs against real melodies.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from fillwright.lattice import FORBIDDEN, Costs, Path, k_best_paths

__all__ = ["CHROMATIC", "COSTS", "INTERVAL_SHARE", "PASSING", "TENSION", "TONE", "Problem",
           "Slot", "moves_of", "price", "search_line"]

TONE, TENSION, PASSING, CHROMATIC = 0, 1, 2, 3
"""What a pitch is in its chord: chord tone, tension, scale note to be passed through, foreign."""

INTERVAL_SHARE: MappingProxyType[int, float] = MappingProxyType(
    {0: 5.2, 1: 25.5, 2: 27.9, 3: 17.2, 4: 9.1, 5: 6.8, 6: 1.7, 7: 2.6, 8: 1.2, 9: 1.0,
     10: 0.55, 11: 0.30, 12: 0.47})
"""Per cent of intervals by semitones in 299 solos of the Weimar Jazz Database (Pfleiderer et
al., *Inside the Jazzomat*, 2017; counted from the authors' data package)."""

COSTS: MappingProxyType[str, int] = MappingProxyType({
    # Unit: a tenth of one clear fault. Source: common practice, unless said otherwise.
    "interval bit": 3,        # per bit of surprise of an interval (INTERVAL_SHARE)
    "strong tension": 5,      # a tension on a strong beat
    "beat tension": 3,        # a tension on another beat
    "weak tension": 1,
    "passing": 4,             # a scale note to avoid, on a weak place
    "beat passing": 14,       # the same on a weak beat; on a strong one or long: forbidden
    "chromatic": 6,           # a foreign note between the beats
    "beat chromatic": 18,     # the same on a weak beat (advanced); strong or long: forbidden
    "long tension": 2,        # a tension held longer than an eighth
    "open end": 6,            # a phrase's last note that is not a chord tone (61 % are; WJD)
    "leap on": 10,            # a leap (fourth or more) followed by motion the same way
    "leap after leap": 6,     # two leaps in a row
    "leap not filled": 3,     # a leap turned back by another leap or third, not by step
    "zigzag": 2,              # changing direction between thirds or leaps
    "repeat": 3,              # on top of the surprise of a repeated note
    "repeat again": 12,       # a third equal note
    "contour": 1,             # per semitone off the goal curve beyond CONTOUR_SLACK
    "third into landing": 7,  # last note a third from the landing note
    "air interval": 1,        # per semitone beyond a fourth between last note and landing
    "far start": 1,           # per semitone beyond a sixth between held note and first note
    "guide tone": -5,         # seventh resolved to third (or third to seventh) over a change
    "common step": -1,        # step into a chord tone over a change
    "half step into beat": -1,  # half step from a weak place to a chord tone on a beat
    "turn": 2,                # a neighbour note: step out and back
    "three blacks and whites": 0,
})

CONTOUR_SLACK = 2
"""Semitones within which the contour goal does not care."""

_REACH = 24
_NONE, _SAME, _STEP_UP, _STEP_DOWN, _THIRD_UP, _THIRD_DOWN, _LEAP_UP, _LEAP_DOWN, _SAME_TWICE \
    = range(9)
_UP = (_STEP_UP, _THIRD_UP, _LEAP_UP)
_DOWN = (_STEP_DOWN, _THIRD_DOWN, _LEAP_DOWN)

_Table = npt.NDArray[np.int64]


def _arrival(interval: int) -> int:
    if interval == 0:
        return _SAME
    size, up = abs(interval), interval > 0
    if size <= 2:
        return _STEP_UP if up else _STEP_DOWN
    if size <= 4:
        return _THIRD_UP if up else _THIRD_DOWN
    return _LEAP_UP if up else _LEAP_DOWN


_ARRIVAL = np.array([_arrival(i) for i in range(-_REACH, _REACH + 1)], dtype=np.int64)


def _interval_table() -> _Table:
    top = max(INTERVAL_SHARE.values())
    row = []
    for interval in range(-_REACH, _REACH + 1):
        share = INTERVAL_SHARE.get(abs(interval))
        row.append(FORBIDDEN if share is None
                   else round(COSTS["interval bit"] * math.log2(top / share))
                   + (COSTS["repeat"] if interval == 0 else 0))
    return np.array(row, dtype=np.int64)


_INTERVAL = _interval_table()


def _recovery_table() -> _Table:
    """Cost of an interval after an arrival: (arrival, interval)."""
    table = np.zeros((9, 2 * _REACH + 1), dtype=np.int64)
    for arrival in range(9):
        for interval in range(-_REACH, _REACH + 1):
            cost, up, size = 0, interval > 0, abs(interval)
            if arrival in (_LEAP_UP, _LEAP_DOWN):
                on = size > 0 and up == (arrival == _LEAP_UP)
                cost += COSTS["leap on"] if on else 0
                cost += COSTS["leap after leap"] if size >= 5 else 0
                cost += COSTS["leap not filled"] if not on and size > 2 else 0
            elif arrival in (_THIRD_UP, _THIRD_DOWN) and size > 2 and (
                    up != (arrival == _THIRD_UP)):
                cost += COSTS["zigzag"]
            elif arrival in (_STEP_UP, _STEP_DOWN) and 0 < size <= 2 and (
                    up != (arrival == _STEP_UP)):
                cost += COSTS["turn"]
            if interval == 0 and arrival == _SAME:
                cost += COSTS["repeat again"]
            if interval == 0 and arrival == _SAME_TWICE:
                cost += 3 * COSTS["repeat again"]
            table[arrival, interval + _REACH] = cost
    return table


_RECOVERY = _recovery_table()


def moves_of(**allowed: tuple[int, ...]) -> _Table:
    """A table of extra costs by interval: `moves_of(free=(1, 2), dear=(3, 4))` allows those.

    free    intervals that cost nothing, signed semitones
    dear    intervals that cost 8
    Everything else is forbidden.
    """
    table = np.full(2 * _REACH + 1, FORBIDDEN, dtype=np.int64)
    for interval in allowed.get("dear", ()):
        table[interval + _REACH] = 8
    for interval in allowed.get("free", ()):
        table[interval + _REACH] = 0
    return table


@dataclass(frozen=True, slots=True)
class Slot:
    """An onset of a line.

    strength   2 strong beat, 1 other beat, 0 between beats
    held       sounds longer than an eighth (or a third of a beat in a triplet)
    closes     the last note before a breath, the landing or the end
    kinds      for each pitch class what it is in the chord that governs this note
    change     the chord changes at this note; `guides` are then the pitch classes of third
               and seventh of the chord before and of this one
    span       index of the governing chord
    """

    onset_quarter: Fraction
    strength: int
    held: bool
    closes: bool
    kinds: tuple[int, ...]
    span: int
    change: bool = False
    guides_before: tuple[int, ...] = ()
    guides: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Problem:
    """One question to the lattice.

    slots     in order of onset
    pools     MIDI numbers allowed at each slot, ascending
    moves     per step None or extra costs by interval (`moves_of`)
    goal      per slot the pitch the contour wants
    first     the held note before the line, or None
    landing   the note after it, or None
    air       whether half a beat or more is silent before the landing
    same_landing_ok  the device itself strikes the landing's key before it
    repeats_ok       the device repeats notes on purpose
    strict    forbid what must not be (True), or charge for it (False)
    """

    slots: tuple[Slot, ...]
    pools: tuple[tuple[int, ...], ...]
    moves: tuple[_Table | None, ...]
    goal: tuple[int, ...]
    first: int | None
    landing: int | None
    air: bool
    same_landing_ok: bool = False
    repeats_ok: bool = False
    strict: bool = True

    @property
    def never(self) -> int:
        return FORBIDDEN if self.strict else _SOFT


_SOFT = 40
"""What a forbidden thing costs where a given line is priced, so that bad can be compared
with worse."""


def search_line(problem: Problem, k: int = 1) -> list[tuple[tuple[int, ...], Path]]:
    """The k cheapest lines: pitches as MIDI numbers, and the path with its costs by term.

    Two paths of the lattice never have the same pitches: how a pitch was reached follows
    from the pitches.
    """
    if not problem.slots or any(not pool for pool in problem.pools):
        return []
    pools = [np.array(pool, dtype=np.int64) for pool in problem.pools]
    states: list[_Table] = [np.stack([np.arange(len(pools[0])),
                                      np.zeros(len(pools[0]), dtype=np.int64)])]
    local: list[Costs] = [_local(problem, 0, pools[0], states[0])]
    steps: list[Costs] = []
    for index in range(1, len(pools)):
        before = states[-1]
        low, high = pools[index - 1][before[0]], pools[index]
        interval = high[None, :] - low[:, None]
        inside = np.abs(interval) <= _REACH
        place = np.clip(interval, -_REACH, _REACH) + _REACH
        arrival = np.where(inside, _ARRIVAL[place], _NONE)
        again = (arrival == _SAME) & np.isin(before[1], (_SAME, _SAME_TWICE))[:, None]
        arrival = np.where(again, _SAME_TWICE, arrival)
        code = np.arange(len(high))[None, :] * 9 + arrival
        reached = np.unique(code[inside])
        if not len(reached):
            return []
        pitch, how = reached // 9, reached % 9
        states.append(np.stack([pitch, how]))
        local.append(_local(problem, index, pools[index], states[-1]))
        steps.append(_steps(problem, index, low, high[pitch], before[1],
                            (code[:, pitch] == reached[None, :]) & inside[:, pitch]))
    sizes = [s.shape[1] for s in states]
    result = []
    for path in k_best_paths(sizes, local, steps, k):
        midis = tuple(int(pools[i][states[i][0, s]]) for i, s in enumerate(path.states))
        result.append((midis, path))
    return result


def price(problem: Problem, midis: Sequence[int]) -> Path | None:
    """What a given line costs by term, or None where it is forbidden."""
    given = Problem(problem.slots, tuple((m,) for m in midis), problem.moves, problem.goal,
                    problem.first, problem.landing, problem.air, problem.same_landing_ok,
                    problem.repeats_ok, problem.strict)
    found = search_line(given)
    return found[0][1] if found else None


def _local(problem: Problem, index: int, pool: _Table, states: _Table) -> Costs:
    slot, never = problem.slots[index], problem.never
    last = index == len(problem.slots) - 1
    by_kind = np.array(_kind_costs(slot, last, problem), dtype=np.int64)
    kinds = np.array(slot.kinds, dtype=np.int64)
    midis = pool[states[0]]
    kind = kinds[midis % 12]
    costs: dict[str, _Table] = {"harmony": by_kind[kind]}
    away = np.abs(midis - problem.goal[index]) - CONTOUR_SLACK
    costs["contour"] = COSTS["contour"] * np.maximum(away, 0)
    if index == 0 and problem.first is not None:
        far = np.abs(midis - problem.first)
        costs["start"] = COSTS["far start"] * np.maximum(far - 9, 0)
    if last and problem.landing is not None:
        costs["landing"] = _landing_costs(problem, midis, kind, never)
    return costs


def _kind_costs(slot: Slot, last: bool, problem: Problem) -> tuple[int, int, int, int]:
    never = problem.never
    if slot.strength == 2:
        tension, passing, chromatic = COSTS["strong tension"], never, never
    elif slot.strength == 1:
        tension, passing, chromatic = (COSTS["beat tension"], COSTS["beat passing"],
                                       COSTS["beat chromatic"])
    else:
        tension, passing, chromatic = (COSTS["weak tension"], COSTS["passing"],
                                       COSTS["chromatic"])
    if slot.held:
        tension, passing, chromatic = tension + COSTS["long tension"], never, never
    if slot.closes:
        tension += COSTS["open end"]
        if not last or problem.air or problem.landing is None:
            passing, chromatic = never, never
    return 0, tension, passing, chromatic


def _landing_costs(problem: Problem, midis: _Table, kind: _Table, never: int) -> _Table:
    assert problem.landing is not None
    away = np.abs(midis - problem.landing)
    if problem.air:
        cost = COSTS["air interval"] * np.maximum(away - 5, 0)
        cost = np.where(away > 9, never, cost)
    else:
        cost = np.where(away <= 2, 0, COSTS["third into landing"])
        cost = np.where(away > 4, never, cost)
        # a note that must be resolved is resolved by the landing itself
        cost = np.where((kind == CHROMATIC) & (away != 1), never, cost)
        cost = np.where((kind == PASSING) & (away > 2), never, cost)
    if not problem.same_landing_ok:
        cost = np.where(away == 0, never, cost)
    return cost.astype(np.int64)


def _steps(problem: Problem, index: int, low: _Table, high: _Table, arrival: _Table,
           joined: npt.NDArray[np.bool_]) -> Costs:
    """Step costs from the states of the slot before to those of this one.

    low, arrival   pitch and arrival of each state before; high: pitch of each state here
    joined         whether the state here is the one that step leads to
    """
    before, here, never = problem.slots[index - 1], problem.slots[index], problem.never
    interval = np.clip(high[None, :] - low[:, None], -_REACH, _REACH)
    place = interval + _REACH
    size = np.abs(interval)
    motion = _INTERVAL[place]
    if not problem.strict:
        motion = np.minimum(motion, never)
    if problem.repeats_ok:
        motion = np.where(interval == 0, 0, motion)
    costs: dict[str, _Table] = {"motion": np.where(joined, motion, FORBIDDEN)}
    if not problem.repeats_ok:
        recovery = _RECOVERY[arrival[:, None], place]
        if before.closes:  # after a breath the line may start anywhere near
            recovery = recovery // 2
        costs["leaps and turns"] = recovery
    kind_before = np.array(before.kinds, dtype=np.int64)[low % 12]
    kind_here = np.array(here.kinds, dtype=np.int64)[high % 12]
    resolved = np.where((kind_before[:, None] == CHROMATIC)
                        & ((size != 1) | (kind_here[None, :] >= CHROMATIC)), never, 0)
    resolved += np.where((kind_before[:, None] == PASSING) & ((size > 2) | (size == 0)),
                         never, 0)
    costs["resolution"] = resolved.astype(np.int64)
    extra = problem.moves[index - 1]
    if extra is not None:
        costs["shape"] = extra[place]
    if here.change and here.guides_before:
        from_guide = np.isin(low % 12, here.guides_before)[:, None]
        to_guide = np.isin(high % 12, here.guides)[None, :]
        down = (interval >= -2) & (interval < 0)
        lead = np.where(from_guide & to_guide & down, COSTS["guide tone"], 0)
        lead = np.where((lead == 0) & (size <= 2) & (size > 0)
                        & (kind_here == TONE)[None, :], COSTS["common step"], lead)
        costs["voice leading"] = lead.astype(np.int64)
    if here.strength and not before.strength:
        costs["into the beat"] = np.where(
            (size == 1) & (kind_here == TONE)[None, :], COSTS["half step into beat"],
            0).astype(np.int64)
    return costs
