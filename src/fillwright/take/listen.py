"""From strokes to what they are: runs of the form, melody, the student's beat.

The beat is found in three rounds: from the melody as it was followed, then with what is struck
beside it and lies on the beat or the off-beat, then once more with the student's habits known.
With the beat known it is heard where exactly one run ends and the next begins.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from fillwright.exact import Fraction
from fillwright.take.beat import FAR_PRICE, BeatMap, Evidence, fit_beat
from fillwright.take.elsewhere import of_this_tune, unheard
from fillwright.take.follow import clusters, follow
from fillwright.take.heard import HeardRun
from fillwright.take.joins import joined
from fillwright.take.loose import LOOSE_WEIGHT, Grid, Loose
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
_SAME_SEC = 1e-6
_CLEARLY = 5.0              # nats by which another beat has to be cheaper
_LEAST_PLACES = 4           # by which a beat is known
_SILENCE_BEATS = 3.0        # longer, and what comes is a beginning (common practice)
_LEFT_BELOW = 57            # where tracks do not tell: keys under A3 are the left hand's


def listen(take: Take, chorus: Chorus, first: int = 0) -> tuple[HeardRun, ...]:
    """The runs of a take through a chorus; () where the tune is not in it.

    first   the place of the stroke from which on it is listened to
    """
    line, clock = line_of(chorus), Clock.of(chorus)
    strokes = take.strokes
    heard = [_hear(run, strokes, line, clock) for run in _followed(strokes, line, first)]
    return tuple(one if run is one.run else _hear(run, strokes, line, clock)
                 for one, run in zip(heard, joined(heard, strokes, chorus), strict=True))


def listen_for_this_tune(take: Take, chorus: Chorus) -> tuple[HeardRun, ...]:
    """The same without what is of another tune. The path through that one goes over the beginning
    of this: after the silence between them it is listened to once more."""
    every = listen(take, chorus)
    kept = of_this_tune(every, take)
    if kept != every and kept[0] != every[0]:
        begun = _silence_before(kept[0], take.strokes, kept[0].run.first)
        again = of_this_tune(listen(take, chorus, begun), take) if begun else ()
        kept = again if _paired(again) >= _paired(kept) else kept
    strange = unheard(kept, take)
    return tuple(_within(heard, take.strokes, chorus, strange) for heard in kept)


def _within(heard: HeardRun, strokes: Sequence[Stroke], chorus: Chorus,
            strange: Sequence[tuple[float, float]]) -> HeardRun:
    """A run without the strokes of another tune that was played just before or after it."""
    own = [match.stroke for match in heard.matches if match.stroke is not None]
    if not own:
        return heard
    first, last = heard.run.first, heard.run.last
    if any(abs(strokes[own[0]].onset_sec - end) < _SAME_SEC for _, end in strange):
        first = max(first, _silence_before(heard, strokes, own[0]))
    if any(abs(strokes[own[-1]].onset_sec - start) < _SAME_SEC for start, _ in strange):
        over = heard.beat.sec(float(chorus.length_quarter))
        last = min(last, max(own[-1] + 1, bisect_left(
            strokes, over, key=lambda stroke: stroke.onset_sec)))
    return replace(heard, run=replace(heard.run, first=first, last=last))


def _followed(strokes: Sequence[Stroke], line: MelodyLine, first: int) -> list[Run]:
    own = strokes[first:]
    return [replace(run, first=run.first + first, last=run.last + first, pairs=tuple(
        replace(pair, stroke=pair.stroke + first) for pair in run.pairs))
        for run in runs_of(follow(own, line).pairs, own, line)]


def _silence_before(heard: HeardRun, strokes: Sequence[Stroke], first: int) -> int:
    """The first stroke after the last silence before a stroke of a run; 0 where there is none."""
    least = _SILENCE_BEATS * heard.beat.quarter_sec(
        heard.beat.quarter(strokes[first].onset_sec)) * heard.beat.step_quarter
    return next((place for place in range(first, 0, -1)
                 if strokes[place].onset_sec - strokes[place - 1].onset_sec > least), 0)


def _paired(runs: Sequence[HeardRun]) -> int:
    return sum(len(heard.run.pairs) for heard in runs)


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
        if round_ < _ROUNDS - 1:
            beat = _carried_through((melody, loose, grid), habit, beat, partial(
                _fitted, habit=habit, line=line, steps=steps), landings)
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


def _carried_through(struck: tuple[Sequence[HeardNote], Sequence[Loose], Grid], habit: Habit,
                     beat: BeatMap, fit: Callable[[Sequence[HeardNote]], BeatMap],
                     landings: Collection[Fraction]) -> BeatMap:
    """The beat, or that of all but the landings where it explains more of what was struck: several
    late landings one after the other bend a beat until the hand that is in time lies nowhere."""
    melody, loose, grid = struck
    others = [one for one in melody if one.quarter not in landings]
    if len({one.quarter for one in others}) < _LEAST_PLACES:
        return beat
    other = fit(others)
    for _ in range(_ROUNDS):
        other = fit(_all_heard(others, loose, grid, other, habit))

    def price(beat: BeatMap) -> float:
        heard = _all_heard(melody, loose, grid, beat, habit)
        nowhere = len(melody) + len(loose) - len(heard)
        return fit(heard).price + FAR_PRICE * LOOSE_WEIGHT * nowhere

    return other if price(other) + _CLEARLY < price(beat) else beat


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
