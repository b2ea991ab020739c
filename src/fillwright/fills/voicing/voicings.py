"""Voicings: degrees of a chord set on keys, for a given hand.

A `Voicing` is what is struck; a `ChordSymbol` is what is named. Every voicing given out
here can be played by the hand it is meant for, holds no minor ninth except a flat nine
over a dominant's root, and does not lie so low that it is mud. The spelling is the
chord's, by degree (`ChordSymbol.voiced_name_of`): a flat nine over G7 is A flat.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise, product
from types import MappingProxyType
from typing import NamedTuple

from fillwright.fills.player import Level
from fillwright.fills.voicing.forms import (
    VoicingForm,
    adds_sixth,
    bass_degree,
    bass_forms,
    is_inversion,
    kind_of,
    rootless_forms,
)
from fillwright.fills.voicing.upper import locked_forms, right_forms, two_hand_forms
from fillwright.hands.chords import playable
from fillwright.hands.reach import span_ok
from fillwright.memory import VOICINGS
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.close import HARSH
from fillwright.rules.sound import MINOR_NINTH, MUD
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Interval, NoteName, Pitch, spelled

__all__ = ["VOICE_CHANGE", "Voicing", "form_voicings", "half_step_off", 
           "holds_guides", "left_hand_voicings", "locked_voicings", "right_hand_voicings",
           "two_hand_voicings",
           "voice_leading"]

_RIGHT_LOW, _RIGHT_TOP = 48, 96  # the right hand's range in comping, C3 to C7
_LEFT_LOW, _LEFT_TOP = 33, 76  # the left hand's, A1 to E5
_BOTH_TOP = 79  # both hands', from the left hand's lowest key to G5

_FLAT_FIFTH = degree_pitch_class("b5")

VOICE_CHANGE = 3
"""Semitones a voice that comes in or drops out counts for (design choice)."""

WEIGHTS = MappingProxyType({
    # term: integer cost per unit; all are design choices within common practice
    "low bottom": 1,      # semitone of the left hand below C3 ...
    "root too low": 2,    # ... and below E2, where a hand alone sounds dark
    "high left": 1,       # semitone of the left hand's top above middle C
    "mud": 2,             # semitone below the strict low interval limits
})


@dataclass(frozen=True, slots=True)
class Voicing:
    """Keys over a chord.

    kind      the kind of voicing, in trade words
    degrees   what each key is over the chord's root, bottom to top ("bass" for a slash
              chord's foreign bass)
    pitches   ascending, spelled
    left      how many of them, from the bottom, the left hand takes
    midis     their MIDI numbers
    """

    kind: str
    degrees: tuple[str, ...]
    pitches: tuple[Pitch, ...]
    left: int
    midis: tuple[int, ...] = field(default=(), compare=False)

    def __post_init__(self) -> None:
        if not self.midis:
            object.__setattr__(self, "midis", tuple(p.midi for p in self.pitches))

    @property
    def left_pitches(self) -> tuple[Pitch, ...]:
        return self.pitches[:self.left]

    @property
    def right_pitches(self) -> tuple[Pitch, ...]:
        return self.pitches[self.left:]


def holds_guides(harmony: Harmony, degrees: Sequence[str]) -> bool:
    """Do these degrees hold what the chord lives by: third (or the fourth of a sus chord) and
    seventh or sixth?

    A sixth over a major third is heard as the relative minor unless the fifth (or the ninth of
    the six-nine colour) is there too; with it, it may stand for a major seventh. A bare triad
    is told by its fifth. A chord that has none of them, such as a power chord, asks for
    nothing. An inverted triad asks for its root in place of the sixth or seventh that a pianist
    adds, which over another bass is another chord.
    """
    present = {degree_pitch_class(d) for d in degrees if d != "bass"}
    bass = harmony.symbol.bass
    if bass is not None and "bass" in degrees:
        present.add(harmony.symbol.relative(bass.pitch_class))
    third = {degree_pitch_class(d) for d in (harmony.third,) if d is not None}
    if "11" in harmony.symbol.degrees and harmony.third == "3":
        third.add(degree_pitch_class("11"))  # a dominant eleventh is played without its third
    if third and third.isdisjoint(present):
        return False
    if harmony.symbol.seventh is None and is_inversion(harmony):
        return degree_pitch_class("1") in present
    return _told_besides(harmony, present)


def _told_besides(harmony: Harmony, present: set[int]) -> bool:
    """Is what tells the chord besides its third among these pitch classes above the root?"""
    symbol, seventh = harmony.symbol, harmony.seventh
    fifth = next((d for d in ("5", "b5", "#5") if d in harmony.tones), None)
    if symbol.seventh is None and symbol.quality == "diminished":
        return _FLAT_FIFTH in present
    if symbol.seventh is None and symbol.quality == "augmented":
        return degree_pitch_class("#5") in present
    if seventh is None:
        return True
    has_fifth = fifth is None or degree_pitch_class(fifth) in present
    if symbol.seventh is None and (adds_sixth(harmony) or symbol.quality == "minor"):
        named = seventh != "6" and degree_pitch_class(seventh) in present
        return has_fifth or named
    sixth = degree_pitch_class("6") in present and (
        harmony.third != "3" or has_fifth or degree_pitch_class("9") in present)
    if seventh == "6":
        return sixth
    stands_in = seventh == "7" and symbol.quality == "major" and sixth
    return stands_in or degree_pitch_class(seventh) in present


def half_step_off(voicing: Voicing, way: int, beside: Sequence[Pitch] = ()) -> Voicing:
    """The same shape a half step below (`way` -1) or above (1), spelled as that chord: every
    tone on the next letter, unless that gives a name nobody reads, or one letter sharp here and
    flat among the notes that sound beside it.

    >>> from fillwright.theory.pitch import Pitch
    >>> notes = tuple(Pitch.parse(name) for name in ("E4", "Bb4"))
    >>> [str(p) for p in half_step_off(Voicing("two notes", ("3", "b7"), notes, 0), -1).pitches]
    ['D#4', 'A4']
    """
    names = product(*((p + Interval(way, way), p + Interval(0, way)) for p in voicing.pitches))
    off = min(names, key=lambda row: _read(row, voicing.pitches, way, beside))
    return Voicing("slide", ("",) * len(voicing.pitches), off, voicing.left)


_ODD = ("E#", "B#", "Fb")
"""Names that a white key's own serves better."""


