"""Rhythms for a line, drawn from how real solos divide their beats.

A rhythm is a row of beat figures (`learnt.FIGURES`): nothing yet, figures, and silence before
the landing; in long gaps it breathes and begins again. What is drawn follows the learnt
table as often as it says, under the rules of the place: nothing before the held note has
spoken, no stroke faster than level and tempo bear, a breath before the hand tires.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, pairwise

import numpy as np

from fillwright.exact import Fraction
from fillwright.fills.devices.line.dice import Dice
from fillwright.fills.devices.line.learnt import FIGURES, LENGTHS, TICKS, gap_class, table
from fillwright.fills.finish import speak_quarter
from fillwright.fills.player import Level, LineTaste
from fillwright.fills.situation import Situation, Task
from fillwright.fills.tempo import sixteenths_to
from fillwright.hands.difficulty import rate_points
from fillwright.memory import SEARCHES

__all__ = ["Beat", "Grid", "LineRhythm", "beats_of", "drawn", "grid_of", "hardest", "is_sayable",
           "rate_ok", "rhythm_of", "strength_at"]

_END = len(FIGURES)
_NONE = len(FIGURES)
_COMPOUND = {(6,): (8,), (0, 6): (0, 8)}
"""In a beat of three eighths the off-beat is the third."""

_UNSAID = frozenset({(3,), (4,), (8,), (0, 3), (0, 4), (0, 8), (3, 6), (3, 9), (0, 3, 6),
                     (0, 3, 9)})
"""Figures that a student cannot say: a sixteenth or the middle of a triplet that is held on; or
that would say a swung eighth a second way."""

_AGAINST_SWING = frozenset(ticks for ticks in FIGURES
                           if ticks not in ((0, 3, 6, 9), (3, 6, 9))
                           and any(t % 6 == 3 for t in ticks))
"""Figures that put sixteenths inside a swung eighth: where eighths swing, a beat has three parts,
or four that are struck, all or all but the first."""

_LAST_SIXTEENTH = 9
"""The last sixteenth of a beat runs on to the next beat."""

_ON_BEAT_END = 110
"""How much an end on a beat is preferred, hundredths of a bit: a landing that has to be led into
takes away some of the ends on a beat that solos have."""

_SILENT = 160
"""How much a silent beat inside a line is preferred, hundredths of a bit: a short way to the
landing takes away some of what solos have (Weimar Jazz Database)."""

_TOP, _STRAIN = 100, 12
"""The top of the scale of difficulty, and how near to it an advanced line is a strain."""

_BESIDE = 14
"""Points that a line's keys, its steps and what the other hand does give beside its rate."""

_LEFT_STROKES = 2
"""Strokes of the left hand that are counted beside a line's, where the hardest quarter of all
strokes is rated."""

_STROKES = 3
"""Intervals between strokes from which on a rate is heard: a pair of eighths and its goal may
be quicker, a run may not."""

_MOST_FULL = Fraction(7, 2)
"""Beats without a breath, or a note of a beat, inside a line (common practice)."""


@dataclass(frozen=True, slots=True)
class Beat:
    """A felt beat (the last of a bar may be shorter): place, length, strength in its bar."""

    onset_quarter: Fraction
    length_quarter: Fraction
    strong: bool

    @property
    def end_quarter(self) -> Fraction:
        return self.onset_quarter + self.length_quarter


@dataclass(frozen=True, slots=True)
class Grid:
    """A gap as a row of beats, free of everything but time. Places count from its onset.

    start     from where the line may speak
    end       the landing, or the gap's end
    tempo     class of the learnt tables
    landing   whether a melody note follows
    swings    eighths swing
    off_beat  the gap opens off the beat
    melody    where the melody strikes from the landing on, as far as a line can be in its beat
    hardest   points of difficulty that the rate alone may give
    quick     too fast for a beat in four
    """

    seconds_per_quarter: float
    beat_quarter: Fraction
    start: Fraction
    end: Fraction
    beats: tuple[Beat, ...]
    tempo: int
    landing: bool
    compound: bool
    hardest: int
    swings: bool = False
    off_beat: bool = False
    melody: tuple[Fraction, ...] = ()
    quick: bool = False


@dataclass(frozen=True, slots=True)
class LineRhythm:
    """When a line speaks and breathes: onsets and ends of its notes, silence before the landing,
    all in quarters."""

    onsets: tuple[Fraction, ...]
    ends: tuple[Fraction, ...]
    air: Fraction

    def __len__(self) -> int:
        return len(self.onsets)


