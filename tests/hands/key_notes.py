"""Short ways to write struck keys in tests."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from fillwright import HandNote
from fillwright.hands import PartNote
from fillwright.theory import spell_plain


def key(onset: str | int | Fraction, length: str | int | Fraction, midi: int, finger: int | None,
        hand: str = "right", role: str = "fill", rolled: bool = False) -> HandNote:
    """One struck key; times in quarter notes."""
    return HandNote(Fraction(onset), Fraction(length), spell_plain(midi, False), hand, finger,
                    role, None if role == "melody" else 1, rolled)


def line(midis: Sequence[int], length: Fraction = Fraction(1, 2), start: Fraction = Fraction(0)
         ) -> list[PartNote]:
    """Single keys one after another, each held until the next."""
    return [(start + place * length, length, midi) for place, midi in enumerate(midis)]


def chord(midis: Sequence[int], onset: Fraction, length: Fraction) -> list[PartNote]:
    return [(onset, length, midi) for midi in midis]


def played(part: Sequence[PartNote], fingers: Sequence[int], hand: str, role: str = "fill"
           ) -> list[HandNote]:
    return [HandNote(onset, length, spell_plain(midi, False), hand, finger, role,
                     None if role == "melody" else 1)
            for (onset, length, midi), finger in zip(part, fingers, strict=True)]
