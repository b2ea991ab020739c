"""Which keys: voicings for the strokes of a plan, found on the lattice.

The left hand is searched first, the right hand over what the left hand sounds; each stroke
is a layer, each voicing of `lefts` or `rights` a state. Step costs are semitones of voice
leading and the shape of the top line. A first layer stands for the chord before the gap, a
last one for the landing, so that the fill grows out of what was played and leads into what
comes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.below import (
    AT_EASE_SEC,
    Rows,
    heard_under,
    held_at,
    is_lent,
    landing_key,
    sung_at,
)
from fillwright.fills.devices.comp.inner import MovingVoice
from fillwright.fills.devices.comp.led import with_led
from fillwright.fills.devices.comp.rights import (
    Register,
    Under,
    both_states,
    keepable,
    moving_states,
    right_states,
    room_of,
)
from fillwright.fills.devices.comp.setting import instant_of
from fillwright.fills.devices.comp.states import NO_HELD, WEIGHTS, States, sparing
from fillwright.fills.devices.comp.steps import Gait, leading_on, right_steps
from fillwright.fills.devices.comp.strokes import PlannedStroke, StrokePlan
from fillwright.fills.devices.comp.tenor import tenor_tones
from fillwright.fills.devices.comp.texture import Texture
from fillwright.fills.situation import Task
from fillwright.fills.tempo import Tempo
from fillwright.fills.voicing.voicings import Voicing
from fillwright.lattice import FORBIDDEN, Costs, k_best_paths
from fillwright.theory.pitch import Pitch

__all__ = ["FoundHands", "over_left"]


_APART = 3
"""Semitones from which on the landing lies higher than the held note, not beside it."""


_STEP = 2
"""Semitones of a whole step."""

_NEAR = 5
"""Semitones that lie under the next finger, or the one after it (common practice)."""


_SOON_SEC = 0.5
"""In less time a hand is not asked for more than within a beat: a beat and a half is none at 196
(common practice)."""

_STRUCK_SEC = 0.12
"""A chord sounds so long before the hand leaves it for another place (common practice)."""


@dataclass(frozen=True, slots=True)
class FoundHands:
    """Voicings for the strokes of a plan, and what they cost by term."""

    left: tuple[Voicing, ...]
    right: tuple[Voicing, ...]
    costs: tuple[tuple[str, int], ...]


def over_left(task: Task, texture: Texture, plan: StrokePlan, left: Rows
              ) -> FoundHands | None:
    """Both hands: the cheapest voicings of the right one over those found for the left, or None
    where some stroke has none."""
    if not plan.right:
        return FoundHands(left[0], (), left[1])
    right = _search_right(task, texture, plan, left[0])
    if right is None:
        return None
    costs = dict(left[1])
    for name, value in right[1]:
        costs[name] = costs.get(name, 0) + value
    return FoundHands(left[0], right[0], tuple(sorted(costs.items())))


def _stroke_costs(task: Task, stroke: PlannedStroke, states: States) -> Costs:
    """What a stroke of the right hand pays for the melody around it."""
    costs: dict[str, npt.NDArray[np.int64]] = {**landing_key(task, stroke, states)}
    if stroke.top:
        costs["echo"] = np.where(states.keys[:, 0] != stroke.top, FORBIDDEN, 0)
    return costs


def _opening_costs(task: Task, texture: Texture, plan: StrokePlan, stroke: PlannedStroke,
                   states: States
                   ) -> Costs:
    """What the right hand's first stroke pays for leaving the held note."""
    costs: dict[str, npt.NDArray[np.int64]] = {}
    held = task.held_midi
    if held is None or plan.held.kept != "released":
        return costs
    if texture.place == "middle":
        leap = np.maximum(np.abs(states.keys[:, 0] - held) - 7, 0)
        hurried = 2 if task.tempo is Tempo.FAST else 1  # it is no way to go in no time
        costs["from the melody"] = (hurried * WEIGHTS["from the melody"] * leap).astype(np.int64)
    if _lets_go(task, plan, stroke):
        costs["let go without need"] = WEIGHTS["let go without need"] * keepable(
            states, held, heard_under(stroke.harmony, NO_HELD), task.hand_size)
    if held_at(task, plan, stroke) == NO_HELD:
        again = (states.keys == held).any(axis=1) & (task.landing is not None)
        costs["struck through"] = np.where(again, WEIGHTS["struck through"], 0)
        lower = WEIGHTS["sung lower"] * (texture.right != "octave")
        costs["sung lower"] = np.where(states.keys[:, 0] == held - 12, lower, 0)
    return costs


