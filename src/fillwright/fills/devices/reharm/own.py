"""What a tune itself has at places like one place: its own ways from chord to chord."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass

from fillwright.fills.devices.reharm.function import Chord
from fillwright.fills.devices.reharm.prior import OwnChord

__all__ = ["Standing", "own_chords"]


@dataclass(frozen=True, slots=True)
class Standing:
    """A chord between two others, with one more on either side; `where` tells the place in the
    print, so that a place is not its own model where the form comes round."""

    before: Chord | None
    here: Chord
    chord: Chord
    goal: Chord
    after: Chord | None
    where: Hashable = None


def own_chords(place: Standing, others: Iterable[Standing]) -> tuple[OwnChord, ...]:
    """What other places of a tune say of a place, of which only the chords around count."""
    found = []
    for other in others:
        if other is place or other.where == place.where:
            continue
        by = place.goal[0] - other.goal[0]
        chord = (other.chord[0] + by) % 12, other.chord[1]
        if other.goal[1] != place.goal[1] or chord in (place.here, place.goal):
            continue
        pair = ((other.here[0] + by) % 12, other.here[1]) == place.here
        if by % 12:
            likeness = "moved" if pair else ""
        elif not pair:
            likeness = "same goal"
        else:
            sides = (other.before == place.before) + (other.after == place.after)
            likeness = ("same pair", "same side", "same phrase")[sides]
        if likeness:
            found.append(OwnChord(chord, likeness))
    return tuple(found)
