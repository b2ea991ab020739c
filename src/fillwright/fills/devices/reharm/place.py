"""A place for passing chords: what sounds, what comes, and what lies around."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType

from fillwright.fills.devices.reharm.function import Chord, low_class, plain_chord, sounds_as
from fillwright.theory.chord import ChordSymbol, degree_pitch_class
from fillwright.theory.chordtext import parse_suffix
from fillwright.theory.harmony import Harmony
from fillwright.theory.key import Key
from fillwright.theory.local_key import DIATONIC
from fillwright.theory.pitch import Interval, NoteName

__all__ = ["Place", "chord_at", "contradicts", "diatonic", "disguised", "is_tonic", "is_two",
           "own_symbol", "scale_place", "steps"]


_FOURTH, _FIFTH = 5, 7


@dataclass(frozen=True, slots=True)
class Place:
    """Where passing chords are wanted.

    here, goal   the chord that sounds and the chord that comes
    ending       no melody comes after: the goal is the ending itself
    before       the chord before the one that sounds, or None
    after        the next real change of chord after the goal, or None
    last         the form ends with this place
    home         the key of the tune, where it is not the local one
    triads       roots on which the tune prints dominants as triads, and none as a seventh chord
    skipped      the chord of the sheet that would come back for a moment before the goal
    begun        the chord here has been heard before the gap opens
    own          single chords that the tune has between these two in another place
    soon         that next change comes within a bar of the goal, as far as it is known
    around       the key of a longer stretch of which this is a part, or None
    same         the chord that comes is the one that sounds
    key          the local key of the chord here, or the one that a cadence around it proves
    """

    here: Harmony
    goal: Harmony
    ending: bool = False
    before: Harmony | None = None
    after: Harmony | None = None
    last: bool = False
    home: Key | None = None
    triads: frozenset[int] = frozenset()
    skipped: Harmony | None = None
    begun: bool = False
    own: frozenset[Chord] = frozenset()
    soon: bool = True
    around: Key | None = None
    same: bool = field(init=False, repr=False, compare=False)
    key: Key = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "same", plain_chord(self.here) == plain_chord(self.goal)
                           and low_class(self.here) == low_class(self.goal))
        object.__setattr__(self, "key", self.around or _proved_key(
            self.before, self.here, self.goal, self.after))

    @property
    def bare_five(self) -> bool:
        """Whether the tune has the V of the goal as a triad: that of the local key everywhere,
        another one between these two chords elsewhere."""
        root = (self.goal.root.pitch_class + _FIFTH) % 12
        five = (root - self.goal.key.tonic.pitch_class) % 12 == _FIFTH
        here = (root, "M") in self.own and (root, "7") not in self.own
        return root in self.triads and (five or here)

    @property
    def chromatic(self) -> bool:
        """Whether the bass of the sheet goes to the goal as a line of half steps: into a diminished
        chord, or with another half step the same way before or after."""
        lows = [None if h is None else low_class(h)
                for h in (self.before, self.here, self.goal, self.after)]
        came, goes, leaves = (None if a is None or b is None else (b - a) % 12
                              for a, b in pairwise(lows))
        return goes in (1, 11) and (sounds_as(self.goal) == "o" or goes in (came, leaves))

    @property
    def target(self) -> Harmony:
        """Where the harmony is heading: the goal, or past it where the goal is what sounds
        already."""
        return self.after if self.same and self.after is not None else self.goal

    @property
    def collection(self) -> Key:
        """The key whose scale chords on the way are taken from: the local key, or the one that
        both chords have notes of instead: a major key's minor (a II V through the back door) or,
        where only the seventh step is lowered, the key of its fourth."""
        return _collection(self.here, self.goal, self.key)


def _proved_key(before: Harmony | None, here: Harmony, goal: Harmony, after: Harmony | None
                ) -> Key:
    """The local key; but where a dominant and the chord to which it falls stand on both sides, and
    the tonic of that key is not heard around them, the key of this cadence: between D minor and
    its A7 the G minor is no II of F."""
    row = [h for h in (before, here, goal, after) if h is not None]
    if any(is_tonic(h, here.key) for h in row):
        return here.key
    for dominant, rest in pairwise(row):
        falls = (rest.root.pitch_class - dominant.root.pitch_class) % 12 == _FOURTH
        if falls and sounds_as(dominant) == "7" and sounds_as(rest) in "Mm" and sum(
                plain_chord(h) == plain_chord(rest) for h in row) > 1:
            return Key.of(rest.root, "minor" if sounds_as(rest) == "m" else "major")
    return here.key


@lru_cache(maxsize=512)
def _collection(here: Harmony, goal: Harmony, key: Key) -> Key:
    if key.mode == "minor":
        return key
    before, after = steps(here, key), steps(goal, key)
    lowered = {step for step in _LOWERED if before.get(step) == after.get(step) == {-1}}
    if any(is_tonic(side, key) for side in (here, goal)):
        return key  # a blues is at home on a seventh chord
    if lowered == {_SEVENTH}:
        return Key.of(key.tonic + Interval(3, 5), "major")
    return Key.of(key.tonic, "minor") if lowered else key


def is_tonic(harmony: Harmony, key: Key) -> bool:
    """Whether a chord is at home in a key; in major a seventh chord may be, as in a blues."""
    quality = "M" if key.mode == "major" else "m"
    return (harmony.root.pitch_class == key.tonic.pitch_class
            and sounds_as(harmony) in (quality, "7" if key.mode == "major" else quality)
            and "V" not in harmony.function)


def is_two(harmony: Harmony) -> bool:
    """Whether a chord is heard as a II: of the key, or before its own dominant."""
    return harmony.function.startswith("II") and not harmony.function.startswith("III")


def scale_place(harmony: Harmony, key: Key) -> int | None:
    """The place, 0 to 6, of a chord's root in the scale of a key; None outside it."""
    for place, name in enumerate(key.scale):
        if name.pitch_class == harmony.root.pitch_class:
            return place
    return None


