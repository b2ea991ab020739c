"""What a set of places on the grid costs as a rhythm.

It is counted in whole ticks: a gap has hundreds of such sets.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import lcm
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.rhythm.grid import STYLES, Frame, RhythmWindow
from fillwright.memory import SEARCHES

__all__ = ["WEIGHTS", "Ticks", "cell_returns", "price", "ticks_of"]

WEIGHTS = MappingProxyType({
    # term: integer cost per unit (design choices within common practice)
    "density": 5,       # hit more or fewer than the target
    "pull": 3,          # unit of syncopation outside the style's range
    "repetition": 4,    # bar with the rhythm of the bar before
    "no breath": 6,     # no stretch of a beat and a half without a stroke
    "hole": 2,          # beat beyond four without a stroke
    "dead end": 3,      # beat beyond two that nothing is struck in before the landing
    "landing": 3,       # a stroke of the landing's hand just before it that is no push
    "cell": -5,         # a cell of two hits that comes back displaced by half a beat
    "three over four": -2,  # stroke more in a row of dotted quarters, from the third space on
    "old chord": 6,     # a stroke on the last off-beat before a change that is no push
    "alone": 5,         # one stroke with the melody note is all there is: a chord, but no fill
    "square": 2,        # a gap of two beats with a stroke on each and nothing else
    "restless": 4,      # at a tune's end a last stroke between the beats; half on a weak beat
    "even off-beats": 3,    # off-beat more than two in a row that come a beat apart
    "early": 2,         # a stroke just after the melody note, before it has spoken
})


@dataclass(frozen=True, slots=True)
class Ticks:
    """A frame in whole ticks, for speed."""

    offsets: tuple[int, ...]
    in_bar: tuple[int, ...]
    weights: tuple[int, ...]
    bars: tuple[int, ...]
    on_beat: tuple[bool, ...]
    length: int
    beat: int
    bar: int
    first: int
    changes: tuple[int, ...]
    passed: tuple[tuple[int, ...], ...]
    """The heaviest weight strictly between two places; the row's own where there is none."""

    def following(self, place: int) -> int:
        """Where the next place is, or the end."""
        return self.offsets[place + 1] if place + 1 < len(self.offsets) else self.length


@SEARCHES.keep
def ticks_of(frame: Frame, first: Fraction) -> Ticks:
    times = [frame.length_quarter, frame.beat_quarter, frame.bar_quarter, first, *frame.changes,
             *(p.offset_quarter for p in frame.places), *(p.in_bar_quarter for p in frame.places)]
    scale = 2 * lcm(*(t.denominator for t in times))

    def whole(value: Fraction) -> int:
        return int(value * scale)

    weights = tuple(p.weight for p in frame.places)
    passed: list[tuple[int, ...]] = []
    for start, weight in enumerate(weights):
        heaviest, line = weight, [weight] * (start + 1)
        for place in range(start + 1, len(weights) + 1):
            line.append(heaviest)
            if place < len(weights):
                heaviest = max(heaviest, weights[place])
        passed.append(tuple(line))
    return Ticks(tuple(whole(p.offset_quarter) for p in frame.places),
                  tuple(whole(p.in_bar_quarter) for p in frame.places),
                  weights, tuple(p.bar for p in frame.places),
                  tuple(p.on_beat for p in frame.places), whole(frame.length_quarter),
                  whole(frame.beat_quarter), whole(frame.bar_quarter), whole(first),
                  tuple(map(whole, frame.changes)), tuple(passed))


