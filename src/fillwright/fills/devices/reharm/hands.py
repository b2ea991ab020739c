"""What two hands may strike for one chord: styles, and the pairs of voicings in each.

A *style* says what the hands take at a level: a shell alone under the held note, a root
with two notes, a shell with a few notes, a chord for both hands. `hand_pairs` gives the pairs
of a left-hand and a right-hand voicing that fit under (or, once it is let go, beside) the held
note, cheapest first.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

from fillwright.fills.devices.reharm.function import letter
from fillwright.fills.devices.reharm.sound import crowded, heard_as_printed
from fillwright.fills.player import ADVANCED, BEGINNER, INTERMEDIATE, Level
from fillwright.fills.voicing.voicings import (
    Voicing,
    holds_guides,
    left_hand_voicings,
    right_hand_voicings,
    two_hand_voicings,
)
from fillwright.hands.chords import finger_chord
from fillwright.memory import SEARCHES
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.sound import HOLE, MINOR_NINTH, MUD, RUB
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch

__all__ = ["STYLES", "THIRDS", "Hands", "Style", "hand_pairs"]

WEIGHTS = MappingProxyType({
    # term: integer cost per unit; design choices within common practice
    "hole": 1,             # semitone beyond a twelfth between the hands
    "near the melody": 5,  # a key a whole step under the held note: it blurs the melody
    "octave inside": 4,    # the right hand doubles a key of its own
    "doubling": 3,         # a tone other than the root in both hands
    "register": 1,         # place in the voicing lists, which stand best register first
    "high bass": 1,        # semitone of the lowest key above G3
    "third left out": 80,  # a shell that leaves the third to the ear, where there is another
    "seventh left out": 8,  # or the seventh
    "sixth without its fifth": 10,  # it is heard as the minor chord a third below
    "thin": 4,             # a right hand that rests while it could play
    "colour": 2,           # a tension left out that the level would play
})

_ALONE = 28
"""Semitones between a left hand that plays alone and the melody above it: more sounds empty."""

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
    line: bool = False  # a voice sets off from the root: the seventh may wait for it


_SHELLS = ("shell 1-7", "shell 1-3", "shell 1-6", "shell 1-4", "shell 1-2", "tenth", "bass and",
           "root and fifth")

THIRDS = ("shell 1-3", "tenth", "bass and 5")

STYLES: MappingProxyType[Level, tuple[Style, ...]] = MappingProxyType({
    BEGINNER: (
        Style("root and third or seventh", _SHELLS, 0, 0, 36),
        Style("root, two notes above", ("root", "root and fifth", "bass"), 1, 2, 36),
    ),
    INTERMEDIATE: (
        Style("shells and two notes", (*_SHELLS, "root"), 1, 2, 36),
        Style("shells and three notes", (*_SHELLS, "root"), 2, 3, 36),
        Style("shells alone", _SHELLS, 0, 0, 36),
    ),
    ADVANCED: (
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


@SEARCHES.keep
def hand_pairs(harmony: Harmony, level: Level, size: str, style: Style, held: int | None,
               ceiling: int, telling: tuple[frozenset[int], ...] = (), added: bool = False,
               pedalled: bool = False) -> tuple[tuple[Hands, ...], tuple[int, ...]]:
    """Pairs of hands for a chord, cheapest first, with their costs.

    held      the key the right hand holds down meanwhile, or None
    ceiling   the highest key to be used
    telling   sets of pitch classes of which one each must be heard
    added     not on the chart: it has to be told from the keys alone
    pedalled  the pedal keeps the held note: the right hand is free, and strikes something
    """
    found: list[tuple[int, Hands]] = []
    homes = flat_nine_homes(harmony.symbol)
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
                                               top=min(67 if style.left == THIRDS else 62,
                                                       ceiling))
                 if v.kind.startswith(style.left)]
        rights: list[Voicing | None] = []
        if not pedalled and (style.least == 0 or held is not None):
            rights.append(None)
        if style.most:
            low = 48 if held is None or pedalled else max(48, held - 14)
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
        if held is not None and (midis[-1] >= held or RUB.cost(midis, held, homes)):
            continue
        if _too_wide(hands, None if pedalled else held, level):
            continue
        heard = (*hands.degrees, *spared)
        if not holds_guides(harmony, heard) and not (not added and _plain_triad(harmony, heard)):
            if not _near_enough(harmony, heard, style):
                continue
            told = harmony.third is None or degree_pitch_class(harmony.third) in {
                degree_pitch_class(d) for d in heard if d != "bass"}
            if not (told and style.line):
                cost += WEIGHTS["seventh left out" if told else "third left out"]
        if _sixth_alone(harmony, heard):
            cost += WEIGHTS["sixth without its fifth"]
        sound = {m % 12 for m in midis} | (set() if held is None else {held % 12})
        if any(not (own & sound) for own in telling):
            continue
        if not _own_tones_heard(harmony, heard):
            continue
        if added and not heard_as_printed(harmony, heard, level.reharm.tells_all):
            continue
        if crowded(midis, root, third) or (harmony.symbol.quality == "diminished" and any(
                b - a == 1 for a, b in pairwise(midis))):
            continue
        if MUD.pairs(midis) or MINOR_NINTH.cost(midis, homes):
            continue
        if hands.right is not None and held is not None and not pedalled and finger_chord(
                (*hands.right.midis, held), "right", size) is None:
            continue
        if right_low is not None:
            gap = right_low - left_top
            if HOLE.breaks(left_top, right_low) and (hands.right is not None or gap > _ALONE):
                continue
            cost += WEIGHTS["hole"] * max(gap - 19, 0)
        if held is not None and midis[-1] == held - 2:
            cost += WEIGHTS["near the melody"]
        if hands.right is not None:
            own = [m % 12 for m in hands.right.midis]
            cost += WEIGHTS["octave inside"] * (len(own) - len(set(own)))
            left_classes = {m % 12 for m in hands.left.midis}
            cost += WEIGHTS["doubling"] * sum(m % 12 in left_classes and m % 12 != root
                                              for m in hands.right.midis)
        cost += WEIGHTS["high bass"] * max(midis[0] - 55, 0)
        if level.reharm.wants_colour and style.most:
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


def _too_wide(hands: Hands, held: int | None, level: Level) -> bool:
    """Whether a hand spans more than its level has in the hand, the held note counted in."""
    right = () if hands.right is None else hands.right.midis
    if held is not None:
        right = (*right, held)
    filled, empty = level.reharm.spans
    return any(keys[-1] - keys[0] > (filled if len(keys) > 2 else empty)
               for keys in (hands.left.midis, right) if keys)


def _plain_triad(harmony: Harmony, degrees: tuple[str, ...]) -> bool:
    """A triad on the page may be played as the triad it is."""
    symbol = harmony.symbol
    if symbol.seventh is not None or symbol.quality not in ("major", "minor"):
        return False
    present = {degree_pitch_class(d) for d in degrees if d != "bass"}
    return {0, 7} <= present and harmony.third is not None and (
        degree_pitch_class(harmony.third) in present)


def _sixth_alone(harmony: Harmony, degrees: tuple[str, ...]) -> bool:
    """A major chord with its sixth and without its fifth."""
    present = {degree_pitch_class(d) for d in degrees if d != "bass"}
    return letter(harmony) == "M" and _SIXTH in present and _FIFTH not in present and (
        harmony.symbol.seventh is None)


_FIFTH, _SIXTH = 7, 9


def _near_enough(harmony: Harmony, degrees: tuple[str, ...], style: Style) -> bool:
    """A shell of two notes may leave the third or the seventh to the ear (common practice)
    where the right hand holds or rests."""
    if style.line:
        return harmony.third is None or degree_pitch_class(harmony.third) in {
            degree_pitch_class(d) for d in degrees if d != "bass"}
    if style.most:
        return False
    present = {degree_pitch_class(d) for d in degrees if d != "bass"}
    if letter(harmony) == "7":  # a dominant lives by both
        return False
    if harmony.symbol.seventh is None and harmony.third is not None:  # a triad by its third
        return degree_pitch_class(harmony.third) in present
    return any(degree_pitch_class(d) in present
               for d in (harmony.third, harmony.seventh) if d is not None)
