"""Which voicings a hand may choose from at one stroke, and what each is worth by itself.

A voicing is judged over its chord, at the level, under the held note while it sounds and
over the keys the left hand has down. Whatever would break a rule of the hands or of sound
is left out here; the rest is a matter of cost.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from itertools import pairwise
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from fillwright.fills.devices.comp.colours import altered_by_choice
from fillwright.fills.devices.comp.inner import Line, line_voicings
from fillwright.fills.devices.comp.kinds import LEFT_KINDS, RIGHT_KINDS
from fillwright.fills.devices.comp.texture import Texture
from fillwright.fills.player import Level, Palette, Player
from fillwright.fills.voicing.forms import (
    Form,
    bass_degree,
    colours,
    compatible,
    is_inversion,
    required_degrees,
)
from fillwright.fills.voicing.voicings import (
    Voicing,
    form_voicings,
    harsh_classes,
    holds_guides,
    left_hand_voicings,
    right_hand_voicings,
    two_hand_voicings,
)
from fillwright.hands.chords import finger_rolled, playable
from fillwright.hands.reach import MAX_NOTES, rolled_span_ok
from fillwright.lattice import Costs
from fillwright.memory import VOICINGS
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.sound import HOLE, LENIENT_LIMITS, MINOR_NINTH, MUD, RUB
from fillwright.theory.chord import degree_number, degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["NO_HELD", "WALKS", "WEIGHTS", "States", "both_states",
           "keepable", "left_states", "moving_states", "right_states", "sparing"]

WEIGHTS = MappingProxyType({
    # term: integer cost per unit; design choices within common practice unless said
    "left register": 1,     # semitone of the left hand's bottom outside its room
    "right register": 1,    # two semitones of the right hand's middle off its aim
    "voice leading": 1,     # semitone moved in all (Levine ch. 7: forms that move least)
    "bass line": 1,         # a third of the left hand's movement
    "leap": 2,              # semitone of the top line beyond a third
    "no tenth": 4,          # a root without its tenth in a walk in tenths
    "standing top": 3,      # the same top note again, above beginner
    "same chord again": 6,  # exactly the same keys again; a third of it for a beginner
    "says less": 20,        # a chord struck again without some of its keys
    "given away": 4,        # the landing's own key in the last stroke
    "space": 6,             # beat that nothing answers after the held note has ended
    "struck while held": 40,  # more, in a ballad, where it would better be held
    "missing colour": 8,    # a degree the symbol names and nobody plays
    "colour of a shell": 3,  # the same where the left hand is alone, above beginner
    "plain": 3,             # no colour above beginner
    "altered": 3,           # a plain dominant altered: now and then, where it leads on
    "altered undone": 12,   # an alteration followed by the plain colour: it leads nowhere
    "guides": 40,           # a third or a seventh that nobody plays
    "told by the melody": 4,  # a third or a seventh that only the melody has
    "no root": 16,          # an inversion whose root nobody plays
    "doubled": 2,           # a tone both hands have
    "melody doubled": 2,    # the held note's tone again below it while it sounds
    "under the melody": 2,  # semitone nearer than a minor third to the held note
    "struck through": 14,   # the melody note struck again when the hand has left it
    "let go without need": 30,  # the held note, for a chord that fits under it
    "landing key": 8,       # the landing's own key rings up to it
    "hole": 3,              # semitone beyond a tenth between the hands, nothing sounding there
    "low intervals": 2,     # semitone below the strict low interval limits
    "second inside": 1,     # a half step inside a right-hand voicing
    "from the melody": 1,   # semitone of the first top beyond a fifth from the held note
    "landing": 1,           # semitone of the top voice beyond a fourth from the landing note
})

WALKS = ("walk", "walk root", "walk tenth", "walk tenth root")
"""Families of a left hand that walks."""

LOWEST_ROOTLESS = 50
"""No rootless chord lies lower: below D3 its inner second is thick (common practice)."""

NO_HELD = -1
"""Stands for the held note where it does not sound."""


_MUD_REACH = 1 + max(LENIENT_LIMITS)
_MUD_BELOW = max(map(MUD.limit, LENIENT_LIMITS))
_RIGHT_TOP = 96  # the right hand's up to C7
_LEFT_TOP = 69  # the left hand's chords reach up to A4 at most (common practice)


class States:
    """Voicings to choose from, and their costs; compared by identity.

    voicings   at least one
    costs      term -> costs, shape (states,)
    keys       from the top down, the lowest repeated, shape (states, 5)
    counts     number of keys, shape (states,)
    altered    whether a plain dominant is altered, shape (states,)
    """

    __slots__ = ("altered", "costs", "counts", "keys", "voicings")

    def __init__(self, voicings: Sequence[Voicing], costs: Sequence[dict[str, int]]) -> None:
        self.voicings = tuple(voicings)
        rows = [[*reversed(v.midis[-5:])] for v in voicings]
        self.keys: npt.NDArray[np.int64] = np.array(
            [row + [row[-1]] * (5 - len(row)) for row in rows], dtype=np.int64)
        self.counts: npt.NDArray[np.int64] = np.array([len(row) for row in rows],
                                                      dtype=np.int64)
        terms = sorted({name for row in costs for name, cost in row.items() if cost})
        self.costs: Costs = {name: np.array([row.get(name, 0) for row in costs],
                                            dtype=np.int64) for name in terms}
        self.altered: npt.NDArray[np.bool_] = np.array(
            [row.get("altered", 0) > 0 for row in costs], dtype=np.bool_)

    def __len__(self) -> int:
        return len(self.voicings)


@VOICINGS.keep
def sparing(states: States, line: tuple[str, ...]) -> States | None:
    """Those voicings that leave the degrees of a moving voice to it, or None."""
    moving = {degree_pitch_class(d) for d in line}
    places = [i for i, v in enumerate(states.voicings)
              if v.degrees == ("1",) or all(
                  degree_pitch_class(d) not in moving
                  and all(compatible((d, x)) for x in line) for d in v.degrees if d != "bass")]
    if not places:
        return None
    return States([states.voicings[i] for i in places],
                  [{name: int(row[i]) for name, row in states.costs.items()} for i in places])


def _rubs(midis: Sequence[int], held: int, harmony: Harmony) -> bool:
    homes = flat_nine_homes(harmony.symbol)
    return held in midis or RUB.cost(midis, held, homes) > 0


@VOICINGS.keep
def left_states(harmony: Harmony, family: str, level: Level, size: str, held: int,
                 alone: bool, lift: int, roll: bool = False
                 ) -> States | None:
    """Left-hand voicings of a family, or None.

    held    the held note while it sounds, -1 where it does not
    alone   nothing else tells the chord: the hand and the held note must hold its guides
    lift    semitones by which the hand lies higher, under a right hand that lies high
    roll    the tempo leaves time to roll a tenth beyond the reach
    """
    top = _LEFT_TOP if held == NO_HELD else min(_LEFT_TOP, held - 2)
    if family in WALKS:
        return _walk_states(harmony, size, held, top, family, roll)
    if family in ("rootless", "three-note rootless"):
        pool = left_hand_voicings(harmony, level, size, low=LOWEST_ROOTLESS, top=top,
                                  rootless=True)
        low, high = 50, 58
    elif family == "low fifth":
        pool = _low_fifths(harmony, size, top)
        low, high = 34, 45
    elif family == "guides":
        pool = _guide_voicings(harmony, size, top)
        low, high = 51, 59
    else:
        pool = left_hand_voicings(harmony, level, size, low=33, top=top)
        low, high = (38 + lift, 49 + lift) if family in (
            "root", "line bed") else (41 + lift, 52 + lift)
        if family == "low root":
            low, high = 36, 45
        elif family == "last root":
            low, high = 28, 36
        elif family in ("broken", "broken tenth"):
            low, high = 36, 52
    kinds = LEFT_KINDS[family]
    chosen = [v for v in pool if v.kind in kinds and not _turns_into_another(harmony, v)]
    if bass_degree(harmony) is not None and family != "guides":
        notes = {"root": (1, 1), "low root": (1, 1), "last root": (1, 1), "line bed": (1, 1),
                 "two-note shell": (2, 2), "open": (2, 2), "tenth": (1, 2),
                 "shell": (3, 3)}.get(family)
        if notes is None:
            return None
        chosen = [v for v in pool if notes[0] <= len(v.pitches) <= notes[1]]
        if not chosen:
            chosen = [v for v in pool if len(v.pitches) <= notes[1]]
    if alone and family == "shell":
        # under a low melody note two notes may be all that fits
        chosen += [v for v in pool if v.kind in LEFT_KINDS["two-note shell"]]
    if not chosen and family not in ("rootless", "three-note rootless", "tenth", "guides",
                                     "broken", "broken tenth"):
        chosen = [v for v in pool if v.kind in ("triad", "root and fifth", "root",
                                                "root, fifth, octave")]
        longest = max((len(v.pitches) for v in chosen), default=0)
        chosen = [v for v in chosen if len(v.pitches) == longest]
    if family in ("tenth", "broken tenth") and roll and (not chosen or family != "tenth"):
        chosen = [*chosen, *(v for v in _rolled_tenths(harmony, size, top)
                             if v.kind in kinds and v not in chosen)]
    required = required_degrees(harmony) if alone and level.comp.strict else ()
    states: list[Voicing] = []
    costs: list[dict[str, int]] = []
    for voicing in chosen:
        midis = voicing.midis
        if held != NO_HELD and _rubs(midis, held, harmony):
            continue
        degrees = list(voicing.degrees)
        if held != NO_HELD:
            degree = harmony.degree_of(held % 12)
            degrees += [] if degree is None else [degree]
        if alone and len(degrees) > 2 and _other_chord(harmony, degrees):
            continue
        missing = alone and not holds_guides(harmony, degrees)
        sung = alone and not missing and not holds_guides(harmony, voicing.degrees)
        register = max(low - midis[0], 0) + max(midis[0] - high, 0)
        order = kinds.index(voicing.kind) if voicing.kind in kinds else 0
        states.append(voicing)
        costs.append({"left register": WEIGHTS["left register"] * register + min(order, 4),
                      "guides": WEIGHTS["guides"] if missing else 0,
                      "told by the melody": WEIGHTS["told by the melody"] * sung
                      * (3 if level.comp.strict else 1),
                      "missing colour": WEIGHTS["colour of a shell"]
                      * _missing(required, set(degrees)),
                      "altered": _altered_cost(harmony, voicing.degrees),
                      "no root": alone * _rootless_cost(harmony, degrees),
                      "low intervals": WEIGHTS["low intervals"] * MUD.cost(midis)})
    return States(states, costs) if states else None


def _turns_into_another(harmony: Harmony, voicing: Voicing) -> bool:
    """With the sixth at the bottom and the root gone a major chord is its relative minor."""
    return harmony.third == "3" and harmony.seventh in ("6", "7") and (
        voicing.degrees[0] in ("6", "13"))


@VOICINGS.keep
def _low_fifths(harmony: Harmony, size: str, top: int) -> tuple[Voicing, ...]:
    """The fifth as a bass note in turn with the root; the root where the chord has none."""
    fifth = colours(harmony, Palette.NAMED).fifth or "1"
    return form_voicings(harmony, Form("low fifth", (fifth,), 1), size, low=33, top=min(top, 50))


@VOICINGS.keep
def _guide_voicings(harmony: Harmony, size: str, top: int) -> tuple[Voicing, ...]:
    """Third and seventh alone in the left hand."""
    c = colours(harmony, Palette.NAMED)
    guides = c.guides
    if len(guides) < 2:
        return ()
    kind = "third and fifth" if c.bare else "guide tones"
    found: list[Voicing] = []
    for row in (guides, guides[::-1]):
        found += form_voicings(harmony, Form(kind, row, 2), size, low=48, top=top)
    return tuple(found)


@VOICINGS.keep
def _rolled_tenths(harmony: Harmony, size: str, top: int) -> tuple[Voicing, ...]:
    """Tenths beyond the reach, to be rolled (facts of reach: `hands.reach`)."""
    third, fifth = harmony.third, colours(harmony, Palette.NAMED).fifth
    if third not in ("3", "b3") or bass_degree(harmony) is not None:
        return ()
    forms = [Form("tenth", ("1", "^" + third), 2)]
    if fifth is not None:
        forms.append(Form("spread 1-5-10", ("1", fifth, third), 3))
    seventh = colours(harmony, Palette.NAMED).shell
    if seventh is not None:
        forms.append(Form("spread 1-7-10", ("1", seventh, third), 3))
    found: list[Voicing] = []
    for form in forms:
        found += [v for v in form_voicings(harmony, form, size, low=34, top=top, rolled=True)
                  if rolled_span_ok(v.midis[0], v.midis[-1], size)
                  and finger_rolled(v.midis, "left", size) is not None]
    return tuple(found)


@VOICINGS.keep
def _walk_states(harmony: Harmony, size: str, held: int, top: int, family: str, roll: bool
                 ) -> States | None:
    """What a left hand that walks may strike: chord tones, alone or with one tone above.

    family   one of `WALKS`: with "root" the bass of the chord has to be at the bottom, only
             with "tenth" there are tenths
    roll     tenths beyond the reach may be rolled
    """
    root, tenths = family.endswith("root"), "tenth" in family
    c = colours(harmony, Palette.NAMED)
    foreign = bass_degree(harmony)
    tones = [d for d in ("1", c.third, c.fifth, c.seventh) if d is not None]
    forms = [Form("bass note", (d,), 1) for d in tones]
    if c.third is not None:
        if tenths and c.third in ("3", "b3"):
            forms.append(Form("tenth", ("1", "^" + c.third), 2))
        if c.fifth is not None:
            forms.append(Form("sixth", (c.fifth, c.third), 2))
    if c.third is not None and c.shell is not None:
        forms.append(Form("seventh", ("1", c.shell), 2))
    if root and c.fifth is not None:
        forms.append(Form("fifth", ("1", c.fifth), 2))
    if root:
        forms = [f for f in forms if f.degrees[0] == "1"]
        if foreign is not None:
            forms = [Form("bass note", (foreign,), 1)]
    states: list[Voicing] = []
    costs: list[dict[str, int]] = []
    for form in forms:
        rolled = form.kind == "tenth" and roll
        for voicing in form_voicings(harmony, form, size, low=36, top=min(top, 62),
                                     rolled=rolled):
            midis = voicing.midis
            if held != NO_HELD and (_rubs(midis, held, harmony) or midis[-1] >= held - 2):
                continue
            if rolled and not (rolled_span_ok(midis[0], midis[-1], size)
                               and finger_rolled(midis, "left", size) is not None):
                continue
            states.append(voicing)
            costs.append({"left register": WEIGHTS["left register"] * max(midis[0] - 55, 0),
                          "bare bass": (form.kind == "bass note") * (3 if root else 1)
                          + 3 * (form.degrees[0] == c.seventh),
                          "no tenth": WEIGHTS["no tenth"] * (
                              tenths and root and form.kind != "tenth"),
                          "low intervals": WEIGHTS["low intervals"] * MUD.cost(midis)})
    return States(states, costs) if states else None


@VOICINGS.keep
def right_states(harmony: Harmony, texture: Texture, level: Level, size: str,
                  left: tuple[int, ...], left_degrees: tuple[str, ...], held: int, aim: int,
                  low: int, top: int, finger: bool
                  ) -> States | None:
    """Right-hand voicings over the left hand's keys, or None.

    held     the held note while it sounds, -1 where it does not
    aim      MIDI number the middle of the voicing should be near
    finger   the right hand keeps the held note with a finger meanwhile
    """
    least, most = texture.voices
    kinds = RIGHT_KINDS[texture.right]
    floor = max([low, *(m + 1 for m in left)])
    ceiling = min(top, held - 2) if finger else top
    if ceiling <= floor:
        return None
    pool = [v for v in right_hand_voicings(harmony, level, size, low=low, top=top, most=most)
            if v.midis[0] >= floor and v.midis[-1] <= ceiling]
    chosen = [v for v in pool if least <= len(v.pitches) <= most and (
        v.kind in kinds or (texture.right == "fourths" and _stacked_fourths(v.midis)))]
    if texture.right in ("guides", "two") and is_inversion(harmony):
        chosen += [v for v in _with_root(harmony, size, low)
                   if v.midis[0] >= floor and v.midis[-1] <= ceiling]
    if texture.right == "melody on top":
        chosen = [Voicing(v.kind, v.degrees[:-1], v.pitches[:-1], v.left) for v in
                  right_hand_voicings(harmony, level, size, low=low, top=held, most=4)
                  if v.midis[-1] == held and v.midis[0] >= floor and v.kind in kinds
                  and least < len(v.pitches) <= most + 1]
    if not chosen and texture.right in ("one", "two", "guides", "three") and (
            harmony.third is None or harmony.seventh is None):
        chosen = [v for v in pool if len(v.pitches) <= 3]
    if texture.right == "melody on top":  # the melody note is part of the voicing
        sung = harmony.degree_of(held % 12)
        left_degrees += () if sung is None else (sung,)
    return _judged(harmony, tuple(chosen), level, size, left, left_degrees, held, aim, finger)


@VOICINGS.keep
def moving_states(harmony: Harmony, degree: str, line: Line, voices: tuple[int, int],
                  player: Player, left: tuple[int, ...], left_degrees: tuple[str, ...],
                  held: int, room: tuple[int, int, int]) -> States | None:
    """Right-hand keys with a moving voice on a degree at the bottom, or None.

    room   lowest and highest key, and where the middle should be
    """
    low, top, aim = room
    floor = max([low, *(m + 1 for m in left)])
    ceiling = min(top, held - 2) if held != NO_HELD else top
    pool = line_voicings(harmony, degree, line.degrees, player.level, player.hand.name,
                         floor, ceiling, voices) if floor < ceiling else ()
    barred = _barred(harmony, left, held)
    if barred is None:
        return None
    sung = None if held == NO_HELD else harmony.degree_of(held % 12)
    states: list[Voicing] = []
    costs: list[dict[str, int]] = []
    for voicing in pool:
        midis = voicing.midis
        degrees = {*voicing.degrees, *left_degrees, *([] if sung is None else [sung])} - {"bass"}
        if (not barred.isdisjoint(midis) or not compatible(degrees)
                or (held != NO_HELD and not _gripped(midis, held, player.level,
                                                     player.hand.name))):
            continue
        below = max(left, default=midis[0])
        if HOLE.empty(below, midis[0]):
            continue
        told = holds_guides(harmony, (*degrees, *line.degrees))
        states.append(voicing)
        costs.append({
            "guides": 0 if told else WEIGHTS["guides"],
            "right register": WEIGHTS["right register"] * abs(midis[0] + midis[-1] - 2 * aim)
            // 4,
            "low intervals": WEIGHTS["low intervals"] * MUD.cost((*left, *midis)),
            "doubled": WEIGHTS["doubled"] * len({m % 12 for m in left} & {
                m % 12 for m in midis}),
            "hole": WEIGHTS["hole"] * max(midis[0] - below - 16, 0)})
    return States(states, costs) if states else None


def _gripped(midis: Sequence[int], held: int, level: Level, size: str) -> bool:
    """Can the right hand keep the held note over these keys at its level's ease?"""
    return level.voicing.grips(len(midis) + 1, held - midis[0]) and playable(
        (*midis, held), "right", size)


