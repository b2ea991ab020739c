"""The user's own choices: ``GAP=ID``, ``GAP=FAMILY:RANK`` or ``GAP=open``."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from difflib import get_close_matches

from fillwright.errors import InputError
from fillwright.fills.model import FAMILIES, Fill
from fillwright.hands.model import LEVELS
from fillwright.tune.model import Gap

__all__ = ["PICK_SEARCH", "parse_pick", "resolve_picks"]

PICK_SEARCH = 24
"""How deep a family is searched for a picked id: beyond any list a user was shown."""


def parse_pick(text: str) -> tuple[int, str]:
    """Split ``"3=comp:2"``. Raises InputError."""
    match = re.fullmatch(r"\s*(\d+)\s*=\s*(\S+)\s*", text)
    if match is None:
        raise InputError(f"a pick is written GAP=ID or GAP=FAMILY:RANK, not {text!r}")
    return int(match[1]), match[2]


def resolve_picks(gaps: Sequence[Gap], picks: Sequence[tuple[int, str]], level: str,
                  options_at: Callable[[int, str, int], Sequence[Fill]],
                  carried_at: Callable[[int, str], Fill | None]) -> dict[int, Fill | None]:
    """Find each picked fill.

    options_at   (gap number, level, count) -> fills of all families, best first
    carried_at   (gap number, id) -> the fill as it is in the tune's own key and tempo,
                 brought here, or None

    An id is looked for at the asked level first, then at the others, then in the tune as it
    is written, so that a pick survives a change of level, tempo and key. Raises InputError
    naming the nearest id.
    """
    found: dict[int, Fill | None] = {}
    for number, wanted in picks:
        if not 1 <= number <= len(gaps):
            raise InputError(f"there is no gap {number}; the tune has {len(gaps)}")
        if wanted == "open":
            found[number] = None
            continue
        ranked = re.fullmatch(r"(\w+):(\d+)", wanted)
        if ranked is not None and ranked[1] in FAMILIES:
            rank = int(ranked[2])
            own = [f for f in options_at(number, level, max(rank, 3))
                   if f.family == ranked[1]]
            if not 1 <= rank <= len(own):
                raise InputError(f"gap {number} has {len(own)} {ranked[1]} fills at this level, "
                                 f"there is no number {rank}")
            found[number] = own[rank - 1]
            continue
        found[number] = _by_id(number, wanted, level, options_at, carried_at)
    return found


def _by_id(number: int, wanted: str, level: str,
           options_at: Callable[[int, str, int], Sequence[Fill]],
           carried_at: Callable[[int, str], Fill | None]) -> Fill:
    seen: list[str] = []
    for at in (level, *(other for other in LEVELS if other != level)):
        for fill in options_at(number, at, PICK_SEARCH):
            if fill.id == wanted:
                return fill
            seen.append(fill.id)
    carried = carried_at(number, wanted)
    if carried is not None:
        return carried
    near = get_close_matches(wanted, seen, n=1, cutoff=0.0)
    hint = f"; the nearest is {near[0]}" if near else ""
    raise InputError(f"gap {number} has no fill {wanted!r}{hint}")
