"""What sounds well together: mud, minor ninths, rubs with the melody, holes.

The low interval limits are those of dealers' and arrangers' tables for ensembles (a
Berklee-like table in two variants, and a general one; Lowell & Pullig, Arranging for Large
Jazz Ensemble, Berklee Press 2003, use them). Solo piano goes below them with ease, so the
hard limit lies three semitones below the more lenient table, and the stricter one is a cost.
The other rules are common practice.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import combinations, pairwise
from types import MappingProxyType
from typing import ClassVar

from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.rules.model import Finding, Passage, Rule, name_of
from fillwright.rules.nearby import Nearby

__all__ = ["HOLE", "LENIENT_LIMITS", "LIMIT_ALLOWANCE", "MINOR_NINTH", "MUD", "RUB",
           "STRICT_LIMITS", "THIRD_ALLOWANCE", "Hole", "MinorNinth", "Mud", "Rub"]

# Interval in semitones -> lowest MIDI number of its lower note
STRICT_LIMITS = MappingProxyType({
    1: 52, 2: 51, 3: 48, 4: 47, 5: 46, 6: 47, 7: 37, 8: 43, 9: 41, 10: 41, 11: 41,
    13: 40, 14: 39, 15: 36, 16: 34,
})
LENIENT_LIMITS = MappingProxyType({
    1: 52, 2: 51, 3: 48, 4: 46, 5: 45, 6: 35, 7: 34, 8: 41, 9: 41, 10: 41, 11: 41,
    13: 40, 14: 39, 15: 36, 16: 34,
})
LIMIT_ALLOWANCE = 3
"""Semitones by which solo piano may go below the lenient table (common practice: left-hand
sevenths down to D2)."""
THIRD_ALLOWANCE = MappingProxyType({3: 1, 4: 0})
"""The same for thirds, which growl first (common practice: no third below B2 or Bb2)."""

_LIMITS = tuple(LENIENT_LIMITS.get(step, 0) - THIRD_ALLOWANCE.get(step, LIMIT_ALLOWANCE)
                for step in range(max(LENIENT_LIMITS) + 1))
_CLEAR = max(_LIMITS)
_CLEAR_STRICT = max(STRICT_LIMITS.values())
"""From these keys up nothing is mud, and nothing costs."""

_PASSING_QUARTER = Fraction(1)
"""A melody note shorter than this passes over what is held under it."""


class Mud(Rule):
    """No close intervals low down among the keys that are down together.

    Every pair is tried, not only neighbours (as arranging texts want it).
    """

    __slots__ = ()
    name: ClassVar[str] = "mud"
    asks: ClassVar[str] = "no close intervals low down"
    why: ClassVar[str] = "close low sounds are heard as noise"
    remedy: ClassVar[str] = ("open it to a fifth, a seventh or a tenth, or move it up an octave")

    def tried(self, passage: Passage) -> int:
        return len(passage.moments)

    def limit(self, interval: int) -> int:
        """The lowest MIDI number on which an interval of so many semitones is not yet mud.

        >>> MUD.limit(4), MUD.limit(24)
        (46, 0)
        """
        return max(_LIMITS[interval], 0) if interval < len(_LIMITS) else 0

    def breaks(self, low_midi: int, high_midi: int) -> bool:
        return low_midi < self.limit(high_midi - low_midi)

    def pairs(self, midis: Collection[int]) -> list[tuple[int, int]]:
        """The pairs of keys too close together for their register.

        >>> MUD.pairs((46, 50)), MUD.pairs((43, 47)), MUD.pairs((38, 48))
        ([], [(43, 47)], [])
        """
        keys = sorted(set(midis))
        return [(low, high) for place, low in enumerate(keys) if low < _CLEAR
                for high in keys[place + 1:] if self.breaks(low, high)]

    def cost(self, midis: Collection[int]) -> int:
        """Semitones by which neighbouring keys lie below the strict table, summed.

        >>> MUD.cost((55, 59)), MUD.cost((43, 47))
        (0, 4)
        """
        keys = sorted(set(midis))
        return sum(max(STRICT_LIMITS.get(high - low, 0) - low, 0)
                   for low, high in pairwise(keys) if low < _CLEAR_STRICT)

    def findings(self, passage: Passage) -> Iterator[Finding]:
        for moment in passage.moments:
            struck = {note.midi for note in moment.struck}
            for low, high in self.pairs([note.midi for note in moment.down]):
                if low in struck or high in struck:
                    yield self.found(moment.onset_quarter, f"{name_of(low)} and {name_of(high)}"
                                     " are too close so low", (low, high))


_RUBBING = (1, 11)
"""Semitones, without octaves, by which keys that rub lie apart."""


class Rub(Rule):
    """Nothing rubs the melody by a half step or a minor ninth while the melody sounds.

    But for a flat nine over its root (`Chords.homes`), an octave and more above it, never next
    to it. A melody may pass over a held chord of the base: a note shorter than a beat that
    begins while the other key is down is no rub. A fill has no such excuse.
    """

    __slots__ = ()
    name: ClassVar[str] = "rubs"
    asks: ClassVar[str] = "nothing rubs the melody while it sounds"
    why: ClassVar[str] = "the ear takes it for a wrong melody note"
    remedy: ClassVar[str] = ("leave out the note, move it by a step (under its own root a major "
                             "seventh becomes the sixth), or let go before the melody comes")

    def tried(self, passage: Passage) -> int:
        return len(passage.sounding)

    def breaks(self, one_midi: int, other_midi: int, homes: Collection[int] = ()) -> bool:
        """Do two sounding keys rub: a half step, or a minor ninth in any octave?

        homes   pitch classes over which a flat nine is at home

        >>> RUB.breaks(60, 61), RUB.breaks(73, 60), RUB.breaks(60, 73, (0,))
        (True, True, False)
        >>> RUB.breaks(60, 61, (0,)), RUB.breaks(60, 71)
        (True, False)
        """
        distance = abs(one_midi - other_midi)
        if distance % 12 != 1:
            return False
        return distance == 1 or min(one_midi, other_midi) % 12 not in homes

    def passes(self, key_quarter: Fraction, onset_quarter: Fraction, until_quarter: Fraction
               ) -> bool:
        """Does a short melody note pass over a key of the base that was down before it?"""
        return (key_quarter < onset_quarter
                and until_quarter - onset_quarter < _PASSING_QUARTER)

    def among(self, midis: Collection[int], melody_midi: int, homes: Collection[int] = ()) -> bool:
        """Does any of some keys rub a melody note?"""
        for midi in midis:
            if (midi - melody_midi) % 12 in _RUBBING and self.breaks(midi, melody_midi, homes):
                return True
        return False

    def findings(self, passage: Passage) -> Iterator[Finding]:
        others = Nearby(note for note in passage.notes if note.role != "melody")
        found = []
        for span in passage.sounding:
            for note in others.within(span.onset_quarter, span.until_quarter):
                if (self.breaks(note.midi, span.midi)
                        and not (note.role == "base" and self.passes(
                            note.onset_quarter, span.onset_quarter, span.until_quarter))):
                    place = max(note.onset_quarter, span.onset_quarter)
                    until = min(note.end_quarter, span.until_quarter)
                    if self.breaks(note.midi, span.midi, passage.chords.homes(place, until)):
                        found.append(self.found(
                            place, f"{name_of(note.midi)} rubs the melody's"
                            f" {name_of(span.midi)}", (note.midi, span.midi)))
        yield from sorted(found, key=lambda finding: (finding.onset_quarter, finding.midis))


class MinorNinth(Rule):
    """No minor ninth inside a voicing, in any octave, but for a flat nine over its root.

    A voicing is what is struck together, and what a chord is struck over; single notes of a
    line over a held chord pass by. A half step inside a voicing (the seventh next to the root,
    the fifth next to the flat sixth) is colour. The melody's own notes are a matter of `RUB`.
    """

    __slots__ = ()
    name: ClassVar[str] = "minor ninths"
    asks: ClassVar[str] = "no minor ninth but a flat nine where its chord is at home with it"
    why: ClassVar[str] = "it is the harshest interval of a voicing and hides the chord"
    remedy: ClassVar[str] = "turn it round into a major seventh, or leave out one of the two"

    def tried(self, passage: Passage) -> int:
        return len(passage.moments)

    def breaks(self, low_midi: int, high_midi: int, homes: Collection[int] = ()) -> bool:
        """homes   pitch classes over which a flat nine is at home

        >>> MINOR_NINTH.breaks(60, 73), MINOR_NINTH.breaks(60, 61), MINOR_NINTH.breaks(60, 73, (0,))
        (True, False, False)
        """
        step = high_midi - low_midi
        return step > 1 and step % 12 == 1 and low_midi % 12 not in homes

    def among(self, midis: Collection[int], homes: Collection[int] = ()) -> bool:
        """Does any pair of some keys break the rule?"""
        keys = sorted(set(midis))
        for place, low in enumerate(keys):
            for high in keys[place + 1:]:
                if (high - low) % 12 == 1 and high - low > 1 and low % 12 not in homes:
                    return True
        return False

    def findings(self, passage: Passage) -> Iterator[Finding]:
        for moment in passage.moments:
            onset = moment.onset_quarter
            for low, high in _voiced_pairs(moment.down, moment.struck):
                if self.breaks(low.midi, high.midi) and self.breaks(
                        low.midi, high.midi, passage.chords.homes(
                            onset, min(low.end_quarter, high.end_quarter))):
                    yield self.found(onset, f"{name_of(low.midi)} and {name_of(high.midi)} make"
                                     " a minor ninth", (low.midi, high.midi))


def _voiced_pairs(down: Sequence[HandNote], struck: Sequence[HandNote]
                  ) -> Iterator[tuple[HandNote, HandNote]]:
    """Pairs of keys of one voicing: struck together, or struck in a chord over what is down."""
    new = {note for note in struck if note.role != "melody"}
    thick = {hand for hand in ("left", "right") if sum(note.hand == hand for note in new) > 1}
    for low, high in combinations([note for note in down if note.role != "melody"], 2):
        fresh = [note for note in (low, high) if note in new]
        if len(fresh) == 2 or any(note.hand in thick for note in fresh):
            yield low, high


class Hole(Rule):
    """No hole of more than two octaves between the hands where both strike chords."""

    __slots__ = ()
    name: ClassVar[str] = "holes"
    asks: ClassVar[str] = "no hole of more than two octaves between two chords"
    why: ClassVar[str] = "the hands are heard as two instruments, the middle sounds empty"
    remedy: ClassVar[str] = "move the left hand up or the right hand down"

    WIDEST: ClassVar[int] = 24
    """Semitones between the hands up to which the middle does not sound empty."""

    WIDEST_INSIDE: ClassVar[int] = 21
    """Semitones between neighbouring keys that sound together, up to which nothing is missing
    in a fill: two octaves, less a little."""

    def tried(self, passage: Passage) -> int:
        return sum(len(s.struck) > 1 for s in passage.hand_moments)

    def breaks(self, low_midi: int, high_midi: int) -> bool:
        """Is the middle empty between the left hand's top and the right hand's bottom key?"""
        return high_midi - low_midi > self.WIDEST

    def empty(self, low_midi: int, high_midi: int) -> bool:
        """Is there a hole between two neighbouring keys of a fill?

        >>> HOLE.empty(41, 62), HOLE.empty(41, 63)
        (False, True)
        """
        return high_midi - low_midi > self.WIDEST_INSIDE

    def findings(self, passage: Passage) -> Iterator[Finding]:
        for moment in passage.moments:
            left, right = moment.of("left")[0], moment.of("right")[0]
            if len(left) > 1 and len(right) > 1 and self.breaks(left[-1].midi, right[0].midi):
                yield self.found(moment.onset_quarter, "more than two octaves lie between the"
                                 " hands", (left[-1].midi, right[0].midi))


MUD, RUB, MINOR_NINTH, HOLE = Mud(), Rub(), MinorNinth(), Hole()