def _handed_over(plan: StrokePlan, left: Sequence[Voicing], at: tuple[PlannedStroke, States],
                 beat_quarter: Fraction) -> Costs:
    """A key that the left hand lets go at the moment when the right hand strikes, or strikes
    when the right hand lets go or within a beat, is not the right hand's."""
    stroke, states = at
    taken = {key for other, voicing in zip(plan.left, left, strict=True) for key in voicing.midis
             if other.end_quarter == stroke.onset_quarter
             or other.onset_quarter == stroke.end_quarter
             or (not plan.both and abs(other.onset_quarter - stroke.onset_quarter) <= beat_quarter)}
    if not taken:
        return {}
    meets = np.isin(states.keys, sorted(taken)).any(axis=1)
    return {"handed over": np.where(meets, FORBIDDEN, 0)}


def _octave_grip(task: Task, texture: Texture, plan: StrokePlan,
                 at: tuple[PlannedStroke, States]) -> Costs:
    """The thumb an octave below the held note under its finger says nothing new, but at the bottom
    of a stack of fourths, and a beginner does not strike it off the beat."""
    stroke, states = at
    held = held_at(task, plan, stroke)
    if texture.right in ("octave", "fourths") or plan.held.kept != "finger" or held == NO_HELD:
        return {}
    strict = task.player.level.comp.strict
    off_beat = task.beat_at(stroke.onset_quarter).denominator > 1
    price = FORBIDDEN if off_beat and not strict else WEIGHTS["octave grip"]
    return {"octave grip": np.where(states.keys[:, -1] == held - 12, price, 0)}


def _there_and_back(task: Task, plan: StrokePlan, stroke: PlannedStroke, states: States
                    ) -> Costs:
    """A hand goes from the held note to its chord and from there to the landing no further than its
    level does in the time; what it strikes sounds before it leaves it again."""
    ways: list[tuple[int, Fraction, Fraction, float]] = []  # key, from where, to where, waits
    own = [s for s in plan.right if not s.is_led]
    struck, free = stroke.onset_quarter, held_at(task, plan, stroke) == NO_HELD
    if stroke is own[0] and task.held_midi is not None and (
            free or plan.held.kept == "released"):
        goes = _lets_go(task, plan, stroke)
        ways.append((task.held_midi, Fraction(0) if goes else plan.held.until_quarter, struck, 0))
    if stroke is own[-1] and task.landing_midi is not None and (
            free or plan.held.kept == "released"):
        ways.append((task.landing_midi, struck, task.duration_quarter, _STRUCK_SEC))
    barred = np.zeros(len(states), dtype=np.bool_)
    taste = task.player.level.comp
    for key, start, end, waits in ways:
        sec = task.seconds(instant_of(task, end) - instant_of(task, start)) - waits
        space = end - max(start, plan.held.until_quarter)
        soon = space <= task.beat_quarter or task.seconds(space) < _SOON_SEC
        far = min(taste.travel * sec, taste.jump) if soon else taste.travel * sec
        away = np.maximum(key - states.keys[:, 0], states.keys[:, -1] - key)
        barred |= away > max(_NEAR, far)
    return {"there and back": np.where(barred, FORBIDDEN, 0)}


