"""Names for the notes of a line: by chord where the chord has them, else by direction."""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.fills.line_costs import TENSION, Slot
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Interval, Pitch, spell_plain, spelled

__all__ = ["spell_line"]

_ALTERED = ("b9", "#9", "#11", "b13")


def spell_line(midis: Sequence[int], slots: Sequence[Slot], harmonies: Sequence[Harmony],
               landing: Pitch | None) -> tuple[Pitch, ...]:
    """Spell a line from its end to its start.

    A note of the chord or its scale takes the chord's name for it; a foreign note is a
    neighbour of the note it leads to: sharp (or natural) below it where the line rises,
    flat (or natural) above it where it falls.
    """
    following = landing
    result: list[Pitch] = []
    for midi, slot in zip(reversed(midis), reversed(slots), strict=True):
        following = _spell(midi, slot, harmonies[slot.span], following)
        result.append(following)
    return tuple(reversed(result))


def _spell(midi: int, slot: Slot, harmony: Harmony, following: Pitch | None) -> Pitch:
    falling = following is not None and following.midi < midi
    symbol = harmony.symbol
    degree = harmony.degree_of(midi % 12)
    if degree is None and slot.kinds[midi % 12] <= TENSION:
        relative = symbol.relative(midi % 12)
        degree = next((d for d in _ALTERED if degree_pitch_class(d) == relative), None)
    if degree == "#9" and (falling or symbol.name_of("b3") in harmony.key.scale):
        degree = "b3"  # on its way down to the root or flat nine, or the key's own name
    flat_nine = slot.kinds[(harmony.root.pitch_class + 1) % 12] <= TENSION
    if degree == "#11" and falling and symbol.quality == "dominant" and flat_nine:
        degree = "b5"  # among the altered colours, on its way down
    if degree is not None:
        pitch = spelled(symbol.name_of(degree), midi)
        if _is_plain(pitch) or (degree in symbol.degrees and abs(pitch.alter) <= 1):
            return pitch
        return spell_plain(midi, sharps=pitch.alter > 0)
    if following is not None and abs(following.midi - midi) == 1:
        step = Interval(1, 1) if falling else Interval(-1, -1)
        pitch = following + step
        return pitch if _is_plain(pitch) else spell_plain(midi, sharps=not falling)
    return spelled(harmony.spell(midi % 12), midi)


def _is_plain(pitch: Pitch) -> bool:
    """Whether nobody has to think twice: no double sign, no E sharp, B sharp, C or F flat."""
    return abs(pitch.alter) <= 1 and (pitch.step, pitch.alter) not in _AWKWARD


_AWKWARD = {("E", 1), ("B", 1), ("C", -1), ("F", -1)}
