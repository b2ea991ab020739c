"""Where passing chords may fall: rhythms of chord changes in a stretch of time.

Chords change on the beats; from intermediate up a change may be pushed, coming half a beat
early, where the feel swings and the tempo leaves room. How fast chords may change is a
matter of level and tempo.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.situation import Situation, Task
from fillwright.fills.tempo import Tempo
from fillwright.memory import SEARCHES

__all__ = ["METRE_COSTS", "RHYTHM_COSTS", "Slots", "beat_grid", "best_number", "is_crowded",
           "is_strong", "metre_cost", "slots"]

RHYTHM_COSTS = MappingProxyType({"even": 0, "pushed": 3, "late": 4, "early": 7})
"""What a placing of the chords costs, in the unit of `function` (design choice)."""


METRE_COSTS = MappingProxyType({
    # term: integer cost per chord, in the unit of `function` (design choices)
    "long from a weak beat": 8,   # it lasts two beats and more inside its bar
    "over the bar line": 20,      # it lies on a bar's first beat, where nothing is struck
    "off the beat": 4,            # pushed, where the feel does not swing
})
"""What a chord's place in its bar costs."""


@dataclass(frozen=True, slots=True)
class Slots:
    """Onsets of the added chords, in chorus time, and the name of their rhythm."""

    onsets: tuple[Fraction, ...]
    rhythm: str
    cost: int


def beat_grid(task: Task, start: Fraction, end: Fraction) -> tuple[Fraction, ...]:
    """The felt beats of the bars strictly between two places."""
    found = []
    for bar in task.bars:
        if bar.end_quarter <= start or bar.onset_quarter >= end:
            continue
        beat = bar.meter.beat_quarter
        place = bar.onset_quarter
        if bar.is_pickup:  # counted from the end of the bar it stands for
            place -= max(bar.meter.length_quarter - bar.length_quarter, Fraction(0))
        while place < bar.end_quarter:
            if start < place < end and place >= bar.onset_quarter:
                found.append(place)
            place += beat
    return tuple(found)


def best_number(beats: Fraction, task: Task) -> int:
    """How many added chords fill so many beats without hurry or emptiness: the chord here has
    its time too. In a ballad there is time for more, in a fast tempo and in a quick waltz, whose
    bar is felt as one beat, for half as many."""
    taste = task.player.level.reharm
    pace = Tempo.FAST if _in_one(task) else task.tempo
    per_chord = taste.chord_beats * _PACE.get(pace, 1)
    most = _most_changes(beats, task) or int(beats)
    return max(1, min(int(beats / per_chord), int(beats) - 1, taste.most_chords, most))


_PACE = MappingProxyType({Tempo.BALLAD: Fraction(3, 4), Tempo.FAST: Fraction(2)})
"""What a tempo makes of the beats a chord wants (design choice)."""


_HURRIED_SEC, _MOST_HURRIED = 0.36, 4
"""Where beats are shorter, so many chords may come a beat apart: with more it is an exercise
(design choice)."""


_QUICK_SEC = 0.3
"""A beat of 200 a minute, from which on a change of chord wants two beats (common practice)."""


def _is_quick(situation: Situation) -> bool:
    """Whether beats are so short that a chord a beat is heard by nobody, and the bar line has to be
    kept for the metre to be."""
    return situation.seconds(situation.beat_quarter) <= _QUICK_SEC


def _most_changes(beats: Fraction, situation: Situation) -> int | None:
    """How many changes of chord, the return of a written one among them, so many beats have room
    for in a quick tempo: one every two beats; None where they are not counted."""
    return max(1, int(beats / 2)) if _is_quick(situation) else None


def is_crowded(edges: Sequence[Fraction], added: Sequence[bool], task: Task) -> bool:
    """Whether a quick tempo does not carry the chords that are added in a gap: with them there are
    more changes than one every two beats, or than the sheet has, or two chords in a row, one of
    them added, have less.

    edges   where each chord begins, and where the last one ends
    added   for each chord whether it is added
    """
    beat = task.beat_quarter
    edges = [_begun(edges[0], task), *edges[1:]]
    most = _most_changes((edges[-1] - edges[0]) / beat, task)
    if most is None:
        return False
    lengths = [b - a for a, b in pairwise(edges)]
    return len(lengths) > max(most + 1, len(task.spans)) or any(
        max(pair) < 2 * beat and any(new)
        for pair, new in zip(pairwise(lengths), pairwise(added), strict=True))


def _spaced(onsets: tuple[Fraction, ...], start: Fraction, end: Fraction, task: Task,
            stays: bool) -> bool:
    beat = task.beat_quarter
    most = _most_changes((end - start) / beat, task)
    if most is not None and len(onsets) > most:
        return False
    least = 2 * beat if task.is_fast else Fraction(0)
    taste = task.player.level.reharm
    seconds = taste.least_chord_sec - 0.001
    edges = [start, *onsets, *(() if stays else (end,))]
    for index in range(len(edges) - 1):
        length = edges[index + 1] - edges[index]
        if length < least or task.seconds(length) < seconds:
            return False
        if length < (beat if index else beat / 2):
            return False  # a chord of half a beat is a stab; one that sounds already may go on so
        if index == 0 and onsets and edges[1] < _heard_until(start, taste.first_beats, task):
            return False
        if index and length <= beat >= edges[index] - _begun(edges[index - 1], task) and (
                _in_one(task)):
            return False  # a bar that is felt as one beat has no chord a beat
    hurried = task.seconds(beat) < _HURRIED_SEC and sum(
        b - a <= beat for a, b in pairwise(edges)) > _MOST_HURRIED
    return not hurried and not any(_hides_bar(a, b, task) for a, b in pairwise(onsets))


