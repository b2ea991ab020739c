"""The chords of a voiced plan by the names of what is struck.

A plan is made of chords; the hands decide what is heard of them. Here each added chord gets
the symbol its keys tell (see `sound.as_played`), so that the page, the sentences and the keys
speak of the same chord.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from fillwright.fills.devices.reharm.device import Stands
from fillwright.fills.devices.reharm.options import Option
from fillwright.fills.devices.reharm.plan import Event
from fillwright.fills.devices.reharm.sound import as_played
from fillwright.fills.devices.reharm.spelling import on_the_page, spelt
from fillwright.fills.devices.reharm.voice import Voiced, sounding
from fillwright.fills.devices.reharm.words import leads
from fillwright.fills.situation import Task
from fillwright.theory.harmony import Harmony

__all__ = ["Coloured", "Told", "told", "well_spelt"]


@dataclass(frozen=True, slots=True)
class Coloured:
    """An added chord with alterations that its move does not name."""

    event: Event
    harmony: Harmony
    colours: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """A voiced plan whose chords are named by what is struck.

    coloured   the chords with alterations added by the hands; in `voiced` they keep the plain
               name their sentence is about
    """

    voiced: Voiced
    coloured: tuple[Coloured, ...]

    def printed(self, event: Event) -> Harmony:
        """The chord as it is printed."""
        return next((c.harmony for c in self.coloured if c.event is event), event.harmony)


def told(task: Task, voiced: Voiced) -> Told:
    """A voiced plan in the names of what sounds."""
    plan = voiced.plan
    renamed: dict[int, Harmony] = {}
    colours: dict[int, tuple[str, ...]] = {}
    played: dict[int, Harmony] = {}
    for index, (event, hands) in enumerate(zip(plan.events, voiced.hands, strict=True)):
        if not event.added:
            continue
        held = sounding(task, plan, event)
        degree = None if held is None else event.harmony.degree_of(held % 12)
        harmony, added = as_played(event.harmony,
                                   (*hands.degrees, *(() if degree is None else (degree,))))
        if added:
            colours[index], played[index] = added, harmony
        elif harmony is not event.harmony:
            renamed[index] = harmony
    if not renamed:
        events, options = plan.events, plan.options
    else:
        events, options = _with_names(plan.events, plan.options, renamed)
        voiced = replace(voiced, plan=replace(plan, events=events, options=options))
    return Told(voiced, tuple(Coloured(events[i], played[i], colours[i]) for i in colours))


def well_spelt(task: Task, voiced: Voiced) -> Voiced:
    """A voiced plan by the names that go together on the page."""
    plan, note = voiced.plan, task.held
    held = [None if note is None or sounding(task, plan, event) is None
            else note.pitch.note_name for event in plan.events]
    named = spelt([(event.harmony, hands, event.added)
                   for event, hands in zip(plan.events, voiced.hands, strict=True)],
                  held, plan.options[-1].place.goal, on_the_page(task),
                  plan.options[-1].place.goal.key)
    renamed = {index: harmony for index, ((harmony, _), event) in enumerate(
        zip(named, plan.events, strict=True)) if harmony is not event.harmony}
    if renamed:
        events, options = _with_names(plan.events, plan.options, renamed)
        plan = replace(plan, events=events, options=options)
    return replace(voiced, plan=plan, hands=tuple(hands for _, hands in named))


def _with_names(events: tuple[Event, ...], options: tuple[Option, ...],
                renamed: dict[int, Harmony]) -> tuple[tuple[Event, ...], tuple[Option, ...]]:
    new = [replace(e, harmony=renamed.get(i, e.harmony)) for i, e in enumerate(events)]
    again: list[Option] = []
    for option in options:
        own = [i for i, event in enumerate(events) if event.option is option]
        chords = tuple(next((renamed[i] for i in own if i in renamed
                             and events[i].harmony is chord), chord) for chord in option.chords)
        goal = option.place.goal
        after = own[-1] + 1 if own else len(events)
        if renamed.get(after) is not None and events[after].harmony is goal:
            goal = renamed[after]
        place = replace(option.place, goal=goal)
        to = place.here if option.way.stands is Stands.DELAY else goal
        again.append(replace(option, place=place, chords=chords,
                             leads=leads(chords[-1], to, place.key) or option.leads))
        for i in own:
            new[i] = replace(new[i], option=again[-1])
    return tuple(new), tuple(again)