def keepable(states: States, held: int, harmony: Harmony, size: str
             ) -> npt.NDArray[np.int64]:
    """1 for each voicing that the same hand could play while it keeps the held note."""
    return np.array([_keepable(v.midis, held, harmony, size) for v in states.voicings],
                    dtype=np.int64)


@VOICINGS.keep
def _keepable(midis: tuple[int, ...], held: int, harmony: Harmony, size: str) -> bool:
    return (midis[-1] < held and len(midis) < MAX_NOTES and not _rubs(midis, held, harmony)
            and playable((*midis, held), "right", size))


@VOICINGS.keep
def _with_root(harmony: Harmony, size: str, low: int) -> tuple[Voicing, ...]:
    """The root with another chord tone, for a right hand over the bass of an inversion."""
    c = colours(harmony, Palette.NAMED)
    found: list[Voicing] = []
    for other in (c.third, c.fifth):
        for row in (("1", other), (other, "1")) if other is not None else ():
            found += form_voicings(harmony, Form("root and chord tone", row), size, low=low,
                                   top=_RIGHT_TOP)
    return tuple(found)


def _stacked_fourths(midis: tuple[int, ...]) -> bool:
    """Fourths from key to key, one augmented at most, whatever else the chord is called."""
    steps = [b - a for a, b in pairwise(midis)]
    return set(steps) <= {5, 6} and steps.count(6) < 2


