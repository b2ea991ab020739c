"""How chords follow each other: the one measure by which passing chords are ranked.

`PROGRESSIONS_MAJOR` and `PROGRESSIONS_MINOR` say, for a chord of a key, which chords come
next and how often, in rough per cent. They are common practice in numbers estimated here
for tunes of the lead-sheet repertoire (not counted from any collection). What a table does
not hold is judged by root motion alone, in any key (`MOTIONS`), and costs more.

A cost is ten times the negative natural logarithm of such a share: 0 is certain, 23 is one
in ten, 46 is one in a hundred.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache
from types import MappingProxyType

from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import Harmony
from fillwright.theory.key import Key
from fillwright.theory.local_key import quality_class

__all__ = ["LETTERS", "MELODY_COSTS", "MOTIONS", "PROGRESSIONS_MAJOR", "PROGRESSIONS_MINOR",
           "follow_cost", "letter", "melody_cost", "quality_of"]

LETTERS = MappingProxyType({"major": "M", "minor": "m", "dominant": "7",
                             "half-diminished": "h", "diminished": "o"})
_DEGREES = MappingProxyType({"1": 0, "b2": 1, "#1": 1, "2": 2, "b3": 3, "#2": 3, "3": 4, "4": 5,
                             "#4": 6, "b5": 6, "5": 7, "b6": 8, "#5": 8, "6": 9, "b7": 10,
                             "7": 11})
_CHORD = re.compile(r"([b#]?[1-7])([Mm7ho])")

Chord = tuple[int, str]
"""Pitch class of the root (or its distance from a tonic) and a quality letter: M major,
m minor, 7 dominant, h half-diminished, o diminished."""


def _chord(text: str) -> Chord:
    match = _CHORD.fullmatch(text)
    if match is None:
        raise ValueError(f"not a chord of the table: {text!r}")
    return _DEGREES[match[1]], match[2]


def _table(rows: str) -> MappingProxyType[Chord, MappingProxyType[Chord, float]]:
    table = {}
    for row in rows.replace(",\n", ",").strip().splitlines():
        head, body = row.split(":")
        shares: dict[Chord, float] = {}
        for name, share in (pair.split() for pair in body.split(",")):
            if _chord(name) in shares:
                raise ValueError(f"{name} twice after {head.strip()}")
            shares[_chord(name)] = float(share) / 100
        table[_chord(head.strip())] = MappingProxyType(shares)
    return MappingProxyType(table)


# from: to share, to share ... (per cent; the rest of each row is left to MOTIONS)
PROGRESSIONS_MAJOR = _table("""
1M: 57 16, 4M 12, 2m 9, 6m 9, 67 8, 17 5, 27 4, 37 4, 3m 5, 4m 3, #1o 3, b3o 3, 1o 3, 47 1,
    #4o 1, b77 2, b67 2, 3h 2, 7h 2, #4h 1, 5m 1, 2h 1, b37 2, 5o 1
2m: 57 64, 2h 4, 3m 4, 1M 6, b27 2, 67 3, 27 2, #2o 3, 4m 2, 4M 1, 6m 2, 7h 1, #1o 1,
    37 1
3m: 67 26, 6m 20, b3o 7, 3h 2, 2m 10, 4M 9, b3m 4, 57 4, 37 2, b37 4, 1M 2
4M: 1M 24, 57 17, 4m 12, #4o 7, 2m 6, 2h 2, b77 6, 3m 7, 27 3, 47 1, 37 1, 5M 1, 17 1, 67 1, 3h 2,
    7h 2, #4h 1
