"""The key a chord is heard in, found over the chords around it.

A tune stands in one key and leans into others: a bridge a third away, a II V that leads
to the fourth degree. `local_keys` names the key chord by chord: the cheapest path through
the 24 keys, where a chord pays for standing far from a key, a cadence (V I, II V) is
evidence for its key, and every change of key costs. A single secondary dominant is thus
heard inside the key it decorates, a whole II V I in another place is heard there.

The costs are common practice in numbers chosen here (tenths of a chord out of place).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType

from fillwright.theory.chord import ChordSymbol
from fillwright.theory.key import Key

__all__ = ["DIATONIC", "chord_in_key_cost", "heard_key", "home_key", "local_keys",
           "quality_class"]

_QUALITY_CLASSES = MappingProxyType({
    "major": "major", "minor": "minor", "minor-major": "minor", "dominant": "dominant",
    "augmented": "dominant", "suspended": "dominant", "half-diminished": "half-diminished",
    "diminished": "diminished", "power": "major",
})


def quality_class(symbol: ChordSymbol) -> str:
    """Major, minor, dominant, half-diminished or diminished; "" for N.C.

    Suspended and augmented chords act as dominants, except an augmented major seventh.
    """
    if symbol.root is None:
        return ""
    if symbol.third == "2" and symbol.seventh is None:
        return "major"
    return _QUALITY_CLASSES.get(symbol.quality, "major")


# Place above the tonic and quality: tenths of cost. What is not named costs _FOREIGN.
_MAJOR_KEY: MappingProxyType[tuple[int, str], int] = MappingProxyType({
    (0, "major"): 0, (2, "minor"): 0, (4, "minor"): 1, (5, "major"): 1, (7, "dominant"): 0,
    (7, "major"): 1, (9, "minor"): 1, (11, "half-diminished"): 2,
    # secondary dominants, and the tonic or subdominant as a dominant (blues)
    (0, "dominant"): 4, (2, "dominant"): 3, (4, "dominant"): 4, (9, "dominant"): 3,
    (11, "dominant"): 5, (5, "dominant"): 5,
    # related II of those
    (7, "minor"): 5, (11, "minor"): 7, (6, "half-diminished"): 5, (4, "half-diminished"): 4,
    (9, "half-diminished"): 6,
    # borrowed from the minor, and the substitutes of the dominant
    (5, "minor"): 3, (10, "dominant"): 4, (8, "dominant"): 5, (1, "dominant"): 4,
    (3, "dominant"): 6, (2, "half-diminished"): 3, (8, "major"): 5, (3, "major"): 6,
    (10, "major"): 6, (1, "major"): 6, (0, "minor"): 7, (3, "minor"): 7,
    (2, "major"): 4, (4, "major"): 5, (9, "major"): 5,
    # diminished chords pass everywhere
    (0, "diminished"): 3, (1, "diminished"): 3, (3, "diminished"): 3, (6, "diminished"): 3,
    (8, "diminished"): 4, (2, "diminished"): 4, (5, "diminished"): 5, (7, "diminished"): 5,
    (11, "diminished"): 3,
})
_MINOR_KEY: MappingProxyType[tuple[int, str], int] = MappingProxyType({
    (0, "minor"): 0, (2, "half-diminished"): 0, (5, "minor"): 1, (7, "dominant"): 0,
    (7, "major"): 3, (7, "minor"): 4, (3, "major"): 2, (8, "major"): 2, (10, "dominant"): 3,
    (10, "major"): 4, (2, "minor"): 4, (5, "dominant"): 4, (2, "dominant"): 4,
    (0, "dominant"): 5, (3, "dominant"): 5, (8, "dominant"): 3, (1, "dominant"): 5,
    (1, "major"): 5, (6, "half-diminished"): 5, (9, "half-diminished"): 4, (0, "major"): 7,
    (9, "dominant"): 6, (4, "half-diminished"): 7, (5, "major"): 6, (2, "major"): 6,
    (11, "diminished"): 1, (0, "diminished"): 4, (1, "diminished"): 4, (3, "diminished"): 5,
    (4, "diminished"): 4, (6, "diminished"): 4, (8, "diminished"): 4, (2, "diminished"): 2,
})
_FOREIGN = 9

_SCALES: MappingProxyType[str, frozenset[int]] = MappingProxyType({
    "major": frozenset((0, 2, 4, 5, 7, 9, 11)),
    "minor": frozenset((0, 2, 3, 5, 7, 8, 9, 10, 11))})
"""Semitones above the tonic, with both sixths and sevenths in minor."""

_CHANGE = 7
"""Cost of a change of key. It does not fall with nearness: a near key is the one that is
hardest to tell from home."""
_AWAY = 2
"""Cost of each chord heard outside the home key."""
_CADENCE = 4
"""What V to I, or II to V, in a key is worth as evidence for it."""

_FOREIGN_NOTE = 2
"""What a note of the melody outside a key costs."""
_NOT_LAST = 12
"""What a key costs whose tonic is not the last chord: pieces end at home (common practice)."""

DIATONIC: MappingProxyType[str, tuple[tuple[int, str], ...]] = MappingProxyType({
    "major": ((0, "maj7"), (2, "m7"), (4, "m7"), (5, "maj7"), (7, "7"), (9, "m7"),
              (11, "m7b5")),
    "minor": ((0, "m6"), (2, "m7b5"), (3, "maj7"), (5, "m7"), (7, "7"), (8, "maj7"),
              (10, "7")),
})
"""The seventh chords of a key, by semitones above the tonic (minor with its own II V)."""


def chord_in_key_cost(symbol: ChordSymbol, key: Key) -> int:
    """How far a chord stands from a key, 0 (at home) to 9 (foreign)."""
    if symbol.root is None:
        return 0
    return _cost(symbol.root.pitch_class, quality_class(symbol), key.tonic.pitch_class, key.mode)


@lru_cache(maxsize=2048)
def _cost(root: int, quality: str, tonic: int, mode: str) -> int:
    table = _MAJOR_KEY if mode == "major" else _MINOR_KEY
    return table.get(((root - tonic) % 12, quality), _FOREIGN)


@lru_cache(maxsize=2048)
def _cadence(first: tuple[int, str], second: tuple[int, str], tonic: int, mode: str) -> int:
    """Evidence of a pair of chords for a key."""
    a, b = (first[0] - tonic) % 12, (second[0] - tonic) % 12
    rest = "major" if mode == "major" else "minor"
    if a == 7 and first[1] == "dominant" and b == 0 and second[1] == rest:
        return _CADENCE
    two = ("minor",) if mode == "major" else ("half-diminished", "minor")
    if a == 2 and first[1] in two and b == 7 and second[1] == "dominant":
        return _CADENCE - (mode == "minor" and first[1] == "minor")
    return 0


@lru_cache(maxsize=32)
def _keys_near(home: Key) -> tuple[Key, ...]:
    """All 24 keys, home first, each spelled by the signature nearest to home's."""
    keys = []
    for place in range(12):
        for mode in ("major", "minor"):
            options = [Key(fifths, mode) for fifths in range(-6, 7)
                       if (fifths * 7 - place) % 12 == 0]
            keys.append(min(options, key=lambda k: (abs(k.fifths), abs(k.fifths - home.fifths),
                                                    k.fifths)))
    same = [k for k in keys if k.mode == home.mode
            and k.tonic.pitch_class == home.tonic.pitch_class]
    return (home, *[k for k in keys if k not in same])


