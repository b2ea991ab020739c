"""How the user writes a choice: ``GAP=ID``, ``GAP=FAMILY:RANK`` or ``GAP=open``."""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import get_close_matches
from typing import NamedTuple

from fillwright.errors import InputError
from fillwright.fills.model import FAMILIES

__all__ = ["OPEN", "PICK_SEARCH", "RankedPick", "check_pick", "names_family",
           "nearest_id", "parse_pick", "ranked_pick"]

PICK_SEARCH = 24
"""How deep a family is searched for a picked id: beyond any list a user was shown."""


OPEN = "open"
"""The choice that leaves a gap open."""


class RankedPick(NamedTuple):
    """A fill by its place in the list of its family, from 1."""

    family: str
    rank: int


def parse_pick(text: str) -> tuple[int, str]:
    """Split ``"3=comp:2"``. Raises InputError."""
    match = re.fullmatch(r"\s*(\d+)\s*=\s*(\S+)\s*", text)
    if match is None:
        raise InputError(f"a pick is written GAP=ID or GAP=FAMILY:RANK, not {text!r}")
    return int(match[1]), match[2]


def ranked_pick(wanted: str) -> RankedPick | None:
    """``comp:2`` taken apart; None for an id.

    >>> ranked_pick("comp:2")
    RankedPick(family='comp', rank=2)
    """
    match = re.fullmatch(r"(\w+):(\d{1,4})", wanted)
    return RankedPick(match[1], int(match[2])) if match and match[1] in FAMILIES else None


def check_pick(wanted: str) -> None:
    """Whether a text can name a fill at all. Raises InputError naming the nearest that can."""
    if (wanted == OPEN or ranked_pick(wanted) is not None
            or any(names_family(wanted, family) for family in FAMILIES)):
        return
    forms = [OPEN, *(f"{family}:1" for family in FAMILIES)]
    raise InputError(f"{wanted!r} names no fill: a choice is {OPEN}, FAMILY:RANK or a fill's id; "
                     f"the nearest is {nearest_id(wanted, forms)}")


def names_family(fill_id: str, family: str) -> bool:
    """Whether an id may be that of a fill of this family: place, family, device, digest."""
    return f"-{family}-" in fill_id


def nearest_id(wanted: str, known: Sequence[str]) -> str | None:
    """The id that looks most like the wanted one."""
    near = get_close_matches(wanted, known, n=1, cutoff=0.0)
    return near[0] if near else None
