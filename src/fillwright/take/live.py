"""How one gap was answered while the tune went by: nothing has to be found, the beat is known.

The program plays the melody and the click; what the student strikes comes with its time on that
clock. The melody may be played along, so its strokes at both ends of the gap are not the answer.
Nobody has to accompany, so one stroke in the gap is one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from fillwright.errors import InputError
from fillwright.fills.model import Fill
from fillwright.given import given_number
from fillwright.take.answer import family_of
from fillwright.take.beat import BeatMap
from fillwright.take.heard import HeardRun
from fillwright.take.match import Match
from fillwright.take.model import Stroke
from fillwright.take.nearest import answer_by, nearest
from fillwright.take.roles import gap_strokes
from fillwright.take.runs import Run
from fillwright.take.timing import Clock, Habit
from fillwright.take.written import WrittenFill
from fillwright.tune.model import Chorus, Gap, SoundingNote

__all__ = ["MOST_STROKES", "PlayedAnswer", "answer_played", "strokes_of"]

MOST_STROKES = 500
"""In one gap."""
_MELODY_BEATS = 0.25        # how near its place a stroke is the melody, played along
_MOST_SPEED = 4.0
_FURTHEST_QUARTER = 100_000.0


@dataclass(frozen=True, slots=True)
class PlayedAnswer:
    """What was heard in a gap.

    answer   "open", "comp", "reharm" or "line"
    device, fill   name and id of the nearest offer; None where none is near
    share    how near it is, from 0 to 1
    begun_quarter   place in the chorus of the first stroke after the gap's onset; None where
             nothing was struck
    """

    answer: str
    device: str | None = None
    fill: str | None = None
    share: float = 0.0
    begun_quarter: float | None = None


def strokes_of(chorus: Chorus, rows: Iterable[object], speed: float = 1.0) -> tuple[Stroke, ...]:
    """Strokes that were noted down by their places.

    rows    each ``[onset_quarter, duration_quarter, midi, velocity]``, places of the chorus as
            the click has them (an off-beat that is swung lies where it sounded)
    speed   times the tempo of the chorus

    Returns them in seconds from the chorus's first instant. Raises InputError.
    """
    quarter_sec = chorus.seconds_per_quarter / _speed(speed)
    found = []
    for row in rows:
        if not isinstance(row, (list, tuple)) or len(row) != 4:
            raise InputError("a stroke is its place, its length, its key and how loud it is")
        place, length = (float(given_number(value, "the place of a stroke"))
                         for value in row[:2])
        midi, velocity = row[2:]
        if any(isinstance(value, bool) or not isinstance(value, int) for value in (midi, velocity)
               ) or not (0 <= midi <= 127 and 1 <= velocity <= 127):
            raise InputError(f"no key of a piano: {midi!r} at velocity {velocity!r}")
        if not (abs(place) <= _FURTHEST_QUARTER and 0 <= length <= _FURTHEST_QUARTER):
            raise InputError(f"no place of a tune: {place!r}")
        found.append((place * quarter_sec, (place + length) * quarter_sec, midi, velocity))
        if len(found) > MOST_STROKES:
            raise InputError(f"one gap has at most {MOST_STROKES} strokes")
    return tuple(Stroke(event, onset, release, release, midi, velocity)
                 for event, (onset, release, midi, velocity) in enumerate(sorted(found)))


def answer_played(chorus: Chorus, gaps: Sequence[Gap], number: int, strokes: Sequence[Stroke],
                  offers: Iterable[Fill], speed: float = 1.0) -> PlayedAnswer:
    """What a student answered in one gap.

    strokes   by time, in seconds from the chorus's first instant, which went by at `speed`
              times its tempo; those of other places may be among them
    offers    what could be played there; the nearest helps to tell the families apart

    Raises InputError for a gap that is not there.
    """
    gap = next((one for one in gaps if one.number == number), None)
    if gap is None:
        raise InputError(f"there is no gap {number}")
    run = _run(chorus, gap, strokes, chorus.seconds_per_quarter / _speed(speed))
    found = gap_strokes(0, run, strokes, chorus, [gap]) if strokes else ()
    if not found or not found[0].attacks:
        return PlayedAnswer("open")
    one = found[0]
    begun = run.beat.quarter(one.attacks[0])
    near = nearest(one, [WrittenFill.of(fill) for fill in offers], run)
    answer, like = answer_by(family_of(one), near)
    if like is None:
        return PlayedAnswer(answer, begun_quarter=begun)
    return PlayedAnswer(answer, like.fill.device, like.fill.id, like.share, begun)


def _speed(speed: object) -> float:
    value = float(given_number(speed, "the speed"))
    if not 0 < value <= _MOST_SPEED:
        raise InputError(f"a speed is at most {_MOST_SPEED:g} times the tempo, not {speed!r}")
    return value


def _run(chorus: Chorus, gap: Gap, strokes: Sequence[Stroke], quarter_sec: float) -> HeardRun:
    """The tune as it went by: in time, all of it, with the melody where the student has it."""
    clock = Clock.of(chorus)
    step = float(chorus.bar_at(gap.onset_quarter).meter.beat_quarter)
    count = int(float(chorus.length_quarter) / step) + 3
    beat = BeatMap(0.0, step, np.arange(count, dtype=np.float64) * (step * quarter_sec))
    habit = Habit.at_first(clock, chorus.seconds_per_quarter)
    places = {note.onset_quarter: index for index, note in enumerate(chorus.melody)}
    matches = tuple(_match(places[note.onset_quarter], note, strokes, habit, beat)
                    for note in (gap.held, gap.landing) if note is not None)
    return HeardRun(Run((), 0, len(strokes)), matches, beat, habit, (), ())


def _match(index: int, note: SoundingNote, strokes: Sequence[Stroke], habit: Habit, beat: BeatMap
           ) -> Match:
    """The highest stroke of the note's key, or of an octave of it, about where it is."""
    sec = habit.expected_sec(note.onset_quarter, "melody", beat)
    reach = _MELODY_BEATS * beat.step_quarter * beat.quarter_sec(float(note.onset_quarter))
    near = [stroke for stroke in strokes if abs(stroke.onset_sec - sec) <= reach
            and stroke.midi - note.midi in (-12, 0, 12)]
    if not near:
        return Match(index, "missed")
    own = max(near, key=lambda stroke: (stroke.midi, -stroke.event))
    return Match(index, "played", own.event, (own.midi - note.midi) // 12)