def _judged(harmony: Harmony, pool: tuple[Voicing, ...], level: Level, size: str,
            left: tuple[int, ...], left_degrees: tuple[str, ...], held: int, aim: int,
            finger: bool) -> States | None:
    barred = _barred(harmony, left, held)
    if barred is None:
        return None
    states: list[Voicing] = []
    costs: list[dict[str, int]] = []
    held_degree = None if held == NO_HELD else harmony.degree_of(held % 12)
    left_classes = {m % 12 for m in left}
    told: dict[tuple[str, ...], dict[str, int] | None] = {}
    for voicing in pool:
        midis = voicing.midis
        if not barred.isdisjoint(midis):
            continue
        if finger and not _gripped(midis, held, level, size):
            continue
        if voicing.degrees not in told:
            degrees = {*voicing.degrees, *left_degrees}
            told[voicing.degrees] = _told(harmony, level, frozenset(degrees), held_degree)
        said = told[voicing.degrees]
        if said is None:
            continue
        terms = {
            **said,
            "right register": WEIGHTS["right register"] * abs(midis[0] + midis[-1] - 2 * aim)
            // 4,
            "low intervals": WEIGHTS["low intervals"] * MUD.cost((*left, *midis)),
            "doubled": WEIGHTS["doubled"] * len(left_classes & {m % 12 for m in midis}),
            "second inside": WEIGHTS["second inside"] * sum(
                b - a == 1 for a, b in pairwise(midis)),
        }
        if held != NO_HELD:
            terms["melody doubled"] = WEIGHTS["melody doubled"] * sum(
                (m - held) % 12 == 0 for m in midis)
            if midis[-1] < held:
                terms["under the melody"] = WEIGHTS["under the melody"] * max(
                    3 - (held - midis[-1]), 0)
        below = max([*left, *((held,) if NO_HELD < held < midis[0] else ())], default=midis[0])
        if HOLE.empty(below, midis[0]):
            continue
        terms["hole"] = WEIGHTS["hole"] * max(midis[0] - below - 16, 0)
        states.append(voicing)
        costs.append(terms)
    return States(states, costs) if states else None


