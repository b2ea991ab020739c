"""Lines whose landing comes early or late.

The rhythm leads to the shifted place; the left hand stays on time. A late landing runs the
line over into the landing's bar, over the landing's own chord.
"""

from __future__ import annotations

from dataclasses import replace

from fillwright.exact import Fraction
from fillwright.fills.landing import early_shift, late_shift
from fillwright.fills.model import Shift
from fillwright.fills.situation import Span, Task

__all__ = ["EARLY", "LATE", "delay_name", "shifts_of", "stretched"]

EARLY = "early landing (pushed an eighth)"
LATE = "late landing"


def shifts_of(task: Task) -> tuple[tuple[str, Shift], ...]:
    """The landings that may be shifted here, with the names of their devices."""
    found = ((EARLY, early_shift(task)), (LATE, late_shift(task)))
    return tuple((name, shift) for name, shift in found
                 if shift is not None and name not in task.without
                 and (name == EARLY or task.landing_harmony is not None))


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
