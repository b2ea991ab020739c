"""Rhythms of a ballad, generated beat by beat.

A slow beat has room inside: the half of it, a triplet that leads into the next beat or into
the landing, a left hand that waits until the melody note has spoken, a single chord that
rings. Every beat of a gap takes one *cell* of the table below; rows of cells are weighed by
how many gestures there are for the level, by what the cells cost, by holes and by sameness.
Nothing is stabbed: a chord lasts until the next one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.player import Level
from fillwright.fills.rhythm.grid import Frame, Hit, Rhythm
from fillwright.fills.rhythm.patterns import MIXED, OFF_BEATS, ON_BEAT, ONE_OFF
from fillwright.memory import SEARCHES

__all__ = ["BLOOM", "LATE", "UPBEAT", "slow_rhythms"]

BLOOM, LATE, UPBEAT = "one chord that rings", "late left hand", "triplet upbeat"

_HALF, _THIRD = Fraction(1, 2), Fraction(1, 3)
_CELLS: tuple[tuple[tuple[Fraction, ...], tuple[int | None, int | None, int | None]], ...] = (
    # parts of the beat that are struck; cost for a beginner, an intermediate and an advanced
    # player, None where it is not for them (design choices within common practice)
    ((), (0, 0, 0)),
    ((Fraction(0),), (0, 0, 1)),
    ((_HALF,), (3, 1, 1)),
    ((Fraction(0), _HALF), (5, 4, 3)),
    ((2 * _THIRD,), (None, 2, 1)),
    ((Fraction(0), 2 * _THIRD), (None, 4, 3)),
    ((_THIRD, 2 * _THIRD), (None, 4, 2)),
)

WEIGHTS = MappingProxyType({
    # term: integer cost per unit (design choices within common practice)
    "density": 4,       # gesture more or fewer than the target
    "mixed": 5,         # halves and triplets in one gap
    "equal": 6,         # stroke beyond three that come at equal distances
    "adrift": 2,        # stroke between the beats more than there are on them, after two
    "hole": 3,          # beat beyond three without a stroke
    "alone": 5,         # beat beyond one that a single chord has to fill, beyond two at the end
    "repetition": 4,    # bar with the rhythm of the bar before
    "old chord": 12,    # a stroke between the beats just before a change
    "crowd": 6,         # stroke less than half a beat after one that was so itself
    "early": 1,         # the first beat, where the melody note has not spoken, is filled up
    "restless": 4,      # at a tune's end a last stroke between the beats
    "square": 5,        # a gap of two beats with a stroke on each and nothing else
})
_LATE = (4, 0, 0)
"""Cost of a left hand that waits half a beat, by level (design choice: a beginner has to be
told)."""

_BEAM = 240
_TICKS = 12  # to a beat


@dataclass(frozen=True, slots=True)
class _Beats:
    """A slow gap in ticks: where its beats begin (the first may begin before it), in which
    bar each of them lies, and where the gap ends."""

    starts: tuple[int, ...]
    bars: tuple[int, ...]
    length: int
    first: int
    last: int
    beat_quarter: Fraction


@dataclass(frozen=True, slots=True)
class _Row:
    """Strokes so far, in ticks, and their cost by term (without what needs the whole row)."""

    opening: int
    strokes: tuple[int, ...]
    cells: int


def slow_rhythms(frame: Frame, *, first: Fraction, last: Fraction, late: bool = True,
                 limit: int = 24) -> tuple[Rhythm, ...]:
    """Rhythms of a ballad's gap: the best of every kind first, then the second best ...

    first, last   offsets from the gap's onset between which hits may begin
    late          the left hand may come after the melody note
    """
    return _found(frame, first, last, late, limit)


@SEARCHES.keep
def _found(frame: Frame, first: Fraction, last: Fraction, late: bool, limit: int
           ) -> tuple[Rhythm, ...]:
    beats = _beats(frame, first, last)
    level = frame.level
    found: list[tuple[int, _Row, dict[str, int]]] = []
    for opening in (0, _TICKS // 2) if late and beats.starts[0] == 0 else (0,):
        for row in _rows(beats, opening, level):
            if (frame.swung and _is_said_twice(beats, row)) or (
                    row.opening and row.opening + _TICKS in row.strokes):
                continue  # a late left hand and an off-beat after it are a pair of stabs
            costs = _price(frame, beats, row)
            found.append((sum(costs.values()), row, costs))
    found.sort(key=lambda entry: (entry[0], entry[1].opening, entry[1].strokes))
    kinds: dict[str, int] = {}
    turns: list[tuple[int, int]] = []
    for place, (_, row, _) in enumerate(found):
        name = _name(beats, row)
        turns.append((kinds.get(name, 0), place))
        kinds[name] = kinds.get(name, 0) + 1
    return tuple(_rhythm(beats, found[place][1], found[place][2])
                 for _, place in sorted(turns)[:limit])


def _is_said_twice(beats: _Beats, row: _Row) -> bool:
    """Are there an off-beat eighth and the third part of a triplet? In swing they are one."""
    parts = {_part(beats, s) for s in (row.opening, *row.strokes)}
    return _TICKS // 2 in parts and 2 * _TICKS // 3 in parts


def _part(beats: _Beats, stroke: int) -> int:
    """Where in its beat a stroke is, in ticks."""
    return stroke - max((b for b in beats.starts if b <= stroke),
                        default=beats.starts[0] - _TICKS)


def _beats(frame: Frame, first: Fraction, last: Fraction) -> _Beats:
    beat = frame.beat_quarter
    opening = frame.places[0]
    starts = [opening.offset_quarter - opening.in_bar_quarter % beat]
    bars = [opening.bar]
    for place in frame.places[1:]:
        if place.on_beat:
            starts.append(place.offset_quarter)
            bars.append(place.bar)
    return _Beats(tuple(_ticks(s, beat) for s in starts), tuple(bars),
                  _ticks(frame.length_quarter, beat), _ticks(first, beat), _ticks(last, beat),
                  beat)


def _ticks(quarters: Fraction, beat: Fraction) -> int:
    return int(quarters / beat * _TICKS)


def _rows(beats: _Beats, opening: int, level: Level) -> Iterator[_Row]:
    """All rows of cells for a short gap, the cheapest beginnings of a long one."""
    rows: list[tuple[tuple[int, ...], int]] = [((), 0)]
    for number, start in enumerate(beats.starts):
        cells = tuple(_cells(beats, number, start, opening, level))
        rows = [(before + strokes, spent + cost) for before, spent in rows
                for strokes, cost in cells if _follows(before, strokes, start)]
        if len(rows) > _BEAM:
            rows = [(strokes, spent) for _, strokes, spent in sorted([
                (spent + _uneven(strokes, start), strokes, spent) for strokes, spent in rows
                ])[:_BEAM]]
    for strokes, spent in rows:
        if not strokes or not _stabs(strokes[-1], beats):
            yield _Row(opening, strokes, spent)


def _cells(beats: _Beats, number: int, start: int, opening: int, level: Level
           ) -> Iterator[tuple[tuple[int, ...], int]]:
    whole = min(beats.starts[number + 1] if number + 1 < len(beats.starts) else beats.length,
                beats.length) - start
    for parts, costs in _CELLS:
        cost = costs[level.rank]
        if cost is None or (parts and start < 0):
            continue  # within the beat in which the melody came, nothing is counted
        strokes = tuple(start + int(part * _TICKS) for part in parts)
        if all(max(beats.first, opening and opening + _TICKS // 2) <= s <= beats.last
               and s - start < whole for s in strokes):
            yield strokes, cost


def _follows(before: tuple[int, ...], strokes: tuple[int, ...], start: int) -> bool:
    """A triplet leads into a stroke on the next beat; two half beats in a row, none of them on
    the beat, are a swing's."""
    if before and strokes and start - before[-1] == strokes[0] - start == _TICKS // 2:
        return False
    if before and before[-1] < start and (start - before[-1]) == _TICKS // 3:
        return bool(strokes) and strokes[0] == start
    return True


