"""Which pitches a line may use: chord by chord, by level, by colour.

`kinds` says for each pitch class what it is in a chord: chord tone, tension, scale note to
be passed through, or foreign. Chord scales follow `fillwright.theory.harmony`.
"""

from __future__ import annotations

from fractions import Fraction
from types import MappingProxyType

from fillwright.fills.devices.line.costs import CHROMATIC, PASSING, TENSION, TONE, Slot
from fillwright.fills.devices.line.phrase import Phrase, strength_at
from fillwright.fills.situation import Span, Task
from fillwright.memory import SEARCHES
from fillwright.theory.chord import degree_pitch_class
from fillwright.theory.harmony import CHORD_SCALES, Harmony
from fillwright.theory.key import Key

__all__ = ["RANGES", "altered_kinds", "blue_notes", "blues_classes", "inside",
           "kinds", "pentatonic", "pool", "slots_of", "structure_triads",
           "with_kinds"]

RANGES: MappingProxyType[str, int] = MappingProxyType(
    {"beginner": 14, "intermediate": 19, "advanced": 24})
"""Semitones a line spans at most (solos span 28 in all, a phrase far less; common practice)."""


@SEARCHES.keep
def kinds(harmony: Harmony, level: str, signature: Key | None = None) -> tuple[int, ...]:
    """For each pitch class TONE, TENSION, PASSING or CHROMATIC.

    For beginners only what the symbol names is a chord tone (the sixth or seventh a pianist
    adds to a bare triad counts as a tension), and over a chord of the key signature only its
    notes are left.
    """
    named = set(harmony.symbol.pitch_classes)
    row = [CHROMATIC] * 12
    root = harmony.root.pitch_class
    for degree in harmony.scale.degrees:
        row[(root + degree_pitch_class(degree)) % 12] = PASSING
    for degree in harmony.tensions:
        # a dominant's sharp eleventh, where the symbol does not ask for it, passes by until
        # the player is advanced (common practice)
        passes = (degree == "#11" and level != "advanced" and degree not in
                  harmony.symbol.degrees and harmony.symbol.quality == "dominant")
        row[(root + degree_pitch_class(degree)) % 12] = PASSING if passes else TENSION
    for degree in harmony.tones:
        pitch_class = (root + degree_pitch_class(degree)) % 12
        plain = level != "beginner" or pitch_class in named
        row[pitch_class] = TONE if plain else TENSION
    if level == "beginner" and signature is not None:
        printed = {name.pitch_class for name in signature.scale}
        if all(pc in printed for pc, kind in enumerate(row) if kind == TONE):
            row = [kind if pc in printed else CHROMATIC for pc, kind in enumerate(row)]
    return tuple(row)


@SEARCHES.keep
def altered_kinds(harmony: Harmony, held_pitch_class: int | None) -> tuple[int, ...] | None:
    """The altered colour of a dominant, or None where the chord does not take it.

    It has to lead down a fifth (a V7), to have a plain fifth, and neither the symbol nor
    the held melody note may ask for a natural ninth or thirteenth.
    """
    symbol = harmony.symbol
    if symbol.quality != "dominant" or not harmony.function.startswith("V7"):
        return None
    if {"9", "13", "11"} & set(symbol.degrees):
        return None
    root = harmony.root.pitch_class
    if held_pitch_class is not None and (held_pitch_class - root) % 12 in (2, 7, 9):
        return None
    return _kinds_of(harmony, "altered")


@SEARCHES.keep
def _kinds_of(harmony: Harmony, scale_name: str) -> tuple[int, ...]:
    scale = CHORD_SCALES[scale_name]
    root = harmony.root.pitch_class
    row = [CHROMATIC] * 12
    for degree in scale.degrees:
        row[(root + degree_pitch_class(degree)) % 12] = TENSION
    # the colours are what the line is about, so they count as its chord tones
    for degree in (*scale.tensions, "3", "b7"):
        row[(root + degree_pitch_class(degree)) % 12] = TONE
    return tuple(row)


def pentatonic(harmony: Harmony) -> tuple[str, frozenset[int]] | None:
    """A name and the pitch classes of a pentatonic scale that fits a chord.

    Minor pentatonic on the root of a minor chord, major pentatonic on a major or dominant
    one; none where a note of it would have to be avoided (common practice).
    """
    quality = harmony.symbol.quality
    if quality == "minor":
        name, degrees = "minor pentatonic", ("1", "b3", "11", "5", "b7")
    elif quality in ("major", "dominant"):
        name, degrees = "major pentatonic", ("1", "9", "3", "5", "13")
    elif quality == "suspended":
        name, degrees = "major pentatonic", ("1", "9", "4", "5", "13")
    elif quality == "half-diminished":
        name, degrees = "minor pentatonic a third up", ("b3", "b5", "b13", "b7", "1")
    else:
        return None
    root = harmony.root.pitch_class
    classes = frozenset((root + degree_pitch_class(d)) % 12 for d in degrees)
    row = kinds(harmony, "intermediate")
    if any(row[c] >= CHROMATIC for c in classes):
        return None
    return name, classes


def inside(row: tuple[int, ...], key: Key) -> tuple[int, ...]:
    """The kinds of a chord with all that is no chord tone and not of the key made foreign."""
    scale = {name.pitch_class for name in key.scale}
    return tuple(kind if kind == TONE or pc in scale else CHROMATIC
                 for pc, kind in enumerate(row))


def blues_classes(key: Key) -> frozenset[int]:
    """The minor blues scale on the tonic: 1 b3 4 b5 5 b7."""
    tonic = key.tonic.pitch_class
    return frozenset((tonic + step) % 12 for step in (0, 3, 5, 6, 7, 10))


