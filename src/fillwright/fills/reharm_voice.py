"""Hands for a plan: each chord gets a voicing, chosen along the whole row by the lattice.

A *style* says what the hands take at a level: a shell alone under the held note, a root
with two notes, a shell with a few notes, a chord for both hands. The states of an event are
the pairs of a left-hand and a right-hand voicing that fit under (or, once it is let go,
beside) the held note; the steps weigh voice leading and the motion the device wants.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from fillwright.fills.context import GapContext
from fillwright.fills.moves_function import letter
from fillwright.fills.moves_place import chord_at
from fillwright.fills.reharm_plan import Event, Plan
from fillwright.fills.reharm_sound import crowded, heard_as_printed, line_heard
from fillwright.fills.voicing import (
    Voicing,
    holds_guides,
    left_hand_voicings,
    right_hand_voicings,
    two_hand_voicings,
    voice_leading,
)
from fillwright.hands.chords import finger_chord
from fillwright.hands.clash import minor_ninth, mud, rub
from fillwright.lattice import k_best_paths
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony, harmony_of
from fillwright.theory.pitch import Pitch

__all__ = ["STYLES", "Hands", "Style", "Voiced", "voice_plan"]

WEIGHTS = MappingProxyType({
    # term: integer cost per unit; design choices within common practice
    "voice leading": 1,    # semitone moved by any voice, a voice in or out counting three
    "top line": 1,         # semitone of the top voice beyond a second
    "bass leap": 8,        # the bass does not take the step its roots would allow
    "same motion": 4,      # outer voices go the same way where the device wants contrary motion
    "shape": 3,            # another voicing where the device wants the same one shifted
    "no thirds": 30,       # a left hand that takes no third or tenth where thirds should walk
    "common top": 3,       # semitone the top voice moves where it should stay
    "hole": 1,             # semitone beyond a twelfth between the hands
    "doubling": 3,         # a tone other than the root in both hands
    "register": 1,         # place in the voicing lists, which stand best register first
    "high bass": 1,        # semitone of the lowest key above G3
    "thin": 4,             # a right hand that rests while it could play
    "colour": 2,           # a tension left out that the level would play
    "nothing new": 60,     # a chord of which every tone sounds already (refused in the end)
    "nothing moves": 60,   # a voice said to move by half steps does not (refused in the end)
})

_LEFTS, _RIGHTS, _PAIRS, _PER_LEFT = 8, 10, 16, 2
"""How many voicings of each hand an event is given, how many pairs, and how many pairs with
each left hand at least."""


@dataclass(frozen=True, slots=True)
class Style:
    """What the hands take.

    name     as printed in the reasons and in the idea
    left     kinds of left-hand voicing, by the beginning of their names; () for two-hand
             voicings
    least, most   right-hand keys besides the held note
    """

    name: str
    left: tuple[str, ...]
    least: int
    most: int
    lefts_low: int = 40


_SHELLS = ("shell 1-7", "shell 1-3", "shell 1-6", "shell 1-4", "shell 1-2", "tenth", "bass and",
           "root and fifth")

_THIRDS = ("shell 1-3", "tenth", "bass and 5")

STYLES: MappingProxyType[str, tuple[Style, ...]] = MappingProxyType({
    "beginner": (
        Style("root and third or seventh", _SHELLS, 0, 0, 36),
        Style("root, two notes above", ("root", "root and fifth", "bass"), 1, 2, 36),
    ),
    "intermediate": (
        Style("shells and two notes", (*_SHELLS, "root"), 1, 2, 36),
        Style("shells and three notes", (*_SHELLS, "root"), 2, 3, 36),
        Style("shells alone", _SHELLS, 0, 0, 36),
    ),
    "advanced": (
        Style("two-hand chords", (), 2, 4, 34),
        Style("shells and full chords", (*_SHELLS, "spread", "octave", "root"), 2, 4, 34),
        Style("tenths and shells", ("tenth", "spread", *_SHELLS), 0, 2, 34),
        Style("shells alone", ("tenth", "spread", *_SHELLS), 0, 0, 34),
    ),
})


@dataclass(frozen=True, slots=True)
class Hands:
    """What both hands strike at one event."""

    left: Voicing
    right: Voicing | None

    @property
    def midis(self) -> tuple[int, ...]:
        return self.left.midis + (() if self.right is None else self.right.midis)

    @property
    def left_pitches(self) -> tuple[Pitch, ...]:
        return self.left.pitches

    @property
    def right_pitches(self) -> tuple[Pitch, ...]:
        return () if self.right is None else self.right.pitches

    @property
    def degrees(self) -> tuple[str, ...]:
        return self.left.degrees + (() if self.right is None else self.right.degrees)


@dataclass(frozen=True, slots=True)
class Voiced:
    """A plan with hands."""

    plan: Plan
    style: Style
    hands: tuple[Hands, ...]
    costs: tuple[tuple[str, int], ...]


def voice_plan(context: GapContext, plan: Plan, style: Style) -> Voiced | None:
    """The cheapest hands for a plan in a style, or None where there are none."""
    if any(o.move.motion == "thirds" for o in plan.options):
        style = replace(style, left=_THIRDS)
    layers: list[list[Hands]] = []
    local = []
    for index, event in enumerate(plan.events):
        sounding = _sounding(context, plan, event)
        pairs, costs = _pairs(under_root(event.harmony, sounding), context.level,
                              context.hand, style, sounding, _ceiling(context, plan, event),
                              _telling(plan, index), event.added)
        if not pairs:
            return None
        layers.append(list(pairs))
        local.append({"hands": np.array(costs, dtype=np.int64)})
    motions = [_motion(a, b, plan) for a, b in pairwise(plan.events)]
    helds = [_sounding(context, plan, event) for event in plan.events]
    lines = _lines(plan)
    steps = [_step_costs(before, after, events, motion)
             for (before, after), events, motion in zip(
                 pairwise(layers), pairwise(plan.events), motions, strict=True)]
    for index, terms in enumerate(steps):
        voices = [(line[index - first], line[index - first + 1]) for first, line in lines
                  if 0 <= index - first < len(line) - 1]
        terms["what is said"] = _unsaid_costs(layers[index], layers[index + 1],
                                              (helds[index], helds[index + 1]), voices)
    paths = k_best_paths([len(layer) for layer in layers], local, steps)
    if not paths:
        return None
    hands = tuple(layer[i] for layer, i in zip(layers, paths[0].states, strict=True))
    if any(o.move.motion == "thirds" for o in plan.options) and not _top_stays(
            context, plan, hands):
        return None
    rows = [(*h.midis, *(() if held is None else (held,)))
            for h, held in zip(hands, helds, strict=True)]
    if any({m % 12 for m in b} <= {m % 12 for m in a} for a, b in pairwise(rows)):
        return None  # the same keys by another name are no new chord
    if not all(line_heard(line, rows[first:first + len(line)]) for first, line in lines):
        return None
    return Voiced(plan, style, hands, paths[0].costs)


def _top_stays(context: GapContext, plan: Plan, hands: tuple[Hands, ...]) -> bool:
    """The note on top stays: the melody note, kept to the end, or the right hand's own."""
    if context.gap.held is not None:
        return plan.held is not None and plan.held.kept == "finger" and (
            plan.held.until_quarter > plan.events[-1].onset_quarter)
    root = plan.events[0].harmony.root.pitch_class
    return (all(h.right is not None for h in hands)
            and {h.midis[-1] for h in hands} == {hands[0].midis[-1]}
            and hands[0].midis[-1] % 12 == root)


