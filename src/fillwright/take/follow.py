"""Where in the tune each stroke may be: the first, coarse look.

A path goes through pairs (stroke, melody note), in order of time: this stroke is that note.
What lies between two pairs is accompaniment, fill or slip, and costs nothing; melody notes that
are passed over cost a little each, and a path may jump to any note of the tune at a price of
about five notes. Each pair keeps the tempo of its best way here, so that the next note is
expected at a time. For every stroke only the last few pairs of the preceding notes are looked
at, so that the work grows with the strokes.

The path says which stroke is which note well enough to know where in the form the student was;
`match` looks closer once the beat is known.
"""

from __future__ import annotations

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
})
MOST_SKIPPED = 6
"""Melody notes passed over at once; more is a jump."""

_RECENT = 16            # pairs of one melody note that are kept
_NEAR_SEC = 0.035       # strokes this near are one chord (facts of touch: spreads up to 30 ms)
_TIMING_SEC = 0.04      # how exactly anyone plays, and how exactly a tempo is kept
_TIMING_SHARE = 0.08
_TEMPO_SPREAD = 0.35    # of a student's tempo around the marked one, in log; common practice
_LONGEST_WAIT_SEC = 6.0
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


class _Search:
    """Pairs as rows of arrays; per melody note a ring of the last of them."""

    def __init__(self, strokes: Sequence[Stroke], line: MelodyLine) -> None:
        self.strokes, self.line = strokes, line
        self.count = len(line)
        chord = clusters(strokes)
        tops: dict[int, int] = {}
        for index, stroke in enumerate(strokes):
            tops[chord[index]] = max(stroke.midi, tops.get(chord[index], 0))
        self.is_top = [stroke.midi == tops[chord[index]] for index, stroke in enumerate(strokes)]
        self.beat_sec = line.quarter_sec * line.beat_quarter
        onsets = np.array([stroke.onset_sec for stroke in strokes])
        self.played = np.cumsum(np.minimum(np.diff(onsets, prepend=onsets[:1]),
                                           _SILENCE_BEATS * self.beat_sec))
        self.of_class = [np.flatnonzero(line.midis % 12 == pc) for pc in range(12)]
        shape = (self.count + MOST_SKIPPED + 1, _RECENT)    # rows before the first note: none
        self.score = np.full(shape, -np.inf)
        self.onset = np.zeros(shape)
        self.tempo = np.full(shape, line.quarter_sec)
        self.known = np.zeros(shape)        # how many steps the tempo rests on
        self.octave = np.zeros(shape)
        self.busy = np.zeros(shape)         # seconds of playing until there, silences left out
        self.pair = np.full(shape, -1, dtype=np.int64)
        self.used = np.zeros(shape[0], dtype=np.int64)
        self.pairs: list[tuple[int, int, int, bool, float]] = []
        # (stroke, note, pair before, jumped, tempo)
        quarters = np.concatenate([np.full(MOST_SKIPPED + 1, -np.inf), line.quarters])
        self.back = np.arange(1, MOST_SKIPPED + 2)
        rows = np.arange(self.count)[:, None] + MOST_SKIPPED + 1 - self.back[None, :]
        self.rows = rows                                        # (note, step back)
        self.ahead = np.maximum(line.quarters[:, None] - quarters[rows], 1e-3)
        self.ahead[~np.isfinite(self.ahead)] = 1.0

    def run(self) -> Followed:
        best, best_pair = -np.inf, -1           # of all pairs that are over
        waiting: list[tuple[float, float, int]] = []    # (onset, score, pair), not yet over
        answer, answer_pair, answer_score = 0.0, -1, 0.0
        for index, stroke in enumerate(self.strokes):
            while waiting and waiting[0][0] < stroke.onset_sec - 2 * _NEAR_SEC:
                _, score, pair = waiting.pop(0)
                if score > best:
                    best, best_pair = score, pair
            notes = self.of_class[stroke.midi % 12]
            if not len(notes):
                continue
            for score, pair in self._place(index, stroke, notes, best, best_pair):
                waiting.append((stroke.onset_sec, score, pair))
                left = self.count - 1 - self.pairs[pair][1]
                ended = score - min(WEIGHTS["skip"] * left, WEIGHTS["stopped"])
                if ended > answer:
                    answer, answer_pair, answer_score = ended, pair, score
        return Followed(self._trace(answer_pair), answer_score)

    def _place(self, index: int, stroke: Stroke, notes: npt.NDArray[np.int64], best: float,
               best_pair: int) -> list[tuple[float, int]]:
        octave = (stroke.midi - self.line.midis[notes]) // 12
        own = (WEIGHTS["match"] + (WEIGHTS["top"] if self.is_top[index] else 0.0)
               - WEIGHTS["octave"] * np.abs(octave))
        steps, ways, tempos, knowns = self._steps(index, notes, octave)
        start = -np.minimum(WEIGHTS["skip"] * notes, WEIGHTS["elsewhere"])
        jump = np.full(len(notes), -np.inf)
        jump_tempo = self.line.quarter_sec
        if best_pair >= 0:
            jump = np.full(len(notes), best - WEIGHTS["jump"])
            _, last, _, _, jump_tempo = self.pairs[best_pair]
            if last >= self.count - 3:
                jump[notes <= 2] = best - WEIGHTS["again"]
        found = []
        for place, note in enumerate(notes):
            score = max(steps[place], start[place], jump[place])
            if score == steps[place]:
                before, jumped = int(ways[place]), False
                tempo, known = tempos[place], knowns[place]
            elif score == jump[place]:
                before, jumped, tempo, known = best_pair, True, jump_tempo, 2.0
            else:
                before, jumped, tempo, known = -1, False, self.line.quarter_sec, 0.0
            score += own[place]
            pair = len(self.pairs)
            self.pairs.append((index, int(note), before, jumped, float(tempo)))
            self._keep(int(note), index, (score, tempo, known, octave[place]), pair)
            found.append((float(score), pair))
        return found

    def _keep(self, note: int, index: int, values: tuple[float, float, float, float],
              pair: int) -> None:
        row = note + MOST_SKIPPED + 1
        slot = self.used[row] % _RECENT
        self.used[row] += 1
        self.onset[row, slot] = self.strokes[index].onset_sec
        self.busy[row, slot], self.pair[row, slot] = self.played[index], pair
        (self.score[row, slot], self.tempo[row, slot], self.known[row, slot],
         self.octave[row, slot]) = values

    def _steps(self, index: int, notes: npt.NDArray[np.int64], octave: npt.NDArray[np.int64]
               ) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.int64],
                          npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """The best way to each note from a note shortly before: score, pair, tempo, how well
        that is known."""
        rows = self.rows[notes]                                 # (notes, back)
        ahead = self.ahead[notes][:, :, None]                   # (notes, back, 1)
        took = self.strokes[index].onset_sec - self.onset[rows]     # (notes, back, recent)
        tempo, known = self.tempo[rows], self.known[rows]
        expected = tempo * ahead
        spread = np.sqrt(_TIMING_SEC ** 2 + (_TIMING_SHARE * expected) ** 2
                         + (np.where(known < 1, _TEMPO_SPREAD, 0.2 / (1 + known)) * expected) ** 2)
        off = np.minimum(0.5 * ((took - expected) / spread) ** 2, WEIGHTS["late"])
        more = (self.played[index] - self.busy[rows] - expected) / self.beat_sec - _FREE_BEATS
        off += WEIGHTS["busy"] * np.maximum(more, 0.0)
        total = (self.score[rows] - off - WEIGHTS["skip"] * (self.back - 1)[None, :, None]
                 - WEIGHTS["other octave"] * (self.octave[rows] != octave[:, None, None]))
        total[(took < 0.02) | (took > expected * 2.5 + _LONGEST_WAIT_SEC)] = -np.inf
        flat = total.reshape(len(notes), -1)
        ways = flat.argmax(axis=1)
        each = np.arange(len(notes))

        def chosen(values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
            result: npt.NDArray[np.float64] = np.broadcast_to(values, total.shape).reshape(
                len(notes), -1)[each, ways]
            return result

        step_tempo = chosen(took) / chosen(ahead)
        old, known_before = chosen(tempo), chosen(known)
        trust = chosen(ahead) / (chosen(ahead) + 1 + known_before)
        low, high = (self.line.quarter_sec * bound for bound in _TEMPO_BOUNDS)
        ratio = np.clip(step_tempo / old, 0.8, 1.25)
        ratio = np.where(known_before < 1, np.clip(step_tempo / old, 0.4, 2.5), ratio)
        new = np.clip(old * ratio ** trust, low, high)
        pairs = self.pair[rows].reshape(len(notes), -1)[each, ways]
        return flat[each, ways], pairs, new, np.minimum(known_before + 1, 8.0)

    def _trace(self, pair: int) -> tuple[Pair, ...]:
        found = []
        while pair >= 0:
            stroke, note, before, jumped, tempo = self.pairs[pair]
            found.append(Pair(stroke, note, jumped, tempo))
            pair = before
        return tuple(reversed(found))
