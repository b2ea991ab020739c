"""A fill before it is fingered and audited."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.fills.model import HeldEnd, Idea, Shift
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch

__all__ = ["Draft", "DraftChord", "DraftNote"]


@dataclass(frozen=True, slots=True)
class DraftNote:
    """A key to strike; `hand` is "left" or "right". Onsets are chorus time."""

    onset_quarter: Fraction
    duration_quarter: Fraction
    pitch: Pitch
    hand: str
    rolled: bool = False

    @property
    def midi(self) -> int:
        return self.pitch.midi

    @property
    def end_quarter(self) -> Fraction:
        return self.onset_quarter + self.duration_quarter


@dataclass(frozen=True, slots=True)
class DraftChord:
    """A chord the fill sounds. An added one says why it is there."""

    onset_quarter: Fraction
    end_quarter: Fraction
    harmony: Harmony
    added: bool = False
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Draft:
    """What a family hands over.

    chords     without holes from the gap's onset to its end, written and added
    costs      (term, cost) pairs from the lattice; what finish() adds comes on top
    """

    family: str
    device: str
    notes: tuple[DraftNote, ...]
    chords: tuple[DraftChord, ...]
    reasons: tuple[str, ...]
    costs: tuple[tuple[str, int], ...]
    idea: Idea
    held: HeldEnd
    shift: Shift | None = None
