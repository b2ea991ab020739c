"""Keep what was played: the fill of a gap, as a fill of one's own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fillwright.arranging.audit import audit_fill
from fillwright.arranging.by_hand import OWN_NOTES, ByHand, id_by_hand, made_by_hand
from fillwright.arranging.model import Options
from fillwright.arranging.texture import held_note
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.model import Fill, HeldEnd
from fillwright.hands.model import HandNote
from fillwright.rules import Audit
from fillwright.take.report import GapHeard, Report
from fillwright.tune.model import Chorus, Gap

__all__ = ["kept_fill", "kept_findings"]

_SHORTEST = Fraction(1, 4)


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
    own = ByHand(id_by_hand(gap, heard.answer, notes), heard.answer, heard.device or OWN_NOTES,
                 _held(heard, notes), notes)
    return made_by_hand(own, chorus, gap, Options(level=level, hand=hand))


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
