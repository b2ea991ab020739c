"""Gaps that stand in the same surroundings get the same options, moved to their place.

The A sections of a tune repeat; what a family proposes depends only on what is near the
gap. `surroundings` is everything a family may look at, with times counted from the gap's
onset; where it is equal, the fills are equal but for their place.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace
from fractions import Fraction

from fillwright.fills.finish import gap_place
from fillwright.fills.model import Fill, Shift
from fillwright.fills.situation import GapContext

__all__ = ["moved", "surroundings"]

_AFTER_BARS = 2
"""How far past the landing a family may look: a late landing is back within a bar."""


def surroundings(context: GapContext) -> Hashable:
    """Everything near a gap that its options depend on, relative to its onset."""
    chorus, gap = context.chorus, context.gap
    zero = gap.onset_quarter
    start = min([n.onset_quarter for n in context.phrase] + [zero])
    start = min(start, chorus.bar_at(start).onset_quarter)
    stop = gap.end_quarter + _AFTER_BARS * context.meter.length_quarter
    melody = tuple((n.onset_quarter - zero, n.duration_quarter, n.pitch, n.tied)
                   for n in chorus.melody if start <= n.onset_quarter <= stop)
    bars = tuple((bar.onset_quarter - zero, bar.length_quarter, bar.meter, bar.key,
                  bar.is_pickup)
                 for bar in chorus.bars if bar.end_quarter > start and bar.onset_quarter <= stop)
    chords = tuple((span.onset_quarter - zero, min(span.end_quarter, stop) - zero, harmony)
                   for span, harmony in zip(chorus.chords, chorus.harmonies, strict=True)
                   if span.end_quarter > start and span.onset_quarter <= stop)
    following = context.following_gap_quarter
    return (melody, bars, chords, len(context.phrase), len(context.following),
            None if following is None else following - zero, gap.duration_quarter, gap.why,
            gap.held is None, gap.landing is None, context.previous_harmony, chorus.key,
            min(chorus.length_quarter, stop) - zero, context.level, context.hand,
            context.without)


def moved(fill: Fill, origin: GapContext, target: GapContext) -> Fill:
    """A fill of one gap in another gap with the same surroundings."""
    by = target.onset_quarter - origin.onset_quarter
    fill_id = gap_place(target) + fill.id[len(gap_place(origin)):]
    return replace(
        fill, id=fill_id, gap=target.gap.number,
        notes=tuple(replace(n, onset_quarter=n.onset_quarter + by, gap=target.gap.number)
                    for n in fill.notes),
        chords=tuple(replace(c, onset_quarter=c.onset_quarter + by,
                             fill=fill_id if c.added else None) for c in fill.chords),
        counted=tuple((place + by, word) for place, word in fill.counted),
        melody_until_quarter=fill.melody_until_quarter + by,
        shift=None if fill.shift is None else _shifted(fill.shift, by))


def _shifted(shift: Shift, by: Fraction) -> Shift:
    return Shift(shift.landing_quarter + by, shift.back_quarter + by)