4m: 1M 60, b77 14, 57 9, 3m 4, 67 2, 1m 1, 2m 1
57: 1M 58, 17 3, 6m 5, 3m 5, 4M 3, #5o 2, 67 2, 1m 2, 2m 3, 27 1, 37 2, 3h 2, 5o 2, 1o 1, 47 1
5M: 1M 50, 57 8, 4M 8, 6m 6, 2m 2, 17 3
6m: 27 20, 2m 21, 57 8, 3m 5, 4M 10, 37 5, 1M 6, b6o 2, b67 2, 67 3, 6h 1, #4h 3, 4m 2, 5m 1
67: 2m 38, 27 37, 2h 5, 3m 4, 4M 1, 57 2, b67 2, b6M 1, 6m 1
27: 57 58, 2m 11, 6m 3, 5M 5, 5m 2, 1M 4, 4M 1, 4m 3, b27 2, b67 1, 2h 1
37: 6m 34, 67 34, 4M 8, 1M 2, b37 2, 3m 1
17: 4M 56, 5m 4, 47 9, 4m 6, 67 4, 27 1, 57 2, 1M 1, #4o 1
77: 3m 42, 37 20, 1M 5, b77 6, 4M 2
47: 1M 50, b77 6, 3m 5, 17 6, #4o 10, 57 5, 37 2, 67 2
b77: 1M 52, 67 12, 3m 10, b3M 3, 6m 2, 57 2
b67: 57 42, 1M 26, 2m 6, b27 3
b27: 1M 60, 17 8
b37: b6M 20, 2m 20, b67 20, 27 12
#1o: 2m 50, 57 28, 27 8, 1M 3
1o: 1M 32, 2m 24, 57 24, #1o 2, 17 3
b3o: 2m 42, 57 28, 3m 10, 1M 8, 27 4, 4M 2
#4o: 1M 36, 57 22, 4M 4, 3m 9, 17 4, 67 4
b6o: 6m 50, 57 18, 1M 10, 67 4
4o: 1M 20, 3m 20, 57 15
7o: 1M 45, 3m 8, 17 8
2o: 1M 25, 3m 20, 57 20
5o: 57 20, 1M 20, 17 10
6o: 1M 15, 57 20, b77 5
7h: 37 66, 1M 6, 3m 2
2h: 57 66, b27 4, 1M 5
3h: 67 76, 17 2
#4h: 77 26, 4m 26, 57 6, 4M 10
6h: 27 76
5m: 17 66, 4M 3, 67 2, 27 2
7m: 37 66, 77 3
#4m: 77 60
1m: 47 20, 57 12, 1M 12, 4m 5, b6M 4, 2m 4, b67 4, b77 3
b3m: 2m 30, b67 20
2M: 57 40, 5M 15, 2m 6, 1M 4
3M: 6m 40, 4M 10, 67 15
6M: 2m 35, 27 25
b6M: 57 20, b2M 10, 1M 12, b77 10, 4m 5, 2h 6, b27 4
b3M: b6M 25, 4M 15, 2m 10, b67 8, 57 4, 1M 4
b7M: 1M 20, 4M 25, 57 10, b3M 5
b2M: 1M 50, 57 12
""")
PROGRESSIONS_MINOR = _table("""
1m: 57 24, 4m 18, 2h 9, b67 5, b6M 4, 17 6, 27 4, b77 5, b7M 2, b3M 5, 5m 2, 47 2, 6h 3, 1o 1,
    2m 2, b37 1, 7o 2, #4o 1, 3h 1
