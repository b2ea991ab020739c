"""Which keys the left hand takes.

The chords between roots and the roots are two voices, each with its own lattice; a bass that
walks is a line of its own (`walk`).
"""

from __future__ import annotations

from itertools import pairwise
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.ideas import LEAST_STRIDE
from fillwright.fills.devices.comp.lefts import Asked, left_states
from fillwright.fills.devices.comp.rights import room_of
from fillwright.fills.devices.comp.setting import is_strong
from fillwright.fills.devices.comp.states import NO_HELD, WEIGHTS, States, rubs, sparing
from fillwright.fills.devices.comp.steps import guides_leap, leading_on, left_steps
from fillwright.fills.devices.comp.strokes import PlannedStroke, StrokePlan
from fillwright.fills.devices.comp.tenor import tenor_goes_on, tenor_states
from fillwright.fills.devices.comp.texture import Texture
from fillwright.fills.devices.comp.times import WALKING
from fillwright.fills.devices.comp.walk import Step, Walk, bass_line, with_tenths
from fillwright.fills.situation import Task
from fillwright.fills.voicing.voicings import Voicing
from fillwright.lattice import FORBIDDEN, Costs, k_best_paths
from fillwright.rules.harmony import under_its_root
from fillwright.rules.sound import HOLE
from fillwright.theory.harmony import Harmony

__all__ = ["AT_EASE_SEC", "Rows", "heard_under", "held_at", "is_lent", "landing_key", "search_left",
           "sung_at"]

AT_EASE_SEC = 0.42
"""In less than this from a root to the chord above it the hand does not go as far (common practice:
a beat of a stride at 143)."""

_CHORD_FAMILIES = ("rootless", "three-note rootless", "guides")

_SHELLS = frozenset(("shell", "two-note shell"))

_AT_THE_END = -7
"""Semitones by which the left hand's last stroke lies lower where a tune ends (common practice:
the end has a low root)."""

_UNDER_THE_MELODY = 8
"""Semitones below the held note that a walking bass leaves to the right hand."""

_HIGHEST_BASS = 57
"""A bass goes up to A3 (common practice)."""

Rows: TypeAlias = tuple[tuple[Voicing, ...], tuple[tuple[str, int], ...]]
"""The voicings of one hand, and what they cost by term."""


def held_at(task: Task, plan: StrokePlan, stroke: PlannedStroke) -> int:
    if task.held_midi is None:
        return NO_HELD
    return task.held_midi if stroke.onset_quarter < plan.held.until_quarter else NO_HELD


def sung_at(task: Task, plan: StrokePlan, stroke: PlannedStroke) -> int:
    """The melody note that a stroke has to go with: the held one, to which what is struck after it
    comes back where the tune ends."""
    last = task.last_midi
    return last if last is not None else held_at(task, plan, stroke)


def is_lent(task: Task, plan: StrokePlan, stroke: PlannedStroke) -> bool:
    """Does the held note end a beat or more before this stroke does, or at the landing whose chord
    this stroke takes? Then it tells nothing of the chord: what rings on has to."""
    return stroke.over or (
        stroke.end_quarter - plan.held.until_quarter >= task.beat_quarter)


def search_left(task: Task, texture: Texture, plan: StrokePlan) -> Rows | None:
    """The left hand's voicings, and what they cost by term. The chords between roots are found
    first, and the roots are looked for under them."""
    if plan.walks and texture.line is None:
        return _search_walk(task, texture, plan)
    chords = [i for i, s in enumerate(plan.left) if s.family in _CHORD_FAMILIES]
    others = [i for i in range(len(plan.left)) if i not in chords]
    chosen: dict[int, Voicing] = {}
    costs: dict[str, int] = {}
    for places in (chords, others):
        if not places:
            continue
        above = {plan.left[i].onset_quarter: voicing for i, voicing in chosen.items()}
        found = _search_voice(task, texture, plan, [plan.left[i] for i in places], above)
        if found is None:
            return None
        chosen.update(zip(places, found[0], strict=True))
        for name, value in found[1]:
            costs[name] = costs.get(name, 0) + value
    return tuple(chosen[i] for i in range(len(plan.left))), tuple(costs.items())


