"""Octaves with a rhythm, high and around the melody: three strokes or more, the lower key above A4;
not for a beginner's hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.devices.device import Example
from fillwright.fills.devices.line.dice import Dice
from fillwright.fills.devices.line.found import Drawn, room_of
from fillwright.fills.devices.line.learnt import tempo_class
from fillwright.fills.devices.line.naming import Found, LineDevice, row
from fillwright.fills.devices.line.question import allowed
from fillwright.fills.devices.line.rhythms import drawn, grid_of
from fillwright.fills.devices.line.sounding import Line
from fillwright.fills.devices.line.walk import TENSION, Question, ways_of
from fillwright.fills.player import INTERMEDIATE
from fillwright.fills.situation import Task

__all__ = ["OCTAVES", "OCTAVE_DEVICE", "octaves_of"]

OCTAVES = "octaves with a rhythm"
_LEAST = 3
_LOWEST_TOP, _HIGHEST_TOP = 82, 96
"""The upper key: an octave above B flat 4 at least, C7 at most."""

_NEAREST, _FARTHEST = 7, 19
"""Semitones of the upper key above the melody: the two keys lie around it or the lower one not a
whole octave over it, for far above it nothing fills the space between the hands."""

_NEAR = 5
"""One of the last two keys lies within a fourth of the landing."""

_COST = 42
_MOVES = (-5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5)


def octaves_of(task: Task) -> Iterator[Drawn]:
    """A few rhythms of octaves, with a beat or more of air before the landing, because the hand
    has to come down."""
    room = room_of(task)
    if room.taste.plain:
        return
    end = room.landing_quarter - (task.beat_quarter if task.landing is not None else Fraction(0))
    grid = grid_of(task, tempo_class(task.beats_per_minute), end)
    if not grid.beats or end <= grid.start:
        return
    taste = replace(room.taste, divisions=(2,), slow_divisions=(2,), rate=4, least_sec=0.2)
    dice = Dice(f"octaves {task.duration_quarter} {task.beat} {task.form}")
    near = task.landing_midi or room.centre
    low, high = max(near + _NEAREST, _LOWEST_TOP), min(near + _FARTHEST, _HIGHEST_TOP)
    for rhythm in drawn(grid, taste, dice, 3, _LEAST):
        if len(set(rhythm.onsets)) < _LEAST or _is_even(rhythm.onsets):
            continue
        rhythm = replace(rhythm, air=room.landing_quarter - rhythm.ends[-1])
        slots = room.slots(rhythm)
        only = tuple(tuple(allowed(room, slots, rhythm, i, [
            k for k in range(low, high + 1) if slot.kinds[k % 12] <= TENSION
            and not (i + 1 == len(slots) and _is_far(task, k))]))
            for i, slot in enumerate(slots))
        if not all(only):
            continue
        ways = ways_of(Question(slots, low, high, only, (_MOVES,) * (len(slots) - 1), None, None,
                                True, (0, 0)))
        if ways is None:
            continue
        midis = ways.draw(dice)
        if len(set(midis)) >= _LEAST:
            yield Drawn(room, rhythm, slots, midis, OCTAVES,
                        ((OCTAVE_DEVICE, Found(tuple(range(len(midis))))),), (("idea", _COST),),
                        below=tuple(m - 12 for m in midis))


def _is_far(task: Task, top: int) -> bool:
    """Whether octaves that end there leave the landing in mid-air, or take it away."""
    landing = task.landing_midi
    return landing is not None and not any(0 < abs(k - landing) <= _NEAR for k in (top, top - 12))


def _is_even(onsets: Sequence[Fraction | int]) -> bool:
    return len({b - a for a, b in pairwise(onsets)}) == 1


def _octaves(line: Line) -> Found | None:
    """Three strokes or more in several values, all with their lower octave above A4."""
    if line.count < _LEAST or min(line.doubled or (0,)) <= 69 or _is_even(
            line.onsets[:line.count]) or any(
            top - low != 12 for top, low in zip(line.midis, line.doubled, strict=False)):
        return None
    return Found(tuple(range(line.count)))


def _says(line: Line, found: Found) -> str:
    return f"Octaves high up, {row(line, found.notes)}: the rhythm carries it."


OCTAVE_DEVICE = LineDevice(
    OCTAVES, 0, _octaves, _says,
    Example("C 4", "0 4 C3 G3", "1 0.5 E5 E6, 1.5 1 G5 G6, 2.5 0.5 E5 E6", landing="F A4"),
    INTERMEDIATE)