4m: 1m 38, 57 20, 2h 6, b77 11, b67 3, 27 3, #4o 3, 4M 1, 5m 2, b6M 2, 17 2
57: 1m 62, b6M 4, 1M 4, 17 4, 4m 4, b3M 3, 2h 2, 27 1, b67 2
5M: 1m 50, 57 8, b6M 5, 4m 5
5m: 17 36, 1m 20, 4m 8, 57 4, b6M 5
2h: 57 82, b27 4, 1m 2
2m: 57 74, 1m 3
17: 4m 66, 47 8, 4M 4
b77: b3M 46, 1m 12, b6M 8, b67 8, 57 3
b7M: b3M 25, 1m 12, b6M 12, 57 8
b3M: b6M 14, b77 10, 57 14, 2h 8, 4m 6, 1m 9, b37 5, 27 3, b3m 1
b37: b6M 62, 27 10, b67 8
b6M: 57 26, 2h 18, b77 8, 4m 6, b3M 5, 1m 8, 27 5, b67 3
b67: 57 54, 1m 20, b27 2
27: 57 72, 2h 5, 5M 4, b27 2
47: 1m 32, b77 26, b7M 4
67: 27 50, 2h 10
6h: 27 36, b67 14, 4m 8, 2h 24
7o: 1m 60, 57 4, 17 4
#4o: 57 34, 1m 32
2o: 1m 30, 57 20
1o: 1m 25, 57 25
4o: 1m 40
b6o: 1m 25, 57 20
b27: 1m 56
3h: 67 66
1M: 57 15, 4m 12, 17 8, 4M 6, 1m 4
37: 4m 4, 67 30
b2M: 57 25, 1m 15
""")

# quality letter: root motion up in semitones -> share, whatever the key
MOTIONS = MappingProxyType({
    letter_of: MappingProxyType(motions) for letter_of, motions in {
        "7": {5: .50, 11: .10, 0: .03, 2: .04, 1: .02, 7: .02, 10: .01},
        "m": {5: .40, 10: .05, 2: .05, 7: .05, 0: .03, 3: .03, 8: .03, 9: .03, 1: .02, 11: .04},
        "M": {5: .14, 7: .16, 9: .07, 2: .07, 0: .05, 10: .03, 8: .02, 3: .02, 4: .04, 1: .02,
              11: .02, 6: .01},
        "h": {5: .60, 11: .06, 10: .02},
        "o": {1: .40, 11: .14, 0: .06, 2: .03, 10: .06, 4: .04},
    }.items()
})
_OUTSIDE = 0.3
"""What a motion outside the key's table is worth against one of equal share inside it."""
_GOALS = MappingProxyType({"M": .30, "m": .28, "7": .34, "h": .04, "o": .04})
_LEAST = 0.0008


def quality_of(symbol: ChordSymbol) -> str:
    """The quality letter of a chord."""
    return LETTERS[quality_class(symbol) or "major"]


def letter(harmony: Harmony) -> str:
    """The quality letter of a chord as it is heard: a bare triad on V is a dominant."""
    found = quality_of(harmony.symbol)
    return "7" if found == "M" and "b7" in harmony.tones else found


def follow_cost(first: Chord, second: Chord, key: Key) -> int:
    """What it costs that `second` comes after `first` (pitch classes of the roots).

    >>> follow_cost((7, "7"), (0, "M"), Key(0)) < follow_cost((7, "7"), (5, "M"), Key(0))
    True
    """
    return _follow_cost(first, second, key.tonic.pitch_class, key.mode)


@lru_cache(maxsize=16384)
def _follow_cost(first: Chord, second: Chord, tonic: int, mode: str) -> int:
    table = PROGRESSIONS_MAJOR if mode == "major" else PROGRESSIONS_MINOR
    a = ((first[0] - tonic) % 12, first[1])
    b = ((second[0] - tonic) % 12, second[1])
    motion = MOTIONS[first[1]].get((second[0] - first[0]) % 12, 0.0)
    inside = table[a].get(b, 0.0) if a in table else 0.0
    share = max(inside, _OUTSIDE * motion * _GOALS[second[1]], _LEAST)
    return round(-10 * math.log(share))


MELODY_COSTS = MappingProxyType({"tone": 0, "tension": 6, "foreign": 25})


def melody_cost(harmony: Harmony, pitch_class: int) -> int:
    """What a melody note costs over a chord: none for a chord tone, little for an available
    tension, much for a note that has to be let go first."""
    if harmony.is_tone(pitch_class):
        return MELODY_COSTS["tone"]
    return MELODY_COSTS["tension" if harmony.takes(pitch_class) else "foreign"]
