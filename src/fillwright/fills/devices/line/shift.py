"""Lines whose landing comes early or late.

The rhythm leads to the shifted place; the left hand stays on time. A late landing runs the
line over into the landing's bar, over the landing's own chord.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from fillwright.fills.devices.line.figures import moves_for, plans
from fillwright.fills.devices.line.frame import Cell, Frame
from fillwright.fills.devices.line.phrase import phrases, suitable_styles
from fillwright.fills.landing import early_shift, late_shift
from fillwright.fills.model import Shift
from fillwright.fills.situation import Span, Task

__all__ = ["EARLY", "LATE", "shifted", "stretched"]

EARLY = "early landing (pushed an eighth)"
LATE = "late landing"
_BASE = {EARLY: 10, LATE: 13}
"""What the surprise costs, per eight notes (common practice: a spice)."""

_LEAST_NOTES = {EARLY: 2, LATE: 4}
"""A line that makes the melody wait has to have something to say."""

_PLANS = 4


def stretched(context: Task, shift: Shift | None) -> Task:
    """The context of a line with a shifted landing: where the landing is late, the landing's
    chord is one of the chords the line plays over."""
    harmony = context.landing_harmony
    if shift is None or harmony is None or shift.landing_quarter <= context.end_quarter:
        return context
    last = context.spans[-1]
    if last.harmony.symbol == harmony.symbol:
        longer = Span(last.onset_quarter, shift.landing_quarter, last.harmony)
        return replace(context, spans=(*context.spans[:-1], longer))
    return replace(context, spans=(*context.spans, Span(context.end_quarter,
                                                        shift.landing_quarter, harmony)))


def shifted(context: Task) -> Iterator[Cell]:
    """Both kinds, on two styles of rhythm each; from the intermediate level up."""
    if context.level == "beginner":
        return
    for device, shift in ((EARLY, early_shift(context)), (LATE, late_shift(context))):
        if shift is None or device in context.without:
            continue
        if device == LATE and context.landing_harmony is None:
            continue
        wider = stretched(context, shift)
        frame = Frame(wider)
        triplets = shift.landing_quarter.denominator == 3
        styles = ("triplets",) if triplets else suitable_styles(context)[:2]
        last_from = (context.end_quarter if device == LATE
                     else shift.landing_quarter - context.beat_quarter)
        for phrase in phrases(wider, styles, each=2 if triplets else 1,
                              landing_quarter=shift.landing_quarter, last_from=last_from):
            if len(phrase) < _LEAST_NOTES[device]:
                continue
            for turn, _, moves in plans(len(phrase) - 1, frame.turn, _PLANS):
                problem = frame.problem(phrase, ("arch", "falling")[turn % 2], above=True,
                                        chromatic=context.level == "advanced")
                if problem is None:
                    continue
                # where the melody is waited for, its own key would be taken for it
                pools = tuple(tuple(m for m in pool if m != problem.landing
                                    or slot.onset_quarter < context.end_quarter)
                              for slot, pool in zip(problem.slots, problem.pools, strict=True))
                if all(pools):
                    yield Cell(device, phrase, replace(problem, pools=pools,
                                                       moves=moves_for(moves)),
                               _BASE[device], shift=shift)


def delay_name(quarters: Fraction, beat_quarter: Fraction) -> str:
    """How late a landing is, in words."""
    beats = quarters / beat_quarter
    return {Fraction(1): "a beat", Fraction(1, 2): "half a beat",
            Fraction(2, 3): "two thirds of a beat",
            Fraction(1, 3): "a third of a beat"}.get(beats, f"{beats} of a beat")
