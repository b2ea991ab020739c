"""Runs: stretches of the form that were played through without a jump."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from fillwright.exact import Fraction
from fillwright.take.follow import Pair
from fillwright.take.model import Stroke
from fillwright.take.score import MelodyLine

__all__ = ["LEAST_PAIRS", "Run", "runs_of"]

LEAST_PAIRS = 4
"""A run of fewer melody notes is chance: four in a row at the right times are none."""

_LEAP_BEATS = 1.5   # sooner by more than this, and by more than any hurry
_LEAP_SHARE = 0.4
_SAME_QUARTER = 0.3 # so far apart two places may be the same, eighths swung or not
_IN_TIME = 0.6      # beats off that are still "came in again where the tune had got to"


@dataclass(frozen=True, slots=True)
class Run:
    """Pairs between two jumps, and the strokes that go with them.

    first, last   places of its strokes in the take, `last` not among them
    from_quarter, to_quarter   where the beat went through a jump: the places in the tune
    """

    pairs: tuple[Pair, ...]
    first: int
    last: int
    from_quarter: Fraction | None = None
    to_quarter: Fraction | None = None


def runs_of(pairs: Sequence[Pair], strokes: Sequence[Stroke], line: MelodyLine) -> tuple[Run, ...]:
    """The runs of a path, in order of time."""
    pieces: list[list[Pair]] = []
    for pair in pairs:
        if not pieces or (not _goes_on(pieces[-1], pair, strokes, line) if pair.jumped
                          else _leaps(pieces[-1][-1], pair, strokes, line)):
            pieces.append([])
        pieces[-1].append(pair)
    for before, after in pairwise(pieces):
        _draw_back(before, after, strokes, line)
    kept = _without_chance(pieces, strokes, line)
    if not kept:
        return ()
    starts = [0]
    for before, after in pairwise(kept):
        starts.append(_start(before[-1].stroke, after[0].stroke, strokes,
                             after[0].quarter_sec * line.beat_quarter))
    ends = [*starts[1:], len(strokes)]
    return tuple(Run(tuple(piece), first, last)
                 for piece, first, last in zip(kept, starts, ends, strict=True))


def _draw_back(before: list[Pair], after: list[Pair], strokes: Sequence[Stroke],
               line: MelodyLine) -> None:
    """Where the tune is the same for a while on both sides of a jump, the jump may lie anywhere
    in it: so many pairs go to a short piece that it is none of chance."""
    first = after[0]
    while len(after) < LEAST_PAIRS < len(before):
        last = before[-1]
        took = (strokes[first.stroke].onset_sec - strokes[last.stroke].onset_sec) / last.quarter_sec
        place = round(2 * (line.quarters[first.note] - took)) / 2
        same = np.flatnonzero((np.abs(line.quarters - place) < _SAME_QUARTER)
                              & (line.midis == line.midis[last.note]))
        if not len(same) or same[0] >= after[0].note:
            return
        after.insert(0, replace(before.pop(), note=int(same[0])))


def _goes_on(before: Sequence[Pair], pair: Pair, strokes: Sequence[Stroke],
             line: MelodyLine) -> bool:
    """Whether a jump is none: some notes were left out, and the student came in again in time."""
    last = before[-1]
    ahead = float(line.quarters[pair.note] - line.quarters[last.note])
    if ahead <= 0:
        return False
    took = strokes[pair.stroke].onset_sec - strokes[last.stroke].onset_sec
    expected = ahead * last.quarter_sec
    return abs(took - expected) < max(_IN_TIME * last.quarter_sec * line.beat_quarter,
                                      0.1 * expected) or pair.note == last.note + 1


def _leaps(last: Pair, pair: Pair, strokes: Sequence[Stroke], line: MelodyLine) -> bool:
    """Whether some notes were not left out but leapt over: the next comes beats too soon."""
    expected = float(line.quarters[pair.note] - line.quarters[last.note]) * last.quarter_sec
    took = strokes[pair.stroke].onset_sec - strokes[last.stroke].onset_sec
    return expected - took > max(_LEAP_BEATS * last.quarter_sec * line.beat_quarter,
                                 _LEAP_SHARE * expected)


def _without_chance(pieces: Sequence[list[Pair]], strokes: Sequence[Stroke], line: MelodyLine
                    ) -> list[list[Pair]]:
    """Runs that are too short are left out, and fills that take up the tune's own notes; what
    they parted is joined where it fits."""
    kept: list[list[Pair]] = []
    for piece in pieces:
        if len(piece) < LEAST_PAIRS or (kept and _echoes(kept[-1][-1], piece, strokes, line)):
            continue
        if kept and _goes_on(kept[-1], piece[0], strokes, line):
            kept[-1].extend(piece)
        else:
            kept.append(list(piece))
    return kept


def _echoes(last: Pair, piece: Sequence[Pair], strokes: Sequence[Stroke], line: MelodyLine
            ) -> bool:
    """Whether notes of the tune are a fill that takes them up: they were sung before, and are over
    before the tune goes on. Who begins again plays on beyond it."""
    following = last.note + 1
    end = line.quarters[following] if following < len(line) else line.length_quarter
    due = strokes[last.stroke].onset_sec + float(
        end - line.quarters[last.note]) * last.quarter_sec
    return piece[0].note <= last.note and strokes[piece[-1].stroke].onset_sec < due


def _start(last: int, first: int, strokes: Sequence[Stroke], beat_sec: float) -> int:
    """The first stroke of a run: after the longest silence before its first melody note, where
    there is one of a beat and a half at least; else that note, with what is struck with it."""
    best, place = 1.5 * beat_sec, -1
    for index in range(last + 1, first + 1):
        silence = strokes[index].onset_sec - strokes[index - 1].onset_sec
        if silence > best:
            best, place = silence, index
    if place >= 0:
        return place
    while first - 1 > last and strokes[first].onset_sec - strokes[first - 1].onset_sec < 0.04:
        first -= 1
    return first