def beats_of(situation: Situation, end_quarter: Fraction | None = None) -> tuple[Beat, ...]:
    """The felt beats that overlap the gap, each of its own bar's meter."""
    end = situation.end_quarter if end_quarter is None else end_quarter
    beats: list[Beat] = []
    for bar in situation.bars:
        if bar.onset_quarter >= end or bar.end_quarter <= 0:
            continue
        start = bar.first_beat_quarter  # before its onset, where a bar is only the end of one
        while start < bar.end_quarter:
            length = min(bar.meter.beat_quarter, bar.end_quarter - start)
            if start + length > max(bar.onset_quarter, Fraction(0)) and start < end:
                beats.append(Beat(start, length, strength_at(situation, start) == 2))
            start += length
    return tuple(beats)


_HALVES_OF_A_BAR = 2
"""What is counted in a meter of halves."""


def strength_at(situation: Situation, place_quarter: Fraction) -> int:
    """2 on the strong beats of the bar, 1 on the others, 0 between.

    Strong are beats 1 and 3 of four, 1 of three and two, 1 and 4 of five, and every half of a bar
    in halves (common practice).
    """
    place = situation.beat_at(place_quarter) - 1
    if place.denominator != 1:
        return 0
    meter = situation.bar_at(place_quarter).meter
    if meter.beat_type == _HALVES_OF_A_BAR:
        return 1 if place % 2 else 2
    count = int(meter.length_quarter / meter.beat_quarter)
    strong = {4: (0, 2), 5: (0, 3), 6: (0, 3), 7: (0, 4)}.get(count, (0,))
    return 2 if int(place) in strong else 1


def grid_of(task: Task, tempo: int, end: Fraction | None = None) -> Grid:
    stop = task.end_quarter if end is None else end
    start = Fraction(0) if task.held is None else speak_quarter(task)
    beats = tuple(b for b in beats_of(task, stop) if b.end_quarter > start)
    melody = () if task.landing is None or not beats else (stop, *(
        n.onset_quarter for n in task.following
        if stop == task.end_quarter < n.onset_quarter < beats[-1].end_quarter))
    return Grid(task.seconds_per_quarter, task.beat_quarter, start, stop, beats, tempo,
                task.landing is not None, task.meter.is_compound,
                hardest(task.player.level) - _BESIDE, task.feel == "swing" and tempo > 0,
                task.beat.denominator != 1, melody,
                task.beats_per_minute > sixteenths_to(task.meter))


def hardest(level: Level) -> int:
    """How difficult a line may be; so near to the top of the scale it would be a strain."""
    most = level.difficulty[1]
    return most - _STRAIN if most == _TOP else most


def rate_ok(grid: Grid, taste: LineTaste, onsets: Sequence[Fraction]) -> bool:
    """Whether a row of strokes is not too fast for the level at the tempo."""
    seconds = [float(onset) * grid.seconds_per_quarter for onset in onsets]
    if any(b - a < taste.least_sec - 1e-9 for a, b in pairwise(seconds)):
        return False  # a row that does not go forward is among these
    if rate_points([b - a for a, b in pairwise(seconds)], _LEFT_STROKES) > grid.hardest:
        return False
    slowest = _STROKES / taste.rate - 1e-9
    return (all(b - a >= slowest for a, b in zip(seconds, seconds[_STROKES:], strict=False))
            and all(seconds[i + taste.rate] >= start + 1.0 - 1e-9
                    for i, start in enumerate(seconds[:-taste.rate])))


def drawn(grid: Grid, taste: LineTaste, dice: Dice, count: int, least: int) -> list[LineRhythm]:
    """At most `count` different rhythms of `least` notes or more."""
    table_ = _table(grid, taste)
    found: dict[tuple[Fraction, ...], LineRhythm] = {}
    if table_ is None:
        return []
    for _ in range(6 * count):
        onsets = _draw(grid, table_, dice)
        if onsets and not grid.landing:
            onsets = _at_rest(grid, onsets)
        if len(onsets) < least or onsets in found or not _breathes(grid, onsets):
            continue
        if taste.plain and _floats(grid, onsets):
            continue
        rhythm = rhythm_of(grid, onsets, dice)
        leads = grid.landing and rhythm.air < grid.beat_quarter / 2
        if rate_ok(grid, taste, onsets) and (
                not leads or rate_ok(grid, taste, (*onsets, grid.end))):
            found[onsets] = rhythm
            if len(found) == count:
                break
    return list(found.values())