def _read(row: Sequence[Pitch], goal: Sequence[Pitch], way: int, beside: Sequence[Pitch]) -> int:
    """How hard the names of a slid chord are to read: double accidentals and names nobody reads,
    one letter with two accidentals, sharps with flats; a step along the letters is the rule."""
    letters = {(p.step, p.alter) for p in row}
    return (100 * sum(abs(p.alter) > 1 for p in row)
            + 20 * sum(str(p.note_name) in _ODD for p in row)
            + 10 * (len(letters) - len({step for step, _ in letters}))
            + 10 * sum(p.step == other.step and p.alter * other.alter < 0
                       for p in row for other in beside)
            + 4 * ({1, -1} <= {p.alter for p in row})
            + sum(p != g + Interval(way, way) for p, g in zip(row, goal, strict=True)))


def _name(harmony: Harmony, degree: str) -> NoteName:
    if degree == "bass":
        bass = harmony.symbol.bass
        return harmony.root if bass is None else bass
    return harmony.symbol.voiced_name_of(degree)


class _Speller:
    """The names of a chord's degrees, and the pitches on the keys, worked out once."""

    __slots__ = ("_harmony", "_names", "_pitches")

    def __init__(self, harmony: Harmony) -> None:
        self._harmony = harmony
        self._names: dict[str, NoteName] = {}
        self._pitches: dict[tuple[str, int], Pitch] = {}

    def pitch(self, degree: str, midi: int) -> Pitch:
        found = self._pitches.get((degree, midi))
        if found is None:
            if degree not in self._names:
                self._names[degree] = _name(self._harmony, degree)
            found = self._pitches[degree, midi] = spelled(self._names[degree], midi)
        return found


