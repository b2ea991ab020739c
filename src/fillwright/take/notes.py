"""What was struck in a gap, as notes on paper: places on the student's own beat, hands, lengths."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.take.heard import HeardRun
from fillwright.take.model import ROLL_SEC, TOGETHER_SEC, Stroke
from fillwright.take.roles import GapStrokes
from fillwright.theory.harmony import spelled_over
from fillwright.tune.model import Chorus

__all__ = ["hands_of", "notes_of", "place_of"]

# Phases of a beat that can be counted, and what a finer one has to gain to be taken, in beats.
_PHASES = ((Fraction(0), 0.0), (Fraction(1, 2), 0.0), (Fraction(1, 3), 0.03),
           (Fraction(2, 3), 0.03), (Fraction(1, 4), 0.05), (Fraction(3, 4), 0.05))
_SHORTEST = Fraction(1, 4)
_LEFT_BELOW = 57            # keys under A3 are the left hand's, where nothing else tells
_WIDEST = 14                # semitones that one hand has down at once, a ninth (common practice)


def place_of(sec: float, part: str, run: HeardRun) -> Fraction:
    """The place that can be counted and is nearest to what was played, in quarters."""
    beat, clock = run.beat, run.habit.clock
    at = beat.quarter(sec)
    near = Fraction(max(round(at * 4), 0), 4)
    start, _ = clock.beat_of(near)
    unit = clock.chorus.bar_at(near).meter.beat_quarter
    best, least = near, float("inf")
    beat_sec = beat.quarter_sec(at) * float(unit)
    for beats in (-1, 0, 1):
        for phase, extra in _PHASES:
            place = start + unit * (beats + phase)
            if place < 0:
                continue
            off = abs(sec - run.habit.expected_sec(place, part, beat)) / beat_sec + extra
            if off < least:
                best, least = place, off
    return best


def hands_of(strokes: Sequence[Stroke], known: Mapping[int, str]) -> dict[int, str]:
    """The hand of each stroke: as it is known (by event), by its track where there is one for
    each hand, else by its register: what the right hand cannot have down with its other keys
    is the left one's."""
    by_track: dict[int, list[int]] = {}
    for stroke in strokes:
        by_track.setdefault(stroke.track, []).append(stroke.midi)
    tracks = sorted(by_track, key=lambda track: sum(by_track[track]) / len(by_track[track]))
    found = {}
    for stroke in strokes:
        left = (stroke.track == tracks[0] if len(tracks) == 2 else
                stroke.midi < _LEFT_BELOW or _is_out_of_reach(stroke, strokes))
        found[stroke.event] = known.get(stroke.event, "left" if left else "right")
    return found


def _is_out_of_reach(stroke: Stroke, strokes: Sequence[Stroke]) -> bool:
    """Whether keys are down so far above a stroke that another hand has them."""
    return any(other.midi - stroke.midi > _WIDEST
               and other.onset_sec < stroke.onset_sec + TOGETHER_SEC
               and stroke.onset_sec < other.release_sec - TOGETHER_SEC for other in strokes)


def notes_of(one: GapStrokes, run: HeardRun, chorus: Chorus, hands: Mapping[int, str]
             ) -> tuple[HandNote, ...]:
    """The strokes of a gap as notes, spelled by the chord that sounds there; what is struck
    together stands at one place, and no key twice at it."""
    notes: dict[tuple[Fraction, int], HandNote] = {}
    place, last = Fraction(0), -1.0
    for stroke in one.strokes:
        if stroke.onset_sec - last > ROLL_SEC:
            part = "left" if hands[stroke.event] == "left" else "single"
            place = max(place_of(stroke.onset_sec, part, run), one.gap.onset_quarter)
        last = stroke.onset_sec
        length = run.beat.quarter(stroke.release_sec) - run.beat.quarter(stroke.onset_sec)
        duration = max(Fraction(round(length * 4), 4), _SHORTEST)
        key = (place, stroke.midi)
        if key not in notes:
            pitch = spelled_over(chorus.harmony_at(place), chorus.bar_at(place).key, stroke.midi)
            notes[key] = HandNote(place, duration, pitch, hands[stroke.event], None, "fill",
                                  one.gap.number)
    return tuple(sorted(notes.values(), key=lambda note: (note.onset_quarter, note.midi)))
