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
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from fillwright.exact import Fraction
from fillwright.hands.chords import ChordFingering, all_fingerings
from fillwright.hands.costs import TERMS, WEIGHTS, pair_costs, position_costs
from fillwright.hands.jumps import jump_ok
from fillwright.hands.reach import MAX_NOTES, is_black, mirrored, ruler
from fillwright.lattice import FORBIDDEN, k_best_paths
from fillwright.memory import FINGERS

__all__ = ["PartFingering", "PartNote", "finger_part", "plan_part"]

PartNote = tuple[Fraction, Fraction, int]
_Table = npt.NDArray[np.int64]

LIFT_SECONDS = 0.15
"""A silence this long before the next stroke frees the hand from legato (common practice)."""

_DRUMMED_SEC = 0.14
"""A key that comes again sooner is struck by fingers in turn; else one finger repeats it, up to
seven times a second (common practice)."""

_BASS_BELOW = 48  # C3
_LINE_STEP = 4  # semitones within which two single keys belong to one line

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

    midis    the keys down, ascending, moved by octaves to the bottom of the keyboard so that
             octaves share their answer
    held     for each key its place in the event before, where it was down already, else -1
    fixed    for each key the finger it must take, or 0
    move     how the hand comes from the event before: "bound", legato; "free", it lands afresh;
             "drummed", one key again too soon for one finger
    bass     a lone low note of the left hand, which is not for the thumb
    rolled   the chord is rolled and may exceed the reach
    """

    midis: tuple[int, ...]
    held: tuple[int, ...]
    fixed: tuple[int, ...]
    move: str
    rolled: bool
    bass: bool = False


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
    solved = _solve(events, size)
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
    keys_low = [notes[index][2] for index in order]
    if hand == "left":
        keys_low = [mirrored(midi) for midi in keys_low]
    octaves = min(keys_low) // 12
    # Floats are exact enough to tell whether a key is still held: score times that differ
    # do so by far more than a millionth of a quarter note.
    starts = [float(notes[index][0]) for index in order]
    ends = [start + float(notes[index][1]) - 1e-6
            for start, index in zip(starts, order, strict=True)]
    events: list[_Event] = []
    struck_all: list[list[int]] = []
    down: dict[int, tuple[float, int]] = {}  # key -> (end, finger fixed for it)
    before: tuple[int, ...] = ()
    last_struck: list[int] = []
    last_start = last_end = 0.0
    place = 0
    while place < len(order):
        start, onset = starts[place], notes[order[place]][0]
        by_key: dict[int, int] = {}
        latest = last_end
        down_next: dict[int, tuple[float, int]] = {}
        while place < len(order) and notes[order[place]][0] == onset:
            key = keys_low[place] - 12 * octaves
            if key in by_key:
                return None
            by_key[key] = order[place]
            down_next[key] = (ends[place], fixed.get(order[place], 0))
            latest = max(latest, ends[place])
            place += 1
        kept = {key: held for key, held in down.items()
                if held[0] > start and key not in by_key}
        if len(kept) + len(by_key) > MAX_NOTES:
            return None
        struck = list(by_key)
        if last_struck and not jump_ok(last_struck, struck,
                                       (start - last_start) * seconds_per_quarter, size):
            return None
        midis = tuple(sorted([*kept, *struck]))
        events.append(_Event(
            midis, tuple(before.index(key) if key in kept else -1 for key in midis),
            tuple((kept[key] if key in kept else down_next[key])[1] for key in midis),
            _move(midis == before, (start - last_start) * seconds_per_quarter,
                  (start - last_end) * seconds_per_quarter) if events else "bound",
            not rolled.isdisjoint(by_key.values())))
        struck_all.append([by_key.get(key, -1) for key in midis])
        down = kept | down_next
        before, last_struck, last_start, last_end = midis, struck, start, latest
    if hand == "left":
        lone = [_lone_bass(events, i, 12 * octaves) for i in range(len(events))]
        events = [replace(e, bass=True) if b else e for e, b in zip(events, lone, strict=True)]
    return tuple(events), struck_all


def _move(same: bool, since_sec: float, lifted_sec: float) -> str:
    """How a hand comes to keys, the same or not, after a stroke and a silence that long."""
    if same and since_sec < _DRUMMED_SEC:
        return "drummed"
    return "free" if lifted_sec >= LIFT_SECONDS else "bound"


def _lone_bass(events: Sequence[_Event], place: int, lift: int) -> bool:
    """Is this a single low key with no other single key near it before or after: a bass note,
    for which the hand turns its fifth finger down (common practice)?

    lift   semitones by which the (mirrored) keys were moved down
    """
    midis = events[place].midis
    if len(midis) != 1 or mirrored(midis[0] + lift) >= _BASS_BELOW or events[place].fixed[0]:
        return False
    near = [events[i].midis for i in (place - 1, place + 1) if 0 <= i < len(events)]
    return not any(len(m) == 1 and 0 < abs(m[0] - midis[0]) <= _LINE_STEP for m in near)


@dataclass(frozen=True, slots=True)
class _Solved:
    fingers: tuple[tuple[int, ...], ...]
    cost: int
    costs: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Layer:
    """The fingerings there are for the keys of an event. One object for equal events, so
    that what is computed between two layers is found again by identity."""

    midis: tuple[int, ...]
    options: tuple[ChordFingering, ...]
    total: _Table


@FINGERS.keep
def _layer(midis: tuple[int, ...], fixed: tuple[int, ...], rolled: bool, bass: bool, size: str
           ) -> _Layer:
    options = tuple(option for option in all_fingerings(midis, "right", size, rolled)
                    if all(want in (0, finger)
                           for want, finger in zip(fixed, option.fingers, strict=True))
                    and not (bass and option.fingers == (1,)))
    return _Layer(midis, options, np.array([option.cost for option in options],
                                           dtype=np.int64))


@FINGERS.keep
def _solve(events: tuple[_Event, ...], size: str) -> _Solved | None:
    layers = [_layer(event.midis, event.fixed, event.rolled, event.bass, size) for event in events]
    if not all(layer.options for layer in layers):
        return None
    wide = _remembering(events)
    sizes: list[int] = []
    local: list[dict[str, _Table]] = []
    steps: list[dict[str, _Table]] = []
    for i, layer in enumerate(layers):
        copies = len(layers[i - 1].options) if wide[i] else 1
        sizes.append(copies * len(layer.options))
        local.append({"cost": np.tile(layer.total, copies) if wide[i] else layer.total})
        if i:
            steps.append({"cost": _joined(layers[i - 2] if wide[i - 1] else None,
                                          layers[i - 1], layer, events[i].held,
                                          events[i].move, wide[i], size)})
    paths = k_best_paths(sizes, local, steps)
    if not paths:
        return None
    chosen = [state % len(layer.options)
              for state, layer in zip(paths[0].states, layers, strict=True)]
    return _Solved(tuple(layer.options[state].fingers
                         for state, layer in zip(chosen, layers, strict=True)),
                   paths[0].total, _itemised(events, layers, chosen, wide, size))


def _remembering(events: tuple[_Event, ...]) -> list[bool]:
    """Whether a state remembers the finger before: in the middle of three single notes."""
    joined = [i > 0 and events[i].move != "free"
              and len(events[i - 1].midis) == len(events[i].midis) == 1
              for i in range(len(events))]
    return [joined[i] and i + 1 < len(events) and joined[i + 1] for i in range(len(events))]


def _itemised(events: tuple[_Event, ...], layers: list[_Layer], chosen: list[int],
              wide: list[bool], size: str) -> tuple[tuple[str, int], ...]:
    """The costs of a chosen way by term."""
    costs = dict.fromkeys(TERMS, 0)
    for i, layer in enumerate(layers):
        for term, cost in layer.options[chosen[i]].costs:
            costs[term] += cost
        if i:
            table = _step(layers[i - 1], layer, events[i].held, events[i].move, size)
            for term, paid in zip(TERMS, table[:, chosen[i - 1], chosen[i]], strict=True):
                costs[term] += int(paid)
            if wide[i - 1]:
                change = _change(layers[i - 2], layers[i - 1], layer, size)
                costs["position"] += int(change[chosen[i - 2], chosen[i - 1], chosen[i]])
    return tuple(sorted(costs.items()))


_STAYS = 12
"""Semitones within which a hand that lifts between two notes of a line stays where it is: it
need not, so what its fingers do costs half (common practice)."""

_POSITION = TERMS.index("position")
_SAME_FINGER = TERMS.index("same finger")


@FINGERS.keep
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


@FINGERS.keep
def _step(before: _Layer, after: _Layer, held: tuple[int, ...], move: str, size: str
          ) -> _Table:
    """Costs between two onsets: (terms, options before, options after).

    The mean over the pairs of a key left and a key struck, rounded down; a held key that
    would change its finger is forbidden.
    """
    fingers_before = np.array([option.fingers for option in before.options], dtype=np.int64)
    fingers_after = np.array([option.fingers for option in after.options], dtype=np.int64)
    total = np.zeros((len(TERMS), len(before.options), len(after.options)), dtype=np.int64)
    pairs = [(left, struck) for left in range(len(before.midis)) if left not in held
             for struck in range(len(after.midis)) if held[struck] < 0]
    for left, struck in pairs:
        one, two = before.midis[left], after.midis[struck]
        single = len(before.midis) == len(after.midis) == 1
        if move == "free" and one != two and not (single and abs(two - one) <= _STAYS):
            continue
        table = _pair_table(ruler(two) - ruler(one), is_black(one), is_black(two), size,
                            len(pairs) == 1)
        if move == "free" and one != two:
            table = table // 2
        total += table[:, fingers_before[:, left, None] - 1, fingers_after[None, :, struck] - 1]
    if len(pairs) > 1:
        total //= len(pairs)
        same_chord = before.midis == after.midis and len(pairs) == len(after.midis) ** 2
        for left, struck in pairs:
            if same_chord and left == struck:
                other = fingers_before[:, left, None] != fingers_after[None, :, struck]
                total[_SAME_FINGER][other] += WEIGHTS["changed_in_chord"]
    elif move != "drummed":
        for left, struck in pairs:
            if before.midis[left] == after.midis[struck]:
                other = fingers_before[:, left, None] != fingers_after[None, :, struck]
                total[_SAME_FINGER][other] += WEIGHTS["changed_at_leisure"]
    if any(kept >= 0 for kept in held):
        for left, struck in pairs:
            way = after.midis[struck] - before.midis[left]
            turned = (fingers_after[None, :, struck] - fingers_before[:, left, None]) * way < 0
            total[_POSITION][turned] += WEIGHTS["anchored_cross"]
    for place, kept in enumerate(held):
        if kept >= 0:
            changed = fingers_before[:, kept, None] != fingers_after[None, :, place]
            total[_POSITION][changed] = FORBIDDEN
    return total


@FINGERS.keep
def _change_table(distance: int, between: bool, size: str) -> _Table:
    """Costs of three notes: (first finger - 1, middle finger - 1, third finger - 1)."""
    # of the middle finger it matters only whether it is the thumb
    thumb, other = ([[position_costs(first, middle, third, distance, between, size)
                      for third in range(1, 6)] for first in range(1, 6)] for middle in (1, 2))
    return np.stack([np.array(row, dtype=np.int64)
                     for row in (thumb, other, other, other, other)], axis=1)


def _change(first: _Layer, middle: _Layer, third: _Layer, size: str) -> _Table:
    """The same for the options there are of three single notes."""
    low, high = sorted((first.midis[0], third.midis[0]))
    table = _change_table(ruler(third.midis[0]) - ruler(first.midis[0]),
                          low < middle.midis[0] < high, size)
    if len(first.options) == len(middle.options) == len(third.options) == 5:
        return table
    rows = [[option.fingers[0] - 1 for option in layer.options]
            for layer in (first, middle, third)]
    chosen: _Table = table[np.ix_(*rows)]
    return chosen


@FINGERS.keep
def _joined(first: _Layer | None, before: _Layer, after: _Layer, held: tuple[int, ...],
            move: str, spread: bool, size: str) -> _Table:
    """Step costs summed, (states before, states after).

    first    the layer the states before remember, outermost in their order, or None
    spread   whether the states after remember `before`
    """
    plain: _Table = _step(before, after, held, move, size).sum(axis=0)  # (before, after)
    if first is None:
        table = plain[None]
    else:
        table = plain[None] + _change(first, before, after, size)  # (first, before, after)
    remembered, middle, last = table.shape
    if not spread:
        return table.reshape(remembered * middle, last)
    wide = np.full((remembered, middle, middle, last), FORBIDDEN, dtype=np.int64)
    rows = np.arange(middle)
    wide[:, rows, rows] = table
    return wide.reshape(remembered * middle, middle * last)
