"""A struck key, with the hand and finger that strike it."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.theory.pitch import Pitch

__all__ = ["HAND_SIZES", "LEVELS", "HandNote"]

HAND_SIZES = ("small", "medium", "large")
LEVELS = ("beginner", "intermediate", "advanced")


@dataclass(frozen=True, slots=True)
class HandNote:
    """One struck key, ties merged.

    onset_quarter, duration_quarter   score time; the duration is how long the key is held
    hand      "left" or "right"
    finger    1 (thumb) to 5; None only where the user's own notes were brought in
    role      "melody", "base" or "fill"
    gap       the number of the gap a fill note belongs to, else None
    rolled    true on each note of a chord that is rolled upwards
    """

    onset_quarter: Fraction
    duration_quarter: Fraction
    pitch: Pitch
    hand: str
    finger: int | None
    role: str
    gap: int | None = None
    rolled: bool = False

    def __post_init__(self) -> None:
        if self.duration_quarter <= 0:
            raise ValueError("a note needs a length")
        if self.hand not in ("left", "right") or self.role not in ("melody", "base", "fill"):
            raise ValueError(f"not a hand or role: {self.hand}, {self.role}")

    @property
    def midi(self) -> int:
        return self.pitch.midi

    @property
    def end_quarter(self) -> Fraction:
        return self.onset_quarter + self.duration_quarter
