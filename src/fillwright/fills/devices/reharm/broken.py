"""Broken chords: in what order and rhythm the keys of a chord come one after the other.

A *pattern* says which keys come on which eighth of a chord's time; every key lasts to the
chord's end or until it is struck again, so that each chord ends on long notes. Patterns are
generated from the number of keys and the room; neighbours on the page and chords in a row
take turns, so that a row of chords is not an exercise (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.fills.devices.reharm.arrival import rung_until
from fillwright.fills.devices.reharm.hands import HandPair
from fillwright.fills.devices.reharm.plan import Event
from fillwright.fills.devices.reharm.voice import Voiced
from fillwright.fills.draft import DraftNote
from fillwright.fills.finish import speak_quarter
from fillwright.fills.situation import Task
from fillwright.theory.pitch import Pitch

__all__ = ["BROKEN_BEATS", "Pattern", "break_chords", "broken_fits", "patterns"]

BROKEN_BEATS = 2
"""Felt beats a chord must last to be broken into eighths: root, and up to three tones after
it. Four chords of a walk-up so need two bars of 4/4 (common practice)."""

_LAST = Fraction(2)
"""Eighths the last note of a chord lasts at least: it ends long."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """An order of keys in time.

    name     as said in the reasons
    strokes  (eighth, keys by number from the lowest) in time order
    """

    name: str
    strokes: tuple[tuple[int, tuple[int, ...]], ...]


def patterns(keys: int, room: int, groups: int) -> tuple[Pattern, ...]:
    """The patterns for so many keys in so many eighths, plainest first.

    groups   how many groups of patterns are known, of three

    >>> [p.name for p in patterns(3, 4, 1)]
    ['from the bottom up', 'low, then the rest together']
    """
    if keys < 2 or room < 4:
        return ()
    inner = tuple(range(1, keys - 1))
    found: list[Pattern] = []

    def add(name: str, *strokes: tuple[int, tuple[int, ...]]) -> None:
        if room - strokes[-1][0] >= _LAST:
            found.append(Pattern(name, strokes))

    if keys <= room - 1:
        add("from the bottom up", *((i, (i,)) for i in range(keys)))
    else:  # no room for each: the upper ones together
        add("from the bottom up", (0, (0,)), (1, (1,)), (2, tuple(range(2, keys))))
    if keys > 2:
        add("low, then the rest together", (0, (0,)), (2, tuple(range(1, keys))))
    if groups < 2:
        return tuple(found)
    if keys > 2:
        add("low, high, then the middle", (0, (0,)), (1, (keys - 1,)), (2, inner))
        add("low, a wait, then up", (0, (0,)),
            *((3 + i, (k,)) for i, k in enumerate(range(1, keys))))
        if room >= keys + 3:
            add("up and back", *((i, (i,)) for i in range(keys)),
                *((keys + i, (k,)) for i, k in enumerate(reversed(inner)) if i < 2))
    if groups > 2 and keys > 2:
        add("low, then the rest on the off-beat", (0, (0,)), (1, tuple(range(1, keys))))
    return tuple(found)


def broken_fits(task: Task, events: tuple[Event, ...]) -> bool:
    """Whether there is room to break every chord of a plan into eighths."""
    if task.seconds(_eighth(task)) < task.player.level.reharm.least_broken_sec:
        return False
    least = BROKEN_BEATS * task.beat_quarter
    if (2 * task.beat_at(events[0].onset_quarter)).denominator != 1:
        return False  # the hands come in on the next beat
    return all(min(e.end_quarter, task.end_quarter) - e.onset_quarter >= least
               for e in events)


def _eighth(task: Task) -> Fraction:
    return task.beat_quarter / (3 if task.meter.is_compound else 2)


def break_chords(task: Task, voiced: Voiced, rotation: int
                 ) -> tuple[tuple[DraftNote, ...], str] | None:
    """The notes of a plan with its chords broken, and the sentence that says how.

    rotation   which patterns come first; every chord takes another one than the chord before it
    """
    events = voiced.plan.events
    notes: list[DraftNote] = []
    named: list[tuple[Event, str]] = []
    for index, (event, pair) in enumerate(zip(events, voiced.hands, strict=True)):
        keys = _keys(pair)
        end = min(event.end_quarter, task.end_quarter)
        room = int((end - event.onset_quarter) / _eighth(task))
        fit = [p for p in patterns(len(keys), room,
                                        task.player.level.reharm.broken_patterns)
               if _melody_heard(task, voiced, event, keys, p)]
        if not fit:
            return None
        pattern = fit[(rotation + index) % len(fit)]
        if named and pattern.name == named[-1][1] and len(fit) > 1:
            pattern = fit[(rotation + index + 1) % len(fit)]
        named.append((event, pattern.name))
        notes += _played(task, event, keys, pattern)
    if len(named) > 1 and len({name for _, name in named}) == 1:
        return None  # the same pattern throughout is an exercise
    return tuple(notes), _sentence(named)


def _keys(pair: HandPair) -> list[tuple[Pitch, str]]:
    return [(p, "left") for p in pair.left_pitches] + [(p, "right") for p in pair.right_pitches]


def _melody_heard(task: Task, voiced: Voiced, event: Event,
                  keys: list[tuple[Pitch, str]], pattern: Pattern) -> bool:
    """Whether the right hand leaves the melody note alone until it has been heard, where it
    does not hold on to it."""
    held = voiced.plan.held
    if held is None or held.kept == "finger":
        return True
    speak = task.onset_quarter + speak_quarter(task)
    return all(event.onset_quarter + at * _eighth(task) >= speak
               for at, which in pattern.strokes for k in which if keys[k][1] == "right")


def _played(task: Task, event: Event, keys: list[tuple[Pitch, str]],
            pattern: Pattern) -> list[DraftNote]:
    found = []
    over = rung_until(task, [p.midi for p, hand in keys if hand == "left"], event.end_quarter,
                      event.harmony)
    for place, (at, which) in enumerate(pattern.strokes):
        onset = event.onset_quarter + at * _eighth(task)
        for key in which:
            again = next((later for later, row in pattern.strokes[place + 1:] if key in row), None)
            end = (event.end_quarter if again is None
                   else event.onset_quarter + again * _eighth(task))
            end = min(end, task.end_quarter if keys[key][1] == "right" else over)
            found.append(DraftNote(onset, end - onset, keys[key][0], keys[key][1]))
    return found


def _sentence(named: list[tuple[Event, str]]) -> str:
    names = {name for _, name in named}
    if len(names) == 1:
        return f"The chords are broken: {named[0][1]}; each ends on long notes."
    rows: dict[str, list[str]] = {}
    for event, name in named:
        chords = rows.setdefault(name, [])
        if event.harmony.symbol.pretty not in chords:
            chords.append(event.harmony.symbol.pretty)
    said = "; ".join(f"{' and '.join(chords)} {name}" for name, chords in rows.items())
    return f"The chords are broken: {said}."
