"""Rhythms for a right-hand line: when it speaks, when it breathes, how it ends.

A phrase is built beat by beat. Every felt beat takes one *beat figure* (a quarter, two
eighths, a triplet, an off-beat eighth, a rest ...); a lattice over the beats finds the
cheapest rows of figures, and a greedy choice keeps those that differ. Nothing starts
before the held note has spoken, no row of full beats is longer than a breath allows, and
the last note either runs into the landing or leaves air before it.

Vocabulary and rates follow the division shares of the Weimar Jazz Database (Pfleiderer et
al., *Inside the Jazzomat*, Schott Campus 2017): eighths and triplets between 100 and 200
beats a minute, sixteenths below 100, eighths and quarters above 200.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from types import MappingProxyType

import numpy as np

from fillwright.fills.finish import speak_quarter
from fillwright.fills.situation import Task
from fillwright.lattice import FORBIDDEN, distinct, k_best_paths
from fillwright.memory import SEARCHES

__all__ = ["NOTES_PER_SECOND", "Beat", "Phrase", "beats_of", "lifted", "make_phrase",
           "phrases", "rate_ok", "resting_places", "strength_at"]

NOTES_PER_SECOND: MappingProxyType[str, int] = MappingProxyType(
    {"beginner": 4, "intermediate": 7, "advanced": 10})
"""Most onsets within any second, and the fastest that four strokes in a row may follow each
other, the landing's among them where the line runs into it (the 95th percentile of solos is
10.2 notes a second in windows of 16 notes, Weimar Jazz Database; the lower levels are common
practice)."""

_STROKES = 3
"""Intervals between strokes from which on a rate is heard: a pair of eighths and its goal may
be quicker, a run may not."""

_LEAST_APART_SEC = MappingProxyType(
    {"beginner": 0.19, "intermediate": 0.11, "advanced": 0.075})
"""Shortest time between two onsets (median of solos 0.141 s, lowest quarter 0.100 s)."""


@dataclass(frozen=True, slots=True)
class Beat:
    """A felt beat (the last of a bar may be shorter): place, length, number in its bar."""

    onset_quarter: Fraction
    length_quarter: Fraction
    index: int

    @property
    def end_quarter(self) -> Fraction:
        return self.onset_quarter + self.length_quarter


@dataclass(frozen=True, slots=True)
class Phrase:
    """A rhythm without pitches, in chorus time.

    style   "quarters", "eighths", "triplets", "double time", "off-beats", "answer" ...
    ends    how each note ends: note i sounds until `ends[i]`
    air     silence between the last note and the landing, in quarter notes
    cost    what the rhythm costs, 0 is best
    """

    style: str
    onsets: tuple[Fraction, ...]
    ends: tuple[Fraction, ...]
    air: Fraction
    cost: int

    def __len__(self) -> int:
        return len(self.onsets)


@dataclass(frozen=True, slots=True)
class _Figure:
    name: str
    onsets: tuple[Fraction, ...]  # in beats, 0 <= onset < 1


def _figure(name: str, *onsets: str) -> _Figure:
    return _Figure(name, tuple(Fraction(o) for o in onsets))


_REST = _figure("rest")
_QUARTER = _figure("quarter", "0")
_SIMPLE = MappingProxyType({f.name: f for f in (
    _REST, _QUARTER, _figure("off", "1/2"), _figure("eighths", "0", "1/2"),
    _figure("triplet", "0", "1/3", "2/3"), _figure("triplet tail", "1/3", "2/3"),
    _figure("triplet head", "0", "1/3"),
    _figure("sixteenths", "0", "1/4", "1/2", "3/4"), _figure("pickup sixteenths", "1/2", "3/4"),
    _figure("late sixteenths", "1/4", "1/2", "3/4"), _figure("turn", "0", "1/2", "3/4"))})
_COMPOUND = MappingProxyType({f.name: f for f in (
    _REST, _QUARTER, _figure("off", "2/3"), _figure("long short", "0", "2/3"),
    _figure("eighths", "0", "1/3", "2/3"), _figure("eighths tail", "1/3", "2/3"),
    _figure("short long", "0", "1/3"),
    _figure("sixteenths", "0", "1/6", "1/3", "1/2", "2/3", "5/6"),
    _figure("pickup sixteenths", "1/3", "1/2", "2/3", "5/6"),
    _figure("turn", "0", "1/3", "1/2", "2/3"))})

_STYLES_SIMPLE: MappingProxyType[str, MappingProxyType[str, int]] = MappingProxyType({
    name: MappingProxyType(costs) for name, costs in {
        # Cost of a figure in a style, in tenths of "one thing I would rather not".
        "quarters": {"quarter": 0, "off": 5, "eighths": 12},
        "eighths": {"eighths": 0, "quarter": 4, "off": 5},
        "off-beats": {"off": 0, "eighths": 3, "quarter": 9},
        "triplets": {"triplet": 0, "eighths": 2, "quarter": 6, "off": 8, "triplet tail": 3,
                     "triplet head": 7},
        "double time": {"sixteenths": 0, "turn": 3, "eighths": 5, "pickup sixteenths": 2,
                        "late sixteenths": 3, "quarter": 7},
    }.items()})
_STYLES_COMPOUND: MappingProxyType[str, MappingProxyType[str, int]] = MappingProxyType({
    name: MappingProxyType(costs) for name, costs in {
        "quarters": {"quarter": 0, "long short": 3, "off": 5},
        "eighths": {"eighths": 0, "long short": 4, "quarter": 6, "eighths tail": 2, "off": 6},
        "off-beats": {"eighths tail": 0, "off": 2, "long short": 4, "short long": 3},
        "double time": {"sixteenths": 0, "turn": 2, "pickup sixteenths": 3, "eighths": 5},
    }.items()})

COSTS: MappingProxyType[str, int] = MappingProxyType({
    # In tenths of "one thing I would rather not"; common practice throughout.
    "wait": 4,          # each beat of silence before the line, after the note has spoken
    "air": 7,           # each beat of silence after the line
    "breath": 2,        # a rest of a beat inside; a second one in a row costs "hole"
    "hole": 9,
    "third full beat": 4,   # full beats in a row without a longer note
    "fourth full beat": 9,
    "same figure": 2,   # the beat before had the same figure (full beats: running is fine)
    "on the downbeat": 2,   # a line that starts exactly on beat 1 (10 % of phrases)
    "start on a beat": 1,   # 35 % of phrases start on a beat
    "thin": 3,          # each note fewer than the style would have in that space (THIN)
    "light end": 3,     # ends on a beat, with nothing leading on
})

THIN: MappingProxyType[str, Fraction] = MappingProxyType({
    # Notes per beat, from where the line may start to the landing, below which a line is
    # thin; half of it for beginners (common practice).
    "quarters": Fraction(3, 5), "off-beats": Fraction(4, 5), "eighths": Fraction(6, 5),
    "triplets": Fraction(3, 2), "double time": Fraction(2)})

_MOST_FULL = 4
"""Full beats in a row before a longer note or a rest must come."""

_PRE, _IN_REST, _END = 0, _MOST_FULL + 1, _MOST_FULL + 2


def beats_of(context: Task, end_quarter: Fraction | None = None) -> tuple[Beat, ...]:
    """The felt beats that overlap the gap, each of its own bar's meter."""
    end = context.end_quarter if end_quarter is None else end_quarter
    beats: list[Beat] = []
    for bar in context.bars[context.bar_index_at(context.onset_quarter):]:
        if bar.onset_quarter >= end:
            break
        beat = bar.meter.beat_quarter
        start, index = bar.onset_quarter, 0
        if bar.is_pickup:
            start -= max(bar.meter.length_quarter - bar.length_quarter, Fraction(0))
        while start < bar.end_quarter:
            length = min(beat, bar.end_quarter - start)
            if start + length > context.onset_quarter and start < end:
                beats.append(Beat(start, length, index))
            start += length
            index += 1
    return tuple(beats)


