"""Landings that come early or late, and the melody around them.

Early: the landing note is pushed an eighth ahead of its place and held into it; the note
after it is in place. Late: the line runs over, the landing note waits by a third of the
stretch up to the next note that is in place, and the notes in between are squeezed by two
thirds, so that eighths become triplets. The left hand stays on time in both cases.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.model import Shift
from fillwright.fills.situation import Task
from fillwright.tune.model import SoundingNote

__all__ = ["EIGHTH", "early_shift", "late_shift", "shifted_melody"]

EIGHTH = Fraction(1, 2)
_SQUEEZE = Fraction(2, 3)
_LEAST_SQUEEZED = 3
"""Fewer notes than this do not sound squeezed, only late."""


def shifted_melody(melody: tuple[SoundingNote, ...], landing_quarter: Fraction, shift: Shift
                   ) -> tuple[SoundingNote, ...]:
    """The melody as played around a shifted landing: same notes, same order.

    landing_quarter   where the landing note is written

    Only onsets from the earlier of the written and the shifted landing up to
    `shift.back_quarter` move; a note that still sounds there is cut.
    """
    early = shift.landing_quarter < landing_quarter
    factor = Fraction(1) if early else (
        (shift.back_quarter - shift.landing_quarter) / (shift.back_quarter - landing_quarter))
    played: list[SoundingNote] = []
    for note in melody:
        onset, end = note.onset_quarter, note.end_quarter
        if early and onset == landing_quarter:
            onset = shift.landing_quarter
        elif early and onset < landing_quarter:
            end = min(end, shift.landing_quarter)
        elif not early and landing_quarter <= onset < shift.back_quarter:
            onset = shift.landing_quarter + (onset - landing_quarter) * factor
            end = shift.landing_quarter + (min(end, shift.back_quarter)
                                           - landing_quarter) * factor
        played.append(replace(note, onset_quarter=onset, duration_quarter=end - onset))
    return tuple(played)


def early_shift(task: Task) -> Shift | None:
    """The landing pushed an eighth early, or None where it would not sit.

    The landing has to be on a beat, to last (a beat or more, so that the push is felt), and
    to be bearable over the chord that still sounds.
    """
    landing = task.landing
    if landing is None or task.beat_at(landing.onset_quarter).denominator != 1:
        return None
    place = landing.onset_quarter - EIGHTH
    if landing.duration_quarter < task.beat_quarter or place <= task.onset_quarter:
        return None
    span = task.span_at(place)
    if not span.harmony.takes(landing.pitch.pitch_class):
        return None
    back = next((n.onset_quarter for n in task.following
                 if n.onset_quarter > landing.onset_quarter), landing.end_quarter)
    return Shift(place, back)


def late_shift(task: Task) -> Shift | None:
    """The landing that waits while the line runs over, or None where it cannot.

    Three or more melody notes are squeezed, none of which opens a gap; the next one is in
    place within a bar; the squeezed notes stay playable at the tempo; everything stays on
    the triplet grid.
    """
    landing = task.landing
    if landing is None or len(task.following) <= _LEAST_SQUEEZED:
        return None
    start = landing.onset_quarter
    bar = task.bar_at(start).meter.length_quarter
    most = task.player.level.line.rate
    for count in range(_LEAST_SQUEEZED, len(task.following)):
        back = task.following[count].onset_quarter
        stretch = back - start
        if stretch > bar or stretch / 3 > task.beat_quarter:
            break
        inside = task.following[:count]
        if (task.following_gap_quarter is not None
                and inside[-1].onset_quarter >= task.following_gap_quarter):
            break
        delay = stretch * (1 - _SQUEEZE)
        places = [start + delay + (n.onset_quarter - start) * _SQUEEZE for n in inside] + [back]
        beats = [(task.beat_at(p) - 1) for p in places]
        if any(b.denominator > 3 for b in beats) or delay < EIGHTH:
            continue  # off the grid of eighths and triplets
        least = min(b - a for a, b in pairwise(places))
        if least < Fraction(1, 4) or 1 / task.seconds(least) > most:
            continue
        return Shift(start + delay, back)
    return None
