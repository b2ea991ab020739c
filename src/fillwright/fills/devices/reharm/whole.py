"""Whether a draft is right as a whole: in every moment, both hands and the tune together.

The hands are chosen chord by chord and struck in one of several ways; here the strokes are heard
as they sound, up to the landing inclusive (see `fills.sounding`).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.devices.reharm.plan import ChordPlan
from fillwright.fills.draft import DraftNote
from fillwright.fills.situation import Task
from fillwright.fills.sounding import (
    LANDING_QUARTER,
    MELODY,
    SoundingMoment,
    Tone,
    hanging,
    lent,
    moments,
)
from fillwright.rules.sound import HOLE

__all__ = ["leads_on", "sounds_whole"]


def sounds_whole(task: Task, plan: ChordPlan, notes: Sequence[DraftNote]) -> bool:
    """Whether no chord loses a tone that the melody lends it, nothing of an old chord rings into
    one that has no place for it, no hole opens under the melody, and the landing finds its key
    free."""
    row = _row(task, plan, notes)
    return _landing_free(task, row[-1]) and not _hollow(task, row[:-1]) and not any(
        _bereft(task, plan, moment) or _rings_on(task, plan, moment) for moment in row[:-1])


def leads_on(task: Task, plan: ChordPlan, notes: Sequence[DraftNote]) -> bool:
    """Whether every guide tone of a chord is led on in some voice of the next, which has a beat to
    take it up: the hands may answer each other."""
    row = _row(task, plan, notes)
    for index, (event, following) in enumerate(pairwise(plan.events)):
        until = following.onset_quarter + task.beat_quarter
        before = {key for m in row if m.chord == index for key in m.held_by()}
        after = {key for m in row if m.chord == index + 1 and m.onset_quarter <= until
                 for key in m.held_by()}
        if before and after and hanging(event.harmony.symbol, before, after):
            return False
    return True


def _row(task: Task, plan: ChordPlan, notes: Sequence[DraftNote]) -> tuple[SoundingMoment, ...]:
    return moments(notes, _melody(task, plan), plan.events, task.onset_quarter,
                   task.end_quarter)


def _melody(task: Task, plan: ChordPlan) -> list[Tone]:
    found = []
    if plan.held is not None and task.held is not None:
        found.append(Tone(task.held.midi, MELODY, task.onset_quarter,
                          plan.held.until_quarter))
    if task.landing is not None:
        end = task.end_quarter
        found.append(Tone(task.landing.midi, MELODY, end, end + LANDING_QUARTER))
    return found


def _landing_free(task: Task, landing: SoundingMoment) -> bool:
    """Whether the left hand, where it rings on, lies below the landing."""
    left = landing.held_by("left")
    return task.landing_midi is None or not left or left[-1] < task.landing_midi


def _hollow(task: Task, row: Sequence[SoundingMoment]) -> bool:
    """Whether two octaves of what sounds under the melody note are empty for more than a beat."""
    empty = Fraction(0)
    for moment in row:
        hole = moment.held_by(MELODY) and any(
            HOLE.empty(a, b) for a, b in pairwise(moment.held_by()))
        empty = empty + moment.end_quarter - moment.onset_quarter if hole else Fraction(0)
        if empty > task.beat_quarter:
            return True
    return False


def _bereft(task: Task, plan: ChordPlan, moment: SoundingMoment) -> bool:
    """Whether an added chord goes on, for half a beat and more, after the melody note that alone
    had its third or seventh."""
    if moment.chord is None or plan.held is None or task.held_midi is None:
        return False
    event, until = plan.events[moment.chord], plan.held.until_quarter
    if not event.added or moment.onset_quarter != until or event.onset_quarter >= until or (
            event.end_quarter - until <= task.beat_quarter / 2):
        return False
    return bool(lent(event.harmony.symbol, moment.held_by("left", "right"), task.held_midi))


def _rings_on(task: Task, plan: ChordPlan, moment: SoundingMoment) -> bool:
    """Whether a hand still holds what the chord that has come does not take."""
    if moment.chord is None or moment.chord == 0:
        return False
    event = plan.events[moment.chord]
    early: Fraction = event.onset_quarter - task.beat_quarter / 2
    return any(tone.onset_quarter < early and not event.harmony.takes(tone.midi % 12)
               for tone in moment.tones if tone.holder != MELODY)
