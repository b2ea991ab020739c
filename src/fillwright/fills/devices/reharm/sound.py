"""Whether a chord between chords is heard as what is printed.

A passing chord is not on the chart, so the ear has to get it from the keys alone: its third
and seventh, its altered fifth, every alteration its symbol names. In return the symbol is
written from the keys: where they hold a flat nine, it says so. Common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from types import MappingProxyType

from fillwright.fills.devices.reharm.function import letter
from fillwright.fills.devices.reharm.place import chord_at
from fillwright.fills.voicing.voicings import holds_guides
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["as_played", "crowded", "heard_as_printed", "line_heard"]

_ALTERED = MappingProxyType({1: "b9", 3: "#9", 8: "b13"})
_RENAMED = ("7", "7b9", "7b13")
_CLUSTER_KEYS, _CLUSTER_SPAN, _CLUSTER_BELOW = 3, 4, 57
"""Three keys within a third are a cluster below A3, where they blur."""
_SECOND_BELOW = MappingProxyType({1: 57, 2: 51})
"""Below A3 a half step is mud, below E flat 3 a whole step."""


def heard_as_printed(harmony: Harmony, degrees: Sequence[str], all_told: bool) -> bool:
    """Whether these degrees, the held note's among them, tell an added chord.

    all_told   the third (or the fourth of a sus chord), the seventh or sixth, and every
               alteration in the symbol (of an altered dominant, one); else the third, and the
               fifth where it is altered
    """
    present = {degree_pitch_class(d) for d in degrees if d != "bass"}
    bass = harmony.symbol.bass
    if bass is not None and "bass" in degrees:
        present.add(harmony.symbol.relative(bass.pitch_class))
    wanted = {degree_pitch_class(d) for d in (harmony.third, harmony.symbol.fifth)
              if d is not None and (d == harmony.third or d in ("b5", "#5"))}
    altered = {degree_pitch_class(d) for d in harmony.symbol.degrees
               if d in ("b9", "#9", "#11", "b13")}
    if not all_told:
        return wanted <= present
    if harmony.symbol.suffix == "13":
        wanted.add(degree_pitch_class("13"))
    if harmony.seventh == "7":  # with the sixth instead it is another chord
        wanted.add(degree_pitch_class("7"))
    if len(altered) > 2:  # an altered dominant: an altered ninth or thirteenth
        told = bool((altered - {degree_pitch_class("#11")}) & present)
        return wanted <= present and told and holds_guides(harmony, degrees)
    return wanted | altered <= present and holds_guides(harmony, degrees)


def crowded(midis: Sequence[int], root: int, third: int | None) -> bool:
    """Keys too close: a low second, a cluster below A3, a half step beside the root (a flat nine
    right on it, a major seventh right under its double) or a sharp nine right under the third.

    midis         ascending
    root, third   pitch classes of the root, and of the major third or None
    """
    for low, high in pairwise(midis):
        if low < _SECOND_BELOW.get(high - low, 0):
            return True
        if high - low == 1 and (root in (low % 12, high % 12) or high % 12 == third):
            return True
    return any(high - low <= _CLUSTER_SPAN and low < _CLUSTER_BELOW
               for low, high in zip(midis, midis[_CLUSTER_KEYS - 1:], strict=False))


def as_played(harmony: Harmony, degrees: Sequence[str]) -> tuple[Harmony, tuple[str, ...]]:
    """The chord with the alterations that are struck in its symbol, and what was added.

    degrees   what the keys are over the chord's root

    Only a dominant seventh chord is named anew; its natural tensions need no name.
    """
    symbol = harmony.symbol
    if letter(harmony) != "7" or symbol.suffix not in _RENAMED:
        return harmony, ()
    named = {degree_pitch_class(d) for d in symbol.degrees}
    struck = {degree_pitch_class(d) for d in degrees if d != "bass"} - named
    added = tuple(name for pc, name in _ALTERED.items() if pc in struck)
    if not added:
        return harmony, ()
    names = [name for pc, name in _ALTERED.items() if pc in struck or name in symbol.degrees]
    suffix = f"7({','.join(names)})"
    return replace(harmony, symbol=chord_at(harmony.root, suffix, symbol.bass)), added


def line_heard(line: Sequence[int], rows: Sequence[Sequence[int]]) -> bool:
    """Whether a voice takes these pitch classes one after the other, by steps, in the keys
    that sound at each chord."""
    places = {m for m in rows[0] if m % 12 == line[0]}
    for pc, row in zip(line[1:], rows[1:], strict=True):
        places = {m for m in row if m % 12 == pc and any(abs(m - p) <= 2 for p in places)}
    return bool(places)
