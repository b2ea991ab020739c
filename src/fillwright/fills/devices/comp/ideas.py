"""How far two comping fills differ, measured on what sounds.

A texture has a name, yet two names may give the same keys in other hands. What a listener
would call another idea is counted from the notes, on the strict side: where there are two
ways to measure, both must differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from fillwright.fills.draft import DraftNote

__all__ = ["Heard", "heard", "unlike"]

LEAST_DIFFERENCES = 2
FOURTH = 5  # semitones


@dataclass(frozen=True, slots=True)
class Heard:
    """What is heard of a fill.

    onsets     of both hands
    tops       highest keys, repetitions left out: of both hands, and of the right alone
               (of the left where it plays alone)
    name       what the texture is called
    chords     the sets of pitch classes that are struck together
    middles    MIDI numbers: halfway between the lowest and the highest key of the right hand
               (of the left where it plays alone), and the mean of all keys
    """

    onsets: tuple[Fraction, ...]
    tops: tuple[tuple[int, ...], tuple[int, ...]]
    name: str
    chords: frozenset[frozenset[int]]
    middles: tuple[Fraction, Fraction]

    @property
    def is_bare(self) -> bool:
        """Of two tones, which cannot be told apart by what they are, only by who has them."""
        return len(frozenset().union(*self.chords)) < 3


def heard(notes: Sequence[DraftNote], name: str) -> Heard:
    """Measure a fill; `name` is that of its texture."""
    right = [n for n in notes if n.hand == "right"] or list(notes)
    keys = [n.midi for n in right]
    return Heard(
        onsets=tuple(sorted({n.onset_quarter for n in notes})),
        tops=(_tops(notes), _tops(right)),
        name=name,
        chords=frozenset(_struck(notes)),
        middles=(Fraction(min(keys) + max(keys), 2),
                 Fraction(sum(n.midi for n in notes), len(notes))),
    )


def _tops(notes: Sequence[DraftNote]) -> tuple[int, ...]:
    highest: dict[Fraction, int] = {}
    for note in notes:
        highest[note.onset_quarter] = max(highest.get(note.onset_quarter, 0), note.midi)
    row = [highest[onset] for onset in sorted(highest)]
    return tuple(top for place, top in enumerate(row) if place == 0 or top != row[place - 1])


def _struck(notes: Sequence[DraftNote]) -> list[frozenset[int]]:
    together: dict[Fraction, set[int]] = {}
    for note in notes:
        together.setdefault(note.onset_quarter, set()).add(note.midi % 12)
    return [frozenset(classes) for classes in together.values()]


def unlike(one: Heard, other: Heard) -> bool:
    """Do two of onsets, top line, voicing and register (a fourth or more) differ?"""
    differing = (
        one.onsets != other.onsets,
        all(a != b for a, b in zip(one.tops, other.tops, strict=True)),
        one.name != other.name and (one.chords != other.chords or one.is_bare),
        all(abs(a - b) >= FOURTH for a, b in zip(one.middles, other.middles, strict=True)),
    )
    return sum(differing) >= LEAST_DIFFERENCES
