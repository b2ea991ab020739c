"""One fingering for each hand from the first note to the last.

A fill is fingered by itself when it is proposed, to be sure that it can be played; in a
chorus the fingers also depend on what comes before and after.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from fillwright.hands.model import HandNote
from fillwright.hands.parts import finger_part

__all__ = ["fingered"]

_PartNote = tuple[Fraction, Fraction, int]


def fingered(notes: Sequence[HandNote], size: str, seconds_per_quarter: float
             ) -> tuple[HandNote, ...]:
    """The same notes, in the same order, with the cheapest fingers for both hands."""
    fingers: dict[int, int] = {}
    for hand in ("left", "right"):
        mine = [i for i, n in enumerate(notes) if n.hand == hand]
        part = [(notes[i].onset_quarter, notes[i].duration_quarter, notes[i].midi)
                for i in mine]
        rolled = frozenset(place for place, i in enumerate(mine) if notes[i].rolled)
        fingers |= zip(mine, _piecewise(part, hand, size, seconds_per_quarter, rolled),
                       strict=True)
    return tuple(replace(note, finger=fingers[i]) for i, note in enumerate(notes))


def _piecewise(part: Sequence[_PartNote], hand: str, size: str, seconds_per_quarter: float,
               rolled: frozenset[int]) -> tuple[int, ...]:
    """Fingers for a part; one with a jump no hand makes in time, as written tunes may have,
    is cut in two and fingered in pieces."""
    found = finger_part(part, hand, size, seconds_per_quarter, rolled=rolled)
    if found is not None:
        return found
    onsets = sorted({note[0] for note in part})
    if len(onsets) < 2:
        raise AssertionError(f"one stroke of the {hand} hand cannot be fingered: {part}")
    cut = onsets[len(onsets) // 2]
    fingers: dict[int, int] = {}
    for indices in ([i for i, note in enumerate(part) if note[0] < cut],
                    [i for i, note in enumerate(part) if note[0] >= cut]):
        inside = frozenset(place for place, i in enumerate(indices) if i in rolled)
        fingers |= zip(indices, _piecewise([part[i] for i in indices], hand, size,
                                           seconds_per_quarter, inside), strict=True)
    return tuple(fingers[i] for i in range(len(part)))
