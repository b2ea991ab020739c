"""What is played between the fills: the melody with a left hand, and harmony notes below it.

The base texture adapts to the fills, never the other way. The left hand is one path
through a lattice of voicings per stretch between two fills, with the fills' own left hand
as its neighbours on both sides; the notes under the melody are a second one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from fillwright.fills.voicing import left_hand_voicings, voice_leading
from fillwright.hands.clash import minor_ninth, mud, mud_cost, rub
from fillwright.lattice import FORBIDDEN, k_best_paths
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch, nearest_pitch
from fillwright.tune.model import Chorus, SoundingNote

__all__ = ["BASE_COSTS", "BaseNote", "Portion", "Stretch", "clear_of_left_hand",
           "flat_nine_root", "left_hand",
           "portions"]

BASE_COSTS: Mapping[str, int] = {
    # Units: a semitone of voice leading costs 1. All common practice.
    "long rub": 400,        # a half step or minor ninth against a melody note of a beat
    "short rub": 7,         # the same against a passing note
    "guide tone": 9,        # third or seventh neither in the hand nor in the melody
    "low intervals": 2,     # per semitone below the strict low interval limits
    "register": 1,          # per two semitones of the lowest note away from the middle
    "hole": 1,              # per semitone more than an octave and a half below the melody
    "rootless": 40,         # no root: only where a rub leaves no other way
    "bare": 6,              # a lone root
}

_REGISTER = {"beginner": 48, "intermediate": 46, "advanced": 43}
"""MIDI number around which the left hand's lowest note lies."""
_LOWEST = {"beginner": 41, "intermediate": 38, "advanced": 34}


@dataclass(frozen=True, slots=True)
class BaseNote:
    """A base note before it is fingered."""

    onset_quarter: Fraction
    duration_quarter: Fraction
    pitch: Pitch
    hand: str
    rolled: bool = False

    @property
    def midi(self) -> int:
        return self.pitch.midi

    @property
    def end_quarter(self) -> Fraction:
        return self.onset_quarter + self.duration_quarter


@dataclass(frozen=True, slots=True)
class Stretch:
    """Score time between two fills, with the left-hand keys before and after it."""

    onset_quarter: Fraction
    end_quarter: Fraction
    before: tuple[int, ...] = ()
    after: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Portion:
    """A chord within a stretch and within a bar."""

    onset_quarter: Fraction
    end_quarter: Fraction
    harmony: Harmony

    @property
    def duration_quarter(self) -> Fraction:
        return self.end_quarter - self.onset_quarter


def portions(chorus: Chorus, stretch: Stretch) -> list[Portion]:
    """The chords of a stretch, cut at bar lines; a scrap of an old chord under the notes
    that lead to the next one is left out (the melody alone)."""
    found: list[Portion] = []
    for bar in chorus.bars:
        for span, harmony in zip(chorus.chords, chorus.harmonies, strict=True):
            start = max(bar.onset_quarter, span.onset_quarter, stretch.onset_quarter)
            end = min(bar.end_quarter, span.end_quarter, stretch.end_quarter)
            if start >= end or harmony is None:
                continue
            begun = start > span.onset_quarter and start == stretch.onset_quarter
            if begun and end - start < bar.meter.beat_quarter and start != bar.onset_quarter:
                continue
            if (found and found[-1].end_quarter == start and start != bar.onset_quarter
                    and found[-1].harmony.symbol == harmony.symbol):
                found[-1] = Portion(found[-1].onset_quarter, end, harmony)
            else:
                found.append(Portion(start, end, harmony))
    return found


def flat_nine_root(harmony: Harmony) -> int | None:
    """The root's pitch class of a dominant that takes a flat nine, else None."""
    if harmony.symbol.quality not in ("dominant", "suspended"):
        return None
    degrees = harmony.tensions + harmony.symbol.degrees
    return harmony.root.pitch_class if any(degree_pitch_class(d) == 1 for d in degrees) else None


def _candidates(portion: Portion, level: str, hand: str, ceiling: int
                ) -> list[tuple[Pitch, ...]]:
    """Left-hand chords for a portion, lowest note first, the bare root always among them."""
    harmony = portion.harmony
    low = _LOWEST[level]
    found: list[tuple[Pitch, ...]] = []
    for voicing in left_hand_voicings(harmony, level, hand, low=low, top=max(ceiling, low + 12),
                                      rootless=level == "advanced"):
        if voicing.pitches[-1].midi < ceiling and len(voicing.pitches) <= 4:
            found.append(voicing.pitches)
    bass = harmony.symbol.lowest
    assert bass is not None  # a harmony always has a root
    for centre in (41, 53):
        root = nearest_pitch(bass, centre)
        if low <= root.midi < ceiling and (root,) not in found:
            found.append((root,))
    if not found:
        found.append((nearest_pitch(bass, min(low, ceiling - 6)),))
    return found