def _search_walk(task: Task, texture: Texture, plan: StrokePlan) -> Rows | None:
    """A line of the bass, with tenths over it where the texture is made of them."""
    landing = task.landing_harmony
    steps: list[Step] = []
    for place, stroke in enumerate(plan.left):
        held = held_at(task, plan, stroke)
        harmony = heard_under(stroke.harmony, held)
        begins = place == 0 or stroke.harmony != plan.left[place - 1].harmony
        strong = is_strong(task, stroke.onset_quarter)
        steps.append(Step(harmony, begins, strong, held))
    ceiling = _HIGHEST_BASS if task.held_midi is None else min(
        _HIGHEST_BASS, task.held_midi - _UNDER_THE_MELODY)
    last = plan.left[-1]
    arrives = last.harmony == landing and (
        last.end_quarter - last.onset_quarter < task.beat_quarter)
    # a landing off the beat comes after its bass, which is struck on the beat
    goal = None if landing is None or arrives else landing.symbol.bass or landing.root
    walk = Walk(tuple(steps), goal, plan.rhythm.name == WALKING, plan.rhythm.last_step, ceiling)
    found = bass_line(walk)
    if found is None or texture.left != "walk tenth":
        return found
    roll = task.is_ballad
    return with_tenths(walk, found[0], task.hand_size, roll=roll), found[1]


def heard_under(harmony: Harmony, held: int) -> Harmony:
    return under_its_root(harmony, None if held == NO_HELD else held)


def _under_chords(task: Task, texture: Texture, stroke: PlannedStroke, states: States,
                  above: dict[Fraction, Voicing]) -> Costs:
    """A root lies below the chord that follows it, in a stride well below, no further than the hand
    goes in the time."""
    onset = min((o for o in above if o > stroke.onset_quarter), default=None)
    if onset is None:
        return {}
    chord = above[onset].midis
    roots = states.keys[:, -1]
    leap = (chord[0] + chord[-1]) // 2 - roots
    space = onset - stroke.onset_quarter
    part = min(task.seconds(space) / AT_EASE_SEC, 1.0)
    far = (space <= task.beat_quarter) & (leap > task.player.level.comp.stride * part)
    least = LEAST_STRIDE if texture.mode == "time" else 1
    barred: npt.NDArray[np.int64] = ((chord[0] - roots < least) | far).astype(np.int64)
    return {"stride": FORBIDDEN * barred}


def _search_voice(task: Task, texture: Texture, plan: StrokePlan, strokes: list[PlannedStroke],
                  above: dict[Fraction, Voicing]) -> Rows | None:
    """The voicings of one voice of the left hand.

    above   the chords found before, by onset, when the roots are looked for
    """
    chords = strokes[0].family in _CHORD_FAMILIES
    lift = 0
    if plan.right and not plan.both:
        lift = min(max(room_of(task, texture, 0, 2).aim - 61, 0), 12)
    layers: list[States] = []
    for stroke in strokes:
        last = task.landing is None and stroke is strokes[-1] and (
            texture.line is None or not texture.line.along)  # what comes home has a bass near by
        states = _states(task, texture, plan, stroke, _AT_THE_END if last else lift)
        if states is None:
            return None
        layers.append(states)
    local: list[Costs] = [
        {**states.costs, **_left_costs(task, plan, stroke, states, chords or stroke.alone),
         **_under_chords(task, texture, stroke, states, above)}
        for states, stroke in zip(layers, strokes, strict=True)]
    ahead, after = _neighbours(task, strokes, lift, chords=chords)
    whole = [*ahead, *layers, *after]
    local = [*({} for _ in ahead), *local, *({} for _ in after)]
    first = len(ahead)
    strict = chords and task.player.level.comp.strict
    steps = [left_steps(a, b, strict, task.is_ballad) for a, b in pairwise(whole)]
    for place, (one, two) in enumerate(pairwise(strokes), start=first):
        a, b = whole[place], whole[place + 1]
        same = one.harmony == two.harmony
        if same and one.degree and two.degree:
            steps[place] = tenor_goes_on(a, b)
            continue
        steps[place] = leading_on(steps[place], a, b, same)
        if not same and {one.family, two.family} <= _SHELLS:
            steps[place] = {**steps[place], "guides leap": guides_leap(a, b)}
    paths = k_best_paths([len(layer) for layer in whole], local, steps, 1)
    if not paths:
        return None
    found = paths[0].states[first:first + len(strokes)]
    return tuple(layer.voicings[s] for layer, s in zip(layers, found, strict=True)), paths[0].costs


