"""One passing chord between two others: the ranking of single chords by itself.

This is the ranking by which fills are proposed, for a place of one added chord: the same
rows, the same costs of progression and of the melody note.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fillwright.fills.devices.reharm.function import letter, melody_cost
from fillwright.fills.devices.reharm.place import Place, options, own_ways
from fillwright.fills.hearing import habits_of
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import analyse
from fillwright.theory.key import Key

__all__ = ["Passing", "passing_options"]


@dataclass(frozen=True, slots=True)
class Passing:
    """A chord for one place, the device it comes from, and its cost."""

    symbol: ChordSymbol
    quality: str
    device: str
    cost: int


def passing_options(previous: ChordSymbol, following: ChordSymbol, key: Key,
                    melody: int | None = None, *, before: Sequence[ChordSymbol] = (),
                    after: Sequence[ChordSymbol] = (), count: int = 10) -> tuple[Passing, ...]:
    """At most `count` chords to stand between two others, best first, no root and quality
    twice.

    key      the home key
    melody   MIDI number of the melody note that sounds meanwhile, None where there is none
    before, after   the chords around, by which the local key is found
    quality  of a result: M major, m minor, 7 dominant, h half-diminished, o diminished
    """
    row = [*before, previous, following, *after]
    heard = analyse(row, key)
    here, goal = heard[len(before)], heard[len(before) + 1]
    if here is None or goal is None:
        return ()
    return _ranked(Place(here, goal, False, own_ways(habits_of(heard), here, goal)), melody)[:count]


def _ranked(place: Place, melody: int | None) -> tuple[Passing, ...]:
    note = None if melody is None else melody % 12
    best: dict[tuple[int, str], Passing] = {}
    for option in options(place, note):
        move = option.move
        if len(option.chords) != 1 or move.delay or move.colour or move.instead:
            continue
        chord = option.chords[0]
        cost = option.cost + (0 if note is None else melody_cost(chord, note))
        identity = (chord.root.pitch_class, letter(chord))
        if identity not in best or cost < best[identity].cost:
            best[identity] = Passing(chord.symbol, letter(chord), move.device, cost)
    return tuple(sorted(best.values(), key=lambda p: p.cost))
