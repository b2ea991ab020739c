"""In a worker: the phrase around one gap, as it stands on the lead sheet."""

from __future__ import annotations

from typing import Any

from fillwright.edition.desk import Desk
from fillwright.errors import InputError
from fillwright.score.engraver import EngravingError, engrave_here
from fillwright.score.inpage import for_page
from fillwright.score.lead import phrase_staff

__all__ = ["phrase"]


def phrase(desk: Desk, number: int) -> dict[str, Any]:
    """A drawing of the bars around a gap; `heads` says where its melody notes, ``phrase-n0``
    and on, begin, in quarters of the chorus. Raises InputError."""
    desk.gap(number)
    try:
        done, first = phrase_staff(desk.chorus, desk.gaps, number, engrave=engrave_here)
    except EngravingError as error:
        raise InputError(str(error)) from error
    return {"svg": for_page(done.pages[0], "phrase-"),
            "heads": [float(note.onset_quarter) for note in desk.chorus.melody[first:]]}