@VOICINGS.keep
def _speller(harmony: Harmony) -> _Speller:
    return _Speller(harmony)


@dataclass(frozen=True, slots=True)
class _Shape:
    """A form measured: semitones of its keys above the lowest, and the MIDI number below
    which the lowest key makes mud of it. Both are the same for every root."""

    kind: str
    degrees: tuple[str, ...]
    left: int
    heights: tuple[int, ...]
    mud_below: int


def form_voicings(harmony: Harmony, form: VoicingForm, size: str, *, low: int, top: int,
                  rolled: bool = False) -> tuple[Voicing, ...]:
    """All places of a form between two MIDI numbers that the hands can play.

    rolled   the hands may exceed their reach (the chord is to be rolled)
    """
    return tuple(_placed(harmony, _shapes(harmony, (form,)), size, _Room(low, top),
                         known=rolled))


def _shapes(harmony: Harmony, forms: Iterable[VoicingForm]) -> tuple[_Shape, ...]:
    """The forms that hold no minor ninth and nothing harsh, measured."""
    homes = flat_nine_homes(harmony.symbol)
    root = harmony.root.pitch_class
    bad = HARSH.classes(harmony)
    found = []
    for form in forms:
        degrees = tuple(mark.lstrip("^") for mark in form.degrees)
        classes = [_pitch_class(harmony, root, degree) for degree in degrees]
        heights = [0]
        for (before, here), mark in zip(pairwise(classes), form.degrees[1:], strict=True):
            heights.append(heights[-1] + ((here - before) % 12 or 12)
                           + (12 if mark[0] == "^" else 0))
        lowest = _lowest(heights, classes, homes, bad)
        if lowest is not None:
            found.append(_Shape(form.kind, degrees, form.left, tuple(heights), lowest))
    return tuple(found)


def _pitch_class(harmony: Harmony, root: int, degree: str) -> int:
    if degree == "bass":
        return (harmony.symbol.bass or harmony.root).pitch_class
    return (root + degree_pitch_class(degree)) % 12


class _Room(NamedTuple):
    """MIDI numbers that no key lies below or above, and above which no lowest key lies."""

    low: int
    top: int
    highest_bottom: int = 127


def _placed(harmony: Harmony, shapes: Iterable[_Shape], size: str, room: _Room,
            known: bool = False) -> list[Voicing]:
    """All places of some shapes, in their order.

    What a hand can span does not depend on the octave, so it is asked once for each shape; not
    where it is `known`, or does not matter.
    """
    speller = _speller(harmony)
    root = harmony.root.pitch_class
    found: list[Voicing] = []
    for shape in shapes:
        heights = shape.heights
        first = room.low + (_pitch_class(harmony, root, shape.degrees[0]) - room.low) % 12
        last = min(room.top - heights[-1], room.highest_bottom)
        if first > last or not (known or _is_in_reach(shape, first, size)):
            continue
        for bottom in range(first, last + 1, 12):
            if bottom >= shape.mud_below:
                midis = tuple([bottom + height for height in heights])
                found.append(Voicing(shape.kind, shape.degrees,
                                     tuple(map(speller.pitch, shape.degrees, midis)),
                                     shape.left, midis))
    return found


def _is_in_reach(shape: _Shape, bottom: int, size: str) -> bool:
    """Whether the hands can play a shape whose lowest key is `bottom`, in whatever octave."""
    heights, left = shape.heights, shape.left
    return (_hand_ok([bottom + h for h in heights[:left]], "left", size)
            and _hand_ok([bottom + h for h in heights[left:]], "right", size))


