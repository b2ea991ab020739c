"""Which passing chords, and when: the chords of a gap as paths through its written chords.

Each written chord of the gap is a layer of the lattice; its states are the ways to leave
it: as it is, or by one of the moves in one of the rhythms that fit. A path is a plan of the
whole gap. What the held note allows is decided here too, because it decides which chords
may stand where.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from types import MappingProxyType

import numpy as np

from fillwright.fills.devices.reharm.function import letter, melody_cost
from fillwright.fills.devices.reharm.place import Option, Place, disguised, options, own_ways
from fillwright.fills.devices.reharm.time import Slots, best_number, slots
from fillwright.fills.devices.reharm.words import common_tones
from fillwright.fills.finish import speak_quarter
from fillwright.fills.model import HeldEnd
from fillwright.fills.situation import Span, Task
from fillwright.lattice import FORBIDDEN, k_best_paths
from fillwright.theory.harmony import Harmony

__all__ = ["WEIGHTS", "Event", "Plan", "held_plan", "plans", "under_pedal"]

WEIGHTS = MappingProxyType({
    # term: integer cost per unit, in tenths of a natural logarithm (design choices)
    "too few chords": 8,      # per chord fewer than the space wants
    "too many chords": 15,    # per chord more
    "bass leap": 1,           # per third, fourth or fifth in the bass; a tritone costs two
    "no shared tone": 2,      # per pair of neighbours without a common tone
    "left out": 20,           # the written chord is not struck, for it does not take the note
    "second device": 10,      # per further written chord that is led on from
})

_LONG_BEATS = 4
"""Felt beats from which a held note is not let go in its first half (design choice)."""

_LEAST_SPACE = 2
"""Felt beats under which a written chord has room for another one in a ballad only."""

_STATES = 60
"""How many ways to leave one written chord are weighed where a gap has several."""


@dataclass(frozen=True, slots=True)
class Event:
    """A chord struck. `reason` is None for a written one."""

    onset_quarter: Fraction
    end_quarter: Fraction
    harmony: Harmony
    option: Option | None = None

    @property
    def added(self) -> bool:
        return self.option is not None


@dataclass(frozen=True, slots=True)
class Plan:
    """The chords of a gap, what becomes of the held note, and what the plan costs."""

    events: tuple[Event, ...]
    options: tuple[Option, ...]
    rhythm: str
    held: HeldEnd | None
    costs: tuple[tuple[str, int], ...]

    @property
    def total(self) -> int:
        return sum(cost for _, cost in self.costs)

    @property
    def device(self) -> str:
        return ", then ".join(dict.fromkeys(o.move.device for o in self.options))

    @property
    def identity(self) -> tuple[tuple[tuple[int, str, int], ...], ...]:
        return tuple(o.identity for o in self.options)


def held_plan(context: Task, events: tuple[Event, ...]) -> HeldEnd | str | None:
    """What becomes of the held note under these chords: None where nothing is held, or the
    reason why the chords cannot stand.

    It is kept by the finger as long as it is written, if it is a chord tone or an available
    tension of every added chord above which it sounds; else it is let go where the first
    chord enters that does not take it, but never before it has been heard; a long one is the
    tune, and stands for half its length at least.
    """
    held = context.held
    if held is None:
        return None
    until = min(held.end_quarter, context.end_quarter)
    for event in events:
        if event.onset_quarter >= until:
            break
        if event.added and not event.harmony.takes(held.pitch.pitch_class):
            length = until - context.onset_quarter
            if (length >= _LONG_BEATS * context.beat_quarter
                    and event.onset_quarter - context.onset_quarter < length / 2):
                return f"{event.harmony.symbol.pretty} takes a long melody note away"
            if event.onset_quarter < context.onset_quarter + speak_quarter(context):
                return f"{event.harmony.symbol.pretty} comes before the melody note is let go"
            return HeldEnd("released", event.onset_quarter)
    return HeldEnd("finger", until)


def under_pedal(context: Task, plan: Plan) -> Plan | None:
    """The plan with its held note kept by the pedal until the chord changes for the first time;
    None where there is nothing to gain: the first chord does not take the note, it is over
    before the hand could play under it, or there is no time for a pedal.
    """
    held = context.held
    if (held is None or plan.held is None or context.is_fast or len(plan.events) < 2
            or not context.player.level.reharm.pedal):
        return None
    change = plan.events[1].onset_quarter
    if (change - context.onset_quarter < 2 * context.beat_quarter
            or change - context.onset_quarter <= speak_quarter(context)
            or held.end_quarter < change or plan.held.until_quarter < change
            or not plan.events[0].harmony.takes(held.pitch.pitch_class)):
        return None
    return replace(plan, held=HeldEnd("pedal", change))


@dataclass(frozen=True, slots=True)
class _State:
    """One way to leave a written chord."""

    option: Option | None
    events: tuple[Event, ...]
    costs: tuple[tuple[str, int], ...]
    rhythm: str

    @property
    def total(self) -> int:
        return sum(cost for _, cost in self.costs)


def _place(context: Task, index: int) -> tuple[Place, Fraction, bool]:
    """The place after written chord `index`, where it ends, and whether it must come home
    inside the gap because nothing follows: the tune is over, or no chord is printed there."""
    span = context.spans[index]
    if index + 1 < len(context.spans):
        following = context.spans[index + 1]
        return _between(context, span.harmony, following.harmony), following.onset_quarter, False
    landing = context.landing_harmony
    if context.landing is None or landing is None:
        return (Place(span.harmony, span.harmony, context.landing is None),
                _last_end(context), True)
    return _between(context, span.harmony, landing), context.end_quarter, False


def _last_end(context: Task) -> Fraction:
    """Where the last chord of the gap ends: before a printed N.C., else with the gap."""
    end = context.end_quarter
    for chord in reversed(context.written):
        if chord.harmony is not None:
            break
        end = chord.onset_quarter
    return end if context.closing is None else context.end_quarter


def _between(context: Task, here: Harmony, goal: Harmony) -> Place:
    return Place(here, goal, False, own_ways(context.habits, here, goal))


def _takes_away(context: Task, option: Option, place: Place, index: int) -> bool:
    """Whether a move brings the written chord after the next too early: between a chord and
    its return the chord that then comes would be no news. But a II and its V, or I and V, may
    go to and fro, and a tune its own ways."""
    if place.here.root != place.goal.root or option.move.delay or option.move.instead:
        return False
    if option.move.device in ("II V and again", "dominant on the way") and len(
            option.chords) == 1:
        return False
    if {(h.root.pitch_class, letter(h)) for h in option.chords} <= place.own:
        return False
    inside = () if index + 1 == len(context.spans) else tuple(
        chord for chord in context.written
        if chord.end_quarter > context.spans[index + 1].onset_quarter)
    row = (*inside, *context.after)
    coming = next((chord.harmony for chord in row if chord.symbol != row[0].symbol), None)
    return coming is not None and any(
        h.root == coming.root and letter(h) == letter(coming) for h in option.chords)


def _lay_out(option: Option, span: Span, start: Fraction, end: Fraction, home: bool,
             context: Task) -> list[tuple[tuple[Event, ...], Slots]]:
    """The events of a move in every rhythm that fits."""
    chords = option.chords
    found = []
    if option.move.delay:
        # the first chord takes the written one's place; the written one comes last
        number = len(chords) - 1 if option.move.colour else len(chords)
        row: list[tuple[Harmony, Option | None]] = [(h, option) for h in chords]
        if not option.move.colour:
            row.append((span.harmony, None))
        for chosen in slots(number, start, end, context):
            found.append((_events(row, (start, *chosen.onsets), end), chosen))
        return found
    if option.move.instead:
        # never in place of the chord the gap opens on, nor of an ending
        if home or start == context.onset_quarter:
            return []
        row = [(h, option) for h in chords]
        for chosen in slots(len(chords) - 1, start, end, context):
            found.append((_events(row, (start, *chosen.onsets), end), chosen))
        return found
    number = len(chords) + home
    row = [(span.harmony, None)]
    for chord in chords:  # the written chord may come back on the way
        back = option.move.motion != "inner line" and disguised(chord, span.harmony)
        row.append((span.harmony, None) if back else (chord, option))
    if home:
        row.append((span.harmony, None))
    for chosen in slots(number, start, end, context):
        found.append((_events(row, (start, *chosen.onsets), end), chosen))
    return found


def _at_once(option: Option, start: Fraction, end: Fraction, home: bool, context: Task
             ) -> list[tuple[tuple[Event, ...], Slots]]:
    """The events of a move that begins with the gap, where the melody note does not belong to
    the written chord and would rub it."""
    move = option.move
    if (home or move.delay or move.instead or move.colour or move.motion in ("pedal", "thirds")
            or "{bass}" in move.reason or "{inner}" in move.reason):
        return []  # the chord here would be a part of what is said, and does not sound
    row: list[tuple[Harmony, Option | None]] = [(h, option) for h in option.chords]
    return [(_events(row, (start, *chosen.onsets), end), chosen)
            for chosen in slots(len(row) - 1, start, end, context)]


def _events(row: list[tuple[Harmony, Option | None]], onsets: tuple[Fraction, ...],
            end: Fraction) -> tuple[Event, ...]:
    edges = [*onsets, end]
    return tuple(Event(a, b, harmony, option)
                 for (a, b), (harmony, option) in zip(pairwise(edges), row, strict=True))


def _bass_cost(events: tuple[Event, ...], goal: Harmony) -> int:
    lows = [e.harmony.symbol.lowest or e.harmony.root for e in events]
    lows.append(goal.symbol.lowest or goal.root)
    cost = 0
    for a, b in pairwise(lows):
        step = (b.pitch_class - a.pitch_class) % 12
        step = min(step, 12 - step)
        cost += 0 if step <= 2 else 2 if step == 6 else 1
    return cost


def _states(context: Task, index: int) -> list[_State]:
    span = context.spans[index]
    place, end, home = _place(context, index)
    start = span.onset_quarter
    plain = _State(None, (Event(start, end, span.harmony),), (), "")
    states = [plain]
    held = context.held
    melody = None if held is None else held.pitch.pitch_class
    beats = (end - start) / context.beat_quarter
    wanted = best_number(beats, context)
    space = beats
    level = context.player.level
    if context.is_ballad and level.reharm.off_beats and beats < _LEAST_SPACE:
        space = 2 * beats  # a ballad has time for a chord on the off-beat
    for option in options(place, melody, level, context.without):
        move = option.move
        if space < move.beats - (home and move.delay):
            continue
        if not home and _takes_away(context, option, place, index):
            continue
        laid = _lay_out(option, span, start, end, home, context)
        if index == 0 and melody is not None and not span.harmony.takes(melody):
            laid += _at_once(option, start, end, home, context)
        for events, chosen in laid:
            number = len(option.chords)
            costs = [("progression", option.cost), ("chord rhythm", chosen.cost)]
            if events[0].added and not (move.delay or move.instead):
                costs.append(("left out", WEIGHTS["left out"]))
            if number < wanted:
                costs.append(("density", WEIGHTS["too few chords"] * (wanted - number)))
            elif number > wanted:
                costs.append(("density", WEIGHTS["too many chords"] * (number - wanted)))
            costs.append(("bass motion",
                          WEIGHTS["bass leap"] * _bass_cost(events, place.goal)))
            apart = sum(not common_tones(a.harmony, b.harmony) for a, b in pairwise(events))
            costs.append(("shared tones", WEIGHTS["no shared tone"] * apart))
            states.append(_State(option, events, tuple(costs), chosen.rhythm))
    states.sort(key=lambda s: s.total if s.option is not None else -1)
    return states if len(context.spans) == 1 else states[:_STATES]


def plans(context: Task, count: int) -> tuple[Plan, ...]:
    """At most `count` plans with at least one added chord, cheapest first."""
    layers = [_states(context, index) for index in range(len(context.spans))]
    sizes = [len(layer) for layer in layers]
    local = [{"plan": np.array([s.total for s in layer], dtype=np.int64)} for layer in layers]
    steps = [{"second device": np.array(
        [[_second_cost(a, b) for b in after] for a in before], dtype=np.int64)}
        for before, after in pairwise(layers)]
    found = []
    for path in k_best_paths(sizes, local, steps, k=count):
        chosen = [layer[i] for layer, i in zip(layers, path.states, strict=True)]
        taken = tuple(s.option for s in chosen if s.option is not None)
        if not taken:
            continue
        plan = _plan(context, chosen, taken)
        if plan is not None:
            found.append(plan)
    return tuple(sorted(found, key=lambda p: p.total))


def _second_cost(before: _State, after: _State) -> int:
    """What a move costs after another; and no move leads to a written chord in whose place
    another one sounds. Another colour of it will do where only its bass is spoken of."""
    if before.option is None or after.option is None:
        return 0
    if after.events[0].added:
        move, chord = after.option.move, after.option.chords[0]
        said = before.option.move.reason
        if not move.colour or chord.symbol.bass is not None or "{dominant}" not in said or (
                "{guides}" in said):
            return FORBIDDEN
    return WEIGHTS["second device"]


def _plan(context: Task, chosen: list[_State], taken: tuple[Option, ...]) -> Plan | None:
    events = tuple(event for state in chosen for event in state.events)
    held = held_plan(context, events)
    if isinstance(held, str):
        return None
    costs = [pair for state in chosen for pair in state.costs]
    if len(taken) > 1:
        costs.append(("second device", WEIGHTS["second device"] * (len(taken) - 1)))
    note = context.held
    if held is not None and note is not None:
        over = [e for e in events
                if e.added and e.onset_quarter < min(note.end_quarter, context.end_quarter)]
        fit = [melody_cost(e.harmony, note.pitch.pitch_class) for e in over]
        costs.append(("held note", round(sum(fit) / max(len(fit), 1))))
    rhythm = next((s.rhythm for s in chosen if s.option is not None), "even")
    return Plan(events, taken, rhythm, held, tuple(costs))
