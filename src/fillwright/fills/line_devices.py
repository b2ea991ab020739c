"""The ideas of the line family, each as questions to the lattice.

A device takes a rhythm and says which pitches each note may have, which moves its shape
wants, and where its contour leads. `cells` lists all of them for a gap; the lattice answers
each one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType

from fillwright.fills.context import GapContext
from fillwright.fills.line_costs import PASSING, TENSION, TONE, Problem, Slot, moves_of
from fillwright.fills.line_figures import (
    figure_name,
    least_moves,
    moves_for,
    pickups,
    plan,
    plans,
)
from fillwright.fills.line_pools import (
    RANGES,
    altered_kinds,
    bears_blues,
    blues_classes,
    kinds,
    pentatonic,
    pool,
    slots_of,
    structure_triads,
)
from fillwright.fills.model import Shift
from fillwright.fills.phrase import Phrase, make_phrase, phrases
from fillwright.hands.model import LEVELS
from fillwright.theory.chord import degree_pitch_class

__all__ = ["Cell", "Frame", "cells"]

_UP_ARP = moves_of(free=(3, 4, 5), dear=(2, 6, 7))
_DOWN_ARP = moves_of(free=(-3, -4, -5), dear=(-2, -6, -7))
_UP_STEP = moves_of(free=(1, 2), dear=(3,))
_DOWN_STEP = moves_of(free=(-1, -2), dear=(-3,))
_LEAP_UP = moves_of(free=(4, 5, 7, 8, 9), dear=(3,), bonus=6)
_LEAP_DOWN = moves_of(free=(-4, -5, -7, -8), dear=(-3,), bonus=6)
_SMALL = moves_of(free=(-4, -3, -2, -1, 1, 2, 3, 4), dear=(-5, 5))
_PENTA = moves_of(free=(-4, -3, -2, -1, 1, 2, 3, 4), dear=(-7, -5, 5, 7))
_ANY_NEAR = moves_of(free=(-5, -4, -3, -2, -1, 1, 2, 3, 4, 5), dear=(-7, 7))
_STEPWISE = moves_of(free=(-2, -1, 1, 2), dear=(-5, -4, -3, 3, 4, 5))
_REPEAT = moves_of(free=(0,))
_REPEAT_OR_STEP = moves_of(free=(0, 1, -1, 2, -2))
_PLANS = 4
"""Plans tried for each rhythm."""
_OCTAVE_MOVES = moves_of(free=(-5, -4, -3, -2, -1, 1, 2, 3, 4, 5), dear=(0, -7, 7))

BASE_COSTS: MappingProxyType[str, tuple[int, int, int]] = MappingProxyType({
    # What an idea costs before a note is chosen, per eight notes: how far it is from what a
    # beginner, an intermediate, an advanced player would be given first. Common practice.
    "chord tones up high, arpeggiated": (0, 8, 14),
    "arpeggio up and down": (1, 5, 9),
    "arpeggio up, scale down": (4, 2, 4),
    "scale run": (4, 8, 12),
    "pickup into the landing": (4, 1, 3),
    "short reply": (6, 9, 14),
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

_FIGURE_BASE = (6, 4, 6)
"""The same for lines of figures."""


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
    shift: Shift | None = None
    figure: int | None = None
    """Number of the figure a line opens with, where it is named by it."""


@dataclass(frozen=True)
class Frame:
    """What the devices of a gap share: its chords' notes and the room for the line.

    landing   MIDI number the line leads to, or None
    low, high the room beside the melody
    """

    context: GapContext

    @property
    def level(self) -> str:
        return self.context.level

    @cached_property
    def rows(self) -> tuple[tuple[int, ...], ...]:
        chorus = self.context.chorus
        return tuple(kinds(s.harmony, self.level, chorus.bar_at(s.onset_quarter).key)
                     for s in self.context.spans)

    @cached_property
    def turn(self) -> int:
        """Where in the order of figures this gap begins, so that a chorus does not say the
        same thing in every gap."""
        return 3 * self.context.gap.number

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
        end = self.landing if self.landing is not None else start
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

    @cached_property
    def _known_slots(self) -> dict[object, tuple[Slot, ...]]:
        return {}

    def slots(self, phrase: Phrase, rows: tuple[tuple[int, ...], ...]) -> tuple[Slot, ...]:
        """The slots of a phrase; each rhythm is looked at once for all devices."""
        key = (phrase.onsets, phrase.ends, rows)
        if key not in self._known_slots:
            self._known_slots[key] = slots_of(self.context, phrase, rows)
        return self._known_slots[key]

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
        if any(not p for p in pools):
            return None
        return Problem(slots, pools, (None,) * (len(slots) - 1),
                       self.goal(len(slots), shape, low, high), self.held, self.landing,
                       phrase.air >= self.context.beat_quarter / 2)


def cells(context: GapContext) -> Iterator[Cell]:
    """All questions of a gap, in a fixed order; devices switched off are left out."""
    frame = Frame(context)
    rhythms = phrases(context)
    for cell in _all(frame, rhythms):
        if cell.device not in context.without:
            yield cell


def _all(frame: Frame, rhythms: tuple[Phrase, ...]) -> Iterator[Cell]:
    level = frame.context.level
    for phrase in _with_air(frame.context):
        yield from _octaves(frame, phrase)
    for number, phrase in enumerate(rhythms):
        yield from _chord_tones(frame, phrase)
        yield from _arpeggio_and_scale(frame, phrase)
        yield from _scale_run(frame, phrase, number)
        yield from _repeated(frame, phrase)
        yield from _figures(frame, phrase, number)
        if level == "beginner":
            yield from _broken_chord(frame, phrase)
        else:
            yield from _enclosure(frame, phrase, number)
            yield from _half_step(frame, phrase, number)
            yield from _pentatonic(frame, phrase)
            yield from _blues(frame, phrase)
        if level == "advanced":
            yield from _structures(frame, phrase)
            yield from _triad_pairs(frame, phrase)
            yield from _altered(frame, phrase)


def _cell(device: str, level: str, phrase: Phrase, problem: Problem | None, *, note: str = "",
          double: str = "") -> Iterator[Cell]:
    if problem is not None and all(problem.pools):
        yield Cell(device, phrase, problem, BASE_COSTS[device][LEVELS.index(level)],
                   double=double, note=note)


def _only_kind(problem: Problem, most: int, last: bool = True) -> Problem:
    """Keep the pitches that are at most a tension (1) or chord tones (0)."""
    pools = tuple(tuple(m for m in pool_ if slot.kinds[m % 12] <= most)
                  if last or i < len(problem.pools) - 1 else pool_
                  for i, (slot, pool_) in enumerate(zip(problem.slots, problem.pools,
                                                        strict=True)))
    return replace(problem, pools=pools)


def _chord_tones(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    if phrase.style in ("double time", "triplets") or len(phrase) < 2:
        return
    problem = frame.problem(phrase, "falling", above=True)
    if problem is None:
        return
    most = TONE if frame.context.level == "beginner" else TENSION
    yield from _cell("chord tones up high, arpeggiated", frame.level, phrase,
                     _only_kind(problem, most))


def _broken_chord(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    """Up the chord and down again, or down and up."""
    count = len(phrase)
    if count < 4:
        return
    top = (count + 1) // 2
    for first, then, shape in ((_UP_ARP, _DOWN_ARP, "arch"), (_DOWN_ARP, _UP_ARP, "bowl")):
        problem = frame.problem(phrase, shape, above=shape == "arch")
        if problem is not None:
            moves = tuple(first if i < top - 1 else then for i in range(count - 1))
            yield from _cell("arpeggio up and down", frame.level, phrase,
                             replace(_only_kind(problem, TONE), moves=moves))


def _arpeggio_and_scale(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    count = len(phrase)
    if count < 5 or phrase.style in ("off-beats", "quarters"):
        return
    problem = frame.problem(phrase, "arch", above=True)
    if problem is None:
        return
    climb = min(max(2, round(count * 0.4)), 4)
    pools = tuple(tuple(m for m in p if i > climb or s.kinds[m % 12] <= TENSION)
                  for i, (s, p) in enumerate(zip(problem.slots, problem.pools, strict=True)))
    moves = tuple(_UP_ARP if i < climb else _DOWN_STEP if i < climb + 7 else _SMALL
                  for i in range(count - 1))
    yield from _cell("arpeggio up, scale down", frame.level, phrase,
                     replace(problem, pools=pools, moves=moves))


def _scale_run(frame: Frame, phrase: Phrase, number: int) -> Iterator[Cell]:
    count = len(phrase)
    if count < 4 or phrase.style in ("off-beats", "quarters"):
        return
    for direction in (("down", "up") if number % 2 else ("up", "down")):
        run, back = (_UP_STEP, _DOWN_STEP) if direction == "up" else (_DOWN_STEP, _UP_STEP)
        # a leap into the run, the run, and a turn before the landing
        length = min(count - 2, 6)
        moves = tuple((_LEAP_DOWN if direction == "up" else _LEAP_UP) if i == 0 and count > 5
                      else run if i <= length
                      else back if i == count - 2 and count - 2 > length else _SMALL
                      for i in range(count - 1))
        problem = frame.problem(phrase, "rising" if direction == "up" else "falling",
                                above=direction == "down")
        if problem is not None:
            yield from _cell("scale run", frame.level, phrase, replace(problem, moves=moves),
                             note=direction)


def _figures(frame: Frame, phrase: Phrase, number: int) -> Iterator[Cell]:
    """Lines of figures, named by the one they open with; in two or three notes there is
    room for a pickup only."""
    count = len(phrase)
    if count < 1 or (phrase.style == "quarters" and frame.level != "beginner"):
        return
    short = count < 4
    for turn, mirrored, moves in (pickups(count - 1, frame.turn + number) if short else
                                  plans(count - 1, frame.turn + 2 * number, _PLANS)):
        shape = ("arch", "falling", "bowl", "rising")[(number + turn) % 4]
        problem = frame.problem(phrase, shape, above=shape in ("falling", "arch"),
                                chromatic=frame.level == "advanced")
        if problem is None or (not short and count - 1 < least_moves(turn)):
            continue
        problem = replace(problem, moves=moves_for(moves))
        if short:
            yield from _cell("short reply" if problem.air or problem.landing is None
                             else "pickup into the landing", frame.level, phrase, problem)
        else:
            yield Cell(figure_name(turn), phrase, problem, _FIGURE_BASE[LEVELS.index(frame.level)],
                       note="mirrored" if mirrored else "", figure=turn)


def _enclosure(frame: Frame, phrase: Phrase, number: int) -> Iterator[Cell]:
    """The last two notes lie on either side of the landing; with air, two notes lie on
    either side of a chord tone on a beat."""
    count = len(phrase)
    problem = frame.problem(phrase, "arch" if number % 2 else "falling", above=True,
                            chromatic=True)
    if count < 3 or problem is None:
        return
    row = moves_for(plan(count - 1, frame.turn + number))
    landing = problem.landing
    if landing is not None and not problem.air:
        slot, last = problem.slots[-2], problem.slots[-1]
        for sign in (1, -1):
            first = tuple(sorted(m for m in (landing + sign, landing + 2 * sign)
                                 if _enclosing_ok(slot, m)))
            second = tuple(sorted({landing - sign} | {
                m for m in (landing - 2 * sign,) if last.kinds[m % 12] <= PASSING}))
            if first:
                yield from _cell("enclosure of a target", frame.level, phrase, replace(
                    problem, pools=(*problem.pools[:-2], first, second),
                    moves=(*row[:-2], _STEPWISE, _ANY_NEAR)), note="landing")
        return
    target = next((i for i in range(count - 1, 1, -1)
                   if problem.slots[i].strength and not problem.slots[i - 1].closes
                   and not problem.slots[i - 2].closes), None)
    if target is None:
        return
    pools = _tone_at(problem, target)
    for above in (True, False):
        first_move = moves_of(free=(-3, -2)) if above else moves_of(free=(2, 3))
        second_move = moves_of(free=(1,)) if above else moves_of(free=(-1,))
        moves = tuple(first_move if i == target - 2 else second_move if i == target - 1
                      else move for i, move in enumerate(row))
        yield from _cell("enclosure of a target", frame.level, phrase,
                         replace(problem, pools=pools, moves=moves), note=str(target))


def _tone_at(problem: Problem, target: int) -> tuple[tuple[int, ...], ...]:
    """The pools of a problem with chord tones only at one note."""
    return tuple(tuple(m for m in p if i != target or s.kinds[m % 12] == TONE)
                 for i, (s, p) in enumerate(zip(problem.slots, problem.pools, strict=True)))


def _enclosing_ok(slot: Slot, midi: int) -> bool:
    kind = slot.kinds[midi % 12]
    return kind <= TENSION or (kind == PASSING and not slot.held and slot.strength < 2)


def _half_step(frame: Frame, phrase: Phrase, number: int) -> Iterator[Cell]:
    """The landing (or, with air, the last beat note) is approached by a half step that
    goes on from a chord tone."""
    count = len(phrase)
    problem = frame.problem(phrase, "bowl" if number % 2 else "arch", above=not number % 2,
                            chromatic=True)
    if count < 2 or problem is None:
        return
    row = moves_for(plan(count - 1, frame.turn + number + 4, mirrored=bool(number % 2)))
    landing = problem.landing
    if landing is not None and not problem.air:
        for sign in (-1, 1):
            yield from _cell("approach from a half step", frame.level, phrase, replace(
                problem, pools=(*problem.pools[:-1], (landing + sign,)),
                moves=(*row[:-1], _ANY_NEAR)), note="landing")
        return
    target = next((i for i in range(count - 1, 0, -1)
                   if problem.slots[i].strength and not problem.slots[i - 1].closes), None)
    if target is None:
        return
    moves = tuple(moves_of(free=(1, -1)) if i == target - 1 else move
                  for i, move in enumerate(row))
    yield from _cell("approach from a half step", frame.level, phrase,
                     replace(problem, pools=_tone_at(problem, target), moves=moves),
                     note=str(target))


def _pentatonic(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    if len(phrase) < 4 or phrase.style == "quarters":
        return
    scales = [pentatonic(s.harmony) for s in frame.context.spans]
    if any(s is None for s in scales):
        return
    only = tuple(s[1] for s in scales if s is not None)
    problem = frame.problem(phrase, "arch", above=True, only=only)
    if problem is not None:
        moves = (_PENTA,) * (len(phrase) - 1)
        names = " and ".join(dict.fromkeys(s[0] for s in scales if s is not None))
        yield from _cell("pentatonic", frame.level, phrase, replace(problem, moves=moves),
                         note=names)


def _blues(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    context = frame.context
    if len(phrase) < 4 or not bears_blues(context):
        return
    classes = blues_classes(context.chorus.key)
    tonic = context.chorus.key.tonic.pitch_class
    rows = tuple(tuple(PASSING if pc in classes and kind > PASSING else kind
                       for pc, kind in enumerate(row)) for row in frame.rows)
    problem = frame.problem(phrase, "falling", above=True, rows=rows,
                            only=(classes | {tonic},) * len(rows))
    if problem is not None:
        yield from _cell("blues colour", frame.level, phrase,
                         replace(problem, moves=(_PENTA,) * (len(phrase) - 1)))


def _altered(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    context = frame.context
    held = None if frame.held is None else frame.held % 12
    rows = tuple(altered_kinds(s.harmony, held) or row
                 for s, row in zip(context.spans, frame.rows, strict=True))
    if rows == frame.rows or len(phrase) < 3 or phrase.style == "quarters":
        return
    problem = frame.problem(phrase, "falling", above=True, rows=rows)
    if problem is not None:
        yield from _cell("altered colours", frame.level, phrase, problem)
        row = moves_for(plan(len(phrase) - 1, frame.turn))
        yield from _cell("altered colours", frame.level, phrase, replace(problem, moves=row))


def _structures(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    context = frame.context
    if len(phrase) < 3 or phrase.style == "quarters":
        return
    held = None if frame.held is None else frame.held % 12
    triads = [structure_triads(s.harmony, held) for s in context.spans]
    if not any(triads):
        return
    for turn in range(2):
        only: list[frozenset[int] | None] = []
        rows = []
        names = []
        for span, options, row in zip(context.spans, triads, frame.rows, strict=True):
            if options:
                name, classes = options[min(turn, len(options) - 1)]
                only.append(classes)
                rows.append(tuple(min(k, TENSION) if pc in classes else k
                                  for pc, k in enumerate(row)))
                names.append(f"{name} over {span.harmony.symbol.pretty}")
            else:
                only.append(None)
                rows.append(row)
        problem = frame.problem(phrase, "arch" if turn == 0 else "falling", above=True,
                                rows=tuple(rows), only=tuple(only))
        if problem is not None:
            moves = tuple(_ARP_ANY if i < len(phrase) - 2 else None
                          for i in range(len(phrase) - 1))
            for cell in _cell("upper-structure arpeggio", frame.level, phrase,
                              replace(problem, moves=moves), note="; ".join(names)):
                yield replace(cell, triads=tuple(t for t in only if t is not None))


_ARP_ANY = moves_of(free=(3, 4, 5, -3, -4, -5), dear=(1, 2, -1, -2, 6, 7, 8, 9, -6, -7))


def _triad_pairs(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    """Two neighbouring major triads of the scale, three notes of each in turn."""
    count = len(phrase)
    if count < 6 or phrase.style in ("quarters", "off-beats"):
        return
    pairs = []
    for span in frame.context.spans:
        root = span.harmony.root.pitch_class
        degrees = _TRIAD_PAIRS.get(span.harmony.scale.name)
        if degrees is None:
            return
        pairs.append(tuple(frozenset((root + degree_pitch_class(d)) % 12 for d in triad)
                           for triad in degrees))
    problem = frame.problem(phrase, "arch", above=True)
    if problem is None:
        return
    pools = []
    for i, (slot, pool_) in enumerate(zip(problem.slots, problem.pools, strict=True)):
        wanted = pairs[slot.span][(i // 3) % 2]
        free = i == count - 1 or i >= 6 + (count - 6) // 3 * 3
        pools.append(tuple(m for m in pool_ if free or m % 12 in wanted))
    moves = tuple(_TRIAD_MOVE if (i + 1) % 3 else _SMALL for i in range(count - 1))
    yield from _cell("triad pairs, arpeggiated", frame.level, phrase,
                     replace(problem, pools=tuple(pools), moves=moves))


_TRIAD_MOVE = moves_of(free=(3, 4, 5, -3, -4, -5))
_TRIAD_PAIRS = {
    # Neighbouring major triads that hold no note to avoid, by chord scale (common practice).
    "dorian": (("b3", "5", "b7"), ("11", "13", "1")),
    "modal dorian": (("b3", "5", "b7"), ("11", "13", "1")),
    "lydian": (("1", "3", "5"), ("9", "#11", "13")),
    "lydian b7": (("1", "3", "5"), ("9", "#11", "13")),
    "sus mixolydian": (("4", "13", "1"), ("b7", "9", "4")),
}


def _repeated(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    """One key in a rhythm, moved by step where the chord asks for it, and off to the landing."""
    count = len(phrase)
    if count < 3 or phrase.style in ("double time", "quarters"):
        return
    problem = frame.problem(phrase, "arch", above=False)
    if problem is None:
        return
    problem = _only_kind(problem, TENSION, last=False)
    moves = tuple(None if i == count - 2 and count > 3 else
                  _REPEAT_OR_STEP if problem.slots[i + 1].change or i == count - 2 else _REPEAT
                  for i in range(count - 1))
    moves = tuple(_SMALL if m is None else m for m in moves)
    yield from _cell("repeated-note rhythm", frame.level, phrase,
                     replace(problem, moves=moves, repeats_ok=True))


def _with_air(context: GapContext) -> tuple[Phrase, ...]:
    """Rhythms for octaves: few and sharp, over a beat before the landing, because the hand
    has to come down."""
    if context.gap.landing is None:
        return phrases(context, ("off-beats", "quarters"), each=2)
    early = context.end_quarter - context.beat_quarter
    if early <= context.onset_quarter + context.beat_quarter:
        early = context.end_quarter - context.beat_quarter / 2
    return tuple(make_phrase(context, p.style, p.onsets, p.cost)
                 for p in phrases(context, ("off-beats", "quarters"), each=2,
                                  landing_quarter=early))


def _octaves(frame: Frame, phrase: Phrase) -> Iterator[Cell]:
    """A few octaves in a rhythm at the top of the keyboard; the lower key of the last one
    is beside the landing."""
    context = frame.context
    if len(phrase) < 2:
        return
    if context.gap.landing is not None and phrase.air < context.beat_quarter / 2:
        return
    near = frame.landing if frame.landing is not None else frame.centre
    low, high = max(near + 10, 74), min(near + 26, 103)
    slots = frame.slots(phrase, frame.rows)
    pools = tuple(tuple(m for m in range(low, high + 1) if slot.kinds[m % 12] <= TENSION
                        and (context.level != "beginner" or slot.kinds[m % 12] == TONE))
                  for slot in slots)
    top = near + 19
    goal = tuple(round(top + (near + 12 - top) * (i + 1) / len(slots))
                 for i in range(len(slots)))
    problem = Problem(slots, pools, (_OCTAVE_MOVES,) * (len(slots) - 1), goal, None,
                      None if frame.landing is None else near + 12, True)
    yield from _cell("octaves with a rhythm", frame.level, phrase, problem, double="octave")
    if context.hand == "large" and context.level != "beginner":
        inside = tuple(tuple(m for m in p if slot.kinds[(m - 5) % 12] <= TENSION)
                       for slot, p in zip(slots, pools, strict=True))
        yield from _cell("octaves with a fifth inside", frame.level, phrase,
                         replace(problem, pools=inside), double="fifth")
