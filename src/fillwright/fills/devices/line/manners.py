"""How the left hand lays out a chord under a line: struck together, its bass first and the rest
later, or broken up to the tenth. So one grip does not stand under everything (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.fills.devices.line.tenor import Above
from fillwright.fills.draft import DraftNote
from fillwright.fills.situation import Task
from fillwright.fills.voicing.voicings import Voicing
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.sound import RUB
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch, spelled

__all__ = ["BASS_FIRST", "BROKEN", "STRUCK", "Chord", "Laid", "laid_out", "manners_of"]

STRUCK, BASS_FIRST, BROKEN = "struck together", "bass first", "broken to the tenth"

_LOWEST_BASS, _HIGHEST_BASS = 38, 51
"""D2 to E flat 3: where a bass lies that is struck alone."""

_MIDDLE_C = 60

_HELD_SPAN = 12
"""Semitones within which the bass is held under what comes later."""

_STRETCH_SEC = 0.7
"""A beginner's hand has so much time from a bass to what lies beyond an octave over it (common
practice)."""

_APART = 3
"""A bass lies so many semitones or more below what comes later."""

_HOLE = 24

_LONG = 3
"""Beats of a chord that is broken."""


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord that lasts: its voicing, and from where to where it sounds."""

    harmony: Harmony
    voicing: Voicing
    start_quarter: Fraction
    end_quarter: Fraction


@dataclass(frozen=True, slots=True)
class Laid:
    """The notes of a chord that is laid out, what of it is struck when it comes again, and from
    where it may."""

    notes: tuple[DraftNote, ...]
    upper: tuple[Pitch, ...]
    again_from: Fraction


def manners_of(task: Task, turn: int) -> tuple[str, ...]:
    """The manners to try, what can always be played last; `turn` and the place in the form say
    which is first. A written bass line is struck as it goes."""
    if any(span.harmony.symbol.bass is not None for span in task.spans):
        return (STRUCK,)
    known = [STRUCK, BASS_FIRST]
    if not (task.player.level.line.plain or task.is_fast):
        known += [STRUCK, BROKEN]
    first = known[(turn + task.form.bar + task.form.time) % len(known)]
    return (STRUCK,) if first == STRUCK else (first, STRUCK)


def laid_out(task: Task, chord: Chord, line: Sequence[Above], manner: str) -> Laid | None:
    """A chord laid out in a manner, or None where it is too short, or meets or rubs the line.

    line   the keys of the right hand, the held note and the landing among them
    """
    if manner == BROKEN:
        return _broken(task, chord, line)
    return _bass_first(task, chord, line) if manner == BASS_FIRST else None


def _bass_first(task: Task, chord: Chord, line: Sequence[Above]) -> Laid | None:
    voicing = chord.voicing
    upper = tuple(pitch for degree, pitch in zip(voicing.degrees, voicing.pitches, strict=True)
                  if degree != "1")
    if not upper or upper[0].midi >= _MIDDLE_C or not any(
            chord.harmony.is_tone(pitch.pitch_class) for pitch in upper):
        return None
    name, plain = chord.harmony.root, task.player.level.line.plain
    bass = spelled(name, _LOWEST_BASS + (name.pitch_class - _LOWEST_BASS) % 12)
    if upper[0].midi - bass.midi < _APART or bass.midi > _HIGHEST_BASS:
        return None
    end = chord.end_quarter
    stays = upper[-1].midi - bass.midi <= _HELD_SPAN
    if not stays and (len(upper) == 1 or task.beat_at(chord.start_quarter).denominator != 1):
        return None  # one key and then one other are no chord; a bass the hand leaves has the beat
    for place in _places(task, chord, line):
        if plain and not stays and task.seconds(place - chord.start_quarter) < _STRETCH_SEC:
            continue
        notes = (_note(chord.start_quarter, end if stays else place, bass),
                 *(_note(place, end, pitch) for pitch in upper))
        if _fits(chord, notes, line):
            return Laid(notes, upper, place + task.beat_quarter * 3 / 2)
    return None


