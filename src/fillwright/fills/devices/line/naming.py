"""What a device of a line is: a recogniser with its sentence.

A line is found first and named afterwards. A `LineDevice` looks at the notes alone: `find`
says where it is heard, or None; `sentence` says it of exactly those notes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fillwright.fills.devices.device import Example, FillPassage
from fillwright.fills.devices.line.sounding import Line, line_of
from fillwright.fills.player import BEGINNER, Level
from fillwright.theory.pitch import Pitch

__all__ = ["Found", "LineDevice", "by_step", "leap_name", "pretty", "row", "step_word"]


@dataclass(frozen=True, slots=True)
class Found:
    """Where a device is heard: places of its notes in the line (the landing is one more), and
    what its sentence needs beside them."""

    notes: tuple[int, ...]
    word: str = ""


@dataclass(frozen=True, slots=True)
class LineDevice:
    """A device of a line.

    worth    how much of the line's idea it is: the worthiest gives the line its name
    level    the lowest that is taught it
    """

    name: str
    worth: int
    find: Callable[[Line], Found | None]
    sentence: Callable[[Line, Found], str]
    example: Example
    level: Level = BEGINNER
    family: str = "line"

    def is_taught(self, level: Level) -> bool:
        return level.is_taught(self.level)

    def is_heard_in(self, passage: FillPassage) -> bool:
        return self.find(line_of(passage)) is not None

    def says(self, passage: FillPassage) -> str:
        line = line_of(passage)
        found = self.find(line)
        if found is None:
            raise ValueError(f"{self.name} is not heard here")
        return self.sentence(line, found)


def pretty(pitch: Pitch) -> str:
    """A pitch without its octave, as it is said."""
    return pitch.note_name.pretty


def row(line: Line, notes: tuple[int, ...]) -> str:
    """Notes as they are said, one after the other."""
    return " ".join(pretty(line.pitches[i]) for i in notes)


def step_word(interval: int) -> str:
    return "half step" if abs(interval) == 1 else "step"


_LEAPS = {(3, 5): "a fourth", (3, 6): "a tritone", (4, 6): "a tritone", (4, 7): "a fifth",
          (5, 8): "a minor sixth", (5, 9): "a sixth", (6, 10): "a minor seventh",
          (6, 11): "a major seventh", (7, 12): "an octave"}


def leap_name(one: Pitch, two: Pitch) -> str:
    """``"a minor sixth"``, by letters and semitones; "" where they are not written as any leap of a
    scale: G flat to D."""
    return _LEAPS.get((abs(two.staff_position - one.staff_position), abs(two.midi - one.midi)), "")


def by_step(one: Pitch, two: Pitch) -> str:
    """``"by half step "`` or ``"by step "``, or "" where two pitches are not written as one: G flat
    to E is none on paper."""
    if abs(one.staff_position - two.staff_position) != 1:
        return ""
    return f"by {step_word(one.midi - two.midi)} "
