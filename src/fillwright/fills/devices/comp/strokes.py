"""Strokes of the hands before it is known which keys they take."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.fills.model import HeldEnd
from fillwright.fills.rhythm.grid import Rhythm
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import NoteName

__all__ = ["StrokePlan", "PlannedStroke"]


@dataclass(frozen=True, slots=True)
class PlannedStroke:
    """One or more keys struck by one hand (or both, see `StrokePlan.both`).

    family   what the left hand plays, a key of `LEFT_KINDS`; "" for the right hand
    push     it takes a chord before its time; `over` says that this is the landing's chord
    alone    nothing else tells this chord: the stroke has to hold its third and seventh
    top      MIDI number of its highest key; 0 where that is free
    slides   into the next stroke, whose keys it has a half step away
    passes   from the stroke before to the next one, between whose keys it steps
    degree   what a moving voice stands on here; "" where none moves
    pedal    the key's name where the bass stays on one through all chords
    breaks   how much later than the lowest key each key is struck; () where all are at once
    """

    onset_quarter: Fraction
    end_quarter: Fraction
    harmony: Harmony
    family: str = ""
    push: bool = False
    over: bool = False
    alone: bool = False
    top: int = 0
    slides: bool = False
    passes: bool = False
    degree: str = ""
    breaks: tuple[Fraction, ...] = ()
    pedal: NoteName | None = None

    @property
    def is_led(self) -> bool:
        """Its keys follow from those of its neighbours."""
        return self.slides or self.passes


@dataclass(frozen=True, slots=True)
class StrokePlan:
    """All strokes of a fill, in order of time by hand.

    both    the strokes of `right` take both hands
    walks   the left hand goes on under chords that the right hand keeps
    """

    left: tuple[PlannedStroke, ...]
    right: tuple[PlannedStroke, ...]
    both: bool
    held: HeldEnd
    rhythm: Rhythm
    walks: bool = False
