"""Voicings: degrees of a chord set on keys, for a given hand.

A `Voicing` is what is struck; a `ChordSymbol` is what is named. Every voicing given out
here can be played by the hand it is meant for, holds no minor ninth except a flat nine
over a dominant's root, and does not lie so low that it is mud. The spelling is the
chord's: a flat nine over G7 is A flat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType

from fillwright.fills.voicing_forms import (
    Form,
    bass_degree,
    bass_forms,
    right_forms,
    rootless_forms,
    two_hand_forms,
)
from fillwright.hands.chords import finger_chord
from fillwright.hands.clash import minor_ninth, mud, mud_cost
from fillwright.hands.reach import span_ok
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import NoteName, Pitch, spelled

__all__ = ["VOICE_CHANGE", "Voicing", "form_voicings", "harsh", "holds_guides",
           "left_hand_voicings", "right_hand_voicings", "two_hand_voicings", "voice_leading"]

_RIGHT_LOW, _RIGHT_TOP = 48, 96  # the right hand's range in comping, C3 to C7
_NEVER_MUD = 60  # above middle C no interval is mud

VOICE_CHANGE = 3
"""Semitones a voice that comes in or drops out counts for (design choice)."""

WEIGHTS = MappingProxyType({
    # term: integer cost per unit; all are design choices within common practice
    "low bottom": 1,      # semitone of the left hand below C3 ...
    "root too low": 2,    # ... and below E2, where a hand alone sounds dark
    "high left": 1,       # semitone of the left hand's top above middle C
    "mud": 2,             # semitone below the strict low interval limits
    "middle": 1,          # quarter of a semitone off the middle of the room
})


def harsh(midis: Sequence[int], harmony: Harmony) -> bool:
    """Is there a sharp nine a half step under the third, or a flat nine a half step above
    the root?

    The first belongs above the third, the second an octave and more above the root; the
    form b7-#9-3-b13 of the books is heard so, but a page of it rubs (common practice).
    """
    root = harmony.root.pitch_class
    bad = {1} if "b9" in harmony.tensions + harmony.symbol.degrees else set()
    if "3" in harmony.tones:
        bad.add(4)
    keys = sorted(set(midis))
    return any(b - a == 1 and (b - root) % 12 in bad for a, b in pairwise(keys))


@dataclass(frozen=True, slots=True)
class Voicing:
    """Keys over a chord.

    kind      the kind of voicing, in trade words
    degrees   what each key is over the chord's root, bottom to top ("bass" for a slash
              chord's foreign bass)
    pitches   ascending, spelled
    left      how many of them, from the bottom, the left hand takes
    """

    kind: str
    degrees: tuple[str, ...]
    pitches: tuple[Pitch, ...]
    left: int
    midis: tuple[int, ...] = field(init=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "midis", tuple(p.midi for p in self.pitches))

    @property
    def left_pitches(self) -> tuple[Pitch, ...]:
        return self.pitches[:self.left]

    @property
    def right_pitches(self) -> tuple[Pitch, ...]:
        return self.pitches[self.left:]


def holds_guides(harmony: Harmony, degrees: Sequence[str]) -> bool:
    """Do these degrees hold the third (or the fourth of a sus chord) and the seventh or sixth?

    The sixth may stand for a major seventh (the six-nine colour of a tonic chord). A chord
    that has none of them, such as a power chord, asks for nothing.
    """
    present = {degree_pitch_class(d) for d in degrees if d != "bass"}
    bass = harmony.symbol.bass
    if bass is not None and "bass" in degrees:
        present.add(harmony.symbol.relative(bass.pitch_class))
    if (harmony.seventh == "7" and harmony.symbol.quality == "major"
            and degree_pitch_class("6") in present):
        present.add(degree_pitch_class("7"))
    return all(degree_pitch_class(d) in present
               for d in (harmony.third, harmony.seventh) if d is not None)


def _name(harmony: Harmony, degree: str) -> NoteName:
    if degree == "bass":
        bass = harmony.symbol.bass
        return harmony.root if bass is None else bass
    if degree == "#9":
        # Over E7 nobody writes F double sharp, and in C minor nobody A sharp over G7: where
        # the minor third's name is plainer or the key's own, it is used.
        sharp, third = harmony.symbol.name_of("#9"), harmony.symbol.name_of("b3")
        if abs(sharp.alter) > 1 or third in harmony.key.scale:
            return third
        return sharp
    return harmony.symbol.name_of(degree)


@lru_cache(maxsize=4096)
def _pitch(name: NoteName, midi: int) -> Pitch:
    return spelled(name, midi)


@lru_cache(maxsize=16384)
def _stack(harmony: Harmony, form: Form) -> tuple[tuple[NoteName, ...], tuple[int, ...]]:
    """Names and semitones above the bottom note."""
    names: list[NoteName] = []
    heights: list[int] = []
    for place, mark in enumerate(form.degrees):
        name = _name(harmony, mark.lstrip("^"))
        if place == 0:
            heights.append(0)
        else:
            step = (name.pitch_class - names[-1].pitch_class) % 12 or 12
            heights.append(heights[-1] + step + (12 if mark[0] == "^" else 0))
        names.append(name)
    return tuple(names), tuple(heights)


def _no_ninth(harmony: Harmony, names: Sequence[NoteName], heights: Sequence[int]) -> bool:
    """No minor ninth but a dominant's own flat nine over its root, in whatever octave."""
    flat = harmony.symbol.quality in ("dominant", "suspended")
    root = harmony.root.pitch_class
    bottom = 36 + names[0].pitch_class
    midis = [bottom + height for height in heights]
    return not any(minor_ninth(low, high, root, flat) for place, low in enumerate(midis)
                   for high in midis[place + 1:])


