"""Which keys: voicings for the strokes of a plan, found on the lattice.

The left hand is searched first, the right hand over what the left hand sounds; each stroke
is a layer, each playable voicing a state. Local costs say what a voicing is worth over its
chord at the level, under the held note and over the left hand; step costs are semitones of
voice leading and the shape of the top line. A last layer stands for the landing, so that
the fill leads into it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from fillwright.fills.comp_plan import Plan, Stroke
from fillwright.fills.comp_textures import LEFT_KINDS, RIGHT_KINDS, Texture
from fillwright.fills.context import GapContext
from fillwright.fills.voicing import (
    Voicing,
    form_voicings,
    holds_guides,
    left_hand_voicings,
    right_hand_voicings,
    two_hand_voicings,
)
from fillwright.fills.voicing_forms import (
    Form,
    bass_degree,
    colours,
    compatible,
    required_degrees,
)
from fillwright.hands.chords import finger_chord, finger_rolled
from fillwright.hands.clash import minor_ninth, mud, mud_cost, rub
from fillwright.hands.reach import rolled_span_ok
from fillwright.lattice import FORBIDDEN, Costs, k_best_paths
from fillwright.theory.chord import degree_number, degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["WEIGHTS", "Found", "flat_nine_root", "played", "search"]

WEIGHTS = MappingProxyType({
    # term: integer cost per unit; design choices within common practice unless said
    "left register": 1,     # semitone of the left hand's bottom outside its room
    "right register": 1,    # two semitones of the right hand's middle off its aim
    "voice leading": 1,     # semitone moved in all (Levine ch. 7: forms that move least)
    "bass line": 1,         # a third of the left hand's movement
    "leap": 2,              # semitone of the top line beyond a third
    "standing top": 3,      # the same top note again, above beginner
    "same chord again": 3,  # exactly the same keys again, above beginner
    "missing colour": 8,    # a degree the symbol names and nobody plays
    "plain": 3,             # no colour above beginner
    "guides": 40,           # a third or a seventh that nobody plays
    "thin": 8,              # a chord told by root and one guide tone, where no more fits
    "doubled": 2,           # a tone both hands have
    "melody doubled": 2,    # the held note's tone again below it while it sounds
    "under the melody": 2,  # semitone nearer than a minor third to the held note
    "struck through": 4,    # the melody note struck again when the hand has left it
    "hole": 2,              # semitone beyond a tenth between the hands
    "low intervals": 2,     # semitone below the strict low interval limits
    "second inside": 1,     # a half step inside a right-hand voicing
    "landing": 1,           # semitone of the top voice beyond a fourth from the landing note
})

_NO_HELD = -1
# A bass line steps, or goes by fourths and fifths; semitones 0, 1, 2 ... (common practice)
_BASS_LEAP = (6, 0, 0, 1, 1, 1, 5, 1, 3, 3, 5, 6, 2)
_CHORD_FAMILIES = ("rootless", "three-note rootless", "guides")


@dataclass(frozen=True, slots=True)
class Found:
    """Voicings for the strokes of a plan, and what they cost by term."""

    left: tuple[Voicing, ...]
    right: tuple[Voicing, ...]
    costs: tuple[tuple[str, int], ...]


def flat_nine_root(harmony: Harmony) -> int | None:
    """The root's pitch class where the chord is a dominant that takes a flat nine."""
    flat = any(degree_pitch_class(d) == 1 for d in harmony.tensions + harmony.symbol.degrees)
    if flat and harmony.symbol.quality in ("dominant", "suspended"):
        return harmony.root.pitch_class
    return None


def _rubs(midis: Sequence[int], held: int, harmony: Harmony) -> bool:
    root = flat_nine_root(harmony)
    return any(m == held or rub(min(m, held), max(m, held), root, root is not None)
               for m in midis)


