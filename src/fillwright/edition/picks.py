"""A choice for a gap, as JSON: a fill of the program's or one of the user's own, and changes of
its notes.

Own keys are counted in half steps from the melody note of the gap, so that they move with it into
another key; places are quarters from the gap's beginning.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fillwright.arranging.user_picks import check_pick
from fillwright.edition.rest import FILL_ID
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.model import FAMILIES

__all__ = ["AddedNote", "OwnFill", "Pick", "read_pick"]

MAX_SHIFT = 24
"""Semitones a note may be moved from where the fill has it."""
MAX_NOTES = 200
_FARTHEST = 108
_PLACE = re.compile(r"\d{1,4}(/[1-9]\d{0,3})?")
_DEVICE = re.compile(r"[^\x00-\x1f]{1,120}")


@dataclass(frozen=True, slots=True, order=True)
class AddedNote:
    """A note of the user's own: quarters from the gap's beginning, half steps from its melody
    note, quarters its key is held, "left" or "right"."""

    onset_quarter: Fraction
    above: int
    duration_quarter: Fraction
    hand: str

    def value(self) -> list[Any]:
        return [str(self.onset_quarter), self.above, str(self.duration_quarter), self.hand]


@dataclass(frozen=True, slots=True)
class OwnFill:
    """A fill that the user played or wrote.

    device   the idea it is near to
    kept     what becomes of the held note, `until_quarter` from the gap's beginning
    """

    family: str
    device: str
    kept: str
    until_quarter: Fraction
    notes: tuple[AddedNote, ...]

    def value(self) -> dict[str, Any]:
        return {"family": self.family, "device": self.device, "kept": self.kept,
                "until": str(self.until_quarter), "notes": [note.value() for note in self.notes]}


@dataclass(frozen=True, slots=True)
class Pick:
    """A choice for a gap: a fill's id, "open", and the user's own notes in it.

    moves    (index of the fill's note, semitones it is moved by); None semitones: left out
    lengths  (index of the fill's note, quarters its key is held)
    added    notes that the fill does not have
    own      the fill, where it is the user's; None: one of the program's
    """

    fill: str
    moves: tuple[tuple[int, int | None], ...] = ()
    lengths: tuple[tuple[int, Fraction], ...] = ()
    added: tuple[AddedNote, ...] = ()
    own: OwnFill | None = None

    @property
    def is_changed(self) -> bool:
        """Whether there are notes in it that the fill does not have so."""
        return bool(self.moves or self.lengths or self.added)

    def value(self) -> dict[str, Any]:
        value: dict[str, Any] = {"fill": self.fill, "moves": [list(move) for move in self.moves]}
        if self.lengths:
            value["lengths"] = [[index, str(length)] for index, length in self.lengths]
        if self.added:
            value["added"] = [note.value() for note in self.added]
        if self.own is not None:
            value["own"] = self.own.value()
        return value


def read_pick(value: Any) -> Pick:
    """Checked. Raises InputError."""
    if not isinstance(value, Mapping):
        raise InputError("a choice is an object")
    fill = value.get("fill")
    if not isinstance(fill, str) or FILL_ID.fullmatch(fill) is None:
        raise InputError("a choice names a fill")
    check_pick(fill)
    own = value.get("own")
    return Pick(fill, _moves(value.get("moves", [])), _lengths(value.get("lengths", [])),
                _notes(value.get("added", [])), None if own is None else _own(own))


def _list(value: Any, what: str) -> list[Any]:
    if not isinstance(value, list) or len(value) > MAX_NOTES:
        raise InputError(f"{what} are a list")
    return value


def _number(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _moves(value: Any) -> tuple[tuple[int, int | None], ...]:
    found: dict[int, int | None] = {}
    for move in _list(value, "changed notes"):
        if not isinstance(move, list) or len(move) != 2 or not _number(move[0]) or (
                not 0 <= move[0] < 500):
            raise InputError("a changed note is its number and semitones")
        by = move[1]
        if by is not None and (not _number(by) or not -MAX_SHIFT <= by <= MAX_SHIFT):
            raise InputError(f"a note moves by at most {MAX_SHIFT} semitones")
        found[move[0]] = by
    return tuple(sorted(found.items()))


def _lengths(value: Any) -> tuple[tuple[int, Fraction], ...]:
    found: dict[int, Fraction] = {}
    for item in _list(value, "changed lengths"):
        if not isinstance(item, list) or len(item) != 2 or not _number(item[0]) or (
                not 0 <= item[0] < 500):
            raise InputError("a changed length is a note's number and quarters")
        found[item[0]] = _quarters(item[1], "a length", longer_than=0)
    return tuple(sorted(found.items()))


def _quarters(value: Any, what: str, longer_than: int = -1) -> Fraction:
    if not isinstance(value, str) or _PLACE.fullmatch(value) is None or (
            Fraction(value) <= longer_than):
        raise InputError(f"{what} is a fraction of quarters, such as 3/2")
    return Fraction(value)


def _notes(value: Any) -> tuple[AddedNote, ...]:
    found = set()
    for item in _list(value, "own notes"):
        if not isinstance(item, list) or len(item) != 4 or item[3] not in ("left", "right"):
            raise InputError("an own note is a place, a key, a length and a hand")
        if not _number(item[1]) or abs(item[1]) > _FARTHEST:
            raise InputError("a key is counted in half steps from the melody's note")
        found.add(AddedNote(_quarters(item[0], "a place"), item[1],
                            _quarters(item[2], "a length", longer_than=0), item[3]))
    return tuple(sorted(found))


def _own(value: Any) -> OwnFill:
    if not isinstance(value, Mapping):
        raise InputError("a fill of one's own is an object")
    family, device, kept = (value.get(name) for name in ("family", "device", "kept"))
    if not isinstance(family, str) or family not in FAMILIES:
        raise InputError(f"a family is one of {', '.join(FAMILIES)}")
    if not isinstance(device, str) or _DEVICE.fullmatch(device) is None:
        raise InputError("a fill of one's own names its idea")
    if kept not in ("finger", "pedal", "released"):
        raise InputError("a held note is kept by finger or pedal, or released")
    notes = _notes(value.get("notes"))
    if not notes:
        raise InputError("a fill of one's own has notes")
    return OwnFill(family, device, str(kept), _quarters(value.get("until"), "a place"), notes)
