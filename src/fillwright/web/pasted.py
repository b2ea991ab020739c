"""What a pasted text is, where it is no lead sheet: chord symbols without a melody."""

from __future__ import annotations

import re

from fillwright.theory.chordtext import ChordTextError, parse_chord

__all__ = ["bare_chords"]

MOST_LOOKED_AT = 4000
"""Characters."""
_HEADER = re.compile(r"^\s*[A-Za-z]:", re.MULTILINE)
_BETWEEN = re.compile(r"[\s|\[\]:,;–—-]+(?![\w#♯♭])|[\s|\[\]:,;]+")
_NO_SYMBOL = re.compile(r"[%/.x]+|[12]\.?|\d+/\d+")
_PLAIN = re.compile(r"[A-G]")


def bare_chords(text: str) -> list[str]:
    """The chord symbols of a text that is a line of them and nothing else, in order; [] for any
    other text. Letters that may as well be notes (C D E F) are none.

    >>> bare_chords("| Dm7 G7 | Cmaj7 % |")
    ['Dm7', 'G7', 'Cmaj7']
    >>> bare_chords("Verse: Am F\\nC G"), bare_chords("C D E F | G A B c"), bare_chords("Hello")
    ([], [], [])
    """
    text = text[:MOST_LOOKED_AT]
    if _HEADER.search(text) or "<" in text or '"' in text:
        return []
    words = [word for word in _BETWEEN.split(text) if word and not _NO_SYMBOL.fullmatch(word)]
    chords = [word for word in words if _is_chord(word)]
    if sum(not _PLAIN.fullmatch(word) for word in chords) < 2 or 3 * len(chords) < 2 * len(words):
        return []
    return chords


def _is_chord(word: str) -> bool:
    if not "A" <= word[0] <= "G":
        return False
    try:
        return parse_chord(word).is_chord
    except ChordTextError:
        return False
