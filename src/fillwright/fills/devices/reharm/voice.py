"""Hands for a plan: each chord gets a voicing, chosen along the whole row by the lattice.

The states of an event are the pairs of a left-hand and a right-hand voicing of a style
(`hands`); the steps weigh voice leading and the motion the device wants.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from fillwright.fills.devices.reharm.arrival import out_of_reach
from fillwright.fills.devices.reharm.device import Heard, Motion, Stands
from fillwright.fills.devices.reharm.disguise import (
    OWN_OVER_A_BASS,
    SIXTH,
    all_written,
    bass_class,
    own_names,
    stays_below,
)
from fillwright.fills.devices.reharm.function import is_two_of, named_classes
from fillwright.fills.devices.reharm.hands import THIRDS, HandPair, Style, Wanted, hand_pairs
from fillwright.fills.devices.reharm.options import Option
from fillwright.fills.devices.reharm.plan import ChordPlan, Event
from fillwright.fills.devices.reharm.sound import line_heard, line_open, voices
from fillwright.fills.devices.reharm.words import over_the_same
from fillwright.fills.situation import Task
from fillwright.fills.sounding import hanging_table
from fillwright.fills.voicing.voicings import voice_leading
from fillwright.lattice import k_best_paths
from fillwright.rules.harmony import under_its_root
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["Voiced", "sounding", "voice_plan"]

WEIGHTS = MappingProxyType({
    # term: integer cost per unit; design choices within common practice
    "voice leading": 1,    # semitone moved by any voice, a voice in or out counting three
    "top line": 2,         # semitone of the top voice beyond a second
    "bass leap": 8,        # the bass does not take the step its roots would allow
    "same motion": 7,      # outer voices go the same way where the device wants contrary motion
    "similar motion": 5,   # or where it does not say how they move
    "shape": 3,            # another voicing where the device wants the same one shifted
    "no thirds": 30,       # a left hand that takes no third or tenth where thirds should walk
    "common top": 3,       # semitone the top voice moves where it should stay
    "nothing new": 60,     # a chord of which every tone sounds already (design choice: never)
    "far from the landing": 60,  # the right hand does not get home in time (refused in the end)
    "landing taken": 16,   # the last chord has the key of the landing
    "landing rung": 400,   # and it is struck less than a beat before (design choice: never)
    "nothing moves": 60,   # a voice said to move by half steps does not (design choice: never)
    "left hanging": 12,    # a guide tone that no key of either hand or of the tune leads on
    "landing below": 60,   # the left hand lies at the landing's key or over it when that comes
})


@dataclass(frozen=True, slots=True)
class Voiced:
    """A plan with hands."""

    plan: ChordPlan
    style: Style
    hands: tuple[HandPair, ...]
    costs: tuple[tuple[str, int], ...]


def voice_plan(task: Task, plan: ChordPlan, style: Style) -> Voiced | None:
    """The cheapest hands for a plan in a style, or None where there are none."""
    style = _for_plan(plan, style)
    layers: list[list[HandPair]] = []
    local = []
    lines = _lines(plan)
    for index, event in enumerate(plan.events):
        key = sounding(task, plan, event)
        begins = any(first == index and not event.added for first, _ in lines)
        pairs, costs = hand_pairs(Wanted(
            under_its_root(event.harmony, key), task.player.level, task.hand_size,
            replace(style, line=begins), key, _ceiling(task, plan, event),
            () if begins else _telling(plan, index), event.added, _pedalled(plan, event),
            _lends(task, plan, event),
            _taken_back(plan, index),
            task.held_midi if key is None else None, _floor(task, key),
            _unlike(task, plan, event), _triad(event)))
        if not pairs:
            return None
        layers.append(list(pairs))
        local.append({"hands": np.array(costs, dtype=np.int64)})
        if index + 1 == len(plan.events):
            local[-1] |= _before_landing(task, event, key, pairs)
        for first, line in lines:
            if first == index:
                local[-1]["what is said"] = np.array(
                    [0 if line_open(line, h.midis) else WEIGHTS["nothing moves"] for h in pairs],
                    dtype=np.int64)
    motions = [_motion(a, b) for a, b in pairwise(plan.events)]
    helds = [sounding(task, plan, event) for event in plan.events]
    steps = [_step_costs(before, after, events, motion)
             for (before, after), events, motion in zip(
                 pairwise(layers), pairwise(plan.events), motions, strict=True)]
    heard = [[h.midis if held is None else (*h.midis, held) for h in layer]
             for layer, held in zip(layers, helds, strict=True)]
    for index, terms in enumerate(steps):
        terms["guide tones"] = WEIGHTS["left hanging"] * hanging_table(
            plan.events[index].harmony.symbol, heard[index], heard[index + 1])
        voices = [(line[index - first], line[index - first + 1]) for first, line in lines
                  if 0 <= index - first < len(line) - 1]
        terms["what is said"] = _unsaid_costs(layers[index], layers[index + 1],
                                              (helds[index], helds[index + 1]), voices)
        terms["what is said"] += _named_already(plan, index, heard[index])[:, None]
        terms["what is said"] += _little_new(plan, index + 1, heard[index], heard[index + 1])
    paths = k_best_paths([len(layer) for layer in layers], local, steps)
    if not paths:
        return None
    hands = tuple(layer[i] for layer, i in zip(layers, paths[0].states, strict=True))
    thirds = any(o.way.motion is Motion.THIRDS for o in plan.options)
    if (thirds and not _top_stays(task, plan, hands)) or not _bass_as_said(plan, hands):
        return None
    rows = [(*h.midis, *(() if held is None else (held,)))
            for h, held in zip(hands, helds, strict=True)]
    if any({m % 12 for m in b} <= {m % 12 for m in a} for a, b in pairwise(rows)):
        return None  # the same keys by another name are no new chord
    if all_written(plan, rows):
        return None
    if not all(_line_led(line, hands[first:first + len(line)]) for first, line in lines):
        return None
    return Voiced(plan, style, hands, paths[0].costs)


def _for_plan(plan: ChordPlan, style: Style) -> Style:
    """A style with the left hands that a plan asks for."""
    if any(o.way.motion is Motion.THIRDS for o in plan.options):
        return replace(style, left=THIRDS)
    if style.left and any(_triad(event) for event in plan.events):
        return replace(style, left=(*style.left, "bass"))
    return style


def _taken_back(plan: ChordPlan, index: int) -> frozenset[int]:
    """Colours of a written chord, pitch classes that it does not name, which an added chord beside
    it has by another accidental: over C no A beside the A flat of F minor."""
    event = plan.events[index]
    if event.added:
        return _coming_root(event)
    symbol = event.harmony.symbol
    near = [e.harmony.symbol for e in plan.events[max(index - 1, 0):index + 2] if e.added]
    beside = {other.name_of(d) for other in near for d in other.degrees}
    colours = {symbol.name_of(d) for d in event.harmony.tones + event.harmony.tensions
               if d not in symbol.degrees}
    return frozenset(name.pitch_class for name in colours - beside
                     if any(other.step == name.step for other in beside))


def _coming_root(event: Event) -> frozenset[int]:
    """The root of the goal where an added chord leads to it by its bass and does not name it: D in
    F over E says D minor before the bass does."""
    option, symbol = event.option, event.harmony.symbol
    if option is None or symbol.bass is None:
        return frozenset()
    root = option.place.goal.root.pitch_class
    return frozenset((root,)) - named_classes(symbol)


def _unlike(task: Task, plan: ChordPlan, event: Event) -> frozenset[int]:
    """The held note's pitch class where the chord would write it by another name: D sharp over
    D flat 7 is E flat to the eye, and a hand that doubles it reads sharps beside flats. A chord
    that outlasts the note has to have its tone all the same."""
    note, held = task.held, sounding(task, plan, event)
    if held is None or note is None or not _lends(task, plan, event):
        return frozenset()
    degree = event.harmony.degree_of(held % 12)
    if degree is None or event.harmony.symbol.voiced_name_of(degree) == note.pitch.note_name:
        return frozenset()
    return frozenset((held % 12,))


def _before_landing(task: Task, event: Event, held: int | None, pairs: Sequence[HandPair]
                    ) -> dict[str, npt.NDArray[np.int64]]:
    """What hands of the last chord cost for the sake of the landing."""
    above = () if held is None else (held,)  # the hand is spread up to it
    far = [h.right is not None and out_of_reach(
        task, (*h.right.midis, *above), event.onset_quarter) for h in pairs]
    landing = task.landing_midi
    # Struck so shortly before it is the landing, early, and then once more.
    rung = task.end_quarter - event.onset_quarter < task.beat_quarter
    taken = [(event.added or rung) and landing in h.midis for h in pairs]
    below = [landing is not None and h.left.midis[-1] >= landing for h in pairs]
    return {"far from the landing": WEIGHTS["far from the landing"] * np.array(far, dtype=np.int64),
            "landing taken": WEIGHTS["landing rung" if rung else "landing taken"]
            * np.array(taken, dtype=np.int64)
            + WEIGHTS["landing below"] * np.array(below, dtype=np.int64)}


def _top_stays(task: Task, plan: ChordPlan, hands: tuple[HandPair, ...]) -> bool:
    """The note on top stays: the melody note, kept to the end, or the right hand's own."""
    if task.held is not None:
        return plan.held is not None and plan.held.kept == "finger" and (
            plan.held.until_quarter > plan.events[-1].onset_quarter)
    root = plan.events[0].harmony.root.pitch_class
    return (all(h.right is not None for h in hands)
            and {h.midis[-1] for h in hands} == {hands[0].midis[-1]}
            and hands[0].midis[-1] % 12 == root)