def _lines(plan: Plan) -> list[tuple[int, tuple[int, ...]]]:
    """The moving voices the plan's sentences name: the event each begins at, and its pitch
    classes from there on, as far as the gap goes."""
    found = []
    for option in plan.options:
        own = [i for i, event in enumerate(plan.events) if event.option is option]
        if len(option.inner) < 2 or not own:
            continue
        over = not option.move.delay and (
            option.chords[0].root == plan.events[max(own[0] - 1, 0)].harmony.root)
        first = max(own[0] - over, 0)
        found.append((first, option.inner[:len(plan.events) - first]))
    return found


def _mask(midis: tuple[int, ...]) -> int:
    """The pitch classes as bits."""
    bits = 0
    for midi in midis:
        bits |= 1 << midi % 12
    return bits


def _unsaid_costs(before: list[Hands], after: list[Hands], helds: tuple[int | None, int | None],
                  voices: list[tuple[int, int]]) -> npt.NDArray[np.int64]:
    """Costs of pairs that sound nothing new, or whose moving voice does not move."""
    rows = [[(*h.midis, *(() if held is None else (held,))) for h in layer]
            for layer, held in zip((before, after), helds, strict=True)]
    had, has = (np.array([_mask(row) for row in layer], dtype=np.int64) for layer in rows)
    table = np.zeros((len(before), len(after)), dtype=np.int64)
    table[(has[None, :] & ~had[:, None]) == 0] = WEIGHTS["nothing new"]
    for low, high in voices:
        for i, a in enumerate(rows[0]):
            reached = {m + by for m in a if m % 12 == low for by in (-1, 1)
                       if (m + by) % 12 == high}
            table[i] += [0 if reached & set(b) else WEIGHTS["nothing moves"] for b in rows[1]]
    return table