@dataclass(frozen=True, slots=True)
class _Table:
    """For each beat its states (figure, onsets), and for each state the shares of going on to
    each state of the next, times all that can come after; shares as whole numbers, summed up."""

    states: tuple[tuple[int, ...], ...]
    onward: tuple[tuple[tuple[int, ...], ...], ...]
    first: tuple[int, ...]


_PRE, _REST = -1, -2
"""States beside the figures: not begun, silent after (a part of) the line."""


@SEARCHES.keep
def _table(grid: Grid, taste: LineTaste) -> _Table | None:
    if not grid.beats:
        return None
    states = [_states(grid, taste, beat) for beat in grid.beats]
    # backward: how much can come after each state
    after: list[list[float]] = [[_ending(grid, taste, s, len(states) - 1) for s in states[-1]]]
    onward: list[list[list[float]]] = []
    for index in range(len(states) - 2, -1, -1):
        rows = [[_share(grid, taste, one, two, index + 1) * rest
                 for two, rest in zip(states[index + 1], after[0], strict=True)]
                for one in states[index]]
        onward.insert(0, rows)
        after.insert(0, [sum(row) for row in rows])
    first = [_share(grid, taste, _PRE, s, 0) * rest
             for s, rest in zip(states[0], after[0], strict=True)]
    if sum(first) <= 0:
        return None
    return _Table(tuple(tuple(s) for s in states),
                  tuple(tuple(_whole(row) for row in rows) for rows in onward), _whole(first))


def _whole(row: Sequence[float]) -> tuple[int, ...]:
    most = max(row, default=0.0)
    return tuple(accumulate(int(share * (1 << 24) / most) if most > 0 else 0 for share in row))


