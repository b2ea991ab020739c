"""Which voicings the right hand, or both, may choose from at one stroke."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from fillwright.fills.devices.comp.inner import MovingVoice, line_voicings, pair_voicings
from fillwright.fills.devices.comp.kinds import RIGHT_KINDS
from fillwright.fills.devices.comp.states import (
    NO_HELD,
    WEIGHTS,
    States,
    altered_cost,
    is_altered,
    is_other_chord,
    missing,
    rootless_cost,
    rubs,
)
from fillwright.fills.devices.comp.texture import Texture
from fillwright.fills.player import Level, Palette, Player
from fillwright.fills.situation import Task
from fillwright.fills.voicing.forms import (
    VoicingForm,
    colours,
    compatible,
    is_inversion,
    required_degrees,
)
from fillwright.fills.voicing.voicings import (
    Voicing,
    form_voicings,
    holds_guides,
    locked_voicings,
    right_hand_voicings,
    two_hand_voicings,
)
from fillwright.hands.chords import playable
from fillwright.hands.reach import MAX_NOTES, comfortable
from fillwright.memory import VOICINGS
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.close import HARSH
from fillwright.rules.sound import HOLE, LENIENT_LIMITS, MINOR_NINTH, MUD
from fillwright.theory.chord import degree_number
from fillwright.theory.harmony import Harmony

__all__ = ["Register", "Under", "both_states", "keepable", "moving_states", "right_states",
           "room_of", "scrapes"]

_MUD_REACH = 1 + max(LENIENT_LIMITS)
_MUD_BELOW = max(map(MUD.limit, LENIENT_LIMITS))
_HIGHEST = 96  # the right hand's up to C7

_SHRILL = 89
"""A chord in the top register goes up to F6: above it chords are shrill (common practice)."""

_LOWEST_LOCKED, _HIGHEST_LOCKED = 65, 86
"""Tops of locked hands lie from F4 to D6 (common practice)."""


_FULL = 3
"""Keys under a held note that take all fingers but one (common practice)."""


@dataclass(frozen=True, slots=True)
class Register:
    """Lowest and highest key, and where the middle should be."""

    low: int
    top: int
    aim: int


@dataclass(frozen=True, slots=True)
class Under:
    """What else sounds at a stroke of the right hand.

    keys      the left hand's, from low to high
    degrees   of its keys over the chord, the same ones or fewer (see `search`)
    held      the held note while it sounds, -1 where it does not
    finger    the right hand keeps the held note with a finger meanwhile
    lent      the held note ends long before what is struck does, and tells nothing of it
    passing   keys that the left hand strikes one after another meanwhile
    brief     those of the degrees that the left hand lets go long before what is struck ends
    ends      the tune ends with this stroke, and its last note is to be on top
    """

    keys: tuple[int, ...] = ()
    degrees: tuple[str, ...] = ()
    held: int = NO_HELD
    finger: bool = False
    passing: tuple[int, ...] = ()
    lent: bool = False
    brief: frozenset[str] = frozenset()
    ends: bool = False

    @property
    def floor(self) -> int:
        """The lowest key that is free."""
        return max((*self.keys, *self.passing), default=-1) + 1

    @property
    def is_held(self) -> bool:
        return self.held != NO_HELD


@VOICINGS.keep
def right_states(harmony: Harmony, texture: Texture, player: Player, under: Under, room: Register
                 ) -> States | None:
    """Right-hand voicings over the left hand's keys, or None."""
    degrees = under.degrees
    if texture.right == "melody on top" and not under.lent:  # the note is part of the voicing
        sung = harmony.degree_of(under.held % 12)
        degrees += () if sung is None else (sung,)
    floor = max(room.low, under.floor)
    ceiling = min(room.top, under.held - 2) if under.finger else room.top
    if ceiling <= floor:
        return None
    chosen = _chosen(harmony, texture, player, under, (room, floor, ceiling))
    return _judged(harmony, tuple(chosen), player, replace(under, degrees=degrees), room.aim)


