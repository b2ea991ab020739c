"""An arrangement as MusicXML 4.0.

One part on a grand staff. The right hand is voices 1 to 4 on the upper staff, the left
hand voices 5 to 8 on the lower. Notes have the id ``n<index>``, the index being that in
`Arrangement.notes`; tied continuations ``n<index>-<count>``; bars ``m<number>``. So every
element of an engraved page can be traced to a struck key.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import lcm

from lxml import etree

from fillwright.arranging.articulation import Touch, touch_of
from fillwright.arranging.model import Arrangement
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.score.fingers import FINGERINGS, fingered
from fillwright.score.marks import Mark, marks_of
from fillwright.score.note_elements import (
    Element,
    Tools,
    chord_elements,
    may_skip,
    rest_element,
    tuplet_edges,
)
from fillwright.score.page import PageBar, Row, page_of
from fillwright.score.symbols import again_spans, harmony_element, shown_spans, view_harmony
from fillwright.tune.model import ChordSpan, ChorusBar

__all__ = ["FINGERINGS", "to_musicxml"]


def to_musicxml(arrangement: Arrangement, *, fingering: str = "auto",
                view: bool = False, dynamics: bool = True, counts: bool = True) -> bytes:
    """Write an arrangement. The same arrangement gives the same bytes.

    fingering   "all", "fills" (what is struck with a fill), "helpful" (where a hand takes a new
                place), "none", or "auto": all for beginners, else none
    counts      below the fills, to be said aloud
    view        a copy for the engraver: chord symbols as plain text with real
                accidentals, added ones in square brackets, no degrees
    dynamics    print those of the performance; not for a page that is no chorus

    Raises InputError for another word in `fingering`.
    """
    if fingering not in FINGERINGS:
        raise InputError(f"fingering is one of {', '.join(FINGERINGS)}, not {fingering!r}")
    touch = touch_of(arrangement)
    marks = marks_of(arrangement, touch, dynamics=dynamics, counts=counts)
    return _Writer(arrangement, fingered(arrangement, fingering), view, touch, marks).write()


class _Writer:
    def __init__(self, arrangement: Arrangement, fingers: frozenset[int], view: bool,
                 touch: Touch, marks: Sequence[Mark]) -> None:
        self.arrangement = arrangement
        self.pages = page_of(arrangement)
        self.marks = marks
        self._shown = shown_spans(arrangement)
        self.tools = Tools(self._divisions(), fingers, view, touch,
                           self._doubled() if view else frozenset())

    def _doubled(self) -> frozenset[tuple[Fraction, int]]:
        """Where two voices with stems on one side are struck at once, all but the outer one:
        their accents would stand on each other."""
        struck: dict[tuple[Fraction, int, str], set[tuple[float, int]]] = {}
        for page in self.pages:
            for row in page.rows:
                for value in row.values:
                    if value.column is not None and value.is_first and value.stem:
                        outer = value.column.centre * (1 if value.stem == "down" else -1)
                        key = value.column.onset_quarter, row.staff, value.stem
                        struck.setdefault(key, set()).add((outer, value.column.voice))
        return frozenset((onset, voice) for (onset, _, _), found in struck.items()
                         for _, voice in sorted(found)[1:])

    def _divisions(self) -> int:
        denominators = {1}
        for page in self.pages:
            denominators.add(page.bar.onset_quarter.denominator)
            denominators.add(page.bar.length_quarter.denominator)
            for row in page.rows:
                for value in row.values:
                    denominators.add(value.piece.start_quarter.denominator)
                    denominators.add(value.piece.duration_quarter.denominator)
        for mark in self.marks:
            denominators.add(mark.onset_quarter.denominator)
        for span in (*self.arrangement.chords, *self._shown):
            denominators.add(span.onset_quarter.denominator)
        return lcm(*denominators)

    def write(self) -> bytes:
        score = etree.Element("score-partwise", {"version": "4.0"})
        self._header(score)
        part = etree.SubElement(score, "part", {"id": "P1"})
        for index, page in enumerate(self.pages):
            part.append(self._measure(index, page))
        return bytes(etree.tostring(
            score, xml_declaration=True, encoding="UTF-8", pretty_print=True,
            doctype='<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 '
                    'Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">'))

    def _header(self, score: Element) -> None:
        tune = self.arrangement.chorus.tune
        options = self.arrangement.options
        work = etree.SubElement(score, "work")
        etree.SubElement(work, "work-title").text = _clean(tune.title)
        identification = etree.SubElement(score, "identification")
        if tune.composer:
            etree.SubElement(identification, "creator",
                             {"type": "composer"}).text = _clean(tune.composer)
        if tune.rights:
            etree.SubElement(identification, "rights").text = _clean(tune.rights)
        encoding = etree.SubElement(identification, "encoding")
        etree.SubElement(encoding, "software").text = "fillwright"
        etree.SubElement(score, "credit").extend(_credit("title", _clean(tune.title), 18))
        subtitle = f"{options.level}, {options.hand} hand"
        etree.SubElement(score, "credit").extend(_credit("subtitle", subtitle, 11))
        for credit in score.findall("credit"):
            credit.set("page", "1")
        listed = etree.SubElement(etree.SubElement(score, "part-list"), "score-part",
                                  {"id": "P1"})
        etree.SubElement(listed, "part-name", {"print-object": "no"}).text = "Piano"
        instrument = etree.SubElement(listed, "score-instrument", {"id": "P1-I1"})
        etree.SubElement(instrument, "instrument-name").text = "Piano"
        midi = etree.SubElement(listed, "midi-instrument", {"id": "P1-I1"})
        etree.SubElement(midi, "midi-channel").text = "1"
        etree.SubElement(midi, "midi-program").text = "1"

    # --- a bar --------------------------------------------------------------------------

    def _measure(self, index: int, page: PageBar) -> Element:
        bar = page.bar
        measure = etree.Element("measure", {"number": str(page.number), "id": f"m{page.number}"})
        if bar.is_pickup or bar.length_quarter < bar.meter.length_quarter:
            measure.set("implicit", "yes")
        before = self.pages[index - 1].bar if index else None
        attributes = self._attributes(bar, before)
        if attributes is not None:
            measure.append(attributes)
        waiting = {1: self._harmonies(bar) + self._bar_marks(bar, 1),
                   2: self._bar_marks(bar, 2)}
        for number, row in enumerate(page.rows):
            if number:
                backup = etree.SubElement(measure, "backup")
                etree.SubElement(backup, "duration").text = str(
                    self.tools.ticks(bar.length_quarter))
            self._row(measure, bar, row, waiting.pop(row.staff, []))
        measure.extend(self._barline(index))
        return measure

    def _attributes(self, bar: ChorusBar, before: ChorusBar | None) -> Element | None:
        attributes = etree.Element("attributes")
        if before is None:
            etree.SubElement(attributes, "divisions").text = str(self.tools.divisions)
        if before is None or before.key != bar.key:
            key = etree.SubElement(attributes, "key")
            etree.SubElement(key, "fifths").text = str(bar.key.fifths)
            etree.SubElement(key, "mode").text = bar.key.mode
        if before is None or before.meter != bar.meter:
            time = etree.SubElement(attributes, "time")
            etree.SubElement(time, "beats").text = str(bar.meter.beats)
            etree.SubElement(time, "beat-type").text = str(bar.meter.beat_type)
        if before is None:
            etree.SubElement(attributes, "staves").text = "2"
            for number, sign, line in (("1", "G", "2"), ("2", "F", "4")):
                clef = etree.SubElement(attributes, "clef", {"number": number})
                etree.SubElement(clef, "sign").text = sign
                etree.SubElement(clef, "line").text = line
        return attributes if len(attributes) else None

    def _barline(self, index: int) -> list[Element]:
        style = None
        if index + 1 == len(self.pages):
            style = "light-heavy"
        elif self.pages[index + 1].bar.section and not self.pages[index].bar.is_pickup:
            style = "light-light"
        if style is None:
            return []
        barline = etree.Element("barline", {"location": "right"})
        etree.SubElement(barline, "bar-style").text = style
        return [barline]

    def _harmonies(self, bar: ChorusBar) -> list[tuple[Fraction, Element]]:
        """Chord symbols that begin in a bar, with their places; offsets come later."""
        last = bar.bar_index == self.pages[-1].bar.bar_index and bar is self.pages[-1].bar
        inside = [(number, span) for number, span in enumerate(self.arrangement.chords)
                  if bar.onset_quarter <= span.onset_quarter < bar.end_quarter
                  or (last and span.onset_quarter == bar.end_quarter)]
        if not self.tools.view:
            again = [(number, span) for number, span in enumerate(again_spans(self.arrangement))
                     if bar.onset_quarter <= span.onset_quarter < bar.end_quarter]
            return [(span.onset_quarter, harmony_element(span, f"{name}{number}", 0))
                    for name, number, span in (
                        *(("added" if span.added else "chord", n, span) for n, span in inside),
                        *(("again", n, span) for n, span in again))]
        places: dict[Fraction, list[ChordSpan]] = {}
        for span in self._shown:
            if bar.onset_quarter <= span.onset_quarter < bar.end_quarter or (
                    last and span.onset_quarter == bar.end_quarter):
                places.setdefault(span.onset_quarter, []).append(span)
        return [(place, view_harmony(spans, 0)) for place, spans in sorted(places.items())]

    def _bar_marks(self, bar: ChorusBar, staff: int) -> list[tuple[Fraction, Element]]:
        return [(mark.onset_quarter, mark.element) for mark in self.marks
                if mark.staff == staff and _belongs(mark, bar, self.pages[-1].bar)]

    # --- a voice ------------------------------------------------------------------------

    def _row(self, measure: Element, bar: ChorusBar, row: Row,
             waiting: Sequence[tuple[Fraction, Element]]) -> None:
        queue = sorted(enumerate(waiting), key=lambda item: (item[1][0], item[0]))
        values = row.values
        if not values:
            for _, (place, element) in queue:
                measure.append(self._at(element, place - bar.onset_quarter))
            measure.append(self._bar_rest(bar, row))
            return
        place = bar.onset_quarter
        index = 0
        while index < len(values):
            value = values[index]
            end = place + value.piece.duration_quarter
            skipped = index + 1
            if may_skip(value):
                while skipped < len(values) and may_skip(values[skipped]):
                    end += values[skipped].piece.duration_quarter
                    skipped += 1
            while queue and queue[0][1][0] < end:
                _, (at, element) = queue.pop(0)
                measure.append(self._at(element, at - place))
            if may_skip(value):
                forward = etree.SubElement(measure, "forward")
                etree.SubElement(forward, "duration").text = str(self.tools.ticks(end - place))
                etree.SubElement(forward, "voice").text = str(row.voice)
                etree.SubElement(forward, "staff").text = str(row.staff)
            elif value.column is None:
                measure.append(rest_element(self.tools, value, row, tuplet_edges(row, index)))
            else:
                measure.extend(chord_elements(self.tools, value, value.column, row, bar,
                                      tuplet_edges(row, index)))
            place, index = end, skipped
        for _, (at, element) in queue:
            measure.append(self._at(element, at - place))

    def _at(self, element: Element, offset_quarter: Fraction) -> Element:
        """Put the offset from the cursor into a direction or harmony."""
        ticks = self.tools.ticks(offset_quarter)
        if ticks:
            offset = etree.Element("offset")
            offset.text = str(ticks)
            staff = element.find("staff")
            assert staff is not None
            staff.addprevious(offset)
        return element

    def _bar_rest(self, bar: ChorusBar, row: Row) -> Element:
        note = etree.Element("note")
        etree.SubElement(note, "rest", {"measure": "yes"})
        etree.SubElement(note, "duration").text = str(self.tools.ticks(bar.length_quarter))
        etree.SubElement(note, "voice").text = str(row.voice)
        etree.SubElement(note, "staff").text = str(row.staff)
        return note


def _belongs(mark: Mark, bar: ChorusBar, last: ChorusBar) -> bool:
    if mark.closes:
        return bar.onset_quarter < mark.onset_quarter <= bar.end_quarter
    if bar is last:
        return bar.onset_quarter <= mark.onset_quarter
    return bar.onset_quarter <= mark.onset_quarter < bar.end_quarter


def _clean(text: str) -> str:
    """Text on one line that XML can hold."""
    kept = "".join(ch for ch in text if (ch >= " " or ch.isspace()) and ch not in "\ufffe\uffff"
                   and not "\ud800" <= ch <= "\udfff")
    return " ".join(kept.split())


def _credit(kind: str, text: str, size: int) -> list[Element]:
    credit_type = etree.Element("credit-type")
    credit_type.text = kind
    words = etree.Element("credit-words", {"font-size": str(size), "justify": "center",
                                           "valign": "top"})
    words.text = text
    return [credit_type, words]
