"""How a voiced plan is struck: together, pushed, answered, broken, or
beneath a melody note that the pedal keeps.

The chords of a plan stand; here they are given their rhythm in the hands, long and short.
A *touch* is tried where level, feel, tempo and the held note allow it; sustained chords
are always possible.
"""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.devices.reharm.arrival import rung_until
from fillwright.fills.devices.reharm.broken import break_chords, broken_fits
from fillwright.fills.devices.reharm.function import sounds_as
from fillwright.fills.devices.reharm.hands import HandPair
from fillwright.fills.devices.reharm.plan import Event
from fillwright.fills.devices.reharm.time import is_strong
from fillwright.fills.devices.reharm.voice import Voiced
from fillwright.fills.draft import DraftNote
from fillwright.fills.finish import speak_quarter
from fillwright.fills.situation import Task

__all__ = ["TOUCH_WORDS", "is_bare", "strike", "touches"]

TOUCH_WORDS = MappingProxyType({
    "pushed": "The right hand takes the coming chord half a beat early; the left hand comes on "
              "the beat.",
    "answered": "The left hand comes on the beat, the right hand answers on the off-beat.",
})
"""What is said of a touch; of broken chords `break_chords` says it."""

def touches(task: Task, voiced: Voiced, rotation: int) -> tuple[str, ...]:
    """The touches to try, best first. `rotation` counts the options already taken, and differs
    from gap to gap, so that neighbours on the page are not all struck alike."""
    events = voiced.plan.events
    both = any(h.right is not None for h in voiced.hands)
    wide = broken_fits(task, events)
    if voiced.plan.held is not None and voiced.plan.held.kept == "pedal":
        return ("under the pedal",)
    order: list[str] = []
    if not task.player.level.reharm.touches:
        if wide and rotation % 3 == 2:
            order.append("broken")
    elif task.is_ballad or task.feel != "swing":
        if wide and (rotation or is_bare(task, events)):
            order.append("broken")
    elif both and not task.is_fast and not task.meter.is_compound:
        pushed = [] if voiced.plan.rhythm == "pushed" else ["pushed"]
        if rotation % 3 == 1:
            order += [*pushed, "answered"]
        elif rotation % 3 == 2:
            order += [*["broken"] * wide, "answered", *pushed]
    return (*order, "sustained")


def is_bare(task: Task, events: Sequence[Event]) -> bool:
    """Whether two bars of a ballad have one added chord: in blocks they are an exercise."""
    return task.is_ballad and task.beats >= _LONG_BEATS and (
        sum(event.added for event in events) < _TWO)


_LONG_BEATS, _TWO = 8, 2
"""Felt beats of a long stretch, and how many added chords move it by themselves."""


def strike(task: Task, voiced: Voiced, touch: str, rotation: int
           ) -> tuple[tuple[DraftNote, ...], str] | None:
    """The notes and what is said of the touch ("" for nothing), or None where the touch would
    leave everything as it is."""
    if touch == "broken":
        return break_chords(task, voiced, rotation)
    notes = _struck(task, voiced, touch)
    return None if notes is None else (notes, TOUCH_WORDS.get(touch, ""))