def _chosen(harmony: Harmony, texture: Texture, player: Player, under: Under,
            bounds: tuple[Register, int, int]) -> list[Voicing]:
    """The voicings of a texture, or what stands for them over this chord.

    bounds   the room, and between which keys of it something may be struck
    """
    (least, most), kinds = texture.voices, RIGHT_KINDS[texture.right]
    level, size, (room, floor, ceiling) = player.level, player.hand.name, bounds
    if texture.right == "melody on top":
        return [Voicing(v.kind, v.degrees[:-1], v.pitches[:-1], v.left) for v in
                right_hand_voicings(harmony, level, size, low=room.low, top=under.held, most=4)
                if v.midis[-1] == under.held and v.midis[0] >= floor and v.kind in kinds
                and least < len(v.pitches) <= most + 1]
    pool = [v for v in right_hand_voicings(harmony, level, size, low=room.low, top=room.top,
                                           most=most)
            if v.midis[0] >= floor and v.midis[-1] <= ceiling]
    chosen = [v for v in pool if least <= len(v.pitches) <= most and (
        v.kind in kinds or (texture.right == "fourths" and _stacked_fourths(v.midis)))]
    if texture.right in ("guides", "two") and (under.ends or is_inversion(harmony)):
        chosen += [v for v in _with_root(harmony, size, room.low)
                   if v.midis[0] >= floor and v.midis[-1] <= ceiling]
    if not chosen and texture.right in ("one", "two", "guides", "three") and (
            harmony.third is None or harmony.seventh is None):
        chosen = [v for v in pool if len(v.pitches) <= 3]
    return chosen


@VOICINGS.keep
def moving_states(harmony: Harmony, voice: tuple[MovingVoice, str, tuple[int, int]], player: Player,
                  under: Under, room: Register) -> States | None:
    """Right-hand keys with a moving voice on a degree at the bottom, or None.

    voice   its line, its degree, and least and greatest number of keys
    """
    line, degree, voices = voice
    held = under.held
    floor = max(room.low, under.floor)
    ceiling = min(room.top, held - 2) if under.is_held else room.top
    pool = _moving_pool(harmony, (line, degree, voices), player, (floor, ceiling))
    barred = _barred(harmony, under.keys, under.passing, held)
    if barred is None:
        return None
    sung = harmony.degree_of(held % 12) if under.is_held else None
    states: list[Voicing] = []
    costs: list[dict[str, int]] = []
    for voicing in pool:
        midis = voicing.midis
        degrees = {*voicing.degrees, *under.degrees, *([] if sung is None else [sung])} - {"bass"}
        if (not barred.isdisjoint(midis) or not compatible(degrees)
                or (under.is_held and (any(scrapes(harmony, m % 12, held - m)
                                           for m in midis[:line.voices])
                                       or not _gripped(midis, held, player, len(under.keys))))):
            continue
        below = max(under.keys, default=midis[0])
        if HOLE.empty(below, midis[0]):
            continue
        told = holds_guides(harmony, (
            *((*voicing.degrees, *under.degrees) if under.lent else degrees), *line.degrees,
            *line.along))
        states.append(voicing)
        costs.append({"guides": 0 if told else WEIGHTS["guides"],
                      "thin": WEIGHTS["thin"] * (len(midis) < voices[1]),
                      "hole": WEIGHTS["hole"] * max(midis[0] - below - 16, 0),
                      **_placed(midis, under, room.aim)})
    return States(states, costs) if states else None


def _moving_pool(harmony: Harmony, voice: tuple[MovingVoice, str, tuple[int, int]],
                 player: Player, room: tuple[int, int]) -> tuple[Voicing, ...]:
    """What may be struck while a voice, or two that go together, stand on a degree."""
    line, degree, voices = voice
    if room[0] >= room[1]:
        return ()
    if line.along:
        return pair_voicings(harmony, (degree, line.along[line.degrees.index(degree)]), player,
                             room)
    return line_voicings(harmony, (degree, *line.degrees), player, room, voices)


def scrapes(harmony: Harmony, tone: int, below: int) -> bool:
    """Does a tone that the chord does not have, so many semitones below the held note, scrape
    along it? A major seventh is no consonance but over the root, or a third, of its chord."""
    return below % 12 == 11 and not harmony.is_tone(tone)


def _placed(midis: Sequence[int], under: Under, aim: int) -> dict[str, int]:
    """What keys pay for where they lie, over those of the left hand."""
    return {
        "right register": WEIGHTS["right register"] * abs(midis[0] + midis[-1] - 2 * aim) // 4,
        "low intervals": WEIGHTS["low intervals"] * MUD.cost((*under.keys, *midis)),
        "doubled": WEIGHTS["doubled"] * len({m % 12 for m in under.keys} & {
            m % 12 for m in midis})}


def _gripped(midis: Sequence[int], held: int, player: Player, left_keys: int = 2) -> bool:
    """Can the right hand keep the held note over these keys at its level's ease? With three keys
    or more between, it does not stretch beyond what is comfortable: it cannot roll them."""
    size = player.hand.name
    return (player.level.voicing.grips(len(midis) + 1, held - midis[0], left_keys)
            and (len(midis) < _FULL or comfortable(midis[0], held, size))
            and playable((*midis, held), "right", size))


