"""What two hands can do: reach, fingers, counts, rolls, jumps, crossing, restrikes, range.

Sources stand with the limits: `reach` and `jumps` of the hands. Where none is named a rule is
common practice of solo piano.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import ClassVar

from fillwright.exact import Fraction
from fillwright.hands.chords import finger_chord, finger_rolled
from fillwright.hands.costs import pair_limits_ok
from fillwright.hands.jumps import jump_ok, jump_seconds_needed
from fillwright.hands.model import HandNote
from fillwright.hands.moments import HandMoment
from fillwright.hands.reach import (
    MAX_NOTES,
    ROLL_DENOMINATOR,
    ROLL_NUMERATOR,
    rolled_span_ok,
    span_ok,
    span_units,
)
from fillwright.rules.model import Finding, Passage, Rule, name_of, names_of

__all__ = ["COUNTS", "FINGERS", "HANDS", "HIGHEST_KEY", "JUMPS", "LOWEST_KEY", "RANGE", "REACH",
           "RESTRIKES", "ROLLS", "Counts", "Fingers", "Hands", "Jumps", "Range", "Reach",
           "Restrikes", "Rolls"]

ROLL_SECONDS = 0.06
"""From one note of a rolled chord to the next (common practice)."""

ROLL_SHARE = 20
"""Fewer than one chord in so many is rolled."""

LOWEST_KEY, HIGHEST_KEY = 21, 108
"""The piano's: A0 and C8."""


def _is_roll(low: HandNote, high: HandNote) -> bool:
    return low.rolled and high.rolled and low.onset_quarter == high.onset_quarter


class _OfStrokes(Rule):
    __slots__ = ()

    def tried(self, passage: Passage) -> int:
        return len(passage.hand_moments)


class Reach(_OfStrokes):
    """Everything a hand has down lies within its reach; a rolled chord may exceed it by a
    third at the moment it is rolled."""

    __slots__ = ()
    name: ClassVar[str] = "reach"
    asks: ClassVar[str] = "all keys a hand holds lie within its reach"
    why: ClassVar[str] = "a key out of reach is missed, or strains the hand"
    remedy: ClassVar[str] = ("roll it or leave out a note (a stretch that hurts is rolled or left "
                             "out, never forced)")

    def breaks(self, low_midi: int, high_midi: int, size: str, rolled: bool = False) -> bool:
        return not (span_ok(low_midi, high_midi, size)
                    or (rolled and rolled_span_ok(low_midi, high_midi, size)))

    def findings(self, passage: Passage) -> Iterator[Finding]:
        for stroke in passage.hand_moments:
            low, high = stroke.down[0], stroke.down[-1]
            rolled = _is_roll(low, high) and low in stroke.struck and high in stroke.struck
            if self.breaks(low.midi, high.midi, passage.size, rolled):
                yield self.found(
                    stroke.onset_quarter, f"{stroke.hand} hand cannot reach from"
                    f" {name_of(low.midi)} to {name_of(high.midi)}", (low.midi, high.midi))


class Fingers(_OfStrokes):
    """No finger on two keys, fingers in the order of the keys, each pair within its span.

    Where fingers are not known it asks whether any would do.
    """

    __slots__ = ()
    name: ClassVar[str] = "fingers"
    asks: ClassVar[str] = "one key a finger, fingers in order, each pair within its span"
    why: ClassVar[str] = "the hand would have to twist, or a finger be in two places"
    remedy: ClassVar[str] = "take other fingers, roll it or leave out a note"

    def findings(self, passage: Passage) -> Iterator[Finding]:
        for stroke in passage.hand_moments:
            found = list(self._printed(stroke, passage.size))
            yield from found or self._none_fit(stroke, passage.size)

    def _printed(self, stroke: HandMoment, size: str) -> Iterator[Finding]:
        hand = stroke.hand
        for low, high in combinations(stroke.down, 2):
            if low.finger is None or high.finger is None:
                continue
            if low not in stroke.struck and high not in stroke.struck:
                continue
            keys = (low.midi, high.midi)
            fingers = (low.finger, high.finger) if hand == "right" else (high.finger, low.finger)
            if fingers[0] == fingers[1]:
                what = f"{hand} finger {fingers[0]} is on two keys at once"
            elif fingers[0] > fingers[1]:
                what = f"{hand} fingers {low.finger} and {high.finger} are crossed"
            else:
                scale = ((ROLL_NUMERATOR, ROLL_DENOMINATOR) if _is_roll(low, high) else (1, 1))
                # The ruler is symmetrical, so the left hand needs no mirror here.
                if pair_limits_ok(*fingers, span_units(*keys), size, *scale):
                    continue
                what = (f"{hand} fingers {low.finger} and {high.finger} do not span"
                        f" {name_of(keys[0])} to {name_of(keys[1])}")
            yield self.found(stroke.onset_quarter, what, keys)

    def _none_fit(self, stroke: HandMoment, size: str) -> Iterator[Finding]:
        """Keys held together that lie within the reach but that no choice of fingers takes."""
        down = stroke.down
        keys = tuple(sorted({note.midi for note in down}))
        if len(keys) > MAX_NOTES or all(note.finger for note in down):
            return
        rolled = any(note.rolled for note in stroke.struck)
        if REACH.breaks(keys[0], keys[-1], size, rolled):
            return
        printed = {note.midi: note.finger for note in down if note.finger is not None}
        if (finger_rolled if rolled else finger_chord)(keys, stroke.hand, size, printed) is None:
            names = " ".join(str(note.pitch) for note in down)
            yield self.found(stroke.onset_quarter, f"{stroke.hand} hand has no fingers that take"
                             f" {names} together", keys)


