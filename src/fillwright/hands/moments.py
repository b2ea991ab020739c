"""What is struck and what is down, onset by onset. Keys are "down" from their onset until just
before their end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.hands.model import HandNote

__all__ = ["Moment", "HandMoment", "moments", "hand_moments"]


@dataclass(frozen=True, slots=True)
class Moment:
    """An onset: the keys struck, and all keys then down, by ascending pitch."""

    onset_quarter: Fraction
    struck: tuple[HandNote, ...]
    down: tuple[HandNote, ...]

    def of(self, hand: str) -> tuple[tuple[HandNote, ...], tuple[HandNote, ...]]:
        """(struck, down) of one hand."""
        return (tuple(note for note in self.struck if note.hand == hand),
                tuple(note for note in self.down if note.hand == hand))


@dataclass(frozen=True, slots=True)
class HandMoment:
    """A hand that strikes: the keys struck, and all keys it then has down, ascending."""

    onset_quarter: Fraction
    hand: str
    struck: tuple[HandNote, ...]
    down: tuple[HandNote, ...]


def moments(notes: Sequence[HandNote]) -> tuple[Moment, ...]:
    """The onsets in order, with what is struck and what is down."""
    ordered = sorted(notes, key=lambda note: (note.onset_quarter, note.midi, note.hand))
    found: list[Moment] = []
    down: list[HandNote] = []
    start = 0
    while start < len(ordered):
        onset = ordered[start].onset_quarter
        end = start
        while end < len(ordered) and ordered[end].onset_quarter == onset:
            end += 1
        struck = tuple(ordered[start:end])
        down = [note for note in down if note.end_quarter > onset] + list(struck)
        found.append(Moment(onset, struck, tuple(sorted(down, key=lambda note: note.midi))))
        start = end
    return tuple(found)


def hand_moments(moments: Sequence[Moment]) -> Iterator[HandMoment]:
    """Wherever a hand strikes, the left hand first."""
    for moment in moments:
        for hand in ("left", "right"):
            struck, down = moment.of(hand)
            if struck:
                yield HandMoment(moment.onset_quarter, hand, struck, down)
