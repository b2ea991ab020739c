"""A take: what a student played, as key strokes in seconds.

Second 0 is the first stroke. Nothing here knows of a tune.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

__all__ = ["PEDAL_DOWN", "ROLL_SEC", "TOGETHER_SEC", "PedalMove", "Stroke", "Take"]

PEDAL_DOWN = 64
"""From this value on the damper pedal holds the strings (General MIDI: 64 and above is on)."""
TOGETHER_SEC = 0.06
"""Struck with the melody: the melody leads what it is struck with by some 30 ms (Goebl, JASA 110,
2001), twice that is still one stroke (common practice)."""
ROLL_SEC = 0.045
"""From key to key of a chord: rolled by a hand, or struck at once (common practice)."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """One key going down and up again.

    event        place among the strokes of its take, from 0
    release_sec  when the key comes up; the pedal may let it sound longer (`until_sec`)
    until_sec    when it ceases to sound: the key is up and the pedal too, or the key is struck
                 again
    velocity     1 to 127
    track        the track of the file it stood in, from 0
    """

    event: int
    onset_sec: float
    release_sec: float
    until_sec: float
    midi: int
    velocity: int
    track: int = 0

    def __post_init__(self) -> None:
        if not self.onset_sec <= self.release_sec <= self.until_sec:
            raise ValueError("a key comes up after it goes down, and sounds until then at least")
        if not 1 <= self.velocity <= 127 or not 0 <= self.midi <= 127:
            raise ValueError(f"not a MIDI note: {self.midi} at velocity {self.velocity}")


@dataclass(frozen=True, slots=True)
class PedalMove:
    """The damper pedal is moved: 0 is up, 127 is down, and there is much between."""

    onset_sec: float
    value: int


@dataclass(frozen=True, slots=True)
class Take:
    """What was played.

    name      the file's name, no folder
    strokes   one a note-on, by time, then by track; `event` counts them
    pedal     moves of the damper pedal, by time
    warnings  what had to be understood with good will, one sentence each
    """

    name: str
    strokes: tuple[Stroke, ...]
    pedal: tuple[PedalMove, ...] = ()
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        onsets = [stroke.onset_sec for stroke in self.strokes]
        if onsets != sorted(onsets):
            raise ValueError("the strokes of a take are in order of time")
        if [stroke.event for stroke in self.strokes] != list(range(len(self.strokes))):
            raise ValueError("the strokes of a take are counted from 0")

    def __repr__(self) -> str:
        return (f"<Take {self.name!r}: {len(self.strokes)} strokes in "
                f"{self.length_sec:.0f} seconds>")

    @property
    def length_sec(self) -> float:
        """From the first stroke to the last key that comes up."""
        return max((stroke.release_sec for stroke in self.strokes), default=0.0)

    def pedal_at(self, sec: float) -> int:
        """How far down the pedal is, 0 to 127."""
        index = bisect_right(self.pedal, sec, key=lambda move: move.onset_sec)
        return self.pedal[index - 1].value if index else 0
