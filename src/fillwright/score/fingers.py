"""Which fingers are printed: all, those of the fills' strokes, or those that help.

A finger helps where a hand takes a new place: as long as every note falls to the finger that
lies over it, the one before says enough (common practice of editions).
"""

from __future__ import annotations

from itertools import groupby

from fillwright.arranging.model import Arrangement
from fillwright.fills.player import level_of
from fillwright.hands.model import HandNote

__all__ = ["FINGERINGS", "fingered"]

FINGERINGS = ("auto", "all", "fills", "helpful", "none")
_STEPS = "CDEFGAB"
_STAYS_STEPS = 1
"""A hand that opens or closes by a step has not moved."""


def fingered(arrangement: Arrangement, fingering: str) -> frozenset[int]:
    """Indices of the notes whose fingers are printed. `fingering` is one of `FINGERINGS`; "auto"
    is all for a level that has `all_fingers`, none for others."""
    if fingering == "auto":
        fingering = "all" if level_of(arrangement.options.level).all_fingers else "none"
    known = {index for index, note in enumerate(arrangement.notes) if note.finger is not None}
    if fingering == "fills":
        known = _of_fills(arrangement, known)
    elif fingering == "helpful":
        known &= _moved(arrangement, "right") | _moved(arrangement, "left")
    return frozenset(known if fingering != "none" else ())


def _of_fills(arrangement: Arrangement, known: set[int]) -> set[int]:
    """Notes of fills, and what a hand strikes of the melody together with one: a single number at
    a chord would seem to be that of its outer key."""
    notes = arrangement.notes
    struck = {(notes[index].hand, notes[index].onset_quarter) for index in known
              if notes[index].role == "fill"}
    return {index for index in known if notes[index].role == "fill" or (
        notes[index].role == "melody"
        and (notes[index].hand, notes[index].onset_quarter) in struck)}


def _moved(arrangement: Arrangement, hand: str) -> set[int]:
    """Notes of the strokes with which a hand takes a new place."""
    mine = sorted((note.onset_quarter, index) for index, note in enumerate(arrangement.notes)
                  if note.hand == hand and note.finger is not None)
    found: set[int] = set()
    before: list[int] = []
    for _, stroke in groupby(mine, key=lambda pair: pair[0]):
        struck = [index for _, index in stroke]
        places = [_thumb(arrangement.notes[index]) for index in struck]
        if not before or any(min(abs(place - old) for old in before) > _STAYS_STEPS
                             for place in places):
            found |= set(struck)
        before = places
    return found


def _thumb(note: HandNote) -> int:
    """Where the thumb lies when each finger has a white key, in steps of the staff."""
    step = 7 * note.pitch.octave + _STEPS.index(note.pitch.step)
    reach = (note.finger or 1) - 1
    return step - reach if note.hand == "right" else step + reach