def _lowest(heights: Sequence[int], classes: Sequence[int], homes: tuple[int, ...],
            bad: frozenset[int]) -> int | None:
    """The lowest bottom key with which a stack is not mud; None where it holds a minor ninth
    or something harsh wherever it stands.

    heights    semitones above the bottom, ascending
    classes    their pitch classes
    homes      the pitch classes over which a flat nine is at home
    bad        see `rules.close.HARSH`
    """
    lowest = 0
    for place, height in enumerate(heights):
        for other in range(place + 1, len(heights)):
            step = heights[other] - height
            if step == 1 and classes[other] in bad:
                return None
            if classes[place] not in homes and MINOR_NINTH.breaks(height, heights[other]):
                return None
            lowest = max(lowest, MUD.limit(step) - height)
    return lowest


def _hand_ok(midis: Sequence[int], hand: str, size: str) -> bool:
    return len(midis) < 2 or (span_ok(midis[0], midis[-1], size)
                              and playable(midis, hand, size))


@VOICINGS.keep
def _left_everywhere(harmony: Harmony, level: Level, size: str, rootless: bool
                     ) -> tuple[Voicing, ...]:
    """All voicings of the left hand alone, by register."""
    forms = rootless_forms(harmony, level) if rootless else bass_forms(harmony, level)
    whole = dict.fromkeys(VoicingForm(f.kind, f.degrees, len(f.degrees)) for f in forms)
    return _by_register(_placed(harmony, _shapes(harmony, whole), size,
                                 _Room(_LEFT_LOW, _LEFT_TOP)))


def _by_register(voicings: list[Voicing]) -> tuple[Voicing, ...]:
    def left_cost(midis: tuple[int, ...]) -> int:
        return (WEIGHTS["low bottom"] * max(48 - midis[0], 0)
                + WEIGHTS["root too low"] * max(40 - midis[0], 0)
                + WEIGHTS["high left"] * max(midis[-1] - 60, 0)
                + WEIGHTS["mud"] * MUD.cost(midis))

    return tuple(sorted(voicings, key=lambda v: (left_cost(v.midis[:v.left]), v.midis, v.kind)))


@VOICINGS.keep
def left_hand_voicings(harmony: Harmony, level: Level, size: str, *, low: int = 36, top: int = 64,
                       rootless: bool = False) -> tuple[Voicing, ...]:
    """What the left hand may play alone: roots, shells, tenths by reach, rootless forms.

    rootless   give rootless forms (and inversions of half-diminished and diminished chords)
               instead of forms with the root at the bottom. A slash chord keeps its bass at
               the bottom and has no rootless forms.

    Sorted by a plain preference for the register around middle C, lowest cost first.
    """
    if rootless:
        if bass_degree(harmony) is not None:
            return ()
        low = max(low, 46)  # from about E flat 3 (common practice), a little lower in need
    return tuple(v for v in _left_everywhere(harmony, level, size, rootless)
                 if v.midis[0] >= low and v.midis[-1] <= top)


@VOICINGS.keep
def right_hand_voicings(harmony: Harmony, level: Level, size: str, *, low: int, top: int,
                        most: int = 4) -> tuple[Voicing, ...]:
    """What the right hand may play over a left hand that has the root.

    low, top   the room, MIDI numbers
    most       the greatest number of keys

    Sorted by the distance of their middle from the middle of the room.
    """
    whole = 2 if most <= 2 else max(most, 4)  # remembered once
    found = [v for bottom in range(_RIGHT_LOW, min(top, _RIGHT_TOP) + 1, 12)
             for v in _right_octave(harmony, level, size, whole, bottom)
             if v.midis[0] >= low and v.midis[-1] <= top and len(v.midis) <= most]
    return tuple(sorted(found, key=lambda v: abs(v.midis[0] + v.midis[-1] - low - top)))


@VOICINGS.keep
def _right_octave(harmony: Harmony, level: Level, size: str, most: int, bottom: int
                  ) -> tuple[Voicing, ...]:
    """All right-hand voicings whose lowest key is in the octave from `bottom` up, from low to
    high."""
    found = _placed(harmony, _right_reached(kind_of(harmony), harmony.root.pitch_class, level, size,
                                            most), size,
                    _Room(bottom, _RIGHT_TOP, bottom + 11), known=True)
    return tuple(sorted(found, key=lambda v: (v.midis, v.kind)))