@VOICINGS.keep
def _barred(harmony: Harmony, left: tuple[int, ...], held: int) -> frozenset[int] | None:
    """Keys that would rub the held note, or be mud, harsh or a minor ninth with what the left
    hand has down; None where the left hand's own keys are."""
    homes = flat_nine_homes(harmony.symbol)
    bad = harsh_classes(harmony)

    def quarrel(low: int, high: int) -> bool:
        return (MUD.breaks(low, high) or (high - low == 1 and high % 12 in bad)
                or MINOR_NINTH.breaks(low, high, homes))

    if any(quarrel(low, high) for place, low in enumerate(left) for high in left[place + 1:]):
        return None
    barred = {high for low in left for high in _above(low) if quarrel(low, high)}
    if held != NO_HELD:
        barred.add(held)
        barred.update(key for key in (*_near(held, 1), *_near(held, -1))
                      if _rubs((key,), held, harmony))
    return frozenset(barred)


def _near(key: int, way: int) -> range:
    """The keys a half step above (or below) a key, in every octave on that side."""
    return range(key + way, 109 if way > 0 else 20, 12 * way)


def _above(low: int) -> Iterable[int]:
    """The keys above one that may quarrel with it: near ones where it lies low."""
    near = range(low + 1, low + _MUD_REACH) if low < _MUD_BELOW else ()
    return (*near, *_near(low, 1))


