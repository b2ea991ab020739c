"""The written page before it is spelled out in XML: bars, staves, voices, note values.

A `Row` is one voice of one staff in one bar, filled from bar line to bar line. Its rests
are shown where nothing else sounds on the staff, and then once, and before an entry off the
beat; the others keep the place and are not printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fillwright.arranging.model import Arrangement
from fillwright.exact import Fraction
from fillwright.score.accidentals import ShownAccidentals, StaffAccidentals
from fillwright.score.beams import beam_bar
from fillwright.score.metre import Node, bar_tree
from fillwright.score.rhythm import Piece, Tuplet, VoiceEvent, write_bar
from fillwright.score.voices import NoteColumn, columns_of
from fillwright.theory.pitch import Pitch
from fillwright.tune.model import ChorusBar

__all__ = ["NoteValue", "PageBar", "Row", "page_of"]


@dataclass(frozen=True, slots=True)
class NoteValue:
    """One note value: that of a column, its tied continuation, or a rest.

    column        None for a rest
    is_first      the column's first value, the one that is struck
    ties_on       tied to the next value of the same column
    is_shown      false for a rest that only keeps the place
    accidentals   one for each note of the column
    stem          "up", "down" or "" (as it falls)
    """

    piece: Piece
    column: NoteColumn | None = None
    is_first: bool = True
    ties_on: bool = False
    is_shown: bool = True
    beams: tuple[str, ...] = ()
    accidentals: tuple[ShownAccidentals | None, ...] = ()
    stem: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A voice of a bar. An empty `values` is a whole bar's rest. Tuplets that are `unnumbered`
    have their number in another voice."""

    staff: int
    voice: int
    values: tuple[NoteValue, ...]
    unnumbered: frozenset[Tuplet] = frozenset()


@dataclass(frozen=True, slots=True)
class PageBar:
    """A bar with its rows, upper staff first. `number` counts from 1; a pickup is 0."""

    bar: ChorusBar
    number: int
    rows: tuple[Row, ...]


def page_of(arrangement: Arrangement) -> tuple[PageBar, ...]:
    """Write out all bars of an arrangement.

    What rings past the last bar line is cut there. Raises ValueError for a note that is
    struck outside the bars.
    """
    bars = arrangement.chorus.bars
    if any(not 0 <= note.onset_quarter < bars[-1].end_quarter for note in arrangement.notes):
        raise ValueError("a note lies outside the bars")
    columns = columns_of(arrangement)
    shift = 0 if bars and bars[0].is_pickup else 1
    drawers = {staff: StaffAccidentals(bars[0].key) for staff in (1, 2)}
    by_bar = _by_bar(columns, bars)
    pages = []
    for index, bar in enumerate(bars):
        tree = bar_tree(bar.meter, bar.length_quarter, bar.is_pickup)
        rows: list[Row] = []
        for staff, hand in ((1, "right"), (2, "left")):
            drawers[staff].next_bar(bar.key)
            inside = [column for column in by_bar[index] if column.hand == hand]
            rows += _staff_rows(bar, tree, staff, inside, drawers[staff])
        pages.append(PageBar(bar, index + shift, tuple(rows)))
    return tuple(pages)


def _by_bar(columns: Sequence[NoteColumn], bars: Sequence[ChorusBar]) -> list[list[NoteColumn]]:
    found: list[list[NoteColumn]] = [[] for _ in bars]
    low = 0
    for column in columns:
        while low + 1 < len(bars) and bars[low].end_quarter <= column.onset_quarter:
            low += 1
        index = low
        while index < len(bars) and bars[index].onset_quarter < column.end_quarter:
            found[index].append(column)
            index += 1
    return found