def disguised(chord: Harmony, written: Harmony) -> bool:
    """Whether a chord is the written one again: root, quality, third and bass."""
    return (plain_chord(chord) == plain_chord(written) and low_class(chord) == low_class(written)
            and chord.third == written.third)


def chord_at(root: NoteName, suffix: str, bass: NoteName | None = None) -> ChordSymbol:
    """A chord symbol on a root, spelled without double accidentals, B♯, E♯, C♭ or F♭.

    >>> from fillwright.theory.pitch import degree_interval
    >>> str(chord_at(NoteName("D", -1) + degree_interval("b2"), "7"))
    'D7'
    """
    kind, degrees = parse_suffix(suffix)
    symbol = ChordSymbol(root, kind, degrees, bass, suffix)
    return symbol.transposed(Interval(0, 0))


_PLAIN = MappingProxyType({"M": "", "m": "m", "7": "7", "h": "m7b5", "o": "dim7"})
_SEVENTHS = MappingProxyType({**_PLAIN, "M": "maj7", "m": "m7"})
"""How a class of quality is printed in a tune of triads, and in one of seventh chords."""


def own_symbol(place: Place, chord: Chord) -> ChordSymbol:
    """The symbol of a chord that the tune has at such a place: a triad where its neighbours are
    triads, where the tune has no more on that root, or a major seventh is foreign to the key."""
    root, quality = chord
    sides = (place.here.symbol, place.goal.symbol)
    foreign = quality == "M" and (root + _SEVENTH) % 12 not in {
        name.pitch_class for name in place.key.scale}
    bare = foreign or root in place.triads or all(symbol.seventh is None for symbol in sides)
    return chord_at(place.key.spell(_MIDDLE_C + root).note_name,
                    (_PLAIN if bare else _SEVENTHS)[quality])


_MIDDLE_C = 60
_SEVENTH = 11
"""Semitones of a major seventh."""


def diatonic(key: Key, place: int) -> ChordSymbol:
    """The seventh chord on a place, 0 to 6, of a key's scale."""
    name = key.scale[place % 7]
    quality = dict(DIATONIC[key.mode])[(name.pitch_class - key.tonic.pitch_class) % 12]
    return chord_at(name, quality)


_ROOT_STEPS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
_RAISED = MappingProxyType({1: 0, 8: 4})
"""The step of the scale a root so many semitones above the tonic stands on; a diminished chord
stands on a raised one."""
_LOWERED, _SEVENTH = (2, 5, 6), 6
"""The steps on which a minor key differs from the major key on its tonic."""


@lru_cache(maxsize=512)
def steps(harmony: Harmony, key: Key) -> Mapping[int, set[int]]:
    """The notes of a chord as steps of a scale, 0 to 6, and their alterations: the same in every
    key, however a key has to be spelled."""
    above = (harmony.root.pitch_class - key.tonic.pitch_class) % 12
    root = _RAISED.get(above, _ROOT_STEPS[above]) if sounds_as(harmony) in "oh" else (
        _ROOT_STEPS[above])
    found: dict[int, set[int]] = {}
    for degree in harmony.tones:
        step = (root + int(degree.lstrip("b#")) - 1) % 7
        by = harmony.root.pitch_class + degree_pitch_class(degree) - key.scale[step].pitch_class
        found.setdefault(step, set()).add((by + 6) % 12 - 6)
    return found


def contradicts(chord: Harmony, place: Place) -> bool:
    """Whether a chord of the scale has a note that both its neighbours have otherwise, as the E
    of G6 between Cm7 and F7; or one outside the signature that one of them has otherwise.

    A chord on the way belongs to the collection of its neighbours (common practice).
    """
    key = place.collection
    sides = (steps(place.here, key), steps(place.goal, key))
    for step, alters in steps(chord, key).items():
        for alter in alters:
            here, goal = (side.get(step, set()) for side in sides)
            if alter not in here | goal and (here & goal or (alter and here | goal)):
                return True
    return False