class Counts(_OfStrokes):
    """No hand has more keys down than it has fingers."""

    __slots__ = ()
    name: ClassVar[str] = "counts"
    asks: ClassVar[str] = "no hand holds more than five keys"
    why: ClassVar[str] = "a hand has five fingers"
    remedy: ClassVar[str] = "leave out a doubled note, or let go of one earlier"

    def breaks(self, keys: int) -> bool:
        return keys > MAX_NOTES

    def findings(self, passage: Passage) -> Iterator[Finding]:
        for stroke in passage.hand_moments:
            if self.breaks(len(stroke.down)):
                yield self.found(stroke.onset_quarter, f"{stroke.hand} hand has"
                                 f" {len(stroke.down)} keys down",
                                 (note.midi for note in stroke.down))


class Rolls(Rule):
    """A rolled chord is rolled whole and has the time, and few chords are."""

    __slots__ = ()
    name: ClassVar[str] = "rolls"
    asks: ClassVar[str] = "rolled chords are whole, few, and have the time"
    why: ClassVar[str] = ("a roll takes about six hundredths of a second a note, and loses its "
                          "effect as a habit")
    remedy: ClassVar[str] = ("roll the whole chord and give it time, or leave out a note and "
                             "strike it at once")

    def tried(self, passage: Passage) -> int:
        return sum(len(stroke.struck) > 1 for stroke in passage.hand_moments)

    def breaks(self, rolled: Sequence[int], following: Sequence[int], seconds: float, size: str
               ) -> bool:
        """Is there too little time from a rolled chord to the hand's next stroke?"""
        return seconds < (ROLL_SECONDS * (len(rolled) - 1)
                          + jump_seconds_needed((max(rolled),), following, size))

    def findings(self, passage: Passage) -> Iterator[Finding]:
        found: list[Finding] = []
        last: dict[str, HandMoment] = {}
        chords, rolled = 0, []
        for stroke in passage.hand_moments:
            keys = [note.midi for note in stroke.struck]
            before = last.get(stroke.hand)
            if before is not None and before.struck[0].rolled:
                earlier = [note.midi for note in before.struck]
                seconds = float(stroke.onset_quarter
                                - before.onset_quarter) * passage.seconds_per_quarter
                if self.breaks(earlier, keys, seconds, passage.size):
                    found.append(self.found(before.onset_quarter, f"{stroke.hand} hand has no"
                                            " time to roll its chord", earlier))
            last[stroke.hand] = stroke
            if len(keys) > 1:
                chords += 1
                marked = sum(note.rolled for note in stroke.struck)
                if marked:
                    rolled.append(self.found(stroke.onset_quarter, "too many chords are rolled",
                                             keys))
                if 0 < marked < len(keys):
                    found.append(self.found(stroke.onset_quarter,
                                            f"{stroke.hand} hand rolls half a chord", keys))
        if passage.whole and len(rolled) * ROLL_SHARE >= chords:
            found += rolled
        yield from sorted(found, key=lambda finding: finding.onset_quarter)


