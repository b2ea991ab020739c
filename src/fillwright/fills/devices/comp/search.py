"""Which keys: voicings for the strokes of a plan, found on the lattice.

The left hand is searched first, the right hand over what the left hand sounds; each stroke
is a layer, each voicing of `states` a state. Step costs are semitones of voice leading
and the shape of the top line. A first layer stands for the chord before the gap, a last one
for the landing, so that the fill grows out of what was played and leads into what comes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.led import with_led
from fillwright.fills.devices.comp.states import (
    NO_HELD,
    WEIGHTS,
    States,
    both_states,
    keepable,
    left_states,
    moving_states,
    right_states,
    sparing,
)
from fillwright.fills.devices.comp.strokes import Plan, Stroke
from fillwright.fills.devices.comp.texture import Texture
from fillwright.fills.situation import Task
from fillwright.fills.voicing.voicings import Voicing
from fillwright.lattice import FORBIDDEN, Costs, k_best_paths
from fillwright.memory import SEARCHES
from fillwright.rules.harmony import under_its_root
from fillwright.rules.sound import HOLE
from fillwright.theory.harmony import Harmony

__all__ = ["Found", "search"]

# A bass line steps, or goes by fourths and fifths; semitones 0, 1, 2 ... (common practice)
_BASS_LEAP = (6, 0, 0, 1, 1, 1, 5, 1, 3, 3, 5, 6, 2)
UNDER_THE_MELODY = 10
"""Semitones below the held note where two notes of the right hand usually begin."""

_CHORD_FAMILIES = ("rootless", "three-note rootless", "guides")


@dataclass(frozen=True, slots=True)
class Found:
    """Voicings for the strokes of a plan, and what they cost by term."""

    left: tuple[Voicing, ...]
    right: tuple[Voicing, ...]
    costs: tuple[tuple[str, int], ...]


def _moved(a: States, b: States) -> npt.NDArray[np.int64]:
    """Semitones moved, shape (states, next states, 5): voices matched from the top, those
    beyond the larger chord's number not counted."""
    each: npt.NDArray[np.int64] = np.abs(a.keys[:, None, :] - b.keys[None, :, :])
    voices = np.maximum(a.counts[:, None], b.counts[None, :])
    each[np.arange(5)[None, None, :] >= voices[:, :, None]] = 0
    return each


def _leading_on(terms: Costs, a: States, b: States, same: bool) -> Costs:
    """With what it costs that an altered dominant goes back to the plain colour, instead of
    on to its tonic; `same` where the chord stays."""
    if not same or not a.altered.any():
        return terms
    undone = WEIGHTS["altered undone"] * (a.altered[:, None] & ~b.altered[None, :])
    return {**terms, "altered undone": undone}