@lru_cache(maxsize=32)
def _tonics(home: Key) -> tuple[tuple[int, str], ...]:
    """Pitch class and mode of each of `_keys_near`."""
    return tuple([(key.tonic.pitch_class, key.mode) for key in _keys_near(home)])


@lru_cache(maxsize=4096)
def _costs(chord: tuple[int, str], home: Key) -> tuple[int, ...]:
    """What a chord pays in each of the keys of `_keys_near`."""
    root, quality = chord
    return tuple([_cost(root, quality, tonic, mode) + (_AWAY if place else 0)
                  for place, (tonic, mode) in enumerate(_tonics(home))])


@lru_cache(maxsize=4096)
def _evidence(first: tuple[int, str], second: tuple[int, str], home: Key
              ) -> tuple[tuple[int, int], ...]:
    """The keys a pair of chords is a cadence in, by place in `_keys_near`, and its worth."""
    likely = (second[0], (first[0] - 2) % 12)  # V I ends on the tonic, II V begins above it
    worth = [(place, _cadence(first, second, tonic, mode))
             for place, (tonic, mode) in enumerate(_tonics(home)) if tonic in likely]
    return tuple([pair for pair in worth if pair[1]])


_Steps = list[tuple[list[int], int, int]]
"""For each step the costs of staying in a key, the cost of changing, and from where one does."""


def _walk(chords: tuple[tuple[int, str], ...], home: Key) -> tuple[list[int], _Steps]:
    """What the cheapest path through the keys costs that ends in each, and its steps."""
    best = [cost + (_CHANGE if place else 0) for place, cost in enumerate(_costs(chords[0], home))]
    back: _Steps = []
    for first, second in pairwise(chords):
        # Staying is free; else only the cheapest key so far can be worth a change.
        cheapest = min(best)
        change, leap = cheapest + _CHANGE, best.index(cheapest)
        for place, worth in _evidence(first, second, home):
            best[place] -= worth
        back.append((best, change, leap))
        best = [(stay if stay <= change else change) + cost
                for stay, cost in zip(best, _costs(second, home), strict=True)]
    return best, back


