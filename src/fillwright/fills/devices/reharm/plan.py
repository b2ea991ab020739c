"""Which passing chords, and when: the chords of a gap as paths through its written chords.

Each written chord of the gap is a layer of the lattice; its states are the ways to leave
it (`states`). A path is a plan of the whole gap. What the held note allows is decided here,
because it decides which chords may stand where: a plan that keeps it goes before every plan
that lets it go.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from fillwright.fills.devices.reharm.device import Stands
from fillwright.fills.devices.reharm.function import melody_cost, named_classes
from fillwright.fills.devices.reharm.options import Option
from fillwright.fills.devices.reharm.rank import TASTE, Ranking
from fillwright.fills.devices.reharm.states import Event, State, states_of
from fillwright.fills.devices.reharm.time import best_number, is_crowded
from fillwright.fills.finish import speak_quarter
from fillwright.fills.model import HeldEnd
from fillwright.fills.situation import Task
from fillwright.lattice import FORBIDDEN, k_best_paths
from fillwright.memory import SEARCHES
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.pitch import NoteName

__all__ = ["CUT", "Event", "ChordPlan", "held_plan", "plans", "under_pedal"]

_STATES = 80
"""How many ways to leave one written chord are weighed where a gap has several."""

_CUT = 40
"""What it costs that the held note is let go for a chord that does not take it, or with the
pedal where a finger could hold it."""

CUT = "melody cut"
"""The term of that cost."""

_ROOM_LEFT = "room left"
"""The term of what it costs that there is room for more chords."""

_TINT = 30
"""What it costs that a colour of the written chord follows what is a chord of its own."""

_CROSSED, _MOST_CROSSED = 6, 2
"""What it costs that the melody goes on with a note which the last chord has just altered, and how
many such notes count (design choice)."""

_TOO_SOON = 10
"""What it costs that the melody comes in on a note of the chord just left (design choice)."""

_CROSS_BEATS = 2
"""Felt beats from the landing on in which that is heard."""

_SECOND_DEVICE = 4
"""What each further written chord costs that is led on from (design choice)."""


@dataclass(frozen=True, slots=True)
class ChordPlan:
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
    def unusual(self) -> int:
        """What it costs whatever the level's taste: the least is what is done most in such a
        place."""
        return sum(cost for term, cost in self.costs if term != TASTE)

    @property
    def likelihood(self) -> int:
        """What it costs however many chords there is room for: few are no reason to leave a plan
        out."""
        return sum(cost for term, cost in self.costs if term != _ROOM_LEFT)

    @property
    def device(self) -> str:
        return ", then ".join(dict.fromkeys(o.move.name for o in self.options))

    @property
    def identity(self) -> tuple[object, ...]:
        """What is heard of its added chords, wherever they stand, and whether the written chord
        is struck before them."""
        return (self.events[0].added,
                *(chord for option in self.options for chord in option.sounds))

    @property
    def only_colours(self) -> bool:
        """Whether it adds no chord, only colours of the written one."""
        return all(option.move.colour for option in self.options)

    @property
    def only_tints(self) -> bool:
        """Whether these are colours of a chord that has its third: one without it still waits."""
        return all(_tint(option) for option in self.options)

    @property
    def cuts(self) -> bool:
        """Whether it lets the held note go before its time."""
        return any(term == CUT for term, _ in self.costs)


def _tint(option: Option) -> bool:
    """Whether it is a colour of a chord that has its third, and not more."""
    return option.move.colour and option.place.here.third in ("3", "b3")


def held_plan(task: Task, events: tuple[Event, ...]) -> HeldEnd | str | None:
    """What becomes of the held note under these chords: None where nothing is held, or the
    reason why the chords cannot stand.

    It is kept by the finger as long as it is written, if it is a chord tone or an available
    tension of every added chord above which it sounds; else it is let go where the first
    chord enters that does not take it, but never before it has been heard: it is the
    tune, and stands for half its length at least.
    """
    held = task.held
    if held is None:
        return None
    until = min(held.end_quarter, task.end_quarter)
    for event in events:
        if event.onset_quarter >= until:
            break
        if event.added and not event.harmony.takes(held.pitch.pitch_class):
            length = until - task.onset_quarter
            if event.onset_quarter - task.onset_quarter < length / 2:
                return f"{event.harmony.symbol.pretty} takes a long melody note away"
            if event.onset_quarter < task.onset_quarter + speak_quarter(task):
                return f"{event.harmony.symbol.pretty} comes before the melody note is let go"
            return HeldEnd("released", event.onset_quarter)
    return HeldEnd("finger", until)


def under_pedal(task: Task, plan: ChordPlan) -> ChordPlan | None:
    """The plan with its held note kept by the pedal until the chord changes for the first time;
    None where there is nothing to gain: the first chord does not take the note, it is over
    before the hand could play under it, or there is no time for a pedal.
    """
    held = task.held
    if (held is None or plan.held is None or task.is_fast or len(plan.events) < 2
            or not task.player.level.reharm.pedal):
        return None
    change = plan.events[1].onset_quarter
    if (change - task.onset_quarter < 2 * task.beat_quarter
            or change - task.onset_quarter <= speak_quarter(task)
            or held.end_quarter < change or plan.held.until_quarter < change
            or not plan.events[0].harmony.takes(held.pitch.pitch_class)):
        return None
    lost = change < min(held.end_quarter, plan.held.until_quarter)
    return replace(plan, held=HeldEnd("pedal", change),
                   costs=(*plan.costs, (CUT, _CUT)) if lost and not plan.cuts else plan.costs)


def plans(task: Task, count: int) -> tuple[ChordPlan, ...]:
    """At most `count` plans with at least one added chord: those that keep the held note as long
    as it is written, cheapest first, then those that do not."""
    ranking, melody = Ranking(task, task.player.level), _coming(task)
    layers = [states_of(task, index, ranking) for index in range(len(task.spans))]
    if len(layers) > 1:
        layers = [layer[:_STATES] for layer in layers]
        found = [_plan(task, chosen, melody) for chosen in _paths(layers, count)]
    else:
        found = [_plan(task, [state], melody) for state in layers[0]]
    kept = sorted((p for p in found if p is not None), key=lambda p: (p.cuts, p.total))
    return tuple(kept[:count])


def _paths(layers: list[list[State]], count: int) -> list[list[State]]:
    local = [{"plan": np.array([s.total for s in layer], dtype=np.int64)} for layer in layers]
    steps = [{"second device": np.array(
        [[_second_cost(a, b) for b in after] for a in before], dtype=np.int64)}
        for before, after in pairwise(layers)]
    return [[layer[i] for layer, i in zip(layers, path.states, strict=True)]
            for path in k_best_paths([len(layer) for layer in layers], local, steps, k=count)]


def _second_cost(before: State, after: State) -> int:
    """What a move costs after another; and no move leads to a written chord in whose place
    another one sounds."""
    if not before.options or not after.options:
        return 0
    if after.events[0].added and (after.options[0].way.stands is not Stands.COLOUR
                                  or after.options[0].chords[0].symbol.bass is not None):
        return FORBIDDEN
    return _SECOND_DEVICE


def _plan(task: Task, chosen: list[State], melody: frozenset[NoteName]) -> ChordPlan | None:
    chosen = _apart(chosen)
    taken = tuple(option for state in chosen for option in state.options)
    if not taken:
        return None
    events = tuple(event for state in chosen for event in state.events)
    edges = [*(event.onset_quarter for event in events), events[-1].end_quarter]
    if _denied(taken[-1], melody) or is_crowded(
            edges, [event.added for event in events], task):
        return None
    held = held_plan(task, events)
    if isinstance(held, str):
        return None
    costs = [pair for state in chosen for pair in state.costs]
    tints = sum(_tint(option) for option in taken)
    if 0 < tints < len(taken):
        costs.append(("tint", _TINT * tints))
    led = sum(bool(state.options) for state in chosen)
    if led > 1:
        costs.append(("second device", _SECOND_DEVICE * (led - 1)))
    few = best_number(task.beats, task) - sum(event.added for event in events)
    if few > 0:
        costs.append((_ROOM_LEFT, task.player.level.reharm.too_few * few))
    note = task.held
    if held is not None and note is not None:
        over = [e for e in events
                if e.added and e.onset_quarter < min(note.end_quarter, task.end_quarter)]
        fit = [melody_cost(e.harmony, note.pitch.pitch_class) for e in over]
        costs.append(("held note", round(sum(fit) / max(len(fit), 1))))
        if held.until_quarter < min(note.end_quarter, task.end_quarter):
            costs.append((CUT, _CUT))
    if _too_soon(task, events[-1]):
        costs.append(("too soon", _TOO_SOON))
    crossed = _crossed(events[-1].harmony.symbol, melody) if events[-1].added else 0
    if crossed:
        costs.append(("cross relation", _CROSSED * min(crossed, _MOST_CROSSED)))
    rhythm = next((s.rhythm for s in chosen if s.options), "even")
    return ChordPlan(events, taken, rhythm, held, tuple(costs))


def _too_soon(task: Task, last: Event) -> bool:
    """Whether the melody comes in on a tone of the last added chord, which the chord that comes
    with it does not take: there they should have met."""
    if not last.added or task.landing_midi is None or task.landing_harmony is None:
        return False
    note = task.landing_midi % 12
    return (last.end_quarter == task.end_quarter and last.harmony.is_tone(note)
            and not task.landing_harmony.takes(note))


def _denied(option: Option, melody: frozenset[NoteName]) -> bool:
    """Whether the last note of a voice that is said to move into the goal is another in the tune
    there: E sharp leads to no F sharp where the melody comes in on F."""
    if not option.inner or option.way.stands is not Stands.AFTER:
        return False
    last = option.place.goal.spell(option.inner[-1])
    arrives = option.inner[-1] in named_classes(option.place.goal.symbol)
    return arrives and last not in melody and any(note.step == last.step for note in melody)


def _apart(chosen: list[State]) -> list[State]:
    """The states, in which a way that stands twice in the gap is two options: what is
    remembered is one object, and an event knows its option by being the same."""
    seen: set[int] = set()
    found = []
    for state in chosen:
        twins = {id(o): replace(o) for o in state.options if id(o) in seen}
        seen |= {id(o) for o in state.options}
        if twins:
            state = State(
                tuple(twins.get(id(o), o) for o in state.options),
                tuple(replace(e, option=twins.get(id(e.option), e.option)) for e in state.events),
                state.costs, state.rhythm)
        found.append(state)
    return found


def _coming(task: Task) -> frozenset[NoteName]:
    """The notes of the melody in the first beats from the landing on."""
    until = task.end_quarter + _CROSS_BEATS * task.beat_quarter
    return frozenset(n.pitch.note_name for n in task.following if n.onset_quarter < until)


@SEARCHES.keep
def _crossed(symbol: ChordSymbol, melody: frozenset[NoteName]) -> int:
    """How many tones of a chord are notes of the coming melody otherwise altered: A flat in F minor
    before A natural."""
    names = {symbol.name_of(degree) for degree in symbol.degrees} - melody
    return sum(any(name.step == note.step for note in melody) for name in names)
