"""An arrangement as MusicXML 4.0.

One part on a grand staff. The right hand is voices 1 to 4 on the upper staff, the left
hand voices 5 to 8 on the lower. Notes have the id ``n<index>``, the index being that in
`Arrangement.notes`; tied continuations ``n<index>-<count>``; bars ``m<number>``. So every
element of an engraved page can be traced to a struck key.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import lcm

from lxml import etree

from fillwright.arranging.articulation import Touch, touch_of
from fillwright.arranging.model import Arrangement
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.score.accidentals import Shown
from fillwright.score.marks import Mark, marks_of
from fillwright.score.page import NoteValue, PageBar, Row, page_of
from fillwright.score.symbols import again_spans, harmony_element, shown_spans, view_harmony
from fillwright.score.voices import NoteColumn
from fillwright.tune.model import ChordSpan, ChorusBar

__all__ = ["FINGERINGS", "to_musicxml"]

FINGERINGS = ("auto", "all", "fills", "none")

Element = etree._Element


def to_musicxml(arrangement: Arrangement, *, fingering: str = "auto",
                view: bool = False, dynamics: bool = True) -> bytes:
    """Write an arrangement. The same arrangement gives the same bytes.

    fingering   "all", "fills" (fill notes only), "none", or "auto": all for beginners
    view        a copy for the engraver: chord symbols as plain text with real
                accidentals, added ones in square brackets, no degrees
    dynamics    print those of the performance; not for a page that is no chorus

    Raises InputError for another word in `fingering`.
    """
    if fingering not in FINGERINGS:
        raise InputError(f"fingering is one of {', '.join(FINGERINGS)}, not {fingering!r}")
    if fingering == "auto":
        fingering = "all" if arrangement.options.level == "beginner" else "none"
    return _Writer(arrangement, fingering, view, dynamics).write()


@dataclass(slots=True)
class _Tools:
    divisions: int
    fingering: str
    view: bool
    touch: Touch

    def ticks(self, length_quarter: Fraction) -> int:
        ticks = length_quarter * self.divisions
        if ticks.denominator != 1:
            raise ValueError("divisions do not divide a length")
        return ticks.numerator


class _Writer:
    def __init__(self, arrangement: Arrangement, fingering: str, view: bool,
                 dynamics: bool) -> None:
        self.arrangement = arrangement
        self.pages = page_of(arrangement)
        touch = touch_of(arrangement)
        self.marks = marks_of(arrangement, touch, dynamics=dynamics)
        self._shown = shown_spans(arrangement)
        self.tools = _Tools(self._divisions(), fingering, view, touch)

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
            if _may_skip(value):
                while skipped < len(values) and _may_skip(values[skipped]):
                    end += values[skipped].piece.duration_quarter
                    skipped += 1
            while queue and queue[0][1][0] < end:
                _, (at, element) = queue.pop(0)
                measure.append(self._at(element, at - place))
            if _may_skip(value):
                forward = etree.SubElement(measure, "forward")
                etree.SubElement(forward, "duration").text = str(self.tools.ticks(end - place))
                etree.SubElement(forward, "voice").text = str(row.voice)
                etree.SubElement(forward, "staff").text = str(row.staff)
            elif value.column is None:
                measure.append(_rest(self.tools, value, row, _tuplet_edges(values, index)))
            else:
                measure.extend(_chord(self.tools, value, value.column, row, bar,
                                      _tuplet_edges(values, index)))
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


def _may_skip(value: NoteValue) -> bool:
    """A rest that is not printed and belongs to no tuplet is a mere step forward."""
    return value.column is None and not value.is_shown and value.piece.tuplet is None


def _tuplet_edges(values: Sequence[NoteValue], index: int) -> tuple[bool, bool, bool]:
    """Whether a value starts and stops its tuplet, and whether the tuplet needs a bracket."""
    tuplet = values[index].piece.tuplet
    if tuplet is None:
        return False, False, False
    starts = index == 0 or values[index - 1].piece.tuplet != tuplet
    stops = index + 1 == len(values) or values[index + 1].piece.tuplet != tuplet
    return starts, stops, True


# --- notes ------------------------------------------------------------------------------

def _value(note: Element, tools: _Tools, value: NoteValue, row: Row) -> None:
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
    starts, stops, bracket = edges
    marks = []
    if starts:
        marks.append(etree.Element("tuplet", {
            "type": "start", "bracket": "yes" if bracket else "no",
            "show-number": "actual"}))
    if stops:
        marks.append(etree.Element("tuplet", {"type": "stop"}))
    return marks


def _rest(tools: _Tools, value: NoteValue, row: Row, edges: tuple[bool, bool, bool]) -> Element:
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


def _chord(tools: _Tools, value: NoteValue, column: NoteColumn, row: Row, bar: ChorusBar,
           edges: tuple[bool, bool, bool]) -> list[Element]:
    continues = 0
    if not value.is_first:
        # Counts continuations by their place, so that ids are unique.
        begins = bar.onset_quarter + value.piece.start_quarter
        continues = int((begins - column.onset_quarter) * tools.divisions)
    elements = []
    for place, (index, played) in enumerate(column.notes):
        name = f"n{index}" if value.is_first else f"n{index}-{continues}"
        note = etree.Element("note", {"id": name})
        if place:
            etree.SubElement(note, "chord")
        _pitch(note, played)
        _value(note, tools, value, row)
        if not value.is_first:
            etree.SubElement(note, "tie", {"type": "stop"})
        if value.ties_on:
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
        notations = _ties(value)
        if not place:
            notations.extend(_tuplet_marks(value, edges))
            notations.extend(_slurs(tools.touch, column, value))
        if value.is_first:
            below = row.staff == 2 or value.stem == "down"
            notations.extend(_attack(tools, column, played, not place, below))
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


def _accidental(note: Element, shown: Shown | None) -> None:
    if shown is None:
        return
    element = etree.SubElement(note, "accidental")
    if shown.is_courtesy:
        element.set("cautionary", "yes")
    element.text = shown.name


def _ties(value: NoteValue) -> Element:
    notations = etree.Element("notations")
    if not value.is_first:
        etree.SubElement(notations, "tied", {"type": "stop"})
    if value.ties_on:
        etree.SubElement(notations, "tied", {"type": "start"})
    return notations


def _slurs(touch: Touch, column: NoteColumn, value: NoteValue) -> Iterator[Element]:
    """Where a slur ends, and where one begins."""
    if column.hand != "right":
        return
    for slur in touch.slurs:
        if slur.role == column.role:
            if slur.last_quarter == column.onset_quarter and not value.ties_on:
                yield etree.Element("slur", {"type": "stop", "number": "1"})
            if slur.onset_quarter == column.onset_quarter and value.is_first:
                yield etree.Element("slur", {"type": "start", "number": "1",
                                             "placement": "above"})


def _attack(tools: _Tools, column: NoteColumn, played: HandNote, leads: bool, below: bool
            ) -> Iterator[Element]:
    """How a key is struck: its finger, its touch, whether it is rolled.

    leads   the first note of its chord, which bears the signs of all of it
    below   where the fingers stand
    """
    wanted = tools.fingering == "all" or (tools.fingering == "fills" and played.role == "fill")
    if wanted and played.finger is not None:
        technical = etree.Element("technical")
        etree.SubElement(technical, "fingering", {
            "placement": "below" if below else "above"}).text = str(played.finger)
        yield technical
    mine = (column.onset_quarter, column.hand, column.role)
    words = [word for word, is_so in (
        ("accent", mine in tools.touch.accents), ("staccato", column.is_staccato),
        ("tenuto", mine in tools.touch.tenutos and not column.is_staccato)) if is_so]
    if leads and words:
        articulations = etree.Element("articulations")
        for word in words:
            etree.SubElement(articulations, word)
        yield articulations
    if column.is_rolled and played.rolled:
        yield etree.Element("arpeggiate")


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
