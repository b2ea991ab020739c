"""One part of a MusicXML score as raw bars: notes, chord symbols and signs in ticks.

A tick is a fixed fraction of a quarter note, the same for the whole file, so that the
walk over the notes is whole-number arithmetic; `Fraction` appears only where a file's own
unit cannot express a tuplet. `fillwright.tune.assemble` makes a `Tune` of the bars.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import lcm

from lxml import etree

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.chordtext import is_no_chord
from fillwright.theory.key import Key
from fillwright.tune.harmonyxml import HarmonyReader
from fillwright.tune.limits import MAX_BAR_QUARTERS
from fillwright.tune.marks import (
    RawMarks,
    carries_forward,
    read_barline,
    read_sign,
    read_sound,
    read_words,
)
from fillwright.tune.melody import RawNote, Ticks
from fillwright.tune.model import Meter
from fillwright.tune.notexml import TYPE_QUARTERS, NoteReader
from fillwright.tune.notices import Notices
from fillwright.tune.signature import NUMBER, UNISON, Signature
from fillwright.tune.stacked import Printed, spread
from fillwright.tune.words import feel_word, tempo_number, tempo_word

__all__ = ["PartReader", "RawBar", "Speed", "ticks_per_quarter"]

_SPEED_BARS = 4
"""Marks of tempo and feel count in so many first bars; later ones are changes."""

_TEMPO_EQUATION = re.compile(r"=\s*(?:c\.?|ca\.?)?\s*(\d{2,3})\b")


@dataclass(slots=True)
class RawBar:
    """A measure as written. Times in ticks from the bar line.

    printed_start  of the first bar: where the first note or rest is printed
    """

    number: str
    implicit: bool
    meter: Meter
    key: Key
    mode_given: bool
    notes: list[RawNote]
    chords: list[tuple[Ticks, ChordSymbol]]
    slur_stops: list[tuple[Ticks, int]]
    notes_end: Ticks = 0
    rests_end: Ticks = 0
    forward_end: Ticks = 0
    printed_start: Ticks | None = None
    section: str = ""
    line_break: bool = False


@dataclass(slots=True)
class Speed:
    """Tempo and feel as far as a part tells: quarters a minute if `of_quarter`, else felt
    beats a minute."""

    bpm: Fraction | None = None
    of_quarter: bool = False
    marked: bool = False
    feel: str | None = None
    feel_from_sound: bool = False


def ticks_per_quarter(parts: Iterable[etree._Element]) -> int:
    """A tick that all whole-number `<divisions>` of the parts are multiples of."""
    ticks = 1
    for part in parts:
        for element in part.iter("divisions"):
            text = (element.text or "").strip()
            if text.isdigit() and 0 < len(text) < 8 and int(text):
                ticks = lcm(ticks, int(text))
                if ticks > 10**9:
                    return ticks
    return ticks


class PartReader:
    """Reads the measures of one part.

    tpq         ticks per quarter
    concert     the score is at concert pitch: only octave transposition applies
    want_notes  False where a part is read for its chord symbols and signs only
    given       symbols of `<harmony>` elements by their `id`, where they were read elsewhere
    """

    def __init__(self, part: etree._Element, tpq: int, notices: Notices, *,
                 concert: bool = False, want_notes: bool = True,
                 given: Mapping[str, ChordSymbol] | None = None) -> None:
        self._part = part
        self._tpq = tpq
        self._notices = notices
        self._given = given or {}
        self._harmony = HarmonyReader(notices)
        self._signature = Signature(tpq, notices, concert)
        self._staff = self._melody_staff() if want_notes else "1"
        self._notes = NoteReader(tpq, self._signature, notices, staff=self._staff,
                                 wanted=want_notes)
        self.bars: list[RawBar] = []
        self.marks: list[RawMarks] = []
        self.speed = Speed()
        self._printed: Printed = {}

    @property
    def meter_given(self) -> bool:
        return self._signature.meter_given

    @property
    def key_given(self) -> bool:
        return self._signature.key_given

    def read(self) -> None:
        """Fill `bars`, `marks` and `speed`. Raises InputError, with the bar."""
        forward_repeat = False
        try:
            for index, measure in enumerate(self._part.iterchildren("measure")):
                number = " ".join((measure.get("number") or str(index + 1)).split())[:20]
                self._notices.bar = number
                forward_repeat = self._measure(measure, number, forward_repeat)
        except InputError as error:
            raise InputError(f"bar {self._notices.bar}: {error.message}") from None
        self._notices.bar = ""

    def _melody_staff(self) -> str:
        """Staff 1, or the first staff that has a note where that one has none."""
        if next(self._part.iter("staves"), None) is None:
            return "1"
        first = None
        for note in self._part.iter("note"):
            if note.find("pitch") is None or note.get("print-object") == "no":
                continue
            staff = (note.findtext("staff") or "1").strip()
            if staff == "1":
                return "1"
            first = first or staff
        return first or "1"

    def _measure(self, measure: etree._Element, number: str, opens_repeat: bool) -> bool:
        """Read a measure; whether its last bar line opens a repeat."""
        notes, signature = self._notes, self._signature
        notes.begin()
        notes.first_bar = not self.bars
        bar = RawBar(number, measure.get("implicit") == "yes", signature.meter,
                     signature.sounding_key, signature.mode_given, notes.notes, [],
                     notes.slur_stops)
        marks = RawMarks(opens_repeat)
        self.bars.append(bar)
        self.marks.append(marks)
        carries = False
        self._printed.clear()
        for element in measure:
            tag = element.tag
            if tag == "note":
                notes.read(element)
            elif tag == "harmony":
                self._take_harmony(element, bar)
            elif tag == "backup":
                notes.backup(element)
            elif tag == "forward":
                notes.forward(element)
            elif tag == "attributes":
                signature.read(element, self._staff)
                # A change inside a bar is one of the next bar, unless nothing came before it.
                if notes.cursor == 0:
                    bar.meter, bar.key = signature.meter, signature.sounding_key
                    bar.mode_given = signature.mode_given
            elif tag == "direction":
                self._direction(element, bar, marks)
            elif tag == "sound":
                self._sound(element, marks)
            elif tag == "barline":
                read_barline(element, self.marks)
                carries = carries or carries_forward(element)
            elif tag == "print" and (element.get("new-system") == "yes"
                                     or element.get("new-page") == "yes"):
                bar.line_break = True
        bar.notes_end, bar.rests_end = notes.notes_end, notes.rests_end
        bar.forward_end = notes.forward_end
        bar.printed_start = notes.printed_start
        if len(self._printed) > 1:
            end = max(bar.notes_end, bar.rests_end) or int(bar.meter.length_quarter * self._tpq)
            beat = bar.meter.beat_quarter * self._tpq
            bar.chords = spread(bar.chords, self._printed, bar.notes, end,
                                beat.numerator if beat.denominator == 1 else beat, self._notices)
        return carries

    # Chord symbols ---------------------------------------------------------------------

    def _take_harmony(self, element: etree._Element, bar: RawBar) -> None:
        symbol = self._given.get(element.get("id") or "") if self._given else None
        if symbol is None:
            symbol = self._harmony.element(element, bar.key)
        if symbol is None:
            return
        if self._signature.interval != UNISON:
            symbol = symbol.transposed(self._signature.interval)
        onset = self._notes.cursor + self._offset(element)
        if onset < 0:
            before = self.bars[-2] if len(self.bars) > 1 else None
            if before is not None and -onset <= before.notes_end:
                before.chords.append((max(before.notes_end, before.rests_end) + onset, symbol))
                self._notices.add(f"chord {symbol} stands before its bar line")
                return
            self._notices.add(f"chord {symbol} stands before the bar; moved to its start")
            onset = 0
        self._printed[len(bar.chords)] = element
        bar.chords.append((onset, symbol))

    def _offset(self, element: etree._Element) -> Ticks:
        for child in element.iterchildren("offset"):
            text = (child.text or "").strip()
            if not NUMBER.fullmatch(text):
                self._notices.add(f"the offset {text[:20]!r} is not a number; ignored")
                return 0
            value: Ticks = Fraction(text) if "." in text else int(text)
            ticks = value * self._signature.scale
            longest = int(MAX_BAR_QUARTERS * self._tpq)
            if not -longest <= ticks <= longest:
                self._notices.add("an offset longer than any bar was ignored")
                return 0
            return ticks
        return 0

    # Directions ------------------------------------------------------------------------

    def _direction(self, direction: etree._Element, bar: RawBar, marks: RawMarks) -> None:
        for child in direction:
            if child.tag == "sound":
                self._sound(child, marks)
            elif child.tag == "direction-type":
                for kind in child:
                    self._direction_type(kind, direction, bar, marks)

    def _direction_type(self, kind: etree._Element, direction: etree._Element, bar: RawBar,
                        marks: RawMarks) -> None:
        tag = kind.tag
        if tag == "words":
            self._words((kind.text or "").strip(), direction, bar, marks)
        elif tag == "rehearsal":
            text = " ".join((kind.text or "").split())
            if not read_words(text, marks):
                bar.section = bar.section or text[:20]
        elif tag in ("segno", "coda"):
            read_sign(tag, marks)
        elif tag == "metronome":
            self._metronome(kind)

    def _words(self, text: str, direction: etree._Element, bar: RawBar, marks: RawMarks) -> None:
        if not text or len(text) > 200:
            return
        if is_no_chord(text):
            bar.chords.append((max(self._notes.cursor + self._offset(direction), 0),
                               self._harmony.no_chord()))
            return
        if read_words(text, marks) or len(self.bars) > _SPEED_BARS:
            return
        speed = self.speed
        if speed.feel is None:
            speed.feel = feel_word(text)
        if speed.bpm is None:
            equation = _TEMPO_EQUATION.search(text)
            if equation is not None:
                speed.bpm, speed.marked = Fraction(int(equation[1])), True
            else:
                speed.bpm = tempo_word(text)

    def _metronome(self, element: etree._Element) -> None:
        speed = self.speed
        if len(self.bars) > _SPEED_BARS:
            return
        per_minute = tempo_number(element.findtext("per-minute"))
        unit = TYPE_QUARTERS.get((element.findtext("beat-unit") or "").strip())
        if speed.marked or per_minute is None or unit is None:
            return  # a second mark, or a relation such as "two eighths = triplet"
        dots = sum(1 for _ in element.iterchildren("beat-unit-dot"))
        unit *= 2 - Fraction(1, 1 << min(dots, 4))
        speed.bpm, speed.of_quarter, speed.marked = per_minute * unit, True, True

    def _sound(self, sound: etree._Element, marks: RawMarks) -> None:
        read_sound(sound, marks)
        speed = self.speed
        if len(self.bars) > _SPEED_BARS:
            return
        tempo = tempo_number(sound.get("tempo")) if "tempo" in sound.attrib else None
        if tempo and not (speed.marked and speed.of_quarter):
            speed.bpm, speed.of_quarter, speed.marked = tempo, True, True
        for swing in sound.iterchildren("swing"):
            if speed.feel_from_sound:
                break
            first, second = swing.findtext("first"), swing.findtext("second")
            straight = swing.find("straight") is not None or first == second
            speed.feel, speed.feel_from_sound = "straight" if straight else "swing", True
