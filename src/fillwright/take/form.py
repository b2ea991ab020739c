"""From where to where each run goes, in quarters of the chorus."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.take.heard import HeardRun
from fillwright.take.model import Stroke, Take
from fillwright.take.report import FormRun
from fillwright.tune.model import Chorus

__all__ = ["form_of"]

_NEAR_BEATS = 0.6           # a bar line this near is meant
_PAUSE_BEATS = 2.0          # longer without a stroke before a new beginning: the student stopped
_HALF = Fraction(1, 2)


def form_of(runs: Sequence[HeardRun], take: Take, chorus: Chorus) -> tuple[FormRun, ...]:
    """One entry a run, in order of time."""
    starts = [_start(run, take.strokes, chorus) for run in runs]
    found = []
    for number, (run, (from_quarter, from_sec)) in enumerate(zip(runs, starts, strict=True)):
        following = starts[number + 1] if number + 1 < len(runs) else None
        to_quarter, to_sec = _end(run, take.strokes, chorus,
                                  None if following is None else following[1])
        found.append(FormRun(from_quarter, max(to_quarter, from_quarter), from_sec,
                             max(to_sec, from_sec)))
    assert all(one.from_sec <= other.from_sec for one, other in pairwise(found))
    return tuple(found)


def _start(run: HeardRun, strokes: Sequence[Stroke], chorus: Chorus) -> tuple[Fraction, float]:
    """Where a run begins: at its first stroke, or at the bar line just before it."""
    sec = strokes[run.run.first].onset_sec
    if run.run.from_quarter is not None:
        return run.run.from_quarter, sec
    return _snapped(run.beat.quarter(sec), chorus), sec


def _end(run: HeardRun, strokes: Sequence[Stroke], chorus: Chorus, next_sec: float | None
         ) -> tuple[Fraction, float]:
    own = strokes[run.run.first:run.run.last]
    last = own[-1]
    if next_sec is not None and run.run.to_quarter is not None:
        return run.run.to_quarter, next_sec
    if next_sec is not None:
        beat_sec = run.beat.quarter_sec(run.beat.quarter(last.onset_sec)) * run.beat.step_quarter
        if next_sec - last.onset_sec <= _PAUSE_BEATS * beat_sec:
            return _snapped(run.beat.quarter(next_sec), chorus), next_sec
    sec = max(stroke.release_sec for stroke in own)
    if next_sec is not None:
        sec = min(sec, next_sec)
    if any(match.note == len(chorus.melody) - 1 and match.stroke is not None
           for match in run.matches):
        return chorus.length_quarter, sec
    # Keys may be held on where the student stops: the bar of the last stroke is the last.
    struck = run.beat.quarter(last.onset_sec) + _NEAR_BEATS * run.beat.step_quarter
    line = next((bar.end_quarter for bar in chorus.bars if float(bar.end_quarter) > struck),
                chorus.length_quarter)
    end = min(_snapped(run.beat.quarter(sec), chorus), line)
    return end, min(sec, max(run.beat.sec(float(end)), last.onset_sec))


def _snapped(quarter: float, chorus: Chorus) -> Fraction:
    """The bar line that is meant, else the nearest half beat."""
    unit = Fraction(chorus.meter.beat_quarter)
    lines = [bar.onset_quarter for bar in chorus.bars] + [chorus.length_quarter]
    line = min(lines, key=lambda at: abs(float(at) - quarter))
    if abs(float(line) - quarter) <= _NEAR_BEATS * float(unit):
        return line
    halves = round(quarter / float(unit * _HALF))
    return min(max(unit * _HALF * halves, Fraction(0)), chorus.length_quarter)
