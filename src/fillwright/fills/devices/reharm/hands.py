"""What two hands may strike for one chord: styles, and the pairs of voicings in each.

A *style* says what the hands take at a level: a shell alone under the held note, a root
with two notes, a shell with a few notes, a chord for both hands. `hand_pairs` gives the pairs
of a left-hand and a right-hand voicing that fit under (or, once it is let go, beside) the held
note, cheapest first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from types import MappingProxyType

from fillwright.fills.devices.reharm.function import sounds_as
from fillwright.fills.devices.reharm.sound import heard_as_printed, root_heard
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
from fillwright.rules.close import CROWDED
from fillwright.rules.sound import HOLE, MINOR_NINTH, MUD, RUB
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch

__all__ = ["STYLES", "THIRDS", "HandPair", "Style", "Wanted", "hand_pairs"]

WEIGHTS = MappingProxyType({
    # term: integer cost per unit; design choices within common practice
    "hole": 2,             # semitone beyond a twelfth between the hands
    "hollow second": 30,   # a second at the bottom, and more than an octave of nothing over it
    "near the melody": 5,  # a key a whole step under the held note: it blurs the melody
    "octave inside": 4,    # the right hand doubles a key of its own
    "doubling": 3,         # a tone other than the root in both hands
    "leading tone doubled": 8,  # and that is the third of a dominant
    "register": 1,         # place in the voicing lists, which stand best register first
    "high bass": 2,        # semitone of the lowest key above G3
    "third left out": 80,  # a shell that leaves the third to the ear, where there is another
    "seventh left out": 8,  # or the seventh
    "sixth without its fifth": 10,  # it is heard as the minor chord a third below
    "thin": 4,             # a right hand that rests while it could play
    "melody doubled": 4,   # the right hand has a third or seventh that the melody sings
    "bass doubled": 15,    # a third or seventh in the bass is struck by the right hand too
    "mud": 6,              # semitone below the strict low interval limits
    "low third": 4,        # semitone of a third's lower key below D3, where thirds grow thick
    "wide grip": 2,        # semitone beyond an octave that the right hand spans with an inner key
    "full grip": 20,       # or with two and more: a ninth of four keys is for large hands
    "false melody": 30,    # a lone key over where the tune was is heard as a note of the tune
    "lopsided": 5,         # key the right hand has, the melody's among them, beyond two more
    "slip of the tune": 10,  # a half step beside where the tune was: it seems to go there
    "colour": 3,           # a tension left out that the level would play
    "taken back": 24,      # a colour that the chord beside it has a half step lower or higher
})

_GRIP = 3
"""Keys of one hand that lie well in a span beyond an octave, at most."""

_MORE_KEYS = 2
"""Keys that the right hand may have more than the left: five over one are no chord of two hands."""

_THIRDS, _CLEAR_THIRD = (3, 4), 50
"""Semitones of a third, and D3, from which on it is clear (common practice; the strict table of
low interval limits allows minor thirds from C3 on)."""

_HIGHEST_BASS = 55
"""G3, above which the foreign bass of a slash chord is no bass."""

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
class HandPair:
    """What both hands strike at one event."""

    left: Voicing
    right: Voicing | None
    midis: tuple[int, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "midis", self.left.midis + self.right_midis)

    @property
    def right_midis(self) -> tuple[int, ...]:
        return () if self.right is None else self.right.midis

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


@dataclass(frozen=True, slots=True)
class Wanted:
    """What hands are looked for.

    held      the key the right hand holds down meanwhile, or None
    ceiling   the highest key to be used
    to_hear   sets of pitch classes of which one each must be heard
    added     not on the chart: it has to be told from the keys alone
    pedalled  the pedal keeps the held note: the right hand is free, and strikes something
    lent      the held note sounds as long as the chord, and its tone need not be struck
    tune      the key of the melody note where it has ended, or None
    floor     the lowest key for the right hand
    triad     the right hand has the triad to itself, the left hand the bass
    shunned   pitch classes of colours that the chord beside it takes back
    misread   those not to be struck: the melody note, where the chord writes it by another name
    """

    harmony: Harmony
    level: Level
    size: str
    style: Style
    held: int | None
    ceiling: int
    to_hear: tuple[frozenset[int], ...] = ()
    added: bool = False
    pedalled: bool = False
    lent: bool = True
    shunned: frozenset[int] = frozenset()
    tune: int | None = None
    floor: int = 48
    misread: frozenset[int] = frozenset()
    triad: bool = False

    @property
    def spared(self) -> tuple[str, ...]:
        """Degrees that need not be struck: the held note is heard too, if it lasts, and a guide
        tone of a written chord a half step under it stays silent."""
        if self.held is None:
            return ()
        harmony, pitch_class = self.harmony, self.held % 12
        degree = harmony.degree_of(pitch_class)
        return (() if degree is None or not self.lent else (degree,)) + tuple(
            d for d in (harmony.third, harmony.seventh) if d is not None and not self.added
            and (harmony.root.pitch_class + degree_pitch_class(d) + 1) % 12 == pitch_class)


@SEARCHES.keep
def hand_pairs(wanted: Wanted) -> tuple[tuple[HandPair, ...], tuple[int, ...]]:
    """Pairs of hands for a chord, cheapest first, with their costs."""
    judge = _Judge(wanted)
    both = (_left_and_right if wanted.style.left else _two_hand_pairs)(wanted, judge)
    kept = []
    for cost, hands in both:
        more = judge.cost(hands)
        if more is not None:
            kept.append((cost + more, hands.midis, hands))
    kept.sort(key=lambda item: (item[0], item[1]))
    # the best pairs, and the best of every left hand, so that the bass is free to walk
    chosen: list[tuple[int, HandPair]] = []
    per_left: dict[tuple[int, ...], int] = {}
    for cost, _, hands in kept:
        keys = hands.left.midis
        if len(chosen) < _PAIRS or per_left.get(keys, 0) < _PER_LEFT:
            chosen.append((cost, hands))
            per_left[keys] = per_left.get(keys, 0) + 1
    return tuple(h for _, h in chosen), tuple(c for c, _ in chosen)


def _two_hand_pairs(wanted: Wanted, judge: _Judge) -> Iterator[tuple[int, HandPair]]:
    """Chords for both hands, parted between them, under the tune and within reach."""
    harmony = wanted.harmony
    for place, both in enumerate(two_hand_voicings(
            harmony, wanted.level, wanted.size, top=wanted.ceiling,
            bottom=wanted.style.lefts_low)):
        if both.left in (0, len(both.pitches)) or (
                both.degrees[0] != "1" and harmony.symbol.bass is None):
            continue
        if not (judge.under_tune(both.midis) and judge.reaches(both.midis[both.left:])):
            continue
        yield place // 4, HandPair(
            Voicing(both.kind, both.degrees[:both.left], both.left_pitches, both.left),
            Voicing(both.kind, both.degrees[both.left:], both.right_pitches, 0))


def _left_and_right(wanted: Wanted, judge: _Judge) -> Iterator[tuple[int, HandPair]]:
    """Every left hand of the style with every right hand, but for what no judge of the pair would
    let pass: a hand that breaks a rule by itself, and two that do not stand beside each other."""
    harmony, style, held = wanted.harmony, wanted.style, wanted.held
    lefts = [v for v in left_hand_voicings(
        harmony, wanted.level, wanted.size, low=style.lefts_low,
        top=min(67 if style.left == THIRDS else 62, wanted.ceiling))
        if v.kind.startswith(style.left)
        and not (held is not None and not style.most and HOLE.empty(v.midis[-1], held))]
    rights: list[Voicing | None] = []
    if not wanted.pedalled and (style.least == 0 or held is not None):
        rights.append(None)
    if style.most:
        low = wanted.floor if held is None or wanted.pedalled else max(48, held - 14)
        rights += [v for v in right_hand_voicings(harmony, wanted.level, wanted.size, low=low,
                                                  top=wanted.ceiling, most=style.most)
                   if len(v.pitches) >= style.least][:4 * _RIGHTS]
    sound = [(j, right) for j, right in enumerate(rights) if right is None or (
        judge.sounds_alone(right.midis) and judge.reaches(right.midis))]
    for i, left in enumerate(lefts[:_LEFTS]):
        if not judge.sounds_alone(left.midis):
            continue
        top = left.midis[-1]
        for j, right in sound:
            if right is not None and (right.midis[0] <= top or HOLE.empty(top, right.midis[0])):
                continue
            thin = style.most - (0 if right is None else len(right.midis))
            yield (WEIGHTS["register"] * (i + j // 4) + WEIGHTS["thin"] * max(thin, 0),
                   HandPair(left, right))


class _Judge:
    """What hands cost for what is wanted, or that they cannot be."""

    def __init__(self, wanted: Wanted) -> None:
        harmony = wanted.harmony
        self._wanted, self._harmony, self._held = wanted, harmony, wanted.held
        self._homes = flat_nine_homes(harmony.symbol)
        bass = harmony.symbol.bass
        # a bass that the added chord is led over is new, and its root rubs it: the tune may have
        # it, no hand strikes it
        self._inside = tuple(pc for pc in self._homes
                             if not wanted.added or bass is None or pc != bass.pitch_class)
        self._root = harmony.root.pitch_class
        self._third = (self._root + 4) % 12 if harmony.third == "3" else None
        self._spared = wanted.spared
        self._led = {(self._root + degree_pitch_class(d)) % 12
                     for d in (harmony.third, harmony.symbol.seventh) if d is not None}
        self._colours = {degree_pitch_class(t) for t in harmony.tones}
        self._known: dict[tuple[str, ...], int | None] = {}

    def cost(self, hands: HandPair) -> int | None:
        """The cost, or None where a rule is broken by both hands together: what one alone can break
        has been asked of it before (`sounds_alone`, `reaches`)."""
        if not self._in_place(hands) or (self._wanted.triad and not self._is_triad(hands)):
            return None
        degrees = hands.degrees
        if degrees not in self._known:  # many hands play the same degrees in other places
            self._known[degrees] = self._by_degrees(degrees)
        told = self._known[degrees]
        if told is None or not self._telling(hands) or self._harsh(hands.midis):
            return None
        return told + self._balance(hands)

    def sounds_alone(self, midis: tuple[int, ...]) -> bool:
        """Whether keys of one hand keep to the rules by themselves; with others beside them they
        break those they broke alone."""
        return self.under_tune(midis) and not self._harsh(midis)

    def under_tune(self, midis: tuple[int, ...]) -> bool:
        """Whether keys lie below the melody note, and none rubs it."""
        held = self._held
        return held is None or (
            midis[-1] < held and not RUB.among(midis, held, self._homes))

    def _by_degrees(self, degrees: tuple[str, ...]) -> int | None:
        """What it costs, wherever it lies, that these degrees are played and no others."""
        heard = (*degrees, *self._spared)
        told = self._told(heard)
        if told is None or not self._named(heard):
            return None
        classes = {(self._root + degree_pitch_class(d)) % 12 for d in degrees if d != "bass"}
        if classes & self._wanted.misread:
            return None
        taken_back = bool(classes & self._wanted.shunned)
        return told + self._colour(degrees) + WEIGHTS["taken back"] * taken_back

    def _in_place(self, hands: HandPair) -> bool:
        """Whether the hands stand beside each other, within a level's grip."""
        left_top, right_low = hands.left.midis[-1], self._right_low(hands)
        if right_low is not None and left_top >= right_low:
            return False
        if right_low is not None and HOLE.empty(left_top, right_low):
            return False
        bass = self._harmony.symbol.bass
        if bass is not None and hands.midis[0] > _HIGHEST_BASS and (
                not self._harmony.is_tone(bass.pitch_class)):
            return False
        return not _too_wide(hands, None if self._wanted.pedalled else self._held,
                             self._wanted.level)

    def _is_triad(self, hands: HandPair) -> bool:
        """Whether the right hand has the triad to itself, but for a tone that the tune holds, and
        the left hand nothing but the bass."""
        symbol = self._harmony.symbol
        triad = {symbol.name_of(d).pitch_class for d in symbol.degrees}
        right = {m % 12 for m in hands.right_midis}
        tune = set() if self._held is None else {self._held % 12}
        lowest = symbol.lowest
        return (right <= triad <= right | tune and lowest is not None
                and {m % 12 for m in hands.left.midis} == {lowest.pitch_class})

    def _right_low(self, hands: HandPair) -> int | None:
        return hands.right.midis[0] if hands.right is not None else self._held

    def _told(self, heard: tuple[str, ...]) -> int | None:
        """What it costs that the third or the seventh is left to the ear."""
        harmony, style = self._harmony, self._wanted.style
        cost = WEIGHTS["sixth without its fifth"] if _sixth_alone(harmony, heard) else 0
        if holds_guides(harmony, heard) or (
                not self._wanted.added and _plain_triad(harmony, heard)):
            return cost
        if not _near_enough(harmony, heard, style):
            return None
        told = harmony.third is None or degree_pitch_class(harmony.third) in {
            degree_pitch_class(d) for d in heard if d != "bass"}
        if told and style.line:
            return cost
        return cost + WEIGHTS["seventh left out" if told else "third left out"]

    def _named(self, heard: tuple[str, ...]) -> bool:
        """Whether the chord is what it is called."""
        wanted = self._wanted
        return _own_tones_heard(self._harmony, heard) and (
            heard_as_printed(self._harmony, heard, wanted.level.reharm.tells_all)
            if wanted.added else root_heard(self._harmony, heard))

    def _telling(self, hands: HandPair) -> bool:
        """Whether the chord is told from its neighbours."""
        if not self._wanted.to_hear:
            return True
        sound = {m % 12 for m in hands.midis} | (
            set() if self._held is None else {self._held % 12})
        return all(own & sound for own in self._wanted.to_hear)

    def _harsh(self, midis: tuple[int, ...]) -> bool:
        """Whether keys that lie next to each other are crowded, muddy or harsh."""
        return (CROWDED.breaks(midis, self._root, self._third)
                or (self._harmony.symbol.quality == "diminished" and any(
                    b - a == 1 for a, b in pairwise(midis)))
                or bool(MUD.pairs(midis)) or _is_block(midis)
                or MINOR_NINTH.among(midis, self._inside))

    def reaches(self, right: tuple[int, ...]) -> bool:
        """Whether the right hand has keys in it besides the held note, where it keeps that."""
        held = self._held
        return held is None or self._wanted.pedalled or finger_chord(
            (*right, held), "right", self._wanted.size) is not None

    def _balance(self, hands: HandPair) -> int:
        """What the place of the hands costs, and what they double."""
        midis, right_low = hands.midis, self._right_low(hands)
        cost = WEIGHTS["mud"] * MUD.cost(midis) + WEIGHTS["low third"] * sum(
            max(_CLEAR_THIRD - low, 0) for low, high in pairwise(midis) if high - low in _THIRDS)
        if self._wanted.style.left != THIRDS:  # walking thirds are no bass
            cost += WEIGHTS["high bass"] * max(midis[0] - 55, 0)
        if right_low is not None:
            cost += WEIGHTS["hole"] * max(right_low - hands.left.midis[-1] - 19, 0)
        if _hollow_second(midis if self._held is None else (*midis, self._held)):
            cost += WEIGHTS["hollow second"]
        if self._held is not None and midis[-1] == self._held - 2:
            cost += WEIGHTS["near the melody"]
        if hands.right is None:
            return cost
        tune = self._wanted.tune
        if tune is not None and len(hands.right.midis) == 1 and hands.right.midis[0] > tune:
            cost += WEIGHTS["false melody"]
        if tune is not None and abs(hands.right.midis[-1] - tune) == 1:
            cost += WEIGHTS["slip of the tune"]
        grip = hands.right.midis if self._held is None or self._wanted.pedalled else (
            *hands.right.midis, self._held)
        cost += WEIGHTS["lopsided"] * max(len(grip) - len(hands.left.midis) - _MORE_KEYS, 0)
        if len(grip) > 2:
            width = WEIGHTS["full grip" if len(grip) > _GRIP else "wide grip"]
            cost += width * max(grip[-1] - grip[0] - 12, 0)
        own = [m % 12 for m in hands.right.midis]
        left_classes = {m % 12 for m in hands.left.midis}
        if midis[0] % 12 in own and midis[0] % 12 in self._led:
            cost += WEIGHTS["bass doubled"]
        if self._held is not None and self._held % 12 in own and self._held % 12 in self._led:
            cost += WEIGHTS["melody doubled"]
        leading = self._third if sounds_as(self._harmony) == "7" else None
        if leading is not None and (leading in left_classes) + own.count(leading) > 1:
            cost += WEIGHTS["leading tone doubled"]
        return (cost + WEIGHTS["octave inside"] * (len(own) - len(set(own)))
                + WEIGHTS["doubling"] * sum(pc in left_classes and pc != self._root
                                            for pc in own))

    def _colour(self, degrees: tuple[str, ...]) -> int:
        """What it costs that a tension is left out which the level would play."""
        if not self._wanted.level.reharm.wants_colour or not self._wanted.style.most:
            return 0
        tensions = any(degree_pitch_class(d) not in self._colours
                       for d in degrees if d != "bass")
        return 0 if tensions else WEIGHTS["colour"]