def _staff_rows(bar: ChorusBar, tree: Node, staff: int, columns: Sequence[NoteColumn],
                drawer: StaffAccidentals) -> list[Row]:
    base = 1 if staff == 1 else 5
    length = bar.length_quarter
    if not columns:
        if length == bar.meter.length_quarter:
            return [Row(staff, base, ())]
        # A bar's rest would be read as long as the meter.
        silence = _draft(bar, tree, [], [(Fraction(0), length)], length)
        return [Row(staff, base, tuple(silence))]
    voices = sorted({column.voice for column in columns})
    spans: dict[int, list[tuple[Fraction, Fraction, NoteColumn]]] = {v: [] for v in voices}
    for column in columns:
        spans[column.voice].append((max(column.onset_quarter - bar.onset_quarter, Fraction(0)),
                                    min(column.end_quarter - bar.onset_quarter, length),
                                    column))
    silences = _silences([span for voice in voices for span in spans[voice]], length)
    shown_in = _places_of_rests(silences, voices, spans)
    for voice in voices:
        shown_in[voice] += _before_off_beats(bar, spans[voice], shown_in[voice])
    drafts = {voice: _draft(bar, tree, spans[voice], shown_in[voice], length)
              for voice in voices}
    signs = _accidentals(bar, drafts, drawer)
    rows = []
    upper = _upper_voices(drafts)
    numbers = _numbers(drafts)
    for voice in voices:
        row = drafts[voice]
        beams = beam_bar(tree, [(value.piece, value.column is None) for value in row])
        stem = "" if len(voices) == 1 else "up" if voice in upper else "down"
        values = tuple(
            NoteValue(value.piece, value.column, value.is_first, value.ties_on, value.is_shown,
                      beam, signs.get((voice, place), ()),
                      stem if value.column is not None else "")
            for place, (value, beam) in enumerate(zip(row, beams, strict=True)))
        rows.append(Row(staff, voice, values, frozenset(
            tuplet for tuplet, numbered in numbers.items() if numbered != voice)))
    return rows


def _numbers(drafts: dict[int, list[NoteValue]]) -> dict[Tuplet, int]:
    """In which voice a tuplet is numbered that several of a staff have: where it has the most
    notes, the first if several have as many."""
    shown: dict[Tuplet, dict[int, int]] = {}
    for voice, row in drafts.items():
        for value in row:
            if value.piece.tuplet is not None:
                counts = shown.setdefault(value.piece.tuplet, {})
                counts[voice] = counts.get(voice, 0) + value.is_shown
    return {tuplet: max(counts, key=lambda voice: (counts[voice], -voice))
            for tuplet, counts in shown.items()}


def _upper_voices(drafts: dict[int, list[NoteValue]]) -> set[int]:
    """The voices whose stems go up: the odd ones; but where the first has no stem in the bar
    and two lie below it, the higher of those takes the room above."""
    odd = {voice for voice in drafts if voice % 2}
    even = sorted(set(drafts) - odd)
    if len(odd) == 1 and len(even) > 1 and all(
            value.column is None or value.piece.note_type in ("whole", "breve")
            for value in drafts[min(odd)]):
        return odd | {max(even, key=lambda voice: (_height(drafts[voice]), -voice))}
    return odd


def _height(values: Sequence[NoteValue]) -> float:
    """The mean of the notes of a voice, as MIDI numbers."""
    centres = [value.column.centre for value in values if value.column is not None]
    return sum(centres) / len(centres)