@SEARCHES.keep
def _left_steps(a: States, b: States, chords: bool, slow: bool) -> Costs:
    """From stroke to stroke of the left hand; `chords` where it plays rootless chords."""
    each = _moved(a, b)
    moved = each.sum(axis=2)
    thick = (a.counts > 1)[:, None]
    again = (moved == 0) & thick
    held = WEIGHTS["struck while held"] * slow
    if chords:
        return {"voice leading": _voice_leading_cost(moved), "says less": _says_less(a, b),
                "same chord again": (WEIGHTS["same chord again"] + held) * again}
    both = thick & (b.counts > 1)[None, :]
    return {"bass line": WEIGHTS["bass line"] * (moved // 4), "says less": _says_less(a, b),
            "top line": np.where(both, np.maximum(each[:, :, 0] - 4, 0), 0),
            "same chord again": held * again}


def _says_less(a: States, b: States) -> npt.NDArray[np.int64]:
    """A chord struck again without some of its keys."""
    inside = (b.keys[None, :, :, None] == a.keys[:, None, None, :]).any(axis=3).all(axis=2)
    less = inside & (b.counts[None, :] < a.counts[:, None]) & (b.counts > 1)[None, :]
    return np.where(less, WEIGHTS["says less"], 0)


def _voice_leading_cost(moved: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Half a point a semitone, dear beyond six in all: that is what the worked II-V-I forms
    move at most (Levine ch. 7; counted)."""
    cost: npt.NDArray[np.int64] = moved // 2 + 8 * np.maximum(moved - 6, 0)
    return WEIGHTS["voice leading"] * cost


@SEARCHES.keep
def _bass_steps(a: States, b: States) -> Costs:
    """From bass note to bass note of a walking left hand."""
    leap = np.abs(a.keys[:, None, -1] - b.keys[None, :, -1])
    price = np.array(_BASS_LEAP + (9,) * 40, dtype=np.int64)
    same_kind = np.array([[x.kind == y.kind and x.kind != "bass note" for y in b.voicings]
                          for x in a.voicings])
    return {"bass line": price[leap] + 2 * same_kind}


class _Gait(NamedTuple):
    """What the steps of a right hand depend on besides the keys: how a texture moves, where it
    lies, whether a voice moves in it, whether the level minds what stands still, and the tempo."""

    motion: str
    place: str
    line: bool
    strict: bool
    slow: bool


@SEARCHES.keep
def _right_steps(a: States, b: States, gait: _Gait, same: bool) -> Costs:
    """From hit to hit of the right hand (of both in "both"); `same` where the chord stays."""
    each = _moved(a, b)
    moved = each.sum(axis=2)
    top = each[:, :, 0]
    if gait.motion == "planed":
        shifts = b.keys[None, :, :] - a.keys[:, None, :]
        parallel = (each.max(axis=2) <= 3) & ((shifts > 0).all(axis=2) | (shifts < 0).all(axis=2))
        return {"planed": np.where(parallel, moved // 3, FORBIDDEN)}
    if gait.motion == "thirds" and same:
        shifts = b.keys[None, :, :2] - a.keys[:, None, :2]
        walks = (shifts >= 3).all(axis=2) & (shifts <= 4).all(axis=2)
        walks |= (shifts <= -3).all(axis=2) & (shifts >= -4).all(axis=2)
        walks &= _in_thirds(a)[:, None] & _in_thirds(b)[None, :]
        return {"thirds": np.where(walks, 0, FORBIDDEN)}
    if (gait.motion == "inner" or gait.line) and same:
        allowed = (((each > 0).sum(axis=2) == 1) & (moved <= 2)
                   & (a.counts[:, None] == b.counts[None, :]))
        return {"inner line": np.where(allowed, 2 * (top > 0) + (moved - 1), FORBIDDEN)}
    if gait.place in ("rising", "falling"):
        lift = a.keys[:, None, 0] - b.keys[None, :, 0]
        if gait.place == "rising":
            lift = -lift
        return {"register": np.where(lift < 3, FORBIDDEN, 0)
                + WEIGHTS["leap"] * np.maximum(lift - 9, 0)}
    still = WEIGHTS["standing top"] if gait.strict else 0
    costs = {"voice leading": _voice_leading_cost(moved),
             "top line": WEIGHTS["leap"] * np.maximum(top - 4, 0) + still * (top == 0)}
    if gait.motion == "inversions" and same:
        bottom = np.abs(a.keys[:, None, -1] - b.keys[None, :, -1])
        costs["inversions"] = np.where((bottom == 0) | (top == 0), 4, 0)
        costs["voice leading"] = WEIGHTS["voice leading"] * moved // 4
    again = WEIGHTS["same chord again"] // (1 if gait.strict else 3)
    costs["says less"] = _says_less(a, b)
    if gait.slow:
        again += WEIGHTS["struck while held"]
        if same:  # the other inversion, another register
            costs["voice leading"] = WEIGHTS["voice leading"] * moved // 2
    costs["same chord again"] = again * (moved == 0)
    return costs


def _in_thirds(states: States) -> npt.NDArray[np.bool_]:
    """Which states are two keys a third or a sixth apart."""
    pair: npt.NDArray[np.bool_] = (states.counts == 2) & np.isin(
        states.keys[:, 0] - states.keys[:, 1], (3, 4, 8, 9))
    return pair


def search(context: Task, texture: Texture, plan: Plan) -> Found | None:
    """The cheapest voicings for a plan, or None where some stroke has none."""
    left = _search_left(context, texture, plan)
    if left is None:
        return None
    if not plan.right:
        return Found(left[0], (), left[1])
    right = _search_right(context, texture, plan, left[0])
    if right is None:
        return None
    costs = dict(left[1])
    for name, value in right[1]:
        costs[name] = costs.get(name, 0) + value
    return Found(left[0], right[0], tuple(sorted(costs.items())))


def _held_at(context: Task, plan: Plan, stroke: Stroke) -> int:
    if context.held_midi is None:
        return NO_HELD
    sounds = context.onset_quarter + stroke.onset_quarter < plan.held.until_quarter
    return context.held_midi if sounds else NO_HELD


def _search_left(context: Task, texture: Texture, plan: Plan
                 ) -> tuple[tuple[Voicing, ...], tuple[tuple[str, int], ...]] | None:
    """The left hand's voicings. The chords between roots and the roots are two voices: each has
    its own lattice, and the roots are looked for under the chords that were found."""
    chords = [i for i, s in enumerate(plan.left) if s.family in _CHORD_FAMILIES]
    others = [i for i in range(len(plan.left)) if i not in chords]
    chosen: dict[int, Voicing] = {}
    costs: dict[str, int] = {}
    for places in (chords, others):
        if not places:
            continue
        above = {plan.left[i].onset_quarter: voicing for i, voicing in chosen.items()}
        found = _search_voice(context, texture, plan, [plan.left[i] for i in places], above)
        if found is None:
            return None
        chosen.update(zip(places, found[0], strict=True))
        for name, value in found[1]:
            costs[name] = costs.get(name, 0) + value
    return tuple(chosen[i] for i in range(len(plan.left))), tuple(costs.items())


def _under(harmony: Harmony, held: int) -> Harmony:
    return under_its_root(harmony, None if held == NO_HELD else held)


def _under_chords(context: Task, stroke: Stroke, states: States,
                  above: dict[Fraction, Voicing]) -> Costs:
    """A root lies below the chord that follows it, no further than the hand goes in the time."""
    onset = min((o for o in above if o > stroke.onset_quarter), default=None)
    if onset is None:
        return {}
    chord = above[onset].midis
    roots = states.keys[:, -1]
    leap = (chord[0] + chord[-1]) // 2 - roots
    quick = onset - stroke.onset_quarter <= context.beat_quarter
    far = quick & (leap > context.player.level.comp.stride)
    barred: npt.NDArray[np.int64] = ((roots >= chord[0]) | far).astype(np.int64)
    return {"stride": FORBIDDEN * barred}


def _search_voice(context: Task, texture: Texture, plan: Plan, strokes: list[Stroke],
                  above: dict[Fraction, Voicing]
                  ) -> tuple[tuple[Voicing, ...], tuple[tuple[str, int], ...]] | None:
    """The voicings of one voice of the left hand.

    above   the chords found before, by onset, when the roots are looked for
    """
    chords = strokes[0].family in _CHORD_FAMILIES
    level, lift, landing = context.player.level, 0, context.landing_harmony
    if plan.right and not plan.both:
        lift = min(max(_room(context, texture, 0, 2)[2] - 61, 0), 12)
    layers: list[States] = []
    for stroke in strokes:
        held = _held_at(context, plan, stroke)
        family = stroke.family
        alone = stroke.alone or (texture.mode in ("stride", "time") and chords)
        # the tempo leaves time to roll; a tenth is rolled by anyone
        roll = bool(stroke.breaks) or (context.is_ballad and (
            level.comp.rolls or family in ("tenth", "broken tenth")))
        states = left_states(_under(stroke.harmony, held), family, level,
                             context.hand_size, held, alone, lift, roll)
        if states is not None and texture.line is not None:
            states = sparing(states, texture.line.degrees)
        if states is None:
            return None
        layers.append(states)
    local: list[Costs] = []
    for states, stroke in zip(layers, strokes, strict=True):
        terms = dict(states.costs)
        terms.update(_left_costs(context, plan, stroke, states, chords or stroke.alone))
        terms.update(_under_chords(context, stroke, states, above))
        local.append(terms)

    def step(a: States, b: States) -> Costs:
        if texture.mode == "bass":
            return _bass_steps(a, b)
        return _left_steps(a, b, chords and level.comp.strict, context.is_ballad)

    if plan.rhythm.last_step and landing is not None:
        goal = (landing.symbol.bass or landing.root).pitch_class
        away = (layers[-1].keys[:, -1] - goal) % 12
        local[-1] = {**local[-1], "last step": np.where(np.isin(away, (1, 2, 10, 11)), 0,
                                                        FORBIDDEN)}
    if landing is not None and not strokes[-1].over:
        # the chord that the base texture is likely to have at the landing
        after = left_states(landing, strokes[-1].family, level, context.hand_size, NO_HELD,
                            False, lift)
        if after is not None:
            layers.append(after)
            local.append({})
    first = 0
    before = context.previous_harmony
    if before is not None and before != strokes[0].harmony and not chords:
        ahead = left_states(before, "two-note shell", level, context.hand_size, NO_HELD,
                            False, 0)
        if ahead is not None:
            layers.insert(0, ahead)
            local.insert(0, {})
            first = 1
    steps = [step(a, b) for a, b in pairwise(layers)]
    if first and texture.mode == "bass":
        steps[0] = _left_steps(layers[0], layers[1], False, False)
    for place, (one, two) in enumerate(pairwise(strokes), start=first):
        steps[place] = _leading_on(steps[place], layers[place], layers[place + 1],
                                   one.harmony == two.harmony)
    paths = k_best_paths([len(layer) for layer in layers], local, steps, 1)
    if not paths:
        return None
    found = paths[0].states[first:first + len(strokes)]
    return tuple(layers[i + first].voicings[s] for i, s in enumerate(found)), paths[0].costs


def _left_costs(context: Task, plan: Plan, stroke: Stroke, states: States, tells: bool
                ) -> Costs:
    """What depends on the melody above: a hole under it while nothing else sounds, and the
    landing's own key still down when it comes."""
    found: dict[str, npt.NDArray[np.int64]] = {}
    held = _held_at(context, plan, stroke)
    if held != NO_HELD and (tells or _alone_quarter(plan, stroke) > context.beat_quarter):
        # the second key of a broken chord comes within a beat and leads up
        space = held - states.keys[:, 1 if stroke.breaks else 0]
        found["hole"] = np.where(space > HOLE.WIDEST_INSIDE, FORBIDDEN,
                                 WEIGHTS["hole"] * np.maximum(space - 19, 0))
    elif held != NO_HELD and plan.walks:  # the right hand lies between, near the melody
        space = held - UNDER_THE_MELODY - states.keys[:, 0]
        found["hole"] = WEIGHTS["hole"] * np.maximum(space - 14, 0)
    found.update(_landing_key(context, stroke, states))
    return found


def _alone_quarter(plan: Plan, stroke: Stroke) -> Fraction:
    """The longest stretch in which a left-hand stroke is all there is under the held note."""
    stop = min(stroke.end_quarter, plan.held.until_quarter)
    place, longest = stroke.onset_quarter, Fraction(0)
    for other in plan.right if plan.held.kept != "pedal" else ():
        if other.end_quarter > place and other.onset_quarter < stop:
            longest = max(longest, other.onset_quarter - place)
            place = other.end_quarter
    return max(longest, stop - place)


def _landing_key(context: Task, stroke: Stroke, states: States) -> Costs:
    """The landing's own key is free when it comes: a stroke that lasts up to it pays."""
    landing = context.landing_midi
    if landing is None or stroke.end_quarter < context.duration_quarter:
        return {}
    short = stroke.end_quarter - stroke.onset_quarter <= context.beat_quarter / 2
    price = FORBIDDEN if short else WEIGHTS["landing key"]
    return {"landing key": price * (states.keys == landing).any(axis=1).astype(np.int64)}


def _stroke_costs(context: Task, stroke: Stroke, states: States) -> Costs:
    """What a stroke of the right hand pays for the melody around it."""
    costs: dict[str, npt.NDArray[np.int64]] = {**_landing_key(context, stroke, states)}
    if stroke.top:
        costs["echo"] = np.where(states.keys[:, 0] != stroke.top, FORBIDDEN, 0)
    return costs


def _opening_costs(context: Task, texture: Texture, plan: Plan, stroke: Stroke, states: States
                   ) -> Costs:
    """What the right hand's first stroke pays for leaving the held note."""
    costs: dict[str, npt.NDArray[np.int64]] = {}
    held = context.held_midi
    if held is None or plan.held.kept != "released":
        return costs
    if texture.place == "middle":
        leap = np.maximum(np.abs(states.keys[:, 0] - held) - 7, 0)
        costs["from the melody"] = (WEIGHTS["from the melody"] * leap).astype(np.int64)
    if _lets_go(context, plan, stroke):
        costs["let go without need"] = WEIGHTS["let go without need"] * keepable(
            states, held, _under(stroke.harmony, NO_HELD), context.hand_size)
    if _held_at(context, plan, stroke) == NO_HELD:
        again = (states.keys == held).any(axis=1)
        costs["struck through"] = np.where(again, WEIGHTS["struck through"], 0)
    return costs


def _handed_over(plan: Plan, left: Sequence[Voicing], stroke: Stroke, states: States) -> Costs:
    """A key that the left hand lets go at the moment when the right hand strikes, or strikes
    when the right hand lets go, is not the right hand's."""
    taken = {key for other, voicing in zip(plan.left, left, strict=True) for key in voicing.midis
             if other.end_quarter == stroke.onset_quarter
             or other.onset_quarter == stroke.end_quarter}
    if not taken:
        return {}
    meets = np.isin(states.keys, sorted(taken)).any(axis=1)
    return {"handed over": np.where(meets, FORBIDDEN, 0)}


def _sounding(plan: Plan, left: Sequence[Voicing], stroke: Stroke
              ) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """Left-hand keys down during a stroke of the right hand, and the degrees of those down
    when it begins, over its chord; under a bass that walks on, of those that stay."""
    keys: set[int] = set()
    degrees: list[str] = []
    for other, voicing in zip(plan.left, left, strict=True):
        if (other.onset_quarter < stroke.end_quarter
                and stroke.onset_quarter < other.end_quarter):
            keys |= set(voicing.midis)
            stays = not plan.walks or other.end_quarter >= stroke.end_quarter
            if stays and other.harmony == stroke.harmony and (
                    other.onset_quarter <= stroke.onset_quarter):
                degrees += voicing.degrees
    return tuple(sorted(keys)), tuple(degrees)


def _search_right(context: Task, texture: Texture, plan: Plan, left: Sequence[Voicing]
                  ) -> tuple[tuple[Voicing, ...], tuple[tuple[str, int], ...]] | None:
    level = context.player.level
    layers: list[States] = []
    local: list[dict[str, npt.NDArray[np.int64]]] = []
    strokes = [s for s in plan.right if not s.is_led]
    for order, stroke in enumerate(strokes):
        low, top, aim = _room(context, texture, order, len(strokes))
        if stroke.top:
            low, top, aim = stroke.top - 13, stroke.top, stroke.top - 5
        held = _held_at(context, plan, stroke)
        harmony = _under(stroke.harmony, held)
        keys, degrees = _sounding(plan, left, stroke)
        if stroke.degree and texture.line is not None:
            states = moving_states(harmony, stroke.degree, texture.line, texture.voices,
                                   context.player, keys, degrees, held, (low, top, aim))
        elif plan.both:
            states = both_states(harmony, texture, level, context.hand_size, held, aim)
        else:
            finger = plan.held.kept == "finger" and held != NO_HELD
            part = texture.at(Fraction(order, len(strokes)))
            states = right_states(harmony, part, level, context.hand_size, keys, degrees,
                                  held, aim, low, top, finger)
        if states is None:
            return None
        costs = dict(states.costs)
        costs.update(_stroke_costs(context, stroke, states))
        costs.update(_handed_over(plan, left, stroke, states))
        if plan.both:
            close = (states.keys[:, :, None] - np.array(keys or (0,))[None, None, :] == 1)
            costs["half step over the bass"] = np.where(close.any(axis=(1, 2)), FORBIDDEN, 0)
        if stroke is strokes[0]:
            costs.update(_opening_costs(context, texture, plan, stroke, states))
        if stroke is strokes[-1] and context.landing_midi is not None:
            early = states.keys[:, 0] == context.landing_midi
            costs["given away"] = np.where(early, WEIGHTS["given away"], 0)
        layers.append(states)
        local.append(costs)
    gait = _Gait(texture.motion, texture.place, texture.line is not None, level.comp.strict,
                 context.is_ballad)
    steps = [_leading_on(_right_steps(a, b, gait, one.harmony == two.harmony),
                         a, b, one.harmony == two.harmony)
             for (a, one), (b, two) in pairwise(zip(layers, strokes, strict=True))]
    if context.landing_midi is not None:
        local[-1]["landing"] = WEIGHTS["landing"] * np.maximum(
            np.abs(layers[-1].keys[:, 0] - context.landing_midi) - 5, 0)
    paths = k_best_paths([len(layer) for layer in layers], local, steps, 1)
    if not paths:
        return None
    found = [layers[i].voicings[s] for i, s in enumerate(paths[0].states)]
    if len(strokes) == len(plan.right):
        return tuple(found), paths[0].costs
    led = with_led(plan.right, found, lambda stroke: (
        _sounding(plan, left, stroke)[0], _held_at(context, plan, stroke)))
    return None if led is None else (led, paths[0].costs)


def _lets_go(context: Task, plan: Plan, stroke: Stroke) -> bool:
    """Does the right hand leave the held note for this stroke while it should still sound?"""
    held = context.held
    return (held is not None and not stroke.top
            and plan.held.until_quarter <= stroke.onset_quarter
            and stroke.onset_quarter < held.end_quarter)


def _room(context: Task, texture: Texture, order: int, count: int
          ) -> tuple[int, int, int]:
    """Lowest and highest key of the right hand at a stroke, and where its middle should be.

    order, count   which stroke of how many, for textures that change the register
    """
    held = context.held_midi
    around = held if held is not None else context.landing_midi
    if around is None:
        around = 69
    if texture.place == "low":
        return 50, 67, 57
    if texture.place == "bell" and held is not None:
        return held + 5, min(held + 19, 98), held + 11
    if texture.place == "above" and held is not None:
        return held + 2, min(held + 22, 96), held + 8
    if texture.place in ("rising", "falling"):
        part = order / max(count - 1, 1)
        if texture.place == "falling":
            part = 1 - part
        peak = min(max(around + 9, 74), 84)
        return 52, 94, int(58 + (peak - 58) * part)
    if texture.place == "under" and held is not None:
        return held - 16, held - 2, held - 7
    if texture.place == "top":
        low = max(67, around - 2)
        return low, min(low + 22, 96), min(max(around + 10, 76), 86)
    return 52, 76, min(max(around - 6, 60), 66)
