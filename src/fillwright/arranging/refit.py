"""A picked fill fitted to another tempo, level or key.

What is proposed depends on tempo and level, so an idea that was picked at one tempo may not
be among the options at another. It still exists if the hands can play it there: then it is
carried over, in a new key moved with the melody.
"""

from __future__ import annotations

from dataclasses import replace

from fillwright.arranging.fingers import fingered_fill
from fillwright.fills.model import Fill
from fillwright.hands.difficulty import difficulty
from fillwright.theory.pitch import Interval, Pitch, spell_plain
from fillwright.tune.model import Chorus, Gap

__all__ = ["HIGHEST", "LOWEST", "refitted"]

LOWEST, HIGHEST = 24, 103
"""C1 and G7: beyond them a fill is not moved."""


def refitted(fill: Fill, origin: Gap, target: Gap, chorus: Chorus, size: str) -> Fill | None:
    """The fill of gap `origin` in gap `target` of `chorus`, or None where it cannot be played.

    Both are the same gap of the same tune; `chorus` may differ in key and tempo.
    """
    interval = _interval(origin, target)
    if interval is None or target.duration_quarter != origin.duration_quarter:
        return None
    if interval != Interval(0, 0):
        fill = _moved(fill, interval)
    if not all(LOWEST <= n.midi <= HIGHEST for n in fill.notes):
        return None
    fill = fingered_fill(fill, target, chorus, size)
    if any(note.finger is None for note in fill.notes):
        return None
    return replace(fill, difficulty=difficulty(fill.notes, size,
                                               chorus.seconds_per_quarter).total)


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