@VOICINGS.keep
def _told(harmony: Harmony, level: Level, struck: frozenset[str], sung: str | None
          ) -> dict[str, int] | None:
    """What it costs to tell a chord by the degrees the hands have struck and the melody sings,
    or None where they quarrel."""
    degrees = struck if sung is None else struck | {sung}
    if not compatible(degrees - {"bass"}) or _other_chord(harmony, degrees):
        return None
    plain = level.comp.strict and not any(degree_number(d) > 7 for d in degrees
                                            if d != "bass")
    told = holds_guides(harmony, tuple(degrees))
    return {
        "guides": WEIGHTS["guides"] * (not told),
        "told by the melody": WEIGHTS["told by the melody"] * (
            told and not holds_guides(harmony, tuple(struck))),
        "missing colour": WEIGHTS["missing colour"]
        * _missing(required_degrees(harmony), degrees) // level.comp.colour_share,
        "plain": WEIGHTS["plain"] * plain,
        "altered": _altered_cost(harmony, degrees),
        "no root": _rootless_cost(harmony, degrees),
    }


def _other_chord(harmony: Harmony, degrees: Collection[str]) -> bool:
    """Is this a diminished chord with an added tone and without its third or fifth? It would
    be heard as another chord: C sharp, B flat, F sharp and E are no C sharp diminished."""
    if harmony.symbol.quality != "diminished":
        return False
    classes = {degree_pitch_class(d) for d in degrees if d != "bass"}
    own = {degree_pitch_class(d) for d in harmony.symbol.degrees}
    return bool(classes - own) and not {3, 6} <= classes


