"""How loud a chorus is, section by section: one plan for the page and for the performance.

A chorus grows: it begins softly, is one step louder in contrasting sections and in the last
one, a second chorus one step more, its one shout a step more; it draws back once before it
rises, and it comes to rest over its last
bars (common practice).
Between two levels there is a hairpin over the bar that leads there; so few marks are needed.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from itertools import pairwise

from fillwright.arranging.articulation import Swell, Touch
from fillwright.arranging.model import Arrangement
from fillwright.arranging.sections import Section, quiet_of, sections_of
from fillwright.exact import Fraction
from fillwright.fills.place import is_height
from fillwright.fills.tempo import Tempo
from fillwright.tune.extend import second_chorus_quarter
from fillwright.tune.model import Chorus

__all__ = ["LADDER", "DynamicPlan", "Hairpin", "free_swells", "plan_dynamics"]

LADDER = ("p", "mp", "mf", "f")
"""The levels, each a step above the one before."""

_LEAST_BARS = 8
"""A shorter piece has one level, and none is printed."""


@dataclass(frozen=True, slots=True)
class Hairpin:
    """From one step of `LADDER` to another over a stretch of the chorus."""

    onset_quarter: Fraction
    end_quarter: Fraction
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class DynamicPlan:
    """levels   (place, step of `LADDER`), the first at 0, each another than the one before
    hairpins    in order, none over another"""

    levels: tuple[tuple[Fraction, int], ...]
    hairpins: tuple[Hairpin, ...] = ()

    def step_at(self, onset_quarter: Fraction) -> float:
        """The step of the ladder at a place, between two steps inside a hairpin."""
        for pin in self.hairpins:
            if pin.onset_quarter <= onset_quarter < pin.end_quarter:
                way = (onset_quarter - pin.onset_quarter) / (pin.end_quarter - pin.onset_quarter)
                return pin.first + float(way) * (pin.last - pin.first)
        return float(next(step for place, step in reversed(self.levels)
                          if place <= onset_quarter))


def plan_dynamics(arrangement: Arrangement) -> DynamicPlan:
    """The levels and hairpins of an arrangement."""
    chorus = arrangement.chorus
    soft = 0 if Tempo.of_chorus(chorus) is Tempo.BALLAD else 1
    bars = [bar for bar in chorus.bars if not bar.is_pickup]
    if len(bars) < _LEAST_BARS:
        return DynamicPlan(((Fraction(0), soft + 1),))
    second = (second_chorus_quarter(chorus) if arrangement.options.choruses == 2
              else chorus.length_quarter)
    sections = sections_of(chorus)
    closes = {second, chorus.length_quarter,
              *(section.onset_quarter for section in sections if section.name == "E")}
    steps = [soft + _louder(section, closes) + (section.onset_quarter >= second)
             for section in sections]
    stretches = _drawn_back(chorus, [(section.onset_quarter, step) for section, step
                                     in zip(sections, steps, strict=True)])
    levels = [stretches[0]]
    pins: list[Hairpin] = []
    for (since, first), (onset, last) in pairwise(stretches):
        if first != last:
            pins.append(Hairpin(_lead_in(chorus, since, onset), onset, first, last))
            levels.append((onset, last))
    rest = bars[-1].onset_quarter
    start = _lead_in(chorus, stretches[-1][0], rest)
    if start > levels[-1][0] and steps[-1] > 0:
        pins.append(Hairpin(start, rest, steps[-1], steps[-1] - 1))
        levels.append((rest, steps[-1] - 1))
    # Where a section is a bar or none, nothing leads there.
    return _with_shout(arrangement, DynamicPlan(
        tuple(levels), tuple(p for p in pins if p.onset_quarter < p.end_quarter)))


def _with_shout(arrangement: Arrangement, plan: DynamicPlan) -> DynamicPlan:
    """The plan with the shout a step louder, where no other level or hairpin is in its way."""
    gaps = {gap.number: gap for gap in arrangement.gaps}
    fill = next((one for one in arrangement.fills if is_height(one.id)), None)
    if fill is None:
        return plan
    start = min(n.onset_quarter for n in fill.notes if n.hand == "right")
    end = gaps[fill.gap].end_quarter
    step = int(plan.step_at(start))
    busy = any(start <= place <= end for place, _ in plan.levels) or any(
        pin.onset_quarter < end and start < pin.end_quarter for pin in plan.hairpins)
    if busy or step + 1 == len(LADDER):
        return plan
    return DynamicPlan(tuple(sorted([*plan.levels, (start, step + 1), (end, step)])), plan.hairpins)


def free_swells(plan: DynamicPlan, touch: Touch) -> tuple[Swell, ...]:
    """The swells of the fills that meet no hairpin between levels, which has the word there, and
    lead to no level on the other side: none rises into a softer one."""
    return tuple(swell for swell in touch.swells if not any(
        pin.onset_quarter < swell.end_quarter and swell.onset_quarter < pin.end_quarter
        for pin in plan.hairpins) and not any(
        swell.onset_quarter < place <= swell.end_quarter and (step > before) != swell.rises
        for (_, before), (place, step) in pairwise(plan.levels)))


def _louder(section: Section, closes: Collection[Fraction]) -> int:
    """One step for a contrasting section and for the last of a chorus, none for the others.

    closes   where choruses end, before an ending or after it
    """
    if section.name == "I":  # an introduction
        return 0
    is_last = section.end_quarter in closes and section.onset_quarter > 0
    return int(section.contrast or is_last)


def _drawn_back(chorus: Chorus, stretches: list[tuple[Fraction, int]]
                ) -> list[tuple[Fraction, int]]:
    """Where levels begin, with the quiet place a step softer than what is around it."""
    quiet = quiet_of(chorus)
    if quiet is None:
        return stretches
    start, end = quiet
    before = next((step for onset, step in reversed(stretches) if onset < start), 0)
    own = next(step for onset, step in reversed(stretches) if onset <= start)
    after = next(step for onset, step in reversed(stretches) if onset <= end)
    return [*((onset, step) for onset, step in stretches if onset < start),
            (start, max(min(before, own) - 1, 0)), (end, after),
            *((onset, step) for onset, step in stretches if onset > end)]


def _lead_in(chorus: Chorus, start: Fraction, end: Fraction) -> Fraction:
    """Where the bar that leads to a place begins, at a place before it at the earliest."""
    inside = [bar for bar in chorus.bars if not bar.is_pickup
              and start <= bar.onset_quarter < end]
    return inside[-1].onset_quarter if inside else end
