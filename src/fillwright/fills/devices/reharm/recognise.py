"""The moves as devices: how to hear from notes that they are one, and what to say of it.

Nothing here knows how a fill was made. The added chords of a passage are compared with what
each way of a move would give between the chords around them, and the keys must tell them: the
bass, the third, and the voice or bass line the sentence names.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from fillwright.fills.devices.device import Example, FillPassage
from fillwright.fills.devices.reharm.device import Heard, Move, Stands, Way
from fillwright.fills.devices.reharm.function import (
    LETTERS,
    low_class,
    plain_chord,
    printed_chord,
    quality_of,
    sounds_as,
)
from fillwright.fills.devices.reharm.moves import MOVES
from fillwright.fills.devices.reharm.place import Place, chord_at
from fillwright.fills.devices.reharm.sound import line_heard
from fillwright.fills.devices.reharm.words import (
    ChordWords,
    inner_line,
    leads,
    over_the_same,
    sentence,
)
from fillwright.fills.draft import DraftChord
from fillwright.theory.chord import ChordSymbol, degree_pitch_class
from fillwright.theory.harmony import Harmony, harmony_of
from fillwright.theory.pitch import degree_interval

__all__ = ["DEVICES", "MoveDevice"]


@dataclass(frozen=True, slots=True)
class _Found:
    """Where a way is heard: the added chords, and the place they stand at."""

    way: Way
    place: Place
    chords: tuple[DraftChord, ...]
    before: DraftChord | None


@dataclass(frozen=True, slots=True)
class MoveDevice:
    """A move, as `fillwright.fills.devices.device.Device` asks for it."""

    move: Move

    @property
    def name(self) -> str:
        return self.move.name

    @property
    def family(self) -> str:
        return "reharm"

    @property
    def example(self) -> Example:
        return self.move.example

    def is_heard_in(self, passage: FillPassage) -> bool:
        return self._found(passage) is not None

    def says(self, passage: FillPassage) -> str:
        found = self._found(passage)
        if found is None:
            raise ValueError(f"no {self.name} is heard")
        place, chords = found.place, tuple(c.harmony for c in found.chords)
        delay = found.way.stands is not Stands.AFTER
        after = place.here if found.way.stands is Stands.DELAY else place.goal
        heard = [frozenset(range(12)) if found.before is None
                 else _classes(passage, found.before)]
        heard += [_classes(passage, c) for c in found.chords]
        words = ChordWords(place.here, place.goal, chords,
                           leads(chords[-1], after, place.key) or "",
                           place.collection if found.way.chords.startswith("*") else place.key,
                           delay,
                           None if passage.held is None else passage.held.note_name, tuple(heard))
        return sentence(found.way.says, words)

    def _found(self, passage: FillPassage) -> _Found | None:
        for way in self.move.ways:
            for found in _candidates(way, passage):
                if _told(found, passage):
                    return found
        return None


def _candidates(way: Way, passage: FillPassage) -> Iterator[_Found]:
    """Every stretch of added chords that a way would give where it stands."""
    row = passage.chords
    count = 1 if way.chords.startswith("*") else len(way.chords.split())
    for start in range(len(row) - count + 1):
        chords = row[start:start + count]
        if not all(c.added for c in chords):
            continue
        before = row[start - 1] if start else None
        after = row[start + count].harmony if start + count < len(row) else passage.goal
        later = row[start + count + 1].harmony if start + count + 1 < len(row) else passage.goal
        for place in _places(way, chords, before, after, later, passage):
            if way.fits(place) and any(_alike(symbols, chords) for symbols in way.at(place)):
                yield _Found(way, place, chords, before)


def _places(way: Way, chords: Sequence[DraftChord], before: DraftChord | None,
            after: Harmony | None, later: Harmony | None, passage: FillPassage) -> Iterator[Place]:
    if way.stands is Stands.AFTER:
        here = passage.before if before is None else before.harmony
        if here is not None:
            triads = frozenset(c.harmony.root.pitch_class for c in chords
                               if quality_of(c.harmony.symbol) == "M")
            elsewhere = passage.habits.between(here, after or here)
            yield Place(here, after or here, later is None and passage.landing is None,
                        triads=triads, own=frozenset((root, "M") for root in triads) | {
                            (root, LETTERS[kind]) for root, kind in elsewhere})
    elif way.stands is Stands.DELAY and after is not None:
        yield Place(after, later or after, passage.landing is None)
    else:  # the written chord does not sound: it is what a dominant there would be
        key = chords[0].harmony.key
        for degree, suffix in (("1", "7"), ("b5", "7"), ("4", "7"), ("1", "")):
            root = chords[0].harmony.root + degree_interval(degree)
            yield Place(harmony_of(chord_at(root, suffix), key,
                                   None if after is None else after.symbol),
                        after or chords[-1].harmony)


def _alike(symbols: Sequence[ChordSymbol], chords: Sequence[DraftChord]) -> bool:
    """Roots, quality and bass, whatever the colour."""
    for symbol, chord in zip(symbols, chords, strict=True):
        harmony = harmony_of(symbol, chord.harmony.key, None)
        printed = printed_chord(harmony) == printed_chord(chord.harmony)  # V as a triad is no V7
        if (not (printed or plain_chord(harmony) == plain_chord(chord.harmony))
                or low_class(harmony) != low_class(chord.harmony)):
            return False
    return True


def _keys(passage: FillPassage, chord: DraftChord) -> tuple[int, ...]:
    """The keys that are struck while a chord lasts, and the held note before it is over."""
    struck = sorted({n.midi for n in passage.notes
                     if n.onset_quarter < chord.end_quarter
                     and n.end_quarter > chord.onset_quarter})
    return tuple(struck) if passage.held is None else (*struck, passage.held.midi)


def _classes(passage: FillPassage, chord: DraftChord) -> frozenset[int]:
    return frozenset(m % 12 for m in _keys(passage, chord))


def _told(found: _Found, passage: FillPassage) -> bool:
    """Whether the keys tell the chords, and do what the sentence names."""
    rows = [_keys(passage, c) for c in found.chords]
    for chord, keys in zip(found.chords, rows, strict=True):
        harmony = chord.harmony
        if not keys or min(keys) % 12 != low_class(harmony):
            return False
        third = harmony.third
        if third is not None and sounds_as(harmony) in "Mm7" and (
                harmony.root.pitch_class + degree_pitch_class(third)) % 12 not in {
                m % 12 for m in keys}:
            return False
    start = [] if found.before is None else [_keys(passage, found.before)]
    if Heard.BASS in found.way.heard and found.way.stands is Stands.AFTER and start:
        rows_of_bass = [*start, *rows]
    elif Heard.WALK in found.way.heard:
        rows_of_bass = rows
    else:
        rows_of_bass = []
    basses = [min(keys) for keys in rows_of_bass if keys]
    if any(abs((b - a + 6) % 12 - 6) <= 2 < abs(b - a)
           for a, b in pairwise(basses)):
        return False
    return Heard.LINE not in found.way.heard or _line_told(found, start, rows)


def _line_told(found: _Found, start: list[tuple[int, ...]], rows: list[tuple[int, ...]]) -> bool:
    place = found.place
    delay = found.way.stands is not Stands.AFTER
    words = ChordWords(place.here, place.goal, tuple(c.harmony for c in found.chords), "",
                       place.key,
                       delay)
    line = [name.pitch_class for name in inner_line(words)]
    over = not delay and over_the_same(place.here, found.chords[0].harmony)
    heard = [*start, *rows] if over else rows
    return len(line) > 1 and line_heard(line[:len(heard)], heard[:len(line)])


DEVICES: tuple[MoveDevice, ...] = tuple(MoveDevice(move) for move in MOVES)
"""The devices of the family."""