def form_voicings(harmony: Harmony, form: Form, size: str, *, low: int, top: int,
                  rolled: bool = False) -> tuple[Voicing, ...]:
    """All places of a form between two MIDI numbers that the hands can play.

    rolled   the hands may exceed their reach (the chord is to be rolled)
    """
    names, heights = _stack(harmony, form)
    if not _no_ninth(harmony, names, heights):
        return ()
    found = []
    split = form.left
    first = low + (names[0].pitch_class - low) % 12
    for bottom in range(first, top - heights[-1] + 1, 12):
        midis = tuple(bottom + height for height in heights)
        if not rolled and not (_hand_ok(midis[:split], "left", size)
                               and _hand_ok(midis[split:], "right", size)):
            continue
        if (bottom < _NEVER_MUD and mud(midis)) or harsh(midis, harmony):
            continue
        found.append(Voicing(form.kind, tuple(d.lstrip("^") for d in form.degrees),
                             tuple(_pitch(n, m) for n, m in zip(names, midis, strict=True)),
                             split))
    return tuple(found)


def _hand_ok(midis: tuple[int, ...], hand: str, size: str) -> bool:
    if len(midis) < 2:
        return True
    return span_ok(midis[0], midis[-1], size) and finger_chord(midis, hand, size) is not None


def _left_cost(voicing: Voicing) -> int:
    midis = voicing.midis
    return (WEIGHTS["low bottom"] * max(48 - midis[0], 0)
            + WEIGHTS["root too low"] * max(40 - midis[0], 0)
            + WEIGHTS["high left"] * max(midis[-1] - 60, 0) + WEIGHTS["mud"] * mud_cost(midis))


def _sorted(voicings: list[Voicing], cost: dict[Voicing, int]) -> tuple[Voicing, ...]:
    return tuple(sorted(dict.fromkeys(voicings), key=lambda v: (cost[v], v.midis, v.kind)))


