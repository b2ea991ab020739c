"""Which accidentals a reader needs to see.

An accidental holds for its line or space, in its octave, until the bar line, on its own
staff (common practice). A tied note repeats none, and what it sounds with does not hold
for others in its bar. Courtesy accidentals are given where the same line or space sounded
otherwise in the bar before, or the same letter in another octave of the same bar.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from fillwright.theory.key import Key
from fillwright.theory.pitch import NoteName, Pitch

__all__ = ["ACCIDENTAL_NAMES", "ShownAccidentals", "StaffAccidentals", "key_alteration"]

ACCIDENTAL_NAMES = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}


@dataclass(frozen=True, slots=True)
class ShownAccidentals:
    """A written accidental: its MusicXML name, and whether it only reminds."""

    name: str
    is_courtesy: bool


def key_alteration(key: Key, step: str) -> int:
    """What the signature makes of a letter.

    >>> key_alteration(Key(-2), "E")
    -1
    """
    natural = NoteName(step).fifths
    alter = 0
    if key.fifths > 0 and natural + 1 < key.fifths:
        alter = 1
    if key.fifths < 0 and natural > 5 + key.fifths:
        alter = -1
    return alter


@dataclass(slots=True)
class StaffAccidentals:
    """The accidentals of one staff, note by note in the order of time."""

    key: Key
    _bar: dict[tuple[str, int], int] = field(default_factory=dict)
    _last_bar: dict[tuple[str, int], int] = field(default_factory=dict)
    _tied: dict[tuple[str, int], int] = field(default_factory=dict)

    def next_bar(self, key: Key) -> None:
        """Cross a bar line."""
        # A new signature is read afresh: it needs no reminders.
        self._last_bar = {**self._bar, **self._tied} if key == self.key else {}
        self._bar = {}
        self._tied = {}
        self.key = key

    def tied(self, pitch: Pitch) -> None:
        """A note tied over from the bar before: shows nothing, but is heard."""
        if (pitch.step, pitch.octave) not in self._bar:
            self._tied[pitch.step, pitch.octave] = pitch.alter

    def struck(self, pitches: list[Pitch]) -> list[ShownAccidentals | None]:
        """The accidentals of the notes struck at one moment on this staff."""
        places = [(pitch.step, pitch.octave) for pitch in pitches]
        shown: list[ShownAccidentals | None] = []
        for pitch, place in zip(pitches, places, strict=True):
            normal = key_alteration(self.key, pitch.step)
            current = self._bar.get(place, normal)
            twice = any(other != pitch for other, at in zip(pitches, places, strict=True)
                        if at == place)
            name = ACCIDENTAL_NAMES[pitch.alter]
            if pitch.alter != current or twice:
                shown.append(ShownAccidentals(name, False))
            elif self._needs_courtesy(pitch, place):
                shown.append(ShownAccidentals(name, True))
            else:
                shown.append(None)
        for pitch, place, sign in zip(pitches, places, shown, strict=True):
            if sign is not None or place in self._bar:
                self._bar[place] = pitch.alter
            self._tied.pop(place, None)
            if place not in self._bar:
                self._bar[place] = pitch.alter
        return shown

    def _needs_courtesy(self, pitch: Pitch, place: tuple[str, int]) -> bool:
        if self._tied.get(place, pitch.alter) != pitch.alter:
            return True
        if place in self._bar:
            return False
        if self._last_bar.get(place, pitch.alter) != pitch.alter:
            return True
        return any(step == pitch.step and alter != pitch.alter
                   for (step, _), alter in {**self._bar, **self._tied}.items())
