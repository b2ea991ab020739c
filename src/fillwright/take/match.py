"""Which stroke is which melody note, looked at closely: the beat is known by now.

For each note of a run the strokes near its time are weighed: the right key, in the octave that
is being played there, on top of what sounds with it, near its time; or a wrong key in its place;
or none. The cheapest row of choices in which the strokes keep the order of the notes is taken.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from fillwright.take.beat import BeatMap
from fillwright.take.model import TOGETHER_SEC, Stroke
from fillwright.take.runs import Run
from fillwright.take.score import MelodyLine

__all__ = ["Match", "match_run", "octaves_of"]

COSTS = MappingProxyType({
    "missed": 5.0,
    "time": 4.0,            # at most, for a right key at another time
    "below": 5.5,           # an octave or more under the one that is played there
    "above": 3.5,           # over it
    "covered": 1.5,         # another key above it is struck with it
    "wrong": 3.2,           # a key a half or whole step off
    "far wrong": 4.4,       # up to a major third above
    "followed": -1.5,       # the first look has taken it for this note
})
_TIME_BEATS = 0.12          # how far off in time is one unit
_WRONG_BEATS = 0.08
_WINDOW_BEATS = 0.55
_WRONG_WINDOW_BEATS = 0.22
_MOST_WAYS = 24
_NEIGHBOURS = 6             # notes to each side by which the octave is heard


@dataclass(frozen=True, slots=True)
class Match:
    """What became of a melody note in a run.

    status   "played", "wrong" or "missed"
    stroke   its place in the take; None where it is missed
    octave   whole octaves from the written key; 0 where it is wrong or missed
    """

    note: int
    status: str
    stroke: int | None = None
    octave: int = 0


@dataclass(frozen=True, slots=True)
class _Choice:
    stroke: int
    cost: float
    is_right: bool
    octave: int


def match_run(run: Run, strokes: Sequence[Stroke], line: MelodyLine, beat: BeatMap,
              expected: Sequence[float]) -> tuple[Match, ...]:
    """All notes that the run came by, in order.

    expected   seconds at which each note of the line is expected, with the student's swing
    """
    notes = _reached(run, strokes, line, beat, expected)
    followed = {pair.note: pair.stroke for pair in run.pairs}
    onsets = np.array([strokes[index].onset_sec for index in range(run.first, run.last)])
    octaves = octaves_of(run, strokes, line, expected, notes)
    choices = [
        _choices(note, (run, strokes, onsets), line, (expected[note], octaves[note]),
                 (beat.quarter_sec(float(line.quarters[note])) * line.beat_quarter,
                  followed.get(note)))
        for note in notes]
    return _cheapest(notes, choices)


def _reached(run: Run, strokes: Sequence[Stroke], line: MelodyLine, beat: BeatMap,
             expected: Sequence[float]) -> range:
    """The notes from the first to the last that the run came by."""
    first, last = run.pairs[0].note, run.pairs[-1].note
    start, end = strokes[run.first].onset_sec, strokes[run.last - 1].onset_sec
    margin = _WINDOW_BEATS * beat.quarter_sec(float(line.quarters[first])) * line.beat_quarter
    while first > 0 and expected[first - 1] > start - margin:
        first -= 1
    while last + 1 < len(line) and expected[last + 1] < end + margin:
        last += 1
    return range(first, last + 1)


def octaves_of(run: Run, strokes: Sequence[Stroke], line: MelodyLine, expected: Sequence[float],
               notes: range) -> dict[int, int]:
    """The octave in which the melody is played around each note: that in which most of the
    notes near it are there; of two (a melody in octaves) the nearer to the written one."""
    onsets = np.array([strokes[index].onset_sec for index in range(run.first, run.last)])
    there: list[set[int]] = []
    for note in notes:
        low, high = np.searchsorted(onsets, (expected[note] - 0.12, expected[note] + 0.12))
        midi = int(line.midis[note])
        there.append({(strokes[run.first + place].midi - midi) // 12
                      for place in range(int(low), int(high))
                      if (strokes[run.first + place].midi - midi) % 12 == 0})
    found = {}
    for place, note in enumerate(notes):
        near = there[max(place - _NEIGHBOURS, 0):place + _NEIGHBOURS + 1]
        count = {octave: sum(octave in some for some in near)
                 for octave in set().union(*near)} or {0: 1}
        most = max(count.values())
        found[note] = min((octave for octave in count if count[octave] >= 0.75 * most),
                          key=lambda octave: (abs(octave), -octave))
    return found


def _choices(note: int, played: tuple[Run, Sequence[Stroke], npt.NDArray[np.float64]],
             line: MelodyLine,
             wanted: tuple[float, int], known: tuple[float, int | None]) -> list[_Choice]:
    run, strokes, onsets = played
    expected, octave = wanted
    beat_sec, followed = known
    window = _WINDOW_BEATS * beat_sec
    low, high = (int(place) for place in
                 np.searchsorted(onsets, (expected - window, expected + window)))
    places = {run.first + place for place in range(low, high)}
    if followed is not None:
        places.add(followed)
    found = []
    for index in sorted(places):
        stroke = strokes[index]
        away = stroke.midi - int(line.midis[note])
        off = abs(stroke.onset_sec - expected) / beat_sec
        covered = COSTS["covered"] * _is_covered(index, strokes)
        if away % 12 == 0:
            cost = min(0.5 * (off / _TIME_BEATS) ** 2, COSTS["time"]) + covered
            other = away // 12 - octave
            cost += COSTS["above"] if other > 0 else COSTS["below"] if other < 0 else 0.0
            if index == followed:
                cost += COSTS["followed"]
            found.append(_Choice(index, cost, True, away // 12))
        elif off < _WRONG_WINDOW_BEATS and not covered and -2 <= away - 12 * octave <= 4:
            near = abs(away - 12 * octave) <= 2
            found.append(_Choice(index, COSTS["wrong" if near else "far wrong"]
                                 + 0.5 * (off / _WRONG_BEATS) ** 2, False, 0))
    return found


def _is_covered(index: int, strokes: Sequence[Stroke]) -> bool:
    """Whether a higher key is struck together with it, an octave above it aside."""
    own = strokes[index]
    for step in (-1, 1):
        other = index + step
        while (0 <= other < len(strokes)
               and abs(strokes[other].onset_sec - own.onset_sec) < TOGETHER_SEC):
            above = strokes[other].midi - own.midi
            if above > 0 and above % 12:
                return True
            other += step
    return False


def _cheapest(notes: range, choices: Sequence[Sequence[_Choice]]) -> tuple[Match, ...]:
    """Dynamic programming over (notes, last stroke used): of all ways to a choice the cheapest
    of those that end before its stroke."""
    ways: dict[int, tuple[float, int]] = {-1: (0.0, -1)}    # last stroke -> (cost, step)
    steps: list[tuple[int, int, _Choice | None]] = []       # (step before, note, what was chosen)
    for note, some in zip(notes, choices, strict=True):
        after: dict[int, tuple[float, int]] = {}
        lasts = sorted(ways)
        cost, step, place = math.inf, -1, 0
        for choice in some:
            while place < len(lasts) and lasts[place] < choice.stroke:
                if ways[lasts[place]][0] < cost:
                    cost, step = ways[lasts[place]]
                place += 1
            if cost < math.inf:
                after[choice.stroke] = (cost + choice.cost, len(steps))
                steps.append((step, note, choice))
        for last in lasts:
            cost, step = ways[last]
            if last not in after or cost + COSTS["missed"] < after[last][0]:
                after[last] = (cost + COSTS["missed"], len(steps))
                steps.append((step, note, None))
        ways = after if len(after) <= _MOST_WAYS else dict(
            sorted(after.items(), key=lambda item: item[1][0])[:_MOST_WAYS])
    _, step = min(ways.values())
    found = []
    while step >= 0:
        step, note, chosen = steps[step]
        found.append(Match(note, "missed") if chosen is None else
                     Match(note, "played" if chosen.is_right else "wrong", chosen.stroke,
                           chosen.octave))
    return tuple(reversed(found))
