"""Devices of a line that develop what the melody has just sung: its last notes with their rhythm,
set over another chord, moved by half a beat, or in sequence; its first notes, broken off."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.line.gestures import (
    LEAST_RHYTHM,
    NUMBERS,
    gaps_of,
    like,
    melody_cells,
)
from fillwright.fills.devices.line.naming import Found, LineDevice, row
from fillwright.fills.devices.line.sounding import TONE, Line
from fillwright.fills.player import INTERMEDIATE

__all__ = ["MOTIVES", "is_told", "openings"]

_LEAP = 3
_MOST_MOVED = 7
"""Semitones from cell to cell of a sequence: a fifth."""


def is_told(cell: Sequence[tuple[int, int]]) -> bool:
    """Whether a few notes are known again: they turn, and leap or have more than one value; a plain
    run or an even row of steps is anybody's.

    cell   (onset, MIDI number)
    """
    moves = [b[1] - a[1] for a, b in pairwise(cell)]
    values = len({b[0] - a[0] for a, b in pairwise(cell)})
    return len({(m > 0) - (m < 0) for m in moves}) > 1 and (
        values > 1 or max(map(abs, moves)) >= _LEAP)


def _cells(line: Line) -> Iterator[tuple[int, tuple[tuple[int, int], ...]]]:
    """Where the melody's last notes come again in the line, on other keys, in their rhythm and
    shape: (the first note, the cell), the longest first."""
    own = gaps_of(line.onsets[:line.count])
    for cell in melody_cells(line.setting.phrase, line.setting.beat, LEAST_RHYTHM):
        if not is_told(cell):
            continue
        size = len(cell)
        gaps = gaps_of(tuple(onset for onset, _ in cell))
        moves = [b[1] - a[1] for a, b in pairwise(cell)]
        for start in range(line.count - size + 1):
            if (own[start:start + size - 1] == gaps
                    and (line.midis[start] - cell[0][1]) % 12
                    and all(map(like, moves, line.moves[start:start + size - 1]))):
                yield start, cell


_OPENING = (5, 4, 3)
"""So many of a phrase's first notes are known again."""


def openings(phrase: Sequence[tuple[int, int]], beat: int
             ) -> Iterator[tuple[tuple[int, int], ...]]:
    """The first notes of the melody's phrase that are known again, the longest first, where it has
    gone on after them: no hole of more than two beats up to the gap.

    phrase   (onset, MIDI number); onsets and `beat` in one unit
    """
    start = max((i for i in range(1, len(phrase))
                 if phrase[i][0] - phrase[i - 1][0] > 2 * beat), default=0)
    whole = tuple(phrase[start:])
    for size in _OPENING:
        if size < len(whole) and is_told(whole[:size]):
            yield whole[:size]


def _broken_off(line: Line) -> Found | None:
    """The first notes of the melody's phrase on other keys, in their rhythm and shape, which end
    the line or go on in another way."""
    own, phrase = gaps_of(line.onsets[:line.count]), line.setting.phrase
    for cell in openings(phrase, line.setting.beat):
        first, size = phrase.index(cell[0]), len(cell)
        gaps = gaps_of(tuple(onset for onset, _ in cell))
        moves = [b[1] - a[1] for a, b in pairwise(phrase[first:first + size + 1])]
        after = phrase[first + size][0] - cell[-1][0]
        for start in range(line.count - size + 1):
            if (own[start:start + size - 1] != gaps
                    or (line.midis[start] - cell[0][1]) % 12 == 0
                    or not all(map(like, moves[:-1], line.moves[start:start + size - 1]))):
                continue
            last = start + size - 1
            if last + 1 == line.count or own[last] != after or not like(moves[-1],
                                                                        line.moves[last]):
                return Found(tuple(range(start, last + 1)),
                             "higher" if line.midis[start] > cell[0][1] else "lower")
    return None


