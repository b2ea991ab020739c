"""The sentences of a reharmonization, all of them true of what is struck.

In order: what each move does, with the tones that are heard; what the tune does elsewhere;
what it is for in the form; which voice to listen to; what becomes of the held note; how the
hands strike.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from fillwright.fills.devices.reharm.device import Heard, Stands
from fillwright.fills.devices.reharm.function import low_class, sounds_as
from fillwright.fills.devices.reharm.options import Option
from fillwright.fills.devices.reharm.place import is_tonic, is_two
from fillwright.fills.devices.reharm.plan import ChordPlan, Event
from fillwright.fills.devices.reharm.sound import voices
from fillwright.fills.devices.reharm.told import Coloured
from fillwright.fills.devices.reharm.voice import Voiced, sounding
from fillwright.fills.devices.reharm.words import spoken_list
from fillwright.fills.draft import DraftNote
from fillwright.fills.situation import Task, printed_chord
from fillwright.fills.sounding import STEP, led
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch
from fillwright.theory.spoken import spoken_degree

__all__ = ["coloured", "explained", "reasons"]


def explained(task: Task, voiced: Voiced, option: Option) -> str:
    """The sentence of one move, from the chords and from the keys that sound."""
    plan = voiced.plan
    own = [i for i, event in enumerate(plan.events) if event.option is option]
    first = own[0]
    heard = [_sounding(task, voiced, max(first - 1, 0))]
    heard += [_sounding(task, voiced, i)
              for i in range(first, min(first + len(option.chords), len(plan.events)))]
    if option.way.stands is not Stands.AFTER or first == 0:
        heard[0] = frozenset(range(12))
    note = task.held
    return option.said(tuple(heard), None if note is None else note.pitch.pitch_class,
                       _steps(task, voiced, own[-1]))


def _steps(task: Task, voiced: Voiced, index: int) -> frozenset[tuple[int, int]]:
    """The pitch classes between which voices go by step, or stay, from an event to the next: in
    whatever hand, and in the tune. What the hands have, they may lead on at the landing; the
    melody note goes where the tune goes."""
    before, held = voiced.hands[index].midis, sounding(task, voiced.plan,
                                                       voiced.plan.events[index])
    if index + 1 < len(voiced.hands):
        one, other = voiced.hands[index:index + 2]
        still = sounding(task, voiced.plan, voiced.plan.events[index + 1])
        tune, goes_on = (() if note is None else (note,) for note in (held, still))
        pairs = list(voices((one.left.midis, one.right_midis, tune),
                            (other.left.midis, other.right_midis, goes_on)))
    else:
        pairs = [(key, key + by) for key in before for by in range(-STEP, STEP + 1)]
        if held is not None and task.landing_midi is not None:
            pairs += led((held,), (task.landing_midi,))
    return frozenset((one % 12, other % 12) for one, other in pairs)


def _sounding(task: Task, voiced: Voiced, index: int) -> frozenset[int]:
    """The pitch classes that sound with an event, the held note among them."""
    event, held = voiced.plan.events[index], voiced.plan.held
    found = {m % 12 for m in voiced.hands[index].midis}
    if held is not None and task.held_midi is not None and (
            event.onset_quarter < held.until_quarter):
        found.add(task.held_midi % 12)
    return frozenset(found)


def reasons(task: Task, voiced: Voiced, touch: str) -> tuple[str, ...]:
    """What is said of the chords, of the form, of the held note and of the touch."""
    plan = voiced.plan
    said = list(dict.fromkeys(explained(task, voiced, option) for option in plan.options))
    said += _habit(task, plan)
    said += _left_out(task, plan)
    said += _skipped(task, plan)
    said += _in_the_form(task, plan)
    said += _listen(voiced)
    said += _held(task, plan)
    if touch:
        said.append(touch)
    return tuple(said)


def _habit(task: Task, plan: ChordPlan) -> list[str]:
    """That the tune itself goes this way elsewhere."""
    for before, event in pairwise(plan.events):
        option = event.option
        if option is not None and len(option.chords) == 1 and (
                option.way.stands is Stands.AFTER and not option.way.of_the_tune):
            goal = option.place.goal
            own = task.habits.between(before.harmony, goal)
            if event.harmony.symbol.bass is None and printed_chord(option.chords[0]) in own:
                return ["The tune goes this way itself in another place."]
    return []


def _left_out(task: Task, plan: ChordPlan) -> list[str]:
    first, note = plan.events[0], task.held
    if note is None or first.option is None or first.option.way.stands is not Stands.AFTER:
        return []
    return [f"{first.harmony.symbol.pretty} is struck in place of "
            f"{task.spans[0].harmony.symbol.pretty}, to which "
            f"{note.pitch.note_name.pretty} does not belong."]


def _skipped(task: Task, plan: ChordPlan) -> list[str]:
    """That the chord of the sheet does not come back before the goal: for a moment, or with the
    melody."""
    place, last = plan.options[-1].place, plan.events[-1]
    if place.skipped is None or not last.added or plan.events[0].added:
        return []
    if last.end_quarter - task.end_quarter > task.beat_quarter:
        return [f"{place.skipped.symbol.pretty} does not come back with the melody: "
                f"{last.harmony.symbol.pretty} rings on under it to {place.goal.symbol.pretty}."]
    goes = "waits for" if last.end_quarter > task.end_quarter else "leads past it to"
    return [f"{place.skipped.symbol.pretty} is not struck again for the moment that is left of it: "
            f"{last.harmony.symbol.pretty} {goes} {place.goal.symbol.pretty}."]


_LEADS = {
    "top": "{goal} is the first chord of the form: {last} turns it round.",
    "back": "{goal} brings back what was heard at the beginning; {last} leads the ear there.",
    "again": "With {goal} the same section begins once more; {last} leads into it.",
}


def _crosses(task: Task) -> bool:
    """Whether the gap ends in the next section of the form."""
    bars = task.bar_index_at(task.end_quarter) - task.bar_index_at(task.onset_quarter)
    return 0 <= task.form.bar < task.form.bars <= task.form.bar + bars


def _in_the_form(task: Task, plan: ChordPlan) -> list[str]:
    """What the chords do here: a turn of the form, or a cadence they prepare. Nothing is said where
    nothing is to be heard but that one chord comes after another."""
    option = plan.options[-1]
    place, goal, last = option.place, option.place.goal, option.chords[-1]
    if option.way.stands is not Stands.AFTER or plan.events[-1].option is not option:
        return []  # what is said is about the chord that comes at the landing
    name = goal.symbol.pretty
    if task.form.leads in _LEADS and _crosses(task):
        if sounds_as(last) not in "7o":
            return []  # no dominant turns anything round, nor leads the ear anywhere in particular
        return [_LEADS[task.form.leads].format(goal=name, last=last.symbol.pretty)]
    if place.after is None:
        return []
    after = place.after.symbol.pretty
    falls = (place.after.root.pitch_class - goal.root.pitch_class) % 12 == 5
    if place.same:
        return []
    if falls and sounds_as(goal) == "7" and is_tonic(place.after, place.after.key):
        return [f"{last.symbol.pretty} prepares the cadence: {name} goes home to {after}."]
    if falls and is_two(goal) and sounds_as(goal) in "mh" and sounds_as(place.after) == "7":
        return [f"The II V of the tune, {name} {after}, is reached from {last.symbol.pretty}."]
    return []


_LINE = 3
"""Notes a moving voice has at least to be worth listening to."""


def _listen(voiced: Voiced) -> list[str]:
    """The voice that moves by steps through the chords, where no sentence names one yet."""
    if any(o.way.heard & (Heard.LINE | Heard.BASS | Heard.WALK) for o in voiced.plan.options):
        return []
    best: tuple[int, tuple[Pitch, ...]] = (0, ())
    for rows in ([h.left_pitches for h in voiced.hands], [h.right_pitches for h in voiced.hands]):
        for start in range(len(rows) - _LINE + 1):
            for voice in range(len(rows[start])):
                line = _stepwise(voice, rows[start:])
                halves = sum(abs(b.midi - a.midi) == 1 for a, b in pairwise(line))
                if len(line) >= _LINE and 2 * len(line) + halves > best[0]:
                    best = 2 * len(line) + halves, line
    if not best[1]:
        return []
    names = "–".join(p.note_name.pretty for p in best[1])
    return [f"Listen to the voice that goes {names}."]


def _stepwise(voice: int, rows: Sequence[Sequence[Pitch]]) -> tuple[Pitch, ...]:
    """A voice of one hand, by its place from the bottom, as long as the hand keeps as many keys and
    the voice goes on by steps the same way."""
    line = [rows[0][voice]]
    way = 0
    for before, row in pairwise(rows):
        if len(row) != len(before):
            break
        by = row[voice].midi - line[-1].midi
        if not _is_step(line[-1], row[voice]) or by * way < 0 or (
                row[voice].midi in {p.midi for p in before}):
            break
        way = by
        line.append(row[voice])
    return tuple(line)


def _is_step(one: Pitch, other: Pitch) -> bool:
    """Whether two notes are a step apart, to the ear and by their names."""
    letters = abs(other.staff_position - one.staff_position)
    return (letters, abs(other.midi - one.midi)) in ((0, 1), (1, 1), (1, 2))


def _held(task: Task, plan: ChordPlan) -> list[str]:
    note = task.held
    if plan.held is None or note is None:
        return []
    name = note.pitch.note_name.pretty
    if plan.held.kept == "finger":
        over = [e for e in plan.events if e.added and e.onset_quarter < plan.held.until_quarter]
        rows: dict[str, list[str]] = {}
        for event in over[:3]:
            degree, called = _said_of(event.harmony, note.pitch), event.harmony.symbol.pretty
            if _is_meant(event, note.pitch.pitch_class):
                degree, called = "the root", f"{name}7, for which {called} stands"
            chords = rows.setdefault(degree, [])
            if called not in chords:
                chords.append(called)
        degrees = [f"{degree} of {spoken_list(chords)}" for degree, chords in rows.items()]
        ends = " until it ends" if plan.held.until_quarter < min(
            task.end_quarter, plan.events[-1].end_quarter) else ""
        return [f"{name} stays under the finger{ends}: it is {', '.join(degrees)}."
                ] if degrees else []
    event = next(e for e in plan.events if e.onset_quarter == plan.held.until_quarter)
    if plan.held.kept == "pedal":
        return [f"The pedal keeps {name} until {event.harmony.symbol.pretty} comes, so the right "
                "hand is free to play under it."]
    return [f"{name} is let go when {event.harmony.symbol.pretty} comes: it is no tone of that "
            "chord."]


def _said_of(harmony: Harmony, pitch: Pitch) -> str:
    """What a melody note is in a chord: ``"the ninth"``, and where the chord would write it by
    another name, by that name: D sharp is ``"E♭, the ninth"`` of D flat 7."""
    degree = harmony.degree_of(pitch.pitch_class)
    said = f"the {spoken_degree(degree)}"
    own = None if degree is None else harmony.symbol.voiced_name_of(degree)
    return said if own is None or own == pitch.note_name else f"{own.pretty}, {said}"


def _is_meant(event: Event, pitch_class: int) -> bool:
    """Whether a note over a diminished chord is the root of the dominant it stands for: its bass
    leads up a half step to the goal."""
    harmony, option = event.harmony, event.option
    root = harmony.root.pitch_class
    return (sounds_as(harmony) == "o" and option is not None
            and option.chords[-1].symbol == harmony.symbol
            and (low_class(option.place.goal) - root) % 12 == 1
            and option.place.goal.symbol.bass is None
            and (pitch_class - root) % 12 == _BELOW_ITS_ROOT)


_BELOW_ITS_ROOT = 8
"""Semitones from a diminished chord on the leading tone up to the dominant's root."""


def coloured(rows: Sequence[Coloured], notes: tuple[DraftNote, ...]) -> list[str]:
    """What the hands add to the plain dominants: ``"D7 is played with E♭, its flat ninth."``
    Notes are named as they are written; of what the tune alone has, nothing is said."""
    said = []
    for row in rows:
        event, names = row.event, []
        for degree in row.colours:
            wanted = event.harmony.symbol.name_of(degree).pitch_class
            written = next((n.pitch.note_name for n in notes
                            if n.onset_quarter < event.end_quarter
                            and n.end_quarter > event.onset_quarter
                            and n.midi % 12 == wanted), None)
            if written is not None:
                names.append(f"{written.pretty}, its {spoken_degree(degree)}")
        if names:
            said.append(f"{event.harmony.symbol.pretty} is played with {' and '.join(names)}")
    return [f"{'; '.join(said)}."] if said else []