@lru_cache(maxsize=8192)
def _left_states(harmony: Harmony, family: str, level: str, size: str, held: int,
                 alone: bool, lift: int
                 ) -> tuple[tuple[Voicing, ...], tuple[tuple[int, int, int], ...]]:
    """Left-hand voicings and their (register, guides, low intervals) costs.

    held    the held note while it sounds, -1 where it does not
    alone   nothing else tells the chord: the hand and the held note must hold its guides
    lift    semitones by which the hand lies higher, under a right hand that lies high
    """
    top = 67 if held == _NO_HELD else min(67, held - 2)
    if family in ("walk", "walk root"):
        return _walk_states(harmony, size, held, top, family == "walk root")
    if family in ("rootless", "three-note rootless"):
        pool = left_hand_voicings(harmony, level, size, low=46, top=top, rootless=True)
        low, high = 50, 58
    elif family == "guides":
        pool = _guide_voicings(harmony, size, top)
        low, high = 51, 59
    else:
        pool = left_hand_voicings(harmony, level, size, low=33, top=top)
        low, high = (38 + lift, 49 + lift) if family == "root" else (41 + lift, 52 + lift)
        if family == "low root":
            low, high, family = 36, 45, "root"
    kinds = LEFT_KINDS[family]
    chosen = [v for v in pool if v.kind in kinds]
    if bass_degree(harmony) is not None and family != "guides":
        notes = {"root": (1, 1), "two-note shell": (2, 2), "open": (2, 2), "tenth": (1, 2),
                 "shell": (3, 3)}.get(family)
        if notes is None:
            return (), ()
        chosen = [v for v in pool if notes[0] <= len(v.pitches) <= notes[1]]
        if not chosen:
            chosen = [v for v in pool if len(v.pitches) <= notes[1]]
    if alone and family == "shell":
        # under a low melody note two notes may be all that fits
        chosen += [v for v in pool if v.kind in LEFT_KINDS["two-note shell"]]
    if not chosen and family not in ("rootless", "three-note rootless", "tenth", "guides"):
        chosen = [v for v in pool if v.kind in ("triad", "root and fifth", "root",
                                                "root, fifth, octave")]
        longest = max((len(v.pitches) for v in chosen), default=0)
        chosen = [v for v in chosen if len(v.pitches) == longest]
    if family == "tenth" and not chosen:
        chosen = list(_rolled_tenths(harmony, size, top))
    states: list[Voicing] = []
    costs: list[tuple[int, int, int]] = []
    for voicing in chosen:
        midis = voicing.midis
        if held != _NO_HELD and _rubs(midis, held, harmony):
            continue
        degrees = list(voicing.degrees)
        if held != _NO_HELD:
            degree = harmony.degree_of(held % 12)
            degrees += [] if degree is None else [degree]
        missing = alone and not holds_guides(harmony, degrees)
        register = max(low - midis[0], 0) + max(midis[0] - high, 0)
        order = kinds.index(voicing.kind) if voicing.kind in kinds else 0
        states.append(voicing)
        costs.append((WEIGHTS["left register"] * register + min(order, 2),
                      WEIGHTS["guides"] if missing else 0,
                      WEIGHTS["low intervals"] * mud_cost(midis)))
    if costs and all(row[1] for row in costs):
        # under a low melody note nothing fuller fits: the fullest there is, at a price
        fullest = max(len(v.midis) for v in states)
        if fullest > 1 and family == "shell":
            costs = [(a + WEIGHTS["thin"], 0, b) for a, _, b in costs]
    return tuple(states), tuple(costs)


@lru_cache(maxsize=2048)
def _guide_voicings(harmony: Harmony, size: str, top: int) -> tuple[Voicing, ...]:
    """Third and seventh alone in the left hand."""
    guides = colours(harmony, "beginner").guides
    if len(guides) < 2:
        return ()
    found: list[Voicing] = []
    for row in (guides, guides[::-1]):
        found += form_voicings(harmony, Form("guide tones", row, 2), size, low=48, top=top)
    return tuple(found)


@lru_cache(maxsize=2048)
def _rolled_tenths(harmony: Harmony, size: str, top: int) -> tuple[Voicing, ...]:
    """Tenths beyond the reach, to be rolled (facts of reach: `hands.reach`)."""
    third, fifth = harmony.third, colours(harmony, "beginner").fifth
    if third is None or bass_degree(harmony) is not None:
        return ()
    forms = [Form("tenth", ("1", "^" + third), 2)]
    if fifth is not None:
        forms.append(Form("spread 1-5-10", ("1", fifth, third), 3))
    found: list[Voicing] = []
    for form in forms:
        found += [v for v in form_voicings(harmony, form, size, low=34, top=top, rolled=True)
                  if rolled_span_ok(v.midis[0], v.midis[-1], size)
                  and finger_rolled(v.midis, "left", size) is not None]
    return tuple(found)