def strength_at(context: Task, onset_quarter: Fraction) -> int:
    """2 on the strong beats of the bar, 1 on the others, 0 between.

    Strong are beats 1 and 3 of four, 1 of three and two, 1 and 4 of five (common practice).
    """
    place = context.beat_at(onset_quarter) - 1
    if place.denominator != 1:
        return 0
    meter = context.bar_at(onset_quarter).meter
    count = int(meter.length_quarter / meter.beat_quarter)
    strong = {4: (0, 2), 5: (0, 3), 6: (0, 3), 7: (0, 4)}.get(count, (0,))
    return 2 if int(place) in strong else 1


def rate_ok(context: Task, onsets: Sequence[Fraction], air: Fraction | None = None
            ) -> bool:
    """Whether a row of onsets is not too fast for the level at the tempo.

    air   silence before the landing, if it is known: where it is short, the landing is one
          more stroke, at `context.end_quarter`
    """
    landing = context.landing is not None and air is not None and (
        air < context.beat_quarter / 2)
    return _rate_ok(context.level, context.seconds_per_quarter,
                    (*onsets, context.end_quarter) if landing else onsets)


def _rate_ok(level: str, seconds_per_quarter: float, onsets: Sequence[Fraction]) -> bool:
    most = NOTES_PER_SECOND[level]
    least = _LEAST_APART_SEC[level] - 1e-9
    seconds = [onset.numerator / onset.denominator * seconds_per_quarter for onset in onsets]
    slowest = _STROKES / most - 1e-9
    return (all(b - a >= least for a, b in pairwise(seconds))
            and all(b - a >= slowest for a, b in zip(seconds, seconds[_STROKES:], strict=False))
            and all(seconds[i + most] >= start + 1.0 - 1e-9
                    for i, start in enumerate(seconds[:-most])))


