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

import numpy as np
import numpy.typing as npt

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.states import (
    NO_HELD,
    WEIGHTS,
    WIDEST_HOLE,
    States,
    both_states,
    keepable,
    left_states,
    moving_states,
    right_states,
)
from fillwright.fills.devices.comp.strokes import Plan, Stroke
from fillwright.fills.devices.comp.textures import Texture
from fillwright.fills.player import Level
from fillwright.fills.situation import Task
from fillwright.fills.voicing.voicings import Voicing, half_step_off
from fillwright.lattice import FORBIDDEN, Costs, k_best_paths
from fillwright.memory import SEARCHES
from fillwright.rules.harmony import under_its_root
from fillwright.rules.sound import MINOR_NINTH, RUB
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


@SEARCHES.keep
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


def _left_steps(a: States, b: States, chords: bool, slow: bool) -> Costs:
    """From stroke to stroke of the left hand; `chords` where it plays rootless chords."""
    moved = _moved(a, b).sum(axis=2)
    again = (moved == 0) & (a.counts > 1)[:, None]
    held = WEIGHTS["struck while held"] * slow
    if chords:
        return {"voice leading": _voice_leading_cost(moved),
                "same chord again": (WEIGHTS["same chord again"] + held) * again}
    return {"bass line": WEIGHTS["bass line"] * (moved // 4), "same chord again": held * again}


def _voice_leading_cost(moved: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Half a point a semitone, dear beyond six in all: that is what the worked II-V-I forms
    move at most (Levine ch. 7; counted)."""
    cost: npt.NDArray[np.int64] = moved // 2 + 8 * np.maximum(moved - 6, 0)
    return WEIGHTS["voice leading"] * cost


def _bass_steps(a: States, b: States) -> Costs:
    """From bass note to bass note of a walking left hand."""
    leap = np.abs(a.keys[:, None, -1] - b.keys[None, :, -1])
    price = np.array(_BASS_LEAP + (9,) * 40, dtype=np.int64)
    same_kind = np.array([[x.kind == y.kind and x.kind != "bass note" for y in b.voicings]
                          for x in a.voicings])
    return {"bass line": price[leap] + 2 * same_kind}


def _right_steps(a: States, b: States, texture: Texture, level: Level, same: bool, slow: bool
                 ) -> Costs:
    """From hit to hit of the right hand (of both in "both"); `same` where the chord stays."""
    each = _moved(a, b)
    moved = each.sum(axis=2)
    top = each[:, :, 0]
    if texture.motion == "planed":
        shifts = b.keys[None, :, :] - a.keys[:, None, :]
        parallel = (each.max(axis=2) <= 3) & ((shifts > 0).all(axis=2) | (shifts < 0).all(axis=2))
        return {"planed": np.where(parallel, moved // 3, FORBIDDEN)}
    if (texture.motion == "inner" or texture.line is not None) and same:
        allowed = (((each > 0).sum(axis=2) == 1) & (moved <= 2)
                   & (a.counts[:, None] == b.counts[None, :]))
        return {"inner line": np.where(allowed, 2 * (top > 0) + (moved - 1), FORBIDDEN)}
    if texture.place in ("rising", "falling"):
        lift = a.keys[:, None, 0] - b.keys[None, :, 0]
        if texture.place == "rising":
            lift = -lift
        return {"register": np.where(lift < 3, FORBIDDEN, 0)
                + WEIGHTS["leap"] * np.maximum(lift - 9, 0)}
    still = WEIGHTS["standing top"] if level.comp.strict else 0
    costs = {"voice leading": _voice_leading_cost(moved),
             "top line": WEIGHTS["leap"] * np.maximum(top - 4, 0) + still * (top == 0)}
    if texture.motion == "inversions" and same:
        bottom = np.abs(a.keys[:, None, -1] - b.keys[None, :, -1])
        costs["inversions"] = np.where((bottom == 0) | (top == 0), 4, 0)
        costs["voice leading"] = WEIGHTS["voice leading"] * moved // 4
    again = WEIGHTS["same chord again"] if level.comp.strict else 0
    if slow:
        again += WEIGHTS["struck while held"]
        if same:  # the other inversion, another register
            costs["voice leading"] = WEIGHTS["voice leading"] * moved // 2
    costs["same chord again"] = again * (moved == 0)
    return costs


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
            states = states.sparing(texture.line.degrees)
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
        found["hole"] = np.where(space >= WIDEST_HOLE, FORBIDDEN,
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
    strokes = [s for s in plan.right if not s.slides]
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
        costs.update(_landing_key(context, stroke, states))
        if plan.both:
            close = (states.keys[:, :, None] - np.array(keys or (0,))[None, None, :] == 1)
            costs["half step over the bass"] = FORBIDDEN * close.any(axis=(1, 2)).astype(np.int64)
        if stroke.top:
            costs["echo"] = FORBIDDEN * (states.keys[:, 0] != stroke.top).astype(np.int64)
        if _lets_go(context, plan, stroke, order):
            costs["let go without need"] = WEIGHTS["let go without need"] * keepable(
                states, context.held_midi or 0, harmony, context.hand_size)
        if plan.held.kept == "released" and context.held_midi is not None and order == 0 and (
                texture.place == "middle"):
            leap = np.maximum(np.abs(states.keys[:, 0] - context.held_midi) - 7, 0)
            costs["from the melody"] = (WEIGHTS["from the melody"] * leap).astype(np.int64)
        costs.update(_handed_over(plan, left, stroke, states))
        if held == NO_HELD and context.held_midi is not None and order == 0:
            again = (states.keys == context.held_midi).any(axis=1)
            costs["struck through"] = WEIGHTS["struck through"] * again.astype(np.int64)
        layers.append(states)
        local.append(costs)
    steps = [_leading_on(_right_steps(a, b, texture, level,
                                      one.harmony == two.harmony, context.is_ballad),
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
    slid = _with_slides(context, plan, left, found)
    return None if slid is None else (slid, paths[0].costs)


def _with_slides(context: Task, plan: Plan, left: Sequence[Voicing], found: list[Voicing]
                 ) -> tuple[Voicing, ...] | None:
    """The voicings with those that slide into the next one, from below or else from above."""
    done: list[Voicing] = []
    rest = iter(found)
    for stroke in plan.right:
        if not stroke.slides:
            done.append(next(rest))
            continue
        goal = found[len(done)]
        keys, _ = _sounding(plan, left, stroke)
        held = _held_at(context, plan, stroke)
        approach = next((v for v in (half_step_off(goal, way) for way in (-1, 1))
                         if v.midis[0] > max(keys, default=0)
                         and not any(MINOR_NINTH.breaks(k, m) or m - k == 1
                                     for k in keys for m in v.midis)
                         and (held == NO_HELD or not any(
                             RUB.breaks(m, held) or m >= held for m in v.midis))), None)
        if approach is None:
            return None
        done.append(approach)
    return tuple(done)


def _lets_go(context: Task, plan: Plan, stroke: Stroke, order: int) -> bool:
    """Does the right hand leave the held note for this stroke while it should still sound?"""
    held = context.held
    return (held is not None and order == 0 and not stroke.top and plan.held.kept == "released"
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
