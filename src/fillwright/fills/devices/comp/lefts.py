"""Which voicings the left hand may choose from at one stroke."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

from fillwright.fills.devices.comp.kinds import LEFT_KINDS
from fillwright.fills.devices.comp.states import (
    NO_HELD,
    WEIGHTS,
    States,
    altered_cost,
    degrees_are_plain,
    is_altered,
    is_other_chord,
    missing,
    rootless_cost,
    rubs,
)
from fillwright.fills.player import Palette, Player
from fillwright.fills.voicing.forms import VoicingForm, bass_degree, colours, required_degrees
from fillwright.fills.voicing.voicings import (
    Voicing,
    form_voicings,
    holds_guides,
    left_hand_voicings,
)
from fillwright.hands.chords import finger_rolled
from fillwright.hands.reach import rolled_span_ok
from fillwright.memory import VOICINGS
from fillwright.rules.sound import MUD
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import NoteName, spelled

__all__ = ["Asked", "left_states"]

LOWEST_ROOTLESS = 50
"""No rootless chord lies lower: below D3 its inner second is thick (common practice)."""

HIGHEST_LONE_ROOT = 55
"""A bass note struck alone is heard as the bass up to G3 (common practice)."""

_TOP = 69  # the left hand's chords reach up to A4 at most (common practice)

_ROOTLESS = ("rootless", "three-note rootless")
_BROKEN = ("broken", "broken tenth")

_ROOMS = MappingProxyType({
    # family: where its lowest key lies at ease, MIDI numbers (common practice)
    **dict.fromkeys(_ROOTLESS, (50, 58)), **dict.fromkeys(_BROKEN, (36, 52)),
    "low fifth": (34, 45), "pedal": (36, 50), "guides": (51, 59), "low root": (36, 45),
    "last root": (28, 36),
})
_LIFTED = MappingProxyType({"root": (38, 49), "under line": (38, 49)})
_USUAL = (41, 52)
"""The same where the hand goes up with the right hand: of single roots, and of all others."""

_OVER_A_BASS = MappingProxyType({
    # family: least and greatest number of keys over the bass of a slash chord
    "root": (1, 1), "low root": (1, 1), "last root": (1, 1), "under line": (1, 1),
    "two-note shell": (2, 2), "open": (2, 2), "tenth": (1, 2), "shell": (3, 3)})

_PEDALS = (33, 54)
"""MIDI numbers from which up to below which a pedal point lies: A1 to F3 (common
practice)."""

_ONLY_AS_NAMED = (*_ROOTLESS, "tenth", "guides", "pedal", *_BROKEN)
"""Families in whose place nothing else is played."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What the left hand is asked for at a stroke.

    family  a key of `LEFT_KINDS`
    held    the held note while it sounds, -1 where it does not
    alone   nothing else tells the chord: the hand and the held note must hold its guides
    lift    semitones by which the hand lies higher, under a right hand that lies high
    roll    the tempo leaves time to roll a tenth beyond the reach
    lent    the held note ends long before what is struck does, and tells nothing of it
    pedal   the bass that stays, in the family of that name
    """

    family: str
    held: int = NO_HELD
    alone: bool = False
    lift: int = 0
    roll: bool = False
    lent: bool = False
    pedal: NoteName | None = None

    @property
    def top(self) -> int:
        return _TOP if self.held == NO_HELD else min(_TOP, self.held - 2)

    @property
    def room(self) -> tuple[int, int]:
        if self.family in _ROOMS:
            return _ROOMS[self.family]
        low, high = _LIFTED.get(self.family, _USUAL)
        return low + self.lift, high + self.lift


@VOICINGS.keep
def left_states(harmony: Harmony, player: Player, asked: Asked) -> States | None:
    """Left-hand voicings of a family, or None."""
    held, alone = asked.held, asked.alone
    kinds = LEFT_KINDS[asked.family]
    low, high = asked.room
    strict = player.level.comp.strict
    required = required_degrees(harmony) if alone else ()
    natural = [d for d in required if strict and not is_altered(d)]
    states: list[Voicing] = []
    costs: list[dict[str, int]] = []
    for voicing in _chosen(harmony, player, asked):
        midis = voicing.midis
        if held != NO_HELD and rubs(midis, held, harmony):
            continue
        degrees = list(voicing.degrees)
        if held != NO_HELD:
            degree = harmony.degree_of(held % 12)
            degrees += [] if degree is None else [degree]
        if alone and len(degrees) > 2 and is_other_chord(harmony, degrees):
            continue
        untold = alone and not holds_guides(harmony, voicing.degrees if asked.lent else degrees)
        sung = alone and not untold and not holds_guides(harmony, voicing.degrees)
        register = max(low - midis[0], 0) + max(midis[0] - high, 0)
        order = kinds.index(voicing.kind) if voicing.kind in kinds else 0
        states.append(voicing)
        above = max(midis[0] - HIGHEST_LONE_ROOT, 0) if len(midis) == 1 else 0
        costs.append({"left register": WEIGHTS["left register"] * register + min(order, 4),
                      "high root": WEIGHTS["high root"] * above,
                      "guides": WEIGHTS["guides"] if untold else 0,
                      "told by the melody": WEIGHTS["told by the melody"] * sung
                      * (3 if strict else 1),
                      "missing colour": WEIGHTS["colour of a shell"]
                      * missing(natural, set(degrees)),
                      "missing alteration": WEIGHTS["missing alteration"]
                      * missing(filter(is_altered, required), set(degrees)),
                      "altered": altered_cost(harmony, voicing.degrees),
                      "plain": 2 * WEIGHTS["plain"] * (
                          alone and strict and degrees_are_plain(degrees)),
                      "no root": alone * rootless_cost(harmony, degrees),
                      "low intervals": WEIGHTS["low intervals"] * MUD.cost(midis)})
    return States(states, costs) if states else None


def _chosen(harmony: Harmony, player: Player, asked: Asked) -> list[Voicing]:
    """The voicings of a family, or what stands for them over this chord."""
    family, kinds, size = asked.family, LEFT_KINDS[asked.family], player.hand.name
    pool = _pool(harmony, player, asked)
    chosen = [v for v in pool if v.kind in kinds and not _turns_into_another(harmony, v)]
    if bass_degree(harmony) is not None and family != "guides":
        if family not in _OVER_A_BASS:
            return []
        least, most = _OVER_A_BASS[family]
        chosen = ([v for v in pool if least <= len(v.pitches) <= most]
                  or [v for v in pool if len(v.pitches) <= most])
    if asked.alone and family == "shell":
        # under a low melody note two notes may be all that fits
        chosen += [v for v in pool if v.kind in LEFT_KINDS["two-note shell"]]
        # and over a root that goes by fourths the seventh below the tenth leads best
        chosen += [v for v in pool if v.kind == "spread 1-7-10"]
    if not chosen and family not in _ONLY_AS_NAMED:
        chosen = [v for v in pool if v.kind in ("triad", "root and fifth", "root",
                                                "root, fifth, octave")]
        longest = max((len(v.pitches) for v in chosen), default=0)
        chosen = [v for v in chosen if len(v.pitches) == longest]
    if asked.roll and (family == "broken tenth" or (family == "tenth" and not chosen)):
        chosen = [*chosen, *(v for v in _rolled_tenths(harmony, size, asked.top)
                             if v.kind in kinds and v not in chosen)]
    return chosen


def _pool(harmony: Harmony, player: Player, asked: Asked) -> tuple[Voicing, ...]:
    """What a family is chosen from."""
    level, size, top = player.level, player.hand.name, asked.top
    if asked.family in _ROOTLESS:
        return left_hand_voicings(harmony, level, size, low=LOWEST_ROOTLESS, top=top,
                                  rootless=True)
    if asked.family == "pedal":
        return _pedals(harmony, asked.pedal)
    if asked.family == "low fifth":
        return _low_fifths(harmony, size, top)
    if asked.family == "guides":
        return _guide_voicings(harmony, size, top)
    return left_hand_voicings(harmony, level, size, low=33, top=top)


def _turns_into_another(harmony: Harmony, voicing: Voicing) -> bool:
    """With the sixth at the bottom and the root gone, or nothing besides third, fifth and sixth,
    a major chord is its relative minor."""
    if harmony.third != "3" or harmony.seventh not in ("6", "7"):
        return False
    return voicing.degrees[0] in ("6", "13") or {*voicing.degrees} in (
        {"3", "5", "6"}, {"3", "5", "13"})


@VOICINGS.keep
def _low_fifths(harmony: Harmony, size: str, top: int) -> tuple[Voicing, ...]:
    """The fifth as a bass note in turn with the root; the root where the chord has none."""
    fifth = colours(harmony, Palette.NAMED).fifth or "1"
    return form_voicings(harmony, VoicingForm("low fifth", (fifth,), 1), size, low=33,
                         top=min(top, 50))


def _pedals(harmony: Harmony, name: NoteName | None) -> tuple[Voicing, ...]:
    """The bass that stays, low down."""
    degree = None if name is None else harmony.degree_of(name.pitch_class)
    if name is None or degree is None:
        return ()
    return tuple(Voicing("pedal point", (degree,), (spelled(name, midi),), 1)
                 for midi in range(*_PEDALS) if midi % 12 == name.pitch_class)


@VOICINGS.keep
def _guide_voicings(harmony: Harmony, size: str, top: int) -> tuple[Voicing, ...]:
    """Third and seventh alone in the left hand; with a raised or lowered fifth that the symbol
    names, without which it would be another chord."""
    c = colours(harmony, Palette.NAMED)
    guides = c.guides
    if len(guides) < 2:
        return ()
    kind = "third and fifth" if c.bare else "guide tones"
    if not c.bare and c.fifth in ("#5", "b5"):
        kind, guides = "guide tones and fifth", (guides[0], c.fifth, guides[1])
    found: list[Voicing] = []
    for row in (guides, (*guides[-1:], *guides[:-1])):
        found += form_voicings(harmony, VoicingForm(kind, row, len(row)), size, low=48, top=top)
    return tuple(found)


@VOICINGS.keep
def _rolled_tenths(harmony: Harmony, size: str, top: int) -> tuple[Voicing, ...]:
    """Tenths beyond the reach, to be rolled (facts of reach: `hands.reach`)."""
    third, fifth = harmony.third, colours(harmony, Palette.NAMED).fifth
    if third not in ("3", "b3") or bass_degree(harmony) is not None:
        return ()
    forms = [VoicingForm("tenth", ("1", "^" + third), 2)]
    if fifth is not None:
        forms.append(VoicingForm("spread 1-5-10", ("1", fifth, third), 3))
    seventh = colours(harmony, Palette.NAMED).shell
    if seventh is not None:
        forms.append(VoicingForm("spread 1-7-10", ("1", seventh, third), 3))
    found: list[Voicing] = []
    for form in forms:
        found += [v for v in form_voicings(harmony, form, size, low=34, top=top, rolled=True)
                  if rolled_span_ok(v.midis[0], v.midis[-1], size)
                  and finger_rolled(v.midis, "left", size) is not None]
    return tuple(found)