@lru_cache(maxsize=4096)
def _walk_states(harmony: Harmony, size: str, held: int, top: int, root: bool
                 ) -> tuple[tuple[Voicing, ...], tuple[tuple[int, int, int], ...]]:
    """Bass notes and tenths for a left hand that walks: chord tones, tenths by reach.

    root    the bass of the chord has to be at the bottom
    """
    c = colours(harmony, "beginner")
    foreign = bass_degree(harmony)
    tones = [d for d in ("1", c.third, c.fifth, c.seventh) if d is not None]
    forms = [Form("bass note", (d,), 1) for d in tones]
    if c.third is not None:
        forms.append(Form("tenth", ("1", "^" + c.third), 2))
        if c.fifth is not None:
            forms.append(Form("sixth", (c.fifth, c.third), 2))
    if c.third is not None and c.seventh is not None:
        forms.append(Form("seventh", ("1", c.seventh), 2))
    if root and c.fifth is not None:
        forms.append(Form("fifth", ("1", c.fifth), 2))
    if root:
        forms = [f for f in forms if f.degrees[0] == "1"]
        if foreign is not None:
            forms = [Form("bass note", (foreign,), 1)]
    states: list[Voicing] = []
    costs: list[tuple[int, int, int]] = []
    for form in forms:
        for voicing in form_voicings(harmony, form, size, low=36, top=min(top, 62)):
            midis = voicing.midis
            if held != _NO_HELD and (_rubs(midis, held, harmony) or midis[-1] >= held - 2):
                continue
            states.append(voicing)
            costs.append((WEIGHTS["left register"] * max(midis[0] - 55, 0)
                          + (form.kind == "bass note") * (3 if root else 1)
                          + 3 * (form.degrees[0] == c.seventh), 0,
                          WEIGHTS["low intervals"] * mud_cost(midis)))
    return tuple(states), tuple(costs)


@lru_cache(maxsize=16384)
def _right_states(harmony: Harmony, texture: Texture, level: str, size: str,
                  left: tuple[int, ...], left_degrees: tuple[str, ...], held: int, aim: int,
                  low: int, top: int, finger: bool
                  ) -> tuple[tuple[Voicing, ...], tuple[tuple[tuple[str, int], ...], ...]]:
    """Right-hand voicings over the left hand's keys, and their costs by term.

    held     the held note while it sounds, -1 where it does not
    aim      MIDI number the middle of the voicing should be near
    finger   the right hand keeps the held note with a finger meanwhile
    """
    least, most = texture.voices
    kinds = RIGHT_KINDS[texture.right]
    floor = max([low, *(m + 1 for m in left)])
    ceiling = min(top, held - 2) if finger else top
    if ceiling <= floor:
        return (), ()
    pool = [v for v in right_hand_voicings(harmony, level, size, low=low, top=top, most=most)
            if v.midis[0] >= floor and v.midis[-1] <= ceiling]
    chosen = [v for v in pool if v.kind in kinds and least <= len(v.pitches) <= most]
    if not chosen and texture.right in ("one", "two", "guides", "three") and (
            harmony.third is None or harmony.seventh is None):
        chosen = [v for v in pool if len(v.pitches) <= 3]
    return _judged(harmony, tuple(chosen), level, size, left, left_degrees, held, aim, finger)