@lru_cache(maxsize=256)
def _path(chords: tuple[tuple[int, str], ...], home: Key) -> tuple[Key, ...]:
    keys = _keys_near(home)
    best, back = _walk(chords, home)
    place = best.index(min(best))
    path = [place]
    for stay_costs, change, leap in reversed(back):
        place = place if stay_costs[place] <= change else leap
        path.append(place)
    return tuple([keys[i] for i in reversed(path)])


def home_key(symbols: Sequence[ChordSymbol], signature: Key, melody: Iterable[int]) -> Key:
    """The key a whole tune is at home in: the signature's, or that of the triad it begins and
    ends on where chords and melody fit that better, as on sheets that print every accidental.

    melody   its MIDI numbers

    >>> from fillwright.theory.chordtext import parse_chord
    >>> row = [parse_chord(text) for text in "G D G C D G".split()]
    >>> str(home_key(row, Key(0), (67, 69, 66, 67))), str(home_key(row, Key(0), (67, 69, 65)))
    ('G major', 'C major')
    """
    chords = [symbol for symbol in symbols if symbol.root is not None]
    if not chords or chords[0].root != chords[-1].root or chords[-1].root is None:
        return signature
    mode = quality_class(chords[-1])
    if mode not in _SCALES or chords[-1].root.pitch_class == signature.tonic.pitch_class:
        return signature
    home = Key.of(chords[-1].root, mode)
    notes = [midi % 12 for midi in melody]

    def foreign(key: Key) -> int:
        return sum((note - key.tonic.pitch_class) % 12 not in _SCALES[key.mode] for note in notes)

    def strange(key: Key) -> int:
        return sum(chord_in_key_cost(symbol, key) for symbol in chords)

    fits = foreign(home) <= foreign(signature) and strange(home) < strange(signature)
    return home if fits else signature


def heard_key(symbols: Sequence[ChordSymbol], melody: Iterable[int]) -> Key:
    """The key of a sheet that has no signature at all: where its chords and the notes of its
    melody are least foreign; a last chord on the tonic speaks for a key, and of keys that
    explain as much the one with fewer sharps and flats is taken.

    melody   its MIDI numbers

    >>> from fillwright.theory.chordtext import parse_chord
    >>> row = [parse_chord(text) for text in "Dm C F Bb F Gm A7 Dm".split()]
    >>> str(heard_key(row, (65, 67, 69, 70, 69))), str(heard_key([], ()))
    ('D minor', 'C major')
    """
    named = [symbol for symbol in symbols if symbol.root is not None]
    chords = _kinds(named)[0]
    notes = Counter(midi % 12 for midi in melody)

    def strange(key: Key) -> tuple[int, int]:
        tonic = key.tonic.pitch_class
        cost = _FOREIGN_NOTE * sum(count for note, count in notes.items()
                                   if (note - tonic) % 12 not in _SCALES[key.mode])
        if chords:
            root, quality = chords[-1]
            cost += min(_walk(tuple(chords), key)[0])
            cost += _NOT_LAST * (root != tonic or quality not in (key.mode, "dominant"))
        return cost, abs(key.fifths)

    return min(_keys_near(Key(0)), key=strange)


def local_keys(symbols: Sequence[ChordSymbol], home: Key) -> tuple[Key, ...]:
    """The key each chord is heard in; N.C. takes the key of the chord before it.

    >>> from fillwright.theory.chordtext import parse_chord
    >>> row = [parse_chord(t) for t in "Dm7 G7 Cmaj7 Fm7 Bb7 Ebmaj7 Dm7 G7 C6".split()]
    >>> [str(key) for key in local_keys(row, Key(0))][2:7]
    ['C major', 'Eb major', 'Eb major', 'Eb major', 'C major']
    """
    chords, places = _kinds(symbols)
    if not chords:
        return (home,) * len(symbols)
    path = _path(tuple(chords), home)
    return tuple([path[max(place, 0)] for place in places])


def _kinds(symbols: Iterable[ChordSymbol]) -> tuple[list[tuple[int, str]], list[int]]:
    """Root and quality of the chords, one that stays said once, and for each symbol the place
    of its chord in them, -1 before the first."""
    chords: list[tuple[int, str]] = []
    places: list[int] = []
    known: dict[int, tuple[int, str]] = {}
    for symbol in symbols:
        if symbol.root is not None:
            chord = known.get(id(symbol))
            if chord is None:
                chord = known[id(symbol)] = (symbol.root.pitch_class, quality_class(symbol))
            if not chords or chords[-1] != chord:
                chords.append(chord)
        places.append(len(chords) - 1)
    return chords, places
