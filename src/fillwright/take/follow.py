"""Where in the tune each stroke may be: the first, coarse look.

A path goes through pairs (stroke, melody note), in order of time: this stroke is that note.
What lies between two pairs is accompaniment, fill or slip, and costs nothing; melody notes that
are passed over cost a little each, and a path may jump to any note of the tune at a price of
about five notes. Each pair keeps the tempo of its best way here, so that the next note is
expected at a time. For every stroke only such pairs are looked at as a path can still go on from,
and not more than so many, so that the work grows with the strokes.

The path says which stroke is which note well enough to know where in the form the student was;
`match` looks closer once the beat is known.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from fillwright.take.model import Stroke
from fillwright.take.score import MelodyLine

__all__ = ["Followed", "Pair", "clusters", "follow"]

# All weights are in one unit, nats of a log likelihood, set on seeded takes of the demo tunes.
WEIGHTS = MappingProxyType({
    "match": 3.0,           # a stroke has the pitch class that the tune wants
    "top": 2.5,             # and is the highest of what is struck with it
    "skip": 2.5,            # a melody note is passed over
    "octave": 0.7,          # an octave away from where it is written, each
    "other octave": 3.5,    # another octave than the note before
    "late": 9.0,            # at most, for coming at another time than expected
    "busy": 3.0,            # for each beat of playing that is more than expected
    "jump": 18.0,           # to anywhere in the tune
    "again": 14.0,          # from its end to its beginning
    "elsewhere": 22.0,      # to begin anywhere but at the beginning
    "stopped": 4.0,         # to end anywhere but at the end
    "played on": 8.0,       # at most, for playing on then
})
MOST_SKIPPED = 6
"""Melody notes passed over at once; more is a jump."""

_MOST_LIVE = 128        # pairs that may be gone on from, kept at once
_NEAR_SEC = 0.035       # strokes this near are one chord (facts of touch: spreads up to 30 ms)
_TIMING_SEC = 0.04      # how exactly anyone plays, and how exactly a tempo is kept
_TIMING_SHARE = 0.08
_TEMPO_SPREAD = 0.35    # of a student's tempo around the marked one, in log; common practice
_LONGEST_WAIT_SEC = 6.0
_CLOSE = 6.0            # a way at another tempo is kept beside one that is so much better
_OTHER_TEMPO = 0.1
_LONGEST_SHARE = 2.5    # of the time that is expected
_SILENCE_BEATS = 1.5        # longer without a stroke, and the student waits
_FREE_BEATS = 2.0           # so much more may always be played
_TEMPO_BOUNDS = (0.4, 2.5)


@dataclass(frozen=True, slots=True)
class Pair:
    """A stroke that is a melody note.

    stroke, note   their places in the take and in the melody
    jumped         the note before this was not the one before it in the tune
    quarter_sec    the tempo here, roughly
    """

    stroke: int
    note: int
    jumped: bool
    quarter_sec: float


def clusters(strokes: Sequence[Stroke], near_sec: float = _NEAR_SEC) -> npt.NDArray[np.int64]:
    """For each stroke the number of the chord it belongs to: strokes follow each other within
    `near_sec`, and all within three times that of the first."""
    found = np.zeros(len(strokes), dtype=np.int64)
    first = last = -np.inf
    number = -1
    for index, stroke in enumerate(strokes):
        onset = stroke.onset_sec
        if onset - last > near_sec or onset - first > 3 * near_sec:
            number, first = number + 1, onset
        last = onset
        found[index] = number
    return found


@dataclass(frozen=True, slots=True)
class Followed:
    """The best path: pairs in order of time, () where the tune is not in it at all; and how much
    speaks for it, in nats."""

    pairs: tuple[Pair, ...]
    score: float


def follow(strokes: Sequence[Stroke], line: MelodyLine, by: int = 0) -> Followed:
    """Look for the tune in the strokes, `by` semitones higher than it is written."""
    if by:
        line = replace(line, midis=line.midis + by)
    return _Search(strokes, line).run()


@dataclass(frozen=True, slots=True, eq=False)
class _Ways:
    """The best way to each of some pairs: its score, the pair before, the tempo and how well that
    is known, whether it is a jump."""

    score: npt.NDArray[np.float64]
    before: npt.NDArray[np.int64]
    tempo: npt.NDArray[np.float64]
    known: npt.NDArray[np.float64]
    jumped: npt.NDArray[np.bool_]

    def but(self, which: npt.NDArray[np.bool_], other: _Ways) -> _Ways:
        """The other ways, where it is said."""
        return _Ways(np.where(which, other.score, self.score),
                     np.where(which, other.before, self.before),
                     np.where(which, other.tempo, self.tempo),
                     np.where(which, other.known, self.known),
                     np.where(which, other.jumped, self.jumped))

    def beside(self, other: _Ways, which: npt.NDArray[np.int64]) -> _Ways:
        """With some of the other ways behind them."""
        if not len(which):
            return self
        return _Ways(np.concatenate([self.score, other.score[which]]),
                     np.concatenate([self.before, other.before[which]]),
                     np.concatenate([self.tempo, other.tempo[which]]),
                     np.concatenate([self.known, other.known[which]]),
                     np.concatenate([self.jumped, other.jumped[which]]))


class _Search:
    """Pairs as columns of arrays. Only such are gone on from as may be: not those too long ago,
    nor those so much worse than the best that it is cheaper to jump."""

    def __init__(self, strokes: Sequence[Stroke], line: MelodyLine) -> None:
        self.strokes, self.line = strokes, line
        self.count = len(line)
        chord = clusters(strokes)
        tops: dict[int, int] = {}
        for index, stroke in enumerate(strokes):
            tops[chord[index]] = max(stroke.midi, tops.get(chord[index], 0))
        self.is_top = [stroke.midi == tops[chord[index]] for index, stroke in enumerate(strokes)]
        self.beat_sec = line.quarter_sec * line.beat_quarter
        self.onsets = np.array([stroke.onset_sec for stroke in strokes])
        self.played = np.cumsum(np.minimum(np.diff(self.onsets, prepend=self.onsets[:1]),
                                           _SILENCE_BEATS * self.beat_sec))
        self.of_class = [np.flatnonzero(line.midis % 12 == pc) for pc in range(12)]
        notes = np.arange(self.count)
        furthest = line.quarters[np.minimum(notes + MOST_SKIPPED + 1, self.count - 1)]
        self.furthest = furthest - line.quarters
        self.start = -np.minimum(WEIGHTS["skip"] * notes, WEIGHTS["elsewhere"])
        left = self.count - 1 - notes
        self.ending = np.minimum(WEIGHTS["skip"] * left, WEIGHTS["stopped"])
        size = 2 * sum(len(self.of_class[stroke.midi % 12]) for stroke in strokes)
        self.size = 0
        self.stroke, self.note, self.before = (np.zeros(size, dtype=np.int64) for _ in range(3))
        self.jumped = np.zeros(size, dtype=bool)
        self.score, self.tempo = np.zeros(size), np.zeros(size)
        self.known = np.zeros(size)         # how many steps the tempo rests on
        self.octave = np.zeros(size, dtype=np.int64)
        self.until = np.zeros(size)         # later nothing follows it
        self.live = np.zeros(0, dtype=np.int64)

    def run(self) -> Followed:
        best, best_pair = -np.inf, -1           # of all pairs that are over
        waiting: deque[tuple[float, float, int]] = deque()  # (onset, score, pair), not yet over
        for index, stroke in enumerate(self.strokes):
            while waiting and waiting[0][0] < stroke.onset_sec - 2 * _NEAR_SEC:
                _, score, pair = waiting.popleft()
                if score > best:
                    best, best_pair = score, pair
            notes = self.of_class[stroke.midi % 12]
            if not len(notes):
                continue
            new = self._place(index, stroke, notes, best, best_pair)
            scores = self.score[new]
            place = int(scores.argmax())
            waiting.append((stroke.onset_sec, float(scores[place]), new.start + place))
        answer = self._last()
        return Followed(self._trace(answer), 0.0 if answer < 0 else float(self.score[answer]))

    def _last(self) -> int:
        """The pair that ends the best path; -1 where the tune is not there."""
        if not self.size:
            return -1
        note, every = self.note[:self.size], slice(0, self.size)
        due = np.append(self.line.quarters, self.line.length_quarter)[note + 1]
        expected = self.tempo[every] * (due - self.line.quarters[note])
        played = self.played[-1] - self.played[self.stroke[every]]
        on = np.maximum((played - expected) / self.beat_sec - _FREE_BEATS, 0.0)
        price = np.minimum(WEIGHTS["busy"] * on, WEIGHTS["played on"]) * (note < self.count - 1)
        ended = self.score[every] - self.ending[note] - price
        best = int(ended.argmax())
        return best if ended[best] > 0 else -1

    def _place(self, index: int, stroke: Stroke, notes: npt.NDArray[np.int64], best: float,
               best_pair: int) -> slice:
        """A pair more for each of the notes, two where it is not clear at which tempo: where they
        are."""
        octave = (stroke.midi - self.line.midis[notes]) // 12
        live = self.live
        live = live[(self.score[live] > best - WEIGHTS["jump"])
                    & (self.until[live] > stroke.onset_sec)]
        ways = self._begun(notes, best, best_pair)
        which = np.arange(len(notes))
        if len(live):
            first, second = self._steps(index, notes, octave, live)
            is_step = first.score >= ways.score
            ways = ways.but(is_step, first)
            other = np.flatnonzero(is_step & (second.score > first.score - _CLOSE))
            ways, which = ways.beside(second, other), np.concatenate([which, other])
        new = slice(self.size, self.size + len(which))
        self.stroke[new], self.note[new], self.octave[new] = index, notes[which], octave[which]
        own = (WEIGHTS["match"] + (WEIGHTS["top"] if self.is_top[index] else 0.0)
               - WEIGHTS["octave"] * np.abs(octave[which]))
        self.score[new], self.before[new] = ways.score + own, ways.before
        self.tempo[new], self.known[new], self.jumped[new] = ways.tempo, ways.known, ways.jumped
        self.until[new] = (stroke.onset_sec + _LONGEST_WAIT_SEC
                           + _LONGEST_SHARE * ways.tempo * self.furthest[notes[which]])
        live = np.concatenate([live, np.arange(new.start, new.stop)])
        if len(live) > _MOST_LIVE:      # the best, the latest of equal ones
            live = live[np.sort(self.score[live].argsort(kind="stable")[-_MOST_LIVE:])]
        self.live, self.size = live, new.stop
        return new

    def _begun(self, notes: npt.NDArray[np.int64], best: float, best_pair: int) -> _Ways:
        """Ways that begin at the notes, or jump to them."""
        count = len(notes)
        start = self.start[notes]
        if best_pair < 0:
            return _Ways(start, np.full(count, -1), np.full(count, self.line.quarter_sec),
                         np.zeros(count), np.zeros(count, dtype=bool))
        jump = np.full(count, best - WEIGHTS["jump"])
        if self.note[best_pair] >= self.count - 3:
            jump[notes <= 2] = best - WEIGHTS["again"]
        jumped = jump >= start
        return _Ways(np.where(jumped, jump, start), np.where(jumped, best_pair, -1),
                     np.where(jumped, self.tempo[best_pair], self.line.quarter_sec),
                     np.where(jumped, 2.0, 0.0), jumped)

    def _steps(self, index: int, notes: npt.NDArray[np.int64], octave: npt.NDArray[np.int64],
               live: npt.NDArray[np.int64]) -> tuple[_Ways, _Ways]:
        """The best way to each note from a note shortly before, and the best of those that came
        there at another tempo: one false note makes it another."""
        before = self.note[live]
        back = notes[:, None] - before                          # (notes, pairs)
        ahead = np.maximum(self.line.quarters[notes][:, None] - self.line.quarters[before], 1e-3)
        stroke = self.stroke[live]
        took = self.strokes[index].onset_sec - self.onsets[stroke]
        tempo, known = self.tempo[live], self.known[live]
        expected = tempo * ahead
        unsure = np.where(known < 1, _TEMPO_SPREAD, 0.2 / (1 + known))
        spread = _TIMING_SEC ** 2 + (_TIMING_SHARE ** 2 + unsure ** 2) * expected ** 2
        off = np.minimum(0.5 * (took - expected) ** 2 / spread, WEIGHTS["late"])
        more = (self.played[index] - self.played[stroke] - expected) / self.beat_sec - _FREE_BEATS
        total = (self.score[live] - off - WEIGHTS["busy"] * np.maximum(more, 0.0)
                 - WEIGHTS["skip"] * (back - 1)
                 - WEIGHTS["other octave"] * (self.octave[live] != octave[:, None]))
        total[(back < 1) | (back > MOST_SKIPPED + 1) | (took < 0.02)
              | (took > expected * _LONGEST_SHARE + _LONGEST_WAIT_SEC)] = -np.inf
        each = np.arange(len(notes))

        def ways_of(total: npt.NDArray[np.float64], ways: npt.NDArray[np.int64]) -> _Ways:
            old, known_before, far = tempo[ways], known[ways], ahead[each, ways]
            trust = far / (far + 1 + known_before)
            ratio = took[ways] / far / old
            ratio = np.where(known_before < 1, np.clip(ratio, 0.4, 2.5),
                             np.clip(ratio, 0.8, 1.25))
            low, high = (self.line.quarter_sec * bound for bound in _TEMPO_BOUNDS)
            return _Ways(total[each, ways], live[ways], np.clip(old * ratio ** trust, low, high),
                         np.minimum(known_before + 1, 8.0), np.zeros(len(notes), dtype=bool))

        first = total.argmax(axis=1)
        other = np.where(np.abs(tempo / tempo[first][:, None] - 1) > _OTHER_TEMPO, total, -np.inf)
        return ways_of(total, first), ways_of(other, other.argmax(axis=1))

    def _trace(self, pair: int) -> tuple[Pair, ...]:
        found = []
        while pair >= 0:
            found.append(Pair(int(self.stroke[pair]), int(self.note[pair]),
                              bool(self.jumped[pair]), float(self.tempo[pair])))
            pair = int(self.before[pair])
        return tuple(reversed(found))