def _stabs(last: int, beats: _Beats) -> bool:
    """Is the last stroke off the beat and cut by the landing before a beat is over, or a
    triplet that nothing follows but time?"""
    start = max(s for s in beats.starts if s <= last)
    return last > start and ((last - start) % (_TICKS // 2) != 0
                             or beats.length - last < _TICKS)


def _uneven(strokes: tuple[int, ...], start: int) -> int:
    """What a beginning of a row is likely to pay for having too much or too little."""
    gestures = _gestures(strokes)
    return WEIGHTS["density"] * max(abs(gestures - start * 6 // (10 * _TICKS)) - 1, 0)


def _gestures(strokes: tuple[int, ...]) -> int:
    """Strokes within a beat belong to one gesture."""
    count, last = 0, -_TICKS
    for stroke in strokes:
        if stroke - last >= _TICKS:
            count += 1
        last = stroke
    return count


def _price(frame: Frame, beats: _Beats, row: _Row) -> dict[str, int]:
    share = frame.level.rhythm.density[frame.style] * (2 if frame.ending else 3)
    room = max(beats.length - beats.first, _TICKS)
    target = max((share * room + 150 * _TICKS) // (300 * _TICKS), 1)
    single = row.strokes in ((), (0,))
    gestures = 1 if row.strokes == (0,) else _gestures(row.strokes)
    costs = {"density": WEIGHTS["density"] * abs(gestures - target), "places": row.cells}
    if row.opening:
        costs["late left hand"] = _LATE[frame.level.rank]
    if single:
        costs["alone"] = WEIGHTS["alone"] * max(
            (beats.length - row.opening - (1 + frame.ending) * _TICKS) // _TICKS, 0)
    parts = {_part(beats, s) for s in row.strokes}
    parts |= {row.opening} - {0}
    if _TICKS // 2 in parts and parts & {_TICKS // 3, 2 * _TICKS // 3}:
        costs["mixed"] = WEIGHTS["mixed"]
    between = sum(_part(beats, s) > 0 for s in row.strokes)
    costs["adrift"] = WEIGHTS["adrift"] * max(2 * between - len(row.strokes) - 1, 0)
    strokes = [row.opening, *(s for s in row.strokes if s != row.opening)]
    spaces = [b - a for a, b in pairwise([*strokes, beats.length])]
    costs["hole"] = WEIGHTS["hole"] * sum(max(space // _TICKS - 3, 0) for space in spaces)
    costs["square"] = WEIGHTS["square"] * (
        beats.length == 2 * _TICKS and strokes == [0, _TICKS])
    costs["crowd"] = WEIGHTS["crowd"] * sum(
        2 * max(a, b) < _TICKS for a, b in pairwise(spaces[:-1]))
    costs["early"] = WEIGHTS["early"] * (
        not row.opening and beats.starts[0] == 0 and any(0 < s < _TICKS for s in row.strokes))
    changes = {_ticks(change, beats.beat_quarter) for change in frame.changes}
    costs["old chord"] = WEIGHTS["old chord"] * sum(
        any(0 < change - s < _TICKS for change in changes) for s in row.strokes)
    if frame.ending and row.strokes:
        costs["restless"] = WEIGHTS["restless"] * (row.strokes[-1] not in beats.starts)
    costs["equal"] = WEIGHTS["equal"] * _equal(spaces[:-1])
    shapes: dict[int, list[int]] = {}
    for stroke in row.strokes:
        number = max(i for i, b in enumerate(beats.starts) if b <= stroke)
        line = min(b for b, bar in zip(beats.starts, beats.bars, strict=True)
                   if bar == beats.bars[number])
        shapes.setdefault(beats.bars[number], []).append(stroke - line)
    costs["repetition"] = WEIGHTS["repetition"] * sum(
        shapes.get(bar + 1) == shape for bar, shape in shapes.items())
    return {name: cost for name, cost in costs.items() if cost}


def _equal(spaces: list[int]) -> int:
    """Strokes beyond three in a row that stand at equal distances."""
    count, run = 0, 1
    for a, b in pairwise(spaces):
        run = run + 1 if a == b else 1
        count += run >= 3
    return count


def _rhythm(beats: _Beats, row: _Row, costs: dict[str, int]) -> Rhythm:
    def quarters(ticks: int) -> Fraction:
        return Fraction(ticks, _TICKS) * beats.beat_quarter

    hits = tuple(Hit(quarters(a), quarters(b - a))
                 for a, b in pairwise([*row.strokes, beats.length]))
    return Rhythm(hits, _name(beats, row), tuple(sorted(costs.items())), quarters(row.opening))


def _name(beats: _Beats, row: _Row) -> str:
    """What the rhythm does, in trade words."""
    if row.opening:
        return LATE
    if row.strokes in ((), (0,)):
        return BLOOM
    parts = [_part(beats, s) for s in row.strokes]
    if set(parts) & {_TICKS // 3, 2 * _TICKS // 3}:
        return UPBEAT
    if not any(parts):
        return ON_BEAT
    if all(parts):
        return ONE_OFF if len(parts) == 1 else OFF_BEATS
    return MIXED
