"""What a gap gives to a line: the chords' notes, slot by slot, and the room beside the melody.

`kinds` says for each pitch class what it is in a chord: chord tone, tension, scale note to
be passed through, or foreign. Chord scales follow `fillwright.theory.harmony`.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass, field
from functools import lru_cache
from types import MappingProxyType

from fillwright.exact import Fraction
from fillwright.fills.devices.line.learnt import TICKS, place_of
from fillwright.fills.devices.line.rhythms import LineRhythm, strength_at
from fillwright.fills.devices.line.walk import CHROMATIC, PASSING, TENSION, TONE, Slot
from fillwright.fills.player import LineTaste
from fillwright.fills.situation import Span, Task
from fillwright.theory.chord import degree_number, degree_pitch_class
from fillwright.theory.harmony import Harmony
from fillwright.theory.key import Key
from fillwright.theory.local_key import quality_class

__all__ = ["CALM", "PARTS", "Room", "class_of", "governing", "inside", "kinds"]

CLASSES: MappingProxyType[str, int] = MappingProxyType({
    "dominant": 0, "major": 1, "minor": 2, "half-diminished": 3, "diminished": 4})
"""Classes of the learnt tables."""

CALM = frozenset({"1", "b3", "3", "4", "b5", "#5", "6", "9", "13"})
"""Degrees a piece may end on; a sus chord's fourth stands for its third, and on the fifth it would
be left open."""

PARTS = 240
"""Of a quarter note: eighths, triplets, sixteenths, quintuplets and what is between."""

_LOWEST, _HIGHEST = 59, 93
"""B below middle C, so that the left hand has its place; A6."""

_HIGH_UP = ((79, 7), (84, 4))
"""Above a melody at G5, or at C6, so many semitones are left: the left hand is far away."""

_BELOW, _ABOVE, _HIGH = 9, 12, 15
"""Semitones a line goes below and above the melody near it, or above it where it lies high."""


@lru_cache(maxsize=512)
def kinds(harmony: Harmony, plain: bool, signature: Key | None = None) -> tuple[int, ...]:
    """For each pitch class TONE, TENSION, PASSING or CHROMATIC.

    plain   only what the symbol names is a chord tone (the sixth or seventh a pianist adds to
            a bare triad counts as a tension), and over a chord of the key signature only its
            notes are left
    """
    named = set(harmony.symbol.pitch_classes)
    row = [CHROMATIC] * 12
    root = harmony.root.pitch_class
    for degree in harmony.scale.degrees:
        row[(root + degree_pitch_class(degree)) % 12] = PASSING
    if harmony.is_sung_minor:
        row[(root + degree_pitch_class("3")) % 12] = CHROMATIC  # the tune takes it away
    for degree in harmony.tensions:
        row[(root + degree_pitch_class(degree)) % 12] = TENSION
    for degree in harmony.tones:
        pitch_class = (root + degree_pitch_class(degree)) % 12
        row[pitch_class] = TONE if not plain or pitch_class in named else TENSION
    if plain and signature is not None:
        printed = {name.pitch_class for name in signature.scale}
        if all(pc in printed for pc, kind in enumerate(row) if kind == TONE):
            row = [kind if pc in printed else CHROMATIC for pc, kind in enumerate(row)]
    return tuple(row)


def inside(row: tuple[int, ...], key: Key, printed: Set[int] | None = None) -> tuple[int, ...]:
    """The kinds of a chord with all that is no chord tone and not of the key made foreign.

    printed   the chord tones, where not all that a pianist adds is one: a seventh that a plain
              triad gains is as foreign to the key as any other note
    """
    scale = {name.pitch_class for name in key.scale}
    return tuple(kind if pc in scale or (kind == TONE if printed is None else pc in printed)
                 else CHROMATIC for pc, kind in enumerate(row))


def is_bare(harmony: Harmony) -> bool:
    """Whether the symbol is a triad or a sixth chord: what its scale has and the key has not is
    heard as foreign over it, as over a diminished chord (common practice)."""
    return harmony.symbol.quality == "diminished" or max(
        degree_number(d) for d in harmony.symbol.degrees) <= 6


def class_of(harmony: Harmony) -> int:
    """The class of a chord in the learnt tables; a bare triad on the fifth degree is a dominant.

    >>> from fillwright.theory.chordtext import parse_chord
    >>> from fillwright.theory.harmony import analyse
    >>> [class_of(h) for h in analyse([parse_chord(t) for t in "Dm7 G7 C6".split()], Key(0))]
    [2, 0, 1]
    """
    found = quality_class(harmony.symbol) or "major"
    return CLASSES["dominant" if found == "major" and "b7" in harmony.tones else found]


def governing(spans: tuple[Span, ...], beat_quarter: Fraction, onset: Fraction, end: Fraction
              ) -> int:
    """Index of the span that governs a note: the coming chord, where the note anticipates it.

    A note that begins on the last off-beat before a change and sounds past it belongs to
    the coming chord.
    """
    index = max(i for i, s in enumerate(spans) if s.onset_quarter <= onset or i == 0)
    if index + 1 < len(spans):
        change = spans[index + 1].onset_quarter
        if end > change and change - onset <= beat_quarter / 2:
            return index + 1
    return index


def _colours(span: Span, key: Key) -> tuple[int, ...]:
    """The pitch classes that a player's altering puts into a chord, a dominant's unprinted flat and
    sharp ninth, and the seventh that a triad gains from where it goes, foreign to the tune's
    key."""
    symbol = span.harmony.symbol
    ninths = {"b9", "#9"} & set(span.harmony.tensions) if symbol.quality == "dominant" else set()
    root = span.harmony.root.pitch_class
    found = {(root + degree_pitch_class(d)) % 12 for d in (*span.alterations, *ninths)}
    if is_bare(span.harmony):
        gained = {(root + degree_pitch_class(d)) % 12 for d in span.harmony.tones}
        found |= gained - {name.pitch_class for name in key.scale}
    return tuple(sorted(found - set(symbol.pitch_classes)))


@dataclass(frozen=True, slots=True)
class Room:
    """A gap as the lines of one player see it.

    spans      the chords
    altered    those that may be are altered there
    landing    MIDI number the line leads to, or None, and where it comes
    melody     the phrase before the gap: (onset in `PARTS`, MIDI number), the held note last
    goal       the landing with its slot; over the last chord where its own is not known
    """

    situation: Task
    taste: LineTaste
    spans: tuple[Span, ...]
    landing: int | None
    landing_quarter: Fraction
    altered: bool = False
    melody: tuple[tuple[int, int], ...] = field(init=False, compare=False)
    goal: tuple[int, Slot] | None = field(init=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "melody", tuple(
            (int(n.onset_quarter * PARTS), n.midi) for n in self.situation.phrase))
        object.__setattr__(self, "goal", None if self.landing is None else (
            self.landing, self._landing_slot()))

    @property
    def held(self) -> int | None:
        return self.situation.held_midi

    @property
    def beat(self) -> int:
        """A felt beat in `PARTS`."""
        return int(self.situation.beat_quarter * PARTS)

    @property
    def centre(self) -> int:
        """The melody's place: between held note and landing."""
        known = [m for m in (self.held, self.landing) if m is not None]
        return sum(known) // len(known) if known else 70

    def reach(self, above: bool) -> tuple[int, int]:
        """Lowest and highest key of a line near the melody, or above it."""
        known = [m for m in (self.held, self.landing) if m is not None] or [self.centre]
        lowest = _LOWEST if min(known) > _LOWEST + 2 else min(known) - 2
        low = max(min(known) - (2 if above else _BELOW), lowest)
        room = min([_HIGH if above else _ABOVE, *(left for place, left in _HIGH_UP
                                                  if max(known) >= place)])
        high = min(max(known) + room, _HIGHEST)
        return low, min(high, low + max(self.taste.range_semitones,
                                        max(known) - min(known) + 7))

    def kinds_of(self, span: Span) -> tuple[int, ...]:
        """What each key is over a chord, for this player, in this tune."""
        situation = self.situation
        row = kinds(span.harmony, self.taste.plain, situation.bar_at(span.onset_quarter).key)
        if is_bare(span.harmony):
            row = inside(row, span.harmony.key, set(span.harmony.symbol.pitch_classes))
        return inside(row, situation.key) if situation.plain else row

    def place_at(self, place_quarter: Fraction) -> int:
        """The place in the bar as the learnt tables have it."""
        strength = strength_at(self.situation, place_quarter)
        if strength:
            return 2 - strength
        part = (self.situation.beat_at(place_quarter) - 1) % 1 * TICKS
        return place_of(TICKS + int(part))

    def slots(self, rhythm: LineRhythm) -> tuple[Slot, ...]:
        beat = self.situation.beat_quarter
        half = beat / 2
        eighth = min(half, Fraction(1, 2))
        rows = [self.kinds_of(span) for span in self.spans]
        found = []
        for index, (onset, end) in enumerate(zip(rhythm.onsets, rhythm.ends, strict=True)):
            number = governing(self.spans, beat, onset, end)
            span = self.spans[number]
            last = index + 1 == len(rhythm)
            following = self.landing_quarter if last else rhythm.onsets[index + 1]
            found.append(Slot(
                self.place_at(onset), class_of(span.harmony), span.harmony.root.pitch_class,
                rows[number], number, end - onset > eighth,
                following - end >= beat / 3 or (last and self.landing is None),
                self.situation.beat_at(onset) == 1, _colours(span, self.situation.key)))
        return tuple(found)

    def _landing_slot(self) -> Slot:
        harmony = self.situation.landing_harmony or self.spans[-1].harmony
        span = Span(self.landing_quarter, self.landing_quarter + 1, harmony)
        place = strength_at(self.situation, self.landing_quarter)
        return Slot(2 - place if place else 2, class_of(harmony), harmony.root.pitch_class,
                    self.kinds_of(span), len(self.spans), True, False)
