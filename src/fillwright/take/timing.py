"""What of the time is the student's habit, and what is late.

A hand that is steadily behind the beat is not late, and off-beats lie where the student puts
them: both are medians over the take. What is late is measured against the beat as it was
carried on from before: each thing played shortly before says when the note should come (by the
tempo there), and what they say together is the beat.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fillwright.exact import Fraction
from fillwright.swing import offbeat_place
from fillwright.take.beat import BeatMap
from fillwright.tune.model import Chorus

__all__ = ["PARTS", "Clock", "Habit", "HeardNote", "carried_secs"]

PARTS = ("melody", "single", "chord", "left")

_BEFORE_BEATS = 8.0         # how far back the beat is heard
_FADE_BEATS = 2.5           # and how quickly that is forgotten
_MOST_SAYS = 41             # and by how many strokes
_AGREE_SEC = 0.025          # an unnoticeable displacement (on-time band of facts on timing)
_SHRINK = 2.0               # a habit of n strokes counts n / (n + 2)


@dataclass(frozen=True, slots=True)
class Clock:
    """Where in its beat a place lies, and whether it is swung there."""

    chorus: Chorus
    straight: frozenset[Fraction] = frozenset()
    _cache: dict[Fraction, tuple[float, float, str]] = field(default_factory=dict, repr=False)

    @classmethod
    def of(cls, chorus: Chorus) -> Clock:
        """With the beats in which the tune has finer notes than eighths: those are straight."""
        phases: dict[Fraction, set[Fraction]] = {}
        plain = cls(chorus)
        for note in chorus.melody:
            beat, phase = plain.beat_of(note.onset_quarter)
            phases.setdefault(beat, set()).add(phase)
        return cls(chorus, frozenset(
            beat for beat, found in phases.items()
            if any(phase.denominator not in (1, 2) for phase in found)))

    def beat_of(self, quarter: Fraction) -> tuple[Fraction, Fraction]:
        """(where the beat begins, the phase in it from 0 to 1)."""
        bar = self.chorus.bar_at(quarter)
        unit = bar.meter.beat_quarter
        offset = quarter - bar.onset_quarter
        if bar.is_pickup:
            offset += max(bar.meter.length_quarter - bar.length_quarter, Fraction(0))
        phase = (offset % unit) / unit
        return quarter - phase * unit, phase

    def swings(self, quarter: Fraction) -> bool:
        """Whether off-beat eighths may be late there, by the meter and the feel."""
        meter = self.chorus.bar_at(quarter).meter
        return (self.chorus.feel == "swing" and not meter.is_compound and meter.beat_type <= 4)

    def place(self, quarter: Fraction) -> tuple[float, float, str]:
        """(beat's beginning, phase, kind): kind "on", "off" for a swung or straight off-beat
        eighth, else "between"."""
        if quarter not in self._cache:
            beat, phase = self.beat_of(quarter)
            kind = "on" if phase == 0 else "between"
            if phase == Fraction(1, 2) and beat not in self.straight:
                kind = "off"
            self._cache[quarter] = (float(beat), float(phase), kind)
        return self._cache[quarter]


@dataclass(frozen=True, slots=True)
class HeardNote:
    """Something whose place is known: in score time, in seconds, and how clear it is.

    part     "melody", "single" (another note of the right hand by itself), "chord" (of the right
             hand) or "left": each may be steadily late by its own
    """

    quarter: Fraction
    sec: float
    part: str
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Habit:
    """How a student plays in time: seconds from the beat (or the even eighth) by part and kind
    (see `HeardNote`, `Clock.place`).

    offbeat   where off-beat eighths are looked for at first, as a share of the beat
    """

    clock: Clock
    offbeat: float
    late_sec: Mapping[tuple[str, str], float] = field(default_factory=dict)

    @classmethod
    def at_first(cls, clock: Clock, quarter_sec: float) -> Habit:
        swung = clock.chorus.feel == "swing"
        return cls(clock, offbeat_place(60 / quarter_sec) if swung else 0.5)

    def shift_sec(self, quarter: Fraction, part: str, beat_sec: float) -> float:
        """How far from its even place something is expected."""
        _, phase, kind = self.clock.place(quarter)
        late = self.late_sec.get((part, kind), 0.0)
        if kind == "off" and self.clock.swings(quarter):
            late += (self.offbeat - phase) * beat_sec
        return late

    def expected_sec(self, quarter: Fraction, part: str, beat: BeatMap) -> float:
        """When something is expected at a place."""
        place = float(quarter)
        return beat.sec(place) + self.shift_sec(quarter, part,
                                                beat.quarter_sec(place) * beat.step_quarter)

    def expected_secs(self, places: Sequence[tuple[Fraction, str]], beat: BeatMap
                      ) -> npt.NDArray[np.float64]:
        """The same of several, each with its part."""
        quarters = np.array([float(quarter) for quarter, _ in places])
        beat_secs = (beat.quarter_secs(quarters) * beat.step_quarter).tolist()
        secs = beat.secs(quarters)
        secs += [self.shift_sec(quarter, part, beat_sec)
                 for (quarter, part), beat_sec in zip(places, beat_secs, strict=True)]
        return secs

    def offs(self, heard: Sequence[HeardNote], beat: BeatMap) -> npt.NDArray[np.float64]:
        """How far from where it is expected each was, in seconds."""
        secs = np.array([one.sec for one in heard], dtype=np.float64)
        secs -= self.expected_secs([(one.quarter, one.part) for one in heard], beat)
        return secs

    def learnt(self, heard: Sequence[HeardNote], beat: BeatMap) -> Habit:
        """The habit, heard anew from what lies how far from where."""
        offs: dict[tuple[str, str], list[float]] = {}
        for one, off in zip(heard, self.offs(heard, beat).tolist(), strict=True):
            _, _, kind = self.clock.place(one.quarter)
            offs.setdefault((one.part, kind), []).append(off)
        late = dict(self.late_sec)
        for key, values in offs.items():
            if key[1] == "between":
                continue
            trust = len(values) / (len(values) + _SHRINK)
            late[key] = late.get(key, 0.0) + trust * float(np.median(values))
        for part in PARTS:
            if (part, "on") in late:
                late[part, "between"] = late[part, "on"]
        return Habit(self.clock, self.offbeat, late)


def carried_secs(places: Sequence[Fraction], heard: Sequence[HeardNote], habit: Habit,
                 beat: BeatMap) -> list[float | None]:
    """When the beat comes at each place, carried on from what was played before it; None where
    too little was.

    heard   in order of score time; what lies at a place or after it is not looked at there
    """
    offs = habit.offs(heard, beat).tolist()
    said = [(float(one.quarter), off, one.weight) for one, off in zip(heard, offs, strict=True)]
    return [_carried_sec(float(place), said, beat) for place in places]


def _carried_sec(place: float, said: Sequence[tuple[float, float, float]], beat: BeatMap
                 ) -> float | None:
    """The same of one place, by (place, how far off, weight) of what was heard."""
    unit = beat.step_quarter
    end = bisect_left(said, place - 0.2 * unit, key=lambda one: one[0])
    says: list[tuple[float, float]] = []
    here = beat.smooth_sec(place) + beat.stepped(place, before=True)
    for quarter, off, weight in reversed(said[max(end - _MOST_SAYS, 0):end]):
        back = (place - quarter) / unit
        if back > _BEFORE_BEATS:
            break
        says.append((here + off, weight * math.exp(-back / _FADE_BEATS)))
    if len(says) < 3:
        return None
    times, weights = (np.array(column) for column in zip(*says, strict=True))
    order = np.argsort(times)
    total = np.cumsum(weights[order])
    centre = float(times[order][int(np.searchsorted(total, total[-1] / 2))])
    for _ in range(5):
        close = weights / (1 + ((times - centre) / _AGREE_SEC) ** 2)
        centre = float(np.sum(close * times) / np.sum(close))
    return centre
