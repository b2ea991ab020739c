"""What a strict teacher would strike out of a line, as checks on finished fills.

Written from the notes, the chords and the melody alone, without the modules that made them.
Rules without a source are common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from fillwright import Fill, HandNote
from fillwright.fills import Task
from fillwright.theory import Harmony

__all__ = ["NOTES_PER_SECOND", "line_of", "strikes"]

NOTES_PER_SECOND = {"beginner": 4, "intermediate": 7, "advanced": 10}
_MEANT = ("octave",)
"""Devices that leap to the landing, with a beat of air, or repeat a note on purpose."""


def line_of(fill: Fill) -> list[HandNote]:
    """The right hand's highest note at each onset."""
    highest: dict[Fraction, HandNote] = {}
    for note in fill.notes:
        if note.hand == "right":
            known = highest.get(note.onset_quarter)
            if known is None or known.midi < note.midi:
                highest[note.onset_quarter] = note
    return [highest[onset] for onset in sorted(highest)]


def _harmony(task: Task, fill: Fill, onset: Fraction) -> Harmony:
    if onset >= task.end_quarter and task.landing_harmony is not None:
        return task.landing_harmony
    return task.span_at(onset).harmony


def _coming(task: Task, note: HandNote) -> Harmony | None:
    """The chord after the one a note stands in, where the note sounds past the change."""
    for span in task.spans:
        if note.onset_quarter < span.onset_quarter < note.end_quarter:
            return span.harmony
    return None


def _in_scale(harmony: Harmony, midi: int) -> bool:
    return harmony.degree_of(midi % 12) is not None


def strikes(task: Task, fill: Fill) -> Iterator[str]:
    """What is wrong with a line, one sentence each."""
    yield from _times(task, fill)
    yield from _pitches(task, fill)
    yield from _landing(task, fill)
    yield from _left_hand(task, fill)


def _times(task: Task, fill: Fill) -> Iterator[str]:
    gap, line = task, line_of(fill)
    end = gap.end_quarter if fill.shift is None else fill.shift.landing_quarter
    if gap.held is not None and line[0].onset_quarter < gap.onset_quarter + task.beat_quarter:
        yield "it starts before the held note has spoken"
    if line[-1].end_quarter > end:
        yield "it does not end before the landing"
    seconds = [task.seconds(n.onset_quarter) for n in line]
    for index, start in enumerate(seconds):
        if sum(1 for s in seconds[index:] if s < start + 1 - 1e-9) > NOTES_PER_SECOND[
                task.player.level.name]:
            yield "more notes in a second than the level plays"
            break
    strokes = list(seconds)
    if gap.landing is not None and end - line[-1].end_quarter < task.beat_quarter / 2:
        strokes.append(task.seconds(end))
    if any(b - a < 3 / NOTES_PER_SECOND[task.player.level.name] - 1e-6
           for a, b in zip(strokes, strokes[3:], strict=False)):
        yield "four strokes in a row faster than the level plays"
    since = line[0].onset_quarter
    for before, after in pairwise(line):
        if after.onset_quarter - before.onset_quarter > task.beat_quarter / 2:
            since = after.onset_quarter
        elif after.onset_quarter - since >= 5 * task.beat_quarter:
            yield "five beats of eighths without a breath"
            break


def _pitches(task: Task, fill: Fill) -> Iterator[str]:
    line = line_of(fill)
    altered = task.player.level.name == "advanced"
    for index, note in enumerate(line):
        harmony = _harmony(task, fill, note.onset_quarter)
        coming = _coming(task, note)
        tone = harmony.is_tone(note.midi % 12) or (
            coming is not None and coming.is_tone(note.midi % 12))
        held = harmony.takes(note.midi % 12) or (
            coming is not None and coming.takes(note.midi % 12))
        place = task.beat_at(note.onset_quarter) - 1
        long = note.duration_quarter > Fraction(1, 2)
        if task.player.level.name == "beginner" and place.denominator == 1 and not tone:
            yield f"{note.pitch} on a beat is not a chord tone of {harmony.symbol}"
        # A dominant takes its altered colours, also where a note comes to it early.
        dominant = altered and "dominant" in (
            harmony.symbol.quality, None if coming is None else coming.symbol.quality)
        if long and not held and not dominant:
            yield f"{note.pitch} is held but {harmony.symbol} does not bear it"
        if place == 0 and not held and not dominant:
            yield f"{note.pitch} on the downbeat is to be avoided over {harmony.symbol}"
        foreign = not _in_scale(harmony, note.midi) and not (
            coming is not None and _in_scale(coming, note.midi))
        if foreign and not dominant:
            after = [n.midi for n in line[index + 1:index + 3]]
            if task.landing_midi is not None:
                after.append(task.landing_midi)
            encloses = len(after) > 1 and abs(after[1] - note.midi) == 1 and (
                (after[0] - after[1]) * (note.midi - after[1]) < 0)
            if not after or (abs(after[0] - note.midi) != 1 and not encloses):
                yield f"the chromatic {note.pitch} is left hanging"
    midis = [n.midi for n in line]
    steps = [b - a for a, b in pairwise(midis)]
    if any(abs(step) > 12 for step in steps):
        yield "a leap of more than an octave"
    if not any(word in fill.device for word in _MEANT):
        for length in (2, 3, 4):
            for start in range(len(steps) - 3 * length + 1):
                first = steps[start:start + length]
                if len({s > 0 for s in first}) == 2 and all(
                        steps[start + k * length:start + (k + 1) * length] == first
                        for k in (1, 2)):
                    yield "the same cell three times"
                    return


