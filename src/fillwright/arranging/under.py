"""Harmony notes under the melody, played by the right hand between fills.

Beginners play the melody alone. Others add notes under melody notes that last a beat or more
and stand on a beat: one in the first section and two from then on (intermediate), two and
three (advanced: four-way close with the melody). So a chorus grows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import combinations, pairwise

import numpy as np

from fillwright.arranging.base import clear_of_left_hand
from fillwright.arranging.sections import section_at
from fillwright.fills.draft import DraftNote
from fillwright.fills.player import Player
from fillwright.fills.voicing.voicings import voice_leading
from fillwright.hands.chords import finger_chord
from fillwright.lattice import k_best_paths
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.sound import RUB
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch, nearest_pitch
from fillwright.tune.model import Chorus, SoundingNote

__all__ = ["UNDER_COSTS", "under_melody"]

UNDER_COSTS: Mapping[str, int] = {
    # Units: a semitone of voice leading costs 1. All common practice.
    "none": 14,          # a note left bare that could be harmonised
    "hole": 2,           # on top of it, per semitone beyond two octaves above the left hand
    "missing": 5,        # per note fewer than the level plays
    "guide tone": 6,     # third or seventh sounds neither here nor in the left hand
    "doubled": 5,        # a pitch class the left hand or melody already has
    "far": 1,            # per semitone of the lowest note beyond a sixth below the melody
    "stretch": 1,        # per unit of the chord-fingering cost
}


def _wants_harmony(chorus: Chorus, note: SoundingNote) -> bool:
    bar = chorus.bar_at(note.onset_quarter)
    beat = bar.meter.beat_quarter
    place = chorus.beat_in_bar(note.onset_quarter)
    least = beat if chorus.tempo_bpm <= 200 else 2 * beat
    return note.duration_quarter >= least and place.denominator == 1


def under_melody(chorus: Chorus, melody: Sequence[SoundingNote], left: Sequence[DraftNote], *,
                 player: Player, fuller: bool = False,
                 fixed: Sequence[DraftNote] = ()) -> list[DraftNote]:
    """The right hand's harmony notes for the melody notes of one stretch.

    fuller   a second chorus: one note more than in the first
    fixed    notes that a texture for both hands has under the melody; they are among those
             given back
    """
    chosen: dict[Fraction, list[Pitch]] = {}
    for draft in fixed:
        chosen.setdefault(draft.onset_quarter, []).append(draft.pitch)
    layers: list[list[tuple[Pitch, ...]]] = []
    local: list[dict[str, np.ndarray[tuple[int, ...], np.dtype[np.int64]]]] = []
    notes: list[tuple[SoundingNote, Fraction]] = []
    first = player.level.base.under
    if not first + fuller:
        return list(fixed)
    for note in melody:
        harmony = chorus.harmony_at(note.onset_quarter)
        own = chosen.get(note.onset_quarter)
        if harmony is None or (own is None and not _wants_harmony(chorus, note)):
            continue
        index = chorus.chord_index_at(note.onset_quarter)
        assert index is not None  # there is a harmony
        end = min(note.end_quarter, chorus.chords[index].end_quarter)
        keys = sorted({n.midi for n in left if n.onset_quarter < end
                       and n.end_quarter > note.onset_quarter})
        section = section_at(chorus, note.onset_quarter)
        later = bool(first) and (section.contrast or section.times > 0)
        most = min(first + later + fuller, 3)
        states, costs = ([tuple(own)], [0]) if own is not None else _states(
            note, harmony, keys, most, player.hand.name)
        layers.append(states)
        local.append({"under": np.array(costs, dtype=np.int64)})
        notes.append((note, end))
    if not layers:
        return []
    steps = [{"voice leading": np.array(
        [[voice_leading([p.midi for p in a], [p.midi for p in b]) // 2 if a and b else 0
          for b in layers[i + 1]] for a in layers[i]], dtype=np.int64)}
        for i in range(len(layers) - 1)]
    best = k_best_paths([len(layer) for layer in layers], local, steps, 1)[0]
    return [DraftNote(note.onset_quarter, end - note.onset_quarter, pitch, "right")
            for (note, end), layer, place in zip(notes, layers, best.states, strict=True)
            for pitch in layer[place]]


def _states(note: SoundingNote, harmony: Harmony, left: Sequence[int], most: int, hand: str
            ) -> tuple[list[tuple[Pitch, ...]], list[int]]:
    states: list[tuple[Pitch, ...]] = [()]
    costs = [UNDER_COSTS["none"]
             + UNDER_COSTS["hole"] * max(note.midi - max(left, default=note.midi) - 24, 0)]
    if not harmony.takes(note.pitch.pitch_class):
        return states, costs  # a melody note foreign to the chord stays bare
    homes = flat_nine_homes(harmony.symbol)
    pool: list[Pitch] = []
    for degree in harmony.tones + tuple(d for d in harmony.tensions if d in ("9", "13", "b9")):
        name = harmony.symbol.voiced_name_of(degree)
        pitch = nearest_pitch(name, note.midi - 6)
        low, high = pitch.midi, note.midi
        if 3 <= high - low <= 12 and not RUB.breaks(low, high, homes):
            pool.append(pitch)
    pool.sort(key=lambda p: p.midi)
    guides = {(harmony.root.pitch_class + degree_pitch_class(d)) % 12
              for d in (harmony.third, harmony.seventh) if d is not None}
    have = {m % 12 for m in left} | {note.midi % 12}
    for size in range(1, most + 1):
        for chosen in combinations(pool, size):
            midis = [p.midi for p in chosen]
            if any(b - a < 2 for a, b in pairwise(midis)):
                continue
            if not clear_of_left_hand([*midis, note.midi], left, harmony):
                continue
            fingering = finger_chord((*midis, note.midi), "right", hand)
            if fingering is None:
                continue
            classes = {m % 12 for m in midis}
            cost = UNDER_COSTS["missing"] * (most - size)
            cost += UNDER_COSTS["guide tone"] * len(guides - classes - have)
            cost += UNDER_COSTS["doubled"] * len(classes & have)
            cost += UNDER_COSTS["far"] * max(note.midi - midis[0] - 9, 0)
            cost += UNDER_COSTS["stretch"] * fingering.cost
            states.append(chosen)
            costs.append(cost)
    return states, costs
