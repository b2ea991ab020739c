"""What the moves give at a place: single ways, and two of them in a row.

The result knows nothing of time or of hands. A way is tried against its conditions, its chords
are spelled and heard in their key, the rules of `never` refuse what no one should play, and
the last chord must lead on by a named resolution. Ways that give the same chords are one
option, called by the first of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from types import MappingProxyType

from fillwright.fills.devices.reharm.device import Heard, Motion, Move, Root, Stands, Way
from fillwright.fills.devices.reharm.function import (
    low_class,
    plain_chord,
    printed_chord,
    quality_of,
    sounds_as,
)
from fillwright.fills.devices.reharm.moves import MOVES
from fillwright.fills.devices.reharm.never import LINE_MAY, OWN_MAY, broken
from fillwright.fills.devices.reharm.place import Place, chord_at, contradicts, disguised
from fillwright.fills.devices.reharm.words import ChordWords, inner_line, leads, sentence
from fillwright.fills.player import ADVANCED, Level
from fillwright.memory import SEARCHES
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import Harmony, harmony_of
from fillwright.theory.key import Key

__all__ = ["Option", "chains", "options"]


@dataclass(frozen=True, slots=True)
class Option:
    """The chords a way gives at a place.

    chords   the added ones, in order
    leads    how the last of them leads on
    inner    pitch classes of the moving voice the sentence names; () where it names none
    """

    move: Move
    way: Way
    place: Place
    chords: tuple[Harmony, ...]
    leads: str
    inner: tuple[int, ...] = ()

    @property
    def identity(self) -> tuple[tuple[int, str, int], ...]:
        """Roots, kinds and basses: two options of one identity sound the same chords. Of a
        single chord only the quality counts: Cm7 and Cm6 are one idea; a raised fifth is a
        voice on its way."""
        if len(self.chords) == 1:
            chord = self.chords[0]
            raised = "+" if sounds_as(chord) == "7" and "#5" in chord.symbol.degrees else ""
            return ((chord.root.pitch_class, sounds_as(chord) + raised + _altered(chord),
                     low_class(chord)),)
        return tuple((h.root.pitch_class,
                      "M" if sounds_as(h) == "M" else h.symbol.kind + _altered(h), low_class(h))
                     for h in self.chords)

    @property
    def _key(self) -> Key:
        """The key its chords are taken from."""
        return self.place.collection if self.way.chords.startswith("*") else self.place.key

    @property
    def sounds(self) -> tuple[tuple[int, str, int], ...]:
        """What the ear tells of its chords, whatever their colour, unless that is the idea."""
        if self.stays_on_root or self.way.stands is not Stands.AFTER:
            return self.identity
        return tuple((h.root.pitch_class, sounds_as(h), low_class(h)) for h in self.chords)

    def said(self, heard: tuple[frozenset[int], ...] = (), top: int | None = None,
             steps: frozenset[tuple[int, int]] | None = None) -> str:
        """Its sentence.

        heard   pitch classes that sound with the chord here and with each of its chords; where
                nothing is given, every tone counts as heard
        top     pitch class of the note on top, or None
        steps   as in `ChordWords`
        """
        place, delay = self.place, self.way.stands is not Stands.AFTER
        return sentence(self.way.says, ChordWords(
            place.here, place.goal, self.chords, self.leads, self._key, delay,
            None if top is None else place.here.spell(top), heard, steps))

    @property
    def stays_on_root(self) -> bool:
        """Whether its chords are on the root of the written one, of which one voice moves."""
        return self.way.motion is Motion.INNER_LINE and all(
            h.root == self.place.here.root or low_class(h) == low_class(self.place.here)
            for h in self.chords)


def _altered(chord: Harmony) -> str:
    """What tells an altered dominant from the plain one: its ninths and its thirteenth, or the flat
    nine."""
    degrees = set(chord.symbol.degrees)
    return "alt" if {"b9", "#9", "b13"} <= degrees else "b9" if "b9" in degrees else ""


def _harmonies(symbols: tuple[ChordSymbol, ...], place: Place, key: Key) -> tuple[Harmony, ...]:
    row = [*symbols, place.goal.symbol]
    return tuple(harmony_of(symbol, key, following) for symbol, following in pairwise(row))


@SEARCHES.keep
def options(place: Place, melody: int | None = None, level: Level = ADVANCED,
            without: frozenset[str] = frozenset(), single: bool = False) -> tuple[Option, ...]:
    """Everything the moves offer at a place, in their order.

    melody   pitch class of the note above, where there is one: a major seventh chord under
             its own root gives way to the sixth chord. Whether the note fits is for the
             caller to say: a chord may come after it is let go.
    level    the level at which a way to these chords has to be taught; they are called what
             they are at any level: of ways that give the same chords by the first
    without  devices that are switched off
    single   read only ways of one chord that follows the written one
    """
    found: dict[object, Option] = {}
    taught: set[object] = set()
    for option in _read(place, melody, without, single):
        key = (option.identity, option.way.stands)
        found.setdefault(key, option)
        if level.is_taught(option.way.level):
            taught.add(key)
    return tuple(option for key, option in found.items() if key in taught)


def _read(place: Place, melody: int | None, without: frozenset[str], single: bool
          ) -> Iterator[Option]:
    """What every way gives, of whatever level, in their order."""
    for move in MOVES:
        if move.name in without:
            continue
        for way in move.ways:
            if (single and not way.single) or not way.fits(place):
                continue
            for symbols in way.at(place):
                option = _option(move, way, symbols, place, melody)
                if option is not None:
                    yield option


def _option(move: Move, way: Way, symbols: tuple[ChordSymbol, ...], place: Place,
            melody: int | None) -> Option | None:
    key = place.collection if way.chords.startswith("*") else place.key
    chords = _chords(way, symbols, place, key, melody)
    if any(a.symbol == b.symbol for a, b in pairwise(chords)):
        return None
    if way.stands is Stands.AFTER and not _may_follow(way, chords, place):
        return None
    if way.stands is Stands.INSTEAD and place.chromatic and (
            low_class(chords[0]) != low_class(place.here)):
        return None  # the bass of the sheet is a line, and this is one of its notes
    if melody is not None and any(h.third == "4" and (melody - h.root.pitch_class) % 12
                                  == _MAJOR_THIRD for h in chords):
        return None  # what the tune has sung is not held back
    if way.motion is Motion.THIRDS and melody is not None and not all(
            h.takes(melody) for h in chords):
        return None  # the note on top has to belong to all of them
    delay = way.stands is Stands.DELAY
    how = leads(chords[-1], place.here if delay else place.goal, place.key)
    if how is None and way.stands is not Stands.COLOUR and not way.of_the_tune:
        return None
    line: tuple[int, ...] = ()
    if Heard.LINE in way.heard:
        words = ChordWords(place.here, place.goal, chords, how or "", place.key,
                           way.stands is not Stands.AFTER)
        line = tuple(name.pitch_class for name in inner_line(words))
        if len(line) < 2:
            return None
    return Option(move, way, place, chords, how or "", line)


def _chords(way: Way, symbols: tuple[ChordSymbol, ...], place: Place, key: Key,
            melody: int | None) -> tuple[Harmony, ...]:
    chords = _harmonies(symbols, place, key)
    if way.stands is Stands.DELAY:  # before a flat nine no natural tension
        chords = tuple(replace(h, tensions=()) if h.symbol.suffix == "7sus4" else h
                       for h in chords)
    if melody is not None:
        under = tuple(_under(h.symbol, melody) for h in chords)
        if under != tuple(h.symbol for h in chords):
            chords = _harmonies(under, place, key)
    chords = tuple(_own_tensions(_over_bass(_as_a_triad(h))) for h in chords)
    if way.stands is Stands.AFTER and way.motion is not Motion.INNER_LINE:
        # where the written chord comes back on the way, it comes as it is written
        chords = (chords[0], *(place.here if disguised(h, place.here) else h
                               for h in chords[1:]))
    return chords


_GIVES_WAY = MappingProxyType({("maj7", 0): "6", ("m6", 10): "m7"})
"""By suffix and melody note, in semitones above the root: the seventh or sixth that a chord has
under it instead. The root lies a half step over a major seventh; the seventh belongs to a minor
chord as well as its sixth."""


def _under(symbol: ChordSymbol, melody: int) -> ChordSymbol:
    """A chord as the melody note over it lets it be."""
    assert symbol.root is not None
    suffix = _GIVES_WAY.get((symbol.suffix, (melody - symbol.root.pitch_class) % 12))
    if suffix is None or (symbol.bass is not None and symbol.suffix == "m6" and (
            symbol.relative(symbol.bass.pitch_class) == _SIXTH)):
        return symbol  # a sixth in the bass is the idea
    return chord_at(symbol.root, suffix, symbol.bass)


_MAJOR_THIRD, _SIXTH = 4, 9
"""Semitones."""


def _over_bass(harmony: Harmony) -> Harmony:
    """Over another bass than its root a major chord takes no raised fourth: over F/G it would be
    the third that the bass holds back, over C/G the leading tone of its dominant. A dominant over
    a tone of its own has no altered colours, which would lie across the bass."""
    bass = harmony.symbol.bass
    if bass is None:
        return harmony
    if not harmony.is_tone(bass.pitch_class) or sounds_as(harmony) == "M":
        wrong: tuple[str, ...] = ("#11",)
    else:
        wrong = ("b9", "#9", "#11", "b13") if sounds_as(harmony) == "7" else ()
    return replace(harmony, tensions=tuple(d for d in harmony.tensions if d not in wrong))


def _as_a_triad(harmony: Harmony) -> Harmony:
    """An added chord that is written as a triad is played as one, even on V: a seventh would be
    another chord than the page says, and the colours of a dominant lie over one: E with C sharp
    and no D is a tonic with its sixth (common practice)."""
    if harmony.symbol.seventh is not None or "b7" not in harmony.tones or (
            sounds_as(harmony) != "7" or quality_of(harmony.symbol) != "M"):
        return harmony
    return replace(harmony, tones=tuple(d for d in harmony.tones if d != "b7"), tensions=())


_ANOTHER = MappingProxyType({"o": "11", "h": "b13"})
"""By quality the tension with which a passing chord is another: C sharp half-diminished with A is
A9 over its third."""


def _own_tensions(harmony: Harmony) -> Harmony:
    """A passing diminished or half-diminished chord with the tensions that leave it what it is."""
    another = _ANOTHER.get(sounds_as(harmony))
    if another not in harmony.tensions:
        return harmony
    return replace(harmony, tensions=tuple(d for d in harmony.tensions if d != another))


def _may_follow(way: Way, chords: tuple[Harmony, ...], place: Place) -> bool:
    """Whether chords after the written one are others, and nothing they do is forbidden."""
    here, goal = plain_chord(place.here), plain_chord(place.goal)
    first = plain_chord(chords[0])
    if way.chords.startswith("*") and first[0] in (here[0], goal[0]):
        return False
    if way.from_scale and any(contradicts(chord, place) for chord in chords):
        return False
    if way.motion is Motion.INNER_LINE:
        if chords[0].symbol == place.here.symbol:
            return False
        others = [c for c in chords if c.root != place.here.root] or chords
        return broken(place, others, LINE_MAY) is None
    if first == here and low_class(chords[0]) == low_class(place.here):
        return False  # a sus chord that takes its third is no new chord either
    own = len(chords) == 1 and printed_chord(chords[0]) in place.own
    return broken(place, chords, OWN_MAY if own else frozenset()) is None


def chains(place: Place, melody: int | None, level: Level, without: frozenset[str],
           best: Iterable[Option]) -> Iterator[tuple[Option, Option]]:
    """Two single chords in a row, each by a way of its own: first one that leads to the second,
    which then leads to the goal.

    best   the second ones to try
    """
    for second in best:
        if _by_thirds(second.chords[0], place.goal):
            continue
        between = Place(place.here, second.chords[0], False, place.before, place.goal, False,
                        place.home, place.triads, around=place.key)
        for first in options(between, melody, level, without, True):
            row = (first.chords[0], second.chords[0])
            if plain_chord(row[0]) in (plain_chord(row[1]), plain_chord(place.here)) or (
                    _by_thirds(*row)):
                continue
            if broken(place, row) is None and _goes_on(first, second, place):
                yield first, second


def _goes_on(first: Option, second: Option, place: Place) -> bool:
    """Whether the second of two single chords is after the first what it is after the written
    one: its conditions hold there, and it breaks no rule."""
    if second.way.root is Root.HERE:
        return False
    between = Place(first.chords[0], place.goal, place.ending, place.here, place.after, place.last,
                    place.home, place.triads)
    return second.way.fits(between) and broken(between, second.chords) is None


_THIRDS = (3, 4, 8, 9)


def _by_thirds(one: Harmony, other: Harmony) -> bool:
    """Whether roots move by a third: a chord may do so once on its way, two in a row wander."""
    return (other.root.pitch_class - one.root.pitch_class) % 12 in _THIRDS
