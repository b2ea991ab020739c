"""One part of a MusicXML score as raw bars: notes, chord symbols and signs in ticks.

A tick is a fixed fraction of a quarter note, the same for the whole file, so that the
walk over the notes is whole-number arithmetic; `Fraction` appears only where a file's own
unit cannot express a tuplet. `fillwright.tune.assemble` makes a `Tune` of the bars.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from math import lcm

from lxml import etree

from fillwright.errors import InputError
from fillwright.theory.chord import ChordSymbol
from fillwright.theory.chordtext import is_no_chord
from fillwright.theory.key import Key
from fillwright.theory.pitch import Interval, Pitch, spell_plain
from fillwright.tune.harmonyxml import HarmonyReader
from fillwright.tune.limits import MAX_BAR_QUARTERS, MAX_NOTE_QUARTERS, MAX_NOTES
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
from fillwright.tune.notices import Notices
from fillwright.tune.words import feel_word, tempo_number, tempo_word

__all__ = ["PartReader", "RawBar", "Speed", "ticks_per_quarter"]

_NOTE_CHILDREN = ("pitch", "duration", "rest", "chord", "tie", "notations", "grace", "cue",
                  "staff", "time-modification", "notehead", "unpitched")
_NUMBER = re.compile(r"\s*[+-]?\d{1,12}(?:\.\d{0,12})?\s*")
_TYPE_QUARTERS = {
    "1024th": Fraction(1, 256), "512th": Fraction(1, 128), "256th": Fraction(1, 64),
    "128th": Fraction(1, 32), "64th": Fraction(1, 16), "32nd": Fraction(1, 8),
    "16th": Fraction(1, 4), "eighth": Fraction(1, 2), "quarter": Fraction(1),
    "half": Fraction(2), "whole": Fraction(4), "breve": Fraction(8), "long": Fraction(16),
}
# Steps and semitones of a chromatic transposition that does not name its steps.
_DIATONIC = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
_UNISON = Interval(0, 0)
# Where the tonic of a mode stands on the line of fifths from the tonic of the major (minor)
# key with the same signature: a D dorian tune is heard in D minor.
_MODES = {"major": ("major", 0), "ionian": ("major", 0), "minor": ("minor", 0),
          "aeolian": ("minor", 0), "dorian": ("minor", -1), "phrygian": ("minor", 1),
          "lydian": ("major", -1), "mixolydian": ("major", 1), "locrian": ("minor", 2)}


@dataclass(slots=True)
class RawBar:
    """A measure as written. Times in ticks from the bar line."""

    number: str
    implicit: bool
    meter: Meter
    key: Key
    mode_given: bool
    notes: list[RawNote] = field(default_factory=list)
    chords: list[tuple[Ticks, ChordSymbol]] = field(default_factory=list)
    notes_end: Ticks = 0
    rests_end: Ticks = 0
    forward_end: Ticks = 0
    slur_stops: list[tuple[Ticks, int]] = field(default_factory=list)
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
        self._concert = concert
        self._want_notes = want_notes
        self._given = given or {}
        self._harmony = HarmonyReader(notices)
        self._scale: Ticks = tpq
        self._meter = Meter(4, 4)
        self._key = Key(0)
        self._mode_given = False
        self._interval = _UNISON
        self._pitches: dict[tuple[str | None, ...], Pitch | None] = {}
        self._staff = "1"
        self._count = 0
        self._longest_bar = int(MAX_BAR_QUARTERS * tpq)
        self._longest_note = int(MAX_NOTE_QUARTERS * tpq)
        self.bars: list[RawBar] = []
        self.marks: list[RawMarks] = []
        self.speed = Speed()
        self.meter_given = False

    def read(self) -> None:
        """Fill `bars`, `marks` and `speed`. Raises InputError, with the bar."""
        if self._want_notes:
            self._staff = self._melody_staff()
        forward_repeat = False
        for index, measure in enumerate(self._part.iterchildren("measure")):
            number = " ".join((measure.get("number") or str(index + 1)).split())[:20]
            self._notices.bar = number
            bar = RawBar(number, measure.get("implicit") == "yes", self._meter, self._key,
                         self._mode_given)
            marks = RawMarks(repeat_start=forward_repeat)
            self.bars.append(bar)
            self.marks.append(marks)
            forward_repeat = self._measure(measure, bar, marks)
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

    def _fail(self, sentence: str) -> InputError:
        return InputError(f"bar {self.bars[-1].number}: {sentence}")

    # One measure -----------------------------------------------------------------------

    def _measure(self, measure: etree._Element, bar: RawBar, marks: RawMarks) -> bool:
        cursor: Ticks = 0
        chord_onset: Ticks = 0
        carries = False
        limit = self._longest_bar
        for element in measure:
            tag = element.tag
            if tag == "note":
                onset, end, is_chord = self._note(element, bar, cursor, chord_onset)
                if not is_chord:
                    chord_onset = onset
                    cursor = end
            elif tag == "harmony":
                self._take_harmony(element, bar, cursor)
            elif tag == "backup":
                cursor -= self._length(element.findtext("duration"))
                if cursor * 40 < self._tpq:  # rounded tuplets, or a backup beyond the bar
                    if -cursor * 8 > self._tpq:
                        self._notices.add("a step back reaches before the bar; cut")
                    cursor = 0
            elif tag == "forward":
                cursor += self._length(element.findtext("duration"))
                bar.forward_end = max(bar.forward_end, cursor)
            elif tag == "attributes":
                self._attributes(element, bar, cursor)
            elif tag == "direction":
                self._direction(element, bar, marks, cursor)
            elif tag == "sound":
                self._sound(element, marks)
            elif tag == "barline":
                read_barline(element, self.marks)
                carries = carries or carries_forward(element)
            elif tag == "print" and (element.get("new-system") == "yes"
                                     or element.get("new-page") == "yes"):
                bar.line_break = True
            if cursor > limit:
                raise self._fail(f"it is longer than the limit of {MAX_BAR_QUARTERS} quarter "
                                 "notes")
        return carries

    def _length(self, text: str | None) -> Ticks:
        """A duration in ticks. Raises InputError for one that is not a number or negative."""
        if text is None:
            return 0
        try:
            value: Ticks = int(text)
        except ValueError:
            if not _NUMBER.fullmatch(text):
                raise self._fail(f"the duration {text.strip()[:20]!r} is not a number") from None
            value = Fraction(text.strip())
        if value < 0:
            raise self._fail(f"a duration is negative ({text.strip()[:20]})")
        return value * self._scale

    def _note(self, note: etree._Element, bar: RawBar, cursor: Ticks, chord_onset: Ticks
              ) -> tuple[Ticks, Ticks, bool]:
        """Read a note or rest: its onset, its end, and whether it belongs to a chord (or is
        outside time) and so leaves the cursor where it is."""
        self._count += 1
        if self._count > MAX_NOTES:
            raise self._fail(f"the part has more notes than the limit of {MAX_NOTES}")
        pitch: etree._Element | None = None
        duration: str | None = None
        tuplet: etree._Element | None = None
        is_chord = is_rest = hidden = has_duration = False
        tie_start = tie_stop = slur_start = slur_stop = False
        for child in note.iterchildren(*_NOTE_CHILDREN):
            tag = child.tag
            if tag == "pitch":
                pitch = child
            elif tag == "duration":
                duration = child.text
                has_duration = True
            elif tag == "rest":
                is_rest = True
            elif tag == "chord":
                is_chord = True
            elif tag == "tie":
                if child.get("type") == "start":
                    tie_start = True
                elif child.get("type") == "stop":
                    tie_stop = True
            elif tag == "notations":
                for notation in child.iterchildren("tied", "slur"):
                    kind = notation.get("type")
                    if notation.tag == "slur":
                        slur_start |= kind == "start"
                        slur_stop |= kind == "stop"
                    elif kind in ("start", "continue"):
                        tie_start = True
                        tie_stop |= kind == "continue"
                    elif kind == "stop":
                        tie_stop = True
            elif tag == "staff":
                hidden |= (child.text or "").strip() != self._staff
            elif tag == "time-modification":
                tuplet = child
            elif tag == "grace":
                return cursor, cursor, True
            elif tag == "cue" or tag == "unpitched":
                hidden = True
            elif tag == "notehead":
                hidden |= child.text in ("slash", "none")
        if has_duration:
            length = self._length(duration)
            if tuplet is not None:
                length = self._exact(note, tuplet, length)
        else:
            length = self._nominal(note, tuplet)
        onset = chord_onset if is_chord else cursor
        end = onset + length
        if is_rest or pitch is None:
            if not is_chord:
                bar.rests_end = max(bar.rests_end, end)
                if end > self._longest_bar:
                    self._notices.add("a rest longer than any bar was cut")
                    full = bar.meter.length_quarter * self._tpq
                    bar.rests_end = end = max(cursor, full)
            return onset, end, is_chord
        if length <= 0:
            raise self._fail("a note has no duration")
        if length > self._longest_note:
            raise self._fail(f"a note lasts {_plain(Fraction(length) / self._tpq)} quarter "
                             f"notes, more than the limit of {MAX_NOTE_QUARTERS}")
        if end > bar.notes_end:
            bar.notes_end = end
        if hidden or not self._want_notes or note.get("print-object") == "no":
            return onset, end, is_chord
        sounding = self._pitch(pitch)
        if sounding is not None:
            bar.notes.append(RawNote(onset, end, sounding.midi, sounding, tie_start, tie_stop,
                                     slur_start))
            if slur_stop:
                bar.slur_stops.append((onset, sounding.midi))
        return onset, end, is_chord

    def _exact(self, note: etree._Element, tuplet: etree._Element, length: Ticks) -> Ticks:
        """The exact length of a tuplet note whose `duration` was rounded."""
        nominal = self._nominal(note, tuplet)
        if nominal == length or not nominal:
            return length
        error = nominal - length if nominal > length else length - nominal
        return nominal if error < 2 * self._scale and error * 6 <= nominal else length

    def _nominal(self, note: etree._Element, tuplet: etree._Element | None) -> Ticks:
        """The length its note head, dots and tuplet give; 0 where there is no head."""
        quarters = _TYPE_QUARTERS.get((note.findtext("type") or "").strip())
        if quarters is None:
            return 0
        dots = sum(1 for _ in note.iterchildren("dot"))
        quarters *= 2 - Fraction(1, 1 << min(dots, 6))
        if tuplet is not None:
            actual = (tuplet.findtext("actual-notes") or "").strip()
            normal = (tuplet.findtext("normal-notes") or "").strip()
            if not (actual.isdigit() and normal.isdigit() and len(actual + normal) < 8
                    and int(actual) and int(normal)):
                return 0
            quarters *= Fraction(int(normal), int(actual))
        ticks = quarters * self._tpq
        return ticks.numerator if ticks.denominator == 1 else ticks

    def _pitch(self, element: etree._Element) -> Pitch | None:
        texts = tuple([child.text for child in element])
        try:
            return self._pitches[texts]
        except KeyError:
            pass
        pitch = self._new_pitch(element)
        self._pitches[texts] = pitch
        return pitch

    def _new_pitch(self, element: etree._Element) -> Pitch | None:
        step = (element.findtext("step") or "").strip().upper()
        try:
            octave = int(element.findtext("octave") or "4")
            written = float(element.findtext("alter") or 0)
            alter = round(written)
        except (ValueError, OverflowError):
            octave, alter, written = 99, 0, 0.0
        if len(step) != 1 or step not in "CDEFGAB" or not -1 <= octave <= 10 \
                or not -4 <= alter <= 4:
            self._notices.add("a note whose pitch cannot be read was left out")
            return None
        if written != alter:
            self._notices.add("quarter tones are rounded to the nearest key of the piano")
        if not -2 <= alter <= 2:
            plain = Pitch(step, 0, octave)
            written_pitch = spell_plain(plain.midi + alter, sharps=alter > 0)
        else:
            written_pitch = Pitch(step, alter, octave)
        sounding = written_pitch + self._interval if self._interval != _UNISON else written_pitch
        if not 0 <= sounding.midi <= 127:
            self._notices.add("a note beyond the range of MIDI was left out")
            return None
        return sounding

    # Chord symbols ---------------------------------------------------------------------

    def _take_harmony(self, element: etree._Element, bar: RawBar, cursor: Ticks) -> None:
        symbol = self._given.get(element.get("id") or "") if self._given else None
        if symbol is None:
            symbol = self._harmony.element(element, bar.key)
        if symbol is not None:
            self._place(symbol, bar, cursor + self._offset(element))

    def _place(self, symbol: ChordSymbol, bar: RawBar, onset: Ticks) -> None:
        if self._interval != _UNISON:
            symbol = symbol.transposed(self._interval)
        if onset < 0:
            if len(self.bars) > 1 and -onset <= self.bars[-2].notes_end:
                before = self.bars[-2]
                before.chords.append((max(before.notes_end, before.rests_end) + onset, symbol))
                self._notices.add(f"chord {symbol} stands before its bar line")
                return
            self._notices.add(f"chord {symbol} stands before the bar; moved to its start")
            onset = 0
        bar.chords.append((onset, symbol))

    def _offset(self, element: etree._Element) -> Ticks:
        for child in element.iterchildren("offset"):
            text = (child.text or "").strip()
            if not _NUMBER.fullmatch(text):
                self._notices.add(f"the offset {text[:20]!r} is not a number; ignored")
                return 0
            value: Ticks = Fraction(text) if "." in text else int(text)
            ticks = value * self._scale
            if not -self._longest_bar <= ticks <= self._longest_bar:
                self._notices.add("an offset longer than any bar was ignored")
                return 0
            return ticks
        return 0

    # Attributes ------------------------------------------------------------------------

    def _attributes(self, element: etree._Element, bar: RawBar, cursor: Ticks) -> None:
        for child in element:
            tag = child.tag
            if tag == "divisions":
                self._divisions(child.text)
            elif tag == "key" and child.get("number") in (None, self._staff):
                self._read_key(child)
            elif tag == "time" and child.get("number") in (None, self._staff):
                self._read_time(child)
            elif tag == "transpose" and child.get("number") in (None, self._staff):
                self._read_transpose(child)
        # A change inside a bar is one of the next bar, unless nothing came before it.
        if cursor == 0:
            bar.meter, bar.key, bar.mode_given = self._meter, self._sounding_key(), \
                self._mode_given

    def _divisions(self, text: str | None) -> None:
        value = (text or "").strip()
        if not _NUMBER.fullmatch(value) or Fraction(value) <= 0:
            raise self._fail(f"the divisions of a quarter note are {value[:20]!r}, "
                             "not a positive number")
        scale = Fraction(self._tpq) / Fraction(value)
        self._scale = scale.numerator if scale.denominator == 1 else scale

    def _read_key(self, element: etree._Element) -> None:
        fifths_text = element.findtext("fifths")
        if fifths_text is None:
            self._notices.add("a key signature of its own making is read as none")
            self._key, self._mode_given = Key(0), False
            return
        try:
            fifths = int(fifths_text)
        except ValueError:
            self._notices.add(f"the key signature {fifths_text.strip()[:20]!r} is not a number")
            return
        if not -7 <= fifths <= 7:
            self._notices.add(f"a key signature of {str(fifths)[:6]} fifths is respelled")
            fifths = (fifths + 5) % 12 - 5
        mode_text = (element.findtext("mode") or "").strip().lower()
        self._mode_given = mode_text in _MODES
        mode, shift = _MODES.get(mode_text, ("major", 0))
        if not -7 <= fifths + shift <= 7:
            shift = 0
        self._key = Key(fifths + shift, mode)

    def _sounding_key(self) -> Key:
        if self._interval == _UNISON:
            return self._key
        return Key.of((self._key.tonic.in_octave(4) + self._interval).note_name, self._key.mode)

    def _read_time(self, element: etree._Element) -> None:
        beats = [(child.text or "").strip() for child in element.iterchildren("beats")]
        types = [(child.text or "").strip() for child in element.iterchildren("beat-type")]
        if not beats or len(beats) != len(types):
            if element.find("senza-misura") is None:
                self._notices.add("a time signature that cannot be read was left out")
            return
        total = Fraction(0)
        lowest = 1
        try:
            for count, kind in zip(beats, types, strict=True):
                lowest = max(lowest, int(kind))
                total += Fraction(sum(int(part) for part in count.split("+")), int(kind))
            numerator = total * lowest
            if numerator.denominator != 1:
                raise ValueError("no common beat")
            self._meter = Meter(int(numerator), lowest)
            self.meter_given = True
        except (ValueError, ZeroDivisionError):
            self._notices.add(f"the time signature {'+'.join(beats)[:20]}/"
                              f"{'+'.join(types)[:20]} is not one; left out")

    def _read_transpose(self, element: etree._Element) -> None:
        def number(tag: str) -> int:
            try:
                return max(-60, min(60, round(float(element.findtext(tag) or 0))))
            except (ValueError, OverflowError):
                return 0

        chromatic, octaves = number("chromatic"), number("octave-change")
        if element.find("diatonic") is not None:
            steps = number("diatonic")
        else:
            steps = _DIATONIC[abs(chromatic) % 12] + 7 * (abs(chromatic) // 12)
            steps = -steps if chromatic < 0 else steps
        if self._concert:
            chromatic = steps = 0
        if element.find("double") is not None:
            octaves -= 1
        self._interval = Interval(steps + 7 * octaves, chromatic + 12 * octaves)
        self._pitches.clear()

    # Directions ------------------------------------------------------------------------

    def _direction(self, direction: etree._Element, bar: RawBar, marks: RawMarks,
                   cursor: Ticks) -> None:
        metronome = None
        for child in direction:
            if child.tag == "sound":
                self._sound(child, marks)
            elif child.tag == "direction-type":
                for kind in child:
                    tag = kind.tag
                    if tag == "words":
                        self._words(kind.text or "", direction, bar, marks, cursor)
                    elif tag == "rehearsal":
                        bar.section = bar.section or " ".join((kind.text or "").split())[:20]
                    elif tag in ("segno", "coda"):
                        read_sign(tag, marks)
                    elif tag == "metronome":
                        metronome = kind
        if metronome is not None:
            self._metronome(metronome)

    def _words(self, text: str, direction: etree._Element, bar: RawBar, marks: RawMarks,
               cursor: Ticks) -> None:
        text = text.strip()
        if not text or len(text) > 200:
            return
        if is_no_chord(text):
            bar.chords.append((max(cursor + self._offset(direction), 0),
                               self._harmony.no_chord()))
            return
        if read_words(text, marks) or len(self.bars) > 2:
            return
        speed = self.speed
        if speed.feel is None:
            speed.feel = feel_word(text)
        if speed.bpm is None:
            equation = re.search(r"=\s*(?:c\.?|ca\.?)?\s*(\d{2,3})\b", text)
            if equation is not None:
                speed.bpm, speed.marked = Fraction(int(equation[1])), True
            else:
                speed.bpm = tempo_word(text)

    def _metronome(self, element: etree._Element) -> None:
        speed = self.speed
        if speed.marked and speed.of_quarter:
            return
        per_minute = tempo_number(element.findtext("per-minute"))
        unit = _TYPE_QUARTERS.get((element.findtext("beat-unit") or "").strip())
        if per_minute is None or unit is None:
            return  # a metric relation such as "two eighths = triplet"
        dots = sum(1 for _ in element.iterchildren("beat-unit-dot"))
        unit *= 2 - Fraction(1, 1 << min(dots, 4))
        if not speed.marked:
            speed.bpm, speed.of_quarter, speed.marked = per_minute * unit, True, True

    def _sound(self, sound: etree._Element, marks: RawMarks) -> None:
        read_sound(sound, marks)
        speed = self.speed
        tempo = tempo_number(sound.get("tempo")) if "tempo" in sound.attrib else None
        if tempo and not (speed.marked and speed.of_quarter):
            speed.bpm, speed.of_quarter, speed.marked = tempo, True, True
        for swing in sound.iterchildren("swing"):
            if speed.feel_from_sound:
                break
            first, second = swing.findtext("first"), swing.findtext("second")
            straight = swing.find("straight") is not None or first == second
            speed.feel, speed.feel_from_sound = "straight" if straight else "swing", True


def _plain(value: Fraction) -> str:
    return str(value) if value.denominator == 1 else f"{float(value):.4g}"
