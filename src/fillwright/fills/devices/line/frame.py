"""What the devices of a gap share: the room, the chords' notes, and the shape of a question."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from fillwright.fills.devices.line.costs import Problem, Slot, moves_of
from fillwright.fills.devices.line.phrase import Phrase
from fillwright.fills.devices.line.pools import (
    RANGES,
    inside,
    kinds,
    pool,
    slots_of,
    with_kinds,
)
from fillwright.fills.model import Shift
from fillwright.fills.situation import Task
from fillwright.hands.model import LEVELS
from fillwright.memory import SEARCHES

__all__ = ["BASE_COSTS", "FIGURE_BASE", "SMALL", "Cell", "Frame", "cell_of"]

SMALL = moves_of(free=(-4, -3, -2, -1, 1, 2, 3, 4), dear=(-5, 5))
"""Steps and thirds either way, a fourth at need."""

BASE_COSTS: MappingProxyType[str, tuple[int, int, int]] = MappingProxyType({
    # What an idea costs before a note is chosen, per eight notes: how far it is from what a
    # beginner, an intermediate, an advanced player would be given first. Common practice.
    "chord tones up high, arpeggiated": (7, 11, 15),
    "arpeggio up and down": (1, 5, 9),
    "arpeggio up, scale down": (4, 2, 4),
    "scale run": (4, 8, 12),
    "pickup into the landing": (11, 9, 12),
    "short reply": (12, 14, 18),
    "enclosure of a target": (9, 3, 0),
    "approach from a half step": (9, 4, 2),
    "upper-structure arpeggio": (9, 9, 3),
    "triad pairs, arpeggiated": (9, 9, 4),
    "pentatonic": (9, 5, 6),
    "blues colour": (9, 5, 5),
    "altered colours": (9, 9, 0),
    "octaves with a rhythm": (8, 10, 12),
    "octaves with a fifth inside": (9, 10, 10),
    "repeated-note rhythm": (8, 10, 12),
})

FIGURE_BASE = (6, 4, 6)
"""The same for lines of figures."""


_CALM = frozenset({"1", "b3", "3", "4", "b5", "5", "#5", "6", "9", "13"})
"""Degrees a piece may end on; a sus chord's fourth stands for its third."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One question: a device on a rhythm in a register.

    double   "" for single notes, "octave" or "fifth" for what is struck below each note
    note     what the reason may name: a triad, a scale, a direction
    answer   what was taken from the phrase before: "", "rhythm" or "shape"
    """

    device: str
    phrase: Phrase
    problem: Problem
    base_cost: int
    double: str = ""
    note: str = ""
    answer: str = ""
    later: int = 0
    """Notes of a sequence's cell, 0 where there is none."""
    triads: tuple[frozenset[int], ...] = ()
    """Pitch classes of the upper structures a line spells."""
    palette: tuple[frozenset[int], ...] = ()
    """Pitch classes a line keeps to over each chord, all but its last note at need."""
    shift: Shift | None = None
    figure: int | None = None
    """Number of the figure a line opens with, where it is named by it."""


