"""A bass that walks: one line of single keys from the first chord to the landing's root.

The line is looked for by itself, before anything is laid over it. A layer is a stroke; a state
is a pair of keys, the one before and the one struck, so that direction, the recovery of a leap,
a passing tone that has to be left by step and a pair of keys that would come again are matters
of one step. The last layer is the landing's bass, which the line has to approach.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from fillwright.fills.devices.comp.states import NO_HELD, rubs
from fillwright.fills.voicing.voicings import Voicing, half_step_off
from fillwright.hands.chords import finger_rolled
from fillwright.hands.reach import rolled_span_ok, span_ok
from fillwright.lattice import FORBIDDEN, Costs, k_best_paths
from fillwright.memory import SEARCHES
from fillwright.rules.sound import MUD
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import NoteName, Pitch, nearest_pitch, spelled

__all__ = ["WEIGHTS", "Step", "Walk", "bass_line", "with_tenths"]

WEIGHTS = MappingProxyType({
    # term: integer cost per unit (design choices within common practice)
    "bass register": 1,     # semitone outside the room of a bass
    "foreign on the beat": 6,   # a tone of the scale alone on a strong beat
    "foreign": 1,           # ... and on a weak one
    "seventh in the bass": 2,
    "root again": 2,        # the root while its chord goes on
    "under the guides": 3,  # a minor ninth below the chord's third or seventh
    "over the guides": 6,   # a foreign tone a half step above one of them, in a lower octave
    "turn": 2,              # a change of direction after a step
    "runs on": 4,           # no change of direction after a leap
    "leapt to": 3,          # a tone foreign to the chord that is not reached by step
    "comes back": 6,        # the key before the last one again
    "no approach": 6,       # a new root that comes from neither a step nor a fourth or fifth
    "by fifth": 2,          # ... from a fourth or fifth
})

# What a leap costs by semitones; a bass steps (common practice).
_WALKING = (14, 0, 0, 1, 1, 3, 9, 3, 6, 8, 9, 12, 4)
_IN_TWO = (10, 2, 2, 1, 1, 0, 9, 0, 5, 6, 9, 12, 2)

_LOW, _TOP = 36, 57
"""A bass goes from C2 up to A3 (common practice)."""
_EASE = (40, 52)
_STEP = (1, 2)
_FIFTH = (5, 7)


@dataclass(frozen=True, slots=True)
class Step:
    """One stroke of the bass.

    begins   the chord begins here: its bass is struck
    strong   it stands on a strong beat
    held     the held note while it sounds, -1 where it does not
    """

    harmony: Harmony
    begins: bool
    strong: bool
    held: int = NO_HELD


@dataclass(frozen=True, slots=True)
class Walk:
    """What is asked of a line.

    goal        the landing's bass; None where the tune ends or the last stroke is on the chord of
                a landing off the beat: there the last stroke is the root
    every_beat  it walks on every beat, so that no key comes again at once; else it goes in two
    last_step   the last stroke is a step from the goal
    ceiling     the highest key
    """

    steps: tuple[Step, ...]
    goal: NoteName | None
    every_beat: bool
    last_step: bool = False
    ceiling: int = _TOP


@dataclass(frozen=True, slots=True)
class _Layer:
    """Pairs of keys that may follow each other up to a stroke, and what the second pays.

    own     the second is a tone of the chord
    scale   ... or of its scale
    """

    before: npt.NDArray[np.int64]
    key: npt.NDArray[np.int64]
    own: npt.NDArray[np.bool_]
    scale: npt.NDArray[np.bool_]
    local: Costs


@SEARCHES.keep
def bass_line(walk: Walk) -> tuple[tuple[Voicing, ...], tuple[tuple[str, int], ...]] | None:
    """The cheapest line, a voicing of one key a stroke, and what it costs; None where there is
    none."""
    rows = [_keys(walk, place) for place in range(len(walk.steps))]
    goal = [] if walk.goal is None else [
        k for k in range(_LOW, _TOP + 1) if k % 12 == walk.goal.pitch_class]
    if not all(rows):
        return None
    layers = [_layer(walk, 0, [(NO_HELD, key) for key in rows[0]])]
    for place in range(1, len(rows)):
        layers.append(_layer(walk, place, [(a, b) for a in rows[place - 1] for b in rows[place]
                                           if abs(a - b) <= 12]))
    local, steps = [layer.local for layer in layers], []
    for place, (one, two) in enumerate(pairwise(layers)):
        steps.append(_moves(walk, one, (two.before, two.key),
                            begins=walk.steps[place + 1].begins,
                            first=place == 0, last=False))
    sizes = [len(layer.key) for layer in layers]
    if goal:
        last = layers[-1]
        pairs = np.array([(a, b) for a in rows[-1] for b in goal], dtype=np.int64)
        steps.append(_moves(walk, last, (pairs[:, 0], pairs[:, 1]), begins=True,
                            first=len(layers) == 1, last=True))
        sizes.append(len(pairs))
        local.append({})
    if min(sizes) < 1:
        return None
    paths = k_best_paths(sizes, local, steps, 1)
    if not paths:
        return None
    keys = [int(layer.key[state])
            for layer, state in zip(layers, paths[0].states, strict=False)]
    return _spelled(walk, keys), paths[0].costs


def _keys(walk: Walk, place: int) -> list[int]:
    """What may be struck: the bass where a chord begins; else what is in the chord or its
    scale, and on the way into a new chord or bar the half steps between."""
    step = walk.steps[place]
    harmony = step.harmony
    room = [k for k in range(_LOW, walk.ceiling + 1)
            if step.held == NO_HELD or not rubs((k,), step.held, harmony)]
    bass = (harmony.symbol.bass or harmony.root).pitch_class
    at_end = walk.goal is None and place + 1 == len(walk.steps)
    if step.begins or at_end:
        return [k for k in room if k % 12 == bass]
    following = walk.steps[place + 1] if place + 1 < len(walk.steps) else None
    leads = following is None or following.begins or following.strong
    if walk.every_beat and leads:
        return room
    relative = harmony.symbol.relative
    allowed = {degree_pitch_class(d) for d in (
        harmony.scale.degrees if walk.every_beat or (leads and walk.last_step)
        else harmony.tones)}
    return [k for k in room if relative(k % 12) in allowed]


def _layer(walk: Walk, place: int, pairs: Sequence[tuple[int, int]]) -> _Layer:
    step = walk.steps[place]
    harmony = step.harmony
    table = np.array(pairs, dtype=np.int64).reshape(-1, 2)
    keys = table[:, 1]
    relative = np.array([harmony.symbol.relative(pc) for pc in range(12)])[keys % 12]
    own = np.isin(relative, [degree_pitch_class(d) for d in harmony.tones])
    scale = own | np.isin(relative, [degree_pitch_class(d) for d in harmony.scale.degrees])
    guides = [degree_pitch_class(d) for d in (harmony.third, harmony.seventh) if d is not None]
    seventh = -1 if harmony.seventh in (None, "6") else guides[-1]
    foreign = WEIGHTS["foreign on the beat"] if step.strong else WEIGHTS["foreign"]
    bass = (harmony.symbol.bass or harmony.root).pitch_class
    local = {
        "bass register": WEIGHTS["bass register"] * (
            np.maximum(_EASE[0] - keys, 0) // 2 + np.maximum(keys - _EASE[1], 0)),
        "walk": np.where(own | step.begins, 0, foreign)
        + np.where(relative == seventh, WEIGHTS["seventh in the bass"], 0)
        + np.where(~np.bool_(step.begins) & (keys % 12 == bass), WEIGHTS["root again"], 0),
        "under the guides": WEIGHTS["under the guides"] * np.isin(
            (relative + 1) % 12, guides).astype(np.int64),
        "over the guides": WEIGHTS["over the guides"] * (
            ~own & np.isin((relative - 1) % 12, guides)).astype(np.int64)}
    return _Layer(table[:, 0], keys, own | step.begins, scale, local)


def _moves(walk: Walk, one: _Layer, two: tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]],
           *, begins: bool, first: bool, last: bool) -> Costs:
    """From pair to pair: the second key of the one is the first of the other."""
    before, middle, after = one.before[:, None], one.key[:, None], two[1][None, :]
    joined = middle == two[0][None, :]
    came, goes = middle - before, after - middle
    size = np.abs(goes)
    if last:  # the landing's bass may lie in any octave
        size = np.minimum(size % 12, 12 - size % 12) if not walk.every_beat else size
    price = np.array((*(_WALKING if walk.every_beat else _IN_TWO), *(FORBIDDEN,) * 40),
                     dtype=np.int64)
    steps_on = np.isin(size, _STEP)
    barred = ~joined | (~one.own[:, None] & ~steps_on)
    barred |= ~one.scale[:, None] & (size != 1)
    if last and walk.last_step:
        barred |= ~steps_on
    costs = {"bass line": np.where(barred, FORBIDDEN, price[size])}
    if begins:
        near = np.where(np.isin(size, _FIFTH), WEIGHTS["by fifth"], WEIGHTS["no approach"])
        costs["approach"] = np.where(steps_on, 0, near)
    if not first:
        again = before == after
        stepped = np.abs(came) <= max(_STEP)
        turns = came * goes < 0
        reached = ~one.own[:, None] & (np.abs(came) > max(_STEP))
        costs["direction"] = (
            WEIGHTS["turn"] * (turns & stepped) + WEIGHTS["runs on"] * (
                ~turns & (np.abs(came) > 4) & ~steps_on)
            + np.where(again, FORBIDDEN if walk.every_beat else WEIGHTS["comes back"], 0)
            + WEIGHTS["leapt to"] * reached)
    return costs


def _spelled(walk: Walk, keys: Sequence[int]) -> tuple[Voicing, ...]:
    """The keys as their chords name them; a half step on the way as a neighbour of its goal."""
    found: list[Voicing] = []
    goal = None if walk.goal is None else nearest_pitch(walk.goal, keys[-1])
    for place in range(len(keys) - 1, -1, -1):
        harmony, key = walk.steps[place].harmony, keys[place]
        degree = harmony.degree_of(key % 12)
        in_scale = harmony.symbol.relative(key % 12) in {
            degree_pitch_class(d) for d in (*harmony.tones, *harmony.scale.degrees)}
        bass = harmony.symbol.bass
        if bass is not None and bass.pitch_class == key % 12:
            pitch, degree = spelled(bass, key), "bass"
        elif in_scale or goal is None or abs(goal.midi - key) != 1:
            pitch = spelled(harmony.spell(key % 12), key)
        else:
            there = Voicing("", ("",), (goal,), 1)
            pitch, degree = half_step_off(there, key - goal.midi).pitches[0], ""
        goal = pitch
        found.append(Voicing("bass note", (degree or "",), (pitch,), 1))
    return tuple(reversed(found))


def with_tenths(walk: Walk, line: Sequence[Voicing], size: str, *, roll: bool
                ) -> tuple[Voicing, ...]:
    """The line with a tenth of the chord above every key that has one in reach."""
    return tuple(_tenth(step, voicing, size, roll=roll)
                 for step, voicing in zip(walk.steps, line, strict=True))


def _tenth(step: Step, voicing: Voicing, size: str, *, roll: bool) -> Voicing:
    low = voicing.midis[0]
    for high in (low + 15, low + 16):
        degree = step.harmony.degree_of(high % 12)
        fits = (degree is not None and step.harmony.is_tone(high % 12)
                and not MUD.breaks(low, high)
                and (step.held == NO_HELD or (high < step.held - 2 and not rubs(
                    (high,), step.held, step.harmony))))
        if degree is None or not fits:
            continue
        if span_ok(low, high, size) or (roll and rolled_span_ok(low, high, size)
                                        and finger_rolled((low, high), "left", size)):
            top: Pitch = spelled(step.harmony.spell(high % 12), high)
            return Voicing("tenth", (*voicing.degrees, degree), (*voicing.pitches, top), 2)
    return voicing
