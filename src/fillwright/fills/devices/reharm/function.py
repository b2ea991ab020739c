"""Chords as the search counts them: a root and a class of quality."""

from __future__ import annotations

from functools import lru_cache
from types import MappingProxyType

from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import Harmony
from fillwright.theory.local_key import quality_class

__all__ = [
    "LETTERS",
    "MELODY_COSTS",
    "Chord",
    "is_two_of",
    "low_class",
    "melody_cost",
    "named_classes",
    "plain_chord",
    "printed_chord",
    "quality_of",
    "sounds_as",
]

LETTERS = MappingProxyType({"major": "M", "minor": "m", "dominant": "7",
                            "half-diminished": "h", "diminished": "o"})

Chord = tuple[int, str]
"""Pitch class of the root (or its distance from a tonic) and a quality letter: M major,
m minor, 7 dominant, h half-diminished, o diminished."""


_CHORDS = 512
"""Chords that are remembered: more than are weighed in one gap."""


def quality_of(symbol: ChordSymbol) -> str:
    """The quality letter of a chord."""
    return LETTERS[quality_class(symbol) or "major"]


@lru_cache(_CHORDS)
def named_classes(symbol: ChordSymbol) -> frozenset[int]:
    """The pitch classes a symbol names, without the eleventh that is not played over a third."""
    return frozenset(symbol.name_of(d).pitch_class for d in symbol.degrees
                     if d != "11" or "3" not in symbol.degrees)


@lru_cache(_CHORDS)
def sounds_as(harmony: Harmony) -> str:
    """The quality letter of a chord as it is heard: a bare triad on V is a dominant."""
    found = quality_of(harmony.symbol)
    return "7" if found == "M" and "b7" in harmony.tones else found


def plain_chord(harmony: Harmony) -> Chord:
    """Root and quality of a chord as it is heard."""
    return harmony.root.pitch_class, sounds_as(harmony)


def printed_chord(harmony: Harmony) -> Chord:
    """Root and quality of a chord as it is printed, which is what the prior counts."""
    return harmony.root.pitch_class, quality_of(harmony.symbol)


def low_class(harmony: Harmony) -> int:
    """Pitch class of a chord's lowest note."""
    lowest = harmony.symbol.lowest
    return harmony.root.pitch_class if lowest is None else lowest.pitch_class


def is_two_of(harmony: Harmony, following: Harmony) -> bool:
    """Whether a chord is the II of the dominant that follows: what it is there, whatever chord it
    has its tones from."""
    fall = (following.root.pitch_class - harmony.root.pitch_class) % 12
    return sounds_as(harmony) in "mh" and sounds_as(following) == "7" and fall == 5


MELODY_COSTS = MappingProxyType({"tone": 0, "tension": 6, "sour": 14, "foreign": 25})


def melody_cost(harmony: Harmony, pitch_class: int) -> int:
    """What a melody note costs over a chord: none for a chord tone, little for an available
    tension but a half step under the root of a diminished chord, much for a note that has to be
    let go first."""
    if harmony.is_tone(pitch_class):
        return MELODY_COSTS["tone"]
    if not harmony.takes(pitch_class):
        return MELODY_COSTS["foreign"]
    below = (harmony.root.pitch_class - pitch_class) % 12 == 1
    return MELODY_COSTS["sour" if below and sounds_as(harmony) == "o" else "tension"]
