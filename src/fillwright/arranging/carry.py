"""A picked fill brought along to another tempo, level or key.

What is proposed depends on tempo and level, so an idea that was picked at one tempo may not
be among the options at another. It still exists if the hands can play it there: then it is
carried over, in a new key moved with the melody.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from fillwright.fills.model import Fill
from fillwright.hands.difficulty import difficulty
from fillwright.hands.model import HandNote
from fillwright.hands.parts import finger_part
from fillwright.theory.pitch import Interval, Pitch, spell_plain
from fillwright.tune.model import Chorus, Gap

__all__ = ["carried"]

_LOWEST, _HIGHEST = 24, 103
"""C1 and G7: beyond them a fill is not moved."""


def carried(fill: Fill, origin: Gap, target: Gap, chorus: Chorus, size: str) -> Fill | None:
    """The fill of gap `origin` in gap `target` of `chorus`, or None where it cannot be played.

    Both are the same gap of the same tune; `chorus` may differ in key and tempo.
    """
    interval = _interval(origin, target)
    if interval is None or target.duration_quarter != origin.duration_quarter:
        return None
    if interval != Interval(0, 0):
        fill = _moved(fill, interval)
    if not all(_LOWEST <= n.midi <= _HIGHEST for n in fill.notes):
        return None
    fingers: dict[HandNote, int] = {}
    melody_finger = fill.melody_finger
    for hand in ("left", "right"):
        own = [n for n in fill.notes if n.hand == hand]
        part = [(n.onset_quarter, n.duration_quarter, n.midi) for n in own]
        if hand == "right":
            part += _melody_around(fill, target)
        rolled = frozenset(place for place, n in enumerate(own) if n.rolled)
        found = finger_part(part, hand, size, chorus.seconds_per_quarter, rolled=rolled)
        if found is None:
            return None
        fingers |= zip(own, found, strict=False)
        if hand == "right" and target.held is not None:
            melody_finger = found[len(own)]
    notes = tuple(replace(n, finger=fingers[n]) for n in fill.notes)
    return replace(fill, notes=notes, melody_finger=melody_finger,
                   difficulty=difficulty(notes, size, chorus.seconds_per_quarter).total)


def _melody_around(fill: Fill, gap: Gap) -> list[tuple[Fraction, Fraction, int]]:
    """The held note and the landing as keys of the right hand."""
    keys = []
    if gap.held is not None:
        until = fill.melody_until_quarter
        if fill.melody_kept == "pedal":
            until = min([until, *(n.onset_quarter for n in fill.notes if n.hand == "right"
                                  and n.onset_quarter > gap.onset_quarter)])
        keys.append((gap.onset_quarter, until - gap.onset_quarter, gap.held.midi))
    if gap.landing is not None:
        onset = gap.end_quarter if fill.shift is None else fill.shift.landing_quarter
        keys.append((onset, Fraction(1), gap.landing.midi))
    return keys


def _interval(origin: Gap, target: Gap) -> Interval | None:
    """How far the melody has moved from one to the other."""
    for before, after in ((origin.held, target.held), (origin.landing, target.landing)):
        if before is not None and after is not None:
            return Interval(after.pitch.staff_position - before.pitch.staff_position,
                            after.midi - before.midi)
    return None


def _moved(fill: Fill, interval: Interval) -> Fill:
    """In another key. The reasons name notes and chords of the old one: they give way to
    the one thing that is still known to be true."""
    return replace(
        fill,
        notes=tuple(replace(n, pitch=_plain(n.pitch + interval)) for n in fill.notes),
        chords=tuple(replace(c, symbol=c.symbol.transposed(interval), reason=(
            "Picked in another key and moved with the melody." if c.added else None))
            for c in fill.chords),
        reasons=(f"{fill.device[0].upper()}{fill.device[1:]}: picked in another key and moved "
                 "with the melody.",))


def _plain(pitch: Pitch) -> Pitch:
    if abs(pitch.alter) < 2:
        return pitch
    return spell_plain(pitch.midi, sharps=pitch.alter > 0)
