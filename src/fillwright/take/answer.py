"""How a gap was answered: left open, or with chords in rhythm, other chords, or a line."""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.take.model import Stroke
from fillwright.take.roles import GapStrokes

__all__ = ["MOST_OPEN", "answer_of"]

MOST_OPEN = 1
"""Attacks after the onset of a gap that is still called open."""

_LEFT_BELOW = 57            # keys under A3 are the left hand's
_CHORD_SEC = 0.045


def answer_of(one: GapStrokes) -> str:
    """By what was struck alone: "open", "comp", "reharm" or "line"."""
    if len(one.attacks) <= MOST_OPEN:
        return "open"
    if _is_line(one):
        return "line"
    return "reharm" if _is_foreign(one) else "comp"


def _chords(strokes: Sequence[Stroke]) -> list[list[Stroke]]:
    found: list[list[Stroke]] = []
    for stroke in strokes:
        if not found or stroke.onset_sec - found[-1][-1].onset_sec > _CHORD_SEC:
            found.append([])
        found[-1].append(stroke)
    return found


def _is_line(one: GapStrokes) -> bool:
    """Single notes (or octaves) one after the other in the right hand, three at least and most
    of what it strikes."""
    right = [stroke for stroke in one.strokes
             if stroke.midi >= _LEFT_BELOW and stroke.onset_sec > one.onset_sec + 0.06]
    chords = _chords(right)
    single = [chord for chord in chords
              if len({stroke.midi % 12 for stroke in chord}) == 1]
    different = len({chord[0].midi % 12 for chord in single})
    return len(single) >= 3 and len(single) >= 0.6 * len(chords) and different >= 2


def _is_foreign(one: GapStrokes) -> bool:
    """Whether what sounds at the bottom, chord after chord, is mostly not of the written ones."""
    if not one.gap.chords:
        return False
    own = {pc for span in one.gap.chords for pc in span.symbol.pitch_classes}
    chords = _chords(one.strokes)
    basses = [min(chord, key=lambda stroke: stroke.midi) for chord in chords]
    foreign = [bass for bass in basses if bass.midi % 12 not in own]
    return len(foreign) >= max(1, 0.3 * len(basses))
