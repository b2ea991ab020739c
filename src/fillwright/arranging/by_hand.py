"""A fill that somebody played or wrote by hand, as the fills of the program are."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from fillwright.arranging.fingers import fingered_fill
from fillwright.arranging.model import Options
from fillwright.exact import Fraction
from fillwright.fills.counts import count_marks
from fillwright.fills.model import Fill, HeldEnd, Idea
from fillwright.hands.difficulty import difficulty
from fillwright.hands.model import HandNote
from fillwright.tune.model import Chorus, Gap

__all__ = ["OWN_NOTES", "ByHand", "id_by_hand", "is_by_hand", "made_by_hand"]

OWN_NOTES = "own notes"
"""What its idea is called where it is near to none."""


@dataclass(frozen=True, slots=True)
class ByHand:
    """What was played or written in a gap.

    device     the idea it is near to, else `OWN_NOTES`
    held_end   what becomes of the held note
    notes      by onset, then key; no key twice at once
    """

    id: str
    family: str
    device: str
    held_end: HeldEnd
    notes: tuple[HandNote, ...]


def made_by_hand(own: ByHand, chorus: Chorus, gap: Gap, options: Options) -> Fill:
    """The fill: counted, and fingered where the hands can play it; of the options its level and
    hand count."""
    notes = own.notes
    fill = Fill(
        id=own.id, gap=gap.number, family=own.family, device=own.device, level=options.level,
        notes=notes, chords=gap.chords,
        counted=count_marks(chorus.bars, gap.onset_quarter, gap.end_quarter,
                            [note.onset_quarter for note in notes]),
        reasons=("These notes are your own; what the rules say of them stands beside them.",),
        costs=(),
        difficulty=difficulty(notes, options.hand, chorus.seconds_per_quarter).total,
        held_end=own.held_end, idea=_idea(notes, gap), chorus=chorus)
    return fingered_fill(fill, gap, chorus, options.hand)


def is_by_hand(fill: Fill) -> bool:
    """Whether somebody played or wrote it, or gave it other tones than the program did."""
    return OWN_NOTES in (fill.device, fill.idea.voicing)


def _idea(notes: Sequence[HandNote], gap: Gap) -> Idea:
    tops: dict[Fraction, int] = {}
    for note in notes:
        place = note.onset_quarter - gap.onset_quarter
        tops[place] = max(note.midi, tops.get(place, 0))
    right = [note.midi for note in notes if note.hand == "right"] or [
        note.midi for note in notes]
    return Idea(tuple(sorted(tops)), tuple(tops[place] for place in sorted(tops)), OWN_NOTES,
                (min(right) + max(right)) // 2)


def id_by_hand(gap: Gap, family: str, notes: Sequence[HandNote]) -> str:
    """From its place and its notes."""
    text = "|".join(f"{note.onset_quarter - gap.onset_quarter}:{note.midi}" for note in notes)
    digest = hashlib.sha256(text.encode()).hexdigest()[:6]
    return f"{gap.bar}.{gap.pass_number}.{gap.beat}-{family}-own-{digest}".replace("/", "_")
