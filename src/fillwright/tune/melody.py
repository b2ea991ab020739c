"""The top line of a bar: what a listener takes for the melody."""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

from fillwright.exact import Fraction
from fillwright.theory.pitch import Pitch

__all__ = ["RawNote", "Ticks", "top_line"]

Ticks: TypeAlias = int | Fraction
"""A place or length in the reader's smallest unit; a fraction only where a file's own unit
cannot express it."""


class RawNote(NamedTuple):
    """A visible note of the melody's part, in its bar, in ticks."""

    onset: Ticks
    end: Ticks
    midi: int
    pitch: Pitch
    tie_start: bool
    tie_stop: bool
    slur_start: bool


def top_line(notes: list[RawNote], held_below: frozenset[int] = frozenset()
             ) -> tuple[list[RawNote], frozenset[int]]:
    """The highest note at each time, cut where a higher one enters; and which pitches lie
    tied below it at the end of the bar.

    A lower note that enters while a higher one sounds is not melody, nor is the tied-over
    rest of one (`held_below` are the pitches tied over from below in the bar before). Two
    voices in unison are one note.
    """
    alone = True
    end: Ticks = 0
    for note in notes:
        if note.onset < end:
            alone = False
            break
        end = note.end
    if alone and not held_below:
        return notes, frozenset()
    line: list[RawNote] = []
    below: list[RawNote] = []
    for note in sorted(notes, key=lambda n: (n.onset, -n.midi, -n.end)):
        if note.tie_stop and note.onset == 0 and note.midi in held_below:
            below.append(note)
            continue
        if line and line[-1].end > note.onset:
            if note.midi <= line[-1].midi:
                below.append(note)
                continue
            line[-1] = line[-1]._replace(end=note.onset, tie_start=False)
        line.append(note)
    kept = {note.midi for note in line if note.tie_start}
    return line, frozenset(note.midi for note in below
                           if note.tie_start and note.midi not in kept)