def _local(portion: Portion, chord: tuple[Pitch, ...], level: str,
           melody: Sequence[SoundingNote], beat_quarter: Fraction) -> dict[str, int]:
    harmony = portion.harmony
    midis = [p.midi for p in chord]
    root = flat_nine_root(harmony)
    costs = {"rub": 0, "guide tone": 0, "low intervals": 0, "register": 0, "hole": 0, "root": 0}
    classes = {m % 12 for m in midis}
    for note in melody:
        overlap = (min(note.end_quarter, portion.end_quarter)
                   - max(note.onset_quarter, portion.onset_quarter))
        if overlap <= 0:
            continue
        long = overlap >= beat_quarter
        if long:
            classes.add(note.midi % 12)
        for midi in midis:
            low, high = sorted((midi, note.midi))
            if low == high or (midi > note.midi):
                costs["rub"] += FORBIDDEN
            elif rub(low, high, root, root is not None):
                costs["rub"] += BASE_COSTS["long rub" if long else "short rub"]
        costs["hole"] = max(costs["hole"], BASE_COSTS["hole"] * (note.midi - midis[-1] - 18))
    for degree in (harmony.third, harmony.seventh):
        if degree is not None and (harmony.root.pitch_class
                                   + degree_pitch_class(degree)) % 12 not in classes:
            costs["guide tone"] += BASE_COSTS["guide tone"]
    if mud(midis):
        costs["low intervals"] = FORBIDDEN
    else:
        costs["low intervals"] = BASE_COSTS["low intervals"] * mud_cost(midis)
    costs["register"] = BASE_COSTS["register"] * abs(midis[0] - _REGISTER[level]) // 2
    bass = harmony.symbol.lowest
    if bass is not None and midis[0] % 12 != bass.pitch_class:
        costs["root"] = BASE_COSTS["rootless"]
    elif len(midis) == 1:
        costs["root"] = BASE_COSTS["bare"]
    return costs


def left_hand(chorus: Chorus, stretch: Stretch, melody: Sequence[SoundingNote], *, level: str,
              hand: str) -> list[BaseNote]:
    """The left hand of one stretch: a chord per portion, struck at once or in two parts."""
    places = portions(chorus, stretch)
    if not places:
        return []
    layers: list[list[tuple[Pitch, ...]]] = []
    local: list[dict[str, np.ndarray[tuple[int, ...], np.dtype[np.int64]]]] = []
    for portion in places:
        sounding = [n for n in melody if n.onset_quarter < portion.end_quarter
                    and n.end_quarter > portion.onset_quarter]
        ceiling = min([n.midi for n in sounding] + [67]) - 1
        beat = chorus.bar_at(portion.onset_quarter).meter.beat_quarter
        chords = _candidates(portion, level, hand, ceiling)
        rows = [_local(portion, c, level, sounding, beat) for c in chords]
        if all(sum(r.values()) >= FORBIDDEN for r in rows):
            chords = [(chords[-1][0],)]
            rows = [{"bare": 0}]
        layers.append(chords)
        local.append({term: np.array([r[term] for r in rows], dtype=np.int64)
                      for term in rows[0]})
    for index, keys in ((0, stretch.before), (-1, stretch.after)):
        if keys:
            local[index]["edge"] = np.array(
                [voice_leading(keys, [p.midi for p in chord]) for chord in layers[index]],
                dtype=np.int64)
    steps = [{"voice leading": np.array(
        [[voice_leading([p.midi for p in a], [p.midi for p in b]) for b in layers[i + 1]]
         for a in layers[i]], dtype=np.int64)} for i in range(len(layers) - 1)]
    paths = k_best_paths([len(layer) for layer in layers], local, steps, 1)
    if not paths:
        return []
    notes: list[BaseNote] = []
    previous_offset = Fraction(0)
    for portion, layer, place in zip(places, layers, paths[0].states, strict=True):
        bar = chorus.bar_at(portion.onset_quarter)
        offset = _second_strike(portion, bar.meter.beat_quarter, melody, level,
                                chorus.feel, previous_offset)
        previous_offset = offset
        notes += _strike(portion, layer[place], offset)
    return notes


def _second_strike(portion: Portion, beat_quarter: Fraction, melody: Sequence[SoundingNote],
                   level: str, feel: str, previous: Fraction) -> Fraction:
    """When the upper notes follow the bass, counted from the portion's start; 0 is at once.

    Beginners strike at once. Others let the bass speak first where the portion is long
    enough, in a place where the melody does not strike, and not always the same one.
    """
    beats = portion.duration_quarter / beat_quarter
    if level == "beginner" or beats < 2:
        return Fraction(0)
    attacks = {n.onset_quarter - portion.onset_quarter for n in melody}
    half = beat_quarter / 2 if beat_quarter == 1 else beat_quarter / 3
    options = [beat_quarter, beat_quarter + half] if beats >= 3 else [beat_quarter]
    if feel == "straight" or beats < 3:
        options = [beat_quarter, *(o for o in options if o != beat_quarter)]
    else:
        options = [beat_quarter + half, beat_quarter]
    options.sort(key=lambda o: (o in attacks, o == previous))
    return options[0]


def _strike(portion: Portion, chord: tuple[Pitch, ...], offset: Fraction) -> list[BaseNote]:
    if offset == 0 or len(chord) < 2:
        return [BaseNote(portion.onset_quarter, portion.duration_quarter, p, "left")
                for p in chord]
    rest = portion.duration_quarter - offset
    return [BaseNote(portion.onset_quarter, portion.duration_quarter, chord[0], "left"),
            *(BaseNote(portion.onset_quarter + offset, rest, p, "left") for p in chord[1:])]


def clear_of_left_hand(midis: Sequence[int], left: Sequence[int], harmony: Harmony) -> bool:
    """Whether right-hand keys stand above the left hand's without mud or a minor ninth."""
    if left and max(left) >= min(midis):
        return False
    together = sorted({*midis, *left})
    root = flat_nine_root(harmony)
    return not mud(together) and not any(
        minor_ninth(low, high, root, root is not None)
        for place, low in enumerate(together) for high in together[place + 1:])
