"""What sounds from moment to moment: both hands and the tune, heard as one.

A key may be right when it is struck and wrong a beat later, or right in its own hand and wrong
beside the other. So a draft is heard whole: in every moment from the gap's onset to the landing
inclusive, all keys that are down, and who holds each. Any family may ask it of its draft (see
`moments`) or, while it searches, of two rows of keys that sound one after the other (see
`hanging`, and `hanging_table` for all pairs of a search's states).

What is asked here, all of it common practice:

    guide tones   the third, the seventh and an altered fifth of a chord stay or move by step when
                  the chord changes, in whatever hand: the ear follows the sound, not the fingers
    lent          a tone that only the melody note sounds is gone when that note ends
    the landing   its key is free when it comes: the left hand lies below it
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np
import numpy.typing as npt

from fillwright.exact import Fraction
from fillwright.theory.chord import ChordSymbol, degree_pitch_class

__all__ = ["LANDING_QUARTER", "MELODY", "STEP", "SoundingMoment", "Tone", "guides", "hanging",
           "hanging_table", "led", "lent", "moments"]

MELODY = "melody"
"""Who holds a key of the tune; else it is the "left" or the "right" hand."""

STEP = 2
"""Semitones that a voice moves by step."""

LANDING_QUARTER = Fraction(1, 4)
"""How long the moment of the landing is heard for: no longer than its shortest note may be."""


class StruckKey(Protocol):
    """A note as drafts and finished fills have it."""

    @property
    def onset_quarter(self) -> Fraction: ...
    @property
    def end_quarter(self) -> Fraction: ...
    @property
    def midi(self) -> int: ...
    @property
    def hand(self) -> str: ...


class Chord(Protocol):
    """A chord with its time."""

    @property
    def onset_quarter(self) -> Fraction: ...
    @property
    def end_quarter(self) -> Fraction: ...


@dataclass(frozen=True, slots=True)
class Tone:
    """A key that is down from one place to another, and who holds it."""

    midi: int
    holder: str
    onset_quarter: Fraction
    end_quarter: Fraction


@dataclass(frozen=True, slots=True)
class SoundingMoment:
    """A stretch in which no key comes or goes.

    chord    the index of the chord that sounds, among those given; None where there is none
    tones    in order of their keys
    """

    onset_quarter: Fraction
    end_quarter: Fraction
    chord: int | None
    tones: tuple[Tone, ...]

    def held_by(self, *holders: str) -> tuple[int, ...]:
        """The keys that are down, of these holders or of all."""
        return tuple(t.midi for t in self.tones if not holders or t.holder in holders)

    @property
    def classes(self) -> frozenset[int]:
        """The pitch classes that sound."""
        return frozenset(t.midi % 12 for t in self.tones)


def moments(notes: Iterable[StruckKey], melody: Iterable[Tone], chords: Sequence[Chord],
            onset_quarter: Fraction, landing_quarter: Fraction) -> tuple[SoundingMoment, ...]:
    """A gap from moment to moment; the last one is that of the landing.

    notes    of both hands
    melody   the held note as long as it sounds, and the landing
    """
    end = landing_quarter + LANDING_QUARTER
    tones = [*(Tone(n.midi, n.hand, n.onset_quarter, n.end_quarter) for n in notes), *melody]
    edges = {onset_quarter, landing_quarter, end}
    edges |= {place for tone in tones for place in (tone.onset_quarter, tone.end_quarter)}
    edges |= {chord.onset_quarter for chord in chords}
    row = sorted(place for place in edges if onset_quarter <= place <= end)
    return tuple(
        SoundingMoment(start, stop, next((i for i, c in enumerate(chords)
                                          if c.onset_quarter <= start < c.end_quarter), None),
                       tuple(sorted((t for t in tones if t.onset_quarter <= start < t.end_quarter),
                                    key=lambda t: (t.midi, t.holder))))
        for start, stop in pairwise(row))


def guides(symbol: ChordSymbol) -> frozenset[int]:
    """The pitch classes of a chord that want to be led on: its third or what stands for it, its
    seventh, and a fifth that is altered. The sixth of a chord at rest goes where it likes.

    >>> from fillwright.theory.chordtext import parse_chord
    >>> sorted(guides(parse_chord("G7"))), sorted(guides(parse_chord("C6")))
    ([5, 11], [4])
    """
    if symbol.root is None:
        return frozenset()
    named = [symbol.third, symbol.seventh, symbol.fifth if symbol.fifth != "5" else None]
    return frozenset((symbol.root.pitch_class + degree_pitch_class(d)) % 12
                     for d in named if d is not None and d != "6")


def hanging(symbol: ChordSymbol, before: Iterable[int], after: Iterable[int]) -> frozenset[int]:
    """The guide tones of a chord that sound and are not led on: no key of the next moment lies
    where they were, or a step away, at any octave in which they sounded.

    >>> from fillwright.theory.chordtext import parse_chord
    >>> g7 = parse_chord("G7")
    >>> [sorted(hanging(g7, (43, 53, 59), after)) for after in ((48, 52, 60), (48, 64, 67))]
    [[], [5, 11]]
    """
    wanted, near = guides(symbol), set(after)
    sounded: dict[int, bool] = {}
    for key in before:
        if key % 12 in wanted:
            led = not near.isdisjoint(range(key - STEP, key + STEP + 1))
            sounded[key % 12] = sounded.get(key % 12, False) or led
    return frozenset(pc for pc, led in sounded.items() if not led)


def led(before: Iterable[int], after: Sequence[int]) -> list[tuple[int, int]]:
    """The steps by which keys lead on: each with the next moment's keys a step away, or with its
    own where it stays: a key that sounds on has gone nowhere.

    >>> led((59, 65), (60, 64)), led((59, 62), (60, 62))
    ([(59, 60), (65, 64)], [(59, 60), (62, 62)])
    """
    return [(key, other) for key in before for other in after
            if (other == key if key in after else abs(other - key) <= STEP)]


_KEYS = 128


def hanging_table(symbol: ChordSymbol, befores: Sequence[Sequence[int]],
                  afters: Sequence[Sequence[int]]) -> npt.NDArray[np.int64]:
    """How many guide tones of a chord are left hanging, for every row of keys and every next one.

    >>> from fillwright.theory.chordtext import parse_chord
    >>> hanging_table(parse_chord("G7"), [(43, 53, 59)], [(48, 52, 60), (48, 64, 67)]).tolist()
    [[0, 2]]
    """
    near = np.zeros((len(afters), _KEYS + 2 * STEP), dtype=np.float32)
    for index, keys in enumerate(afters):
        for key in keys:
            near[index, key:key + 2 * STEP + 1] = 1.0  # shifted by a step: no edge
    found = np.zeros((len(befores), len(afters)), dtype=np.int64)
    for pitch_class in sorted(guides(symbol)):
        sounds = np.zeros((len(befores), _KEYS + 2 * STEP), dtype=np.float32)
        for index, keys in enumerate(befores):
            for key in keys:
                if key % 12 == pitch_class:
                    sounds[index, key + STEP] = 1.0
        there: npt.NDArray[np.bool_] = np.asarray(sounds.any(axis=1))
        found += there[:, None] & ~((sounds @ near.T) > 0)
    return found


def lent(symbol: ChordSymbol, hands: Iterable[int], held: int | None) -> frozenset[int]:
    """The guide tones of a chord that the melody note alone sounds, which are gone with it.

    >>> from fillwright.theory.chordtext import parse_chord
    >>> lent(parse_chord("G7"), (43, 53), 71), lent(parse_chord("G7"), (43, 53, 59), 71)
    (frozenset({11}), frozenset())
    """
    if held is None:
        return frozenset()
    return guides(symbol) & {held % 12} - {key % 12 for key in hands}
