"""From struck keys to chords in voices: what each hand's notes look like on its staff.

The melody, with what is struck and released together with it, is the first voice of the
right hand; everything else of that hand is the second, and a third or fourth only where
lengths overlap. Where the voices of a staff never sound at once they are written as one.
Voices are numbered 1 to 4 in the right hand, 5 to 8 in the left; odd ones have stems up.
Where two lines move under a note of the melody that has a stem, they share theirs, as chords in
which the note that stays is tied, so that no third voice is needed.

Lengths are those of the keys, except that a release off the grid of the onsets around it
is written at the next place on the grid, never past the next note of the voice: a short
hit becomes a staccato eighth instead of a sixteenth and three rests.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from fillwright.arranging.model import Arrangement
from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.tune.model import ChorusBar

__all__ = ["NoteColumn", "columns_of"]

_EIGHTH = Fraction(1, 2)
_WHOLE = Fraction(4)
"""A note as long as a whole one has no stem."""
_STACCATO_SHARE = Fraction(3, 4)
"""A key held for less than this share of its written value has a staccato dot."""


@dataclass(frozen=True, slots=True)
class NoteColumn:
    """Notes of one hand struck together and written with one stem.

    notes            (index in the arrangement, note), lowest first
    end_quarter      the written end
    voice            1 to 4 in the right hand, 5 to 8 in the left (more if need be)
    tied_in          indices of the notes that are not struck here, but tied to the column before
    tied_on          indices of those that are tied to the next column
    """

    onset_quarter: Fraction
    end_quarter: Fraction
    notes: tuple[tuple[int, HandNote], ...]
    is_melody: bool
    voice: int = 0
    is_staccato: bool = False
    tied_in: frozenset[int] = frozenset()
    tied_on: frozenset[int] = frozenset()

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
    if hand == "right":
        written = _sharing_stems(written, bars)
    placed = _right_voices(written) if hand == "right" else _uncrossed(written)
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


# --- lines that share their stems -------------------------------------------------------

def _sharing_stems(columns: Sequence[NoteColumn], bars: Sequence[ChorusBar]) -> list[NoteColumn]:
    """Where columns overlap under a note of the melody, they are cut into columns that do not."""
    melody = [column for column in columns if column.is_melody]
    inner = sorted((column for column in columns if not column.is_melody),
                   key=lambda column: (column.onset_quarter, column.end_quarter))
    done = list(melody)
    group: list[NoteColumn] = []
    end = Fraction(-1)
    for column in inner:
        if column.onset_quarter >= end:
            done += _cut(group, melody, bars)
            group = []
        group.append(column)
        end = max(end, column.end_quarter) if len(group) > 1 else column.end_quarter
    return done + _cut(group, melody, bars)


def _cut(group: Sequence[NoteColumn], melody: Sequence[NoteColumn],
         bars: Sequence[ChorusBar]) -> list[NoteColumn]:
    """Columns that overlap one another, cut at their onsets and ends; but as they are where they
    are struck in different ways, and in bars where the melody has no stem and leaves room for
    theirs, unless they are a chord that builds up and ends as one."""
    start = min((column.onset_quarter for column in group), default=Fraction(0))
    end = max((column.end_quarter for column in group), default=Fraction(0))
    above = [tune for tune in melody if tune.onset_quarter < end and start < tune.end_quarter]
    if (len(group) < 2 or not above
            or any(column.is_staccato or column.is_rolled for column in group)):
        return list(group)
    found = []
    place = start
    for low, high in [*_without_stem(above, bars), (end, end)]:
        low, high = max(low, place), min(high, end)
        if len({min(high, column.end_quarter) for column in _inside(group, low, high)}) == 1:
            continue
        if place < low:
            shared = [_part(column, place, low) for column in _inside(group, place, low)]
            edges = sorted({edge for column in shared
                            for edge in (column.onset_quarter, column.end_quarter)})
            found += [_one_stem(_inside(shared, *span), *span) for span in pairwise(edges)]
        if low < high:
            found += [_part(column, low, high) for column in _inside(group, low, high)]
        place = max(low, high)
    return found


def _without_stem(melody: Sequence[NoteColumn], bars: Sequence[ChorusBar],
                  ) -> list[tuple[Fraction, Fraction]]:
    """From where to where notes of the melody are written as whole ones, bar by bar."""
    parts = [(max(tune.onset_quarter, bar.onset_quarter), min(tune.end_quarter, bar.end_quarter))
             for tune in melody for bar in bars]
    return sorted((low, high) for low, high in parts if high - low >= _WHOLE)


def _inside(columns: Sequence[NoteColumn], low: Fraction, high: Fraction) -> list[NoteColumn]:
    """Those that sound somewhere between two places."""
    return [column for column in columns
            if column.onset_quarter < high and column.end_quarter > low]


def _part(column: NoteColumn, low: Fraction, high: Fraction) -> NoteColumn:
    """What of a column lies between two places, tied to the rest of it."""
    keys = frozenset(index for index, _ in column.notes)
    return replace(
        column, onset_quarter=max(low, column.onset_quarter),
        end_quarter=min(high, column.end_quarter),
        tied_in=column.tied_in | (keys if column.onset_quarter < low else frozenset()),
        tied_on=column.tied_on | (keys if column.end_quarter > high else frozenset()))


def _one_stem(columns: Sequence[NoteColumn], low: Fraction, high: Fraction) -> NoteColumn:
    """Columns that all sound from one place to another as one."""
    parts = [_part(column, low, high) for column in columns]
    notes = sorted((member for part in parts for member in part.notes),
                   key=lambda member: (member[1].midi, member[0]))
    return NoteColumn(low, high, tuple(notes), False,
                      tied_in=frozenset().union(*(part.tied_in for part in parts)),
                      tied_on=frozenset().union(*(part.tied_on for part in parts)))


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


def _uncrossed(columns: Sequence[NoteColumn]) -> list[NoteColumn]:
    """The left hand in voices, of which none lies above one with its stems up: where a chord builds
    up and ends as one, what would is tied into one stem with what comes to it."""
    placed = _left_voices(columns)
    while (pair := next(_crossed(placed), None)) is not None:
        first, second = sorted(pair, key=lambda column: column.onset_quarter)
        start, end = second.onset_quarter, second.end_quarter
        placed = _left_voices([column for column in placed if column not in pair] + [
            _part(first, first.onset_quarter, start), _one_stem(pair, start, end)])
    return placed


def _crossed(columns: Sequence[NoteColumn]) -> Iterator[tuple[NoteColumn, NoteColumn]]:
    """Those that end together though one was struck later, the higher one with its stems down."""
    for place, one in enumerate(columns):
        for other in columns[place + 1:]:
            if other.onset_quarter >= one.end_quarter:
                break
            upper, lower = (one, other) if one.voice % 2 else (other, one)
            if (one.onset_quarter < other.onset_quarter and one.end_quarter == other.end_quarter
                    and upper.voice % 2 > lower.voice % 2 and upper.centre < lower.centre
                    and not any(c.is_staccato or c.is_rolled for c in (one, other))):
                yield one, other


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

    Bars that a note of another voice ties together are decided together, so that no tie changes
    voice.
    """
    base = 1 if columns and columns[0].hand == "right" else 5
    edges = [bar.onset_quarter for bar in bars]
    spans = []
    joined = [False] * len(bars)
    for column in columns:
        first = max(bisect_right(edges, column.onset_quarter) - 1, 0)
        last = max(bisect_left(edges, column.end_quarter) - 1, first)
        spans.append(range(first, last + 1))
        for bar in spans[-1][1:] if column.voice != base else ():
            joined[bar] = True
    group = [0] * len(bars)
    for bar in range(1, len(bars)):
        group[bar] = group[bar - 1] + (not joined[bar])
    clash: set[int] = set()
    end_of: dict[int, Fraction] = {}
    for column, span in sorted(zip(columns, spans, strict=True),
                               key=lambda pair: pair[0].onset_quarter):
        for bar in span:
            if end_of.get(bar, Fraction(-1)) > max(column.onset_quarter, edges[bar]):
                clash.add(group[bar])
            end_of[bar] = max(end_of.get(bar, Fraction(-1)), column.end_quarter)
    return [column if group[span[0]] in clash else replace(column, voice=base)
            for column, span in zip(columns, spans, strict=True)]
