"""Ways of comping that are told by what each hand strikes: how they are heard.

Every such way names what the hands play; its sentence names the keys of the first chord. One
that has an idea of its own (a voice that moves, an echo) is heard in `ideas`.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import TypeAlias

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.passages import (
    TENTHS,
    Sentence,
    degree_word,
    named,
    readings,
)
from fillwright.fills.devices.device import FillPassage
from fillwright.fills.player import Palette
from fillwright.fills.voicing.forms import colours
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["above_held", "all_of", "anywhere", "both", "cluster", "fourths", "guides", "keys",
           "left_hand", "low", "rooted", "rootless", "shell", "then_chords", "top", "under_held",
           "wide"]

Grip: TypeAlias = Callable[[Harmony, tuple[int, ...]], bool]
"""Whether keys, from low to high, are what is named, over a chord."""

Where: TypeAlias = Callable[[FillPassage, tuple[int, ...]], bool]
"""Whether keys of the right hand lie where it is said."""

_LOW = 67
"""The highest key of a chord that is called low: the G above middle C (common practice)."""

_TOP = 67
"""The lowest key of what lies in the top register (common practice: the right hand's own
octaves)."""


# What a hand strikes.

def _relative(harmony: Harmony, struck: tuple[int, ...]) -> set[int]:
    return {harmony.symbol.relative(key % 12) for key in struck}


def rooted(harmony: Harmony, struck: tuple[int, ...]) -> bool:
    """The root, or the bass that the sheet names, is the lowest key."""
    bass = harmony.symbol.bass
    return struck[0] % 12 in {harmony.root.pitch_class,
                              *(() if bass is None else (bass.pitch_class,))}


def shell(harmony: Harmony, struck: tuple[int, ...]) -> bool:
    """The root with what tells the chord, within an octave: its third (or what stands for
    it), its seventh or sixth."""
    told = {degree_pitch_class(d) for d in (harmony.third, harmony.seventh, "4", "2")
            if d is not None}
    return (struck[0] % 12 == harmony.root.pitch_class and len(struck) > 1
            and struck[-1] - struck[0] <= 12 and bool(_relative(harmony, struck) & told))


def guides(harmony: Harmony, struck: tuple[int, ...]) -> bool:
    """Two keys: third, and seventh or what stands for it."""
    wanted = {degree_pitch_class(d) for d in colours(harmony, Palette.NAMED).guides}
    return len(struck) == 2 and _relative(harmony, struck) == wanted


def rootless(harmony: Harmony, struck: tuple[int, ...]) -> bool:
    """Three keys or more, none of them the root."""
    return len(struck) > 2 and 0 not in _relative(harmony, struck)


def keys(least: int, most: int) -> Grip:
    """So many keys."""
    return lambda harmony, struck: least <= len(struck) <= most


def fourths(harmony: Harmony, struck: tuple[int, ...]) -> bool:
    """Three keys or more, a fourth from each to the next, one of them augmented at most."""
    steps = [b - a for a, b in pairwise(struck)]
    return len(steps) > 1 and set(steps) <= {5, 6} and steps.count(6) < 2


def cluster(harmony: Harmony, struck: tuple[int, ...]) -> bool:
    """Three keys with a second between two of them, within a fifth."""
    return (len(struck) > 2 and struck[-1] - struck[0] <= 7
            and any(b - a <= 2 for a, b in pairwise(struck)))


def wide(harmony: Harmony, struck: tuple[int, ...]) -> bool:
    """The root with a fifth or more to the next key."""
    return rooted(harmony, struck) and all(b - a > 6 for a, b in pairwise(struck[:2]))


def all_of(*grips: Grip) -> Grip:
    """All of these at once."""
    return lambda harmony, struck: all(grip(harmony, struck) for grip in grips)


# Where the right hand is.

def anywhere(passage: FillPassage, struck: tuple[int, ...]) -> bool:
    return True


def under_held(passage: FillPassage, struck: tuple[int, ...]) -> bool:
    return passage.held is not None and struck[-1] < passage.held.midi


def above_held(passage: FillPassage, struck: tuple[int, ...]) -> bool:
    return passage.held is not None and struck[0] > passage.held.midi


def low(passage: FillPassage, struck: tuple[int, ...]) -> bool:
    return struck[-1] <= _LOW


def top(passage: FillPassage, struck: tuple[int, ...]) -> bool:
    return struck[0] >= _TOP


# The ways.

def both(right: Grip, left: Grip = rooted, where: Where = anywhere, *, together: bool = False,
         tenth: bool = False) -> Sentence:
    """The right hand strikes one thing over what the left hand strikes.

    together   no hand strikes alone
    tenth      the left hand spans a tenth somewhere
    """

    def hears(passage: FillPassage) -> str:
        above, below = passage.struck("right"), passage.struck("left")
        if not above or not below or (together and [o for o, _ in above] != [
                o for o, _ in below]):
            return ""
        if tenth and not any(row[-1] - row[0] in TENTHS for _, row in below):
            return ""
        if not all(where(passage, row) for _, row in above) or not all(
                _is(passage, onset, row, grip)
                for grip, rows in ((right, above), (left, below)) for onset, row in rows):
            return ""
        return _first_chord(passage, above[0][0], "right")

    return hears


def left_hand(grip: Grip) -> Sentence:
    """The left hand alone strikes one thing."""

    def hears(passage: FillPassage) -> str:
        below = passage.struck("left")
        if not below or passage.struck("right") or not all(
                _is(passage, onset, row, grip) for onset, row in below):
            return ""
        return _first_chord(passage, below[0][0], "left")

    return hears


def then_chords(grip: Grip) -> Sentence:
    """The left hand alone: a root, then chords of one kind; roots again as it likes."""

    def hears(passage: FillPassage) -> str:
        below = passage.struck("left")
        chords = [(onset, row) for onset, row in below if len({key % 12 for key in row}) > 1]
        if passage.struck("right") or not chords or below[0] in chords[:1] or not all(
                _is(passage, onset, row, grip) for onset, row in chords) or not all(
                _is(passage, onset, row, rooted) for onset, row in below
                if (onset, row) not in chords):
            return ""
        return _first_chord(passage, chords[0][0], "left")

    return hears


def _is(passage: FillPassage, onset: Fraction, row: tuple[int, ...], grip: Grip) -> bool:
    return any(grip(harmony, row) for harmony in readings(passage, onset))


def _first_chord(passage: FillPassage, onset: Fraction, hand: str) -> str:
    """The keys a hand strikes at a place, with their degrees in the chord they tell."""
    struck = sorted(n.midi % 12 for n in passage.notes
                    if n.hand == hand and n.onset_quarter == onset)
    chords = readings(passage, onset)
    chord = next((h for h in chords if all(h.degree_of(key) for key in struck)), chords[0])
    row = sorted((n for n in passage.notes if n.hand == hand and n.onset_quarter == onset),
                 key=lambda n: n.midi)
    degrees = [chord.degree_of(n.midi % 12) or "bass" for n in row]
    return (f"The {hand} hand plays {named(passage, onset, hand)} "
            f"({' '.join(d if d == 'bass' else degree_word(d) for d in degrees)} of "
            f"{chord.symbol.pretty}).")
