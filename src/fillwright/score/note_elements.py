"""The elements of notes and rests: what stands in one bar of one voice.

Notes have the id ``n<index>``, tied continuations ``n<index>-<count>`` (see `musicxml`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from lxml import etree

from fillwright.arranging.articulation import Touch
from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.score.accidentals import ShownAccidentals
from fillwright.score.page import NoteValue, Row
from fillwright.score.voices import NoteColumn
from fillwright.tune.model import ChorusBar

__all__ = ["Element", "Tools", "chord_elements", "may_skip", "rest_element", "tuplet_edges"]

Element = etree._Element

_SLURS_AT_ONCE = 4
"""Numbers for slurs before they come again: more than begin and end in one bar."""


@dataclass(slots=True)
class Tools:
    """What all elements of a page depend on."""

    divisions: int
    fingers: frozenset[int]
    view: bool
    touch: Touch
    doubled: frozenset[tuple[Fraction, int]] = frozenset()
    """Onset and voice of columns whose touch is printed at another of the same stems."""

    def ticks(self, length_quarter: Fraction) -> int:
        ticks = length_quarter * self.divisions
        if ticks.denominator != 1:
            raise ValueError("divisions do not divide a length")
        return ticks.numerator


def may_skip(value: NoteValue) -> bool:
    """A rest that is not printed and belongs to no tuplet is a mere step forward."""
    return value.column is None and not value.is_shown and value.piece.tuplet is None


def tuplet_edges(row: Row, index: int) -> tuple[bool, bool, bool]:
    """Whether a value starts and stops its tuplet, and whether the tuplet is numbered, with a
    bracket."""
    values = row.values
    tuplet = values[index].piece.tuplet
    if tuplet is None:
        return False, False, False
    starts = index == 0 or values[index - 1].piece.tuplet != tuplet
    stops = index + 1 == len(values) or values[index + 1].piece.tuplet != tuplet
    return starts, stops, tuplet not in row.unnumbered


def _value(note: Element, tools: Tools, value: NoteValue, row: Row) -> None:
    etree.SubElement(note, "duration").text = str(tools.ticks(value.piece.duration_quarter))


def _type(note: Element, value: NoteValue) -> None:
    etree.SubElement(note, "type").text = value.piece.note_type
    for _ in range(value.piece.dots):
        etree.SubElement(note, "dot")


def _time_modification(note: Element, value: NoteValue) -> None:
    tuplet = value.piece.tuplet
    if tuplet is None:
        return
    element = etree.SubElement(note, "time-modification")
    etree.SubElement(element, "actual-notes").text = str(tuplet.actual)
    etree.SubElement(element, "normal-notes").text = str(tuplet.normal)


def _tuplet_marks(value: NoteValue, edges: tuple[bool, bool, bool]) -> list[Element]:
    starts, stops, numbered = edges
    marks = []
    if starts:
        marks.append(etree.Element("tuplet", {
            "type": "start", "bracket": "yes" if numbered else "no",
            "show-number": "actual" if numbered else "none"}))
    if stops:
        marks.append(etree.Element("tuplet", {"type": "stop"}))
    return marks


def rest_element(tools: Tools, value: NoteValue, row: Row, edges: tuple[bool, bool, bool]
                 ) -> Element:
    """A rest as an element."""
    note = etree.Element("note")
    if not value.is_shown:
        note.set("print-object", "no")
    etree.SubElement(note, "rest")
    _value(note, tools, value, row)
    etree.SubElement(note, "voice").text = str(row.voice)
    _type(note, value)
    _time_modification(note, value)
    etree.SubElement(note, "staff").text = str(row.staff)
    marks = _tuplet_marks(value, edges)
    if marks:
        etree.SubElement(note, "notations").extend(marks)
    return note


def chord_elements(tools: Tools, value: NoteValue, column: NoteColumn, row: Row, bar: ChorusBar,
                   edges: tuple[bool, bool, bool]) -> list[Element]:
    """The notes of a column that one value has, as elements, lowest first."""
    begins = bar.onset_quarter + value.piece.start_quarter
    elements = []
    for place, (index, played) in enumerate(column.notes):
        struck = value.is_first and index not in column.tied_in
        ties_on = value.ties_on or (index in column.tied_on
                                    and begins + value.piece.duration_quarter == column.end_quarter)
        # Counts continuations by their place, so that ids are unique.
        continues = int((begins - played.onset_quarter) * tools.divisions)
        name = f"n{index}" if struck else f"n{index}-{continues}"
        note = etree.Element("note", {"id": name})
        if place:
            etree.SubElement(note, "chord")
        _pitch(note, played)
        _value(note, tools, value, row)
        if not struck:
            etree.SubElement(note, "tie", {"type": "stop"})
        if ties_on:
            etree.SubElement(note, "tie", {"type": "start"})
        etree.SubElement(note, "voice").text = str(row.voice)
        _type(note, value)
        if value.accidentals and value.accidentals[place] is not None:
            _accidental(note, value.accidentals[place])
        _time_modification(note, value)
        if value.stem:
            etree.SubElement(note, "stem").text = value.stem
        etree.SubElement(note, "staff").text = str(row.staff)
        if not place:
            for level, word in enumerate(value.beams, 1):
                etree.SubElement(note, "beam", {"number": str(level)}).text = word
        notations = _ties(not struck, ties_on)
        if not place:
            notations.extend(_tuplet_marks(value, edges))
            notations.extend(_slurs(tools.touch, column, value))
        if struck:
            notations.extend(_attack(tools, value, column, (index, played), row.staff == 2))
        if len(notations):
            note.append(notations)
        elements.append(note)
    return elements


def _pitch(note: Element, played: HandNote) -> None:
    pitch = etree.SubElement(note, "pitch")
    etree.SubElement(pitch, "step").text = played.pitch.step
    if played.pitch.alter:
        etree.SubElement(pitch, "alter").text = str(played.pitch.alter)
    etree.SubElement(pitch, "octave").text = str(played.pitch.octave)


def _accidental(note: Element, shown: ShownAccidentals | None) -> None:
    if shown is None:
        return
    element = etree.SubElement(note, "accidental")
    if shown.is_courtesy:
        element.set("cautionary", "yes")
    element.text = shown.name


def _ties(from_before: bool, to_next: bool) -> Element:
    notations = etree.Element("notations")
    if from_before:
        etree.SubElement(notations, "tied", {"type": "stop"})
    if to_next:
        etree.SubElement(notations, "tied", {"type": "start"})
    return notations


def _slurs(touch: Touch, column: NoteColumn, value: NoteValue) -> Iterator[Element]:
    """Where a slur ends, and where one begins. A bar is written voice by voice: a slur may begin
    before the end of an earlier one has been written, so that they are numbered in turn."""
    if column.hand != "right":
        return
    for place, slur in enumerate(touch.slurs):
        number = str(1 + place % _SLURS_AT_ONCE)
        if slur.role == column.role:
            if slur.last_quarter == column.onset_quarter and not value.ties_on:
                yield etree.Element("slur", {"type": "stop", "number": number})
            if slur.onset_quarter == column.onset_quarter and value.is_first:
                yield etree.Element("slur", {"type": "start", "number": number,
                                             "placement": "above"})


def _attack(tools: Tools, value: NoteValue, column: NoteColumn, member: tuple[int, HandNote],
            is_left: bool) -> Iterator[Element]:
    """How a key is struck: its finger, its touch, whether it is rolled.

    The first note of a chord that is struck bears the signs of all of it. Of two voices on a staff
    the lower one has its fingers below; of one the left hand has.
    """
    index, played = member
    below = value.stem == "down" if value.stem else is_left
    if index in tools.fingers:
        technical = etree.Element("technical")
        etree.SubElement(technical, "fingering", {
            "placement": "below" if below else "above"}).text = str(played.finger)
        yield technical
    mine = (column.onset_quarter, column.hand, column.role)
    words = [word for word, is_so in (
        ("accent", mine in tools.touch.accents), ("staccato", column.is_staccato),
        ("tenuto", mine in tools.touch.tenutos and not column.is_staccato)) if is_so]
    again = (column.onset_quarter, column.voice) in tools.doubled
    first = next(note for key, note in column.notes if key not in column.tied_in)
    if played is first and words and not again:
        articulations = etree.Element("articulations")
        for word in words:
            sign = etree.SubElement(articulations, word)
            if value.stem:  # of two voices on a staff: outside, not between them
                sign.set("placement", "above" if value.stem == "up" else "below")
        yield articulations
    if column.is_rolled and played.rolled:
        yield etree.Element("arpeggiate")
