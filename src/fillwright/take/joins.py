"""Where exactly one run ends and the next begins.

The first look knows that there is a jump, and about where: a note or two that happen to be struck
anyhow carry a run too far. Here the beat of both sides is known. Wherever the jump could lie, the
notes of the one run before it and those of the other after it are looked for among the strokes,
and the cheapest place is taken; of places that explain every stroke alike (the tune is the same
for a while on both sides) the earliest bar line.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from fillwright.exact import Fraction
from fillwright.take.beat import Evidence, fit_beat
from fillwright.take.heard import HeardRun
from fillwright.take.model import Stroke
from fillwright.take.runs import Run
from fillwright.tune.model import Chorus

__all__ = ["joined"]

_AROUND_BEATS = 16.0        # how far from the first guess the jump is looked for
_IN_TIME_BEATS = 0.2        # the beat goes through the jump where it fits this well
_SURE_BEATS = 0.15          # and this well, no other way is looked at
_DOUBTED_BEATS = 4.0        # so near the jump the beat is not listened to
_HEARD_BEATS = 24.0         # and so far from it
_LEAST = 4                  # places by which a beat is known
_SILENCE_BEATS = 1.5        # longer before a run, and it was begun anew
_NEAR_BEATS = 0.22          # a stroke this near its time is the note
_MISSED = 2.1               # nats: a note that is not there, one time in ten where it was played
_FOUND = -1.8               # and one that is: by chance one time in seven
_EVEN = 0.5                 # this share of being near costs nothing
_UNDER = 1.2                # another key above it is struck with it
_OCTAVE = 0.8               # not in the octave that is played there
_NO_BAR_LINE = 2.5          # for a jump in the midst of a bar
_ALIKE = 0.5                # two places this near explain every stroke alike: of two notes, one
                            # found and one missed, nothing follows
_HALF = Fraction(1, 2)


@dataclass(frozen=True, slots=True)
class _Side:
    """One of the two runs at a jump.

    sec      when a place of it is played, the beat carried on beyond its ends
    octave   in which most of its melody is
    """

    run: HeardRun
    sec: Callable[[Fraction], float]
    octave: int


def joined(runs: Sequence[HeardRun], strokes: Sequence[Stroke], chorus: Chorus) -> list[Run]:
    """The runs with their ends where they are heard to be."""
    found = [heard.run for heard in runs]
    for number in range(len(runs) - 1):
        found[number], found[number + 1] = _join(
            (runs[number], found[number]), (runs[number + 1], found[number + 1]), strokes, chorus)
    return found


def _join(before: tuple[HeardRun, Run], after: tuple[HeardRun, Run], strokes: Sequence[Stroke],
          chorus: Chorus) -> tuple[Run, Run]:
    one, other = before[0], after[0]
    unit = Fraction(chorus.meter.beat_quarter)
    joint_sec = strokes[other.run.pairs[0].stroke].onset_sec
    start = Fraction(round(2 * one.beat.quarter(joint_sec) / float(unit))) * unit / 2
    span = int(2 * _AROUND_BEATS)
    first = chorus.melody[before[1].pairs[0].note].onset_quarter
    last = chorus.melody[after[1].pairs[-1].note].onset_quarter
    ways: list[tuple[float, Fraction, Fraction, float]] = []
    for shift in _shifts(one, other, strokes, unit):
        places = [place for place in (start + unit * _HALF * step
                                      for step in range(-span, span + 1))
                  if first < place <= chorus.length_quarter and 0 <= place + shift < last]
        if places:
            sides = _sides(one, other, shift, chorus, joint_sec)
            cost, place = _cheapest(places, shift, sides, strokes, chorus)
            sec = sides[0].sec(place) - 0.25 * one.beat.quarter_sec(float(place)) * float(unit)
            ways.append((cost, place, shift, sec))
    if not ways:
        return before[1], after[1]
    _, place, shift, sec = min(ways, key=lambda way: round(way[0]))      # else the likeliest shift
    return _cut(before[1], after[1], (place, shift), sec, strokes)


def _evidence(heard: HeardRun, unit: float, by: Fraction = Fraction(0)) -> list[Evidence]:
    """What a run says of the beat, a good way from the jump: the last notes before it and the
    first after it may be anything."""
    return [Evidence(float(note.quarter - by), note.sec - heard.habit.shift_sec(
        note.quarter, note.part, heard.beat.quarter_sec(float(note.quarter)) * unit), note.weight)
        for note in heard.heard]


def _far_from(sec: float, evidence: Sequence[Evidence], beat_sec: float) -> list[Evidence]:
    far = [one for one in evidence if _DOUBTED_BEATS * beat_sec < abs(one.sec - sec)
           < _HEARD_BEATS * beat_sec]
    return far if len({one.quarter for one in far}) >= _LEAST else list(evidence)


def _shifts(one: HeardRun, other: HeardRun, strokes: Sequence[Stroke], unit: Fraction
            ) -> list[Fraction]:
    """How many quarters further on in the tune the second run may be than the first would be,
    whole numbers of beats; none where the beat did not go through."""
    pairs = other.run.pairs
    sec = strokes[pairs[0].stroke].onset_sec
    beat_sec = pairs[0].quarter_sec * float(unit)
    before = fit_beat(_far_from(sec, _evidence(one, float(unit)), beat_sec), float(unit))
    middle = pairs[min(len(pairs) // 2, _LEAST)]
    then = strokes[middle.stroke].onset_sec
    off = (other.beat.quarter(then) - before.quarter(then)) / float(unit)
    first = other.run.first
    silence = strokes[first].onset_sec - strokes[first - 1].onset_sec
    if abs(off - round(off)) > _IN_TIME_BEATS and silence > _SILENCE_BEATS * beat_sec:
        return []
    if abs(off - round(off)) < _SURE_BEATS:
        return [unit * round(off)] if round(off) else []
    return [unit * beats for beats in sorted(range(round(off) - 1, round(off) + 2),
                                             key=lambda beats: abs(beats - off)) if beats]


def _sides(one: HeardRun, other: HeardRun, shift: Fraction, chorus: Chorus,
           sec: float) -> tuple[_Side, _Side]:
    """Both runs on one beat that goes through the jump."""
    unit = float(chorus.meter.beat_quarter)
    beat_sec = other.run.pairs[0].quarter_sec * unit
    evidence = _far_from(sec, _evidence(one, unit), beat_sec)
    evidence += _far_from(sec, _evidence(other, unit, shift), beat_sec)
    beat = fit_beat(sorted(evidence, key=lambda each: each.quarter), unit)

    def side(heard: HeardRun, by: Fraction) -> _Side:
        def sec_of(quarter: Fraction) -> float:
            at = float(quarter - by)
            return beat.sec(at) + heard.habit.shift_sec(quarter, "melody",
                                                        beat.quarter_sec(at) * unit)

        octaves = sorted(match.octave for match in heard.matches if match.status == "played")
        return _Side(heard, sec_of, octaves[len(octaves) // 2] if octaves else 0)

    return side(one, Fraction(0)), side(other, shift)


def _cheapest(places: Sequence[Fraction], shift: Fraction, sides: tuple[_Side, _Side],
              strokes: Sequence[Stroke], chorus: Chorus) -> tuple[float, Fraction]:
    """Where the first run goes over into the second, as a place of the first, and its cost."""
    onsets = [stroke.onset_sec for stroke in strokes]
    low, high = min(places), max(places)
    costs: list[list[tuple[Fraction, float]]] = []
    for side, by in zip(sides, (Fraction(0), shift), strict=True):
        costs.append([(note.onset_quarter - by, _cost(side, index, strokes, onsets, chorus))
                      for index, note in enumerate(chorus.melody)
                      if low <= note.onset_quarter - by < high])
    lines = {bar.onset_quarter for bar in chorus.bars}

    def total(place: Fraction) -> float:
        cost = sum(cost for at, cost in costs[0] if at < place)
        cost += sum(cost for at, cost in costs[1] if at >= place)
        return cost + _NO_BAR_LINE * (place not in lines and place + shift not in lines)

    totals = {place: total(place) for place in places}
    least = min(totals.values())
    return least, min(place for place, cost in totals.items() if cost < least + _ALIKE)


def _cost(side: _Side, index: int, strokes: Sequence[Stroke], onsets: Sequence[float],
          chorus: Chorus) -> float:
    """What it costs to say that this note was to be played there."""
    note = chorus.melody[index]
    at = side.sec(note.onset_quarter)
    near = _NEAR_BEATS * side.run.beat.quarter_sec(float(note.onset_quarter)) * float(
        chorus.meter.beat_quarter)
    cost = _MISSED
    for place in range(bisect_left(onsets, at - near), bisect_left(onsets, at + near)):
        stroke = strokes[place]
        away = stroke.midi - note.midi
        if away % 12:
            continue
        own = _FOUND + 2 * max(abs(stroke.onset_sec - at) / near - _EVEN, 0.0)
        own += _OCTAVE * abs(away // 12 - side.octave)
        if any(abs(other.onset_sec - stroke.onset_sec) < 0.05 and other.midi > stroke.midi
               and (other.midi - stroke.midi) % 12
               for other in strokes[max(place - 8, 0):place + 9]):
            own += _UNDER
        cost = min(cost, own)
    return cost


def _cut(one: Run, other: Run, where: tuple[Fraction, Fraction], sec: float,
         strokes: Sequence[Stroke]) -> tuple[Run, Run]:
    """Both runs, cut at a time."""
    place, shift = where
    cut = bisect_left(strokes, sec, key=lambda stroke: stroke.onset_sec)

    first = tuple(pair for pair in one.pairs if pair.stroke < cut)
    second = tuple(pair for pair in other.pairs if pair.stroke >= cut)
    if len(first) < 2 or len(second) < 2:
        return one, other
    return (replace(one, pairs=first, last=cut, to_quarter=place),
            replace(other, pairs=second, first=cut, from_quarter=place + shift))