def _states(grid: Grid, taste: LineTaste, beat: Beat) -> list[int]:
    found = [_PRE, _REST]
    for number, ticks in enumerate(FIGURES):
        if ticks in _UNSAID and not grid.compound:
            continue
        if not _is_countable(grid, beat, ticks):
            continue
        if grid.compound and any(t % (TICKS // 3) for t in _COMPOUND.get(ticks, ticks)):
            continue  # a beat of three eighths is not divided by two or four
        if not _is_divided(grid, taste, ticks):
            continue
        if number and beat.length_quarter < grid.beat_quarter and FIGURES[number] != (0,):
            continue
        places = _places(grid, beat, number)
        if all(grid.start <= p < min(grid.end, beat.end_quarter) for p in places):
            found.append(number)
    return found


def _is_divided(grid: Grid, taste: LineTaste, ticks: Sequence[int]) -> bool:
    """Whether the level divides its beats so."""
    divisions = taste.divisions if grid.tempo else taste.slow_divisions
    return any(all(t % (TICKS // d) == 0 for t in ticks)
               for d in divisions if not (grid.quick and d == _IN_FOUR))


_IN_FOUR = 4


def _is_countable(grid: Grid, beat: Beat, ticks: Sequence[int]) -> bool:
    """Whether a figure can be counted, together with what the melody strikes in the same beat: no
    third of a beat beside its half or a quarter of it, nor a quarter beside a swung eighth, which
    sounds where the third does. What strikes the beat alone is in nobody's way."""
    if grid.compound or tuple(ticks) in ((), (0,)):
        return True
    met = [(place - beat.onset_quarter) / grid.beat_quarter * TICKS for place in grid.melody
           if beat.onset_quarter <= place < beat.end_quarter]
    if any(tick.denominator != 1 for tick in met):
        return False
    struck = {*ticks, *map(int, met)}
    if not struck <= {0, *_THIRDS, *_HALVES}:
        return False
    if struck & _THIRDS and struck & _HALVES:
        return False
    return not grid.swings or tuple(sorted(struck)) not in _AGAINST_SWING


_THIRDS, _HALVES = frozenset({4, 8}), frozenset({3, 6, 9})
"""Places in a beat that is divided in three, or in two and four, in `TICKS`."""


def _places(grid: Grid, beat: Beat, figure: int) -> tuple[Fraction, ...]:
    ticks = FIGURES[figure]
    if grid.compound:
        ticks = _COMPOUND.get(ticks, ticks)
    return tuple(beat.onset_quarter + grid.beat_quarter * tick / TICKS for tick in ticks)


def _share(grid: Grid, taste: LineTaste, one: int, two: int, index: int) -> float:
    """The share of a state after another; `index` is the beat of the second."""
    weak = not grid.beats[index].strong
    costs = table("figure")[grid.tempo, int(weak)]
    if one >= 0 and _LAST_SIXTEENTH in FIGURES[one] and (two <= 0 or FIGURES[two][0]):
        return 0.0
    if two == _PRE:
        return _power(taste.wait) if one == _PRE else 0.0
    if one == _PRE:
        return 0.0 if two in (_REST, 0) else _power(_price(taste, costs[_NONE, two], two))
    if one == _REST:
        if two == _REST:
            return _power(taste.air)
        return 0.0 if two == 0 else _power(
            taste.wait + _price(taste, costs[_NONE, two], two))
    if two == _REST:
        return 0.0 if one == 0 else _power(_end_price(taste, costs[one, _END], one) + taste.air)
    if one == 0 and two == 0:
        return 0.0
    return _power(_price(taste, costs[one, two], two))


def _price(taste: LineTaste, cost: np.int64, figure: int) -> int:
    """A learnt cost as the level takes it."""
    small = any(tick % (TICKS // 2) for tick in FIGURES[figure])
    return (int(cost) * taste.typical // 100 - taste.lively * small
            - _SILENT * (not FIGURES[figure]))


def _ending(grid: Grid, taste: LineTaste, state: int, index: int) -> float:
    if state in (_PRE, 0):
        return 0.0
    if state == _REST:
        return 1.0
    if _LAST_SIXTEENTH in FIGURES[state] and grid.end > grid.beats[index].end_quarter:
        return 0.0
    weak = grid.beats[index].strong  # the beat after it
    return _power(_end_price(taste, table("figure")[grid.tempo, int(weak), state, _END], state))


def _end_price(taste: LineTaste, cost: np.int64, figure: int) -> int:
    """What it costs to end with a figure."""
    on_beat = FIGURES[figure][-1] == 0
    return int(cost) * taste.typical // 100 - _ON_BEAT_END * on_beat


@lru_cache(maxsize=4096)
def _power(cost: int) -> float:
    return float(2.0 ** (-cost / 100))


def _draw(grid: Grid, table_: _Table, dice: Dice) -> tuple[Fraction, ...]:
    place = dice.pick_by(table_.first)
    onsets: list[Fraction] = []
    for index, beat in enumerate(grid.beats):
        state = table_.states[index][place]
        if state > 0:
            onsets += _places(grid, beat, state)
        if index + 1 < len(grid.beats):
            place = dice.pick_by(table_.onward[index][place])
            if place < 0:
                return ()
    return tuple(onsets)


def _floats(grid: Grid, onsets: Sequence[Fraction]) -> bool:
    """Three strokes in a row off the beat, the one that opens the gap among them, or all: a
    beginner loses the bar."""
    beats = {b.onset_quarter for b in grid.beats}
    struck = (Fraction(0), *onsets) if grid.off_beat else onsets
    return not beats.intersection(onsets) or any(not beats.intersection(three)
               for three in zip(struck, struck[1:], struck[2:], strict=False))


def is_sayable(grid: Grid, taste: LineTaste, onsets: Sequence[Fraction]) -> bool:
    """Whether a melody's rhythm, answered elsewhere or twice as fast, can still be counted: no
    triplet or sixteenths that begin off the beat and run over it, no lone sixteenth inside a swung
    beat, no sixteenth before a long note, nothing quicker than the level's own rhythms, and for a
    beginner a beat to lean on. Two beats may be divided in three."""
    if taste.plain and _floats(grid, onsets):
        return False
    if grid.compound:
        return True
    for beat in grid.beats:
        ticks = tuple((o - beat.onset_quarter) / grid.beat_quarter * TICKS for o in onsets
                      if beat.onset_quarter <= o < beat.end_quarter)
        if any(t.denominator != 1 for t in ticks):
            return False
        figure = tuple(int(t) for t in ticks)
        if figure in _HEADLESS or figure in _SNAPS or not (
                _is_countable(grid, beat, figure) and _is_divided(grid, taste, figure)):
            return False
    return True


_SNAPS = frozenset({(0, 3), (0, 3, 9)})
"""A sixteenth on the beat whose next note is held on."""

_HEADLESS = frozenset({(3,), (3, 6), (3, 9), (3, 6, 9)})
"""Sixteenths whose beat is not struck: a pickup of three is drawn, a melody's are carried over."""


def _breathes(grid: Grid, onsets: Sequence[Fraction]) -> bool:
    """No more than eight eighths in a row without a breath or a note of a beat."""
    since = onsets[0]
    for before, here in pairwise(onsets):
        if here - before >= grid.beat_quarter:
            since = here
        elif here - since > _MOST_FULL * grid.beat_quarter:
            return False
    return True


def _at_rest(grid: Grid, onsets: tuple[Fraction, ...]) -> tuple[Fraction, ...]:
    """A row of onsets led on (by a beat at most) or cut back to a strong beat with a beat or more
    to ring, where the last line of a piece comes to rest; () where there is none."""
    beats = [b for b in grid.beats
             if grid.start <= b.onset_quarter <= grid.end - grid.beat_quarter]
    places = [b.onset_quarter for b in beats if b.strong and b.onset_quarter > grid.start] or [
        b.onset_quarter for b in beats]
    last = onsets[-1]
    near = [p for p in places if last <= p <= last + grid.beat_quarter]
    before = [p for p in places if p < last]
    if not near and not before:
        return ()
    place = near[0] if near else before[-1]
    return (*(o for o in onsets if o < place), place)


def rhythm_of(grid: Grid, onsets: tuple[Fraction, ...], dice: Dice) -> LineRhythm:
    """Give onsets their ends: a note before a gap of a beat or more is held or let go as often
    as solos do, but never two in a row are let go, nor any in a ballad; the last one leads into
    the landing, or leaves air."""
    beat, half = grid.beat_quarter, grid.beat_quarter / 2
    ends, clipped = [], False
    for onset, following in pairwise(onsets):
        rest = following - onset
        short = rest >= beat and grid.tempo > 0 and not clipped and _is_short(grid, rest, dice)
        clipped = short
        ends.append(min(_before(grid, onset, following), _beat_over(grid, onset),
                        _let_go(grid, onset) if short else onset + 2 * beat))
    onset = onsets[-1]
    rest = grid.end - onset
    if _beat_over(grid, onset) < grid.end:
        ends.append(_beat_over(grid, onset))
    elif not grid.landing or rest < beat or (rest == beat and not _is_short(grid, rest, dice)):
        ends.append(grid.end)
    else:
        end = _let_go(grid, onset)
        if rest >= 2 * beat and not _is_short(grid, rest, dice):
            end = onset + beat
        ends.append(min(end, grid.end - half))
    return LineRhythm(onsets, tuple(ends), grid.end - ends[-1])


def _before(grid: Grid, onset: Fraction, following: Fraction) -> Fraction:
    """Where a note ends before another: at the beat, where the other comes in the middle of one
    and the beat would not be heard."""
    beat = next((b.onset_quarter for b in grid.beats
                 if b.onset_quarter <= following < b.end_quarter), following)
    between = (following - beat) % (grid.beat_quarter / 2) != 0
    return beat if between and not grid.compound and onset < beat else following


def _beat_over(grid: Grid, onset: Fraction) -> Fraction:
    """Where a note ends at the latest: one from the middle of a half beat is not tied over the
    next beat, which would not be heard any more."""
    beat = next((b for b in grid.beats if b.onset_quarter <= onset < b.end_quarter), None)
    if beat is None or grid.compound or (onset - beat.onset_quarter) % (
            grid.beat_quarter / 2) == 0:
        return grid.end
    return min(beat.end_quarter, grid.end)


def _let_go(grid: Grid, onset: Fraction) -> Fraction:
    """The next half beat after an onset, at least a third of a beat later."""
    half = grid.beat_quarter / 2
    line = next((b.onset_quarter for b in grid.beats
                 if b.onset_quarter <= onset < b.end_quarter), Fraction(0))
    end = line + half * ((onset - line) // half + 1)
    return end if end - onset >= grid.beat_quarter / 3 else end + half


def _is_short(grid: Grid, rest: Fraction, dice: Dice) -> bool:
    lengths = _lengths(grid.tempo, gap_class(int(rest * TICKS / grid.beat_quarter)))
    return LENGTHS[dice.pick_by(lengths)] < 0


@lru_cache(maxsize=16)
def _lengths(tempo: int, gap: int) -> tuple[int, ...]:
    """The shares of the length classes of a note, summed up."""
    return tuple(accumulate(int(1000 * _power(int(cost))) for cost in table("length")[tempo, gap]))