def _judged(harmony: Harmony, pool: tuple[Voicing, ...], level: str, size: str,
            left: tuple[int, ...], left_degrees: tuple[str, ...], held: int, aim: int,
            finger: bool) -> tuple[tuple[Voicing, ...], tuple[tuple[tuple[str, int], ...], ...]]:
    states: list[Voicing] = []
    costs: list[tuple[tuple[str, int], ...]] = []
    root = harmony.root.pitch_class
    flat = flat_nine_root(harmony) is not None
    held_degree = None if held == _NO_HELD else harmony.degree_of(held % 12)
    left_classes = {m % 12 for m in left}
    required = required_degrees(harmony)
    for voicing in pool:
        midis = voicing.midis
        whole = tuple(sorted({*left, *midis}))
        if mud(whole) or any(minor_ninth(a, b, root, flat) for i, a in enumerate(whole)
                             for b in whole[i + 1:]):
            continue
        if held != _NO_HELD and _rubs(midis, held, harmony):
            continue
        if finger and finger_chord((*midis, held), "right", size) is None:
            continue
        degrees = {*voicing.degrees, *left_degrees}
        if held_degree is not None:
            degrees.add(held_degree)
        if not compatible(degrees - {"bass"}):
            continue
        terms = {
            "guides": WEIGHTS["guides"] * (not holds_guides(harmony, tuple(degrees))),
            "missing colour": WEIGHTS["missing colour"] * _missing(required, degrees)
            // (4 if level == "beginner" else 1),
            "right register": WEIGHTS["right register"] * abs(midis[0] + midis[-1] - 2 * aim)
            // 4,
            "low intervals": WEIGHTS["low intervals"] * mud_cost(whole),
        }
        if level != "beginner" and not any(degree_number(d) > 7 for d in degrees
                                           if d != "bass"):
            terms["plain"] = WEIGHTS["plain"]
        terms["doubled"] = WEIGHTS["doubled"] * len(left_classes & {m % 12 for m in midis})
        if held != _NO_HELD:
            terms["melody doubled"] = WEIGHTS["melody doubled"] * sum(
                (m - held) % 12 == 0 for m in midis)
            if midis[-1] < held:
                terms["under the melody"] = WEIGHTS["under the melody"] * max(
                    3 - (held - midis[-1]), 0)
        if left:
            terms["hole"] = WEIGHTS["hole"] * max(midis[0] - left[-1] - 16, 0)
        terms["second inside"] = WEIGHTS["second inside"] * sum(
            b - a == 1 for a, b in pairwise(midis))
        states.append(voicing)
        costs.append(tuple((k, v) for k, v in terms.items() if v))
    return tuple(states), tuple(costs)


def _missing(required: tuple[str, ...], degrees: set[str]) -> int:
    present = {degree_pitch_class(d) for d in degrees if d != "bass"}
    return sum(not any(degree_pitch_class(d) in present for d in group.split("|"))
               for group in required)


def _padded(voicings: Sequence[Voicing]) -> npt.NDArray[np.int64]:
    """Keys from the top down, the lowest repeated, shape (states, 5)."""
    rows = [[*reversed(v.midis[-5:])] for v in voicings]
    return np.array([row + [row[-1]] * (5 - len(row)) for row in rows], dtype=np.int64)


def _moved(a: Sequence[Voicing], b: Sequence[Voicing]) -> npt.NDArray[np.int64]:
    """Semitones moved, shape (states, next states, 5): voices matched from the top, those
    beyond the larger chord's number not counted."""
    each: npt.NDArray[np.int64] = np.abs(_padded(a)[:, None, :] - _padded(b)[None, :, :])
    counts = [np.array([len(v.midis) for v in row]) for row in (a, b)]
    voices = np.maximum(counts[0][:, None], counts[1][None, :])
    each[np.arange(5)[None, None, :] >= voices[:, :, None]] = 0
    return each