def _sounding(plan: StrokePlan, left: Sequence[Voicing], stroke: PlannedStroke) -> Under:
    """Left-hand keys down during a stroke of the right hand, and the degrees of those down
    when it begins, over its chord; of a bass that walks on, the key down when it begins, and
    those that pass."""
    keys: set[int] = set()
    passing: set[int] = set()
    degrees: list[str] = []
    for other, voicing in zip(plan.left, left, strict=True):
        if (other.onset_quarter >= stroke.end_quarter
                or stroke.onset_quarter >= other.end_quarter):
            continue
        later = plan.walks and other.onset_quarter > stroke.onset_quarter
        (passing if later else keys).update(voicing.midis)
        stays = not plan.walks or other.end_quarter >= stroke.end_quarter
        if stays and other.harmony == stroke.harmony and (
                other.onset_quarter <= stroke.onset_quarter):
            degrees += filter(None, voicing.degrees)  # a chromatic step has none
    return Under(tuple(sorted(keys)), tuple(degrees), passing=tuple(sorted(passing)))


def _with_it(plan: StrokePlan, stroke: PlannedStroke) -> list[PlannedStroke]:
    """A stroke of the right hand and those of the left over its chord that are down with it."""
    return [stroke, *(other for other in plan.left if other.harmony == stroke.harmony
                      and other.onset_quarter <= stroke.onset_quarter < other.end_quarter)]


def _let_go(task: Task, plan: StrokePlan, left: Sequence[Voicing], stroke: PlannedStroke,
            degrees: Sequence[str]) -> frozenset[str]:
    """Which degrees that the left hand has down when a stroke begins are gone a beat or more
    before it ends: they tell nothing of what rings on."""
    late = stroke.end_quarter - task.beat_quarter
    ring = {degree for other, voicing in zip(plan.left, left, strict=True)
            if other.harmony == stroke.harmony and other.end_quarter > late
            and other.onset_quarter < stroke.end_quarter for degree in voicing.degrees}
    return frozenset(degrees) - ring


def _pitches_beside(plan: StrokePlan, left: Sequence[Voicing], stroke: PlannedStroke
                    ) -> tuple[Pitch, ...]:
    """The left hand's notes that are down during a stroke of the right hand, from low to high."""
    keys = _sounding(plan, left, stroke).keys
    names = {p.midi: p for voicing in left for p in voicing.pitches}
    return tuple(names[key] for key in keys)


def _search_right(task: Task, texture: Texture, plan: StrokePlan, left: Sequence[Voicing]
                  ) -> Rows | None:
    """The right hand's voicings over those of the left, and what they cost by term."""
    strokes = [s for s in plan.right if not s.is_led]
    layers: list[States] = []
    local: list[Costs] = []
    for order, stroke in enumerate(strokes):
        states = _states(task, texture, plan, left, (stroke, order, len(strokes)))
        if states is None:
            return None
        layers.append(states)
        local.append(_local(task, texture, plan, left, (stroke, states)))
    gait = Gait(texture.motion, texture.place, texture.moving_voices,
                task.player.level.comp.strict, task.is_ballad, _way(task, strokes))
    steps = [leading_on(right_steps(a, b, gait, one.harmony == two.harmony), a, b,
                        one.harmony == two.harmony)
             for (a, one), (b, two) in pairwise(zip(layers, strokes, strict=True))]
    if gait.strict and not plan.both:
        for place, (one, two) in enumerate(pairwise(strokes)):
            steps[place] = {**steps[place], **_same_way(plan, left, (one, two), layers[place],
                                                        layers[place + 1])}
    paths = k_best_paths([len(layer) for layer in layers], local, steps, 1)
    if not paths:
        return None
    found = [layers[i].voicings[s] for i, s in enumerate(paths[0].states)]
    if len(strokes) == len(plan.right):
        return tuple(found), paths[0].costs
    led = with_led(plan.right, found, lambda stroke: (
        _pitches_beside(plan, left, stroke), held_at(task, plan, stroke)))
    return None if led is None else (led, paths[0].costs)