def _motion(before: Event, after: Event, plan: Plan) -> str:
    for event in (after, before):
        if event.option is not None:
            return event.option.move.motion
    return "smooth"


def _sounding(context: GapContext, plan: Plan, event: Event) -> int | None:
    """The held note's MIDI number if it still sounds when the event is struck."""
    if plan.held is None or event.onset_quarter >= plan.held.until_quarter:
        return None
    return context.held_midi


def _ceiling(context: GapContext, plan: Plan, event: Event) -> int:
    """The highest key of the fill at an event: under the held note while it sounds, else
    about where the melody lies."""
    held, landing = context.held_midi, context.landing_midi
    if _sounding(context, plan, event) is not None and held is not None:
        return held - 1
    near = [m for m in (held, landing) if m is not None]
    return min(max([*near, 67]), 79)


def _named(harmony: Harmony) -> frozenset[int]:
    return frozenset((harmony.root.pitch_class + degree_pitch_class(d)) % 12
                     for d in harmony.tones + harmony.symbol.degrees)


def _telling(plan: Plan, index: int) -> tuple[frozenset[int], ...]:
    """Sets of pitch classes of which one each must be heard, so that a chord can be told from
    a neighbour on the same root."""
    here = plan.events[index].harmony
    found = []
    for near in (index - 1, index + 1):
        if 0 <= near < len(plan.events):
            other = plan.events[near].harmony
            if other.root == here.root and (own := _named(here) - _named(other)):
                found.append(own)
    return tuple(found)


def _own_tones_heard(harmony: Harmony, degrees: tuple[str, ...]) -> bool:
    """A half-diminished chord lives by its flat fifth, an augmented one by its sharp fifth; a
    diminished chord takes a colour only on top of all its own tones, else it is another
    chord."""
    present = {degree_pitch_class(d) for d in degrees if d != "bass"}
    own = {degree_pitch_class(d) for d in harmony.tones}
    quality = harmony.symbol.quality
    if quality == "half-diminished" or harmony.symbol.fifth == "#5":
        fifth = harmony.symbol.fifth
        return fifth is None or degree_pitch_class(fifth) in present
    if quality == "diminished" and present - own:
        return own <= present
    return True


