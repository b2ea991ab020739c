"""Lines that take up an idea which was played where the music came before.

The stated rhythm is asked for as it was and moved by an eighth or a beat; of a line its shape too,
elsewhere or turned over. What is drawn is judged and named like every line.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.devices.line.dice import Dice
from fillwright.fills.devices.line.found import (
    Drawn,
    Pool,
    bare_lines,
    room_of,
    said_of,
)
from fillwright.fills.devices.line.learnt import tempo_class
from fillwright.fills.devices.line.rhythms import (
    Grid,
    LineRhythm,
    grid_of,
    is_sayable,
    rate_ok,
    rhythm_of,
)
from fillwright.fills.devices.line.room import Room
from fillwright.fills.devices.line.seeds import Seed
from fillwright.fills.relation import SHIFTS_QUARTER, Stated
from fillwright.fills.situation import Task

__all__ = ["lines_again"]

_WIDER, _MOST_MOVE = 2, 9
"""A step or leap may be so many semitones wider or narrower than the stated one, and so wide at
most: the shape is kept, the chord's own tones are found."""

_ELSEWHERE = 3
"""Semitones from the stated first note at least: then the idea is heard to have moved."""

_ENOUGH = 6
"""Lines with a name after which no more are drawn (design choice)."""


def lines_again(task: Task) -> Iterator[Drawn]:
    """Lines that may take up what the task states, the cheapest first."""
    stated = task.stated
    assert stated is not None
    room = room_of(task)
    said = said_of(task)
    dice = Dice(f"{said} {stated.cell.onsets} {stated.cell.tops}")
    grid = grid_of(task, tempo_class(task.beats_per_minute), room.landing_quarter)
    pool = Pool(task.player.level)
    for rhythm in _rhythms(grid, room, stated, dice):
        pool.add(bare_lines(room, said, rhythm, _shapes(stated, len(rhythm)), dice))
        pool.has(_ENOUGH)
    yield from pool.cheapest_first()


def _rhythms(grid: Grid, room: Room, stated: Stated, dice: Dice) -> Iterator[LineRhythm]:
    for by in (Fraction(0), *SHIFTS_QUARTER):
        onsets = tuple(onset + by for onset in stated.cell.onsets)
        if (len(onsets) > 1 and grid.start <= onsets[0] and onsets[-1] < grid.end
                and rate_ok(grid, room.taste, (*onsets, grid.end))
                and is_sayable(grid, room.taste, onsets)):
            yield rhythm_of(grid, onsets, dice)


def _shapes(stated: Stated, count: int) -> list[Seed]:
    """What is asked of the notes of a line that was stated: its shape elsewhere, and turned over;
    of chords nothing but their rhythm."""
    if stated.cell.family != "line":
        return []
    moves = [b - a for a, b in pairwise(stated.cell.tops)]
    first = stated.cell.tops[0]
    away = frozenset(key for key in range(128) if abs(key - first) >= _ELSEWHERE)
    return [Seed(keys={0: away}, moves=dict(enumerate(map(_near, moves[:count - 1])))),
            Seed(moves=dict(enumerate(_near(-move) for move in moves[:count - 1])))]


def _near(move: int) -> tuple[int, ...]:
    """Moves of the same direction, about as wide."""
    way = (move > 0) - (move < 0)
    return tuple(way * size for size in range(max(abs(move) - _WIDER, 1),
                                              min(abs(move) + _WIDER, _MOST_MOVE) + 1)) or (0,)
