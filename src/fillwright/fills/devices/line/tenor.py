"""The left hand's tenor: under a long chord one of its keys moves on by step, fifth to sixth or
seventh to sixth, while the others are held (common practice)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.devices.line.rhythms import beats_of
from fillwright.fills.situation import Task
from fillwright.fills.voicing.voicings import Voicing
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.sound import RUB
from fillwright.theory.chord import degree_number, degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch, spelled

__all__ = ["Above", "Stay", "Tenor", "tenor_of"]

_WAYS: MappingProxyType[str, tuple[tuple[str, str], ...]] = MappingProxyType({
    "major": (("7", "6"), ("5", "6")), "minor": (("b7", "6"), ("5", "6")),
    "dominant": (("5", "13"),)})
"""By quality: from which degree to which."""

_LONG_BEATS = 3
"""A chord of so many beats leaves room for it."""

_SPAN = 12
"""Semitones that the hand spans at most, with the key it moves to."""


@dataclass(frozen=True, slots=True)
class Above:
    """A key of the right hand that sounds over the left: onset, end, MIDI number."""

    onset_quarter: Fraction
    end_quarter: Fraction
    midi: int


@dataclass(frozen=True, slots=True)
class Tenor:
    """Which key of a voicing moves (its index), where to, and when."""

    index: int
    goal: Pitch
    at_quarter: Fraction


@dataclass(frozen=True, slots=True)
class Stay:
    """A chord under a line: its voicing, from where to where it sounds, and the chord after it,
    where one is known."""

    harmony: Harmony
    voicing: Voicing
    start_quarter: Fraction
    end_quarter: Fraction
    following: Harmony | None


def tenor_of(task: Task, stay: Stay, line: Sequence[Above]) -> Tenor | None:
    """The way a voicing's tenor can move, or None; `line` are the keys above it, the
    landing among them.

    It moves on a beat, in the middle of the chord's time, rather where the line strikes nothing;
    the key it goes to is the key's and the chord scale's own, rubs nothing that sounds, and is
    not the third that the next chord brings.
    """
    harmony, voicing = stay.harmony, stay.voicing
    start, end = stay.start_quarter, stay.end_quarter
    beat = task.beat_quarter
    if end - start < _LONG_BEATS * beat or voicing.degrees[0] != "1":
        return None  # over another tone than the root the sixth would make it another chord
    struck = {n.onset_quarter for n in line}
    places = [b.onset_quarter for b in beats_of(task, end)
              if start + beat <= b.onset_quarter <= end - beat]
    if not places:
        return None
    place = min(places, key=lambda p: (abs(2 * p - start - end) + (p in struck) * beat, -p))
    sounding = [n for n in line if n.end_quarter > place and n.onset_quarter < end]
    meeting = [n.midi for n in line  # the keys that change hands in that moment too
               if n.end_quarter >= place and n.onset_quarter <= end]
    brought = -1
    if stay.following is not None and stay.following.third is not None:
        brought = (stay.following.root.pitch_class
                   + degree_pitch_class(stay.following.third)) % 12
    for index, goal in _goals(harmony, voicing):
        if goal.pitch_class == brought:
            continue
        others = [p.midi for i, p in enumerate(voicing.pitches) if i != index]
        keys = (*others, goal.midi)
        homes = flat_nine_homes(harmony.symbol)
        if (max(keys) - min(keys) <= _SPAN and all(abs(goal.midi - k) > 1 for k in others)
                and all(midi - goal.midi > 2 for midi in meeting)
                and not any(RUB.breaks(goal.midi, n.midi, homes) for n in sounding)):
            return Tenor(index, goal, place)
    return None


def _goals(harmony: Harmony, voicing: Voicing) -> list[tuple[int, Pitch]]:
    """The keys of a voicing, all but its lowest, that have a way to go, with where they go."""
    key = {name.pitch_class for name in harmony.key.scale}
    scale = {degree_pitch_class(d) for d in (*harmony.scale.degrees, *harmony.tensions)}
    present = {degree_pitch_class(d) for d in voicing.degrees}
    found = []
    for origin, goal in _WAYS.get(harmony.symbol.quality, ()):
        semitones = degree_pitch_class(goal)
        pitch_class = (harmony.root.pitch_class + semitones) % 12
        if semitones in present or semitones not in scale or pitch_class not in key:
            continue
        for index, (degree, pitch) in enumerate(zip(voicing.degrees, voicing.pitches,
                                                    strict=True)):
            if index and degree == origin:
                step = (semitones - degree_pitch_class(origin) + 6) % 12 - 6
                name = harmony.symbol.name_of("6" if degree_number(goal) == 13 else goal)
                found.append((index, spelled(name, pitch.midi + step)))
    return found
