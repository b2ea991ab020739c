"""The names of a gap's keys, chosen as one.

A chord is named where it is made, without regard to the melody note above it or to the chords
around. Here every added chord of a gap is weighed under both its names (F sharp and G flat): what
the page writes elsewhere, the melody note that sounds with it, the chord before it, the one it
falls to and the key decide. A chord of the sheet keeps its symbol, and its keys are written as that
is read. Common practice.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from functools import partial
from types import MappingProxyType

from fillwright.fills.devices.reharm.hands import HandPair
from fillwright.fills.situation import Task
from fillwright.fills.voicing.voicings import Voicing
from fillwright.memory import SEARCHES
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import Harmony
from fillwright.theory.key import Key
from fillwright.theory.pitch import Interval, NoteName, spelled

__all__ = ["Named", "on_the_page", "spelt"]

Named = tuple[Harmony, HandPair]
"""A chord by its name, and its keys by theirs."""

WEIGHTS = MappingProxyType({
    # term: integer cost per unit; design choices
    "melody": 10,       # the melody note has another name than the chord would give it
    "easier melody": 3,  # the same, but the chord would give it a name that is hard to read
    "doubled": 8,       # and such a name is struck an octave away from the melody note
    "letter": 4,        # a key on the melody note's letter that is another key
    "sheet": 8,         # the sheet writes this root by its other name
    "fifth": 16,        # the root falls a fifth, and the letters do not: G flat, then B
    "mixed": 8,         # sharps and flats together, the melody note among them
    "double flat": 5,
    "double sharp": 10,
    "odd root": 4,      # a root named C flat, F flat or A sharp
    "odd": 2,           # a key named C flat, F flat, E sharp or B sharp
    "half step": 3,     # the root goes to the next one on the same letter
    "sharp falls": 24,  # and it is a sharp that goes down to its own letter: C sharp, then C
    "flat rises": 8,    # or a flat that goes up to it
    "neighbour": 3,     # a key the chord before has by another name
    "key": 2,           # a key of the scale by another name
    "new name": 1,      # another name than the chord was made with
})

_ODD = frozenset(("Cb", "Fb", "E#", "B#"))
_ODD_ROOTS = frozenset(("Cb", "Fb", "A#"))
_UNREAD = frozenset(("E#", "B#"))
"""Roots nobody reads; C flat there is in six flats, and F flat major seven under an E flat."""

_RARE = NoteName("F", -1)
"""A root that is read only where no tone of its chord has a double flat: under major chords."""

_LETTERS = "CDEFGAB"
_FIFTH, _FIFTH_LETTERS = 7, 4


def on_the_page(situation: Task) -> frozenset[NoteName]:
    """The roots that the sheet writes in the gap and around it."""
    printed = [p.symbol for p in (*situation.before, *situation.written, *situation.after)]
    return frozenset(s.root for s in printed if s.root is not None)


def spelt(row: Sequence[tuple[Harmony, HandPair, bool]], held: Sequence[NoteName | None],
          goal: Harmony | None, page: frozenset[NoteName], key: Key) -> tuple[Named, ...]:
    """Chords and their keys by the names that go together best, one after the other.

    row    each chord with its hands, and whether it is added
    held   the name of the melody note that sounds with each, or None
    goal   the chord after the last, or None
    page   roots as the sheet writes them
    """
    found: list[Named] = []
    before: dict[int, NoteName] = {}
    coming = [*(harmony for harmony, _, _ in row[1:]), goal]
    for (harmony, hands, added), note, after in zip(row, held, coming, strict=True):
        around = _Around(note, page, key, before,
                         None if after is None else after.symbol.lowest or after.root)
        symbol = harmony.symbol
        if added:
            symbol = min(_names(symbol), key=partial(around.cost, harmony, hands))
        names = around.keys(symbol, hands)
        if symbol is not harmony.symbol:
            harmony = replace(harmony, symbol=symbol)
        found.append((harmony, _respelt(hands, names)))
        before = {name.pitch_class: name for name in names.values()}
    return tuple(found)


@SEARCHES.keep
def _names(symbol: ChordSymbol) -> tuple[ChordSymbol, ...]:
    """A chord under every name of its root with one accidental or none, its own first."""
    if symbol.root is None:
        return (symbol,)
    found = [symbol]
    for step in _LETTERS:
        for alter in (-1, 0, 1):
            root = NoteName(step, alter)
            if (root.pitch_class == symbol.root.pitch_class and root != symbol.root
                    and str(root) not in _UNREAD):
                by = (_LETTERS.index(step) - _LETTERS.index(symbol.root.step) + 3) % 7 - 3
                bass = None if symbol.bass is None else symbol.bass + Interval(by, 0)
                found.append(ChordSymbol(root, symbol.kind, symbol.degrees, bass, symbol.suffix))
    return tuple(s for s in found if s.root != _RARE
                 or ("3" in s.degrees and "b7" not in s.degrees)) or (symbol,)


_OF_THE_KEY = ("b5", "bb7")
"""Degrees of a diminished chord that no third tells apart from what the key has there."""


class _Around:
    """What a chord's names are weighed by."""

    __slots__ = ("_after", "_before", "_key", "_note", "_page")

    def __init__(self, note: NoteName | None, page: frozenset[NoteName], key: Key,
                 before: dict[int, NoteName], after: NoteName | None) -> None:
        self._note, self._page = note, page
        self._key = {name.pitch_class: name for name in key.scale}
        self._before, self._after = before, after

    def keys(self, symbol: ChordSymbol, hands: HandPair) -> dict[str, NoteName]:
        """The names of the degrees that are struck: the melody note's own, where it is a colour or
        a raised fifth, is written as it is; another tone that the symbol names has its name, but
        the fifth and seventh of a diminished chord have the key's: over A in E major they are D
        sharp and F sharp (common practice). A name that nobody reads gives way to the melody note's
        too: under B the seventh of D flat 7 is B."""
        found = {}
        own = (self._of_the_key(symbol, hands.degrees) if symbol.quality == "diminished"
               else {})
        for degree in hands.degrees:
            name = own.get(degree) or _name(symbol, degree)
            note = self._note
            found[degree] = (note if note is not None and note.pitch_class == name.pitch_class
                             and (degree == "#5" or degree not in symbol.degrees
                                  or str(name) in _ODD) else name)
        return found

    def _of_the_key(self, symbol: ChordSymbol, degrees: Collection[str]) -> dict[str, NoteName]:
        """The fifth and seventh of a diminished chord as the key has them; where one is its sharp,
        the other is no flat: over E in E major A sharp stands beside C sharp. Nor is it beside a
        colour or a melody note that is a sharp: over F sharp D sharp stands beside G sharp."""
        plain = {d: _name(symbol, d) for d in _OF_THE_KEY if d in symbol.degrees}
        found = {d: self._key.get(name.pitch_class, name) for d, name in plain.items()}
        colours = [_name(symbol, d) for d in degrees if d not in symbol.degrees]
        sharps = [name for name in (*colours, self._note) if name is not None and name.alter > 0]
        if sharps or any(found[d].alter > 0 for d, name in plain.items() if found[d] != name):
            found = {d: _sharp(name) if name.alter < 0 else name for d, name in found.items()}
        return found

    def cost(self, harmony: Harmony, hands: HandPair, symbol: ChordSymbol) -> int:
        """What it costs to write a chord by a name."""
        root = symbol.root
        assert root is not None
        total = WEIGHTS["new name"] * (root != harmony.root)
        total += WEIGHTS["odd root"] * (str(root) in _ODD_ROOTS)
        total += self._step_on(symbol)
        total += WEIGHTS["sheet"] * (root not in self._page and any(
            other.pitch_class == root.pitch_class for other in self._page))
        after = self._after
        total += WEIGHTS["fifth"] * (after is not None and symbol.lowest == root and (
            (root.pitch_class - after.pitch_class) % 12 == _FIFTH) and (
            (_LETTERS.index(root.step) - _LETTERS.index(after.step)) % 7 != _FIFTH_LETTERS))
        names = list(self.keys(symbol, hands).values())
        mixed = symbol.quality != "diminished"  # F sharp, A, C, E flat is how it is read
        return total + self._melody(harmony, symbol, names) + self._written(names, mixed)

    def _step_on(self, symbol: ChordSymbol) -> int:
        """What leads by a half step has another letter than where it leads: D flat goes down to C,
        C sharp up to D, whatever the tune is called above it. The half-diminished chord on the
        raised fourth keeps its name, and so does a root whose other name nobody reads: B goes down
        to B flat."""
        after, low = self._after, symbol.lowest
        if after is None or low is None or after.step != low.step or after == low:
            return 0
        altered = abs(low.alter) > abs(after.alter) and symbol.quality != "half-diminished"
        if not altered or all(str(name.root) in _ODD for name in _names(symbol)[1:]):
            return WEIGHTS["half step"]
        return WEIGHTS["sharp falls" if low.alter > 0 else "flat rises"]

    def _melody(self, harmony: Harmony, symbol: ChordSymbol, names: Collection[NoteName]) -> int:
        note = self._note
        if note is None:
            return 0
        degree = harmony.degree_of(note.pitch_class)
        colour = symbol.quality == "diminished" and degree not in symbol.degrees
        own = note if degree is None or colour else symbol.voiced_name_of(degree)
        easier = str(own) in _ODD or abs(own.alter) > 1  # B for C flat: nobody minds
        unlike = WEIGHTS["easier melody" if easier else "melody"] * (own != note)
        unlike += WEIGHTS["doubled"] * (own != note and own in names)
        return unlike + WEIGHTS["letter"] * sum(
            name.step == note.step and name != note for name in names)

    def _written(self, names: Collection[NoteName], mixed: bool) -> int:
        accidentals = {(n.alter > 0) - (n.alter < 0) for n in (
            *names, *(() if self._note is None else (self._note,)))}
        total = WEIGHTS["mixed"] * (mixed and accidentals >= {-1, 1})
        for name in names:
            total += (WEIGHTS["double flat"] * (name.alter < -1) + WEIGHTS["double sharp"] * (
                name.alter > 1) + WEIGHTS["odd"] * (str(name) in _ODD))
            for term, others in (("neighbour", self._before), ("key", self._key)):
                other = others.get(name.pitch_class)
                total += WEIGHTS[term] * (other is not None and other != name)
        return total


def _sharp(name: NoteName) -> NoteName:
    """The name of the same key a letter lower: A sharp for B flat."""
    return name + Interval(-1, 0)


def _name(symbol: ChordSymbol, degree: str) -> NoteName:
    assert symbol.root is not None
    if degree == "bass":
        return symbol.bass or symbol.root
    return symbol.voiced_name_of(degree)


def _respelt(hands: HandPair, names: dict[str, NoteName]) -> HandPair:
    def named(voicing: Voicing) -> Voicing:
        return replace(voicing, pitches=tuple(
            spelled(names[degree], midi)
            for degree, midi in zip(voicing.degrees, voicing.midis, strict=True)))
    return HandPair(named(hands.left), None if hands.right is None else named(hands.right))
