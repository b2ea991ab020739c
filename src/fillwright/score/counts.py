"""Where the counts of a fill are said.

The counts of a fill are words such as ``"1 & (2) 3 4 &"``: beats by number, `&` for the
off-beat, `e` and `a` for the quarters of a beat, `trip` and `let` (or `&` and `a`) for its
thirds; what stands in round brackets is counted silently. `place_counts` finds the place
of every word, so that it can be printed below its note.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from fractions import Fraction

from fillwright.tune.model import ChorusBar

__all__ = ["place_counts"]

_OFFSETS: dict[str, tuple[Fraction, ...]] = {
    "&": (Fraction(1, 2), Fraction(1, 3)),
    "e": (Fraction(1, 4), Fraction(1, 6)),
    "a": (Fraction(3, 4), Fraction(2, 3)),
    "trip": (Fraction(1, 3),), "let": (Fraction(2, 3),),
    "la": (Fraction(1, 3),), "li": (Fraction(2, 3),),
    "ta": (Fraction(1, 6), Fraction(5, 6), Fraction(1, 3)),
}
_COMPOUND_OFFSETS: dict[str, tuple[Fraction, ...]] = {
    **_OFFSETS, "&": (Fraction(1, 3), Fraction(1, 2)), "a": (Fraction(2, 3), Fraction(3, 4))}


def place_counts(counts: str, bars: tuple[ChorusBar, ...], start_quarter: Fraction,
                 end_quarter: Fraction, onsets_quarter: Collection[Fraction],
                 ) -> list[tuple[Fraction, str]]:
    """Pairs of place and word; words that have no place between start and end are left out.

    `onsets_quarter` are the struck onsets: where a word may mean two places of a beat, it
    means the struck one.
    """
    words = _words(counts)
    beats = _beats(bars, start_quarter, end_quarter, words)
    placed: list[tuple[Fraction, str]] = []
    index = 0
    last = Fraction(-1)
    for word, is_silent in words:
        text = f"({word})" if is_silent else word
        if word.isdigit():
            later = next((i for i in range(index, len(beats))
                          if beats[i][2] == int(word) and beats[i][0] > last
                          and beats[i][0] >= start_quarter), None)
            if later is None:
                continue
            index = later
            place = beats[index][0]
        else:
            found = _inside_beat(word, beats, index, max(last, start_quarter - 1), start_quarter,
                                 onsets_quarter)
            if found is None:
                continue
            index, place = found
        if place < end_quarter:
            placed.append((place, text))
            last = place
    return placed


def _words(counts: str) -> list[tuple[str, bool]]:
    """Words with whether they are silent; brackets may hold several words."""
    found = []
    silent = False
    for token in re.findall(r"\(|\)|[^\s()|,]+", counts.replace("+", "&")):
        if token in "()":
            silent = token == "("
        else:
            found.append(("&" if token.lower() == "and" else token, silent))
    return found


def _beats(bars: tuple[ChorusBar, ...], start: Fraction, end: Fraction,
           words: list[tuple[str, bool]]) -> list[tuple[Fraction, Fraction, int, bool]]:
    """Beats that touch a stretch: place, length, number in the bar, whether compound."""
    highest = max((int(word) for word, _ in words if word.isdigit()), default=0)
    beats = []
    for bar in bars:
        if bar.end_quarter <= start or bar.onset_quarter >= end:
            continue
        size = bar.meter.beat_quarter
        if highest > bar.meter.length_quarter / size:
            size = Fraction(4, bar.meter.beat_type)
        base = bar.onset_quarter
        if bar.is_pickup:
            base += bar.length_quarter - bar.meter.length_quarter
        number = 1
        while base < bar.end_quarter:
            if base + size > start and base + size > bar.onset_quarter:
                beats.append((base, size, number, size.numerator % 3 == 0))
            base += size
            number += 1
    return beats


def _inside_beat(word: str, beats: list[tuple[Fraction, Fraction, int, bool]], index: int,
                 last: Fraction, start: Fraction, onsets: Collection[Fraction],
                 ) -> tuple[int, Fraction] | None:
    for later in range(index, len(beats)):
        base, size, _, compound = beats[later]
        shares = (_COMPOUND_OFFSETS if compound else _OFFSETS).get(word.lower(), ())
        places = [base + share * size for share in shares]
        places = [place for place in places if place > last and place >= start]
        if places:
            return later, next((place for place in places if place in onsets), places[0])
    return None
