"""Where the right hand is written an octave lower under an 8va line.

A passage that climbs beyond the fourth ledger line is written an octave lower, together
with its neighbours that would still stand on the staff or above it. Nothing else may sound
on the staff meanwhile: an 8va line holds for all of it (common practice). It begins and ends where
the music takes breath, at a rest or a bar line, if all is high enough from there and until there.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from fillwright.exact import Fraction
from fillwright.score.voices import NoteColumn

__all__ = ["octave_lines"]

_TOO_HIGH = 91
"""G6, four ledger lines: from here on a passage has an 8va line (MIDI number)."""
_LOWEST = 76
"""What an 8va line may cover: from E5, so that nothing falls below the staff (MIDI number)."""
_LEDGER = 84
"""C6, two ledger lines (MIDI number)."""
_REST_QUARTER = Fraction(4)
"""An 8va line is not drawn on over a longer rest."""


def octave_lines(columns: Sequence[NoteColumn], bars: Collection[Fraction] = ()
                 ) -> list[tuple[Fraction, Fraction]]:
    """(start, end) of each 8va line over the right hand, in quarters. `bars`: where they begin."""
    right = sorted((s for s in columns if s.hand == "right"),
                   key=lambda s: (s.onset_quarter, s.end_quarter))
    lines: list[tuple[Fraction, Fraction]] = []
    run: list[NoteColumn] = []
    for column in [*right, None]:
        if column is not None and column.notes[0][1].midi >= _LOWEST and (
                not run or column.onset_quarter - _end(run) < _REST_QUARTER):
            run.append(column)
            continue
        lines += _line(run, right, bars)
        run = [column] if column is not None and column.notes[0][1].midi >= _LOWEST else []
    return lines


def _top(column: NoteColumn) -> int:
    return column.notes[-1][1].midi


def _is_octave(column: NoteColumn) -> bool:
    return column.notes[-1][1].midi - column.notes[0][1].midi == 12


def _end(run: Sequence[NoteColumn]) -> Fraction:
    return max(column.end_quarter for column in run)


def _breathes(run: Sequence[NoteColumn], place: int, right: Sequence[NoteColumn],
              bars: Collection[Fraction]) -> bool:
    """Whether a rest or a bar line follows this stroke."""
    end = run[place].end_quarter
    return end in bars or not any(
        other.onset_quarter <= end < other.end_quarter for other in right)


def _begins(run: Sequence[NoteColumn], place: int, right: Sequence[NoteColumn],
            bars: Collection[Fraction]) -> bool:
    """Whether a rest or a bar line comes right before this stroke."""
    start = run[place].onset_quarter
    return start in bars or not any(
        other.onset_quarter < start <= other.end_quarter for other in right)


def _line(run: Sequence[NoteColumn], right: Sequence[NoteColumn], bars: Collection[Fraction]
          ) -> list[tuple[Fraction, Fraction]]:
    if not any(_top(column) >= _TOO_HIGH for column in run):
        return []
    # The line begins and ends with the notes that have ledger lines of their own.
    high = [place for place, column in enumerate(run) if _top(column) >= _LEDGER]
    first, last = high[0], high[-1]
    # Of a row of octaves all stand under the line, or it would seem to leap.
    while first > 0 and _is_octave(run[first]) and _is_octave(run[first - 1]):
        first -= 1
    while last + 1 < len(run) and _is_octave(run[last]) and _is_octave(run[last + 1]):
        last += 1
    first = next((place for place in range(first, -1, -1) if _begins(run, place, right, bars)),
                 first)
    last = next((place for place in range(last, len(run)) if _breathes(run, place, right, bars)),
                last)
    run = run[first:last + 1]
    start, end = run[0].onset_quarter, _end(run)
    inside = set(map(id, run))
    if any(id(other) not in inside and other.onset_quarter < end and start < other.end_quarter
           for other in right):
        return []
    return [(start, end)]
