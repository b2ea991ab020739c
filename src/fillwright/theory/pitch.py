"""Spelled pitches and intervals.

Conventions: C4 is middle C, MIDI 60. A *note name* is a letter with an alteration
(no octave). An interval is a pair of diatonic steps and semitones, so that spelling
is never guessed from a number. Alterations beyond double sharps and flats are
respelled to the nearest plain name.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache

from fillwright.errors import TextError

__all__ = [
    "STEPS",
    "Interval",
    "NoteName",
    "Pitch",
    "degree_interval",
    "easy_name",
    "nearest_pitch",
    "spell_plain",
    "spelled",
]

STEPS = "CDEFGAB"
_STEP_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
_SEMITONES = dict(zip(STEPS, _STEP_SEMITONES, strict=True))
_NAME = re.compile(r"([A-Ga-g])(bb|##|x|b|#|♭♭|♭|♯♯|♯|-)?")
_ACCIDENTALS = {"": 0, "b": -1, "bb": -2, "#": 1, "##": 2, "x": 2, "♭": -1, "♭♭": -2, "♯": 1,
                "♯♯": 2, "-": -1}
_SUFFIX = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}


@dataclass(frozen=True, slots=True)
class Interval:
    """A directed interval: diatonic `steps` (a third is 2) and `semitones`."""

    steps: int
    semitones: int

    def __neg__(self) -> Interval:
        return Interval(-self.steps, -self.semitones)


@dataclass(frozen=True, slots=True)
class NoteName:
    """A letter and an alteration, such as B flat.

    >>> NoteName.parse("Bb").pitch_class
    10
    >>> str(NoteName("G", 0) + Interval(2, 4))
    'B'
    """

    step: str
    alter: int = 0
    pitch_class: int = field(init=False, repr=False, compare=False)
    """0 to 11, C = 0."""

    def __post_init__(self) -> None:
        _check_name(self.step, self.alter)
        object.__setattr__(self, "pitch_class", (_SEMITONES[self.step] + self.alter) % 12)

    @classmethod
    def parse(cls, text: str) -> NoteName:
        """Read ``"Bb"``, ``"F#"``, ``"E♭"``. Raises `TextError`."""
        match = _NAME.fullmatch(text.strip()) if isinstance(text, str) else None
        if match is None:
            raise TextError(f"not a note name: {text!r}")
        return cls(match[1].upper(), _ACCIDENTALS[match[2] or ""])

    @property
    def fifths(self) -> int:
        """Place on the line of fifths, C = 0, G = 1, F = -1, Bb = -2."""
        return "FCGDAEB".index(self.step) - 1 + 7 * self.alter

    @classmethod
    def from_fifths(cls, fifths: int) -> NoteName:
        """The inverse of `fifths`.

        >>> str(NoteName.from_fifths(-2))
        'Bb'
        """
        return _on_line_of_fifths(fifths)

    def __add__(self, interval: Interval) -> NoteName:
        return _name_above(self.step, self.alter, interval.steps, interval.semitones)

    def __str__(self) -> str:
        return self.step + _SUFFIX[self.alter]

    @property
    def pretty(self) -> str:
        """With real accidentals, for people: ``B♭``."""
        return self.step + {-2: "♭♭", -1: "♭", 0: "", 1: "♯", 2: "♯♯"}[self.alter]

    def in_octave(self, octave: int) -> Pitch:
        return Pitch(self.step, self.alter, octave)


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled pitch. Ordering and arithmetic go through `midi`.

    >>> Pitch.parse("Bb4").midi
    70
    >>> str(Pitch.parse("B4") + Interval(1, 1))
    'C5'
    """

    step: str
    alter: int
    octave: int
    midi: int = field(init=False, repr=False, compare=False)
    pitch_class: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        _check_name(self.step, self.alter)
        midi = 12 * (self.octave + 1) + _SEMITONES[self.step] + self.alter
        object.__setattr__(self, "midi", midi)
        object.__setattr__(self, "pitch_class", midi % 12)

    @classmethod
    def parse(cls, text: str) -> Pitch:
        """Read ``"Bb4"``. Raises `TextError`."""
        match = re.fullmatch(r"(.+?)(-?\d{1,2})", text.strip()) if isinstance(text, str) else None
        if match is None:
            raise TextError(f"not a pitch: {text!r}; one is written like C4 or Bb3")
        name = NoteName.parse(match[1])
        return cls(name.step, name.alter, int(match[2]))

    @property
    def note_name(self) -> NoteName:
        return NoteName(self.step, self.alter)

    @property
    def staff_position(self) -> int:
        """Diatonic steps above C0; two pitches a letter apart differ by one."""
        return 7 * self.octave + STEPS.index(self.step)

    def __add__(self, interval: Interval) -> Pitch:
        octave, index = divmod(self.staff_position + interval.steps, 7)
        target = self.midi + interval.semitones
        step = STEPS[index]
        alter = target - (12 * (octave + 1) + _STEP_SEMITONES[index])
        if not -2 <= alter <= 2:
            return spell_plain(target, sharps=alter < 0)
        return Pitch(step, alter, octave)

    def __str__(self) -> str:
        return f"{self.step}{_SUFFIX[self.alter]}{self.octave}"


