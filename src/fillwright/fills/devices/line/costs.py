"""What a note of a line costs.

A `Problem` is a row of slots (onsets with their harmony) and for each the pitches allowed.
`price` says note by note what a given line costs: the search (`search`) is checked
against it by brute force, and the costs themselves against real melodies.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from fillwright.lattice import FORBIDDEN

__all__ = ["AIR_REACH", "ARRIVALS", "CHROMATIC", "CONTOUR_SLACK", "COSTS", "INTERVALS",
           "INTERVAL_SHARE", "NO_ARRIVAL", "PASSING", "REACH", "RECOVERY", "SIXTH", "SOFT",
           "TENSION", "TONE", "Moves", "Problem", "Slot", "Table", "costs_by_kind",
           "landing_cost", "moves_of", "price"]

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
    "landing foretold": 10,   # the landing's own key one note before the last, without air
    "air interval": 3,        # per semitone beyond a third between last note and landing
    "far start": 1,           # per semitone beyond a sixth between held note and first note
    "guide tone": -5,         # seventh resolved to third (or third to seventh) over a change
    "common step": -1,        # step into a chord tone over a change
    "half step into beat": -1,  # half step from a weak place to a chord tone on a beat
    "turn": 2,                # a neighbour note: step out and back
    "not quite the shape": 5,  # an interval beside the one a device's shape asks for
})

CONTOUR_SLACK = 2
"""Semitones within which the contour goal does not care."""

SIXTH = 9
"""A line that starts farther than this from the held note is a leap nobody connects."""

AIR_REACH = 5
"""After air the melody comes back at most a fourth from the line's last note: what is farther
is heard as another voice (common practice)."""

REACH = 24
"""Semitones up to which an interval has a cost; anything wider is forbidden."""

NO_ARRIVAL, _SAME, _STEP_UP, _STEP_DOWN, _THIRD_UP, _THIRD_DOWN, _LEAP_UP, _LEAP_DOWN = range(8)

Table = npt.NDArray[np.int64]


def _arrival(interval: int) -> int:
    if interval == 0:
        return _SAME
    size, up = abs(interval), interval > 0
    if size <= 2:
        return _STEP_UP if up else _STEP_DOWN
    if size <= 4:
        return _THIRD_UP if up else _THIRD_DOWN
    return _LEAP_UP if up else _LEAP_DOWN


ARRIVALS = np.array([_arrival(i) for i in range(-REACH, REACH + 1)], dtype=np.int64)
"""How an interval arrives; the interval 0 stands at place `REACH`, here and below."""


def _interval_table() -> Table:
    top = max(INTERVAL_SHARE.values())
    row = []
    for interval in range(-REACH, REACH + 1):
        share = INTERVAL_SHARE.get(abs(interval))
        row.append(FORBIDDEN if share is None
                   else round(COSTS["interval bit"] * math.log2(top / share))
                   + (COSTS["repeat"] if interval == 0 else 0))
    return np.array(row, dtype=np.int64)


INTERVALS = _interval_table()
"""The surprise of an interval."""

_SURPRISE = tuple(INTERVALS.tolist())
"""The same as plain numbers, for lines that are priced note by note."""


def _recovery_table() -> Table:
    """Cost of an interval after an arrival: (arrival, interval)."""
    table = np.zeros((8, 2 * REACH + 1), dtype=np.int64)
    for arrival in range(8):
        for interval in range(-REACH, REACH + 1):
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
            table[arrival, interval + REACH] = cost
    return table


RECOVERY = _recovery_table()
"""What an interval costs after an arrival: (arrival, place of the interval)."""

_TURNS = tuple(tuple(row) for row in RECOVERY.tolist())


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """Extra costs by interval; one object for equal tables, found again by identity."""

    table: Table
    extra: tuple[int, ...]


@cache
def moves_of(free: tuple[int, ...] = (), dear: tuple[int, ...] = (), bonus: int = 0) -> Moves:
    """A table of extra costs by interval, for a device's own shape.

    free    signed semitones that belong to the shape: their surprise is given back
    dear    intervals that will do at need
    bonus   what each interval of the shape is worth on top
    Everything else is forbidden.
    """
    table = np.full(2 * REACH + 1, FORBIDDEN, dtype=np.int64)
    for interval in dear:
        table[interval + REACH] = COSTS["not quite the shape"]
    for interval in free:
        table[interval + REACH] = -INTERVALS[interval + REACH] - bonus
    table.flags.writeable = False
    return Moves(table, tuple(table.tolist()))


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
    moves: tuple[Moves | None, ...]
    goal: tuple[int, ...]
    first: int | None
    landing: int | None
    air: bool
    same_landing_ok: bool = False
    repeats_ok: bool = False
    strict: bool = True

    @property
    def foretold(self) -> int | None:
        """The key that the last note but one should leave to the landing, or None."""
        return None if self.air or self.same_landing_ok or self.repeats_ok else self.landing

    @property
    def never(self) -> int:
        return FORBIDDEN if self.strict else SOFT


SOFT = 40
"""What a forbidden thing costs where a given line is priced, so that bad can be compared
with worse."""


def costs_by_kind(slot: Slot, last: bool, problem: Problem) -> tuple[int, int, int, int]:
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


def landing_cost(landing: int, air: bool, same_ok: bool, strict: bool, midi: int, kind: int
                  ) -> int:
    """What the last note pays for the way it leads (or does not lead) to the landing: by step
    or half step where it runs into it, from a fourth at most after air."""
    away, never = abs(midi - landing), FORBIDDEN if strict else SOFT
    if away == 0 and not same_ok:
        return never
    if air:
        return never if away > AIR_REACH else COSTS["air interval"] * max(away - 4, 0)
    return never if away > 2 or (kind == CHROMATIC and away != 1) else 0


def price(problem: Problem, midis: Sequence[int]) -> dict[str, int]:
    """What a given line costs by term, note by note and without the lattice.

    A total of FORBIDDEN or more means that the line is not allowed. The pools are not asked.
    """
    costs = {"harmony": 0, "contour": 0}
    arrival = NO_ARRIVAL
    for index, (slot, midi) in enumerate(zip(problem.slots, midis, strict=True)):
        last = index == len(problem.slots) - 1
        kind = slot.kinds[midi % 12]
        costs["harmony"] += costs_by_kind(slot, last, problem)[kind]
        costs["contour"] += COSTS["contour"] * max(
            abs(midi - problem.goal[index]) - CONTOUR_SLACK, 0)
        if index == 0:
            if problem.first is not None:
                costs["start"] = COSTS["far start"] * max(abs(midi - problem.first) - SIXTH, 0)
        else:
            before = problem.slots[index - 1]
            interval = midi - midis[index - 1]
            for term, cost in _step_price(problem, before, slot, midis[index - 1], midi,
                                          arrival):
                costs[term] = costs.get(term, 0) + cost
            extra = problem.moves[index - 1]
            if extra is not None and abs(interval) <= REACH:
                costs["shape"] = costs.get("shape", 0) + extra.extra[interval + REACH]
            arrival = _arrival(interval)
        if index == len(problem.slots) - 2 and midi == problem.foretold:
            costs["foretold"] = COSTS["landing foretold"]
        if last and problem.landing is not None:
            costs["landing"] = landing_cost(problem.landing, problem.air,
                                             problem.same_landing_ok, problem.strict, midi,
                                             kind)
    return costs


def _step_price(problem: Problem, before: Slot, here: Slot, low: int, high: int, arrival: int
                ) -> Iterator[tuple[str, int]]:
    interval, never = high - low, problem.never
    size = abs(interval)
    kind_before, kind = before.kinds[low % 12], here.kinds[high % 12]
    if size > REACH:
        yield "motion", FORBIDDEN if problem.strict else SOFT
        return
    yield "motion", min(_SURPRISE[interval + REACH], never)
    if not problem.repeats_ok:
        recovery = _TURNS[arrival][interval + REACH]
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
