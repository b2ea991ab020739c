"""What devices of comping ask of a passage, and the words they share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeAlias

from fillwright.exact import Fraction
from fillwright.fills.devices.device import FillPassage
from fillwright.theory.harmony import Harmony
from fillwright.theory.pitch import Pitch

__all__ = [
    "TENTHS",
    "Sentence",
    "counted",
    "degree_word",
    "joined",
    "keys_down",
    "named",
    "note_names",
    "readings",
    "sung_steps",
]

Sentence: TypeAlias = Callable[[FillPassage], str]
"""What is heard, as a sentence; "" where the device is not heard."""

TENTHS = (15, 16)
"""Half steps of a minor and a major tenth."""

_TRIPLETS = {Fraction(0): "", Fraction(1, 3): " trip", Fraction(2, 3): " let"}


def degree_word(degree: str) -> str:
    """A degree with real accidentals: ``♭9``."""
    return degree.replace("b", "♭").replace("#", "♯")


def joined(words: Sequence[str]) -> str:
    """``"1, 2 and 3"``."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def note_names(pitches: Sequence[Pitch]) -> str:
    return " ".join(p.note_name.pretty for p in pitches)


def counted(beat: Fraction, *, compound: bool) -> str:
    """A place in the bar as it is counted: ``"2&"``; eighths are numbered in compound
    meters."""
    if compound:
        eighth = 3 * (beat - 1) + 1
        return str(eighth.numerator // eighth.denominator)
    whole = beat.numerator // beat.denominator
    return f"{whole}{_TRIPLETS.get(beat - whole, '&')}"


def keys_down(passage: FillPassage, onset: Fraction, hand: str) -> tuple[int, ...]:
    """What a hand has down at a place, from low to high."""
    return tuple(sorted(n.midi for n in passage.notes if n.hand == hand
                        and n.onset_quarter <= onset < n.end_quarter))


def sung_steps(passage: FillPassage, hand: str, sung: Sequence[tuple[Fraction, int]],
               degrees: Sequence[str]) -> list[str]:
    """The keys of a voice at their places by name, each with its degree: ``"G (5)"``."""
    names = [next(n for n in passage.notes if n.midi == key and n.hand == hand
                  and n.onset_quarter <= onset < n.end_quarter).pitch.note_name.pretty
             for onset, key in sung]
    return [f"{name} ({degree_word(degree)})"
            for name, degree in zip(names, degrees, strict=True)]


def named(passage: FillPassage, onset: Fraction, hand: str) -> str:
    """What a hand strikes at a place, by name."""
    struck = sorted((n for n in passage.notes if n.hand == hand and n.onset_quarter == onset),
                    key=lambda n: n.midi)
    return note_names([n.pitch for n in struck])


def readings(passage: FillPassage, onset: Fraction) -> tuple[Harmony, ...]:
    """The chords that a stroke may tell: the one that sounds, and, within a beat of a change
    and between two beats, the one that comes, which it takes early."""
    here = passage.chord_at(onset)
    if passage.beat_at(onset).denominator == 1 or (
            here.end_quarter - onset > passage.beat_quarter):
        return (here.harmony,)
    after = next((c.harmony for c in passage.chords if c.onset_quarter >= here.end_quarter),
                 passage.goal)
    return (here.harmony,) if after is None else (here.harmony, after)
