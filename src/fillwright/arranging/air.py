"""What sounds above a chord of the base: the melody over it, as the rules ask about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from fillwright.arranging.figures import Figure
from fillwright.exact import Fraction
from fillwright.rules.sound import HOLE, RUB
from fillwright.tune.model import SoundingNote

__all__ = ["TWO_OCTAVES", "Air", "crosses", "sunk_quarter"]

TWO_OCTAVES = HOLE.WIDEST
"""Semitones between the hands from which on a hole is heard."""

_Span = tuple[Fraction, Fraction]

_LONGEST_TRIPLET_BEATS = Fraction(4, 3)
"""A longer note that ends or begins in a triplet is held over it."""


@dataclass(frozen=True, slots=True)
class Air:
    """The melody over one chord.

    onset_quarter, end_quarter   the chord's
    melody   the notes that sound meanwhile
    beat_quarter   the felt beat
    homes   pitch classes over which a flat nine is at home
    """

    onset_quarter: Fraction
    end_quarter: Fraction
    melody: tuple[SoundingNote, ...]
    beat_quarter: Fraction
    homes: tuple[int, ...]
    _over: dict[_Span, list[tuple[int, bool]]] = field(default_factory=dict, compare=False)
    _crossed: dict[Fraction, bool] = field(default_factory=dict, compare=False)

    @property
    def attacks(self) -> frozenset[Fraction]:
        """Where the melody strikes, counted from the chord's beginning."""
        return frozenset(n.onset_quarter - self.onset_quarter for n in self.melody)

    @property
    def long_notes(self) -> tuple[SoundingNote, ...]:
        """Those that are heard over the chord for a beat or more."""
        return tuple(n for n in self.melody if min(n.end_quarter, self.end_quarter)
                     - max(n.onset_quarter, self.onset_quarter) >= self.beat_quarter)

    def rubs(self, figure: Figure) -> tuple[int, int, int]:
        """How often a figure covers the melody, rubs it, or has it pass in a rub."""
        covered = rubbed = passed = 0
        for struck, midi in zip(figure.struck, figure.midis, strict=True):
            for melody, passes in self._notes_over(struck.onset_quarter, struck.end_quarter):
                covered += midi >= melody
                if RUB.breaks(midi, melody, self.homes):
                    rubbed, passed = rubbed + (not passes), passed + passes
        return covered, rubbed, passed

    def _notes_over(self, onset: Fraction, end: Fraction) -> list[tuple[int, bool]]:
        """The melody's keys that sound with one of the base, and whether each passes over it."""
        found = self._over.get((onset, end))
        if found is None:
            start, stop = self.onset_quarter + onset, self.onset_quarter + end
            found = self._over[onset, end] = [
                (n.midi, RUB.passes(start, n.onset_quarter, n.end_quarter))
                for n in self.melody if n.onset_quarter < stop and n.end_quarter > start]
        return found

    def crossed(self, onset: Fraction) -> bool:
        """Does a stroke there make three against two with the melody?"""
        found = self._crossed.get(onset)
        if found is None:
            found = self._crossed[onset] = crosses(
                self.onset_quarter + onset, self.melody, self.beat_quarter)
        return found


def sunk_quarter(keys: Sequence[tuple[Fraction, Fraction, int]], high: int, start: Fraction,
                 end: Fraction) -> Fraction:
    """How long without a break the left hand sounds two octaves or more below a key.

    keys   (onset, end, MIDI number) of the left hand
    high   the lowest key above it
    start, end   between which both are heard

    >>> two, three = Fraction(2), Fraction(3)
    >>> bass_then_chord = [(Fraction(0), two, 41), (two, three, 60)]
    >>> sunk_quarter(bass_then_chord, 81, Fraction(0), three)
    Fraction(2, 1)
    """
    row = [key for key in keys if key[0] < end and key[1] > start]
    if all(midi > high - TWO_OCTAVES for _, _, midi in row):
        return Fraction(0)
    times = sorted({start, end, *(t for key in row for t in key[:2] if start < t < end)})
    longest = since = Fraction(0)
    for opens, closes in pairwise(times):
        down = [midi for onset, stop, midi in row if onset <= opens < stop]
        sunk = bool(down) and max(down) <= high - TWO_OCTAVES
        since = since + closes - opens if sunk else Fraction(0)
        longest = max(longest, since)
    return longest


def crosses(place_quarter: Fraction, melody: Sequence[SoundingNote], beat_quarter: Fraction
            ) -> bool:
    """Does a stroke lie inside a note of a triplet (of a duplet where the beat is dotted)?

    >>> from fillwright.theory.pitch import Pitch
    >>> third, two_thirds = Fraction(1, 3), Fraction(2, 3)
    >>> triplet = [SoundingNote(third * n, third, Pitch.parse("C5")) for n in range(3)]
    >>> slow = [SoundingNote(two_thirds * n, two_thirds, Pitch.parse("C5")) for n in range(3)]
    >>> [crosses(place, triplet, Fraction(1)) for place in (Fraction(1, 2), two_thirds)]
    [True, False]
    >>> crosses(Fraction(1), slow, Fraction(1))
    True
    """
    for note in melody:
        if not note.onset_quarter < place_quarter < note.end_quarter:
            continue
        beats = note.duration_quarter / beat_quarter
        if beats > _LONGEST_TRIPLET_BEATS:
            continue
        in_three, in_two = beats.denominator % 3 == 0, beats.denominator % 2 == 0
        if (in_two and not in_three) if beat_quarter.numerator == 3 else in_three:
            return True
    return False