class Jumps(Rule):
    """Each hand gets from one stroke to its next in time."""

    __slots__ = ()
    name: ClassVar[str] = "jumps"
    asks: ClassVar[str] = "each hand gets to its next stroke in time"
    why: ClassVar[str] = "the hand comes late, or hits a wrong key in haste"
    remedy: ClassVar[str] = ("leave out the note before, let go earlier, or move one of the two "
                             "nearer")

    def tried(self, passage: Passage) -> int:
        return len(passage.hand_moments) - len({stroke.hand for stroke in passage.hand_moments})

    def breaks(self, before: Sequence[int], after: Sequence[int], seconds: float, size: str
               ) -> bool:
        return not jump_ok(before, after, seconds, size)

    def findings(self, passage: Passage) -> Iterator[Finding]:
        last: dict[str, tuple[Fraction, list[int]]] = {}
        for stroke in passage.hand_moments:
            onset, hand = stroke.onset_quarter, stroke.hand
            keys = [note.midi for note in stroke.struck]
            if hand in last:
                before, earlier = last[hand]
                seconds = float(onset - before) * passage.seconds_per_quarter
                if self.breaks(earlier, keys, seconds, passage.size):
                    needed = jump_seconds_needed(earlier, keys, passage.size)
                    yield self.found(
                        onset, f"{hand} hand has {seconds:.2f} s from {names_of(earlier)} to"
                        f" {names_of(keys)} and wants {needed:.2f} s", (*earlier, *keys))
            last[hand] = (onset, keys)


class Hands(Rule):
    """The hands neither cross nor take each other's keys."""

    __slots__ = ()
    name: ClassVar[str] = "hands"
    asks: ClassVar[str] = "the hands neither cross nor share a key"
    why: ClassVar[str] = "one hand is in the other's way"
    remedy: ClassVar[str] = "give the key to one hand, or move one hand an octave"

    def tried(self, passage: Passage) -> int:
        return len(passage.moments)

    def breaks(self, left_top: int, right_bottom: int) -> bool:
        return left_top >= right_bottom

    def findings(self, passage: Passage) -> Iterator[Finding]:
        for moment in passage.moments:
            left, right = moment.of("left")[1], moment.of("right")[1]
            if not left or not right or not self.breaks(left[-1].midi, right[0].midi):
                continue
            shared = sorted({note.midi for note in left} & {note.midi for note in right})
            if shared:
                yield self.found(moment.onset_quarter, f"both hands on {names_of(shared)}",
                                 shared)
            else:
                yield self.found(
                    moment.onset_quarter, f"left hand on {name_of(left[-1].midi)} lies above"
                    f" the right on {name_of(right[0].midi)}", (left[-1].midi, right[0].midi))


class Restrikes(Rule):
    """No hand strikes a key that it has not let go of."""

    __slots__ = ()
    name: ClassVar[str] = "restrikes"
    asks: ClassVar[str] = "no key is struck while the same hand holds it"
    why: ClassVar[str] = "a key that is down cannot be struck"
    remedy: ClassVar[str] = "let go before, or hold it and do not strike again"

    def tried(self, passage: Passage) -> int:
        return len(passage.notes)

    def findings(self, passage: Passage) -> Iterator[Finding]:
        until: dict[tuple[str, int], Fraction] = {}
        for note in sorted(passage.notes, key=lambda note: (note.onset_quarter, note.midi)):
            key = (note.hand, note.midi)
            if until.get(key, note.onset_quarter) > note.onset_quarter:
                yield self.found(note.onset_quarter, f"{note.hand} hand strikes"
                                 f" {name_of(note.midi)} while it holds it", (note.midi,))
            until[key] = max(until.get(key, note.end_quarter), note.end_quarter)


class Range(Rule):
    """Every key is on the piano."""

    __slots__ = ()
    name: ClassVar[str] = "range"
    asks: ClassVar[str] = "every key is on the piano"
    why: ClassVar[str] = "there is no such key"
    remedy: ClassVar[str] = "move it by octaves"

    def tried(self, passage: Passage) -> int:
        return len(passage.notes)

    def breaks(self, midi: int) -> bool:
        return not LOWEST_KEY <= midi <= HIGHEST_KEY

    def findings(self, passage: Passage) -> Iterator[Finding]:
        for note in sorted(passage.notes, key=lambda note: (note.onset_quarter, note.midi)):
            if self.breaks(note.midi):
                yield self.found(note.onset_quarter, f"{name_of(note.midi)} is not on the piano",
                                 (note.midi,))


REACH, FINGERS, COUNTS, ROLLS = Reach(), Fingers(), Counts(), Rolls()
JUMPS, HANDS, RESTRIKES, RANGE = Jumps(), Hands(), Restrikes(), Range()
