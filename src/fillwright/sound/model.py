"""Played music: keys, pedal and signs in seconds.

Written music (`fillwright.arranging.model.Arrangement`) knows no swing; a `Performance` knows
nothing else. All times are seconds from the first instant of what is played.
"""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.theory.key import Key
from fillwright.tune.model import Meter

__all__ = ["Marker", "PedalEvent", "Performance", "PlayedBar", "PlayedNote"]


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """One key going down and up again.

    duration_sec   how long the key is held; the pedal may let it sound longer
    velocity       1 to 127
    index          place of the struck key in `Arrangement.notes`
    """

    onset_sec: float
    duration_sec: float
    midi: int
    velocity: int
    hand: str
    index: int

    def __post_init__(self) -> None:
        if self.onset_sec < 0 or self.duration_sec <= 0:
            raise ValueError("a played note starts at or after zero and has a length")
        if not 1 <= self.velocity <= 127 or not 0 <= self.midi <= 127:
            raise ValueError(f"not a MIDI note: {self.midi} at velocity {self.velocity}")

    @property
    def release_sec(self) -> float:
        return self.onset_sec + self.duration_sec


@dataclass(frozen=True, slots=True)
class PedalEvent:
    """The damper pedal goes down or comes up."""

    onset_sec: float
    down: bool


@dataclass(frozen=True, slots=True)
class Marker:
    """A chord symbol at the place where it is played."""

    onset_sec: float
    text: str


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """A bar of the chorus: where it begins, how long it is, and its signatures.

    length_sec       of what is played of it
    length_quarter   the same as a written length: a pickup is shorter than its meter
    """

    onset_sec: float
    length_sec: float
    length_quarter: Fraction
    meter: Meter
    key: Key
    number: str
    is_pickup: bool = False


@dataclass(frozen=True, slots=True)
class Performance:
    """An arrangement in seconds.

    notes                 ordered by onset, then MIDI number
    pedals                ordered; downs and ups alternate, beginning with a down
    markers               chord symbols, ordered
    bars                  ordered, without holes
    quarters_per_minute   the steady tempo behind the bars
    length_sec            the end of the last bar; keys or pedal may let it ring longer
    """

    title: str
    notes: tuple[PlayedNote, ...]
    pedals: tuple[PedalEvent, ...]
    markers: tuple[Marker, ...]
    bars: tuple[PlayedBar, ...]
    quarters_per_minute: float
    length_sec: float

    def __repr__(self) -> str:
        return (f"<Performance of {self.title!r}: {self.length_sec:.0f} seconds, "
                f"{len(self.notes)} notes>")

    @property
    def seconds_per_quarter(self) -> float:
        return 60.0 / self.quarters_per_minute

    @property
    def sounding_end_sec(self) -> float:
        """When the last key or the pedal has come up."""
        ends = [note.release_sec for note in self.notes]
        ends += [event.onset_sec for event in self.pedals]
        return max(ends, default=0.0)

    def pedal_spans(self) -> tuple[tuple[float, float], ...]:
        """(down, up) in seconds of each time the pedal is held."""
        times = [event.onset_sec for event in self.pedals]
        return tuple(zip(times[::2], times[1::2], strict=True))
