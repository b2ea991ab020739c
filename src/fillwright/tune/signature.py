"""Divisions, key, meter and transposition of a part, as `<attributes>` change them."""

from __future__ import annotations

import re

from lxml import etree

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.theory.key import Key
from fillwright.theory.pitch import Interval
from fillwright.tune.limits import MAX_DIVISIONS
from fillwright.tune.melody import Ticks
from fillwright.tune.model import Meter
from fillwright.tune.notices import Notices

__all__ = ["NUMBER", "UNISON", "Signature"]

NUMBER = re.compile(r"\s*[+-]?\d{1,12}(?:\.\d{0,12})?\s*")
"""What is read as a number of divisions, a duration or an offset."""

UNISON = Interval(0, 0)

# Steps that go with a chromatic transposition that does not name them.
_DIATONIC = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
# Where the tonic of a mode stands on the line of fifths from the tonic of the major (minor)
# key with the same signature: a D dorian tune is heard in D minor.
_MODES = {"major": ("major", 0), "ionian": ("major", 0), "minor": ("minor", 0),
          "aeolian": ("minor", 0), "dorian": ("minor", -1), "phrygian": ("minor", 1),
          "lydian": ("major", -1), "mixolydian": ("major", 1), "locrian": ("minor", 2)}


class Signature:
    """What holds at a place in a part.

    scale       ticks in one unit of `<duration>`
    key         as written; `sounding_key` is the one that sounds
    interval    from written to sounding pitch
    """

    def __init__(self, tpq: int, notices: Notices, concert: bool) -> None:
        self._tpq = tpq
        self._notices = notices
        self._concert = concert
        self._divisions_seen: set[str] = set()
        self.scale: Ticks = tpq
        self.meter = Meter(4, 4)
        self.meter_given = False
        self.key = Key(0)
        self.key_given = False
        self.mode_given = False
        self.interval = UNISON

    def read(self, attributes: etree._Element, staff: str) -> None:
        """Take an `<attributes>`; what is for another staff is left out. Raises InputError
        for divisions that are not a positive number."""
        for child in attributes:
            tag = child.tag
            if tag == "divisions":
                self._divisions(child.text)
            elif tag == "key" and child.get("number") in (None, staff):
                self._read_key(child)
            elif tag == "time" and child.get("number") in (None, staff):
                self._time(child)
            elif tag == "transpose" and child.get("number") in (None, staff):
                self._transpose(child)

    @property
    def sounding_key(self) -> Key:
        if self.interval == UNISON:
            return self.key
        return Key.of((self.key.tonic.in_octave(4) + self.interval).note_name, self.key.mode)

    def _divisions(self, text: str | None) -> None:
        value = (text or "").strip()
        if not NUMBER.fullmatch(value) or Fraction(value) <= 0:
            raise InputError(f"the divisions of a quarter note are {value[:20]!r}, "
                             "not a positive number")
        self._divisions_seen.add(value)
        if len(self._divisions_seen) > MAX_DIVISIONS:
            raise InputError(f"more than {MAX_DIVISIONS} different divisions of a quarter note")
        scale = Fraction(self._tpq) / Fraction(value)
        self.scale = scale.numerator if scale.denominator == 1 else scale

    def _read_key(self, element: etree._Element) -> None:
        self.key_given = True
        fifths_text = element.findtext("fifths")
        if fifths_text is None:
            self._notices.add("a key signature of its own making is read as none")
            self.key, self.mode_given = Key(0), False
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
        self.mode_given = mode_text in _MODES
        mode, shift = _MODES.get(mode_text, ("major", 0))
        if not -7 <= fifths + shift <= 7:
            shift = 0
        self.key = Key(fifths + shift, mode)

    def _time(self, element: etree._Element) -> None:
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
            self.meter = Meter(int(numerator), lowest)
            self.meter_given = True
        except (ValueError, ZeroDivisionError):
            self._notices.add(f"the time signature {'+'.join(beats)[:20]}/"
                              f"{'+'.join(types)[:20]} is not one; left out")

    def _transpose(self, element: etree._Element) -> None:
        chromatic = _whole(element.findtext("chromatic"))
        octaves = _whole(element.findtext("octave-change"))
        if element.find("diatonic") is not None:
            steps = _whole(element.findtext("diatonic"))
        else:
            steps = _DIATONIC[abs(chromatic) % 12] + 7 * (abs(chromatic) // 12)
            steps = -steps if chromatic < 0 else steps
        if self._concert:
            chromatic = steps = 0
        if element.find("double") is not None:
            octaves -= 1
        self.interval = Interval(steps + 7 * octaves, chromatic + 12 * octaves)


def _whole(text: str | None) -> int:
    try:
        return max(-60, min(60, round(float(text or 0))))
    except (ValueError, OverflowError):
        return 0