def _struck(task: Task, voiced: Voiced, touch: str) -> tuple[DraftNote, ...] | None:
    events, hands = voiced.plan.events, voiced.hands
    half = task.beat_quarter / 2
    left_at = [_entry(task, events[0]), *(event.onset_quarter for event in events[1:])]
    right_at = list(left_at)
    for index, event in enumerate(events):
        if hands[index].right is None:
            continue
        if touch == "pushed" and index and _may_push(task, voiced, index, half):
            right_at[index] -= half
        if touch == "under the pedal" and index == 0:  # the melody note has been heard
            right_at[index] += speak_quarter(task)
        if touch == "answered" and _may_answer(task, voiced, event, half):
            right_at[index] += half
    moved = sum(at != other for at, other in zip(right_at, left_at, strict=True))
    if touch != "sustained" and not moved:
        return None
    if touch == "answered" and 2 * moved <= sum(h.right is not None for h in hands):
        return None  # the sentence speaks of the hands as a whole
    notes: list[DraftNote] = []
    for index, (event, pair) in enumerate(zip(events, hands, strict=True)):
        over = rung_until(task, pair.left.midis, event.end_quarter, event.harmony)
        for onset, length in _pieces(task, left_at[index], event.end_quarter):
            end = min(onset + length, over)
            notes += [DraftNote(onset, end - onset, p, "left") for p in pair.left_pitches]
        if pair.right is None:
            continue
        until = min(event.end_quarter, task.end_quarter)
        later = [at for at, h in zip(right_at[index + 1:], hands[index + 1:], strict=True)
                 if h.right is not None]
        if later:
            until = min(until, later[0])
        length = until - right_at[index]
        if touch == "answered" and length > 2 * half:
            again = right_at[index] + 4 * half
            if until - again >= 3 * half:  # short, then long on the next off-beat
                notes += [DraftNote(again, until - again, p, "right")
                          for p in pair.right_pitches]
                length = half
            elif index % 2 == 0:
                length = 2 * half
        notes += [DraftNote(right_at[index], length, p, "right")
                  for p in pair.right_pitches]
    return tuple(notes)


def _entry(task: Task, first: Event) -> Fraction:
    """Where the hands come in: with the gap, or on the beat after a melody note that came a
    sixteenth or a part of a triplet before it."""
    onset = first.onset_quarter
    beat = task.beat_at(onset)
    late = onset + (-beat % 1) * task.beat_quarter
    between = (2 * beat).denominator != 1 and not task.meter.is_compound
    return late if between and first.end_quarter - late >= task.beat_quarter / 2 else onset


def _pieces(task: Task, start: Fraction, end: Fraction) -> list[tuple[Fraction, Fraction]]:
    """The left hand's strokes under a chord: a long one is struck again every two beats (every
    bar in threes), where a bar or its half begins, so that eight beats do not lie dead."""
    beat = task.beat_quarter
    piece = 2 * beat if task.meter.beats % 2 == 0 and not task.meter.is_compound else (
        task.meter.length_quarter)
    if end - start < 2 * piece:
        return [(start, end - start)]
    found = []
    place = start
    again = [at for bar in task.bars for at in (
        bar.onset_quarter, bar.onset_quarter + bar.meter.length_quarter / 2)
        if is_strong(task, at)]
    for at in sorted(again):
        if at - place >= piece and end - at >= piece:
            found.append((place, at - place))
            place = at
    return [*found, (place, end - place)]


def _may_push(task: Task, voiced: Voiced, index: int, half: Fraction) -> bool:
    """The right hand may take the coming chord half a beat early where there is room and the
    held note, if it still sounds then, fits the coming chord."""
    events, held = voiced.plan.events, voiced.plan.held
    before = events[index - 1]
    at = events[index].onset_quarter - half
    if at - before.onset_quarter < 2 * half:
        return False
    if set(_right(voiced.hands[index])) <= set(_right(voiced.hands[index - 1])):
        return False  # it would be heard as the old chord struck again
    if held is not None and at < held.until_quarter:
        if at < task.onset_quarter + speak_quarter(task):
            return False
        note = task.held
        if note is not None and not events[index].harmony.takes(note.pitch.pitch_class):
            return False
    # the old chord under the new one must not rub; its root may get its major seventh
    low = voiced.hands[index - 1].left.midis
    root = before.harmony.root.pitch_class if sounds_as(before.harmony) == "M" else None
    return not any((r - b) % 12 == 1 or ((r - b) % 12 == _SEVENTH and b % 12 != root)
                   for r in _right(voiced.hands[index]) for b in low)


_SEVENTH = 11
"""Semitones of a major seventh."""


def _right(hands: HandPair) -> tuple[int, ...]:
    return () if hands.right is None else hands.right.midis


def _may_answer(task: Task, voiced: Voiced, event: Event, half: Fraction) -> bool:
    """There is room for the right hand after the beat, once the melody has been heard."""
    if event.end_quarter - event.onset_quarter < 3 * half:
        return False
    return voiced.plan.held is None or (
        event.onset_quarter + half >= task.onset_quarter + speak_quarter(task))