def _states(task: Task, texture: Texture, plan: StrokePlan, stroke: PlannedStroke, lift: int
            ) -> States | None:
    """What the left hand may strike here."""
    family, held = stroke.family, held_at(task, plan, stroke)
    alone = stroke.alone or (texture.mode in ("stride", "time") and family in _CHORD_FAMILIES)
    # the tempo leaves time to roll; a tenth is rolled by anyone
    roll = bool(stroke.breaks) or (task.is_ballad and (
        task.player.level.comp.rolls or family in ("tenth", "broken tenth")))
    harmony = heard_under(stroke.harmony, sung_at(task, plan, stroke))
    if family == "tenor":
        return tenor_states(harmony, stroke.degree, task.player, held)
    states = left_states(harmony, task.player,
                         Asked(family, held, alone, lift, roll, is_lent(task, plan, stroke),
                               stroke.pedal))
    if states is None or texture.line is None or texture.mode == "tenor":
        return states
    return sparing(states, texture.line.degrees)


def _neighbours(task: Task, strokes: list[PlannedStroke], lift: int, *, chords: bool
                ) -> tuple[list[States], list[States]]:
    """What the left hand had before the gap, and what the base texture is likely to have at the
    landing; nothing where that does not bear on the fill."""
    before, landing = task.previous_harmony, task.landing_harmony
    ahead = after = None
    if landing is not None and not strokes[-1].over:
        family = "two-note shell" if strokes[-1].degree else strokes[-1].family
        after = left_states(landing, task.player, Asked(family, lift=lift))
    if before is not None and before != strokes[0].harmony and not chords:
        ahead = left_states(before, task.player, Asked("two-note shell"))
    return [] if ahead is None else [ahead], [] if after is None else [after]


def _left_costs(task: Task, plan: StrokePlan, stroke: PlannedStroke, states: States, tells: bool
                ) -> Costs:
    """What depends on the melody above: a hole under it while nothing else sounds, the landing's
    own key still down when it comes, and keys above it."""
    found: dict[str, npt.NDArray[np.int64]] = {}
    held = held_at(task, plan, stroke)
    if held != NO_HELD and (tells or _alone_quarter(plan, stroke) > task.beat_quarter):
        # the second key of a broken chord comes within a beat and leads up
        space = held - states.keys[:, 1 if stroke.breaks else 0]
        found["hole"] = np.where(space > HOLE.WIDEST_INSIDE, FORBIDDEN,
                                 WEIGHTS["hole"] * np.maximum(space - 19, 0))
    if stroke.over and stroke.harmony.third is not None and all(
            other.onset_quarter != stroke.onset_quarter for other in plan.right):
        third = stroke.harmony.symbol.name_of(stroke.harmony.third).pitch_class
        bare = (states.keys % 12 != third).all(axis=1)
        found["no third"] = np.where(bare, FORBIDDEN, 0)
    found.update(landing_key(task, stroke, states))
    landing = task.landing_midi
    if landing is not None and stroke.end_quarter >= task.duration_quarter:
        found["over the landing"] = np.where(
            states.keys[:, 0] > landing, WEIGHTS["over the landing"], 0)
    return found


def _alone_quarter(plan: StrokePlan, stroke: PlannedStroke) -> Fraction:
    """The longest stretch in which such strokes of the left hand are all there is under the held
    note, and this one sounds: one that is struck again in the middle does not fill it."""
    alike = [other.family == stroke.family for other in plan.left]
    here = plan.left.index(stroke)
    first = next((i for i in range(here, 0, -1) if not alike[i - 1]), 0)
    last = next((i for i in range(here, len(alike) - 1) if not alike[i + 1]), len(alike) - 1)
    stop = min(plan.left[last].end_quarter, plan.held.until_quarter)
    end, place, longest = stroke.end_quarter, plan.left[first].onset_quarter, Fraction(0)
    right = plan.right if plan.held.kept != "pedal" else ()
    for onset, after in (*((o.onset_quarter, o.end_quarter) for o in right), (stop, stop)):
        if place < end and stroke.onset_quarter < min(onset, stop):
            longest = max(longest, min(onset, stop) - place)
        place = max(place, after)
    return longest


def landing_key(task: Task, stroke: PlannedStroke, states: States) -> Costs:
    """The landing's own key is free when it comes: a stroke that lasts up to it pays. What takes
    the landing's chord early rings into it and does not rub it."""
    landing = task.landing_midi
    if landing is None or stroke.end_quarter < task.duration_quarter:
        return {}
    short = stroke.end_quarter - stroke.onset_quarter <= task.beat_quarter / 2
    price = FORBIDDEN if short else WEIGHTS["landing key"]
    costs: dict[str, npt.NDArray[np.int64]] = {
        "landing key": price * (states.keys == landing).any(axis=1).astype(np.int64)}
    if stroke.over:
        bad = [key for key in range(128) if key != landing
               and rubs((key,), landing, stroke.harmony)]
        costs["rubs the landing"] = np.where(np.isin(states.keys, bad).any(axis=1), FORBIDDEN, 0)
    return costs
