"""Two voices in the right hand: a short line with a third, or a sixth, under every note."""

from __future__ import annotations

from collections.abc import Iterator, Set
from dataclasses import replace

from fillwright.exact import Fraction
from fillwright.fills.devices.device import Example
from fillwright.fills.devices.line.dice import Dice
from fillwright.fills.devices.line.found import Drawn, room_of
from fillwright.fills.devices.line.judging import goes_nowhere
from fillwright.fills.devices.line.learnt import tempo_class
from fillwright.fills.devices.line.naming import Found, LineDevice, row
from fillwright.fills.devices.line.question import allowed, question_of
from fillwright.fills.devices.line.rhythms import LineRhythm, drawn, grid_of
from fillwright.fills.devices.line.room import Room
from fillwright.fills.devices.line.seeds import Seed
from fillwright.fills.devices.line.sounding import Line
from fillwright.fills.devices.line.walk import TENSION, TONE, Slot, ways_of
from fillwright.fills.player import INTERMEDIATE
from fillwright.fills.situation import Task

__all__ = ["DOUBLE_DEVICES", "doubles_of"]

_LEAST, _MOST = 3, 6
_LOWEST, _ABOVE = 67, 12
"""The upper voice: G4 at least, so that the left hand has its place; an octave above the melody
at most."""

_COST = 42
_MOVES = (-5, -4, -3, -2, -1, 1, 2, 3, 4, 5)
_THIRD, _SIXTH = (3, 4), (8, 9)


def doubles_of(task: Task) -> Iterator[Drawn]:
    """A few lines in thirds and in sixths, with half a beat or more of air before the landing."""
    taste = task.player.level.line
    if not taste.foreign or task.is_fast:
        return
    room = room_of(task)
    end = room.landing_quarter - (task.beat_quarter / 2 if task.landing is not None
                                  else Fraction(0))
    grid = grid_of(task, tempo_class(task.beats_per_minute), end)
    if not grid.beats or end <= grid.start:
        return
    easy = replace(taste, divisions=(2,), slow_divisions=(2,), rate=4, least_sec=0.2)
    dice = Dice(f"two voices {task.duration_quarter} {task.beat} {task.form}")
    for rhythm in drawn(grid, easy, dice, 4, _LEAST):
        if len(rhythm) <= _MOST:
            whole = replace(rhythm, air=room.landing_quarter - rhythm.ends[-1])
            for device, apart in zip(DOUBLE_DEVICES, (_THIRD, _SIXTH), strict=True):
                line = _line(room, whole, device, apart, dice)
                if line is not None:
                    yield line


def _line(room: Room, rhythm: LineRhythm, device: LineDevice, apart: tuple[int, int], dice: Dice
          ) -> Drawn | None:
    slots = room.slots(rhythm)
    low, high = max(_LOWEST, room.centre - 5), room.centre + _ABOVE
    seed = Seed(moves=dict.fromkeys(range(len(slots) - 1), _MOVES))
    unders = []
    for index, slot in enumerate(slots):
        # the lower voice sounds over the same chords as the upper, the coming one's too
        kept = set(allowed(room, slots, rhythm, index, list(range(low - max(apart), high))))
        unders.append({key: under for key in range(low, high + 1)
                       if slot.kinds[key % 12] <= TENSION
                       and (under := _under(slot, key, apart, kept))})
        seed.keys[index] = frozenset(unders[-1])
    question = question_of(room, rhythm, slots, seed, above=True)
    ways = None if question is None else ways_of(question)
    if ways is None:
        return None
    midis = ways.draw(dice)
    below = tuple(under[midi] for under, midi in zip(unders, midis, strict=True))
    if (len(set(midis)) < _LEAST or goes_nowhere(midis)
            or room.landing in (*midis[-2:], *below[-2:])):
        return None
    return Drawn(room, rhythm, slots, midis, device.name,
                 ((device, Found(tuple(range(len(midis))))),), (("idea", _COST),), below=below)


def _under(slot: Slot, midi: int, apart: tuple[int, int], kept: Set[int]) -> int:
    """The key so far under another that the chord has, a chord tone first, among those that are
    `kept`; 0 where it has none."""
    keys = [midi - size for size in apart
            if midi - size in kept and slot.kinds[(midi - size) % 12] <= TENSION]
    return min(keys, key=lambda key: (slot.kinds[key % 12] != TONE, key), default=0)


def _all_apart(line: Line, apart: tuple[int, int]) -> Found | None:
    """Three strokes or more of two keys, all so far apart."""
    if line.count < _LEAST or not line.doubled or any(
            top - low not in apart for top, low in zip(line.midis, line.doubled, strict=False)):
        return None
    return Found(tuple(range(line.count)))


def _says(line: Line, found: Found, what: str) -> str:
    return f"Two voices move together: a {what} lies under {row(line, found.notes)}."


DOUBLE_DEVICES = (
    LineDevice("thirds in the right hand", 0, lambda line: _all_apart(line, _THIRD),
               lambda line, found: _says(line, found, "third"),
               Example("C 4", "0 4 C3 G3", "1 0.5 C5 E5, 1.5 1 E5 G5, 2.5 0.5 D5 F5",
                       landing="F A4"), INTERMEDIATE),
    LineDevice("sixths in the right hand", 0, lambda line: _all_apart(line, _SIXTH),
               lambda line, found: _says(line, found, "sixth"),
               Example("C 4", "0 4 C3 G3", "1 0.5 G4 E5, 1.5 1 E4 C5, 2.5 0.5 F4 D5",
                       landing="F A4"), INTERMEDIATE),
)
