"""A run as it was heard: its notes, the student's beat and habits."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.take.beat import BeatMap
from fillwright.take.match import Match
from fillwright.take.runs import Run
from fillwright.take.timing import Habit, HeardNote

__all__ = ["HeardRun"]


@dataclass(frozen=True, slots=True)
class HeardRun:
    """A run as it was heard.

    matches    the notes that it came by
    heard      all whose place is known, by score time
    carried    for each match the second at which the beat brings it, habits included
    """

    run: Run
    matches: tuple[Match, ...]
    beat: BeatMap
    habit: Habit
    heard: tuple[HeardNote, ...]
    carried: tuple[float, ...]