def _shared_out(voicing: Voicing, under: Under, player: Player) -> bool:
    """Do the hands share what is struck, so that the right one spans what its level has in hand?"""
    keys = len(under.keys) or voicing.left
    right = voicing.midis[voicing.left:]
    if under.finger:
        return _gripped(voicing.midis, under.held, player, keys)
    return keys > 1 or not right or player.level.voicing.grips(len(right), right[-1] - right[0],
                                                               keys)


def keepable(states: States, held: int, harmony: Harmony, size: str
             ) -> npt.NDArray[np.int64]:
    """1 for each voicing that the same hand could play while it keeps the held note."""
    return np.array([_keepable(v.midis[v.left:], held, harmony, size) for v in states.voicings],
                    dtype=np.int64)


@VOICINGS.keep
def _keepable(midis: tuple[int, ...], held: int, harmony: Harmony, size: str) -> bool:
    return (0 < len(midis) < MAX_NOTES and midis[-1] < held and not rubs(midis, held, harmony)
            and playable((*midis, held), "right", size))


@VOICINGS.keep
def _with_root(harmony: Harmony, size: str, low: int) -> tuple[Voicing, ...]:
    """The root with another chord tone, for a right hand over the bass of an inversion and for one
    that comes back to a tune's last note."""
    c = colours(harmony, Palette.NAMED)
    found: list[Voicing] = []
    for other in (c.third, c.fifth):
        for row in (("1", other), (other, "1")) if other is not None else ():
            found += form_voicings(harmony, VoicingForm("root and chord tone", row), size, low=low,
                                   top=_HIGHEST)
    return tuple(found)


def _stacked_fourths(midis: tuple[int, ...]) -> bool:
    """Fourths from key to key, one augmented at most, whatever else the chord is called."""
    steps = [b - a for a, b in pairwise(midis)]
    return set(steps) <= {5, 6} and steps.count(6) < 2


def _judged(harmony: Harmony, pool: tuple[Voicing, ...], player: Player, under: Under, aim: int
            ) -> States | None:
    """Those voicings that quarrel with nothing, and what each pays."""
    held = under.held
    barred = _barred(harmony, under.keys, under.passing, held)
    if barred is None:
        return None
    states: list[Voicing] = []
    costs: list[dict[str, int]] = []
    held_degree = harmony.degree_of(held % 12) if under.is_held else None
    told: dict[tuple[str, ...], dict[str, int] | None] = {}
    tendencies = _tendencies(harmony) & {key % 12 for key in under.keys}
    for voicing in pool:
        midis = voicing.midis
        if not barred.isdisjoint(midis) or not _shared_out(voicing, under, player):
            continue
        if voicing.degrees not in told:
            degrees = {*voicing.degrees, *under.degrees}
            rings = frozenset(degrees - under.brief | {*voicing.degrees})
            told[voicing.degrees] = _told(harmony, player.level, (frozenset(degrees), rings),
                                          held_degree, under.lent)
        said = told[voicing.degrees]
        below = max([*under.keys, *((held,) if NO_HELD < held < midis[0] else ())],
                    default=midis[0])
        if said is None or any(HOLE.empty(key, midis[0]) for key in (below, *under.passing)):
            continue
        terms = {**said, **_placed(midis, under, aim),
                 "tendency doubled": WEIGHTS["tendency doubled"] * len(
                     tendencies & {m % 12 for m in midis}),
                 "second inside": WEIGHTS["second inside"] * sum(
                     b - a == 1 for a, b in pairwise(midis)),
                 "hole": WEIGHTS["hole"] * max(midis[0] - below - 16, 0)}
        if under.is_held:
            terms["melody doubled"] = WEIGHTS["melody doubled"] * sum(
                (m - held) % 12 == 0 for m in midis)
            if midis[-1] < held:
                terms["under the melody"] = WEIGHTS["under the melody"] * max(
                    3 - (held - midis[-1]), 0)
        states.append(voicing)
        costs.append(terms)
    return States(states, costs) if states else None


def _tendencies(harmony: Harmony) -> set[int]:
    """Pitch classes that want to go on, so that one voice has them: the third of a dominant, a
    seventh (common practice)."""
    leading = harmony.symbol.quality == "dominant" and harmony.third == "3"
    degrees = ["3"] * leading + [d for d in ("b7", "7") if d in harmony.symbol.degrees]
    return {harmony.symbol.name_of(degree).pitch_class for degree in degrees}