@VOICINGS.keep
def _right_reached(kind: Harmony, root: int, level: Level, size: str, most: int
                   ) -> tuple[_Shape, ...]:
    """The shapes over a root, a pitch class, that the right hand can span there."""
    return tuple(shape for shape in _right_shapes(kind, level, most) if _is_in_reach(
        shape, root + degree_pitch_class(shape.degrees[0]), size))


@VOICINGS.keep
def _right_shapes(kind: Harmony, level: Level, most: int) -> tuple[_Shape, ...]:
    return _shapes(kind, right_forms(kind, level, most))


@VOICINGS.keep
def two_hand_voicings(harmony: Harmony, level: Level, size: str, *, top: int, bottom: int = 36
                      ) -> tuple[Voicing, ...]:
    """Voicings that belong to both hands: spreads, drop 2, fourths, upper structures.

    A slash chord's bass is put under the right hand's part alone. Sorted by register; nothing
    lies above G5.
    """
    return tuple(v for v in _both_everywhere(harmony, level, size)
                 if v.midis[0] >= bottom and v.midis[-1] <= top)


@VOICINGS.keep
def locked_voicings(harmony: Harmony, level: Level, size: str, *, low: int, top: int
                    ) -> tuple[Voicing, ...]:
    """Locked hands: four keys close in the right hand, their top an octave below in the left.

    low, top   between which MIDI numbers the top lies
    """
    found = _placed(harmony, _locked_shapes(kind_of(harmony), level), size,
                    _Room(low - 12, top))
    return tuple(sorted(found, key=lambda v: (v.midis, v.degrees)))


@VOICINGS.keep
def _locked_shapes(kind: Harmony, level: Level) -> tuple[_Shape, ...]:
    return _shapes(kind, locked_forms(kind, level))


@VOICINGS.keep
def _both_everywhere(harmony: Harmony, level: Level, size: str) -> tuple[Voicing, ...]:
    """All two-hand voicings, by the register of their left hand."""
    foreign = bass_degree(harmony)
    if foreign is None:
        shapes = _both_shapes(kind_of(harmony), level)
    else:
        over = [VoicingForm(f.kind, (foreign, *f.degrees[f.left:]), 1)
                for f in two_hand_forms(harmony, level)]
        shapes = _shapes(harmony, dict.fromkeys(f for f in over
                                                if len({*f.degrees}) == len(f.degrees)))
    return _by_register(_placed(harmony, shapes, size, _Room(_LEFT_LOW, _BOTH_TOP)))


@VOICINGS.keep
def _both_shapes(kind: Harmony, level: Level) -> tuple[_Shape, ...]:
    return _shapes(kind, two_hand_forms(kind, level))


def voice_leading(before: Sequence[int], after: Sequence[int]) -> int:
    """Semitones moved in all from one chord to the next, voices matched in order of pitch.

    Where the number of voices differs, those that fit best are matched and each one that
    comes in or drops out counts `VOICE_CHANGE`.

    >>> voice_leading((53, 57, 60, 64), (53, 57, 59, 64)), voice_leading((60, 64), (59, 62, 65))
    (1, 5)
    """
    first, second = sorted(before), sorted(after)
    if len(first) > len(second):
        first, second = second, first
    rows, columns = len(first), len(second)
    # best[j]: cheapest match of the voices so far with the first j of the longer chord
    best = [VOICE_CHANGE * j for j in range(columns + 1)]
    for place in range(rows):
        row = [1 << 30] * (columns + 1)
        for j in range(place + 1, columns + 1):
            row[j] = min(best[j - 1] + abs(first[place] - second[j - 1]),
                         row[j - 1] + VOICE_CHANGE)
        best = row
    return best[columns]