def _same_way(plan: StrokePlan, left: Sequence[Voicing],
              strokes: tuple[PlannedStroke, PlannedStroke], a: States, b: States) -> Costs:
    """The outer voices of two hands go against each other, or one of them stays (common
    practice)."""
    sounding = [_sounding(plan, left, stroke).keys for stroke in strokes]
    lows = [keys[0] for keys in sounding if keys]
    if len(lows) < 2 or abs(lows[1] - lows[0]) <= _STEP:
        return {}
    way = 1 if lows[1] > lows[0] else -1
    along = way * (b.keys[None, :, 0] - a.keys[:, None, 0]) > 0
    return {"same way": WEIGHTS["same way"] * along.astype(np.int64)}


def _way(task: Task, strokes: Sequence[PlannedStroke]) -> int:
    """Which way a line of chords goes from the held note: to the landing, down to one near by;
    it is free where the melody gives it."""
    held, landing = task.held_midi, task.landing_midi
    if any(s.top for s in strokes):
        return 0
    return 1 if held is not None and landing is not None and landing - held >= _APART else -1


def _states(task: Task, texture: Texture, plan: StrokePlan, left: Sequence[Voicing],
            at: tuple[PlannedStroke, int, int]) -> States | None:
    """What the right hand may strike.

    at   the stroke, its number and how many there are
    """
    stroke, order, count = at
    room = room_of(task, texture, order, count)
    if stroke.top:
        room = Register(stroke.top if plan.both else stroke.top - 13, stroke.top, stroke.top - 5)
    held = held_at(task, plan, stroke)
    harmony = heard_under(stroke.harmony, sung_at(task, plan, stroke))
    under = replace(_sounding(plan, left, stroke), held=held,
                    finger=plan.held.kept == "finger" and held != NO_HELD,
                    ends=_comes_back(task, plan, stroke),
                    lent=held != NO_HELD and any(
                        is_lent(task, plan, other) for other in _with_it(plan, stroke)))
    under = replace(under, brief=_let_go(task, plan, left, stroke, under.degrees))
    if stroke.degree and texture.line is not None:
        return moving_states(harmony, (texture.line, stroke.degree, texture.voices),
                             task.player, under, room)
    if plan.both:
        return both_states(harmony, texture, task.player, held, room)
    part = texture.at(Fraction(order, count))
    if texture.mode == "tenor" and texture.line is not None:
        return _over_a_tenor(plan, stroke, texture, right_states(
            harmony, part, task.player, _with_tenor(plan, stroke, texture.line, under), room))
    return right_states(harmony, part, task.player, under, room)


def _with_tenor(plan: StrokePlan, stroke: PlannedStroke, line: MovingVoice, under: Under) -> Under:
    """With what a tenor tells of the chord while it moves."""
    if not any(s.degree and s.harmony == stroke.harmony for s in plan.left):
        return under
    return replace(under, degrees=tenor_tones(line, stroke.harmony), brief=frozenset())


def _over_a_tenor(plan: StrokePlan, stroke: PlannedStroke, texture: Texture, states: States | None
                  ) -> States | None:
    """Those voicings that leave the tenor's degrees to it."""
    if states is None or texture.line is None or not any(
            s.degree and s.harmony == stroke.harmony for s in plan.left):
        return states
    return sparing(states, texture.line.degrees)


