"""A fill set at its place in the chorus.

Families and `finish` count from the gap's onset, so that gaps that are heard alike share their
fills; only here do times of the chorus, the gap's number and its place in the id come in.
"""

from __future__ import annotations

from dataclasses import replace

from fillwright.fills.model import Fill, HeldEnd, Shift
from fillwright.tune.model import Gap

__all__ = ["HEIGHT", "TAKES_UP", "gap_place", "is_height", "placed", "taken_from"]

TAKES_UP = "~"
"""Between the id of a fill that takes up an earlier one and the id of that."""

HEIGHT = "height"
"""In the place of that id: the fill was asked for at the high point of a chorus."""


def is_height(fill_id: str) -> bool:
    """Whether the fill of this id was asked for at the high point of a chorus."""
    return taken_from(fill_id) == HEIGHT


def taken_from(fill_id: str) -> str | None:
    """The id of the fill that the fill of this id takes up; None where it stands by itself.

    >>> taken_from("10.1.3-comp-shells-8c~2.1.3-comp-shells-8c")
    '2.1.3-comp-shells-8c'
    """
    return fill_id.partition(TAKES_UP)[2] or None


def gap_place(gap: Gap) -> str:
    """Where a gap stands in the written form, as the ids of its fills begin."""
    return f"{gap.bar}.{gap.pass_number}.{str(gap.beat).replace('/', '_')}"


def placed(fill: Fill, gap: Gap) -> Fill:
    """A fill that counts from its gap's onset, in that gap of the chorus."""
    by = gap.onset_quarter
    fill_id = f"{gap_place(gap)}-{fill.id}"
    shift = fill.shift
    return replace(
        fill, id=fill_id, gap=gap.number,
        notes=tuple([replace(n, onset_quarter=n.onset_quarter + by, gap=gap.number)
                     for n in fill.notes]),
        chords=tuple([replace(c, onset_quarter=c.onset_quarter + by,
                              fill=fill_id if c.added else None) for c in fill.chords]),
        counted=tuple([(place + by, word) for place, word in fill.counted]),
        held_end=HeldEnd(fill.held_end.kept, fill.held_end.until_quarter + by),
        shift=None if shift is None else Shift(shift.landing_quarter + by,
                                               shift.back_quarter + by))