def _silences(spans: Sequence[tuple[Fraction, Fraction, NoteColumn]],
              length: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Where no voice of the staff sounds."""
    found = []
    place = Fraction(0)
    for start, end, _ in sorted(spans, key=lambda span: span[:2]):
        if start > place:
            found.append((place, start))
        place = max(place, end)
    if place < length:
        found.append((place, length))
    return found


def _places_of_rests(silences: Sequence[tuple[Fraction, Fraction]], voices: Sequence[int],
                     spans: dict[int, list[tuple[Fraction, Fraction, NoteColumn]]]) -> dict[
                         int, list[tuple[Fraction, Fraction]]]:
    """Each silence is printed in the voice whose notes adjoin it, the first if several do."""
    shown: dict[int, list[tuple[Fraction, Fraction]]] = {voice: [] for voice in voices}
    for start, end in silences:
        def adjoining(voice: int, start: Fraction = start, end: Fraction = end) -> int:
            return (sum(span[1] == start for span in spans[voice])
                    + sum(span[0] == end for span in spans[voice]))
        best = max(voices, key=lambda voice: (adjoining(voice), -voice))
        shown[best].append((start, end))
    return shown


def _before_off_beats(bar: ChorusBar, notes: Sequence[tuple[Fraction, Fraction, NoteColumn]],
                      shown: Sequence[tuple[Fraction, Fraction]]
                      ) -> list[tuple[Fraction, Fraction]]:
    """What a voice rests of the beats within which it enters, though another one sounds there:
    an entry on a beat is clear by itself, one off the beat is counted from the rest before it
    (common practice)."""
    found = []
    size = bar.meter.beat_quarter
    shift = (bar.meter.length_quarter - bar.length_quarter) % size if bar.is_pickup else Fraction(0)
    taken = [*((begin, end) for begin, end, _ in notes), *shown]
    for start, _, _ in notes:
        beat = (start + shift) // size * size - shift
        if beat < start and beat >= 0 and not any(
                begin < start and beat < end for begin, end in taken):
            found.append((beat, start))
    return found


def _draft(bar: ChorusBar, tree: Node, notes: Sequence[tuple[Fraction, Fraction, NoteColumn]],
           shown: Sequence[tuple[Fraction, Fraction]], length: Fraction) -> list[NoteValue]:
    """The values of a voice, as yet without beams, accidentals and stems."""
    spans: list[tuple[Fraction, Fraction, NoteColumn | None, bool]] = [
        *((start, end, column, True) for start, end, column in notes),
        *((start, end, None, True) for start, end in shown)]
    spans.sort(key=lambda span: span[:2])
    filled: list[tuple[Fraction, Fraction, NoteColumn | None, bool]] = []
    place = Fraction(0)
    for span in spans:
        if span[0] > place:
            filled.append((place, span[0], None, False))
        filled.append(span)
        place = span[1]
    if place < length:
        filled.append((place, length, None, False))
    written = write_bar(tree, [VoiceEvent(start, end, column is None)
                               for start, end, column, _ in filled])
    values = []
    for (_, _, column, is_shown), pieces in zip(filled, written, strict=True):
        for piece in pieces:
            begins = bar.onset_quarter + piece.start_quarter
            ends = bar.onset_quarter + piece.end_quarter
            values.append(NoteValue(
                piece, column, column is None or begins == column.onset_quarter,
                column is not None and ends < column.end_quarter, is_shown))
    return values


def _tied_over(value: NoteValue, column: NoteColumn) -> list[Pitch]:
    """What is tied to what was before."""
    return [note.pitch for index, note in column.notes
            if not value.is_first or index in column.tied_in]


def _accidentals(bar: ChorusBar, drafts: dict[int, list[NoteValue]], drawer: StaffAccidentals,
                 ) -> dict[tuple[int, int], tuple[ShownAccidentals | None, ...]]:
    """The accidentals of a staff in one bar, moment by moment, for (voice, place)."""
    moments: dict[Fraction, list[tuple[int, int, NoteColumn]]] = {}
    for voice, row in drafts.items():
        for place, value in enumerate(row):
            if value.column is None:
                continue
            column, start = value.column, value.piece.start_quarter
            if value.is_first:
                moments.setdefault(start, []).append((voice, place, column))
            for pitch in _tied_over(value, column) if start == 0 else ():
                drawer.tied(pitch)
    signs: dict[tuple[int, int], tuple[ShownAccidentals | None, ...]] = {}
    for moment in sorted(moments):
        shown = iter(drawer.struck([note.pitch for _, _, column in moments[moment]
                                    for index, note in column.notes
                                    if index not in column.tied_in]))
        for voice, place, column in moments[moment]:
            signs[voice, place] = tuple(None if index in column.tied_in else next(shown)
                                        for index, _ in column.notes)
    return signs
