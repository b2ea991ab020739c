"""How hard something is to play, as one number from 0 to 100 with its parts.

The parts come from the same costs that choose the fingers: how far the hand is stretched
and what the fingering of its lines costs, how much of the time a jump has it takes, how
near the stroke rate comes to the limit of one hand, how much the hands go their own ways,
how far the rhythm leaves the beat, black keys, and how much there is to read. Only rate and
jumps depend on the tempo, and they grow with it, so the number never falls as the tempo
rises. The hardest quarter of the strokes counts for reach, fingering, jumps and rate, and in
longer things the hardest quarter of their two-bar stretches: a passage is as hard as its hard
places.

Weights and level ranges are common practice, set so that shells with chord tones in
eighths up to about 180 a minute are a beginner's, four-note voicings on off-beats up to
about 300 and double time up to about 110 an intermediate's, and more an advanced player's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil, sqrt
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.hands.chords import finger_chord
from fillwright.hands.costs import pair_costs, shape_costs
from fillwright.hands.jumps import jump_seconds_needed, shift_units
from fillwright.hands.model import HandNote
from fillwright.hands.moments import Moment, moments
from fillwright.hands.reach import hand_span, is_black, mirrored, ruler
from fillwright.memory import FINGERS

__all__ = ["PART_WEIGHTS", "Difficulty", "difficulty", "highest_tempo", "rate_points"]

# Points each part can give.
PART_WEIGHTS = MappingProxyType({
    "reach": 14,          # chord shapes stretched to their limits, or a key to every finger
    "fingering": 10,      # steps, passing of the thumb, weak fingers
    "jumps": 20,          # travel takes all the time there is
    "rate": 100,          # strokes as fast as one hand can
    "independence": 10,   # the hands always strike apart
    "rhythm": 16,         # nothing on the beat
    "black keys": 4,      # black keys only
    "reading": 20,        # six keys and more at every stroke, all with accidentals
})

WINDOW_QUARTER = 8
"""Longer things are rated in stretches of this many quarter notes, two bars of common time."""

_STROKE_SECONDS = MappingProxyType({"line": 1 / 16, "chord": 1 / 12})
"""Strokes of one hand at its limit, on single keys in one position, and on chords or one key
again."""

_IN_A_ROW = (0.5, 0.55, 0.65, 0.75, 0.85, 1.0)
"""The share of that time that one stroke after another takes, two, three ... in a row: the more
strokes in a row, the longer each takes (typing; Sternberg, Monsell, Knoll & Wright, "The latency
and duration of rapid movement sequences", in Information Processing in Motor Control and Learning,
1978). The numbers are common practice: a turn or a pickup of three or four keys under a still hand
is one movement."""

_UNHURRIED, _HURRY = 0.35, 1.5
"""Beyond about a third of the limit (five and a half notes a second) each further share of
it counts so much more."""

_FULL_SHAPE_COST = 40   # half points: five units beyond the relaxed limits and a stretch
_GRIPS = (0.0, 0.0, 0.1, 0.35, 0.7, 1.0)
"""The least load of a hand with so many keys down: the more keys, the more to aim at."""

_FULL_STEP_COST = 30    # half points: a thumb passing under a wide step
_FULL_KEYS = 6          # keys struck together that fill the eye
_TEMPO_LIMITS = (20, 400)


@dataclass(frozen=True, slots=True)
class Difficulty:
    """`total` from 0 to 100; `parts` are (name, points) in the order of `PART_WEIGHTS`.

    The parts add up to the total, or to more where the total stops at 100.
    """

    total: int
    parts: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class _Timed:
    """A stroke after another: the distance in score time, and seconds to set against it: the
    least there must be, the travel (0 for none), and a stroke at the limit of the hand; of one
    single key after another the lowest and the highest, in units, else None."""

    quarters: float
    needed_sec: float
    travel_sec: float
    stroke_sec: float
    keys: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class _Window:
    """A stretch of `WINDOW_QUARTER`: loads from 0 to 1 that no tempo changes, by part, and
    the strokes that it does."""

    still: tuple[tuple[str, float], ...]
    timed: tuple[_Timed, ...]


def difficulty(notes: Sequence[HandNote], size: str, seconds_per_quarter: float,
               beat_quarter: Fraction = Fraction(1), offset_quarter: Fraction = Fraction(0)
               ) -> Difficulty:
    """How hard these keys are for hands of a size at a tempo.

    beat_quarter     the felt beat
    offset_quarter   a place that lies on a beat (after a pickup that is not whole beats)

    Nothing to play is difficulty 0.
    """
    windows = _measure(tuple(notes), size, beat_quarter, offset_quarter)
    return _rated(windows, seconds_per_quarter)


def highest_tempo(notes: Sequence[HandNote], size: str, most: int,
                  beat_quarter: Fraction = Fraction(1), offset_quarter: Fraction = Fraction(0)
                  ) -> int | None:
    """The fastest tempo, in felt beats a minute (20 to 400), at which the keys can be played
    and are no more difficult than `most`; None where they are too hard at any tempo.
    """
    windows = _measure(tuple(notes), size, beat_quarter, offset_quarter)

    def fits(tempo: int) -> bool:
        seconds_per_quarter = 60.0 / (tempo * float(beat_quarter))
        return (_rated(windows, seconds_per_quarter).total <= most
                and all(move.quarters * seconds_per_quarter + 1e-9
                        >= move.needed_sec for window in windows for move in window.timed))

    low, high = _TEMPO_LIMITS
    if not fits(low):
        return None
    while low < high:
        middle = (low + high + 1) // 2
        if fits(middle):
            low = middle
        else:
            high = middle - 1
    return low


def _rated(windows: tuple[_Window, ...], seconds_per_quarter: float) -> Difficulty:
    """The mean of the hardest quarter of the windows."""
    rated = []
    for window in windows:
        points = _window_points(window, seconds_per_quarter)
        rated.append((sum(points), points))
    # Sums are compared as sums, so that a faster tempo never gives less.
    rated.sort(key=lambda pair: -pair[0])
    hardest = rated[:ceil(len(rated) / 4)]
    if not hardest:
        return Difficulty(0, tuple((part, 0) for part in PART_WEIGHTS))
    total = int(sum(points for points, _ in hardest) / len(hardest) + 0.5)
    means = [sum(points[place] for _, points in hardest) / len(hardest)
             for place in range(len(PART_WEIGHTS))]
    return Difficulty(min(100, total), tuple(zip(PART_WEIGHTS, _shared(total, means),
                                                 strict=True)))


def _shared(total: int, means: list[float]) -> list[int]:
    """Whole numbers near the means that add up to the total (largest remainders)."""
    whole = [int(mean) for mean in means]
    order = sorted(range(len(means)), key=lambda place: (whole[place] - means[place], place))
    for place in order[:total - sum(whole)]:
        whole[place] += 1
    return whole


def _window_points(window: _Window, seconds_per_quarter: float) -> list[float]:
    loads = dict(window.still)
    seconds = [move.quarters * seconds_per_quarter for move in window.timed]
    loads["jumps"] = _hardest([min(move.travel_sec / time, 1.0)
                               for move, time in zip(window.timed, seconds, strict=True)])
    loads["rate"] = _hardest([_rate_load(move.stroke_sec / time)
                              for move, time in zip(window.timed, seconds, strict=True)])
    return [weight * loads.get(part, 0.0) for part, weight in PART_WEIGHTS.items()]


def _rate_load(share: float) -> float:
    """The load of strokes at a share of the fastest rate: twice the rate is nearly three
    times the trouble, and more where it hurries."""
    return min(share * sqrt(share) + _HURRY * max(share - _UNHURRIED, 0.0), 1.0)


def rate_points(gaps_sec: Sequence[float], slow: int = 0) -> float:
    """What the rate alone gives to single keys so many seconds apart, with so many `slow` strokes
    beside them: the least that such a rhythm can be rated, before anything is known of its keys.

    >>> round(rate_points([0.5, 0.25, 0.125]))
    12
    """
    row = [_Timed(gap, 0.0, 0.0, _STROKE_SECONDS["line"], (0, 0)) for gap in gaps_sec]
    loads = [_rate_load(move.stroke_sec / move.quarters) for move in _eased(row, 0)]
    return PART_WEIGHTS["rate"] * _hardest([*loads, *[0.0] * slow])


def _eased(row: Sequence[_Timed], reach: int) -> list[_Timed]:
    """The strokes of one hand, those of single keys within a reach (in units) eased where few come
    in a row. Each is as hurried as the most hurried of the rows it is in, up to a long one."""
    hurried = [0.0 if move.keys is not None else move.stroke_sec / move.quarters for move in row]
    for start, first in enumerate(row):
        low, high = first.keys or (0, 0)
        quarters = 0.0
        for count, move in enumerate(row[start:start + len(_IN_A_ROW)], start=1):
            if move.keys is None:
                break
            low, high = min(low, move.keys[0]), max(high, move.keys[1])
            quarters += move.quarters
            share = _IN_A_ROW[count - 1] if high - low <= reach else 1.0
            for place in range(start, start + count):
                hurried[place] = max(hurried[place], share * count * move.stroke_sec / quarters)
    return [replace(move, stroke_sec=hurry * move.quarters)
            for move, hurry in zip(row, hurried, strict=True)]


def _hardest(loads: list[float]) -> float:
    """The mean of the hardest quarter (at least one)."""
    if not loads:
        return 0.0
    count = ceil(len(loads) / 4)
    return sum(sorted(loads, reverse=True)[:count]) / count


def _mean(loads: list[float]) -> float:
    return sum(loads) / len(loads) if loads else 0.0


@FINGERS.keep
def _measure(notes: tuple[HandNote, ...], size: str, beat_quarter: Fraction,
             offset_quarter: Fraction) -> tuple[_Window, ...]:
    found = moments(notes)
    before: dict[str, _Struck] = {}
    windows: list[_Window] = []
    start = 0
    while start < len(found):
        limit = found[start].onset_quarter + WINDOW_QUARTER
        end = start
        while end < len(found) and found[end].onset_quarter < limit:
            end += 1
        here = found[start:end]
        last = found[start - 1] if start else None
        reach, fingering, timed = _hand_loads(here, before, size)
        windows.append(_Window((
            ("reach", reach),
            ("fingering", fingering),
            ("independence", _independence(last, here)),
            ("rhythm", _mean([_off_beat((moment.onset_quarter - offset_quarter) / beat_quarter)
                              for moment in here])),
            ("black keys", _mean([float(is_black(note.midi)) for moment in here
                                  for note in moment.struck])),
            ("reading", _reading(here)),
        ), timed))
        start = end
    return tuple(windows)


_Struck = tuple[Fraction, tuple[HandNote, ...]]
"""When a hand struck, and what."""


def _hand_loads(here: Sequence[Moment], before: dict[str, _Struck], size: str
                ) -> tuple[float, float, tuple[_Timed, ...]]:
    """Reach and fingering of a window, and its strokes.

    before   the last stroke of each hand, which is brought up to date
    """
    shapes: list[float] = []
    steps: list[float] = []
    timed: dict[str, list[_Timed]] = {"left": [], "right": []}
    for moment in here:
        for hand in ("left", "right"):
            struck, down = moment.of(hand)
            if not struck:
                continue
            shapes.append(max(min(_shape(down, hand, size) / _FULL_SHAPE_COST, 1.0),
                              _GRIPS[min(len(down), 5)]))
            if hand in before:
                last_onset, last = before[hand]
                timed[hand].append(_move(last, struck, moment.onset_quarter - last_onset, size))
                if len(last) == len(struck) == 1:
                    steps.append(min(_step(last[0], struck[0], size) / _FULL_STEP_COST, 1.0))
            before[hand] = (moment.onset_quarter, struck)
    reach = hand_span(size).max_comf
    return _hardest(shapes), _hardest(steps), tuple(
        move for row in timed.values() for move in _eased(row, reach))


def _shape(down: tuple[HandNote, ...], hand: str, size: str) -> int:
    """The cost of the keys a hand has down, in half points."""
    midis = tuple(note.midi for note in down)
    fingers = [note.finger for note in down]
    if hand == "left":
        midis = tuple(mirrored(midi) for midi in reversed(midis))
        fingers.reverse()
    given = tuple(finger for finger in fingers if finger is not None)
    if len(given) < len(fingers) or not _ascend(given):
        if not _ascend(midis):
            return _FULL_SHAPE_COST
        cheapest = finger_chord(midis, "right", size)
        return _FULL_SHAPE_COST if cheapest is None else cheapest.cost
    return sum(shape_costs(given, tuple(map(ruler, midis)), tuple(map(is_black, midis)),
                           size).values())


def _ascend(values: tuple[int, ...]) -> bool:
    return all(low < high for low, high in pairwise(values))


def _step(first: HandNote, second: HandNote, size: str) -> int:
    """The cost of one single note after another, in half points."""
    if first.finger is None or second.finger is None:
        return 0
    one, two = first.midi, second.midi
    if first.hand == "left":
        one, two = mirrored(one), mirrored(two)
    return sum(cost for _, cost in pair_costs(first.finger, second.finger, ruler(two) - ruler(one),
                                              is_black(one), is_black(two), size, False))


def _move(before: tuple[HandNote, ...], after: tuple[HandNote, ...], quarters: Fraction,
          size: str) -> _Timed:
    leaving, landing = [n.midi for n in before], [n.midi for n in after]
    needed = jump_seconds_needed(leaving, landing, size)
    travels = shift_units(min(leaving), max(leaving), min(landing), max(landing), size) > 0
    single = len(leaving) == len(landing) == 1 and leaving != landing
    keys = sorted(map(ruler, (leaving[0], landing[0])))
    return _Timed(float(quarters), needed, needed if travels else 0.0,
                  _STROKE_SECONDS["line" if single else "chord"],
                  (keys[0], keys[1]) if single else None)


def _independence(previous: Moment | None, found: tuple[Moment, ...]) -> float:
    """How often the hands that strike change from one onset to the next, or a hand strikes
    while it holds."""
    loads = []
    before = None if previous is None else frozenset(note.hand for note in previous.struck)
    for moment in found:
        hands = frozenset(note.hand for note in moment.struck)
        load = 0.0
        if before is not None and hands != before:
            load += 0.25 if hands & before else 0.75
        if any(note.hand in hands and note.onset_quarter < moment.onset_quarter
               for note in moment.down):
            load += 0.5
        loads.append(min(load, 1.0))
        before = hands
    return _mean(loads)


def _off_beat(place: Fraction) -> float:
    """0 on the beat, more for finer divisions; `place` counts in felt beats."""
    return {1: 0.0, 2: 0.6, 3: 0.7}.get((place % 1).denominator, 1.0)


def _reading(found: tuple[Moment, ...]) -> float:
    loads = []
    for moment in found:
        keys = len(moment.struck)
        altered = sum(abs(note.pitch.alter) for note in moment.struck)
        loads.append(0.7 * min((keys - 1) / (_FULL_KEYS - 1), 1.0)
                     + 0.3 * min(altered / keys, 1.0))
    return _mean(loads)