def make_phrase(context: Task, style: str, onsets: Sequence[Fraction], cost: int,
                landing_quarter: Fraction | None = None) -> Phrase:
    """Give a row of onsets its ends and its air.

    A note sounds until the next one, but not longer than a beat and a half; the last
    one runs to the landing if that is within a beat, else it is released in time for
    half a beat of air. Where nothing follows the last one rings to the gap's end.
    """
    end = context.end_quarter if landing_quarter is None else landing_quarter
    beat = context.beat_quarter
    ends: list[Fraction] = []
    for index, onset in enumerate(onsets):
        if index + 1 < len(onsets):
            following = onsets[index + 1]
            rest = following - onset
            ends.append(following if rest <= beat else onset + _rest_length(context, onset))
            continue
        if end - onset <= beat or context.landing is None:
            ends.append(end)
        else:
            ends.append(min(onset + max(_rest_length(context, onset), beat / 2),
                            end - beat / 2))
    return Phrase(style, tuple(onsets), tuple(ends), end - ends[-1], cost)


def lifted(context: Task, phrase: Phrase) -> Phrase | None:
    """A rhythm whose last note begins a whole beat before the landing, with that note let go
    half way, so that the line need not lead by step; None where there is no such note."""
    beat = context.beat_quarter
    if context.landing is None or phrase.air or phrase.ends[-1] - phrase.onsets[-1] != beat:
        return None
    return replace(phrase, ends=(*phrase.ends[:-1], phrase.ends[-1] - beat / 2), air=beat / 2)


def resting_places(context: Task) -> tuple[Fraction, ...]:
    """Where the last line of a piece may come to rest: strong beats (any beat, where there is
    none) after the held note has spoken, with a beat or more to ring; () where a melody note
    follows."""
    if context.landing is not None:
        return ()
    start = context.onset_quarter
    if context.held is not None:
        start += speak_quarter(context)
    last = context.end_quarter - context.beat_quarter
    places = [b.onset_quarter for b in beats_of(context) if start <= b.onset_quarter <= last]
    strong = tuple(p for p in places if strength_at(context, p) == 2 and p > start)
    return strong or tuple(places)


def _at_rest(places: Sequence[Fraction], onsets: tuple[Fraction, ...], beat: Fraction
             ) -> tuple[Fraction, ...]:
    """A row of onsets led on (by a beat at most) or cut back to a resting place."""
    last = onsets[-1]
    near = [p for p in places if last <= p <= last + beat]
    before = [p for p in places if p < last]
    if not near and not before:
        return onsets
    place = near[0] if near else before[-1]
    return (*(o for o in onsets if o < place), place)


def _rest_length(context: Task, onset: Fraction) -> Fraction:
    """Length of a note before a rest: to the next beat, or the beat after if that is near."""
    beat = context.beat_quarter
    place = context.beat_at(onset) - 1
    left = (1 - place % 1) * beat
    if left > beat / 2:
        return left
    return left if context.is_fast else left + (beat if context.is_ballad else Fraction(0))


