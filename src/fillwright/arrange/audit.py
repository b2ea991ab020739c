"""What the rules of the hands say of a whole arrangement."""

from __future__ import annotations

from fillwright.arrange.model import Arrangement
from fillwright.hands.checks import Audit, MelodySpan, audit

__all__ = ["audit_arrangement"]


def audit_arrangement(arrangement: Arrangement) -> Audit:
    """Run every check of `fillwright.hands.checks` over both hands.

    The melody note of a filled gap sounds as long as its fill says, every other one as long
    as its key is held.
    """
    chorus = arrangement.chorus
    until = {arrangement.gaps[f.gap - 1].onset_quarter: f.melody_until_quarter
             for f in arrangement.fills}
    sounding = [MelodySpan(n.onset_quarter, until.get(n.onset_quarter, n.end_quarter), n.midi)
                for n in arrangement.notes if n.role == "melody"]
    melody = [(n.onset_quarter, n.end_quarter, n.midi) for n in arrangement.notes
              if n.role == "melody"]
    return audit(arrangement.notes, size=arrangement.options.hand,
                 seconds_per_quarter=chorus.seconds_per_quarter, melody=melody,
                 sounding=sounding, chords=arrangement.chords)
