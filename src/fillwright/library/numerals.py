"""Chords by function and class: how a row of chords is written down, and how it is asked for.

A chord counts by its distance above the tonic of the key it is heard in (see
`fillwright.theory.local_key`) and its class: major, minor, dominant, half-diminished or
diminished. A row is a text such as ``" 2m 77 "`` with blanks around every chord, so that one row
can be looked for in another. Roman numerals count from the major scale, as usual in jazz.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from fillwright.errors import InputError, TextError
from fillwright.fills.devices.reharm.function import quality_of, sounds_as
from fillwright.theory.chord import ChordSymbol, degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["asked_row", "degree_semitones", "function_of", "row_of", "row_pattern", "told"]

_CLASSES = "Mm7ho"
_ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII")
_STEPS = (0, 2, 4, 5, 7, 9, 11)
_NUMERAL = re.compile(r"(sub)?([b#♭♯]?)(VII|VI|V|IV|III|II|I)(?![IV])([^/\s]*)"
                      r"(?:/([b#♭♯]?)(VII|VI|V|IV|III|II|I))?")
_NAMES = ("I", "bII", "II", "bIII", "III", "IV", "#IV", "V", "bVI", "VI", "bVII", "VII")
_SUFFIXES = {"M": "maj7", "m": "m7", "7": "7", "h": "m7b5", "o": "dim7"}


@lru_cache(maxsize=8192)
def function_of(harmony: Harmony) -> str:
    """A chord as it counts in a row: semitones above the tonic of its key, then its class.

    >>> from fillwright.theory.harmony import analyse
    >>> from fillwright.theory.key import Key
    >>> [function_of(h) for h in analyse([ChordSymbol.parse(t) for t in ("Dm7", "G7")], Key(0))]
    ['2m', '77']
    """
    place = (harmony.root.pitch_class - harmony.key.tonic.pitch_class) % 12
    return f"{place}{sounds_as(harmony)}"


def row_of(harmonies: Iterable[Harmony | None]) -> str:
    """A row of chords; a chord that goes on counts once, N.C. not at all."""
    found: list[str] = []
    for harmony in harmonies:
        if harmony is not None and (not found or found[-1] != function_of(harmony)):
            found.append(function_of(harmony))
    return f" {' '.join(found)} " if found else ""


def told(row: str) -> str:
    """A row for people: each class by its plainest chord.

    >>> told(" 2m 77 "), told(" 10M ")
    ('IIm7 V7', 'bVIImaj7')
    """
    return " ".join(_NAMES[int(one[:-1])] + _SUFFIXES[one[-1]] for one in row.split())


def asked_row(text: str) -> tuple[frozenset[str], ...]:
    """What is asked for, chord by chord: the functions that answer it.

    Roman numerals, with a suffix for the class or without for any: ``"IIm7 V7"``, ``"II V"``,
    ``"V7/II"``, ``"subV7"``. Raises InputError.

    >>> [sorted(one) for one in asked_row("IIm7 subV7")]
    [['2m'], ['17']]
    """
    chords = text.replace("|", " ").replace(",", " ").split()
    if not chords:
        raise InputError("no chord is named; write them like 'IIm7 V7'")
    return tuple(_asked(chord) for chord in chords)


def _asked(text: str) -> frozenset[str]:
    match = _NUMERAL.fullmatch(text)
    if match is None:
        raise InputError(f"{text!r} is no chord by its function; write numerals and kinds, like "
                         "'IIm7 V7', 'bVII7', 'V7/II' or, for any kind, 'II V'")
    place = _place(match[2], match[3])
    if match[6] is not None:
        place += _place(match[5], match[6])
    if match[1]:
        place += 6  # the dominant a tritone away
    suffix = match[4]
    classes = _CLASSES if not suffix else _class_of(text, suffix)
    return frozenset(f"{place % 12}{one}" for one in classes)


def _place(sign: str, numeral: str) -> int:
    alter = {"b": -1, "♭": -1, "#": 1, "♯": 1}.get(sign, 0)
    return _STEPS[_ROMAN.index(numeral)] + alter


def _class_of(text: str, suffix: str) -> str:
    try:
        return quality_of(ChordSymbol.parse("C" + suffix))
    except TextError as error:
        raise InputError(f"{text!r} is no chord by its function: {suffix!r} is no kind of chord; "
                         "write 'IIm7', 'V7', 'Imaj7', 'IIm7b5', 'VIIdim7'") from error


def row_pattern(text: str) -> re.Pattern[str]:
    """What a row is searched by that must hold these chords next to each other. Raises InputError.

    >>> row_pattern("II V7").search(" 9m 2m 77 0M ") is not None
    True
    """
    chords = ("|".join(sorted(one)) for one in asked_row(text))
    return re.compile("".join(f" (?:{chord})" for chord in chords) + " ")


def degree_semitones(text: str) -> int:
    """A degree as it is asked for: ``"5"``, ``"b9"``, ``"#11"``, ``"root"``. Raises InputError."""
    name = text.strip().replace("♭", "b").replace("♯", "#").lower()
    name = {"root": "1", "third": "3", "fifth": "5", "seventh": "b7"}.get(name, name)
    try:
        return degree_pitch_class(name)
    except (ValueError, KeyError) as error:
        raise InputError(f"{text!r} is no degree of a chord; write it like 5, b7, 9 or #11"
                         ) from error