def phrases(context: Task, styles: Sequence[str] | None = None, *,
            each: int | None = None, landing_quarter: Fraction | None = None,
            last_from: Fraction | None = None) -> tuple[Phrase, ...]:
    """Rhythms that fit the gap, style by style, each style's cheapest first.

    styles            None for all that suit level and tempo
    each              at most so many of a style; None: three in short gaps, two in long ones
    landing_quarter   where the landing comes, if not at the gap's end
    last_from         only rhythms whose last note begins there or later
    """
    if each is None:
        each = 3 if context.beats <= 4 else 2 if context.beats <= 12 else 1
    zero = context.onset_quarter
    end = context.end_quarter if landing_quarter is None else landing_quarter
    grid = _grid(context, end, shifted=landing_quarter is not None)
    from_ = None if last_from is None else last_from - zero
    return tuple(make_phrase(context, style, [zero + onset for onset in onsets], cost, end)
                 for style in (suitable_styles(context) if styles is None else styles)
                 for cost, onsets in _rhythms(grid, style, each, from_))


def suitable_styles(context: Task) -> tuple[str, ...]:
    """Which styles level and tempo bear, most natural first."""
    tempo, level = context.beats_per_minute, context.level
    compound = context.beat_quarter != 1
    if level == "beginner":
        return ("quarters", "eighths") if tempo > 110 else ("eighths", "quarters")
    styles = ["eighths", "off-beats"]
    if context.is_fast:
        return ("eighths", "quarters", "off-beats")
    if not compound and tempo <= (190 if level == "advanced" else 150):
        styles.append("triplets")
    if context.is_ballad and level == "advanced":
        styles.insert(0, "double time")
    elif context.is_ballad or (level == "advanced" and tempo <= 110):
        styles.append("double time")
    if level == "intermediate":
        styles.append("quarters")
    return tuple(styles)


@dataclass(frozen=True, slots=True)
class _Grid:
    """A gap as a row of beats, free of everything but time, so that equal gaps get their
    rhythms once. Places count from the gap's onset.

    start    from where the line may speak
    end      the landing, or the gap's end
    beats    the felt beats that end after `start`
    rests    where the last line of a piece may come to rest
    """

    level: str
    seconds_per_quarter: float
    beat_quarter: Fraction
    start: Fraction
    end: Fraction
    beats: tuple[Beat, ...]
    landing: bool
    rests: tuple[Fraction, ...]


def _grid(context: Task, end: Fraction, shifted: bool) -> _Grid:
    zero = context.onset_quarter
    start = Fraction(0) if context.held is None else speak_quarter(context)
    return _Grid(
        context.level, context.seconds_per_quarter, context.beat_quarter, start, end - zero,
        tuple(Beat(b.onset_quarter - zero, b.length_quarter, b.index)
              for b in beats_of(context, end) if b.end_quarter > zero + start),
        context.landing is not None,
        () if shifted else tuple(p - zero for p in resting_places(context)))


