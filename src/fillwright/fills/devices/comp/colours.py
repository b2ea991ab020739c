"""Colours that an advanced player adds to a plain dominant.

A dominant seventh that goes home to its major tonic is plain on the sheet; a player may
alter it, because the half steps lead on: the flat nine to the fifth, the flat thirteenth to
the ninth of the tonic (common practice). Never where the symbol names a ninth or a thirteenth,
nor against the melody over that chord.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from fillwright.fills.situation import GapContext, Span
from fillwright.theory.chord import degree_number, degree_pitch_class, sort_degrees
from fillwright.theory.harmony import Harmony
from fillwright.tune.model import SoundingNote

__all__ = ["altered_by_choice", "altered_context", "may_be_altered", "sung_context"]

_QUARRELS = (("b9", ("9",)), ("#9", ("9",)), ("b13", ("13", "5")))
"""An alteration and the degrees of the melody that forbid it."""


def may_be_altered(harmony: Harmony, following: Harmony | None) -> bool:
    """Is this a plain dominant seventh that goes home to a major tonic?"""
    symbol = harmony.symbol
    return (harmony.function == "V7" and symbol.quality == "dominant"
            and harmony.scale.name == "mixolydian" and "3" in harmony.tones
            and not any(degree_number(d) > 7 for d in symbol.degrees)
            and following is not None and following.symbol.quality == "major"
            and (following.root.pitch_class - harmony.root.pitch_class) % 12 == 5)


@lru_cache(maxsize=1024)
def _altered(harmony: Harmony, melody: frozenset[int]) -> Harmony:
    """The chord with the alterations that these pitch classes of the melody leave open."""
    sung = {harmony.symbol.relative(pitch_class) for pitch_class in melody}
    more = [degree for degree, against in _QUARRELS
            if not any(degree_pitch_class(d) in sung for d in against)]
    return replace(harmony, tensions=sort_degrees([*harmony.tensions, *more]))


def altered_context(context: GapContext) -> GapContext:
    """The gap with the dominants a player may alter, altered colours among their tensions."""
    landing = context.gap.landing_harmony
    after = [*(span.harmony for span in context.spans[1:]), landing]
    spans = tuple(
        replace(span, harmony=_altered(span.harmony, _sung(context, span)))
        if may_be_altered(span.harmony, following) else span
        for span, following in zip(context.spans, after, strict=True))
    return context if spans == context.spans else replace(context, spans=spans)


def _sung(context: GapContext, span: Span) -> frozenset[int]:
    """Pitch classes of the melody over a chord, the part before the gap included."""
    at = context.chorus.chord_index_at(span.onset_quarter)
    start = span.onset_quarter if at is None else context.chorus.chords[at].onset_quarter

    def over(note: SoundingNote) -> bool:
        return note.onset_quarter < span.end_quarter and note.end_quarter > start

    return frozenset(note.pitch.pitch_class for note in context.phrase if over(note))


_SUNG = {1: ("b9", "9"), 3: ("#9", "9"), 8: ("b13", "13")}
"""Semitones of a held note above a dominant's root: what it makes of the chord, and the
natural colour that gives way to it."""


def sung_context(context: GapContext) -> GapContext:
    """The gap with the dominants that the held note itself alters: a D7 printed under a held
    E flat is played as D7 with a flat nine, whatever its scale would be (common practice)."""
    held = context.gap.held
    if held is None:
        return context
    stops = min(held.end_quarter, context.end_quarter)
    spans = tuple(replace(span, harmony=_sung_over(span.harmony, held.pitch.pitch_class))
                  if span.onset_quarter < stops else span for span in context.spans)
    return context if spans == context.spans else replace(context, spans=spans)


@lru_cache(maxsize=1024)
def _sung_over(harmony: Harmony, held: int) -> Harmony:
    """The dominant under a held note (a pitch class) that is its altered ninth or thirteenth."""
    symbol = harmony.symbol
    named = _SUNG.get(symbol.relative(held))
    if (named is None or symbol.quality != "dominant" or "3" not in harmony.tones
            or "b7" not in harmony.tones or harmony.takes(held) or named[1] in symbol.degrees):
        return harmony
    colour, natural = named
    return replace(harmony, tensions=sort_degrees(
        [colour, *(d for d in harmony.tensions if d != natural)]))


def altered_by_choice(harmony: Harmony, degree: str) -> bool:
    """Is this degree an alteration that neither the symbol nor the chord's scale has?"""
    return (degree in ("b9", "#9", "b13") and degree not in harmony.symbol.degrees
            and degree not in harmony.scale.tensions)
