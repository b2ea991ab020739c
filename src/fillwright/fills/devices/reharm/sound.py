"""Whether a chord between chords is heard as what is printed.

A passing chord is not on the chart, so the ear has to get it from the keys alone: its third
and seventh, its altered fifth, every alteration its symbol names. In return the symbol is
written from the keys: where they hold a flat nine it says so, and where they hold no seventh
it names a triad. Common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from types import MappingProxyType

from fillwright.fills.devices.reharm.function import sounds_as
from fillwright.fills.devices.reharm.place import chord_at
from fillwright.theory.chord import ChordSymbol, degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["as_played", "followed", "heard_as_printed", "line_heard", "line_open", "root_heard",
           "voices"]

_ALTERED = MappingProxyType({1: "b9", 3: "#9", 8: "b13"})
_RENAMED = ("7", "7b9", "7b13")
_COLOURS = ("b9", "#9", "#11", "b13")
_SEVENTHS = ("b7", "7", "bb7", "6")
_TOLD = ("b3", "3", "4", "b5", "#5", *_SEVENTHS, *_COLOURS, "13")
"""Degrees of a symbol that have to be heard."""
_PLAINER = MappingProxyType({"m7": ("b7", "m"), "maj7": ("7", ""), "6": ("6", ""),
                             "m6": ("6", "m"), "9sus4": ("9", "7sus4")})
"""By suffix: without this degree, this is the name."""
_FOURTH, _SIXTH = 5, 9
_TRIADS = ("m7", "maj7", "6", "m6")


def heard_as_printed(harmony: Harmony, degrees: Sequence[str], all_told: bool) -> bool:
    """Whether these degrees, the held note's among them, tell an added chord: everything its
    symbol names but a natural fifth and a natural ninth.

    all_told   the seventh or sixth too; else it may be left out of a chord that is then named
               as the triad it is (see `as_played`), though never of a dominant
    """
    symbol = harmony.symbol
    if not root_heard(harmony, degrees):
        return False
    present = _present(symbol, degrees)
    wanted = {degree_pitch_class(d) for d in symbol.degrees if d in _TOLD}
    altered = {degree_pitch_class(d) for d in symbol.degrees if d in _COLOURS}
    if len(altered) > 2:  # an altered dominant: an altered ninth or thirteenth
        if not (altered - {degree_pitch_class("#11")}) & present:
            return False
        wanted -= altered
    if sounds_as(harmony) == "m" and "6" in symbol.degrees and _FOURTH in present:
        return False  # F minor 6 with its fourth is B flat 7
    if sounds_as(harmony) == "m" and symbol.seventh == "b7" and _SIXTH in present:
        return False  # and D minor 7 with its sixth is G7
    if not all_told and sounds_as(harmony) in "Mm" and symbol.suffix in _TRIADS:
        wanted -= {degree_pitch_class(d) for d in symbol.degrees if d in _SEVENTHS}
    return wanted <= present


def root_heard(harmony: Harmony, degrees: Sequence[str]) -> bool:
    """Whether a chord over another bass than its root is heard as that: E flat over B flat with no
    E flat in it is another chord, and C over B with no C in it is E minor (common practice).

    degrees   what sounds, the held note's among them
    """
    symbol = harmony.symbol
    if symbol.bass is None or symbol.bass == symbol.root:
        return True
    return 0 in _present(symbol, degrees)


def _present(symbol: ChordSymbol, degrees: Sequence[str]) -> set[int]:
    """Semitones over the root of what sounds, the bass among them where it is struck."""
    present = {degree_pitch_class(d) for d in degrees if d != "bass"}
    if symbol.bass is not None and "bass" in degrees:
        present.add(symbol.relative(symbol.bass.pitch_class))
    return present


def as_played(harmony: Harmony, degrees: Sequence[str]) -> tuple[Harmony, tuple[str, ...]]:
    """The chord by the name of what is struck, and the alterations that were added.

    degrees   what sounds over the chord's root

    A dominant seventh is named with the alterations that are struck; its natural tensions need
    no name. What sounds no seventh, or no ninth over a fourth, is printed without it.
    """
    symbol = harmony.symbol
    struck = _present(symbol, degrees)
    plain = _PLAINER.get(symbol.suffix)
    if plain is not None and degree_pitch_class(plain[0]) not in struck:
        return replace(harmony, symbol=chord_at(harmony.root, plain[1], symbol.bass)), ()
    if sounds_as(harmony) != "7" or symbol.suffix not in _RENAMED:
        return harmony, ()
    struck -= {degree_pitch_class(d) for d in symbol.degrees}
    added = tuple(name for pc, name in _ALTERED.items() if pc in struck)
    if not added:
        return harmony, ()
    names = [name for pc, name in _ALTERED.items() if pc in struck or name in symbol.degrees]
    suffix = f"7({','.join(names)})"
    return replace(harmony, symbol=chord_at(harmony.root, suffix, symbol.bass)), added


def line_heard(line: Sequence[int], rows: Sequence[Sequence[int]]) -> bool:
    """Whether a voice takes these pitch classes one after the other, by steps, in the keys that
    sound at each chord.

    It is heard as a line only where each key it comes to is new, and each key it leaves is let go.
    """
    places = {m for m in rows[0] if m % 12 == line[0]}
    gone: set[int] = set(rows[0])
    for pc, row in zip(line[1:], rows[1:], strict=True):
        left = {p for p in places if p not in row}
        places = {m for m in row if m % 12 == pc and m not in gone
                  and any(abs(m - p) <= 2 for p in left)}
        gone |= set(row)
    return bool(places)


def line_open(line: Sequence[int], row: Sequence[int]) -> bool:
    """Whether a voice may set off on a line from these keys: one of them is its first note, and
    none is on its way.

    >>> line_open((0, 11, 10), (43, 58, 60)), line_open((0, 11, 10), (43, 55, 60))
    (False, True)
    """
    for key in row:
        if key % 12 != line[0]:
            continue
        way = [key]
        for pc in line[1:]:
            way.append(way[-1] + (pc - way[-1] + 6) % 12 - 6)
        if not set(way[1:]) & set(row):
            return True
    return False


def followed(before: Sequence[int], after: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """The voices of one hand from chord to chord, each key with the next: counted from the bottom
    where the hand has as many keys; else none can be followed but a key that stays.

    >>> followed((60, 64), (59, 65)), followed((60, 64), (59, 64, 67))
    (((60, 59), (64, 65)), ((64, 64),))
    """
    if len(before) == len(after):
        return tuple(zip(before, after, strict=True))
    return tuple((m, m) for m in before if m in after)


_STEP = 2


def voices(before: Sequence[Sequence[int]], after: Sequence[Sequence[int]]
           ) -> frozenset[tuple[int, int]]:
    """Where the keys of all hands go from one chord to the next: as in `followed`, and from a hand
    that takes more keys, or fewer, by steps to any key of such a hand.

    before, after   the keys of each hand, lowest first

    >>> sorted(voices([(50,), (65, 68)], [(50,), (67, 70)]))
    [(50, 50), (65, 67), (68, 70)]
    >>> sorted(voices([(50, 60), ()], [(50,), (59, 65)]))
    [(50, 50), (60, 59)]
    """
    found: set[tuple[int, int]] = set()
    left, taken = [], []
    for one, other in zip(before, after, strict=True):
        found |= set(followed(one, other))
        if len(one) != len(other):
            left += [m for m in one if m not in other]
            taken += [m for m in other if m not in one]
    return frozenset(found | {(a, b) for a in left for b in taken if abs(a - b) <= _STEP})