def _check_name(step: str, alter: int) -> None:
    if len(step) != 1 or step not in STEPS:
        raise ValueError(f"not a note letter: {step!r}")
    if not -2 <= alter <= 2:
        raise ValueError(f"alteration out of range: {alter}")


@lru_cache(maxsize=2048)
def _name_above(step: str, alter: int, steps: int, semitones: int) -> NoteName:
    return (Pitch(step, alter, 4) + Interval(steps, semitones)).note_name


@lru_cache(maxsize=64)
def _on_line_of_fifths(fifths: int) -> NoteName:
    alter, place = divmod(fifths + 1, 7)
    return NoteName("FCGDAEB"[place], alter)


@lru_cache(maxsize=512)
def spell_plain(midi: int, sharps: bool) -> Pitch:
    """The spelling of a MIDI number with at most one sharp (or flat)."""
    octave, pitch_class = divmod(midi, 12)
    names = ("C C# D D# E F F# G G# A A# B" if sharps else "C Db D Eb E F Gb G Ab A Bb B").split()
    name = NoteName.parse(names[pitch_class])
    return Pitch(name.step, name.alter, octave - 1)


def easy_name(name: NoteName) -> NoteName:
    """The same note without a double accidental.

    >>> str(easy_name(NoteName("B", -2))), str(easy_name(NoteName("C", -1)))
    ('A', 'Cb')
    """
    if abs(name.alter) < 2:
        return name
    return spell_plain(60 + name.pitch_class, sharps=name.alter > 0).note_name


# Degrees count from the major scale of the root: "7" is the major seventh, "b7" the minor.
_MAJOR = (0, 2, 4, 5, 7, 9, 11)


@lru_cache(maxsize=256)
def degree_interval(degree: str) -> Interval:
    """The interval from a root to a degree written like ``"b9"``, ``"#11"``, ``"bb7"``.

    >>> degree_interval("b9")
    Interval(steps=8, semitones=13)
    """
    match = re.fullmatch(r"(b{0,2}|#{0,2})(\d{1,2})", degree)
    if match is None or not 1 <= int(match[2]) <= 15:
        raise ValueError(f"not a chord degree: {degree!r}")
    octave, place = divmod(int(match[2]) - 1, 7)
    return Interval(int(match[2]) - 1, 12 * octave + _MAJOR[place] + _ACCIDENTALS[match[1]])


def nearest_pitch(name: NoteName, midi: int) -> Pitch:
    """The pitch of that name nearest to a MIDI number (the lower one if two are equal).

    >>> str(nearest_pitch(NoteName("B", -1), 60))
    'Bb3'
    """
    octave = (midi - name.pitch_class) // 12 - 1
    candidates = [name.in_octave(octave + shift) for shift in (-1, 0, 1, 2)]
    return min(candidates, key=lambda pitch: (abs(pitch.midi - midi), pitch.midi))


def spelled(name: NoteName, midi: int) -> Pitch:
    """The pitch of that name with exactly that MIDI number. Raises ValueError if none."""
    pitch = nearest_pitch(name, midi)
    if pitch.midi != midi:
        raise ValueError(f"{name} cannot spell MIDI {midi}")
    return pitch
