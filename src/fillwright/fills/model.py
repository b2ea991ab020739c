"""What a fill is, once it is finished."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from fillwright.exact import Fraction
from fillwright.fills.counts import counts_text
from fillwright.fills.idea import Idea
from fillwright.hands.model import HandNote
from fillwright.shown import Shown
from fillwright.tune.model import ChordSpan, Chorus

__all__ = ["FAMILIES", "UNPLACED", "EmptyFamily", "Fill", "HeldEnd", "Idea", "Proposal", "Shift"]

FAMILIES = ("comp", "reharm", "line")

UNPLACED = 0
"""The gap number of a fill that counts from its gap's onset (see `fills.place`)."""


@dataclass(frozen=True, slots=True)
class Shift:
    """A landing that comes early or late: where it comes, and where all is in place again."""

    landing_quarter: Fraction
    back_quarter: Fraction


@dataclass(frozen=True, slots=True)
class HeldEnd:
    """What becomes of the melody note a gap opens on, and until when it sounds.

    kept   by the "finger", by the "pedal", or "released"
    """

    kept: str
    until_quarter: Fraction

    def __post_init__(self) -> None:
        if self.kept not in ("finger", "pedal", "released"):
            raise ValueError(f"a held note is not kept by {self.kept!r}")

    @property
    def by_pedal(self) -> bool:
        return self.kept == "pedal"

    def key_until(self, onset_quarter: Fraction, strikes: Iterable[Fraction]) -> Fraction:
        """Until when its key is down: what the pedal keeps, the right hand leaves at its next
        stroke after the onset.

        strikes   onsets of the right hand
        """
        if not self.by_pedal:
            return self.until_quarter
        return min([self.until_quarter, *(place for place in strikes if place > onset_quarter)])


@dataclass(frozen=True, slots=True)
class Fill(Shown):
    """Notes for two hands that fit one gap.

    notes                  role "fill" only; the held note itself is melody
    chords                 the chords it sounds, written or added, over the whole gap
    counted                (place, word) of every count to say, as `fills.counts` makes them
    costs                  (term, cost) pairs, sorted by term
    held_end               what becomes of the held note
    melody_finger          the right-hand finger on the held note, None where none is held
    over_quarter           how far a left-hand sound rings past the landing
    chorus                 where it stands, so that it can be shown; says nothing of what it is
    """

    id: str
    gap: int
    family: str
    device: str
    level: str
    notes: tuple[HandNote, ...]
    chords: tuple[ChordSpan, ...]
    counted: tuple[tuple[Fraction, str], ...]
    reasons: tuple[str, ...]
    costs: tuple[tuple[str, int], ...]
    difficulty: int
    held_end: HeldEnd
    idea: Idea
    melody_finger: int | None = None
    over_quarter: Fraction = Fraction(0)
    shift: Shift | None = None
    chorus: Chorus | None = field(default=None, compare=False)

    def __repr__(self) -> str:
        return (f"<Fill {self.id}: {self.device}, gap {self.gap}, {self.level}, "
                f"{len(self.notes)} notes, {self.counts!r}>")

    def explain(self) -> str:
        """What it is and why it works, a line each: device, counts, chords, held note, reasons."""
        added = " ".join(str(span.symbol) for span in self.chords if span.added)
        return "\n".join([
            f"{self.device} ({self.family}, {self.level}, difficulty {self.difficulty})",
            f"Count: {self.counts}", *([f"Added chords: {added}"] if added else []),
            *self._held_words(), *self.reasons])

    def _held_words(self) -> list[str]:
        """What becomes of the held note; nothing where the gap opens on a rest."""
        if self.chords and self.held_end.until_quarter <= self.chords[0].onset_quarter:
            return []
        if self.held_end.kept != "released":
            return [f"The held note is kept by the {self.held_end.kept}."]
        return ["The held note ends as it is written." if self.ends_as_written
                else "The held note is let go."]

    @property
    def ends_as_written(self) -> bool:
        """Whether the held note sounds until the sheet ends it; asked of a fill in its chorus."""
        until = self.held_end.until_quarter
        return self.chorus is not None and any(
            note.end_quarter == until for note in self.chorus.melody)

    @property
    def counts(self) -> str:
        """The counts in a row, to say aloud: ``1 & (2) 3``."""
        return counts_text(self.counted)

    @property
    def total_cost(self) -> int:
        return sum(cost for _, cost in self.costs)


@dataclass(frozen=True, slots=True)
class EmptyFamily:
    """Why a family has nothing to offer for a gap."""

    gap: int
    family: str
    reason: str


@dataclass(frozen=True, slots=True)
class Proposal:
    """All options of a chorus: fills best first per gap and family, and what is empty."""

    fills: tuple[Fill, ...]
    empty: tuple[EmptyFamily, ...]

    def __repr__(self) -> str:
        gaps = sorted({fill.gap for fill in self.fills} | {none.gap for none in self.empty})
        return f"<Proposal: {len(self.fills)} fills for {len(gaps)} gaps>"

    def of(self, gap: int, family: str | None = None) -> tuple[Fill, ...]:
        return tuple(f for f in self.fills
                     if f.gap == gap and (family is None or f.family == family))