def _heard_until(start: Fraction, beats: Fraction, task: Task) -> Fraction:
    """Until when a chord struck there has to sound to be heard. One that comes with the melody
    half a beat before its place is a push: it takes the place it pushes to, and the beat after
    it, for another chord there would deny what was just said (common practice).

    beats   felt beats that it sounds at least
    """
    beat = task.beat_quarter
    if start != task.onset_quarter or task.beat_at(start) % 1 == 0:
        return start + beats * beat
    chord = task.spans[0].harmony.symbol
    place = next((w.onset_quarter for w in task.written if w.symbol == chord), start)
    return max(start + beat, place + beat)


def _begun(place: Fraction, task: Task) -> Fraction:
    """Where the chord there began: the one that a gap opens on may have sounded before."""
    return min([place, *(chord.began_quarter for chord in task.written[:1]
                         if place == task.onset_quarter)])


def _hides_bar(onset: Fraction, until: Fraction, task: Task) -> bool:
    """Whether a chord from a weak beat lasts over a bar line until another one, and nothing comes
    on the bar's first beat; half a beat before it is a push, which says where the bar begins."""
    line = task.bar_at(onset).end_quarter
    return (line < until and line - onset >= task.beat_quarter
            and not is_strong(task, onset))


def is_strong(situation: Situation, place: Fraction) -> bool:
    """Whether a bar begins there, or its second half."""
    bar = situation.bar_at(place)
    inside = 2 * (place - bar.first_beat_quarter)
    return inside == 0 or (inside == bar.meter.length_quarter and bar.meter.beats % 2 == 0)


def metre_cost(situation: Situation, edges: Sequence[Fraction]) -> int:
    """What it costs where chords stand in their bars, for the strength of a chord is that of its
    beat.

    edges   where the written chord begins, where each added one does, and where the last one ends
    """
    beat, total = situation.beat_quarter, 0
    for index in range(1, len(edges) - 1):
        onset, length = edges[index], edges[index + 1] - edges[index]
        if is_strong(situation, onset):
            continue
        if edges[index + 1] - situation.bar_at(onset).end_quarter > beat / 2:
            total += METRE_COSTS["over the bar line"]
        elif length >= 2 * beat and situation.meter.beats != _THREE:
            total += METRE_COSTS["long from a weak beat"]
        if situation.feel != "swing" and (situation.beat_at(onset) % 1):
            total += METRE_COSTS["off the beat"]
    return total


_THREE = 3


def _in_one(situation: Situation) -> bool:
    return situation.tempo >= Tempo.MEDIUM and situation.meter.beats == _THREE


@SEARCHES.keep
def slots(number: int, start: Fraction, end: Fraction, task: Task,
          last: Fraction | None = None, stays: bool = False) -> tuple[Slots, ...]:
    """The rhythms in which `number` chords may change between two places, best first.

    start   where the chord before them is struck (it is heard first)
    end     where the chord after them comes
    last    before which they have to be struck, where that is earlier
    stays   the last of them is the chord that comes at the end: it is not over there
    """
    grid = tuple(g for g in beat_grid(task, start, end) if last is None or g < last)
    if task.is_fast:
        grid = grid[1::2] if len(grid) > 1 else grid
    if number == 0:
        return (Slots((), "even", 0),)
    if number > len(grid):
        return ()
    found: dict[tuple[Fraction, ...], Slots] = {}

    def add(onsets: tuple[Fraction, ...], rhythm: str) -> None:
        if onsets not in found and _spaced(onsets, start, end, task, stays):
            found[onsets] = Slots(onsets, rhythm, RHYTHM_COSTS[rhythm])

    count = len(grid)
    # beats shared out evenly; what is left over lengthens the first chords. Chords of two
    # beats and more keep to pairs of beats where the meter has them.
    unit = 2 if (not (count + 1) % 2 and count + 1 >= 2 * (number + 1)
                 and task.meter.beats % 2 == 0 and not task.meter.is_compound) else 1
    share, left = divmod((count + 1) // unit, number + 1)
    even, beats = [], 0
    for index in range(number):
        beats += unit * (share + (index < left))
        even.append(grid[beats - 1])
    add(tuple(even), "even")
    add(grid[count - number:], "late")
    add(grid[:number], "early")
    strong = [place for place in grid if is_strong(task, place)]
    if len(strong) >= number:
        add(tuple(strong[-number:]), "even")
    for place in strong if number > 1 else ():
        at = grid.index(place)
        if at + number <= count:
            add(grid[at:at + number], "late")
    if task.player.level.reharm.off_beats and not task.is_ballad and not task.is_fast:
        half = task.beat_quarter / 2
        if not task.meter.is_compound and even[0] - start >= 2 * task.beat_quarter:
            add((even[0] - half, *even[1:]), "pushed")
        if not found and start not in (*grid, end) and not task.meter.is_compound:
            # the melody came half a beat early, and the chords come with it
            early = [g - half for g in (*grid, end)
                     if start < g - half < (end if last is None else last)]
            if early and number == 1:  # a row of them has no beat
                add((early[0],), "pushed")
                add((early[-1],), "pushed")
    return tuple(sorted(found.values(), key=lambda s: (s.cost, s.onsets)))