def _places(task: Task, chord: Chord, line: Sequence[Above]) -> list[Fraction]:
    """Where the rest may come, best first: a beat or so later, half a beat where there is no other
    room, half a beat before the end at the latest, where the line strikes nothing (a beginner
    strikes with it on the beat) and nothing a third of a beat off."""
    beat = task.beat_quarter
    plain = task.player.level.line.plain
    half = Fraction(2, 3) if task.meter.is_compound else Fraction(1, 2)
    later = [Fraction(1), Fraction(2)]
    if not (plain or task.is_fast):
        later = [*later, half] if task.is_ballad else [1 + half, *later, half]
    start = chord.start_quarter
    if plain and (off := (task.beat_at(start) - 1) % 1):
        start -= off * beat  # a beginner comes back to the beat
    places = [start + beats * beat for beats in later
              if start + (beats + half) * beat <= chord.end_quarter]
    struck = [n.onset_quarter for n in line]
    free = [p for p in places if not any(abs(o - p) < beat / 3 for o in struck)]
    return free or [p for p in places if plain and p in struck]


def _broken(task: Task, chord: Chord, line: Sequence[Above]) -> Laid | None:
    """Root, fifth (or the seventh that the symbol prints; the sixth there would make it another
    chord), and the third a tenth above the root."""
    harmony, beat, start, end = (chord.harmony, task.beat_quarter, chord.start_quarter,
                                 chord.end_quarter)
    fifth = next((d for d in ("5", "b5", "#5") if d in harmony.tones), None)
    seventh = harmony.seventh
    middle = seventh if seventh in harmony.symbol.degrees and seventh != "6" else fifth
    if end - start < _LONG * beat or middle is None or harmony.third is None:
        return None
    onsets = (start, start + (beat if task.meter.is_compound else beat / 2),
              start + (2 * beat if task.meter.is_compound else beat))
    if any(0 < abs(n.onset_quarter - onset) < beat / 3 for n in line for onset in onsets):
        return None
    names = [harmony.symbol.voiced_name_of(d) for d in ("1", middle, harmony.third)]
    heights = (0, degree_pitch_class(middle), 12 + degree_pitch_class(harmony.third))
    lowest = _LOWEST_BASS + (harmony.root.pitch_class - _LOWEST_BASS) % 12
    for bottom in (lowest + 12, lowest):
        if bottom > _HIGHEST_BASS or bottom + heights[1] >= _MIDDLE_C:
            continue
        root, inner, tenth = (spelled(name, bottom + height)
                              for name, height in zip(names, heights, strict=True))
        notes = (_note(start, onsets[2], root), _note(onsets[1], end, inner),
                 _note(onsets[2], end, tenth))
        if _fits(chord, notes, line):
            return Laid(notes, (inner, tenth), onsets[2] + 2 * beat)
    return None


def _note(start: Fraction, end: Fraction, pitch: Pitch) -> DraftNote:
    return DraftNote(start, end - start, pitch, "left")


def _fits(chord: Chord, notes: Sequence[DraftNote], line: Sequence[Above]) -> bool:
    """Whether every key lies under the keys that sound with it, or change in its moments, with a
    key between, and rubs none of them; and the line strikes none more than two octaves above, nor
    does the tune hold one so high over the whole chord."""
    homes = flat_nine_homes(chord.harmony.symbol)
    whole = max(n.onset_quarter for n in notes)
    top = max(n.midi for n in notes)
    for key in line:
        start, end, midi = key.onset_quarter, key.end_quarter, key.midi
        meeting = [n for n in notes if start <= n.end_quarter and n.onset_quarter <= end]
        if any(n.midi >= midi - 1 or (RUB.breaks(n.midi, midi, homes) and start < n.end_quarter
                                      and n.onset_quarter < end) for n in meeting):
            return False
        if start <= whole < end and midi - top > _HOLE:
            return False
        heard = max(start, chord.start_quarter)  # the held note, from 0 on, lies where it lies
        under = [n.midi for n in notes if n.onset_quarter <= heard < n.end_quarter]
        if 0 < start < chord.end_quarter and end > heard and under and midi - max(under) > _HOLE:
            return False
    return True