def _bass_as_said(plan: ChordPlan, hands: tuple[HandPair, ...]) -> bool:
    """Where the sentence names the bass line, its steps are steps in the keys too."""
    for (a, before), (b, after) in pairwise(zip(plan.events, hands, strict=True)):
        said = Heard.NOTHING
        for event in (a, b):
            if event.option is not None:
                said |= event.option.way.heard
        if bass_class(a) == bass_class(b) and any(
                e.option is not None and e.option.way.motion is Motion.PEDAL for e in (a, b)) and (
                before.midis[0] != after.midis[0]):
            return False
        if Heard.BASS not in said and not (Heard.WALK in said and a.option is not None) and not (
                _slides(a, b)):
            continue
        wanted = (bass_class(b) - bass_class(a) + 6) % 12 - 6
        if abs(wanted) <= _walked(a.harmony, b.harmony) and (
                after.midis[0] - before.midis[0] != wanted):
            return False
    return True


def _slides(before: Event, after: Event) -> bool:
    """Whether an added chord leads on by a half step in the bass: it is heard as that nowhere but
    in one octave."""
    return before.added and (bass_class(after) - bass_class(before)) % 12 in (1, 11)


_STEP, _THIRD = 2, 4
"""Semitones that a bass walks in the octave it is in: a step, and a third over the same root."""