@VOICINGS.keep
def _barred(harmony: Harmony, left: tuple[int, ...], passing: tuple[int, ...], held: int
            ) -> frozenset[int] | None:
    """Keys that would rub the held note, or be mud, harsh or a minor ninth with what the left
    hand has down, or mud over what passes; None where the left hand's own keys are."""
    homes = flat_nine_homes(harmony.symbol)
    bad = HARSH.classes(harmony)

    def quarrel(low: int, high: int) -> bool:
        return (MUD.breaks(low, high) or (high - low == 1 and high % 12 in bad)
                or MINOR_NINTH.breaks(low, high, homes))

    if any(quarrel(low, high) for place, low in enumerate(left) for high in left[place + 1:]):
        return None
    barred = {high for low in left for high in _above(low) if quarrel(low, high)}
    barred |= {high for low in passing for high in _above(low) if MUD.breaks(low, high)}
    if held != NO_HELD:
        barred.add(held)
        barred.update(key for key in (*_near(held, 1), *_near(held, -1))
                      if rubs((key,), held, harmony))
    return frozenset(barred)


def _near(key: int, way: int) -> range:
    """The keys a half step above (or below) a key, in every octave on that side."""
    return range(key + way, 109 if way > 0 else 20, 12 * way)


def _above(low: int) -> Iterable[int]:
    """The keys above one that may quarrel with it: near ones where it lies low."""
    near = range(low + 1, low + _MUD_REACH) if low < _MUD_BELOW else ()
    return (*near, *_near(low, 1))


@VOICINGS.keep
def _told(harmony: Harmony, level: Level, hands: tuple[frozenset[str], frozenset[str]],
          sung: str | None, lent: bool) -> dict[str, int] | None:
    """What it costs to tell a chord by the degrees the hands have struck and the melody sings
    (which tells nothing where it is lent), or None where they quarrel.

    hands   the degrees that are down when it is struck, and those of them that ring on
    """
    struck, rings = hands
    degrees = struck if sung is None else struck | {sung}
    if not compatible(degrees - {"bass"}) or is_other_chord(harmony, degrees):
        return None
    required = required_degrees(harmony)
    plain = level.comp.strict and not any(degree_number(d) > 7 for d in degrees
                                            if d != "bass")
    told = holds_guides(harmony, tuple(
        rings if lent or sung is None else rings | {sung}))
    return {
        "guides": WEIGHTS["guides"] * (not told),
        "told by the melody": WEIGHTS["told by the melody"] * (
            told and not holds_guides(harmony, tuple(rings))),
        "missing colour": WEIGHTS["missing colour"] * missing(
            (d for d in required if not is_altered(d)), degrees) // level.comp.colour_share,
        "missing alteration": WEIGHTS["missing alteration"] * missing(
            filter(is_altered, required), degrees),
        "plain": WEIGHTS["plain"] * plain,
        "altered": altered_cost(harmony, degrees),
        "no root": rootless_cost(harmony, degrees),
    }


@VOICINGS.keep
def both_states(harmony: Harmony, texture: Texture, player: Player, held: int, room: Register
                ) -> States | None:
    """Two-hand voicings of a texture, or None."""
    kinds = RIGHT_KINDS[texture.right]
    every = (locked_voicings(harmony, player.level, player.hand.name, low=room.low, top=room.top)
             if texture.right == "locked" else
             two_hand_voicings(harmony, player.level, player.hand.name, top=76, bottom=45))
    pool = [v for v in every
            if v.kind in kinds and texture.voices[0] <= len(v.pitches) <= texture.voices[1]]
    if held != NO_HELD:
        pool = [v for v in pool if v.midis[-1] < held]
    return _judged(harmony, tuple(pool), player, Under(held=held), room.aim)


def room_of(task: Task, texture: Texture, order: int, count: int
            ) -> Register:
    """Lowest and highest key of the right hand at a stroke, and where its middle should be.

    order, count   which stroke of how many, for textures that change the register
    """
    held = task.held_midi
    around = held if held is not None else task.landing_midi
    if around is None:
        around = 69
    if texture.place == "low":
        return Register(50, 67, 57)
    if texture.right == "locked":  # around the melody, where five voices neither boom nor ping
        return Register(_LOWEST_LOCKED, _HIGHEST_LOCKED, min(max(around - 6, 62), 74))
    if texture.place == "bell" and held is not None:
        return Register(held + 5, min(held + 19, 98), held + 11)
    if texture.place == "above" and held is not None:
        return Register(held + 2, min(held + 22, 96), held + 8)
    if texture.place in ("rising", "falling"):
        part = order / max(count - 1, 1)
        if texture.place == "falling":
            part = 1 - part
        peak = min(max(around + 9, 74), 84)
        return Register(52, 94, int(58 + (peak - 58) * part))
    if texture.place == "under" and held is not None:
        return Register(held - 16, held - 2, held - 7)
    if texture.place == "top":
        low = min(max(67, around - 2), _SHRILL - 12)
        return Register(low, min(low + 22, _SHRILL), min(max(around + 10, 76), _SHRILL - 5))
    return Register(52, 76, min(max(around - 6, 60), 66))