def _is_block(midis: Sequence[int]) -> bool:
    """Whether thirds are stacked on a key below C3: each of them may be clear by itself, the pile
    of them growls (common practice)."""
    return any(low < _BLOCK and middle - low in _THIRDS and high - middle in _THIRDS
               for low, middle, high in zip(midis, midis[1:], midis[2:], strict=False))


_BLOCK = 48


def _hollow_second(midis: tuple[int, ...]) -> bool:
    """Whether the two lowest keys are a second, far under the next: E flat and F under a C are a
    blur and a hole (common practice)."""
    return len(midis) > 2 and midis[1] - midis[0] <= _STEP and midis[2] - midis[1] > _OCTAVE


_STEP, _OCTAVE = 2, 12
"""Semitones."""


def _too_wide(hands: HandPair, held: int | None, level: Level) -> bool:
    """Whether a hand spans more than its level has in the hand, the held note counted in."""
    left = hands.left.midis
    right = () if hands.right is None else hands.right.midis
    if held is not None:
        right = (*right, held)
    return left[-1] - left[0] > level.voicing.grip[0] or (
        bool(right) and not level.voicing.grips(len(right), right[-1] - right[0], len(left)))


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
    return sounds_as(harmony) == "M" and _SIXTH in present and _FIFTH not in present and (
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
    if sounds_as(harmony) == "7":  # a dominant lives by both
        return False
    if harmony.symbol.seventh is None and harmony.third is not None:  # a triad by its third
        return degree_pitch_class(harmony.third) in present
    return any(degree_pitch_class(d) in present
               for d in (harmony.third, harmony.seventh) if d is not None)
