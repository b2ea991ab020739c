"""The chords as they are heard, one at a time; and where a flat nine is at home.

A flat nine over its root belongs to a dominant that leaves its ninth open (it may always be
altered so) or names the flat nine, and to a suspended dominant that names it. A dominant with
a natural ninth in its name (a ninth, eleventh or thirteenth chord) contradicts it. A chord
printed over its own major seventh (C, C/B, A minor) has its root a flat nine above a bass that
passes by. Common practice.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from fillwright.exact import Fraction
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.harmony import Harmony
from fillwright.tune.model import ChordSpan

__all__ = ["PUSH_QUARTER", "Chords", "HeardChord", "flat_nine_homes"]

PUSH_QUARTER = Fraction(1, 2)
"""A strike no more than an eighth before a chord, which sounds into it, is that chord's own:
it was pushed (common practice)."""


_MAJOR_SEVENTH = 11


def flat_nine_homes(symbol: ChordSymbol) -> tuple[int, ...]:
    """The pitch class over which a flat nine is at home in a chord, as a tuple; () if none is.

    >>> from fillwright.theory.chordtext import parse_chord
    >>> [flat_nine_homes(parse_chord(text)) for text in ("G7", "G13", "G13b9", "G7sus4", "Gm7")]
    [(7,), (), (7,), (), ()]
    >>> flat_nine_homes(parse_chord("C/B"))
    (11,)
    """
    if symbol.root is None:
        return ()
    if symbol.bass is not None and (
            symbol.bass.pitch_class - symbol.root.pitch_class) % 12 == _MAJOR_SEVENTH:
        return (symbol.bass.pitch_class,)
    if symbol.quality not in ("dominant", "suspended"):
        return ()
    named = symbol.degrees
    if "b9" in named or (symbol.quality == "dominant" and "9" not in named):
        return (symbol.root.pitch_class,)
    return ()


@dataclass(frozen=True, slots=True)
class HeardChord:
    """A chord that sounds, written or added; `harmony` where it is known how it is heard."""

    onset_quarter: Fraction
    end_quarter: Fraction
    symbol: ChordSymbol
    added: bool = False
    harmony: Harmony | None = None


class _Timed(Protocol):
    @property
    def onset_quarter(self) -> Fraction: ...
    @property
    def end_quarter(self) -> Fraction: ...


@dataclass(frozen=True, slots=True)
class Chords:
    """The chords of a passage in order, none over another."""

    heard: tuple[HeardChord, ...] = ()

    @classmethod
    def of(cls, spans: Iterable[ChordSpan | HeardChord]) -> Chords:
        """From written and added spans: where an added chord sounds, the written one is not
        heard."""
        chords = [span if isinstance(span, HeardChord) else HeardChord(
            span.onset_quarter, span.end_quarter, span.symbol, span.added) for span in spans]
        added = sorted((c for c in chords if c.added), key=lambda c: c.onset_quarter)
        found = list(added)
        for chord in chords:
            if not chord.added:
                found += _uncovered(chord, added)
        return cls(tuple(sorted(found, key=lambda c: c.onset_quarter)))

    def over(self, span: _Timed) -> tuple[HeardChord, ...]:
        """The chords that sound while something else does."""
        return tuple(c for c in self.heard if c.onset_quarter < span.end_quarter
                     and c.end_quarter > span.onset_quarter)

    def homes(self, onset_quarter: Fraction, end_quarter: Fraction) -> tuple[int, ...]:
        """The roots over which a flat nine is at home for keys that sound together meanwhile.

        Those of the chord at the onset; and of the next one where the keys were pushed: struck
        no more than `PUSH_QUARTER` before it and sounding into it.
        """
        index = bisect_right(self.heard, onset_quarter, key=lambda c: c.onset_quarter) - 1
        found: tuple[int, ...] = ()
        if index >= 0 and self.heard[index].end_quarter > onset_quarter:
            found = flat_nine_homes(self.heard[index].symbol)
        if index + 1 < len(self.heard):
            coming = self.heard[index + 1]
            if coming.onset_quarter <= onset_quarter + PUSH_QUARTER and (
                    end_quarter > coming.onset_quarter):
                found += flat_nine_homes(coming.symbol)
        return found


def _uncovered(chord: HeardChord, over: Iterable[HeardChord]) -> list[HeardChord]:
    """What is left of a written chord beside the added ones, which are in order."""
    left: list[HeardChord] = []
    start = chord.onset_quarter
    for other in over:
        if other.end_quarter <= start or other.onset_quarter >= chord.end_quarter:
            continue
        if start < other.onset_quarter:
            left.append(_part(chord, start, other.onset_quarter))
        start = other.end_quarter
    if start < chord.end_quarter:
        left.append(_part(chord, start, chord.end_quarter))
    return left


def _part(chord: HeardChord, onset_quarter: Fraction, end_quarter: Fraction) -> HeardChord:
    return HeardChord(onset_quarter, end_quarter, chord.symbol, chord.added, chord.harmony)