def _walked(before: Harmony, after: Harmony) -> int:
    """How far the bass goes to the nearest place of its note: where only the bass is new, it is
    all that is heard."""
    return _THIRD if before.root == after.root else _STEP


def _lines(plan: ChordPlan) -> list[tuple[int, tuple[int, ...]]]:
    """The moving voices the plan's sentences name: the event each begins at, and its pitch
    classes from there on, as far as the gap goes."""
    found = []
    for option in plan.options:
        own = [i for i, event in enumerate(plan.events) if event.option is option]
        if len(option.inner) < 2 or not own:
            found += _held_back(plan, option, own)
            continue
        over = option.way.stands is Stands.AFTER and over_the_same(
            plan.events[max(own[0] - 1, 0)].harmony, option.chords[0])
        first = max(own[0] - over, 0)
        line = option.inner
        if first + len(line) == own[-1] + 1 < len(plan.events):
            line = _with_goal(line, plan.events[own[-1] + 1].harmony)
        found.append((first, line[:len(plan.events) - first]))
    return found


def _with_goal(line: tuple[int, ...], goal: Harmony) -> tuple[int, ...]:
    """A moving voice, and where it goes on in the chord that comes inside the gap, if that has the
    next half step: B flat, B, and then the C of A flat."""
    on = (2 * line[-1] - line[-2]) % 12
    return (*line, on) if on in named_classes(goal.symbol) else line


