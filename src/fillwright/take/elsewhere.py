"""Where in a take the tune is not: another tune was played before or after it, or a chorus was
improvised from beginning to end.

A path through the tune is found for any strokes at all; but of another tune only few of its notes
are there in their places, so such runs can be told from the student's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from fillwright.take.heard import HeardRun
from fillwright.take.model import Take

__all__ = ["of_this_tune", "unheard", "unheard_words"]

_LEAST_SHARE = 0.6
"""Of the notes that a run goes by, in place: nine in ten and more of a take; of another tune one in
four, in its best stretches half."""
_SURE_SHARE = 0.75          # of the best run: without one, nothing is told apart
_MANY = 16                  # notes of a run; of fewer, five in eight may be there by chance
_IN_PLACE_BEATS = 0.2
_LEAST_SEC, _LEAST_STROKES = 20.0, 24
"""Less may be an introduction, an ending, a long fill or a place that went wrong (common practice:
an introduction has four bars, sixteen seconds in a ballad)."""


def of_this_tune(runs: Sequence[HeardRun], take: Take) -> tuple[HeardRun, ...]:
    """The runs without those in which the tune is hardly there, where they are long and the tune
    is surely there in another."""
    shares = [_share(run, take) for run in runs]
    if max(shares, default=0.0) < _SURE_SHARE:
        return tuple(runs)
    kept = tuple(run for run, share in zip(runs, shares, strict=True)
                 if share >= (_LEAST_SHARE if len(run.matches) >= _MANY else _SURE_SHARE))
    return kept if len(kept) < len(runs) and unheard(kept, take) else tuple(runs)


def unheard(runs: Sequence[HeardRun], take: Take) -> tuple[tuple[float, float], ...]:
    """From and to, in seconds, where for long something was played and nothing of the tune."""
    heard = sorted(sec for run in runs for sec in _seconds(run, take))
    ends = [0.0, *heard, take.length_sec]
    onsets = [stroke.onset_sec for stroke in take.strokes]
    return tuple((start, end) for start, end in pairwise(ends)
                 if end - start >= _LEAST_SEC
                 and sum(start < onset < end for onset in onsets) >= _LEAST_STROKES)


def unheard_words(title: str, stretches: Sequence[tuple[float, float]]) -> tuple[str, ...]:
    """A sentence each."""
    return tuple(f"from second {start:.0f} to {end:.0f} nothing of {title!r} is heard: another "
                 "tune, or a chorus improvised from beginning to end; the report leaves it out"
                 for start, end in stretches)


def _seconds(run: HeardRun, take: Take) -> list[float]:
    """When its melody notes were struck."""
    return [take.strokes[match.stroke].onset_sec for match in run.matches
            if match.stroke is not None]


def _share(run: HeardRun, take: Take) -> float:
    in_place = 0
    for match, carried in zip(run.matches, run.carried, strict=True):
        if match.stroke is not None and match.status == "played":
            late = take.strokes[match.stroke].onset_sec - carried
            unit = run.beat.quarter_sec(run.beat.quarter(carried)) * run.beat.step_quarter
            in_place += abs(late) < _IN_PLACE_BEATS * unit
    return in_place / len(run.matches) if run.matches else 0.0