@lru_cache(maxsize=4096)
def left_hand_voicings(harmony: Harmony, level: str, size: str, *, low: int = 36, top: int = 64,
                       rootless: bool = False) -> tuple[Voicing, ...]:
    """What the left hand may play alone: roots, shells, tenths by reach, rootless forms.

    rootless   give rootless forms (and inversions of half-diminished and diminished chords)
               instead of forms with the root at the bottom. A slash chord keeps its bass at
               the bottom and has no rootless forms.

    Sorted by a plain preference for the register around middle C, lowest cost first.
    """
    if rootless:
        if bass_degree(harmony) is not None:
            return ()
        forms = rootless_forms(harmony, level)
        low = max(low, 46)  # from about E flat 3 (common practice), a little lower in need
    else:
        forms = bass_forms(harmony, level)
    found: list[Voicing] = []
    for form in forms:
        whole = Form(form.kind, form.degrees, len(form.degrees))
        found += form_voicings(harmony, whole, size, low=low, top=top)
    return _sorted(found, {v: _left_cost(v) for v in found})


@lru_cache(maxsize=8192)
def right_hand_voicings(harmony: Harmony, level: str, size: str, *, low: int, top: int,
                        most: int = 4) -> tuple[Voicing, ...]:
    """What the right hand may play over a left hand that has the root.

    low, top   the room, MIDI numbers
    most       the greatest number of keys

    Sorted by the distance of their middle from the middle of the room.
    """
    whole = 2 if level == "beginner" and most <= 2 else max(most, 4)  # remembered once
    found = [v for v in _everywhere(harmony, level, size, whole)
             if v.midis[0] >= low and v.midis[-1] <= top and len(v.midis) <= most]
    middle = 2 * (low + top)
    cost = {v: WEIGHTS["middle"] * abs(2 * (v.midis[0] + v.midis[-1]) - middle) for v in found}
    return _sorted(found, cost)


@lru_cache(maxsize=2048)
def _everywhere(harmony: Harmony, level: str, size: str, most: int) -> tuple[Voicing, ...]:
    """All right-hand voicings in its whole range."""
    found: list[Voicing] = []
    for form in right_forms(harmony, level, most):
        found += form_voicings(harmony, form, size, low=_RIGHT_LOW, top=_RIGHT_TOP)
    return tuple(found)


@lru_cache(maxsize=4096)
def two_hand_voicings(harmony: Harmony, level: str, size: str, *, top: int, bottom: int = 36
                      ) -> tuple[Voicing, ...]:
    """Voicings that belong to both hands: spreads, drop 2, fourths, upper structures.

    A slash chord's bass is put under the right hand's part alone. Sorted by register.
    """
    found: list[Voicing] = []
    foreign = bass_degree(harmony)
    for form in two_hand_forms(harmony, level):
        if foreign is not None:
            form = Form(form.kind, (foreign, *form.degrees[form.left:]), 1)
            if len({*form.degrees}) < len(form.degrees):
                continue
        found += form_voicings(harmony, form, size, low=bottom, top=top)
    cost = {v: _left_cost(Voicing(v.kind, v.degrees[:v.left], v.left_pitches, v.left))
            for v in found}
    return _sorted(found, cost)


def voice_leading(before: Sequence[int], after: Sequence[int]) -> int:
    """Semitones moved in all from one chord to the next, voices matched in order of pitch.

    Where the number of voices differs, those that fit best are matched and each one that
    comes in or drops out counts `VOICE_CHANGE`.

    >>> voice_leading((53, 57, 60, 64), (53, 57, 59, 64)), voice_leading((60, 64), (59, 62, 65))
    (1, 5)
    """
    first, second = sorted(before), sorted(after)
    if len(first) > len(second):
        first, second = second, first
    rows, columns = len(first), len(second)
    # best[j]: cheapest match of the voices so far with the first j of the longer chord
    best = [VOICE_CHANGE * j for j in range(columns + 1)]
    for place in range(rows):
        row = [1 << 30] * (columns + 1)
        for j in range(place + 1, columns + 1):
            row[j] = min(best[j - 1] + abs(first[place] - second[j - 1]),
                         row[j - 1] + VOICE_CHANGE)
        best = row
    return best[columns]