def _held_back(plan: ChordPlan, option: Option, own: Sequence[int]
               ) -> list[tuple[int, tuple[int, ...]]]:
    """The fourth of a sus chord that falls into the third of the written one in its own voice."""
    if option.way.stands is not Stands.DELAY or not own or own[-1] + 1 >= len(plan.events):
        return []
    sus, comes = plan.events[own[-1]].harmony, plan.events[own[-1] + 1].harmony
    if sus.third != "4" or comes.third != "3" or sus.root != comes.root:
        return []
    root = sus.root.pitch_class
    return [(own[-1], ((root + degree_pitch_class("4")) % 12,
                       (root + degree_pitch_class("3")) % 12))]


def _mask(midis: tuple[int, ...]) -> int:
    """The pitch classes as bits."""
    return sum({1 << midi % 12 for midi in midis})


def _unsaid_costs(before: list[HandPair], after: list[HandPair],
                  helds: tuple[int | None, int | None],
                  voices: list[tuple[int, int]]) -> npt.NDArray[np.int64]:
    """Costs of pairs that sound nothing new, or whose moving voice does not move."""
    rows = [[(*h.midis, *(() if held is None else (held,))) for h in layer]
            for layer, held in zip((before, after), helds, strict=True)]
    had, has = (np.array([_mask(row) for row in layer], dtype=np.int64) for layer in rows)
    table = np.zeros((len(before), len(after)), dtype=np.int64)
    table[(has[None, :] & ~had[:, None]) == 0] = WEIGHTS["nothing new"]
    for voice in voices:
        for i, a in enumerate(before):
            table[i] += [0 if _line_led(voice, (a, b))
                         else WEIGHTS["nothing moves"] for b in after]
    return table


def _named_already(plan: ChordPlan, index: int, rows: Sequence[Sequence[int]]
                   ) -> npt.NDArray[np.int64]:
    """Costs of keys for a written chord with which all that the next one names has sounded."""
    names = own_names(plan, index + 1)
    written = named_classes(plan.events[index].harmony.symbol)
    return np.array([WEIGHTS["nothing new"] * (
        bool(names) and names <= written | {m % 12 for m in row}) for row in rows], dtype=np.int64)


def _little_new(plan: ChordPlan, index: int, before: Sequence[Sequence[int]],
                after: Sequence[Sequence[int]]) -> npt.NDArray[np.int64]:
    """Costs of keys for an added chord over the bass that stays with which too little is new after
    the written chord."""
    event = plan.events[index]
    led = event.added and event.harmony.symbol.bass is not None and stays_below(plan, index)
    old = named_classes(plan.events[index - 1].harmony.symbol)
    had = [old | {key % 12 for key in row} for row in before]
    has = [{key % 12 for key in row} for row in after]
    return WEIGHTS["nothing new"] * np.array([[led and len(new - one) < OWN_OVER_A_BASS
                                               for new in has] for one in had], dtype=np.int64)


def _triad(event: Event) -> bool:
    """Whether the sentence says of an added chord that it is a triad over another bass."""
    return event.option is not None and Heard.TRIAD in event.option.way.heard


def _line_led(line: Sequence[int], hands: Sequence[HandPair]) -> bool:
    """Whether a voice takes these pitch classes by steps, new keys each time, and can be followed
    by eye: where a hand has as many keys as before, each goes to the one in its place."""
    if not line_heard(line, [h.midis for h in hands]):
        return False
    places = {m for m in hands[0].midis if m % 12 == line[0]}
    for wanted, (one, other) in zip(line[1:], pairwise(hands), strict=True):
        led = voices((one.left.midis, one.right_midis), (other.left.midis, other.right_midis))
        places = {b for a, b in led if a in places and b % 12 == wanted and 0 < abs(a - b) <= _STEP}
    return bool(places)