def blue_notes(key: Key) -> frozenset[int]:
    """What makes the blues scale blue: the flat fifth, and in a major key the flat third."""
    tonic = key.tonic.pitch_class
    return frozenset((tonic + step) % 12 for step in ((6,) if key.mode == "minor" else (3, 6)))


_STRUCTURES: MappingProxyType[str, tuple[tuple[str, tuple[str, ...]], ...]] = MappingProxyType({
    # Triads by degree. Over dominants: Levine, *The Jazz Piano Book*, ch. 14, and the same
    # table derived (no fourth, no major seventh); the rest common practice.
    "dominant": (("major triad on the second degree", ("9", "#11", "13")),
                 ("major triad on the sixth degree", ("13", "b9", "3")),
                 ("major triad on the flat sixth", ("b13", "1", "#9")),
                 ("major triad on the flat fifth", ("#11", "b7", "b9"))),
    "major": (("minor triad on the third degree", ("3", "5", "7")),
              ("major triad on the second degree", ("9", "#11", "13")),
              ("major triad on the fifth", ("5", "7", "9"))),
    "minor": (("major triad on the flat third", ("b3", "5", "b7")),
              ("minor triad on the fifth", ("5", "b7", "9")),
              ("major triad on the seventh", ("b7", "9", "11"))),
    "minor-major": (("augmented triad on the flat third", ("b3", "5", "7")),
                    ("major triad on the fifth", ("5", "7", "9"))),
    "half-diminished": (("minor triad on the flat third", ("b3", "b5", "b7")),
                        ("major triad on the flat sixth", ("b13", "1", "b3"))),
    "suspended": (("major triad on the seventh", ("b7", "9", "4")),),
})


@SEARCHES.keep
def structure_triads(harmony: Harmony, held_pitch_class: int | None = None
                     ) -> tuple[tuple[str, frozenset[int]], ...]:
    """Upper-structure triads over a chord: name and pitch classes.

    Every tone must be a chord tone or tension of the chord's scale, or (for a V7 that may
    be altered) of the altered or half-whole colours.
    """
    rows = [kinds(harmony, "advanced")]
    altered = altered_kinds(harmony, held_pitch_class)
    if altered is not None:
        rows += [altered, _kinds_of(harmony, "half-whole diminished")]
    root = harmony.root.pitch_class
    found = []
    for name, degrees in _STRUCTURES.get(harmony.symbol.quality, ()):
        classes = frozenset((root + degree_pitch_class(d)) % 12 for d in degrees)
        if any(all(row[c] <= TENSION for c in classes) for row in rows):
            found.append((name, classes))
    return tuple(found)


def governing(context: Task, onset: Fraction, end: Fraction) -> int:
    """Index of the span that governs a note: the coming chord, where the note anticipates it.

    A note that begins on the last off-beat before a change and sounds past it belongs to
    the coming chord.
    """
    spans = context.spans
    index = max(i for i, s in enumerate(spans) if s.onset_quarter <= onset or i == 0)
    if index + 1 < len(spans):
        change = spans[index + 1].onset_quarter
        if end > change and change - onset <= context.beat_quarter / 2:
            return index + 1
    return index


def slots_of(context: Task, phrase: Phrase) -> tuple[Slot, ...]:
    """The slots of a phrase, still without the kinds of their pitches (see `with_kinds`)."""
    slots: list[Slot] = []
    half = context.beat_quarter / 2 if context.beat_quarter == 1 else Fraction(1, 2)
    for index, (onset, end) in enumerate(zip(phrase.onsets, phrase.ends, strict=True)):
        span = governing(context, onset, end)
        last = index + 1 == len(phrase)
        closes = last or phrase.onsets[index + 1] - end >= half
        change = bool(slots) and slots[-1].span != span
        slots.append(Slot(
            onset, strength_at(context, onset), end - onset > half, closes, (), span, change,
            _guides(context.spans[slots[-1].span]) if change else (),
            _guides(context.spans[span]) if change else ()))
    return tuple(slots)


def with_kinds(slots: tuple[Slot, ...], rows: tuple[tuple[int, ...], ...]) -> tuple[Slot, ...]:
    """Slots with what each pitch class is in their chord; `rows` are the kinds for each span
    of the gap."""
    return tuple(Slot(s.onset_quarter, s.strength, s.held, s.closes, rows[s.span], s.span,
                      s.change, s.guides_before, s.guides) for s in slots)


def _guides(span: Span) -> tuple[int, ...]:
    root = span.harmony.root.pitch_class
    return tuple((root + degree_pitch_class(d)) % 12
                 for d in (span.harmony.third, span.harmony.seventh) if d is not None)


def pool(slot: Slot, level: str, low: int, high: int, *, last: bool, chromatic: bool,
         only: frozenset[int] | None = None) -> tuple[int, ...]:
    """MIDI numbers allowed at a slot.

    chromatic   whether foreign notes may be used where the level allows them
    only        pitch classes to keep to, or None
    """
    foreign = chromatic and level != "beginner" and not slot.held and (
        slot.strength == 0 or (level == "advanced" and slot.strength == 1))
    passing = not slot.held and slot.strength < 2 and not (level == "beginner" and last)
    only_tones = level == "beginner" and slot.strength > 0
    most = TONE if only_tones else CHROMATIC if foreign else PASSING if passing else TENSION
    return _pool(slot.kinds, most, passing, low, high, only)


@SEARCHES.keep
def _pool(row: tuple[int, ...], most: int, passing: bool, low: int, high: int,
          only: frozenset[int] | None) -> tuple[int, ...]:
    return tuple(midi for midi in range(low, high + 1)
                 if row[midi % 12] <= most and (passing or row[midi % 12] != PASSING)
                 and (only is None or midi % 12 in only))
