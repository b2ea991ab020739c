"""Notes found by their place, so that what looks around every note of a chorus takes time that
grows with its bars."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from typing import Generic, Protocol, TypeVar

from fillwright.exact import Fraction

__all__ = ["Nearby", "Timed"]


class Timed(Protocol):
    """What begins and lasts."""

    @property
    def onset_quarter(self) -> Fraction: ...

    @property
    def duration_quarter(self) -> Fraction: ...

    @property
    def end_quarter(self) -> Fraction: ...


T = TypeVar("T", bound=Timed)


class Nearby(Generic[T]):
    """Notes in order of time, to be asked for by place.

    >>> from fillwright.theory.pitch import Pitch
    >>> from fillwright.tune.model import SoundingNote
    >>> notes = Nearby([SoundingNote(Fraction(place), Fraction(2), Pitch.parse("C5"))
    ...                 for place in (4, 0, 2)])
    >>> [int(note.onset_quarter) for note in notes.within(Fraction(1), Fraction(4))]
    [0, 2]
    """

    def __init__(self, notes: Iterable[T]) -> None:
        self._notes = sorted(notes, key=lambda note: note.onset_quarter)
        self._onsets = [note.onset_quarter for note in self._notes]
        self._longest = max((note.duration_quarter for note in self._notes), default=Fraction(0))

    def within(self, start_quarter: Fraction, end_quarter: Fraction) -> list[T]:
        """Those that sound in a stretch of time; of equal onsets in the order given."""
        first = bisect_left(self._onsets, start_quarter - self._longest)
        last = bisect_left(self._onsets, end_quarter)
        return [note for note in self._notes[first:last] if note.end_quarter > start_quarter]