def _motion(before: Event, after: Event) -> Motion:
    for event in (after, before):
        if event.option is not None:
            return event.option.way.motion
    return Motion.SMOOTH


def sounding(task: Task, plan: ChordPlan, event: Event) -> int | None:
    """The held note's MIDI number if it still sounds when the event is struck."""
    if plan.held is None or event.onset_quarter >= plan.held.until_quarter:
        return None
    return task.held_midi


def _lends(task: Task, plan: ChordPlan, event: Event) -> bool:
    """Whether the melody note lends its tone to a chord: it sounds as long as an added chord does,
    or all but half a beat of it. The ear knows a written one already."""
    if plan.held is None or not event.added:
        return True
    until = plan.held.until_quarter
    return until >= event.end_quarter - task.beat_quarter / 2


def _pedalled(plan: ChordPlan, event: Event) -> bool:
    """Whether the held note sounds at an event by the pedal alone."""
    return plan.held is not None and plan.held.kept == "pedal" and (
        event.onset_quarter < plan.held.until_quarter)


def _ceiling(task: Task, plan: ChordPlan, event: Event) -> int:
    """The highest key of the fill at an event: under the held note while it sounds, else
    about where the melody lies."""
    held, landing = task.held_midi, task.landing_midi
    if sounding(task, plan, event) is not None and held is not None:
        return held - 1
    near = [m for m in (held, landing) if m is not None]
    was = _TOP if held is None else max(_TOP, held - 1)  # the hand was under it
    return min(max([*near, 67]), was)


_TOP = 79
"""G5, over which a fill does not go but where the melody does."""


_LOWEST, _UNDER_TUNE = 48, 12
"""C3, under which the right hand does not go, and how far it goes below where the tune was and
comes back: it was there with it, and has to be there again."""


def _floor(task: Task, key: int | None) -> int:
    """The lowest key for the right hand at an event; `key` is the melody note that sounds."""
    held, landing = task.held_midi, task.landing_midi
    if key is not None or held is None:
        return _LOWEST
    return max(_LOWEST, min(held, held if landing is None else landing) - _UNDER_TUNE)


def _named(harmony: Harmony) -> frozenset[int]:
    return frozenset((harmony.root.pitch_class + degree_pitch_class(d)) % 12
                     for d in harmony.tones + harmony.symbol.degrees)


def _telling(plan: ChordPlan, index: int) -> tuple[frozenset[int], ...]:
    """Sets of pitch classes of which one each must be heard, so that a chord can be told from
    a neighbour on the same root, and a II from the triad before it, whose sixth it has for a
    root."""
    event = plan.events[index]
    here = event.harmony
    found = []
    if index and event.option is not None and not plan.events[index - 1].added:
        coming = (plan.events[index + 1].harmony if index + 1 < len(plan.events)
                  else event.option.place.goal)
        before = plan.events[index - 1].harmony.symbol
        if is_two_of(here, coming) and before.quality == "major" and before.seventh is None:
            assert before.root is not None
            triad = named_classes(before) | {(before.root.pitch_class + SIXTH) % 12}
            played = frozenset((here.root.pitch_class + degree_pitch_class(d)) % 12
                               for d in here.tones + here.tensions)
            found.append(played - triad)
    for near in (index - 1, index + 1):
        if 0 <= near < len(plan.events):
            other = plan.events[near].harmony
            if other.root == here.root and (own := _named(here) - _named(other)):
                found.append(own)
    return tuple(found)


@lru_cache(maxsize=16384)
def _led(before: tuple[int, ...], after: tuple[int, ...]) -> int:
    return voice_leading(before, after)


Table = npt.NDArray[np.int64]