@SEARCHES.keep
def _rhythms(grid: _Grid, style: str, each: int, last_from: Fraction | None
             ) -> tuple[tuple[int, tuple[Fraction, ...]], ...]:
    """The cheapest different rows of onsets in a style, each with its cost."""
    start, end, beat_quarter, beats = grid.start, grid.end, grid.beat_quarter, grid.beats
    table = _STYLES_COMPOUND if beat_quarter != 1 else _STYLES_SIMPLE
    if style not in table or not beats:
        return ()
    figures = _COMPOUND if beat_quarter != 1 else _SIMPLE
    prices = table[style]
    layers: list[list[tuple[_Figure, int, int]]] = []
    for beat in beats:
        fitting = [(_REST, 0)]
        for name, price in prices.items():
            figure = figures[name]
            places = [beat.onset_quarter + o * beat_quarter for o in figure.onsets]
            if all(start <= p < min(end, beat.end_quarter) for p in places):
                fitting.append((figure, price))
        if beat.length_quarter == beat_quarter == 1 and beat.onset_quarter < start:
            off = figures["off"]
            if start <= beat.onset_quarter + Fraction(1, 2) < end and (off, 0) not in fitting:
                fitting = [f for f in fitting if f[0] is not off] + [(off, 2)]
        layers.append([(figure, phase, price) for figure, price in fitting
                       for phase in _phases(figure)])
    sizes = [len(layer) for layer in layers]
    local = [{"figure": np.array([_local(grid, state, first=index == 0,
                                         last=index == len(beats) - 1)
                                  for state in layer], dtype=np.int64)}
             for index, layer in enumerate(layers)]
    steps = [{"row": np.array([[_step(a[0].name, len(a[0].onsets), a[1],
                                      b[0].name, len(b[0].onsets), b[1])
                                for b in right] for a in left], dtype=np.int64)}
             for left, right in pairwise(layers)]
    floor = (end - start) / beat_quarter * THIN[style] / (2 if grid.level == "beginner" else 1)
    found: list[tuple[int, tuple[Fraction, ...]]] = []
    tries = each * (6 if last_from is None else 24)
    for path in k_best_paths(sizes, local, steps, k=tries):
        onsets = tuple(beat.onset_quarter + o * beat_quarter
                       for beat, layer, state in zip(beats, layers, path.states, strict=True)
                       for o in layer[state][0].onsets)
        if onsets and (last_from is None or onsets[-1] >= last_from):
            if grid.rests:
                onsets = _at_rest(grid.rests, onsets, beat_quarter)
            thin = COSTS["thin"] * max(0, int(floor) - len(onsets))
            found.append((path.total + thin, onsets))
    found.sort(key=lambda rhythm: rhythm[0])  # stable: equal costs keep their order
    # the landing is one more stroke of the same hand
    playable = (rhythm for rhythm in found if _rate_ok(
        grid.level, grid.seconds_per_quarter,
        (*rhythm[1], end) if grid.landing and end - rhythm[1][-1] <= beat_quarter
        else rhythm[1]))
    return tuple(distinct(tuple(playable), lambda a, b: _alike(a[1], b[1]), each))


def _alike(a: Sequence[Fraction], b: Sequence[Fraction]) -> bool:
    """Two rhythms are one idea where they start together and fewer than a quarter of their
    onsets differ."""
    differing = len(set(a) ^ set(b))
    return differing == 0 or (differing * 4 < len(a) + len(b) and a[0] == b[0])


def _phases(figure: _Figure) -> tuple[int, ...]:
    """Where in the phrase a figure may stand: before it, n full beats in, in a rest, after."""
    if not figure.onsets:
        return (_PRE, _IN_REST, _END)
    if len(figure.onsets) == 1:
        return (1,)
    return tuple(range(1, _MOST_FULL + 1))


def _local(grid: _Grid, state: tuple[_Figure, int, int], *, first: bool, last: bool) -> int:
    figure, phase, price = state
    if first and (phase in (_IN_REST, _END) or (figure.onsets and phase != 1)):
        return FORBIDDEN
    if last and phase in (_PRE, _IN_REST):
        return FORBIDDEN
    cost = price
    if phase == _PRE:
        cost += COSTS["wait"]
    if phase == _END:
        cost += COSTS["air"]
    if last and figure.onsets and figure.onsets[-1] == 0 and grid.landing:
        cost += COSTS["light end"]
    return cost


@SEARCHES.keep
def _step(name: str, count: int, phase: int, next_name: str, next_count: int,
          next_phase: int) -> int:
    if next_count == 0:
        if next_phase == _PRE:
            return 0 if phase == _PRE else FORBIDDEN
        if phase == _PRE:
            return FORBIDDEN
        if next_phase == _END:
            return FORBIDDEN if phase == _IN_REST else 0
        if phase == _END:
            return FORBIDDEN
        return COSTS["hole"] if phase == _IN_REST else COSTS["breath"]
    if phase == _END:
        return FORBIDDEN
    cost = COSTS["start on a beat"] if phase == _PRE and next_name == "quarter" else 0
    if phase in (_PRE, _IN_REST):
        return cost if next_phase == 1 else FORBIDDEN
    full = next_count >= 2
    wanted = (min(phase + 1, _MOST_FULL + 1) if count >= 2 else 1) if full else 1
    if next_phase != wanted:
        return FORBIDDEN
    if name == next_name and not full:
        cost += COSTS["same figure"]
    if wanted == 3:
        cost += COSTS["third full beat"]
    if wanted == 4:
        cost += COSTS["fourth full beat"]
    return cost