def _left_steps(a: Sequence[Voicing], b: Sequence[Voicing], chords: bool) -> Costs:
    """From stroke to stroke of the left hand; `chords` where it plays rootless chords."""
    moved = _moved(a, b).sum(axis=2)
    if chords:
        return {"voice leading": _voice_leading_cost(moved),
                "same chord again": WEIGHTS["same chord again"] * (moved == 0)}
    return {"bass line": WEIGHTS["bass line"] * (moved // 4)}


def _voice_leading_cost(moved: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Half a point a semitone, dear beyond six in all: that is what the worked II-V-I forms
    move at most (Levine ch. 7; counted)."""
    cost: npt.NDArray[np.int64] = moved // 2 + 8 * np.maximum(moved - 6, 0)
    return WEIGHTS["voice leading"] * cost


def played(harmony: Harmony, held: int) -> Harmony:
    """The chord as it is played under a note that sounds.

    Under its root a major seventh would rub: the sixth stands in for it (common practice).
    """
    if held == _NO_HELD or "7" not in harmony.tones or (
            held % 12 != harmony.root.pitch_class):
        return harmony
    return _with_sixth(harmony)


@lru_cache(maxsize=1024)
def _with_sixth(harmony: Harmony) -> Harmony:
    tones = tuple("6" if d == "7" else d for d in harmony.tones)
    return replace(harmony, tones=tones,
                   tensions=tuple(d for d in harmony.tensions if d not in ("13", "7")))


def _bass_steps(a: Sequence[Voicing], b: Sequence[Voicing]) -> Costs:
    """From bass note to bass note of a walking left hand."""
    first, second = _padded(a), _padded(b)
    leap = np.abs(first[:, None, -1] - second[None, :, -1])
    price = np.array(_BASS_LEAP + (9,) * 40, dtype=np.int64)
    same_kind = np.array([[x.kind == y.kind and x.kind != "bass note" for y in b] for x in a])
    return {"bass line": price[leap] + 2 * same_kind}


def _right_steps(a: Sequence[Voicing], b: Sequence[Voicing], texture: Texture, level: str,
                 same: bool) -> Costs:
    """From hit to hit of the right hand (of both in "both"); `same` where the chord stays."""
    first, second = _padded(a), _padded(b)
    each = _moved(a, b)
    moved = each.sum(axis=2)
    top = each[:, :, 0]
    if texture.motion == "inner" and same:
        voices = [len(v.midis) for v in a]
        changed = np.array([[sum(m not in y.midis for m in x.midis) if len(y.midis) == n else 9
                             for y in b] for x, n in zip(a, voices, strict=True)])
        step = np.array([[abs(sum(x.midis) - sum(y.midis)) for y in b] for x in a])
        allowed = (changed == 1) & (step <= 2)
        return {"inner line": np.where(allowed, 2 * (top > 0) + (step - 1), FORBIDDEN)}
    if texture.place in ("rising", "falling"):
        lift = first[:, None, 0] - second[None, :, 0]
        if texture.place == "rising":
            lift = -lift
        return {"register": np.where(lift < 3, FORBIDDEN, 0)
                + WEIGHTS["leap"] * np.maximum(lift - 9, 0)}
    still = 0 if level == "beginner" else WEIGHTS["standing top"]
    costs = {"voice leading": _voice_leading_cost(moved),
             "top line": WEIGHTS["leap"] * np.maximum(top - 4, 0) + still * (top == 0)}
    if texture.motion == "inversions" and same:
        bottom = np.abs(first[:, None, -1] - second[None, :, -1])
        costs["inversions"] = np.where((bottom == 0) | (top == 0), 4, 0)
        costs["voice leading"] = WEIGHTS["voice leading"] * moved // 4
    if level != "beginner":
        costs["same chord again"] = WEIGHTS["same chord again"] * (moved == 0)
    return costs


def _arrays(rows: Sequence[tuple[tuple[str, int], ...]]) -> Costs:
    terms = sorted({name for row in rows for name, _ in row})
    return {name: np.array([dict(row).get(name, 0) for row in rows], dtype=np.int64)
            for name in terms}


def search(context: GapContext, texture: Texture, plan: Plan) -> Found | None:
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


def _held_at(context: GapContext, plan: Plan, stroke: Stroke) -> int:
    if context.held_midi is None:
        return _NO_HELD
    sounds = context.onset_quarter + stroke.onset_quarter < plan.held.until_quarter
    return context.held_midi if sounds else _NO_HELD


def _search_left(context: GapContext, texture: Texture, plan: Plan
                 ) -> tuple[tuple[Voicing, ...], tuple[tuple[str, int], ...]] | None:
    layers: list[tuple[Voicing, ...]] = []
    local: list[Costs] = []
    lift = 0
    if plan.right and not plan.both:
        lift = min(max(_room(context, texture, 0, 2)[2] - 61, 0), 12)
    for stroke in plan.left:
        held = _held_at(context, plan, stroke)
        alone = stroke.alone or (texture.mode == "stride" and stroke.family != "root")
        family = stroke.family
        if family == "root" and texture.mode == "stride":
            family = "low root"
        states, costs = _left_states(played(stroke.harmony, held), family, context.level,
                                     context.hand, held, alone, lift)
        if not states:
            return None
        layers.append(states)
        table = np.array(costs, dtype=np.int64)
        local.append({"left register": table[:, 0], "guides": table[:, 1],
                      "low intervals": table[:, 2]})
    walking = texture.mode == "bass"
    steps: list[Costs] = []
    for (a, one), (b, two) in pairwise(zip(layers, plan.left, strict=True)):
        chords = (one.family == two.family and one.family in _CHORD_FAMILIES
                  and context.level != "beginner")
        steps.append(_bass_steps(a, b) if walking else _left_steps(a, b, chords))
    landing = context.gap.landing_harmony
    if landing is not None and not (plan.left and plan.left[-1].over):
        family = {"stride": "root", "bass": "walk root"}.get(texture.mode, texture.left)
        states, _ = _left_states(landing, family, context.level, context.hand, _NO_HELD, False,
                                 lift)
        if states:
            layers.append(states)
            local.append({})
            steps.append(_bass_steps(layers[-2], states) if walking else _left_steps(
                layers[-2], states, family in _CHORD_FAMILIES))
    paths = k_best_paths([len(layer) for layer in layers], local, steps, 1)
    if not paths:
        return None
    chosen = tuple(layers[i][s] for i, s in enumerate(paths[0].states[:len(plan.left)]))
    return chosen, paths[0].costs


def _sounding(plan: Plan, left: Sequence[Voicing], stroke: Stroke
              ) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """Left-hand keys down during a stroke of the right hand, and the degrees of those down
    when it begins, over its chord."""
    keys: set[int] = set()
    degrees: list[str] = []
    for other, voicing in zip(plan.left, left, strict=True):
        if (other.onset_quarter < stroke.end_quarter
                and stroke.onset_quarter < other.end_quarter):
            keys |= set(voicing.midis)
            if other.harmony == stroke.harmony and other.onset_quarter <= stroke.onset_quarter:
                degrees += voicing.degrees
    return tuple(sorted(keys)), tuple(degrees)


def _search_right(context: GapContext, texture: Texture, plan: Plan, left: Sequence[Voicing]
                  ) -> tuple[tuple[Voicing, ...], tuple[tuple[str, int], ...]] | None:
    layers: list[tuple[Voicing, ...]] = []
    local: list[Costs] = []
    for order, stroke in enumerate(plan.right):
        low, top, aim = _room(context, texture, order, len(plan.right))
        held = _held_at(context, plan, stroke)
        keys, degrees = _sounding(plan, left, stroke)
        if plan.both:
            states, costs = _both_states(played(stroke.harmony, held), texture, context.level,
                                         context.hand, held, aim)
        else:
            finger = plan.held.kept == "finger" and held != _NO_HELD
            states, costs = _right_states(played(stroke.harmony, held), texture, context.level,
                                          context.hand, keys, degrees, held, aim, low, top,
                                          finger)
            if held == _NO_HELD and context.held_midi is not None and order == 0:
                costs = tuple((*row, ("struck through", WEIGHTS["struck through"]))
                              if context.held_midi in v.midis else row
                              for v, row in zip(states, costs, strict=True))
        if not states:
            return None
        layers.append(states)
        local.append(_arrays(costs))
    steps = [_right_steps(a, b, texture, context.level, one.harmony == two.harmony)
             for (a, one), (b, two) in pairwise(zip(layers, plan.right, strict=True))]
    if context.landing_midi is not None:
        tops = np.array([v.midis[-1] for v in layers[-1]], dtype=np.int64)
        last = dict(local[-1])
        last["landing"] = WEIGHTS["landing"] * np.maximum(
            np.abs(tops - context.landing_midi) - 5, 0)
        local[-1] = last
    paths = k_best_paths([len(layer) for layer in layers], local, steps, 1)
    if not paths:
        return None
    return tuple(layers[i][s] for i, s in enumerate(paths[0].states)), paths[0].costs


@lru_cache(maxsize=4096)
def _both_states(harmony: Harmony, texture: Texture, level: str, size: str, held: int, aim: int
                 ) -> tuple[tuple[Voicing, ...], tuple[tuple[tuple[str, int], ...], ...]]:
    kinds = RIGHT_KINDS[texture.right]
    pool = [v for v in two_hand_voicings(harmony, level, size, top=76, bottom=45)
            if v.kind in kinds and texture.voices[0] <= len(v.pitches) <= texture.voices[1]]
    if held != _NO_HELD:
        pool = [v for v in pool if v.midis[-1] < held]
    return _judged(harmony, tuple(pool), level, size, (), (), held, aim, False)


def _room(context: GapContext, texture: Texture, order: int, count: int
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
    if texture.place == "above" and held is not None:
        return held - 3, min(held + 22, 96), held + 8
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
