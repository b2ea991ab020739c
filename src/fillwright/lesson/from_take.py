"""How a gap of a take went, or a device wherever it was played, in the words of the scheduler.

A description becomes a rating by what brings a student on: that the gap was answered, and that
the hand was back in time. The limits are design choices, in parts of a beat: a tenth is hardly
heard, a quarter is, half a beat is a stumble.
"""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.errors import InputError
from fillwright.fills.devices.registry import device_names, is_called
from fillwright.lesson.students import RATINGS
from fillwright.take import Report
from fillwright.take.report import GapHeard

__all__ = ["TakeRating", "devices_heard", "rating_of", "rating_of_device"]

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
    rating, why = _went(heard[-1])
    return TakeRating(rating, round(report.tempo_mean), why)


def rating_of_device(report: Report, device: str) -> TakeRating:
    """How a device went, by the gaps in which it was the nearest to what was played: as in the
    middle one of them, and of two as in the worse. Raises InputError where it is in none."""
    heard = [one for one in report.gaps if _has(one, device)]
    if not heard:
        raise InputError(f"{device} is not heard in it", report.take.name)
    rows = sorted(((*_went(one), one.gap.bar) for one in heard),
                  key=lambda row: RATINGS.index(row[0]))
    rating, why, bar = rows[(len(rows) - 1) // 2]
    where = f"Bar {bar}" if len(rows) == 1 else (
        f"Heard in {len(rows)} gaps, and the middle one is that of bar {bar}")
    return TakeRating(rating, round(report.tempo_mean), f"{where}: {why}")


def devices_heard(report: Report) -> tuple[str, ...]:
    """The devices that are the nearest to what was played, each once: those of the tables, and what
    was played by its whole name, as a student may practise it."""
    names = [name for names in device_names().values() for name in names]
    whole = [one.device for one in report.gaps if one.device is not None]
    return tuple(name for name in dict.fromkeys([*names, *whole])
                 if any(_has(one, name) for one in report.gaps))


def _has(heard: GapHeard, device: str) -> bool:
    return (heard.device is not None and heard.answer != "open"
            and is_called(heard.device, device))


def _went(heard: GapHeard) -> tuple[str, str]:
    """The rating of a gap, and the sentence that says why."""
    if heard.answer == "open":
        return "again", "Nothing was played in the gap."
    if heard.gap.landing is None:
        rating = "hard" if heard.findings else "good"
        return rating, f"It was answered with a {heard.answer} fill."
    if heard.back_late_beats is None:
        return "again", "The landing was not played."
    off = abs(heard.back_late_beats)
    rating = ("again" if off > _HARD else "hard" if off > _GOOD or heard.findings
              else "good" if off > _EASY else "easy")
    when = "late" if heard.back_late_beats > 0 else "early"
    place = ("The hand was back in time" if off <= _EASY else
             f"The landing came {heard.amount_words} {when}")
    finding = f" {heard.findings[0].sentence}" if heard.findings and off <= _HARD else ""
    return rating, f"{place}.{finding}"