class _Layer:
    """The hands that may be struck at an event, as columns."""

    def __init__(self, hands: Sequence[HandPair]) -> None:
        self.left = [h.left.midis for h in hands]
        self.right = [h.right_midis for h in hands]
        self.midis = [h.midis for h in hands]
        self.low, self.top = (np.array([keys[place] for keys in self.midis], dtype=np.int64)
                              for place in (0, -1))
        self.two = np.array([bool(keys) for keys in self.right])
        self.wide = np.array([len(keys) != 2 or (keys[1] - keys[0]) % 12 not in (3, 4)
                              for keys in self.left], dtype=np.int64)


def _all_led(before: Sequence[tuple[int, ...]], after: Sequence[tuple[int, ...]]) -> Table:
    """Semitones moved from each chord to each; none where a hand rests."""
    ones, others = sorted(set(before)), sorted(set(after))
    table = np.array([[_led(a, b) if a and b else 0 for b in others] for a in ones],
                     dtype=np.int64)
    found: Table = table[[[ones.index(a)] for a in before], [others.index(b) for b in after]]
    return found


def _step_costs(before: list[HandPair], after: list[HandPair], events: tuple[Event, Event],
                motion: Motion) -> dict[str, Table]:
    """Costs between two events, by term."""
    low_a = events[0].harmony.symbol.lowest or events[0].harmony.root
    low_b = events[1].harmony.symbol.lowest or events[1].harmony.root
    wanted = (low_b.pitch_class - low_a.pitch_class + 6) % 12 - 6
    a, b = _Layer(before), _Layer(after)
    bass, top = b.low - a.low[:, None], b.top - a.top[:, None]
    both = a.two[:, None] & b.two
    leap = WEIGHTS["bass leap"]
    far = np.where(np.abs(bass) > 7, leap // 2, 0)
    if abs(wanted) <= _walked(events[0].harmony, events[1].harmony):
        much = leap * (3 if _slides(*events) or motion in (
            Motion.CONTRARY, Motion.THIRDS, Motion.PARALLEL) else 1)
        far = np.where(bass != wanted, much, far)
    stands: Table = np.zeros_like(bass)
    if wanted and not events[1].harmony.symbol.bass:  # the new bass lay in the old chord's hand
        stands = WEIGHTS["bass leap"] * np.array(
            [[two.midis[0] in one.left.midis for two in after] for one in before], dtype=np.int64)
    return {
        "voice leading": WEIGHTS["voice leading"] * (
            _all_led(a.left, b.left) + _all_led(a.right, b.right)),
        "top line": WEIGHTS["top line"] * np.where(both, np.maximum(np.abs(top) - 2, 0), 0),
        "bass motion": far + stands,
        "motion of the hands": _motion_costs(motion, a, b)}


def _motion_costs(motion: Motion, a: _Layer, b: _Layer) -> Table:
    """What it costs that the hands do not move as the device wants."""
    bass, top = b.low - a.low[:, None], b.top - a.top[:, None]
    both = (a.two[:, None] & b.two).astype(np.int64)
    common = WEIGHTS["common top"] * np.abs(top) * both
    found: Table = np.zeros_like(bass)
    if motion in (Motion.CONTRARY, Motion.SMOOTH):
        weight = WEIGHTS["same motion" if motion is Motion.CONTRARY else "similar motion"]
        found = weight * both * (np.sign(bass) * np.sign(top) > 0)
    elif motion is Motion.PARALLEL:
        shapes = [[tuple(m - keys[0] for m in keys) for keys in row.midis] for row in (a, b)]
        found = WEIGHTS["shape"] * np.array([[one != two for two in shapes[1]]
                                             for one in shapes[0]], dtype=np.int64)
    elif motion is Motion.COMMON_TOP:
        found = common
    elif motion in (Motion.TENTHS, Motion.THIRDS):
        found = WEIGHTS["no thirds"] * (a.wide[:, None] + b.wide) + (
            common if motion is Motion.THIRDS else 0)
    elif motion is Motion.PEDAL:
        found = 5 * WEIGHTS["bass leap"] * (bass != 0).astype(np.int64)
    elif motion is Motion.INNER_LINE:
        found = WEIGHTS["voice leading"] * _all_led(a.midis, b.midis)
    return found