def _local(task: Task, texture: Texture, plan: StrokePlan, left: Sequence[Voicing],
           at: tuple[PlannedStroke, States]) -> Costs:
    """What the voicings of a stroke pay for themselves and for the melody around them."""
    stroke, states = at
    strokes = [s for s in plan.right if not s.is_led]
    costs: dict[str, npt.NDArray[np.int64]] = {
        **states.costs, **_stroke_costs(task, stroke, states),
        **_handed_over(plan, left, at, task.beat_quarter),
        **_octave_grip(task, texture, plan, at)}
    if plan.both:
        keys = _sounding(plan, left, stroke).keys or (0,)
        close = (states.keys[:, :, None] - np.array(keys)[None, None, :] == 1)
        costs["half step over the bass"] = np.where(close.any(axis=(1, 2)), FORBIDDEN, 0)
        costs["stride"] = _into_the_blocks(task, plan, left, stroke, states)
    if len(strokes) == 1:
        costs["root above"] = WEIGHTS["root above"] * np.array(
            [set(v.degrees) == {"1"} for v in states.voicings], dtype=np.int64)
    costs.update(_there_and_back(task, plan, stroke, states))
    if stroke is strokes[0]:
        costs.update(_opening_costs(task, texture, plan, stroke, states))
    landing = task.landing_midi
    if stroke is strokes[-1] and landing is not None:
        early = states.keys[:, 0] == landing
        costs["given away"] = np.where(early, WEIGHTS["given away"], 0)
        away = np.abs(states.keys[:, 0] - landing)
        if texture.mode == "tenor" and held_at(task, plan, stroke) != NO_HELD:
            away = 0 * away  # it stays on the held note while the left hand goes on
        if texture.motion == "leading":
            step = _way(task, strokes) * (landing - states.keys[:, 0])
            costs["leading"] = np.where((step == 1) | (step == 2), 0, FORBIDDEN)
        far = WEIGHTS["far landing"] * (1 if task.player.level.comp.strict else 3)
        costs["landing"] = (WEIGHTS["landing"] * np.maximum(away - 5, 0)
                            + far * np.maximum(away - 12, 0))
    if task.last_midi is not None:
        costs["end"] = _end_costs(task.last_midi, stroke is strokes[-1],
                                  _comes_back(task, plan, stroke), states)
    return costs


def _comes_back(task: Task, plan: StrokePlan, stroke: PlannedStroke) -> bool:
    """Is this the last stroke of a tune, after its last note has ended?"""
    return (task.last_midi is not None and stroke is plan.right[-1]
            and held_at(task, plan, stroke) == NO_HELD)


def _end_costs(held: int, is_last: bool, comes_back: bool, states: States
               ) -> npt.NDArray[np.int64]:
    """A tune ends with its last note on top: what is struck last comes back to it where it has
    ended, there or an octave higher, or lies below it; another top above it costs before that."""
    tops = states.keys[:, 0]
    above = (tops > held) & (tops % 12 != held % 12)
    if is_last:
        return np.where(above | (comes_back & (tops < held)), FORBIDDEN, 0)
    return np.where(above, WEIGHTS["end"], 0)


def _into_the_blocks(task: Task, plan: StrokePlan, left: Sequence[Voicing],
                     stroke: PlannedStroke, states: States) -> npt.NDArray[np.int64]:
    """The left hand has time to go from its root to what both hands strike."""
    before = [(other.onset_quarter, voicing.midis[0])
              for other, voicing in zip(plan.left, left, strict=True)
              if 0 < stroke.onset_quarter - other.onset_quarter <= task.beat_quarter]
    if not before:
        return np.zeros(len(states), dtype=np.int64)
    onset, root = max(before)
    part = min(task.seconds(stroke.onset_quarter - onset) / AT_EASE_SEC, 1.0)
    lowest = np.array([voicing.midis[0] for voicing in states.voicings], dtype=np.int64)
    far = lowest - root > task.player.level.comp.stride * part
    return FORBIDDEN * far.astype(np.int64)


def _lets_go(task: Task, plan: StrokePlan, stroke: PlannedStroke) -> bool:
    """Does the right hand leave the held note for this stroke while it should still sound?"""
    held = task.held
    return (held is not None and not stroke.top
            and plan.held.until_quarter <= stroke.onset_quarter
            and stroke.onset_quarter < held.end_quarter)
