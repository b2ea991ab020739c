"""Which gaps are like a gap: the nearest by what is told of them.

What decides how a gap is filled counts most: the chords by function, the beats, the degree that is
held, the way on. The weights are design choices, in one table; keys and titles do not count.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.library.finding import Database
from fillwright.library.model import PLACES, GapFacts

__all__ = ["WEIGHTS", "like_gap", "row_distance"]

WEIGHTS = MappingProxyType({
    "row": 6,        # a chord that is another, is missing or is one too many
    "beats": 3,      # a beat longer or shorter, four at most
    "degree": 3,     # another degree over the chord
    "into": 3,       # another landing chord by function
    "way": 1,        # a semitone more or less from the held note to the landing, five at most
    "place": 2,      # another kind of place in the form
    "seconds": 2,    # a second more or less, three at most
})
"""Points by which two gaps differ."""

_FAR = 4
"""A row of chords that differs by more is not looked at: the nearest gap is another."""


@lru_cache(maxsize=4096)
def row_distance(one: str, other: str) -> int:
    """How many chords have to be changed, put in or taken out to make one row the other.

    >>> row_distance(" 2m 77 ", " 2h 77 0M ")
    2
    """
    a, b = one.split(), other.split()
    line = list(range(len(b) + 1))
    for i, chord in enumerate(a, 1):
        before, line[0] = line[0], i
        for j, other_chord in enumerate(b, 1):
            before, line[j] = line[j], min(line[j] + 1, line[j - 1] + 1,
                                           before + (chord != other_chord))
    return line[-1]


def like_gap(database: Database, gap: GapFacts, *, count: int, fingerprint: str = "",
             among: Sequence[int] | None = None) -> list[tuple[int, int]]:
    """The gaps nearest to one, as (number of the gap, points), the nearest first.

    fingerprint   of the tune it stands in: that gap itself, wherever its tune lies, is left out
    among         some gaps only
    """
    rows = database.execute("SELECT id, row FROM rows").fetchall()
    far = _FAR if gap.row else 0
    near = {key: distance for key, row in rows
            if (distance := row_distance(gap.row, row)) <= far or among is not None}
    into = next((key for key, row in rows if row == (f" {gap.into} " if gap.into else "")), -1)
    cases = " ".join(f"WHEN {key} THEN {WEIGHTS['row'] * distance}"
                     for key, distance in near.items() if distance)
    row_points = f"CASE gaps.row {cases} ELSE 0 END" if cases else "0"
    points = " + ".join((
        row_points,
        f"{WEIGHTS['beats']} * min(abs(gaps.beats - ?), 4)",
        f"{WEIGHTS['degree']} * {_other('gaps.semitones')}",
        f"{WEIGHTS['into']} * (CASE WHEN gaps.into_row = ? THEN 0 ELSE 1 END)",
        f"{WEIGHTS['way']} * min(abs(coalesce(gaps.landing, 99) - ?), 5)",
        f"{WEIGHTS['place']} * (CASE WHEN gaps.place = ? THEN 0 ELSE 1 END)",
        f"{WEIGHTS['seconds']} * min(abs(gaps.seconds - ?), 3)"))
    values = [float(Fraction(gap.beats)), -1 if gap.semitones is None else gap.semitones, into,
              99 if gap.landing is None else gap.landing, PLACES.index(gap.place), gap.seconds]
    where = (f"gaps.row IN ({', '.join(map(str, near))})" if among is None
             else f"gaps.id IN ({', '.join(map(str, among))})")
    found = database.execute(
        f"SELECT gaps.id, {points} AS points FROM gaps WHERE {where} AND gaps.sheet NOT IN "
        "(SELECT id FROM sheets WHERE first = 0) AND NOT (gaps.number = ? AND gaps.sheet IN "
        f"(SELECT id FROM sheets WHERE fingerprint = ?)) ORDER BY points, gaps.id LIMIT {count}",
        [*values, gap.number, fingerprint]).fetchall()
    return [(int(key), round(points)) for key, points in found]


def _other(column: str) -> str:
    return f"(CASE WHEN coalesce({column}, -1) = ? THEN 0 ELSE 1 END)"
