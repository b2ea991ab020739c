"""Fingers for a part, gone over once more: the little finger is spared where it would have to drum,
and a chord that comes again keeps its fingers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from itertools import groupby

from fillwright.exact import Fraction
from fillwright.hands.costs import WEIGHTS
from fillwright.hands.parts import PartNote, finger_part, plan_part

__all__ = ["finger_spared", "finger_steadily"]

_TIRING = 3
"""Strokes in a row on one key that the little finger, which tires first, gives to the middle
finger, which repeats better (common practice)."""

_Chain = list[list[int]]
"""Strokes of the same keys, each as the places of its notes."""

_STILL_KNOWN = Fraction(8)
"""Quarters, two bars, within which a hand comes back to a chord as it had it (common practice)."""


def finger_steadily(notes: Sequence[PartNote], hand: str, size: str, seconds_per_quarter: float,
                    rolled: Collection[int] = ()) -> tuple[int, ...] | None:
    """As `finger_part`; a chord that comes again soon keeps the fingers it had, wherever that is no
    harder than to change them. `notes` are ordered by onset, then MIDI number."""
    found = plan_part(notes, hand, size, seconds_per_quarter, rolled=rolled)
    if found is None:
        return None
    fixed: dict[int, int] = {}
    waiting = [[*_chains(notes)]]
    while waiting:
        chains = waiting.pop()
        wanted, changes = _kept(chains, found.fingers)
        if not changes:
            continue
        tried = plan_part(notes, hand, size, seconds_per_quarter, fixed | wanted, rolled)
        if tried is not None and (
                tried.cost - found.cost <= changes * WEIGHTS["changed_in_chord"]):
            found = tried
            fixed |= wanted
        elif len(chains) > 1:
            half = len(chains) // 2
            waiting += [chains[half:], chains[:half]]
    return found.fingers


def _kept(chains: Iterable[_Chain], fingers: Sequence[int]) -> tuple[dict[int, int], int]:
    """Every chord with the fingers it has most often, the first of them if several do; and how many
    strokes have others."""
    wanted: dict[int, int] = {}
    changes = 0
    for chain in chains:
        grips = [tuple(fingers[place] for place in stroke) for stroke in chain]
        grip = max(grips, key=grips.count)
        changes += len(grips) - grips.count(grip)
        wanted |= {place: finger for stroke in chain
                   for place, finger in zip(stroke, grip, strict=True)}
    return wanted, changes


def _chains(notes: Sequence[PartNote]) -> Iterator[_Chain]:
    """Strokes of the same two keys or more, each soon after the one before it."""
    open_: dict[tuple[int, ...], _Chain] = {}
    for onset, group in groupby(range(len(notes)), key=lambda place: notes[place][0]):
        stroke = [*group]
        keys = tuple(notes[place][2] for place in stroke)
        if len(keys) < 2:
            continue
        chain = open_.get(keys, [])
        if chain and onset - notes[chain[-1][0]][0] > _STILL_KNOWN:
            yield chain
            chain = []
        open_[keys] = [*chain, stroke]
    yield from open_.values()


def finger_spared(notes: Sequence[PartNote], hand: str, size: str, seconds_per_quarter: float,
                  rolled: Collection[int] = ()) -> tuple[int, ...] | None:
    """As `finger_part`, with the right hand's little finger spared. `notes` are ordered by
    onset, then MIDI number."""
    found = finger_part(notes, hand, size, seconds_per_quarter, rolled=rolled)
    if found is None or hand != "right":
        return found
    drummed = _drummed_with_five(notes, found)
    if not drummed:
        return found
    return finger_part(notes, hand, size, seconds_per_quarter, dict.fromkeys(drummed, 3),
                       rolled) or found


def _drummed_with_five(part: Sequence[tuple[Fraction, Fraction, int]], fingers: Sequence[int]
                       ) -> tuple[int, ...]:
    """Places of single keys struck again and again by the little finger."""
    at = Counter(onset for onset, _, _ in part)
    runs: list[list[int]] = []
    for place, ((onset, _, midi), finger) in enumerate(zip(part, fingers, strict=True)):
        if finger != 5 or at[onset] > 1:
            continue
        if runs and runs[-1][-1] == place - 1 and part[place - 1][2] == midi:
            runs[-1].append(place)
        else:
            runs.append([place])
    return tuple(place for run in runs if len(run) >= _TIRING for place in run)
