"""From strokes to what they are: runs of the form, melody, the student's beat.

The beat is found in three rounds: from the melody as it was followed, then with what is struck
beside it and lies on the beat or the off-beat, then once more with the student's habits known.
With the beat known it is heard where exactly one run ends and the next begins.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fillwright.take.beat import BeatMap, Evidence, fit_beat
from fillwright.take.elsewhere import of_this_tune
from fillwright.take.follow import clusters, follow
from fillwright.take.heard import HeardRun
from fillwright.take.joins import joined
from fillwright.take.loose import Grid, Loose
from fillwright.take.match import Match, match_run
from fillwright.take.model import Stroke, Take
from fillwright.take.runs import Run, runs_of
from fillwright.take.score import MelodyLine, line_of
from fillwright.take.timing import Clock, Habit, HeardNote, carried_secs
from fillwright.take.waits import waits
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import Chorus

__all__ = ["listen", "listen_for_this_tune", "other_keys"]

_ROUNDS = 3
_SILENCE_BEATS = 1.5        # longer, and what comes is a beginning
_PICKUP_BEATS = 4.0         # which a pickup is no longer than (common practice)
_LEFT_BELOW = 57            # where tracks do not tell: keys under A3 are the left hand's


def listen(take: Take, chorus: Chorus) -> tuple[HeardRun, ...]:
    """The runs of a take through a chorus; () where the tune is not in it."""
    line, clock = line_of(chorus), Clock.of(chorus)
    strokes = take.strokes
    runs = runs_of(follow(strokes, line).pairs, strokes, line)
    heard = [_hear(run, strokes, line, clock) for run in runs]
    return tuple(one if run is one.run else _hear(run, strokes, line, clock)
                 for one, run in zip(heard, joined(heard, strokes, chorus), strict=True))


def listen_for_this_tune(take: Take, chorus: Chorus) -> tuple[HeardRun, ...]:
    """The same without what is of another tune. What lies between a silence and such a run is its
    own, though the path through the other tune went over it: a pickup."""
    every = listen(take, chorus)
    kept = of_this_tune(every, take)
    if len(kept) == len(every):
        return kept
    line, clock = line_of(chorus), Clock.of(chorus)
    found: list[HeardRun] = []
    for one in kept:
        begun = _begun(one, take.strokes, found[-1].run.last if found else 0, line)
        found.append(one if begun == one.run.first else _hear(
            replace(one.run, first=begun, from_quarter=None), take.strokes, line, clock))
    return tuple(found)


def _begun(heard: HeardRun, strokes: Sequence[Stroke], least: int, line: MelodyLine) -> int:
    """The first stroke after a silence that is shortly before a run; without one its own first."""
    first = heard.run.first
    at = strokes[first].onset_sec
    beat_sec = heard.beat.quarter_sec(heard.beat.quarter(at)) * line.beat_quarter
    for place in range(first, least, -1):
        before = strokes[place - 1].onset_sec
        if strokes[place].onset_sec - before > _SILENCE_BEATS * beat_sec:
            return place
        if at - before > _PICKUP_BEATS * beat_sec:
            return first
    return least if least == 0 else first


def other_keys(take: Take, chorus: Chorus) -> tuple[float, float, int]:
    """How much speaks for the tune as it is written, how much for the tune in the best other key,
    and how many semitones higher (or, negative, lower) that is. Where the tune is not in the
    take, no key is much better than another."""
    line = line_of(chorus)
    found = {by: follow(take.strokes, line, by).score for by in range(-5, 7)}
    best = max((by for by in found if by), key=lambda by: (found[by], -abs(by)))
    return found[0], found[best], best


def _hear(run: Run, strokes: Sequence[Stroke], line: MelodyLine, clock: Clock) -> HeardRun:
    quarters = [note.onset_quarter for note in clock.chorus.melody]
    grid = Grid(clock)
    habit = Habit.at_first(clock, _median_tempo(run))
    heard = [HeardNote(quarters[pair.note], strokes[pair.stroke].onset_sec, "melody")
             for pair in run.pairs]
    landings = [gap.landing.onset_quarter for gap in find_gaps(clock.chorus)
                if gap.landing is not None]
    steps: dict[float, float] = {}
    beat = _fitted(heard, habit, line, steps)
    matches: tuple[Match, ...] = ()
    for round_ in range(_ROUNDS):
        expected = habit.expected_secs([(place, "melody") for place in quarters], beat).tolist()
        matches = match_run(run, strokes, line, beat, expected)
        melody, loose = _struck(run, matches, strokes, clock)
        heard = _all_heard(melody, loose, grid, beat, habit)
        habit = habit.learnt(heard, beat)
        beat = _fitted(heard, habit, line, steps)
        if round_ < _ROUNDS - 1:
            steps = waits((melody, loose, grid), habit, beat, landings)
            beat = _fitted(heard, habit, line, steps)
    places = [quarters[match.note] for match in matches]
    in_melody = [(place, "melody") for place in places]
    smooth = habit.expected_secs(in_melody, beat) - beat.secs(np.array([*map(float, places)]))
    carried = [float(late) + (beat.sec(float(place)) if sec is None else sec)
               for late, place, sec in zip(smooth, places,
                                           carried_secs(places, heard, habit, beat), strict=True)]
    return HeardRun(run, matches, beat, habit, tuple(heard), tuple(carried))


def _median_tempo(run: Run) -> float:
    tempos = sorted(pair.quarter_sec for pair in run.pairs)
    return tempos[len(tempos) // 2]


def _fitted(heard: Sequence[HeardNote], habit: Habit, line: MelodyLine, steps: dict[float, float]
            ) -> BeatMap:
    tempo = line.quarter_sec
    first, last = heard[0], heard[-1]
    if last.quarter > first.quarter:
        tempo = (last.sec - first.sec) / float(last.quarter - first.quarter)
    unit = tempo * line.beat_quarter
    return fit_beat([Evidence(float(one.quarter),
                              one.sec - habit.shift_sec(one.quarter, one.part, unit), one.weight)
                     for one in heard], line.beat_quarter, steps)


def _struck(run: Run, matches: Sequence[Match], strokes: Sequence[Stroke], clock: Clock
            ) -> tuple[list[HeardNote], list[Loose]]:
    """The melody, and what is struck beside it, chord by chord."""
    melody = clock.chorus.melody
    used = {match.stroke for match in matches if match.stroke is not None}
    found = [HeardNote(melody[match.note].onset_quarter, strokes[match.stroke].onset_sec, "melody",
                       1.0 if match.status == "played" else 0.3)
             for match in matches if match.stroke is not None]
    own = strokes[run.first:run.last]
    chords: dict[tuple[int, bool], list[Stroke]] = {}
    for stroke, number in zip(own, clusters(own).tolist(), strict=True):
        if stroke.event not in used:
            chords.setdefault((number, stroke.midi >= _LEFT_BELOW), []).append(stroke)
    loose = []
    for (_, right), chord in chords.items():
        sec = sum(stroke.onset_sec for stroke in chord) / len(chord)
        part = "left" if not right else "chord" if len(chord) > 1 else "single"
        loose.append(Loose(sec, part))
    return found, sorted(loose, key=lambda one: one.sec)


def _all_heard(melody: Sequence[HeardNote], loose: Sequence[Loose], grid: Grid, beat: BeatMap,
               habit: Habit) -> list[HeardNote]:
    """The melody, and what else lies on a beat or an off-beat."""
    found = [one for one in grid.placed(loose, beat, habit) if one is not None]
    return sorted([*melody, *found], key=lambda one: (one.quarter, one.sec))
