"""A `<note>` of MusicXML: when it sounds, and whether it belongs to the melody's part."""

from __future__ import annotations

from functools import lru_cache

from lxml import etree

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.theory.pitch import STEPS, Interval, Pitch, spell_plain
from fillwright.tune.limits import MAX_BAR_QUARTERS, MAX_NOTE_QUARTERS, MAX_NOTES
from fillwright.tune.melody import RawNote, Ticks
from fillwright.tune.notices import Notices
from fillwright.tune.signature import NUMBER, UNISON, Signature

__all__ = ["TYPE_QUARTERS", "NoteReader"]

_OTHERS = frozenset(("rest", "chord", "tie", "notations", "grace", "cue", "staff",
                     "time-modification", "notehead", "unpitched"))
TYPE_QUARTERS = {
    "1024th": Fraction(1, 256), "512th": Fraction(1, 128), "256th": Fraction(1, 64),
    "128th": Fraction(1, 32), "64th": Fraction(1, 16), "32nd": Fraction(1, 8),
    "16th": Fraction(1, 4), "eighth": Fraction(1, 2), "quarter": Fraction(1),
    "half": Fraction(2), "whole": Fraction(4), "breve": Fraction(8), "long": Fraction(16),
}
"""Note heads in quarter notes."""


class NoteReader:
    """Reads the notes of one part, bar by bar.

    The caller moves `cursor` for backups and forwards and calls `begin` at each bar line;
    what has been found in the bar stands in the lists and `*_end` fields.
    """

    def __init__(self, tpq: int, signature: Signature, notices: Notices, *, staff: str,
                 wanted: bool) -> None:
        self._tpq = tpq
        self._signature = signature
        self._notices = notices
        self._staff = staff
        self._wanted = wanted
        self._pitches: dict[tuple[str | None, ...], tuple[Pitch, int] | None] = {}
        self._interval = UNISON
        self._count = 0
        self._longest_bar = int(MAX_BAR_QUARTERS * tpq)
        self._longest_note = int(MAX_NOTE_QUARTERS * tpq)
        self.begin()

    def begin(self) -> None:
        """Start a bar; of the first one the caller sets `first_bar`, so that `printed_start`
        is kept."""
        self.first_bar = False
        self.printed_start: Ticks | None = None
        self.cursor: Ticks = 0
        self.notes: list[RawNote] = []
        self.slur_stops: list[tuple[Ticks, int]] = []
        self.notes_end: Ticks = 0
        self.rests_end: Ticks = 0
        self.forward_end: Ticks = 0
        self._chord_onset: Ticks = 0

    def length(self, text: str | None) -> Ticks:
        """A duration in ticks. Raises InputError for one that is not a number or negative."""
        if text is None:
            return 0
        try:
            value: Ticks = int(text)
        except ValueError:
            if not NUMBER.fullmatch(text):
                raise InputError(f"the duration {text.strip()[:20]!r} is not a number") from None
            value = Fraction(text.strip())
        if value < 0:
            raise InputError(f"a duration is negative ({text.strip()[:20]})")
        return value * self._signature.scale

    def backup(self, element: etree._Element) -> None:
        cursor = self.cursor - self.length(element.findtext("duration"))
        if cursor * 40 < self._tpq:  # rounded tuplets, or a backup beyond the bar
            if -cursor * 8 > self._tpq:
                self._notices.add("a step back reaches before the bar; cut")
            cursor = 0
        self.cursor = cursor

    def forward(self, element: etree._Element) -> None:
        self.cursor += self.length(element.findtext("duration"))
        self.forward_end = max(self.forward_end, self.cursor)
        self._check_bar()

    def _check_bar(self) -> None:
        if self.cursor > self._longest_bar:
            raise InputError(f"it is longer than the limit of {MAX_BAR_QUARTERS} quarter notes")

    def read(self, note: etree._Element) -> None:
        """Take a note or rest and move the cursor behind it (a note of a chord and a grace
        note leave it where it is). Raises InputError for a duration that is none."""
        self._count += 1
        if self._count > MAX_NOTES:
            raise InputError(f"the part has more notes than the limit of {MAX_NOTES}")
        pitch: etree._Element | None = None
        duration: str | None = None
        tuplet: etree._Element | None = None
        is_chord = hidden = False
        tie_start = tie_stop = slur_start = slur_stop = False
        for child in note:
            tag = child.tag
            if tag == "pitch":
                pitch = child
            elif tag == "duration":
                duration = child.text or ""
            elif tag not in _OTHERS:
                continue
            elif tag == "tie":
                if child.get("type") == "start":
                    tie_start = True
                elif child.get("type") == "stop":
                    tie_stop = True
            elif tag == "notations":
                for notation in child:
                    if notation.tag == "slur":
                        slur_start |= notation.get("type") == "start"
                        slur_stop |= notation.get("type") == "stop"
                    elif notation.tag == "tied":
                        kind = notation.get("type")
                        tie_start |= kind in ("start", "continue")
                        tie_stop |= kind in ("stop", "continue")
            elif tag == "chord":
                is_chord = True
            elif tag == "staff":
                hidden |= (child.text or "").strip() != self._staff
            elif tag == "time-modification":
                tuplet = child
            elif tag == "grace":
                return
            elif tag == "notehead":
                hidden |= child.text in ("slash", "none")
            elif tag != "rest":  # a cue has time and is silent; a drum has no pitch
                hidden = True
        if duration is None:
            length = self._nominal(note, tuplet)
        else:
            length = self.length(duration)
            if tuplet is not None:
                length = self._exact(note, tuplet, length)
        onset = self._chord_onset if is_chord else self.cursor
        end = onset + length
        if self.first_bar and note.get("print-object") != "no" \
                and (self.printed_start is None or onset < self.printed_start):
            self.printed_start = onset
        if pitch is None:
            if not is_chord:
                self._rest(end)
            return
        if length <= 0:
            raise InputError("a note has no duration")
        if length > self._longest_note:
            quarters = Fraction(length) / self._tpq
            shown = str(quarters) if quarters.denominator == 1 else f"{float(quarters):.4g}"
            raise InputError(f"a note lasts {shown} quarter notes, more than the limit of "
                             f"{MAX_NOTE_QUARTERS}")
        if end > self.notes_end:
            self.notes_end = end
        if not is_chord:
            self._chord_onset, self.cursor = onset, end
            if end > self._longest_bar:
                self._check_bar()
        if hidden or not self._wanted or note.get("print-object") == "no":
            return
        sounding = self._pitch(pitch)
        if sounding is not None:
            high, midi = sounding
            self.notes.append(RawNote(onset, end, midi, high, tie_start, tie_stop, slur_start))
            if slur_stop:
                self.slur_stops.append((onset, midi))

    def _rest(self, end: Ticks) -> None:
        if end > self._longest_bar:
            self._notices.add("a rest longer than any bar was cut")
            end = max(self.cursor, self._signature.meter.length_quarter * self._tpq)
        self._chord_onset, self.cursor = self.cursor, end
        self.rests_end = max(self.rests_end, end)

    def _exact(self, note: etree._Element, tuplet: etree._Element, length: Ticks) -> Ticks:
        """The exact length of a tuplet note whose `duration` was rounded."""
        nominal = self._nominal(note, tuplet)
        if nominal == length or not nominal:
            return length
        error = nominal - length if nominal > length else length - nominal
        return nominal if error < 2 * self._signature.scale and error * 6 <= nominal else length

    def _nominal(self, note: etree._Element, tuplet: etree._Element | None) -> Ticks:
        """The length its note head, dots and tuplet give; 0 where there is no head."""
        quarters = TYPE_QUARTERS.get((note.findtext("type") or "").strip())
        if quarters is None:
            return 0
        dots = sum(1 for _ in note.iterchildren("dot"))
        quarters *= 2 - Fraction(1, 1 << min(dots, 6))
        if tuplet is not None:
            actual = (tuplet.findtext("actual-notes") or "").strip()
            normal = (tuplet.findtext("normal-notes") or "").strip()
            if not (actual.isdigit() and normal.isdigit() and len(actual) < 4
                    and len(normal) < 4 and int(actual) and int(normal)):
                return 0
            quarters *= Fraction(int(normal), int(actual))
        ticks = quarters * self._tpq
        return ticks.numerator if ticks.denominator == 1 else ticks

    def _pitch(self, element: etree._Element) -> tuple[Pitch, int] | None:
        """The sounding pitch and its MIDI number; None, with a warning, for none."""
        if self._interval is not self._signature.interval:
            self._interval = self._signature.interval
            self._pitches.clear()
        texts = tuple([child.text for child in element])
        try:
            return self._pitches[texts]
        except KeyError:
            named = {child.tag: child.text for child in element}
            pitch, sentence = _sounding(named.get("step"), named.get("alter"),
                                        named.get("octave"), self._interval)
            if sentence:
                self._notices.add(sentence)
            found = None if pitch is None else (pitch, pitch.midi)
            self._pitches[texts] = found
            return found


@lru_cache(maxsize=1024)
def _sounding(step: str | None, alter: str | None, octave: str | None, interval: Interval
              ) -> tuple[Pitch | None, str]:
    """The pitch that texts of `<pitch>` name, moved by an interval, and what to warn of."""
    letter = (step or "").strip().upper()
    try:
        number, written = int(octave or "4"), float(alter or 0)
        rounded = round(written)
    except (ValueError, OverflowError):
        return None, "a note whose pitch cannot be read was left out"
    if len(letter) != 1 or letter not in STEPS or not -1 <= number <= 10 \
            or not -4 <= rounded <= 4:
        return None, "a note whose pitch cannot be read was left out"
    if -2 <= rounded <= 2:
        pitch = Pitch(letter, rounded, number)
    else:
        pitch = spell_plain(Pitch(letter, 0, number).midi + rounded, sharps=rounded > 0)
    if interval != UNISON:
        pitch = pitch + interval
    if not 0 <= pitch.midi <= 127:
        return None, "a note beyond the range of MIDI was left out"
    return pitch, ("" if written == rounded else
                   "quarter tones are rounded to the nearest key of the piano")
