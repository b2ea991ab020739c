"""How much a rhythm pulls against its meter.

The measure is that of H. C. Longuet-Higgins and C. S. Lee, "The rhythmic interpretation of
monophonic music", Music Perception 1(4):424-441, 1984. The meter is a tree; every place in
the bar has a weight, 0 for the bar line and one less for each level further down. A note
that is followed by a rest, or held, over a place of greater weight than its own is a
syncopation, as strong as the difference of the two weights; of several places passed over
before the next note, the heaviest counts.
"""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.exact import Fraction
from fillwright.tune.model import Meter

__all__ = ["Slot", "bar_slots", "syncopation"]

Slot = tuple[Fraction, int]
"""A place in the bar in quarter notes, and its metrical weight."""

_GROUPS = {4: (2, 2), 5: (3, 2), 6: (3, 3), 7: (4, 3)}


def bar_slots(meter: Meter, division: int = 2) -> tuple[Slot, ...]:
    """The grid of a bar with its weights.

    division   places to the felt beat in simple meters: 2 for eighths, 3 for triplets; in
               compound meters the grid is always the eighth

    >>> [weight for _, weight in bar_slots(Meter(4, 4))]
    [0, -3, -2, -3, -1, -3, -2, -3]
    >>> [weight for _, weight in bar_slots(Meter(3, 4))]
    [0, -2, -1, -2, -1, -2]
    >>> [weight for _, weight in bar_slots(Meter(6, 8))]
    [0, -2, -2, -1, -2, -2]
    """
    beat = meter.beat_quarter
    per_beat = 3 if meter.is_compound else division
    beats = -(-meter.length_quarter // beat)  # a last beat may be cut short (7/8)
    starts = {0}
    groups = _GROUPS.get(beats, ())
    place = 0
    for size in groups:
        starts.add(place)
        place += size
    depth = 1 if groups else 0
    slots: list[Slot] = []
    for number in range(beats):
        for part in range(per_beat):
            onset = beat * number + beat * Fraction(part, per_beat)
            if onset >= meter.length_quarter:
                break
            if part:
                weight = -2 - depth
            elif number == 0:
                weight = 0
            else:
                weight = -1 if number in starts or not depth else -1 - depth
            slots.append((onset, weight))
    return tuple(slots)


def syncopation(struck: Sequence[bool], weights: Sequence[int], *, cyclic: bool = False,
                last_weight: int | None = 0) -> int:
    """The sum of the strengths of all syncopations.

    struck        whether a note begins at each place
    weights       the weight of each place
    cyclic        the row is repeated: the last note may hold over the first place
    last_weight   the weight of the place after the row, where a rest or a held note is
                  assumed when `cyclic` is false; None where a note is struck there

    >>> bar = [0, -3, -2, -3, -1, -3, -2, -3]
    >>> syncopation([True, False, False, True] + [False] * 4, bar, last_weight=None)
    2
    """
    if len(struck) != len(weights):
        raise ValueError("a weight for every place is needed")
    onsets = [place for place, hit in enumerate(struck) if hit]
    total = 0
    for index, place in enumerate(onsets):
        following = onsets[index + 1] if index + 1 < len(onsets) else None
        if following is not None:
            passed = [weights[p] for p in range(place + 1, following)]
        elif cyclic:
            passed = [weights[p % len(weights)]
                      for p in range(place + 1, onsets[0] + len(weights))]
        else:
            passed = list(weights[place + 1:])
            if last_weight is not None:
                passed.append(last_weight)
        heaviest = max(passed, default=weights[place])
        total += max(heaviest - weights[place], 0)
    return total
