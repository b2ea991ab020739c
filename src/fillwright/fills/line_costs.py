"""What a note of a line costs, and the search for the cheapest line.

A `Problem` is a row of slots (onsets with their harmony) and for each the pitches allowed.
The states of the lattice are (pitch, how it was reached); a step knows two pitches and how
the first of them was reached, which is enough for the recovery of leaps, for runs and for
zigzags. `price` says note by note what a given line costs: the search is checked against it by
brute force, and the costs themselves against real melodies.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
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
    "not quite the shape": 5,  # an interval beside the one a device's shape asks for
})

CONTOUR_SLACK = 2
"""Semitones within which the contour goal does not care."""

_SIXTH = 9
"""Farther than this between line and melody is a leap nobody connects: not a seventh."""

_REACH = 24
_NONE, _SAME, _STEP_UP, _STEP_DOWN, _THIRD_UP, _THIRD_DOWN, _LEAP_UP, _LEAP_DOWN = range(8)

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
    table = np.zeros((8, 2 * _REACH + 1), dtype=np.int64)
    for arrival in range(8):
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
            table[arrival, interval + _REACH] = cost
    return table


_RECOVERY = _recovery_table()


def moves_of(free: tuple[int, ...] = (), dear: tuple[int, ...] = (), bonus: int = 0
             ) -> _Table:
    """A table of extra costs by interval, for a device's own shape.

    free    signed semitones that belong to the shape: their surprise is given back
    dear    intervals that will do at need
    bonus   what each interval of the shape is worth on top
    Everything else is forbidden.
    """
    table = np.full(2 * _REACH + 1, FORBIDDEN, dtype=np.int64)
    for interval in dear:
        table[interval + _REACH] = COSTS["not quite the shape"]
    for interval in free:
        table[interval + _REACH] = -_INTERVAL[interval + _REACH] - bonus
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
    pools = problem.pools
    if not problem.slots or any(not pool for pool in pools):
        return []
    states = [_states((), pools[0])] + [_states(a, b) for a, b in pairwise(pools)]
    if any(not len(s[0]) for s in states):
        return []
    local = [_local(problem, index, states[index][0]) for index in range(len(pools))]
    steps: list[Costs] = []
    for index in range(1, len(pools)):
        before, here = problem.slots[index - 1], problem.slots[index]
        place, total = _steps(
            pools[index - 2] if index > 1 else (), pools[index - 1], pools[index],
            before.kinds, here.kinds, before.closes, bool(here.strength and not before.strength),
            here.guides_before if here.change else (), here.guides, problem.repeats_ok,
            problem.strict)
        extra = problem.moves[index - 1]
        steps.append({"step": total if extra is None else total + extra[place]})
    result = []
    for path in k_best_paths([len(s[0]) for s in states], local, steps, k):
        midis = tuple(int(states[i][0][s]) for i, s in enumerate(path.states))
        result.append((midis, Path(path.states, path.total,
                                   tuple(sorted(price(problem, midis).items())))))
    return result


@lru_cache(maxsize=8192)
def _states(before: tuple[int, ...], pool: tuple[int, ...]) -> tuple[_Table, _Table]:
    """Pitch and arrival of each state of a layer, given the pools of the layer before (()
    at the start) and of the layer itself."""
    if not before:
        return np.array(pool, dtype=np.int64), np.full(len(pool), _NONE, dtype=np.int64)
    found = sorted({(b, _arrival(b - a)) for a in before for b in pool
                    if abs(b - a) <= _REACH})
    return (np.array([p for p, _ in found], dtype=np.int64),
            np.array([a for _, a in found], dtype=np.int64))


def _local(problem: Problem, index: int, midis: _Table) -> Costs:
    """What each state pays by itself, all terms together."""
    slot = problem.slots[index]
    last = index == len(problem.slots) - 1
    kind = _kind_array(slot.kinds)[midis % 12]
    total = np.array(_kind_costs(slot, last, problem), dtype=np.int64)[kind]
    total += COSTS["contour"] * np.maximum(
        np.abs(midis - problem.goal[index]) - CONTOUR_SLACK, 0)
    if index == 0 and problem.first is not None:
        total += COSTS["far start"] * np.maximum(np.abs(midis - problem.first) - _SIXTH, 0)
    if last and problem.landing is not None:
        total += np.array([_landing_cost(problem, m, k) for m, k in
                           zip(midis.tolist(), kind.tolist(), strict=True)], dtype=np.int64)
    return {"note": total}


@lru_cache(maxsize=512)
def _kind_array(kinds: tuple[int, ...]) -> _Table:
    return np.array(kinds, dtype=np.int64)


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


def _landing_cost(problem: Problem, midi: int, kind: int) -> int:
    """What the last note pays for the way it leads (or does not lead) to the landing."""
    assert problem.landing is not None
    away, never = abs(midi - problem.landing), problem.never
    if away == 0 and not problem.same_landing_ok:
        return never
    if problem.air:
        return never if away > _SIXTH else COSTS["air interval"] * max(away - 5, 0)
    if away > 4 or (kind == CHROMATIC and away != 1) or (kind == PASSING and away > 2):
        return never
    return 0 if away <= 2 else COSTS["third into landing"]


@lru_cache(maxsize=16384)
def _steps(two_before: tuple[int, ...], before: tuple[int, ...], pool: tuple[int, ...],
           kinds_before: tuple[int, ...], kinds_here: tuple[int, ...], closes_before: bool,
           onto_beat: bool, guides_before: tuple[int, ...], guides: tuple[int, ...],
           repeats_ok: bool, strict: bool) -> tuple[_Table, _Table]:
    """For each step between two layers the place of its interval in a table of `moves_of`,
    and its cost, all terms together (`price` keeps them apart). Everything a step depends on
    is an argument, so that lines over the same chord share their tables."""
    low, arrival = _states(two_before, before)
    high, reached = _states(before, pool)
    never = FORBIDDEN if strict else _SOFT
    true_interval = high[None, :] - low[:, None]
    place = np.clip(true_interval, -_REACH, _REACH) + _REACH
    interval, size = true_interval, np.abs(true_interval)
    joined = (size <= _REACH) & (_ARRIVAL[place] == reached[None, :])
    motion = _INTERVAL[place]
    if not strict:
        motion = np.minimum(motion, never)
    total = np.where(joined, motion, FORBIDDEN)
    if not repeats_ok:
        recovery = _RECOVERY[arrival[:, None], place]
        # after a breath the line may start anywhere near
        total += recovery // 2 if closes_before else recovery
    kind_before = _kind_array(kinds_before)[low % 12][:, None]
    kind_here = _kind_array(kinds_here)[high % 12][None, :]
    hangs = (kind_before == CHROMATIC) & ((size != 1) | (kind_here >= CHROMATIC))
    hangs |= (kind_before == PASSING) & ((size > 2) | (size == 0))
    total += np.where(hangs, never, 0)
    if guides_before:
        from_guide = np.isin(low % 12, guides_before)[:, None]
        to_guide = np.isin(high % 12, guides)[None, :]
        lead = np.where(from_guide & to_guide & (interval >= -2) & (interval < 0),
                        COSTS["guide tone"], 0)
        lead = np.where((lead == 0) & (size <= 2) & (size > 0) & (kind_here == TONE),
                        COSTS["common step"], lead)
        total += lead
    if onto_beat:
        total += np.where((size == 1) & (kind_here == TONE), COSTS["half step into beat"], 0)
    return place, total


def price(problem: Problem, midis: Sequence[int]) -> dict[str, int]:
    """What a given line costs by term, note by note and without the lattice.

    A total of FORBIDDEN or more means that the line is not allowed. The pools are not asked.
    """
    costs: Counter[str] = Counter()
    arrival = _NONE
    for index, (slot, midi) in enumerate(zip(problem.slots, midis, strict=True)):
        last = index == len(problem.slots) - 1
        kind = slot.kinds[midi % 12]
        costs["harmony"] += _kind_costs(slot, last, problem)[kind]
        costs["contour"] += COSTS["contour"] * max(
            abs(midi - problem.goal[index]) - CONTOUR_SLACK, 0)
        if index == 0:
            if problem.first is not None:
                costs["start"] += COSTS["far start"] * max(abs(midi - problem.first) - _SIXTH, 0)
        else:
            before = problem.slots[index - 1]
            interval = midi - midis[index - 1]
            for term, cost in _step_price(problem, before, slot, midis[index - 1], midi,
                                          arrival):
                costs[term] += cost
            extra = problem.moves[index - 1]
            if extra is not None and abs(interval) <= _REACH:
                costs["shape"] += int(extra[interval + _REACH])
            arrival = _arrival(interval)
        if last and problem.landing is not None:
            costs["landing"] += _landing_cost(problem, midi, kind)
    return dict(costs)


def _step_price(problem: Problem, before: Slot, here: Slot, low: int, high: int, arrival: int
                ) -> Iterator[tuple[str, int]]:
    interval, never = high - low, problem.never
    size = abs(interval)
    kind_before, kind = before.kinds[low % 12], here.kinds[high % 12]
    if size > _REACH:
        yield "motion", FORBIDDEN if problem.strict else _SOFT
        return
    yield "motion", min(int(_INTERVAL[interval + _REACH]), never)
    if not problem.repeats_ok:
        recovery = int(_RECOVERY[arrival, interval + _REACH])
        yield "leaps and turns", recovery // 2 if before.closes else recovery
    if ((kind_before == CHROMATIC and (size != 1 or kind == CHROMATIC))
            or (kind_before == PASSING and not 0 < size <= 2)):
        yield "resolution", never
    if here.change and here.guides_before:
        if low % 12 in here.guides_before and high % 12 in here.guides and interval in (-1, -2):
            yield "voice leading", COSTS["guide tone"]
        elif 0 < size <= 2 and kind == TONE:
            yield "voice leading", COSTS["common step"]
    if here.strength and not before.strength and size == 1 and kind == TONE:
        yield "into the beat", COSTS["half step into beat"]