@lru_cache(maxsize=4096)
def _pairs(harmony: Harmony, level: str, size: str, style: Style, held: int | None, ceiling: int,
           telling: tuple[frozenset[int], ...] = (), added: bool = False
           ) -> tuple[tuple[Hands, ...], tuple[int, ...]]:
    """Pairs of hands for a chord, cheapest first, with their costs.

    held      the key the right hand holds down meanwhile, or None
    ceiling   the highest key to be used
    telling   sets of pitch classes of which one each must be heard
    added     not on the chart: it has to be told from the keys alone
    """
    found: list[tuple[int, Hands]] = []
    flat = harmony.symbol.quality in ("dominant", "suspended")
    root = harmony.root.pitch_class
    third = None
    if harmony.third == "3":
        third = (root + 4) % 12
    # the held note is heard too; and a guide tone a half step under it stays silent
    spared: tuple[str, ...] = ()
    if held is not None:
        degree = harmony.degree_of(held % 12)
        spared = (() if degree is None else (degree,)) + tuple(
            d for d in (harmony.third, harmony.seventh) if d is not None and not added
            and (root + degree_pitch_class(d) + 1) % 12 == held % 12)
    if not style.left:
        for place, both in enumerate(two_hand_voicings(harmony, level, size, top=ceiling,
                                                       bottom=style.lefts_low)):
            if both.left == 0 or both.left == len(both.pitches):
                continue
            if both.degrees[0] != "1" and harmony.symbol.bass is None:
                continue
            found.append((place // 4, Hands(
                Voicing(both.kind, both.degrees[:both.left], both.left_pitches, both.left),
                Voicing(both.kind, both.degrees[both.left:], both.right_pitches, 0))))
    else:
        lefts = [v for v in left_hand_voicings(harmony, level, size, low=style.lefts_low,
                                               top=min(67 if style.left == _THIRDS else 62,
                                                       ceiling))
                 if v.kind.startswith(style.left)]
        rights: list[Voicing | None] = []
        if style.least == 0 or held is not None:
            rights.append(None)
        if style.most:
            low = 48 if held is None else max(48, held - 14)
            rights += [v for v in right_hand_voicings(harmony, level, size, low=low,
                                                      top=ceiling, most=style.most)
                       if len(v.pitches) >= style.least][:4 * _RIGHTS]
        for i, left in enumerate(lefts[:_LEFTS]):
            for j, right in enumerate(rights):
                thin = (WEIGHTS["thin"] * (style.most - (0 if right is None
                                                         else len(right.pitches)))
                        if style.most else 0)
                found.append((WEIGHTS["register"] * (i + j // 4) + thin, Hands(left, right)))
    kept: list[tuple[int, tuple[int, ...], Hands]] = []
    for cost, hands in found:
        midis = hands.midis
        left_top = hands.left.midis[-1]
        right_low = hands.right.midis[0] if hands.right is not None else held
        if right_low is not None and left_top >= right_low:
            continue
        if held is not None and (midis[-1] >= held or any(
                rub(m, held, root, flat) for m in midis)):
            continue
        heard = (*hands.degrees, *spared)
        if not holds_guides(harmony, heard) and not _near_enough(harmony, heard, style):
            continue
        sound = {m % 12 for m in midis} | (set() if held is None else {held % 12})
        if any(not (own & sound) for own in telling):
            continue
        if (style.most or telling) and not _own_tones_heard(harmony, heard):
            continue
        if added and not heard_as_printed(harmony, heard, level):
            continue
        if crowded(midis, root, third):
            continue
        if mud(midis) or any(minor_ninth(a, b, root, flat)
                             for n, a in enumerate(midis) for b in midis[n + 1:]):
            continue
        if hands.right is not None and held is not None and finger_chord(
                (*hands.right.midis, held), "right", size) is None:
            continue
        if right_low is not None:
            gap = right_low - left_top
            if gap > 24 and hands.right is not None:
                continue
            cost += WEIGHTS["hole"] * max(gap - 19, 0) if hands.right is not None else 0
        if hands.right is not None:
            left_classes = {m % 12 for m in hands.left.midis}
            cost += WEIGHTS["doubling"] * sum(m % 12 in left_classes and m % 12 != root
                                              for m in hands.right.midis)
        cost += WEIGHTS["high bass"] * max(midis[0] - 55, 0)
        if level == "advanced" and style.most:
            tensions = sum(degree_pitch_class(d) not in
                           {degree_pitch_class(t) for t in harmony.tones}
                           for d in hands.degrees if d != "bass")
            cost += WEIGHTS["colour"] * max(1 - tensions, 0)
        kept.append((cost, midis, hands))
    kept.sort(key=lambda item: (item[0], item[1]))
    # the best pairs, and the best of every left hand, so that the bass is free to walk
    chosen: list[tuple[int, tuple[int, ...], Hands]] = []
    per_left: dict[tuple[int, ...], int] = {}
    for item in kept:
        keys = item[2].left.midis
        if len(chosen) < _PAIRS or per_left.get(keys, 0) < _PER_LEFT:
            chosen.append(item)
            per_left[keys] = per_left.get(keys, 0) + 1
    return tuple(h for _, _, h in chosen), tuple(c for c, _, _ in chosen)


def _near_enough(harmony: Harmony, degrees: tuple[str, ...], style: Style) -> bool:
    """A shell of two notes may leave the third or the seventh to the ear (common practice)
    where the right hand holds or rests."""
    if style.most:
        return False
    present = {degree_pitch_class(d) for d in degrees if d != "bass"}
    if letter(harmony) == "7":  # a dominant lives by both
        return False
    if harmony.symbol.seventh is None and harmony.third is not None:  # a triad by its third
        return degree_pitch_class(harmony.third) in present
    return any(degree_pitch_class(d) in present
               for d in (harmony.third, harmony.seventh) if d is not None)


def under_root(harmony: Harmony, held: int | None) -> Harmony:
    """The chord to play: a major seventh chord under its own root becomes a sixth chord.

    The seventh would rub the melody by a half step (common practice).
    """
    if held is None or harmony.seventh != "7" or held % 12 != harmony.root.pitch_class:
        return harmony
    suffix = "m6" if harmony.third == "b3" else "6"
    symbol = chord_at(harmony.root, suffix, harmony.symbol.bass)
    return harmony_of(symbol, harmony.key, None)


@lru_cache(maxsize=65536)
def _led(before: tuple[int, ...], after: tuple[int, ...]) -> int:
    return voice_leading(before, after)


def _sign(number: int) -> int:
    return (number > 0) - (number < 0)


def _step_costs(before: list[Hands], after: list[Hands], events: tuple[Event, Event],
                motion: str) -> dict[str, npt.NDArray[np.int64]]:
    """Costs between two events, by term."""
    terms = {name: np.zeros((len(before), len(after)), dtype=np.int64)
             for name in ("voice leading", "top line", "bass motion", "motion of the hands")}
    low_a = events[0].harmony.symbol.lowest or events[0].harmony.root
    low_b = events[1].harmony.symbol.lowest or events[1].harmony.root
    wanted = (low_b.pitch_class - low_a.pitch_class + 6) % 12 - 6
    for i, a in enumerate(before):
        for j, b in enumerate(after):
            right_a = () if a.right is None else a.right.midis
            right_b = () if b.right is None else b.right.midis
            bass = b.midis[0] - a.midis[0]
            terms["voice leading"][i, j] = WEIGHTS["voice leading"] * (
                _led(a.left.midis, b.left.midis)
                + (_led(right_a, right_b) if right_a and right_b else 0))
            if abs(wanted) <= 2 and bass != wanted:
                terms["bass motion"][i, j] = WEIGHTS["bass leap"] * (
                    3 if motion in ("contrary", "thirds", "parallel") else 1)
            elif abs(bass) > 7:
                terms["bass motion"][i, j] = WEIGHTS["bass leap"] // 2
            top = b.midis[-1] - a.midis[-1]
            if right_a and right_b:
                terms["top line"][i, j] = WEIGHTS["top line"] * max(abs(top) - 2, 0)
            terms["motion of the hands"][i, j] = _motion_cost(motion, a, b, bass, top)
    return terms


def _motion_cost(motion: str, a: Hands, b: Hands, bass: int, top: int) -> int:
    both = a.right is not None and b.right is not None
    if motion == "contrary" and both and _sign(bass) * _sign(top) > 0:
        return WEIGHTS["same motion"]
    if motion == "parallel":
        return WEIGHTS["shape"] * (_shape(a) != _shape(b))
    if motion == "common top" and both:
        return WEIGHTS["common top"] * abs(top)
    if motion in ("tenths", "thirds"):
        wide = sum(len(h.left.midis) != 2 or (h.left.midis[1] - h.left.midis[0]) % 12
                   not in (3, 4) for h in (a, b))
        stays = WEIGHTS["common top"] * abs(top) if motion == "thirds" and both else 0
        return WEIGHTS["no thirds"] * wide + stays
    if motion == "pedal":
        return 5 * WEIGHTS["bass leap"] * (bass != 0)
    if motion == "inner line":
        return WEIGHTS["voice leading"] * _led(a.midis, b.midis)
    return 0


def _shape(hands: Hands) -> tuple[int, ...]:
    low = hands.midis[0]
    return tuple(m - low for m in hands.midis)
