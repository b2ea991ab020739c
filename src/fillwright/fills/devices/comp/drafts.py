"""From strokes and voicings to the notes of a draft."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fillwright.fills.devices.comp.search import FoundHands
from fillwright.fills.devices.comp.strokes import PlannedStroke, StrokePlan
from fillwright.fills.draft import DraftNote
from fillwright.fills.situation import Task
from fillwright.fills.voicing.voicings import Voicing
from fillwright.hands.reach import span_ok
from fillwright.theory.pitch import Pitch

__all__ = ["notes_of"]


def notes_of(task: Task, plan: StrokePlan, found: FoundHands, *, tied: str) -> list[DraftNote]:
    """The notes of a plan with its voicings, in order of time.

    tied   the hand whose keys, struck again just when they would end, stay down instead; "" for
           none
    """
    notes: list[DraftNote] = []
    for stroke, voicing in zip(plan.left, found.left, strict=True):
        rolled = not span_ok(voicing.midis[0], voicing.midis[-1], task.hand_size)
        notes += _broken(stroke, voicing, rings=not rolled) if stroke.breaks else _chord(
            stroke, voicing.pitches, "left", rolled=rolled)
    for stroke, voicing in zip(plan.right, found.right, strict=True):
        if stroke.breaks:
            notes += _broken(stroke, voicing, rings=True, hand="right")
            continue
        if plan.both:
            notes += _chord(stroke, voicing.left_pitches, "left")
        notes += _chord(stroke, voicing.right_pitches if plan.both else voicing.pitches, "right")
    notes.sort(key=lambda n: (n.onset_quarter, n.midi))
    return _cleared(task, _trimmed(_tied(notes, tied)))


def _chord(stroke: PlannedStroke, pitches: Sequence[Pitch], hand: str, *, rolled: bool = False
           ) -> list[DraftNote]:
    """Keys struck at once by one hand."""
    return [DraftNote(stroke.onset_quarter, stroke.end_quarter - stroke.onset_quarter, p, hand,
                      rolled) for p in pitches]


def _broken(stroke: PlannedStroke, voicing: Voicing, *, rings: bool, hand: str = "left"
            ) -> list[DraftNote]:
    """The keys of a chord one after another. They ring together where the hand reaches them;
    else each lasts until the next."""
    starts = [stroke.onset_quarter + later for later in stroke.breaks]
    ends = [stroke.end_quarter] * len(starts) if rings else [*starts[1:], stroke.end_quarter]
    return [DraftNote(start, end - start, pitch, hand)
            for start, end, pitch in zip(starts, ends, voicing.pitches, strict=False)]


def _tied(notes: Sequence[DraftNote], hand: str) -> list[DraftNote]:
    """Keys of a hand that are struck again just when they would end stay down instead."""
    result: list[DraftNote] = []
    for note in notes:
        before = next((i for i, n in enumerate(result) if n.midi == note.midi
                       and n.hand == note.hand == hand
                       and n.end_quarter == note.onset_quarter), None)
        if before is None:
            result.append(note)
        else:
            old = result[before]
            result[before] = replace(old, duration_quarter=note.end_quarter - old.onset_quarter)
    return result


def _trimmed(notes: Sequence[DraftNote]) -> list[DraftNote]:
    """No key is still down when it is struck again."""
    result: list[DraftNote] = []
    for note in notes:
        later = [n.onset_quarter for n in notes
                 if n.midi == note.midi and n.onset_quarter > note.onset_quarter]
        end = min([note.end_quarter, *later])
        result.append(replace(note, duration_quarter=end - note.onset_quarter))
    return result


def _cleared(task: Task, notes: Sequence[DraftNote]) -> list[DraftNote]:
    """The landing's own key comes up half a beat before the landing strikes it."""
    landing, end = task.landing_midi, task.duration_quarter
    half = task.beat_quarter / 2
    return [replace(n, duration_quarter=end - half - n.onset_quarter)
            if n.midi == landing and n.end_quarter == end and n.onset_quarter < end - half
            else n for n in notes]
