"""Keys, and the spelling of notes that stand outside a chord."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from fillwright.errors import TextError
from fillwright.theory.pitch import NoteName, Pitch, spell_plain, spelled

__all__ = ["Key"]

_MODE_SHIFT = {"major": 0, "minor": 3}


@dataclass(frozen=True, slots=True)
class Key:
    """A key: the number of sharps (flats negative) and a mode, ``major`` or ``minor``.

    >>> str(Key(-2, "minor")), str(Key(-2).tonic)
    ('G minor', 'Bb')
    """

    fifths: int
    mode: str = "major"

    def __post_init__(self) -> None:
        if self.mode not in _MODE_SHIFT:
            raise ValueError(f"not a mode: {self.mode!r}")
        if not -7 <= self.fifths <= 7:
            raise ValueError(f"not a key signature: {self.fifths} fifths")

    @classmethod
    def parse(cls, text: str) -> Key:
        """Read ``"Ab"``, ``"F#m"``, ``"c minor"``, ``"E♭ major"``. Raises `TextError`."""
        if not isinstance(text, str):
            raise TextError(f"not a key: {text!r}")
        words = text.strip().replace("-", " ").split()
        if not words:
            raise TextError("no key named")
        name, mode = words[0], "major"
        if len(words) > 1:
            mode = {"m": "minor", "min": "minor", "minor": "minor", "maj": "major",
                    "major": "major"}.get(words[1].lower(), "")
        elif name.endswith("m") and len(name) > 1:
            name, mode = name[:-1], "minor"
        elif name[0].islower():
            mode = "minor"
        if not mode or len(words) > 2:
            raise TextError(f"not a key: {text!r}")
        return cls.of(NoteName.parse(name), mode)

    @classmethod
    def of(cls, tonic: NoteName, mode: str = "major") -> Key:
        """The key on a tonic; one with more than seven accidentals is respelled."""
        fifths = tonic.fifths - _MODE_SHIFT[mode]
        if fifths > 7:
            fifths -= 12
        if fifths < -7:
            fifths += 12
        return cls(fifths, mode)

    @property
    def tonic(self) -> NoteName:
        return NoteName.from_fifths(self.fifths + _MODE_SHIFT[self.mode])

    @property
    def scale(self) -> tuple[NoteName, ...]:
        """The seven notes of the signature, from the tonic up (natural minor in minor)."""
        return _scale(self)

    def spell(self, midi: int, rising: bool = False) -> Pitch:
        """Spell a MIDI number in this key; outside the scale by direction of motion."""
        for name in self.scale:
            if name.pitch_class == midi % 12:
                return spelled(name, midi)
        return spell_plain(midi, sharps=rising)

    def __str__(self) -> str:
        return f"{self.tonic} {self.mode}"


@lru_cache(maxsize=64)
def _scale(key: Key) -> tuple[NoteName, ...]:
    names = [NoteName.from_fifths(key.fifths + place) for place in range(-1, 6)]
    tonic = key.tonic.pitch_class
    return tuple(sorted(names, key=lambda name: (name.pitch_class - tonic) % 12))
