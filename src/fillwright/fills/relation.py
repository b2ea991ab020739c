"""How a fill takes up an earlier one: what a listener hears of an idea that comes back.

A fill is compared with the one that stood at the same place of the phrase before. Rhythm is
what is remembered first, then contour, then thickness (common practice), so a relation asks
for the rhythm of at least `LEAST_STRIKES` strikes and says what became of the rest. Passing
chords are known again by themselves. Relations are read from the notes and chords alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.model import Fill

__all__ = ["LEAST_STRIKES", "LEAST_TOLD", "SHIFTS_QUARTER", "Cell", "Relation", "Stated", "cell_of",
           "develops", "relation_of", "stated_by"]

LEAST_STRIKES = 2
"""Fewer strikes are no rhythm that a listener would know again."""

ALIKE = Fraction(3, 4)
"""From this share of common keys on, a fill is a copy."""

SHIFTS_QUARTER = tuple(Fraction(n, 2) for n in (-2, -1, 1, 2))
"""By how much a displaced rhythm moves: an eighth or a quarter, either way."""

_MOVED_SEMITONES = 3


class Relation(Enum):
    """What became of the idea."""

    COPY = "copy"
    DISPLACED = "displaced"    # the same rhythm, an eighth or a beat earlier or later
    THICKENED = "thickened"    # the same rhythm or more, with more keys
    THINNED = "thinned"        # the same rhythm with fewer keys
    MOVED = "moved"            # the same rhythm and shape somewhere else
    TURNED = "turned over"     # the same rhythm with the shape turned upside down
    RECOLOURED = "recoloured"  # the same rhythm with other notes
    ANSWERED = "answered"      # the same rhythm in another family
    REVOICED = "revoiced"      # the same passing chords, struck otherwise
    BROKEN_OFF = "broken off"  # the beginning of its rhythm, then nothing


_DEVELOPS = frozenset({Relation.DISPLACED, Relation.THICKENED, Relation.MOVED, Relation.TURNED,
                       Relation.BROKEN_OFF})
"""What makes more of an idea; the others say it again, or something else."""

LEAST_TOLD = 3
"""Fewer strikes are not known again where the tune goes on meanwhile."""


@dataclass(frozen=True, slots=True)
class Cell:
    """What is heard of a fill, with times counted from its gap's onset.

    onsets   where the leading hand strikes, in quarter notes
    tops     MIDI number of its highest key at each of them
    keys     every (onset, MIDI number) of both hands
    family   the fill's family
    chords   what its added chords are: (pitch class of the root, quality)
    """

    onsets: tuple[Fraction, ...]
    tops: tuple[int, ...]
    keys: frozenset[tuple[Fraction, int]]
    family: str
    chords: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Stated:
    """An idea that was played where the music was heard before, for the families to take up.

    device    its name
    voicing   as in its `Idea`
    """

    cell: Cell
    device: str
    voicing: str


def stated_by(fill: Fill, onset_quarter: Fraction) -> Stated:
    """What a fill states whose gap begins at `onset_quarter`."""
    return Stated(cell_of(fill, onset_quarter), fill.device, fill.idea.voicing)


def cell_of(fill: Fill, onset_quarter: Fraction) -> Cell:
    """The cell of a fill whose gap begins at `onset_quarter`.

    The right hand leads where it strikes twice or more, else whatever is struck.
    """
    tops: dict[Fraction, int] = {}
    leading = [n for n in fill.notes if n.hand == "right"]
    if len({n.onset_quarter for n in leading}) < LEAST_STRIKES:
        leading = list(fill.notes)
    for note in leading:
        place = note.onset_quarter - onset_quarter
        tops[place] = max(note.midi, tops.get(place, 0))
    onsets = tuple(sorted(tops))
    return Cell(onsets, tuple(tops[o] for o in onsets),
                frozenset((n.onset_quarter - onset_quarter, n.midi) for n in fill.notes),
                fill.family, tuple((c.symbol.root.pitch_class, c.symbol.quality or "")
                                   for c in fill.chords if c.added and c.symbol.root is not None))


def relation_of(first: Cell, again: Cell) -> Relation | None:
    """What `again` makes of `first`; None where a listener hears a new idea.

    >>> one = Cell((Fraction(1), Fraction(2)), (60, 62), frozenset(), "line")
    >>> two = Cell((Fraction(3, 2), Fraction(5, 2)), (60, 64), frozenset(), "line")
    >>> relation_of(one, two).value
    'displaced'
    """
    common = len(first.keys & again.keys)
    if first.keys and common >= ALIKE * max(len(first.keys), len(again.keys)):
        return Relation.COPY
    in_rhythm = _in_rhythm(first, again)
    if in_rhythm is None and first.chords and first.chords == again.chords:
        return Relation.REVOICED
    return in_rhythm


def develops(first: Cell, again: Cell) -> bool:
    """Whether a fill makes more of an idea heard where the tune was another one: that has to be
    longer to be known again."""
    return len(first.onsets) >= LEAST_TOLD and relation_of(first, again) in _DEVELOPS


def _in_rhythm(first: Cell, again: Cell) -> Relation | None:
    """How a rhythm is taken up."""
    if min(len(first.onsets), len(again.onsets)) < LEAST_STRIKES:
        return None
    if first.family != again.family:
        return Relation.ANSWERED if first.onsets == again.onsets else None
    if first.onsets == again.onsets:
        return _same_rhythm(first, again)
    if set(first.onsets) < set(again.onsets) and len(again.keys) > len(first.keys):
        return Relation.THICKENED
    if again.onsets == first.onsets[:len(again.onsets)]:
        return Relation.BROKEN_OFF
    moved = {b - a for a, b in zip(first.onsets, again.onsets, strict=False)}
    if (len(first.onsets) == len(again.onsets) and len(moved) == 1
            and moved <= set(SHIFTS_QUARTER)):
        return Relation.DISPLACED
    return None


def _same_rhythm(first: Cell, again: Cell) -> Relation:
    one, two = _shape(first), _shape(again)
    per_strike = Fraction(len(again.keys) - len(first.keys), len(first.onsets))
    if any(one) and one == tuple(-step for step in two):
        return Relation.TURNED
    if per_strike >= 1:
        return Relation.THICKENED
    if per_strike <= -1:
        return Relation.THINNED
    by = abs(sum(again.tops) - sum(first.tops))  # an octave less under the first is no move
    if any(one) and one == two and by >= _MOVED_SEMITONES * len(first.tops):
        return Relation.MOVED
    return Relation.RECOLOURED


def _shape(cell: Cell) -> tuple[int, ...]:
    """Up, level or down from strike to strike."""
    return tuple((b > a) - (b < a) for a, b in pairwise(cell.tops))
