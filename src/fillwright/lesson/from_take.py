"""How a gap of a take went, in the words of the scheduler.

A description becomes a rating by what brings a student on: that the gap was answered, and that
the hand was back in time. The limits are design choices, in parts of a beat: a tenth is hardly
heard, a quarter is, half a beat is a stumble.
"""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.errors import InputError
from fillwright.take import Report

__all__ = ["TakeRating", "rating_of"]

_EASY, _GOOD, _HARD = 0.1, 0.25, 0.5


@dataclass(frozen=True, slots=True)
class TakeRating:
    """A rating of `students.RATINGS`, the tempo it was played at, and the sentence that says
    why."""

    rating: str
    tempo: int
    why: str


def rating_of(report: Report, gap: int) -> TakeRating:
    """How a gap went the last time it was come by. Raises InputError where it never was."""
    heard = [one for one in report.gaps if one.gap.number == gap]
    if not heard:
        raise InputError(f"the take does not come by gap {gap}", report.take.name)
    last = heard[-1]
    tempo = round(report.tempo_mean)
    if last.answer == "open":
        return TakeRating("again", tempo, "Nothing was played in the gap.")
    if last.gap.landing is None:
        rating = "hard" if last.findings else "good"
        return TakeRating(rating, tempo, f"It was answered with a {last.answer} fill.")
    if last.back_late_beats is None:
        return TakeRating("again", tempo, "The landing was not played.")
    off = abs(last.back_late_beats)
    rating = ("again" if off > _HARD else "hard" if off > _GOOD or last.findings
              else "good" if off > _EASY else "easy")
    when = "late" if last.back_late_beats > 0 else "early"
    place = ("The hand was back in time" if off <= _EASY else
             f"The landing came {off:.1f} beats {when}")
    finding = f" {last.findings[0].sentence}" if last.findings and off <= _HARD else ""
    return TakeRating(rating, tempo, f"{place}.{finding}")