def _says_broken_off(line: Line, found: Found) -> str:
    ends = found.notes[-1] + 1 == line.count
    return (f"{row(line, found.notes)}: the first {NUMBERS[len(found.notes)]} notes of the "
            f"melody's phrase, their rhythm too, {found.word}, "
            + ("broken off there." if ends else "and then another way."))


def _over_the_chord(line: Line) -> Found | None:
    """The melody's last notes, from a tone of the one chord that they stand over."""
    for start, cell in _cells(line):
        notes = tuple(range(start, start + len(cell)))
        if line.kinds[start] == TONE and len({id(line.harmonies[i]) for i in notes}) == 1:
            return Found(notes, "higher" if line.midis[start] > cell[0][1] else "lower")
    return None


def _says_over(line: Line, found: Found) -> str:
    return (f"{row(line, found.notes)}: the melody's last {NUMBERS[len(found.notes)]} notes, their "
            f"rhythm too, {found.word}, from a tone of "
            f"{line.harmonies[found.notes[0]].symbol.pretty}.")


def _displaced(line: Line) -> Found | None:
    """The melody's last notes, half a beat off the place in the beat that they had."""
    beat = line.setting.beat
    for start, cell in _cells(line):
        if 2 * ((line.onsets[start] - cell[0][0]) % beat) == beat:
            return Found(tuple(range(start, start + len(cell))))
    return None


def _says_displaced(line: Line, found: Found) -> str:
    return (f"{row(line, found.notes)}: the melody's last {NUMBERS[len(found.notes)]} notes in "
            "shape and rhythm, moved by half a beat.")


def _in_sequence(line: Line) -> Found | None:
    """The melody's last notes elsewhere, and at once again on a third step."""
    places = [(start, len(cell)) for start, cell in _cells(line)]
    for start, size in places:
        moved = line.midis[start + size] - line.midis[start] if start + size < line.count else 0
        if (start + size, size) in places and 0 < abs(moved) <= _MOST_MOVED:
            return Found(tuple(range(start, start + 2 * size)), "up" if moved > 0 else "down")
    return None


def _says_in_sequence(line: Line, found: Found) -> str:
    half = len(found.notes) // 2
    way = "higher" if found.word == "up" else "lower"
    return (f"The melody's last {NUMBERS[half]} notes in sequence: "
            f"{row(line, found.notes[:half])}, then {way} {row(line, found.notes[half:])}.")


MOTIVES = (
    LineDevice("melody's motive broken off", 17, _broken_off, _says_broken_off,
               Example("C 4", "0 4 C3 E3", "1 0.5 E5, 1.5 0.5 G5, 2 0.5 D5",
                       landing="F F5", held="D4",
                       melody="-2 C4, -1.5 E4, -1 B3, -0.5 C4, 0 D4"), INTERMEDIATE),
    LineDevice("melody's motive in sequence", 20, _in_sequence, _says_in_sequence,
               Example("C 6", "0 6 C3 E3", "1 0.5 E5, 1.5 1 G5, 2.5 0.5 F5, 3 0.5 F5, 3.5 1 A5, "
                       "4.5 1 G5", landing="F A5", held="D4", melody="-1.5 C4, -1 E4, 0 D4"),
               INTERMEDIATE),
    LineDevice("melody's motive displaced", 18, _displaced, _says_displaced,
               Example("C 4", "0 4 C3 E3", "1 0.5 E5, 1.5 1 G5, 2.5 0.5 F5",
                       landing="F F5", held="D4", melody="-1.5 C4, -1 E4, 0 D4"), INTERMEDIATE),
    LineDevice("melody's motive over the chord", 18, _over_the_chord, _says_over,
               Example("C 4", "0 4 C3 E3", "1.5 0.5 E5, 2 1 G5, 3 0.5 F5",
                       landing="F G5", held="D4", melody="-1.5 C4, -1 E4, 0 D4")),
)
