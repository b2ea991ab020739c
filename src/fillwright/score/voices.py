"""From struck keys to chords in voices: what each hand's notes look like on its staff.

The melody, with what is struck and released together with it, is the first voice of the
right hand; everything else of that hand is the second, and a third or fourth only where
lengths overlap. Where the voices of a staff never sound at once they are written as one.
Voices are numbered 1 to 4 in the right hand, 5 to 8 in the left; odd ones have stems up.

Lengths are those of the keys, except that a release off the grid of the onsets around it
is written at the next place on the grid, never past the next note of the voice: a short
hit becomes a staccato eighth instead of a sixteenth and three rests.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace

from fillwright.arranging.model import Arrangement
from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.tune.model import ChorusBar

__all__ = ["NoteColumn", "columns_of"]

_EIGHTH = Fraction(1, 2)
_STACCATO_SHARE = Fraction(3, 4)
"""A key held for less than this share of its written value has a staccato dot."""


@dataclass(frozen=True, slots=True)
class NoteColumn:
    """Notes of one hand struck together and written with one stem.

    notes            (index in the arrangement, note), lowest first
    end_quarter      the written end
    voice            1 to 4 in the right hand, 5 to 8 in the left (more if need be)
    """

    onset_quarter: Fraction
    end_quarter: Fraction
    notes: tuple[tuple[int, HandNote], ...]
    is_melody: bool
    voice: int = 0
    is_staccato: bool = False

    @property
    def hand(self) -> str:
        return self.notes[0][1].hand

    @property
    def is_rolled(self) -> bool:
        return any(note.rolled for _, note in self.notes)

    @property
    def gap(self) -> int | None:
        return next((note.gap for _, note in self.notes if note.gap is not None), None)

    @property
    def role(self) -> str:
        return "melody" if self.is_melody else self.notes[0][1].role

    @property
    def centre(self) -> float:
        return sum(note.midi for _, note in self.notes) / len(self.notes)


def columns_of(arrangement: Arrangement) -> tuple[NoteColumn, ...]:
    """All notes of an arrangement as columns in voices, by onset, then voice."""
    bars = arrangement.chorus.bars
    columns: list[NoteColumn] = []
    for hand in ("right", "left"):
        columns += _one_hand(arrangement.notes, hand, bars)
    return tuple(sorted(columns, key=lambda s: (s.onset_quarter, s.voice)))


def _one_hand(notes: Sequence[HandNote], hand: str, bars: Sequence[ChorusBar]) -> list[NoteColumn]:
    groups: dict[tuple[Fraction, Fraction], list[tuple[int, HandNote]]] = {}
    for index, note in enumerate(notes):
        if note.hand == hand:
            key = (note.onset_quarter, note.duration_quarter)
            groups.setdefault(key, []).append((index, note))
    raw = []
    for (onset, duration), members in sorted(groups.items()):
        ordered = tuple(sorted(members, key=lambda member: (member[1].midi, member[0])))
        melody = hand == "right" and any(note.role == "melody" for _, note in ordered)
        raw += [NoteColumn(onset, onset + duration, part, melody) for part in _unisons(ordered)]
    written = _written_ends(raw, bars)
    placed = _right_voices(written) if hand == "right" else _left_voices(written)
    return _join_voices(placed, bars)


def _unisons(members: tuple[tuple[int, HandNote], ...]) -> list[
        tuple[tuple[int, HandNote], ...]]:
    """One key struck twice at once (odd input) is written on stems of its own."""
    first: list[tuple[int, HandNote]] = []
    again: list[tuple[int, HandNote]] = []
    for member in members:
        taken = any(note.pitch == member[1].pitch for _, note in first)
        (again if taken else first).append(member)
    return [tuple(first)] + (_unisons(tuple(again)) if again else [])


# --- written lengths --------------------------------------------------------------------

def _written_ends(raw: Sequence[NoteColumn], bars: Sequence[ChorusBar]) -> list[NoteColumn]:
    onsets = sorted({column.onset_quarter for column in raw})
    grid = _Grid(bars, onsets)
    written = []
    for column in raw:
        end = column.end_quarter
        index = bisect_left(onsets, end)
        following = onsets[index] if index < len(onsets) else None
        wanted = grid.at_or_after(end)
        if following is not None:
            wanted = min(wanted, following)
        length = wanted - column.onset_quarter
        short = (end - column.onset_quarter) < _STACCATO_SHARE * length
        dry = (column.role != "melody" and len(column.notes) > 1 and length <= _EIGHTH
               and (following is None or following > wanted))
        written.append(replace(column, end_quarter=wanted, is_staccato=short or dry))
    return written


class _Grid:
    """The beats of a chorus, and for each how finely its onsets divide it."""

    def __init__(self, bars: Sequence[ChorusBar], onsets: Sequence[Fraction]) -> None:
        self._bars = bars
        self._edges = [bar.onset_quarter for bar in bars]
        self._steps: dict[tuple[int, Fraction], Fraction] = {}
        for onset in onsets:
            beat, offset = self._beat(onset)
            if offset % _EIGHTH:
                step = Fraction(1, offset.denominator)
                self._steps[beat] = min(step, self._steps.get(beat, step))

    def _beat(self, place: Fraction) -> tuple[tuple[int, Fraction], Fraction]:
        """The beat a place lies in (bar index, start of the beat), and how far inside."""
        index = max(bisect_right(self._edges, place) - 1, 0)
        bar = self._bars[index]
        base = bar.onset_quarter
        if bar.is_pickup:
            base += bar.length_quarter - bar.meter.length_quarter
        size = bar.meter.beat_quarter
        start = base + (place - base) // size * size
        return (index, start), place - start

    def at_or_after(self, place: Fraction) -> Fraction:
        """The first place of the grid that is not before a place."""
        beat, offset = self._beat(place)
        step = self._steps.get(beat, _EIGHTH)
        return place - offset + -(-offset // step) * step


# --- voices -----------------------------------------------------------------------------

def _right_voices(columns: Sequence[NoteColumn]) -> list[NoteColumn]:
    ordered = sorted(columns, key=lambda s: (s.onset_quarter, not s.is_melody,
                                             -s.end_quarter, -s.centre))
    return _place(ordered, [(1, 3, 2, 4) if column.is_melody else (2, 4, 3, 1)
                            for column in ordered], 9)


def _left_voices(columns: Sequence[NoteColumn]) -> list[NoteColumn]:
    ordered = sorted(columns, key=lambda s: (s.onset_quarter, -s.end_quarter, s.centre))
    rivals: list[list[float]] = [[] for _ in ordered]
    for index, column in enumerate(ordered):
        for later in range(index + 1, len(ordered)):
            if ordered[later].onset_quarter >= column.end_quarter:
                break
            rivals[index].append(ordered[later].centre)
            rivals[later].append(column.centre)
    wishes = [(6, 5, 8, 7) if others and column.centre < sum(others) / len(others)
              else (5, 6, 7, 8) for column, others in zip(ordered, rivals, strict=True)]
    return _place(ordered, wishes, 50)


def _place(ordered: Sequence[NoteColumn], wishes: Sequence[tuple[int, ...]],
           spare: int) -> list[NoteColumn]:
    """Give each column the first voice it wishes that is free; spare numbers beyond."""
    free: dict[int, Fraction] = {}
    placed = []
    for column, wish in zip(ordered, wishes, strict=True):
        voice = next(v for v in (*wish, *range(spare, spare + 40))
                     if free.get(v, Fraction(-1)) <= column.onset_quarter)
        free[voice] = column.end_quarter
        placed.append(replace(column, voice=voice))
    return placed


def _join_voices(columns: Sequence[NoteColumn], bars: Sequence[ChorusBar]) -> list[NoteColumn]:
    """Write the voices of a hand as one wherever no two of them sound at once.

    Bars that a note ties together are decided together, so that no tie changes voice.
    """
    edges = [bar.onset_quarter for bar in bars]
    spans = []
    joined = [False] * len(bars)
    for column in columns:
        first = max(bisect_right(edges, column.onset_quarter) - 1, 0)
        last = max(bisect_left(edges, column.end_quarter) - 1, first)
        spans.append((first, last))
        for bar in range(first + 1, last + 1):
            joined[bar] = True
    group = [0] * len(bars)
    for bar in range(1, len(bars)):
        group[bar] = group[bar - 1] + (not joined[bar])
    clash: set[int] = set()
    end_of: dict[int, Fraction] = {}
    for column, (first, _) in sorted(zip(columns, spans, strict=True),
                                     key=lambda pair: pair[0].onset_quarter):
        member = group[first]
        if end_of.get(member, Fraction(-1)) > column.onset_quarter:
            clash.add(member)
        end_of[member] = max(end_of.get(member, Fraction(-1)), column.end_quarter)
    base = 1 if columns and columns[0].hand == "right" else 5
    return [column if group[first] in clash else replace(column, voice=base)
            for column, (first, _) in zip(columns, spans, strict=True)]
