"""Harmony notes under the melody, played by the right hand between fills.

Beginners play the melody alone. Others add notes under melody notes that last a beat or more
and stand on a beat: one in the first section and two from then on (intermediate), two and
three (advanced: four-way close with the melody). A note of one beat on a weak beat over a chord
that goes on passes over what is held: only where the chorus is fuller it has keys of its own. So a
chorus grows, and a slow one sings over its chords instead of striking one a beat.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np

from fillwright.arranging.air import TWO_OCTAVES, sunk_quarter
from fillwright.arranging.textures import BasePlan
from fillwright.arranging.weigh import guides_of
from fillwright.exact import Fraction
from fillwright.fills.draft import DraftNote
from fillwright.fills.tempo import Tempo
from fillwright.fills.voicing.voicings import voice_leading
from fillwright.hands.chords import finger_chord
from fillwright.lattice import k_best_paths
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.harmony import under_its_root
from fillwright.rules.nearby import Nearby
from fillwright.rules.sound import MINOR_NINTH, MUD, RUB
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch, nearest_pitch
from fillwright.tune.model import SoundingNote

__all__ = ["UNDER_COSTS", "keys_under", "under_melody"]

UNDER_COSTS: Mapping[str, int] = {
    # Units: a semitone of voice leading costs 1. All common practice.
    "none": 14,          # a note left bare that could be harmonised
    "hole": 20,          # for more than a beat two octaves above the left hand
    "missing": 5,        # per note fewer than the level plays
    "third": 8,          # it sounds neither here nor in the left hand
    "seventh": 12,
    "doubled": 5,        # a pitch class the left hand or melody already has
    "far": 1,            # per semitone of the lowest note beyond a sixth below the melody
    "stretch": 1,        # per unit of the chord-fingering cost
}


def _wants_harmony(plan: BasePlan, note: SoundingNote) -> bool:
    chorus = plan.chorus
    bar = chorus.bar_at(note.onset_quarter)
    beat = bar.meter.beat_quarter
    place = chorus.beat_in_bar(note.onset_quarter)
    least = 2 * beat if Tempo.of_chorus(chorus) is Tempo.FAST else beat
    return (note.duration_quarter >= least and place.denominator == 1
            and not _passes(plan, note) and not plan.is_quiet(note.onset_quarter))


def _passes(plan: BasePlan, note: SoundingNote) -> bool:
    """Whether a note is a short one on a weak beat, over a chord that goes on, where the chorus is
    not fuller."""
    chorus = plan.chorus
    meter = chorus.bar_at(note.onset_quarter).meter
    place, beat = chorus.beat_in_bar(note.onset_quarter), meter.beat_quarter
    index = chorus.chord_index_at(note.onset_quarter)
    if note.duration_quarter >= 2 * beat or plan.is_fuller(note.onset_quarter) or index is None:
        return False
    strong = place == 1 or (place == 3 and meter.beats != 3)
    return not strong and chorus.chords[index].onset_quarter < note.onset_quarter


def _is_alone(plan: BasePlan, note: SoundingNote, left: Nearby[DraftNote]) -> bool:
    """Whether a note that passes, or one where it is quiet, would be left two octaves and more
    above the left hand."""
    beat = plan.chorus.bar_at(note.onset_quarter).meter.beat_quarter
    down = [n.midi for n in left.within(note.onset_quarter, note.end_quarter)]
    passes = _passes(plan, note) or plan.is_quiet(note.onset_quarter)
    return (note.duration_quarter >= beat and passes and bool(down)
            and note.midi - max(down) > TWO_OCTAVES)


def keys_under(plan: BasePlan, note: SoundingNote, harmony: Harmony) -> tuple[int, ...]:
    """The keys that the right hand can have under a melody note, from low to high."""
    if not plan.under(note.onset_quarter) or not _wants_harmony(plan, note):
        return ()
    return tuple(p.midi for p in _pool(note, harmony))


def under_melody(plan: BasePlan, melody: Sequence[SoundingNote], left: Sequence[DraftNote],
                 fixed: Sequence[DraftNote] = ()) -> list[DraftNote]:
    """The right hand's harmony notes for the melody notes of one stretch.

    fixed    notes that a texture for both hands has under the melody; they are among those
             given back
    """
    chosen: dict[Fraction, list[Pitch]] = {}
    for draft in fixed:
        chosen.setdefault(draft.onset_quarter, []).append(draft.pitch)
    layers: list[list[tuple[Pitch, ...]]] = []
    local: list[dict[str, np.ndarray[tuple[int, ...], np.dtype[np.int64]]]] = []
    notes: list[tuple[SoundingNote, Fraction]] = []
    below = Nearby(left)
    for note in melody:
        harmony = plan.chorus.harmony_at(note.onset_quarter)
        own = chosen.get(note.onset_quarter)
        if harmony is None or (own is None and not (
                plan.under(note.onset_quarter) and (
                    _wants_harmony(plan, note) or _is_alone(plan, note, below)))):
            continue
        index = plan.chorus.chord_index_at(note.onset_quarter)
        assert index is not None  # there is a harmony
        end = min(note.end_quarter, plan.chorus.chords[index].end_quarter)
        if end <= note.onset_quarter:
            continue  # the chord before has ended, the next one has not begun
        states, costs = ([tuple(own)], [0]) if own is not None else _states(
            plan, replace(note, duration_quarter=end - note.onset_quarter), harmony,
            below.within(note.onset_quarter, end))
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
    found: list[DraftNote] = []
    struck = {note.onset_quarter for note, _ in notes}
    for (note, end), layer, place in zip(notes, layers, best.states, strict=True):
        keys = layer[place]
        until = end
        if keys and end == note.end_quarter:
            until = _held_until(plan, note, keys, (
                [n for n in melody if n.onset_quarter not in struck], below))
        found += [DraftNote(note.onset_quarter, until - note.onset_quarter, pitch, "right")
                  for pitch in keys]
    return found


def _held_until(plan: BasePlan, note: SoundingNote, keys: Sequence[Pitch],
                around: tuple[Sequence[SoundingNote], Nearby[DraftNote]]) -> Fraction:
    """How long keys are held under a note and those that pass over them after it: to the next
    strong beat at most, while the hand has fingers for the tune and nothing rubs.

    around   the tune without the notes that have keys of their own, and the left hand
    """
    chorus, (melody, left) = plan.chorus, around
    end, midis = note.end_quarter, [p.midi for p in keys]
    index = chorus.chord_index_at(note.onset_quarter)
    harmony = None if index is None else chorus.harmonies[index]
    assert index is not None and harmony is not None  # there are keys under the note
    homes = flat_nine_homes(harmony.symbol)
    bar = chorus.bar_at(note.onset_quarter)
    most = min(chorus.chords[index].end_quarter, bar.end_quarter,
               note.onset_quarter + 2 * bar.meter.beat_quarter)
    for over in melody[bisect_right(melody, note.onset_quarter, key=_onset):]:
        below = [n.midi for n in left.within(end, over.end_quarter)]
        if (over.onset_quarter != end or over.end_quarter > most
                or over.midi - midis[-1] < 3 or RUB.among(midis, over.midi, homes)
                or not _is_clear(midis, below, harmony)
                or finger_chord((*midis, over.midi), "right", plan.player.hand.name) is None):
            break
        end = over.end_quarter
    return end


def _onset(note: SoundingNote) -> Fraction:
    return note.onset_quarter


def _pool(note: SoundingNote, harmony: Harmony) -> list[Pitch]:
    """What may stand under a melody note, from low to high; nothing where it is foreign to the
    chord."""
    if not harmony.takes(note.pitch.pitch_class):
        return []
    homes = flat_nine_homes(harmony.symbol)
    harmony = under_its_root(harmony, note.midi)
    found = []
    for degree in harmony.tones + tuple(d for d in harmony.tensions if d in ("9", "13", "b9")):
        pitch = nearest_pitch(harmony.symbol.voiced_name_of(degree), note.midi - 6)
        if 3 <= note.midi - pitch.midi <= 12 and not RUB.breaks(pitch.midi, note.midi, homes):
            found.append(pitch)
    return sorted(found, key=lambda p: p.midi)


def _states(plan: BasePlan, note: SoundingNote, harmony: Harmony, below: Sequence[DraftNote]
            ) -> tuple[list[tuple[Pitch, ...]], list[int]]:
    """The choices under a melody note, none among them, and what each costs.

    note    as long as its chord lasts
    below   what the left hand has meanwhile
    """
    left = sorted({n.midi for n in below if n.onset_quarter <= note.onset_quarter
                   or n.end_quarter >= note.end_quarter})
    states: list[tuple[Pitch, ...]] = [()]
    costs = [UNDER_COSTS["none"] + _hole(plan, note, note.midi, below)]
    pool, most = _pool(note, harmony), plan.under(note.onset_quarter)
    have = {m % 12 for m in left} | {note.midi % 12}
    highest = max((n.midi for n in below), default=0)  # of those that pass as well
    for size in range(1, most + 1):
        for chosen in combinations(pool, size):
            midis = [p.midi for p in chosen]
            if (midis[0] <= highest or any(b - a < 2 for a, b in pairwise(midis))
                    or not _is_clear([*midis, note.midi], left, harmony)):
                continue
            fingering = finger_chord((*midis, note.midi), "right", plan.player.hand.name)
            if fingering is None:
                continue
            classes = {m % 12 for m in midis}
            cost = UNDER_COSTS["missing"] * (most - size)
            cost += sum(UNDER_COSTS[term] for term, told in guides_of(harmony)
                        if not told & (classes | have))
            cost += UNDER_COSTS["doubled"] * len(classes & have)
            cost += UNDER_COSTS["far"] * max(note.midi - midis[0] - 9, 0)
            cost += UNDER_COSTS["stretch"] * fingering.cost + _hole(plan, note, midis[0], below)
            states.append(chosen)
            costs.append(cost)
    if len(costs) > 1:  # bare, the chord's third and seventh are missing as well
        costs[0] += sum(UNDER_COSTS[term] for term, told in guides_of(harmony)
                        if not told & have)
    return states, costs


def _hole(plan: BasePlan, note: SoundingNote, lowest: int, below: Sequence[DraftNote]) -> int:
    """What it costs that the left hand is two octaves below the right for more than a beat."""
    beat = plan.chorus.bar_at(note.onset_quarter).meter.beat_quarter
    empty = note.duration_quarter > beat and sunk_quarter(
        [(n.onset_quarter, n.end_quarter, n.midi) for n in below], lowest, note.onset_quarter,
        note.end_quarter) > beat
    return UNDER_COSTS["hole"] * empty


def _is_clear(midis: Sequence[int], left: Sequence[int], harmony: Harmony) -> bool:
    """Whether right-hand keys stand above the left hand's without mud or a minor ninth. What the
    left hand has among its own keys, which may come one after the other, is no matter of theirs."""
    if left and max(left) >= min(midis):
        return False
    homes = flat_nine_homes(harmony.symbol)
    return (not MUD.pairs(midis) and not MINOR_NINTH.among(midis, homes)
            and not any(MUD.breaks(low, high) or MINOR_NINTH.breaks(low, high, homes)
                        for low in left for high in midis))