def price(frame: Frame, t: Ticks, row: tuple[int, ...], window: RhythmWindow,
           pushed: frozenset[int], stop: int) -> dict[str, int]:
    """What a rhythm pays, looking at the places before `stop`.

    pushed   places whose hits anticipate a chord
    """
    style, opening = STYLES[frame.style], window.opening
    whole = stop == len(t.offsets)
    end = t.length if whole else t.offsets[stop]
    taste = frame.level.rhythm
    share = taste.density[frame.style] * (2 if frame.ending else 3)  # an ending comes to rest
    target = max((share * max(end - t.first, 0) + 150 * t.beat) // (300 * t.beat), 1)
    opens = t.offsets[0] == 0 and bool(row) and row[0] == 0
    hits = row[1:] if opening and opens else row  # the opening is struck there anyhow
    costs = {"density": WEIGHTS["density"] * abs(len(hits) - target)}
    under = opening and t.offsets[0] == 0 and not opens
    # as `syncopation` counts it, over the places struck
    pull = sum(t.passed[a][b] - t.weights[a]
               for a, b in pairwise((0, *row, stop) if under else (*row, stop)))
    bars = max(t.bars[stop - 1] - t.bars[0] + 1, 1)
    low, high = taste.pull[frame.style]
    if t.bars[stop - 1] == t.bars[0]:  # part of a bar pulls less than a whole one
        low = low * end // t.bar
    costs["pull"] = WEIGHTS["pull"] * (max(low - pull, 0) + max(pull - high * bars, 0))
    costs["off-beats"] = style.off_beat * sum(not t.on_beat[i] for i in hits)
    costs["strong beats"] = style.strong * sum(
        t.on_beat[i] and t.weights[i] >= -1 for i in hits)
    costs["neighbours"] = style.neighbours * sum(b - a == 1 for a, b in pairwise(row))
    costs["even off-beats"] = WEIGHTS["even off-beats"] * _even_off_beats(t, hits)
    shapes: dict[int, list[int]] = {}
    for index in row:
        shapes.setdefault(t.bars[index], []).append(t.in_bar[index])
    costs["repetition"] = WEIGHTS["repetition"] * sum(
        shapes.get(number + 1) == shape for number, shape in shapes.items())
    costs.update(_spacing(frame, t, row, window, stop))
    ahead = {change for change in t.changes if change <= end}
    costs["old chord"] = WEIGHTS["old chord"] * sum(
        not t.on_beat[i] and i not in pushed and t.following(i) in ahead for i in row)
    pushes = sum(i in pushed for i in row)
    if pushes:
        costs["push"] = taste.push * pushes
    if whole and window.lands and row and row[-1] not in pushed:
        room = t.length - t.offsets[row[-1]]
        if room < t.beat:
            costs["landing"] = WEIGHTS["landing"]
    return costs


def _spacing(frame: Frame, t: Ticks, row: tuple[int, ...], window: RhythmWindow, stop: int
             ) -> dict[str, int]:
    """What a rhythm pays for the spaces between its strokes, the opening among them."""
    style, opening = STYLES[frame.style], window.opening
    whole = stop == len(t.offsets)
    end = t.length if whole else t.offsets[stop]
    costs: dict[str, int] = {}
    strokes = [t.offsets[i] for i in row]
    early = opening and bool(row) and 0 < strokes[0] < t.beat
    if opening and (not strokes or strokes[0] > 0):
        strokes.insert(0, 0)
    spaces = [b - a for a, b in pairwise([*strokes, end])]
    costs["square"] = WEIGHTS["square"] * (whole and end == 2 * t.beat
                                           and strokes == [0, t.beat])
    costs["alone"] = WEIGHTS["alone"] * (whole and strokes == [0] and not frame.ending)
    costs["groups of three"] = style.threes * sum(2 * space == 3 * t.beat
                                                  for space in spaces[:-1])
    if whole and cell_returns(t, row):
        costs["cell"] = WEIGHTS["cell"]
    costs["three over four"] = WEIGHTS["three over four"] * (
        _dotted(t, spaces[:-1])
        if frame.style == "medium" and frame.level.rhythm.neighbours else 0)
    if end >= 3 * t.beat and spaces and 2 * max(spaces) < 3 * t.beat:
        costs["no breath"] = WEIGHTS["no breath"]
    if whole and frame.ending and row:
        weak = not t.on_beat[row[-1]] or t.weights[row[-1]] < -1
        costs["restless"] = WEIGHTS["restless"] * (weak + (not t.on_beat[row[-1]])) // 2
    costs["hole"] = WEIGHTS["hole"] * sum(max(space // t.beat - 4, 0) for space in spaces)
    if whole and spaces and not frame.ending:
        costs["dead end"] = WEIGHTS["dead end"] * max(spaces[-1] // t.beat - 2, 0)
    if early:
        costs["early"] = WEIGHTS["early"]
    return costs


def _even_off_beats(t: Ticks, row: tuple[int, ...]) -> int:
    """Off-beats that go on a beat apart after two of them, each counted more than the last."""
    found = run = 0
    for a, b in pairwise(row):
        even = not t.on_beat[a] and not t.on_beat[b] and t.offsets[b] - t.offsets[a] == t.beat
        run = run + 1 if even else 0
        found += max(run - 1, 0)
    return found


def cell_returns(t: Ticks, row: tuple[int, ...]) -> bool:
    """Are these two hits and the same two hits again, half a beat off their first place?"""
    if len(row) != 4:
        return False
    a, b, c, d = (t.offsets[i] for i in row)
    return b - a == d - c and 2 * ((c - a) % t.beat) == t.beat and c - b >= t.beat


def _dotted(t: Ticks, spaces: list[int]) -> int:
    """Spaces of a dotted quarter in a row, beyond two."""
    run = longest = 0
    for space in spaces:
        run = run + 1 if 2 * space == 3 * t.beat else 0
        longest = max(longest, run)
    return max(longest - 2, 0)
