"""What makes one option another idea than the next: one notion for all families.

Two options are two ideas where at least two of onsets, top line, voicing and register
differ. How much it takes to differ in one of them is part of the idea itself: a family that
hears more closely gives its ideas more to compare by (`hand_line`, `sounds`, `balance`,
`apart`), not another function.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fillwright.exact import Fraction

__all__ = ["FOURTH", "LEAST_DIFFERENCES", "Apart", "Idea", "contour_distance",
           "rhythm_distance"]

LEAST_DIFFERENCES = 2
"""Of onsets, top line, voicing and register."""

FOURTH = 5
"""Semitones from which on another register is heard."""


@dataclass(frozen=True, slots=True)
class Apart:
    """How far two ideas have to be apart to differ.

    rhythm    share of all their onsets, 0 to 1, that they do not have in common
    contour   semitones between their top lines, on average over both their onsets; the top
              lines have a pitch for every onset then
    """

    rhythm: Fraction
    contour: Fraction


@dataclass(frozen=True, slots=True)
class Idea:
    """What an option is compared by.

    Times count from the gap's onset, pitches from the held note or the chord's root, so
    that an idea is the same in every key and octave.

    onsets      onsets of the hits or of the line, in quarter notes
    top_line    MIDI numbers of the highest fill notes
    voicing     kind of voicing or figure
    register    lowest and highest right-hand MIDI number, averaged
    hand_line   highest notes of the right hand alone; () where that is the top line. Top lines
                differ where these differ too
    sounds      what is struck together, as sets of pitch classes; empty where `voicing` tells
                it. Voicings differ where these differ too
    balance     mean of all MIDI numbers; None where `register` tells it. Registers differ
                where these are a fourth apart too
    apart       how far ideas of this kind are to be apart; None where any difference counts
    """

    onsets: tuple[Fraction, ...]
    top_line: tuple[int, ...]
    voicing: str
    register: int
    hand_line: tuple[int, ...] = ()
    sounds: frozenset[frozenset[int]] = frozenset()
    balance: int | None = None
    apart: Apart | None = None

    def differences(self, other: Idea) -> int:
        """In how many of onsets, top line, voicing and register two ideas differ."""
        return (self._other_onsets(other) + self._other_top(other)
                + self._other_voicing(other) + self._other_register(other))

    def is_another_than(self, other: Idea) -> bool:
        """Whether a listener would call this another idea."""
        return self.differences(other) >= LEAST_DIFFERENCES

    def _other_onsets(self, other: Idea) -> bool:
        if self.apart is None:
            return self.onsets != other.onsets
        return rhythm_distance(self.onsets, other.onsets) >= self.apart.rhythm

    def _other_top(self, other: Idea) -> bool:
        mine, theirs = self.hand_line or self.top_line, other.hand_line or other.top_line
        if self.top_line == other.top_line or mine == theirs:
            return False
        return self.apart is None or contour_distance(
            tuple(zip(self.onsets, self.top_line, strict=True)),
            tuple(zip(other.onsets, other.top_line, strict=True))) >= self.apart.contour

    def _other_voicing(self, other: Idea) -> bool:
        return self.voicing != other.voicing and (
            not self.sounds or not other.sounds or self.sounds != other.sounds)

    def _other_register(self, other: Idea) -> bool:
        balanced = (self.balance is None or other.balance is None
                    or abs(self.balance - other.balance) >= FOURTH)
        return balanced and abs(self.register - other.register) >= FOURTH


def rhythm_distance(one: Sequence[Fraction], other: Sequence[Fraction]) -> Fraction:
    """Share of the onsets of two rhythms that they do not have in common, 0 to 1.

    >>> rhythm_distance([Fraction(0), Fraction(1)], [Fraction(0), Fraction(2)])
    Fraction(2, 3)
    """
    union = set(one) | set(other)
    return Fraction(len(set(one) ^ set(other)), len(union)) if union else Fraction(0)


def contour_distance(one: Sequence[tuple[Fraction, int]], other: Sequence[tuple[Fraction, int]]
                     ) -> Fraction:
    """Mean distance in semitones between two lines, taken at every onset of either.

    one, other   (onset, pitch) in order, at least one each; before its first note a line
                 counts as standing on it
    """
    places = sorted({o for o, _ in (*one, *other)})

    def at(line: Sequence[tuple[Fraction, int]], place: Fraction) -> int:
        sounding = line[0][1]
        for onset, pitch in line:
            if onset <= place:
                sounding = pitch
        return sounding

    return Fraction(sum(abs(at(one, p) - at(other, p)) for p in places), len(places))
