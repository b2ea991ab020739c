"""One chord between two others: the ranking of single chords by itself.

This is the surprise by which fills are ranked, for a place of one added chord. It says what
usually stands there; whether a fill may put it there is a matter of the moves and of the rules
(`never`), so a chord no move gives is ranked too, and names none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fillwright.fills.devices.reharm.function import Chord, printed_chord
from fillwright.fills.devices.reharm.options import Option, options
from fillwright.fills.devices.reharm.own import Standing, own_chords
from fillwright.fills.devices.reharm.place import Place, chord_at
from fillwright.fills.devices.reharm.prior import CHORDS, Around, OwnChord, cost
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import Harmony, analyse
from fillwright.theory.key import Key
from fillwright.theory.pitch import NoteName

__all__ = ["ChordsBetween", "Passing", "passing_options"]


@dataclass(frozen=True, slots=True)
class Passing:
    """A chord for one place, the device it comes from ("" where no move gives it), its cost."""

    symbol: ChordSymbol
    quality: str
    device: str
    cost: int


@dataclass(frozen=True, slots=True)
class ChordsBetween:
    """A place between two chords of a row.

    key      the home key
    melody   MIDI number of the melody note that sounds meanwhile, None where there is none
    before, after   the chords around, by which the local key and the tune's ways are found
    beats, place_in_bar, goal_in_bar   of the chord looked for and of the goal, as in
             `prior.Around`
    form     as in `prior.Around`
    """

    previous: ChordSymbol
    following: ChordSymbol
    key: Key
    melody: int | None = None
    before: Sequence[ChordSymbol] = ()
    after: Sequence[ChordSymbol] = ()
    beats: int = 2
    place_in_bar: int = 1
    goal_in_bar: int = 0
    form: int = 0


def passing_options(between: ChordsBetween, count: int = 10, own: bool = True) -> tuple[Passing,
                                                                                        ...]:
    """At most `count` chords to stand between two others, best first, no root and quality
    twice.

    own      what the chords around do elsewhere is counted in
    quality  of a result: M major, m minor, 7 dominant, h half-diminished, o diminished
    """
    row = [*between.before, between.previous, between.following, *between.after]
    heard = analyse(row, between.key)
    place = _place(heard, between)
    if place is None:
        return ()
    around = _around(place, between)
    looked_for = Standing(around.before, around.here, around.here, around.goal, around.after, -1)
    ways = own_chords(looked_for, _standings(heard)) if own else ()
    return _ranked(options(place, around.note, single=True), around, ways)[:count]


def _place(heard: Sequence[Harmony | None], between: ChordsBetween) -> Place | None:
    at = len(between.before)
    here, goal = heard[at], heard[at + 1]
    if here is None or goal is None:
        return None
    return Place(here, goal, before=_other(reversed(heard[:at]), here),
                 after=_other(iter(heard[at + 2:]), goal), home=between.key)


def _around(place: Place, between: ChordsBetween) -> Around:
    before, after = (None if h is None else printed_chord(h)
                     for h in (place.before, place.after))
    return Around(printed_chord(place.here), printed_chord(place.goal),
                  _tonality(place.goal.key), _tonality(place.here.key), _tonality(between.key),
                  before, after, between.place_in_bar, between.goal_in_bar,
                  min(between.beats, 4), between.form,
                  None if between.melody is None else between.melody % 12)


def _tonality(key: Key) -> tuple[int, str]:
    return key.tonic.pitch_class, key.mode


def _other(row: Iterator[Harmony | None], than: Harmony) -> Harmony | None:
    return next((h for h in row if h is not None and printed_chord(h) != printed_chord(than)), None)


def _standings(heard: Sequence[Harmony | None]) -> list[Standing]:
    joined: list[Chord | None] = [None]
    for harmony in heard:
        if harmony is not None and joined[-1] != printed_chord(harmony):
            joined.append(printed_chord(harmony))
    joined.append(None)
    found = []
    for number, (a, b, c, d, e) in enumerate(
            zip(joined, joined[1:], joined[2:], joined[3:], joined[4:], strict=False)):
        if b is not None and c is not None and d is not None:
            found.append(Standing(a, b, c, d, e, number))
    return found


_FLAT_NAMES = (("C", 0), ("D", -1), ("D", 0), ("E", -1), ("E", 0), ("F", 0), ("G", -1), ("G", 0),
               ("A", -1), ("A", 0), ("B", -1), ("B", 0))
_SUFFIXES = {"M": "6", "m": "m7", "7": "7", "h": "m7b5", "o": "dim7"}


def _ranked(offered: Sequence[Option], around: Around, ways: tuple[OwnChord, ...]
            ) -> tuple[Passing, ...]:
    named: dict[Chord, Option] = {}
    for option in offered:
        named.setdefault(printed_chord(option.chords[0]), option)
    found = []
    for chord in CHORDS:
        if chord in (around.here, around.goal):
            continue
        given = named.get(chord)
        key = Key.of(NoteName(*_FLAT_NAMES[around.key[0]]), around.key[1])
        symbol = (chord_at(key.spell(60 + chord[0]).note_name, _SUFFIXES[chord[1]])
                  if given is None else given.chords[0].symbol)
        found.append(Passing(symbol, chord[1], "" if given is None else given.move.name,
                             cost(chord, around, ways)))
    return tuple(sorted(found, key=lambda p: p.cost))
