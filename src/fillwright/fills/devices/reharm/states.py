"""The ways to leave one written chord of a gap: as it is, or by moves in rhythms that fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice, pairwise
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.devices.reharm.arrival import Leaving, leavings
from fillwright.fills.devices.reharm.device import Heard, Motion, Stands
from fillwright.fills.devices.reharm.function import (
    is_two_of,
    low_class,
    melody_cost,
    sounds_as,
)
from fillwright.fills.devices.reharm.options import Option, chains, options
from fillwright.fills.devices.reharm.place import Place, disguised
from fillwright.fills.devices.reharm.rank import Ranking, place_in_bar
from fillwright.fills.devices.reharm.time import (
    Slots,
    best_number,
    is_strong,
    metre_cost,
    slots,
)
from fillwright.fills.devices.reharm.words import common_tones
from fillwright.fills.situation import Span, Task
from fillwright.theory.harmony import Harmony

__all__ = ["WEIGHTS", "Event", "State", "states_of"]

WEIGHTS = MappingProxyType({
    # term: integer cost per unit, in tenths of a natural logarithm (design choices)
    "too many chords": 12,    # per chord more than the space wants
    "bass leap": 1,           # per third, fourth or fifth in the bass; a tritone costs two
    "no shared tone": 1,      # per pair of neighbours without a common tone
    "weak arrival": 10,       # the written chord comes back on a weak beat only
    "home too soon": 14,      # it comes home with the melody, and leaves again half a bar later
    "left out": 20,           # the written chord is not struck, for it does not take the note
    "bass spent": 16,         # the goal's bass comes early, on a weaker beat than its own
    "tune's bass": 14,        # the bass of the tune goes by step here, and is led off its way
    "tune's cadence": 10,     # its II V I is led off its way
})

_WEAK = 2
"""A weak beat, in the numbers of `place_in_bar`."""

_CHAIN_BEATS = 3
"""Felt beats from which on two single chords may follow each other; two in a ballad."""

_SECONDS, _CHAINS = 8, 120
"""How many single chords may be the second of a chain, and how many chains are weighed."""


@dataclass(frozen=True, slots=True)
class Event:
    """A chord struck; `option` is None for a written one.

    returns   the written one, struck again after another chord: it needs its symbol
    """

    onset_quarter: Fraction
    end_quarter: Fraction
    harmony: Harmony
    option: Option | None = None
    returns: bool = False

    @property
    def added(self) -> bool:
        return self.option is not None


@dataclass(frozen=True, slots=True)
class State:
    """One way to leave a written chord."""

    options: tuple[Option, ...]
    events: tuple[Event, ...]
    costs: tuple[tuple[str, int], ...]
    rhythm: str

    @property
    def total(self) -> int:
        return sum(cost for _, cost in self.costs)


def _lay_out(option: Option, span: Span, leave: Leaving, situation: Task
             ) -> list[tuple[tuple[Event, ...], Slots]]:
    """The events of a move in every rhythm that fits."""
    chords, stands, home = option.chords, option.way.stands, leave.home
    start, end = span.onset_quarter, leave.end_quarter
    written = Event(start, end, span.harmony)
    added = [Event(start, end, h, option) for h in chords]
    if stands is not Stands.AFTER and (2 * situation.beat_at(start)).denominator != 1:
        return []  # the hands come in on the next beat, and the chord would be printed before it
    if stands is Stands.COLOUR:
        return _at_home(_in_time(added, start, leave, situation, len(chords) - 1), home, situation)
    if stands is Stands.DELAY:  # the written one comes last
        return _at_home(_in_time([*added, written], start, leave, situation, len(chords)), home,
                        situation)
    if stands is Stands.INSTEAD:
        if home or start == situation.onset_quarter:
            return []  # never in place of the chord the gap opens on, nor of an ending
        return _in_time(added, start, leave, situation, len(chords) - 1)
    again = Event(start, end, span.harmony, None, True)
    row = [written]
    for event in added:  # the written chord may come back on the way
        back = (event.harmony.symbol == span.harmony.symbol  # of a moving voice it is the end
                if option.way.motion is Motion.INNER_LINE
                else disguised(event.harmony, span.harmony))
        row.append(again if back else event)
    if home:
        row.append(again)
    elif option.place.same and not option.way.heard and (
            place_in_bar(situation, leave.goal_quarter) == _WEAK):
        # it may come back before, on a strong beat
        strong = [(events, chosen) for events, chosen in _in_time(
                    [*row, again], start, leave, situation, len(row), True)
                if place_in_bar(situation, events[-1].onset_quarter) != _WEAK]
        return [*_in_time(row, start, leave, situation, len(row) - 1), *strong]
    return _at_home(_in_time(row, start, leave, situation, len(row) - 1), home, situation)


def _at_home(laid: list[tuple[tuple[Event, ...], Slots]], home: bool, situation: Task
             ) -> list[tuple[tuple[Event, ...], Slots]]:
    """Those that come home before the last beat of a bar, where nothing follows: that is no
    place for an ending; and where one may come home on a strong beat, only those."""
    if not home:
        return laid
    found = []
    for events, chosen in laid:
        bar = situation.bar_at(events[-1].onset_quarter)
        last = bar.first_beat_quarter + bar.meter.length_quarter - bar.meter.beat_quarter
        if events[-1].onset_quarter < last:
            found.append((events, chosen))
    strong = [pair for pair in found if is_strong(situation, pair[0][-1].onset_quarter)]
    return strong or found


def _metre_over(events: Sequence[Event], leave: Leaving, situation: Task) -> bool:
    """Whether an added chord sounds on a bar line at which the written one is still to be heard,
    and that comes home on a weak beat only: the ear takes its beat for the first, and the metre
    turns over. Over the written bass it only holds the chord back."""
    place = leave.place
    if not place.same or leave.home or (
            place_in_bar(situation, leave.goal_quarter) != _WEAK):
        return False
    lines = [bar.onset_quarter for bar in situation.bars]
    foreign = [e for e in events if e.option is not None and not e.option.stays_on_root
               and e.option.way.stands is Stands.AFTER
               and low_class(e.harmony) != low_class(place.here)]
    return any(e.onset_quarter <= line < min(e.end_quarter, leave.goal_quarter)
               for e in foreign for line in lines)


def _in_time(row: list[Event], start: Fraction, leave: Leaving, situation: Task, number: int,
             stays: bool = False) -> list[tuple[tuple[Event, ...], Slots]]:
    last = row[-1]
    if last.added and not leave.carries(last.harmony):
        return []  # it would have to stop before it has led anywhere
    end = leave.ring_quarter if last.added else leave.end_quarter
    found = []
    for chosen in slots(number, start, end, situation, leave.end_quarter, stays):
        edges = [start, *chosen.onsets, end]
        if row[0].added and edges[1] - start < situation.beat_quarter:
            continue
        found.append((tuple(Event(a, b, e.harmony, e.option, e.returns)
                            for (a, b), e in zip(pairwise(edges), row, strict=True)), chosen))
    return found


def _at_once(option: Option, start: Fraction, leave: Leaving, situation: Task
             ) -> list[tuple[tuple[Event, ...], Slots]]:
    """The events of a move that begins with the gap, where the melody note does not belong to
    the written chord and would rub it."""
    way = option.way
    end = leave.end_quarter
    place = option.place
    if leave.home or place.same or place.chromatic or way.stands is not Stands.AFTER or (
            way.heard or way.motion in (Motion.PEDAL, Motion.THIRDS)) or (
            (2 * situation.beat_at(start)).denominator != 1):
        return []  # the chord here would be a part of what is said, and does not sound
    row = [Event(start, end, h, option) for h in option.chords]
    return _in_time(row, start, leave, situation, len(row) - 1)


def _bass_cost(events: Sequence[Event], goal: Harmony) -> int:
    lows = [e.harmony.symbol.lowest or e.harmony.root for e in events]
    lows.append(goal.symbol.lowest or goal.root)
    cost = 0
    for a, b in pairwise(lows):
        step = (b.pitch_class - a.pitch_class) % 12
        step = min(step, 12 - step)
        cost += 0 if step <= 2 else 2 if step == 6 else 1
    return cost


def _single_cost(option: Option, note: int | None) -> int:
    """By what single chords are sorted that may be the second of a chain."""
    if note is None:
        return 0
    return melody_cost(option.chords[-1], note)


def states_of(situation: Task, index: int, ranking: Ranking) -> list[State]:
    """The ways to leave written chord `index`, cheapest first after the plain one."""
    span = situation.spans[index]
    ways = leavings(situation, index)
    found = [state for leave in ways for state in _left(situation, index, leave, ranking)]
    found.sort(key=lambda state: state.total)
    plain = Event(span.onset_quarter, ways[0].end_quarter, span.harmony)
    return [State((), (plain,), (), ""), *found]


def _left(situation: Task, index: int, leave: Leaving, ranking: Ranking) -> list[State]:
    """The ways to leave it for one goal by moves."""
    span = situation.spans[index]
    begun = not index and _has_sounded(situation, span)
    place = replace(leave.place, begun=True) if begun else leave.place
    start, end = span.onset_quarter, leave.end_quarter
    level, held = situation.player.level, situation.held
    melody = None if held is None else held.pitch.pitch_class
    beats = (end - start) / situation.beat_quarter
    weigh = _Weighing(situation, ranking, leave, best_number(beats, situation))
    found: list[State] = []
    singles: list[tuple[int, Option]] = []
    for option in options(place, melody, level, situation.without):
        if beats < option.way.beats - (leave.home and option.way.stands is Stands.DELAY):
            continue
        laid = _lay_out(option, span, leave, situation)
        if index == 0 and melody is not None and not span.harmony.takes(melody):
            laid += _at_once(option, start, leave, situation)
        made = [weigh.state((option,), events, chosen) for events, chosen in laid
                if not _metre_over(events, leave, situation)]
        found += made
        if made and len(option.chords) == 1 and option.way.stands is Stands.AFTER and (
                not option.way.heard & (Heard.BASS | Heard.LINE)):
            singles.append((min(s.total for s in made) + _single_cost(option, melody), option))
    if level.reharm.chains and beats >= _CHAIN_BEATS - situation.is_ballad and not (
            leave.home or _goes_home(place)):
        singles.sort(key=lambda pair: pair[0])
        found += _chained(situation, index, weigh, [o for _, o in singles[:_SECONDS]])
    return found


def _has_sounded(situation: Task, span: Span) -> bool:
    """Whether the first chord sounds before the gap opens; not one that the melody comes early
    to."""
    first = situation.written[0]
    return first.symbol == span.harmony.symbol and first.began_quarter < situation.onset_quarter


def _goes_home(place: Place) -> bool:
    """Whether a dominant already falls to its goal: chords of other functions between would
    only undo it."""
    fall = (place.goal.root.pitch_class - place.here.root.pitch_class) % 12
    return sounds_as(place.here) == "7" and fall == 5


def _chained(situation: Task, index: int, weigh: _Weighing, seconds: list[Option]
             ) -> list[State]:
    """Two single chords in a row, each by a move of its own."""
    span, place, end = situation.spans[index], weigh.leave.place, weigh.leave.end_quarter
    held = situation.held
    melody = None if held is None else held.pitch.pitch_class
    found = []
    for first, second in islice(chains(place, melody, situation.player.level, situation.without,
                                       seconds), _CHAINS):
        row = [Event(span.onset_quarter, end, span.harmony),
               Event(span.onset_quarter, end, first.chords[0], first),
               Event(span.onset_quarter, end, second.chords[0], second)]
        for events, chosen in _in_time(row, span.onset_quarter, weigh.leave, situation, 2)[:2]:
            if _metre_over(events, weigh.leave, situation):
                continue
            found.append(weigh.state((first, second), events, chosen))
    return found


@dataclass(frozen=True, slots=True)
class _Weighing:
    """What the states after one written chord are weighed by."""

    situation: Task
    ranking: Ranking
    leave: Leaving
    wanted: int

    def state(self, chosen: tuple[Option, ...], events: tuple[Event, ...], rhythm: Slots
              ) -> State:
        option = chosen[0]
        place, goal_quarter = self.leave.place, self.leave.goal_quarter
        held = self.situation.held
        note = None if held is None else (held.pitch.pitch_class, held.end_quarter)
        struck = [(e.onset_quarter, e.end_quarter) for e in events if e.added]
        count = sum(len(o.chords) for o in chosen)
        if len(struck) < count:  # the written chord comes back among them
            struck = [(e.onset_quarter, e.end_quarter) for e in events[-count:]]
        costs = [*self.ranking.costs(chosen, struck, goal_quarter, note),
                 ("chord rhythm", rhythm.cost),
                 ("metre", metre_cost(self.situation, [*(e.onset_quarter for e in events),
                                                       events[-1].end_quarter]))]
        if events[0].added and option.way.stands is Stands.AFTER:
            costs.append(("left out", WEIGHTS["left out"]))
        if count > self.wanted:
            costs.append(("density", WEIGHTS["too many chords"] * (count - self.wanted)))
        if place.same and events[-1].added and (
                place_in_bar(self.situation, goal_quarter) == _WEAK):
            costs.append(("weak arrival", WEIGHTS["weak arrival"]))
        if self.leave.soon:
            costs.append(("home too soon", WEIGHTS["home too soon"]))
        costs.append(("bass motion", WEIGHTS["bass leap"] * _bass_cost(events, place.goal)
                      + self._bass_taken(events)))
        apart = sum(not common_tones(a.harmony, b.harmony) for a, b in pairwise(events))
        costs.append(("shared tones", WEIGHTS["no shared tone"] * apart))
        return State(chosen, events, tuple(costs), rhythm.rhythm)

    def _bass_taken(self, events: Sequence[Event]) -> int:
        """What it costs that the bass of the tune is spent before its place, or left."""
        place, last = self.leave.place, events[-1]
        here, goal = low_class(place.here), low_class(place.goal)
        cost = 0
        if last.added and low_class(last.harmony) == goal != here and (
                place_in_bar(self.situation, self.leave.goal_quarter)
                < place_in_bar(self.situation, last.onset_quarter)):
            cost += WEIGHTS["bass spent"]
        goes = (goal - here + 6) % 12 - 6
        way = (here, goal, (here + goes // 2) % 12)
        if self._walks(here, goal) and any(
                low_class(e.harmony) not in way for e in events if e.added):
            cost += WEIGHTS["tune's bass"]
        if self._cadence() and not any(_cadential(e, goal) for e in events):
            cost += WEIGHTS["tune's cadence"]
        return cost

    def _walks(self, here: int, goal: int) -> bool:
        """Whether the bass of the tune goes by step to the goal, and came or goes on by a step the
        same way."""
        place = self.leave.place
        lows = [None if h is None else low_class(h) for h in (place.before, place.after)]
        row = [lows[0], here, goal, lows[1]]
        steps = [None if a is None or b is None else (b - a + 6) % 12 - 6
                 for a, b in pairwise(row)]
        return any(one and two and abs(one) <= _STEP and abs(two) <= _STEP and one * two > 0
                   for one, two in pairwise(steps))

    def _cadence(self) -> bool:
        """Whether the tune has a II V I here already, and stands on its II."""
        place = self.leave.place
        after = place.after
        return after is not None and is_two_of(place.here, place.goal) and (
            after.root.pitch_class - place.goal.root.pitch_class) % 12 == _FOURTH


def _cadential(event: Event, goal: int) -> bool:
    """Whether an added chord between a II and its V belongs to a cadence: a dominant or a
    diminished chord, one that goes to the root of the V by a half step or waits on it, or the II
    itself with a voice that moves."""
    if event.option is None:
        return False
    return (event.option.stays_on_root or sounds_as(event.harmony) in "7o"
            or (low_class(event.harmony) - goal) % 12 in (0, 1, 11))


_STEP, _FOURTH = 2, 5
"""Semitones of a step in the bass, and of a fourth up."""
