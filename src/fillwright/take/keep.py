"""Keep what was played: the fill of a gap, as a fill of one's own."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace

from fillwright.arranging.audit import audit_fill
from fillwright.arranging.fingers import fingered_fill
from fillwright.arranging.texture import held_note
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.counts import count_marks
from fillwright.fills.model import Fill, HeldEnd, Idea
from fillwright.hands.difficulty import difficulty
from fillwright.hands.model import HandNote
from fillwright.rules import Audit
from fillwright.take.report import GapHeard, Report
from fillwright.tune.model import Chorus, Gap

__all__ = ["kept_fill", "kept_findings"]

_SHORTEST = Fraction(1, 4)
_OWN = "own notes"


def kept_fill(report: Report, heard: GapHeard, hand: str = "medium", level: str = "intermediate"
              ) -> Fill:
    """What was played in a gap, on the beats that can be counted, for both hands, fingered.

    Its device is the idea it is near to, else "own notes". To put it into a chorus, give it to
    the arranger as decided (`Offers.arrangement`). Raises InputError where the gap was left open.
    """
    chorus, gap = report.chorus, heard.gap
    notes = _within(heard.notes, gap)
    if heard.answer == "open" or not notes:
        raise InputError(f"nothing was played in gap {gap.number} that could be kept")
    device = heard.device or _OWN
    fill = Fill(
        id=_id(gap, heard.answer, notes), gap=gap.number, family=heard.answer, device=device,
        level=level, notes=notes, chords=gap.chords,
        counted=count_marks(chorus.bars, gap.onset_quarter, gap.end_quarter,
                            [note.onset_quarter for note in notes]),
        reasons=("This was played by hand; what the rules say of it stands beside it.",),
        costs=(), difficulty=difficulty(notes, hand, chorus.seconds_per_quarter).total,
        held_end=_held(heard, notes), idea=_idea(notes, gap), chorus=chorus)
    return fingered_fill(fill, gap, chorus, hand)


def kept_findings(fill: Fill, chorus: Chorus, gap: Gap, hand: str = "medium") -> Audit:
    """What the rules say of a fill of one's own."""
    melody = () if gap.held is None else (
        replace(held_note(fill, gap.held), finger=fill.melody_finger),)
    return audit_fill(fill, melody, chorus, gap, hand)


def _within(notes: Sequence[HandNote], gap: Gap) -> tuple[HandNote, ...]:
    """The notes that begin in the gap; keys are let go for the landing, and before they are
    struck again."""
    inside = [note for note in notes if gap.onset_quarter <= note.onset_quarter < gap.end_quarter]
    found = []
    for note in inside:
        again = [other.onset_quarter for other in inside
                 if other.midi == note.midi and other.onset_quarter > note.onset_quarter]
        end = min([note.end_quarter, gap.end_quarter, *again])
        length = max(end - note.onset_quarter,
                     min(_SHORTEST, gap.end_quarter - note.onset_quarter))
        found.append(replace(note, duration_quarter=length))
    return tuple(found)


def _held(heard: GapHeard, notes: Sequence[HandNote]) -> HeldEnd:
    """The held note sounds until the right hand strikes its key or is needed elsewhere: it is
    kept by the finger where it was held to the end, else let go where it was."""
    gap = heard.gap
    until = gap.end_quarter
    if heard.held_until_quarter is not None:
        until = min(max(heard.held_until_quarter, gap.onset_quarter + _SHORTEST), until)
    if gap.held is not None:
        until = min([until, *(note.onset_quarter for note in notes if note.midi == gap.held.midi
                              and note.onset_quarter > gap.onset_quarter)])
    return HeldEnd("finger" if until == gap.end_quarter else "released", until)


def _idea(notes: Sequence[HandNote], gap: Gap) -> Idea:
    tops: dict[Fraction, int] = {}
    for note in notes:
        place = note.onset_quarter - gap.onset_quarter
        tops[place] = max(note.midi, tops.get(place, 0))
    right = [note.midi for note in notes if note.hand == "right"] or [
        note.midi for note in notes]
    return Idea(tuple(sorted(tops)), tuple(tops[place] for place in sorted(tops)), _OWN,
                (min(right) + max(right)) // 2)


def _id(gap: Gap, family: str, notes: Sequence[HandNote]) -> str:
    """From its place and its notes."""
    text = "|".join(f"{note.onset_quarter - gap.onset_quarter}:{note.midi}" for note in notes)
    digest = hashlib.sha256(text.encode()).hexdigest()[:6]
    return f"{gap.bar}.{gap.pass_number}.{gap.beat}-{family}-own-{digest}"