@dataclass(frozen=True)
class Frame:
    """What the devices of a gap share: its chords' notes and the room for the line.

    landing   MIDI number the line leads to, or None
    low, high the room beside the melody
    """

    context: Task

    @property
    def level(self) -> str:
        return self.context.level

    def too_slow(self, phrase: Phrase) -> bool:
        """Quarters carry a run or a colour only at a fast tempo."""
        return phrase.style == "quarters" and not self.context.is_fast

    @cached_property
    def is_plain(self) -> bool:
        """The tune keeps to its key: so do its lines, but for notes that lead by half step."""
        return self.context.plain

    @cached_property
    def rows(self) -> tuple[tuple[int, ...], ...]:
        rows = tuple(kinds(s.harmony, self.level, self.context.bar_at(s.onset_quarter).key)
                     for s in self.context.spans)
        return tuple(inside(row, self.context.key) for row in rows) if self.is_plain else rows

    @cached_property
    def turn(self) -> int:
        """Where in the order of figures this gap begins, so that a chorus does not say the
        same thing in every gap."""
        return 3 * self.context.turn

    @cached_property
    def held(self) -> int | None:
        return self.context.held_midi

    @cached_property
    def landing(self) -> int | None:
        return self.context.landing_midi

    @cached_property
    def centre(self) -> int:
        """The melody's place: between held note and landing."""
        known = [m for m in (self.held, self.landing) if m is not None]
        return sum(known) // len(known) if known else 70

    def room(self, above: bool) -> tuple[int, int]:
        """Lowest and highest key of a line near the melody, or above it."""
        known = [m for m in (self.held, self.landing) if m is not None] or [self.centre]
        span = RANGES[self.context.level]
        lowest = 57 if min(known) > 59 else min(known) - 2
        if above:
            low = max(min(known) - 2, lowest)
            high = min(max(known) + 14, 93)
        else:
            low = max(min(known) - 6, lowest)
            high = min(max(known) + 9, 88)
        wide = max(span, max(known) - min(known) + 7)
        if high - low > wide:
            low, high = (high - wide, high) if above and self.landing is None else (low,
                                                                                   low + wide)
        return low, high

    def goal(self, count: int, shape: str, low: int, high: int) -> tuple[int, ...]:
        """The curve a line of `count` notes is to follow."""
        start = self.held if self.held is not None else self.centre
        return _curve(count, shape, low, high, start,
                      self.landing if self.landing is not None else start)

    @cached_property
    def _known_slots(self) -> dict[tuple[int, object], tuple[Phrase, tuple[Slot, ...]]]:
        return {}

    def slots(self, phrase: Phrase, rows: tuple[tuple[int, ...], ...]) -> tuple[Slot, ...]:
        """The slots of a phrase; each rhythm is looked at once for all devices."""
        key = (id(phrase), rows)  # the phrase is kept, so that its identity stays its own
        if key not in self._known_slots:
            bare = self._known_slots.get((id(phrase), None))
            if bare is None:
                bare = phrase, slots_of(self.context, phrase)
                self._known_slots[id(phrase), None] = bare
            self._known_slots[key] = phrase, with_kinds(bare[1], rows)
        return self._known_slots[key][1]

    def at_rest(self, slot: Slot, pool_: tuple[int, ...]) -> tuple[int, ...]:
        """The pitches a line may end on: where nothing follows, root, third, fifth, sixth or
        ninth of the chord (common practice), if any of them is there."""
        if self.landing is not None:
            return pool_
        harmony = self.context.spans[slot.span].harmony
        calm = tuple(m for m in pool_ if harmony.degree_of(m % 12) in _CALM)
        return calm or pool_

    def problem(self, phrase: Phrase, shape: str, *, above: bool = False,
                chromatic: bool = False, rows: tuple[tuple[int, ...], ...] | None = None,
                only: tuple[frozenset[int] | None, ...] | None = None) -> Problem | None:
        """A question without a shape of its own: all pitches of the room at each note."""
        low, high = self.room(above)
        slots = self.slots(phrase, rows or self.rows)
        pools = tuple(pool(slot, self.context.level, low, high,
                           last=i == len(slots) - 1, chromatic=chromatic,
                           only=None if only is None or (i == len(slots) - 1 and i > 1)
                           else only[slot.span])
                      for i, slot in enumerate(slots))
        pools = (*pools[:-1], self.at_rest(slots[-1], pools[-1]))
        if any(not p for p in pools):
            return None
        return Problem(slots, pools, (None,) * (len(slots) - 1),
                       self.goal(len(slots), shape, low, high), self.held, self.landing,
                       phrase.air >= self.context.beat_quarter / 2)


@SEARCHES.keep
def _curve(count: int, shape: str, low: int, high: int, start: int, end: int
           ) -> tuple[int, ...]:
    """A curve of `count` pitches from `start` to `end` within `low` and `high`."""
    start, end = (min(max(m, low), high) for m in (start, end))
    room = max(high - max(start, end), 2)
    depth = max(min(start, end) - low, 2)
    curve = []
    for index in range(count):
        x = (index + 1) / (count + 1)
        straight = start + (end - start) * x
        bulge = 4 * x * (1 - x)
        if shape == "arch":
            height = straight + min(room, 10) * bulge
        elif shape == "bowl":
            height = straight - min(depth, 9) * bulge
        elif shape == "falling":
            top = min(high, end + 11)
            height = top + (end - top) * x
        else:  # rising
            bottom = max(low, end - 10)
            height = bottom + (end - bottom) * x
        curve.append(round(height))
    return tuple(curve)


def cell_of(device: str, level: str, phrase: Phrase, problem: Problem | None, *, note: str = "",
          double: str = "") -> Iterator[Cell]:
    if problem is not None and all(problem.pools):
        yield Cell(device, phrase, problem, BASE_COSTS[device][LEVELS.index(level)],
                   double=double, note=note)