def _landing(task: Task, fill: Fill) -> Iterator[str]:
    gap = task
    if gap.landing is None:
        return
    last = max(n.onset_quarter for n in fill.notes if n.hand == "right")
    keys = [n for n in fill.notes if n.hand == "right" and n.onset_quarter == last]
    end = gap.end_quarter if fill.shift is None else fill.shift.landing_quarter
    if any(n.midi == gap.landing.midi for n in keys):
        yield "the landing's own key is struck just before it"
    air = end - max(n.end_quarter for n in keys)
    away = min(abs(n.midi - gap.landing.midi) for n in keys)
    by_third = task.player.level.name == "beginner" and away <= 4 and all(
        _harmony(task, fill, n.onset_quarter).is_tone(n.midi % 12) for n in keys)
    if air < task.beat_quarter / 2 and away > 2 and not by_third:
        yield f"the line ends {away} semitones from the landing without air"
    if away > 5 and not (_MEANT[0] in fill.device and air >= task.beat_quarter):
        yield "the line ends more than a fourth from the landing"


def _ninth_below(task: Task, fill: Fill, note: HandNote) -> bool:
    """A left-hand key a minor ninth under a note, but for a dominant's root."""
    harmony = _harmony(task, fill, note.onset_quarter)
    home = harmony.root.pitch_class if harmony.symbol.quality == "dominant" else None
    return any((note.midi - n.midi) % 12 == 1 and note.midi - n.midi > 1
               and n.midi % 12 != home for n in fill.notes if n.hand == "left"
               and n.onset_quarter <= note.onset_quarter < n.end_quarter)


def _meeting(task: Task, fill: Fill) -> Iterator[str]:
    """Both hands at one keyboard: also in the moment in which one comes and the other goes, no key
    of the right hand, the landing's among them, is the left hand's or lies under one of its."""
    right = [(n.onset_quarter, n.end_quarter, n.midi) for n in fill.notes if n.hand == "right"]
    if task.landing is not None:
        lands = task.end_quarter if fill.shift is None else fill.shift.landing_quarter
        right.append((lands, lands + task.beat_quarter, task.landing.midi))
    for note in fill.notes:
        if note.hand == "left":
            for onset, end, midi in right:
                if (onset <= note.end_quarter and end >= note.onset_quarter
                        and midi <= note.midi):
                    yield f"{note.pitch} of the left hand meets a right-hand key {midi}"


def _far_above(task: Task, fill: Fill) -> Iterator[str]:
    """A stroke of the right hand above the held note and the landing lies within two octaves of
    what the left hand has; of octaves the lower key."""
    tune = max(n.midi for n in (task.held, task.landing) if n is not None)
    for onset in {n.onset_quarter for n in fill.notes if n.hand == "right"}:
        lowest = min(n.midi for n in fill.notes
                     if n.hand == "right" and n.onset_quarter == onset)
        below = [n.midi for n in fill.notes if n.hand == "left"
                 and n.onset_quarter <= onset < n.end_quarter]
        if below and lowest > tune and lowest - max(below) > 24:
            yield f"{lowest} lies far above the left hand's {max(below)}"


def _early(task: Task, fill: Fill) -> Iterator[str]:
    """A note that is struck over one chord and rings on into the next is no half step and no minor
    ninth from what the left hand still has, but over the root of a dominant."""
    for note in fill.notes:
        if (note.hand == "right" and _coming(task, note) is not None
                and _ninth_below(task, fill, note)):
            yield f"{note.pitch} comes early and rubs the chord before"


def _left_hand(task: Task, fill: Fill) -> Iterator[str]:
    left = sorted({n.onset_quarter for n in fill.notes if n.hand == "left"})
    right = {n.onset_quarter for n in fill.notes if n.hand == "right"}
    if not left or left[0] != task.onset_quarter:
        yield "no left hand where the gap opens"
    for span in task.spans:
        if span.onset_quarter not in left:
            yield f"{span.harmony.symbol} is not struck"
    if len(left) > 1 and set(left) == right:
        yield "the left hand doubles the line's rhythm"
    for note in line_of(fill):
        if (task.beat_at(note.onset_quarter).denominator == 1
                and _ninth_below(task, fill, note)):
            yield f"a minor ninth lies under {note.pitch} on a beat"
    yield from _meeting(task, fill)
    yield from _far_above(task, fill)
    yield from _early(task, fill)
    silent = task.onset_quarter
    for note in sorted((n for n in fill.notes if n.hand == "left"),
                       key=lambda n: n.onset_quarter):
        if note.onset_quarter - silent > 2 * task.beat_quarter:
            yield "the left hand is silent for more than two beats"
        silent = max(silent, note.end_quarter)
    if task.end_quarter - silent > 2 * task.beat_quarter:
        yield "the left hand is silent for more than two beats before the landing"
