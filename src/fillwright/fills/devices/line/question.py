"""A seed as a question to the walk: which keys and moves level, place and tune leave to each note.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from fillwright.exact import Fraction
from fillwright.fills.devices.line.rhythms import LineRhythm
from fillwright.fills.devices.line.room import CALM, Room
from fillwright.fills.devices.line.seeds import Seed
from fillwright.fills.devices.line.walk import CHROMATIC, TENSION, TONE, Question, Slot

__all__ = ["allowed", "question_of"]

_OCTAVE = 12


def question_of(room: Room, rhythm: LineRhythm, slots: tuple[Slot, ...], seed: Seed, above: bool,
                leaps: float = 1.0) -> Question | None:
    """A seed as a question; None where a note has no pitch left.

    above   the line lies above the melody
    leaps   how much likelier leaps are made
    """
    low, high = room.reach(above)
    only: list[tuple[int, ...] | None] = []
    for index in range(len(slots)):
        keys: Iterable[int] = range(low, high + 1)
        if index in seed.keys:
            keys = sorted(k for k in seed.keys[index] if low <= k <= high)
        classes = seed.classes.get(index)
        if classes is not None:
            keys = [k for k in keys if k % 12 in classes]
        keys = allowed(room, slots, rhythm, index, list(keys))
        if not keys:
            return None
        only.append(tuple(keys))
    beat = room.situation.beat_quarter
    air = room.landing is not None and rhythm.air >= beat / 2
    moves: list[tuple[int, ...] | None] = []
    for index, (onset, following) in enumerate(pairwise(rhythm.onsets)):
        move = seed.moves.get(index)
        parts_ = (following - onset) / beat
        most = next((size for part, size in _QUICK if parts_ <= part), _OCTAVE)
        stays = len(slots) > _FEW and parts_ >= _QUICK[-1][0]
        if most < _OCTAVE or not stays:
            move = tuple(m for m in (_ANY if move is None else move)
                         if abs(m) <= most and (m or stays))
        moves.append(move)
    return Question(slots, low, high, tuple(only), tuple(moves), room.held, room.goal,
                    air, _reach(room, rhythm.air / beat), leaps=leaps)


_REACH = ((Fraction(1), 5), (Fraction(1, 2), 4), (Fraction(0), 2))
"""By beats of rest before the landing, semitones to it at most: what is further has more time
(common practice)."""

_BROKEN_IN = 4
"""A beginner's broken chord may go on into the landing by a third (common practice)."""


def _reach(room: Room, rest: Fraction) -> tuple[int, int]:
    """Semitones to the landing after so many beats of rest: from any note, and from a chord
    tone."""
    most = next(size for beats, size in _REACH if rest >= beats)
    return most, max(most, _BROKEN_IN) if room.taste.plain else most

_FEW = 3
"""A line of so many notes strikes no key twice in a row, nor does any line in triplets or
sixteenths: it would only stutter (common practice)."""

_ANY = tuple(range(-_OCTAVE, _OCTAVE + 1))

_QUICK = ((Fraction(1, 4), 5), (Fraction(1, 3), 5), (Fraction(1, 2), 9))
"""The faster the notes, the smaller the moves: by parts of a beat, semitones (common practice)."""

_UNDONE = {1: 2, 2: 1, 6: 5, 8: 7, 10: 11, 11: 10}
"""By what the held note is over a major chord or a dominant, in semitones above the root: what
would take it back."""
_MAJOR_OR_DOMINANT, _MAJOR_THIRD = (0, 1), 4


def _undone(room: Room, slot: Slot) -> frozenset[int]:
    """The pitch classes that would take back what the melody has just held: the plain fifth after
    a raised one, the flat nine after the ninth; the major third where the tune sings the minor
    one."""
    held = room.held
    if room.spans[slot.span].harmony.is_sung_minor:
        return frozenset({(slot.root + _MAJOR_THIRD) % 12})
    if held is None or slot.span or slot.cls not in _MAJOR_OR_DOMINANT:
        return frozenset()
    place = _UNDONE.get((held - slot.root) % 12)
    return frozenset() if place is None else frozenset({(slot.root + place) % 12})


_ECHO = 2
"""Beats for which the last note is heard on in the air after it: it has a home in every chord that
comes in them."""


def allowed(room: Room, slots: tuple[Slot, ...], rhythm: LineRhythm, index: int, keys: list[int]
             ) -> list[int]:
    """What the level, the chords it sounds over and the end of a piece leave of a note."""
    slot, taste = slots[index], room.taste
    if taste.plain and slot.place <= 1:
        keys = [k for k in keys if slot.kinds[k % 12] == TONE]
    elif not taste.foreign:
        keys = [k for k in keys if slot.kinds[k % 12] < CHROMATIC]
    undone = _undone(room, slot)
    keys = [k for k in keys if k % 12 not in undone]
    last = index + 1 == len(slots)
    ends = room.landing is None and last
    beat = room.situation.beat_quarter
    rings = rhythm.ends[index] + (_ECHO * beat if last and rhythm.air >= beat / 2 else 0)
    for span in room.spans[slot.span:]:
        if span.onset_quarter >= rings:
            break
        if span.onset_quarter > rhythm.onsets[index]:
            row = room.kinds_of(span)
            keys = [k for k in keys if row[k % 12] <= TENSION]
        if ends:
            keys = [k for k in keys if span.harmony.degree_of(k % 12) in CALM] or keys
    return keys