def _rootless_cost(harmony: Harmony, degrees: Collection[str]) -> int:
    """Over a bass that is the third, the fifth or the seventh a chord is told by its root."""
    return WEIGHTS["no root"] * (is_inversion(harmony) and "1" not in degrees)


def _altered_cost(harmony: Harmony, degrees: Collection[str]) -> int:
    return WEIGHTS["altered"] * any(altered_by_choice(harmony, d) for d in degrees)


def _missing(required: tuple[str, ...], degrees: Collection[str]) -> int:
    present = {degree_pitch_class(d) for d in degrees if d != "bass"}
    return sum(not any(degree_pitch_class(d) in present for d in group.split("|"))
               for group in required)


@VOICINGS.keep
def both_states(harmony: Harmony, texture: Texture, level: Level, size: str, held: int, aim: int
                ) -> States | None:
    """Two-hand voicings of a texture, or None."""
    kinds = RIGHT_KINDS[texture.right]
    pool = [v for v in two_hand_voicings(harmony, level, size, top=76, bottom=45)
            if v.kind in kinds and texture.voices[0] <= len(v.pitches) <= texture.voices[1]]
    if held != NO_HELD:
        pool = [v for v in pool if v.midis[-1] < held]
    return _judged(harmony, tuple(pool), level, size, (), (), held, aim, False)
