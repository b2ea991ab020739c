"""Lines whose landing comes early or late.

The rhythm leads to the shifted place; the left hand stays on time. A late landing runs the
line over into the landing's bar, over the landing's own chord.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from fillwright.exact import Fraction
from fillwright.fills.devices.device import Example, FillPassage
from fillwright.fills.devices.line.naming import pretty
from fillwright.fills.landing import early_shift, late_shift
from fillwright.fills.model import Shift
from fillwright.fills.player import Level
from fillwright.fills.situation import Span, Task
from fillwright.theory.pitch import Pitch

__all__ = ["EARLY", "LATE", "SHIFTED_LANDINGS", "ShiftedLanding", "says_shifted", "shifts_of",
           "stretched"]

@dataclass(frozen=True, slots=True)
class ShiftedLanding:
    """A line whose landing comes early, or late: it is heard in the landing, not in the line."""

    name: str
    example: Example
    family: str = "line"

    def is_taught(self, level: Level) -> bool:
        return level.line.foreign

    def is_heard_in(self, passage: FillPassage) -> bool:
        off = _off(passage)
        return passage.landing is not None and (off < 0 if self.name == EARLY else off > 0)

    def says(self, passage: FillPassage) -> str:
        if passage.landing is None or not self.is_heard_in(passage):
            raise ValueError(f"{self.name} is not heard here")
        return says_shifted(passage.landing, _off(passage), passage.beat_quarter)


def _off(passage: FillPassage) -> Fraction:
    return passage.end_quarter - passage.chords[-1].end_quarter


def says_shifted(landing: Pitch, off_quarter: Fraction, beat_quarter: Fraction, place: str = "",
                 back: str = "") -> str:
    """What is said of a landing that comes early or late, with its `place` as it is counted, and
    where the melody is `back` in place, as far as they are known."""
    name = pretty(landing)
    where = f", on {place}" if place else ""
    if off_quarter < 0:
        return (f"The landing is pushed: the melody's {name} comes an eighth early{where}, "
                "and the left hand stays on time.")
    squeezed = (f", the melody after it is squeezed by a third and is back in place on {back}"
                if back else "")
    return (f"The line runs on past the melody's own place: the landing {name} comes "
            f"{delay_name(off_quarter, beat_quarter)} late{where}{squeezed}; the left hand stays "
            "on time.")


EARLY = "early landing (pushed an eighth)"
LATE = "late landing"
SHIFTED_LANDINGS = (
    ShiftedLanding(EARLY, Example("G7 4", "0 4 G2 F3", "1.5 0.5 B4, 2 0.5 D5, 2.5 1 F5",
                                  landing="Cmaj7 E5 3.5")),
    ShiftedLanding(LATE, Example("G7 4", "0 4 G2 F3, 4 2 C3 E3",
                                 "2 0.5 G4, 2.5 0.5 A4, 3 0.5 B4, 3.5 0.5 C5, 4 1 D5",
                                 landing="Cmaj7 E5 5")))


_SAYABLE = (Fraction(1, 2), Fraction(2, 3), Fraction(1))
"""Beats that a landing may be late, so that the count can be said; and it lies on a beat itself."""


def shifts_of(task: Task) -> tuple[tuple[str, Shift], ...]:
    """The landings that may be shifted here, with the names of their devices."""
    late = late_shift(task)
    if late is not None and _repeated(task):
        late = None
    if late is not None and ((late.landing_quarter - task.end_quarter) / task.beat_quarter
                             not in _SAYABLE or task.beat_at(task.end_quarter).denominator != 1):
        late = None
    found = ((EARLY, early_shift(task)), (LATE, late))
    return tuple((name, shift) for name, shift in found
                 if shift is not None and name not in task.without
                 and (name == EARLY or task.landing_harmony is not None))


def _repeated(task: Task) -> bool:
    """Whether the melody strikes the landing's key again right after it: one that comes late among
    its like is only one less."""
    return len(task.following) > 1 and task.following[1].pitch.midi == task.landing_midi


def stretched(spans: tuple[Span, ...], task: Task, shift: Shift | None) -> tuple[Span, ...]:
    """The chords of a line with a shifted landing: where the landing is late, its chord is one
    of the chords the line plays over."""
    harmony = task.landing_harmony
    if shift is None or harmony is None or shift.landing_quarter <= task.end_quarter:
        return spans
    last = spans[-1]
    if last.harmony.symbol == harmony.symbol:
        return (*spans[:-1], replace(last, end_quarter=shift.landing_quarter))
    return (*spans, Span(task.end_quarter, shift.landing_quarter, harmony))


def delay_name(quarters: Fraction, beat_quarter: Fraction) -> str:
    """How late a landing is, in words."""
    beats = quarters / beat_quarter
    return {Fraction(1): "a beat", Fraction(1, 2): "half a beat",
            Fraction(2, 3): "two thirds of a beat",
            Fraction(1, 3): "a third of a beat"}.get(beats, f"{beats} of a beat")
