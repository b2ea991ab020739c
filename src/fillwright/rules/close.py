"""Keys that stand too close in a chord: low seconds and clusters, and half steps that hide what the
chord lives by.

They are asked of single chords, by the searches that look for them: a texture or a line may pass
through such keys. Common practice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from types import MappingProxyType
from typing import ClassVar

from fillwright.memory import VOICINGS
from fillwright.rules.chords import HeardChord
from fillwright.rules.model import Finding, Passage, Rule, names_of
from fillwright.theory.harmony import Harmony

__all__ = ["CROWDED", "HARSH", "Crowded", "Harsh"]

_CLUSTER_KEYS, _CLUSTER_SPAN, _CLUSTER_BELOW = 3, 4, 57
"""Three keys within a third are a cluster below A3, where they blur."""

_SECOND_BELOW = MappingProxyType({1: 57, 2: 51})
"""Below A3 a half step is mud, below E flat 3 a whole step."""


class _OfAChord(Rule):
    """What is asked of the keys of a chord that are struck together."""

    __slots__ = ()

    def applies(self, passage: Passage) -> bool:
        return any(chord.harmony is not None for chord in passage.chords.heard)

    def tried(self, passage: Passage) -> int:
        return sum(1 for _ in _chords(passage))

    def findings(self, passage: Passage) -> Iterator[Finding]:
        for chord, midis in _chords(passage):
            if chord.harmony is not None and self.wrong(midis, chord.harmony):
                yield self.found(chord.onset_quarter, f"{names_of(midis)} stand too close",
                                 midis)

    def wrong(self, midis: Sequence[int], harmony: Harmony) -> bool:
        """Whether ascending keys break the rule over a chord."""
        raise NotImplementedError


class Crowded(_OfAChord):
    """No low second, no cluster below A3, no half step beside the root (a flat nine right on it,
    a major seventh right under its double), no sharp nine right under the third."""

    __slots__ = ()
    name: ClassVar[str] = "crowded keys"
    asks: ClassVar[str] = "no low seconds and clusters, no half step beside the root"
    why: ClassVar[str] = "the ear hears a blur, and not the chord"
    remedy: ClassVar[str] = "open it, or leave out one of the two"

    def breaks(self, midis: Sequence[int], root: int, third: int | None) -> bool:
        """midis         ascending
        root, third   pitch classes of the root, and of the major third or None

        >>> CROWDED.breaks((47, 56, 65, 70, 71, 74), 11, None)
        True
        >>> CROWDED.breaks((47, 56, 65, 69, 74), 11, None)
        False
        """
        for low, high in pairwise(midis):
            if low < _SECOND_BELOW.get(high - low, 0):
                return True
            if high - low == 1 and (root in (low % 12, high % 12) or high % 12 == third):
                return True
        return any(high - low <= _CLUSTER_SPAN and low < _CLUSTER_BELOW
                   for low, high in zip(midis, midis[_CLUSTER_KEYS - 1:], strict=False))

    def wrong(self, midis: Sequence[int], harmony: Harmony) -> bool:
        root = harmony.root.pitch_class
        return self.breaks(midis, root, (root + 4) % 12 if harmony.third == "3" else None)


class Harsh(_OfAChord):
    """No sharp nine a half step under the third, no flat nine a half step above the root.

    The first belongs above the third, the second an octave and more above the root; the form
    b7-#9-3-b13 of the books is heard so, but a page of it rubs.
    """

    __slots__ = ()
    name: ClassVar[str] = "harsh half steps"
    asks: ClassVar[str] = "an altered ninth does not stand a half step beside root or third"
    why: ClassVar[str] = "the altered note is heard as a wrong one"
    remedy: ClassVar[str] = "set the ninth an octave higher"

    def wrong(self, midis: Sequence[int], harmony: Harmony) -> bool:
        bad = harsh_classes(harmony)
        return any(b - a == 1 and b % 12 in bad for a, b in pairwise(midis))

    def classes(self, harmony: Harmony) -> frozenset[int]:
        """The pitch classes that sound harsh a half step above another key."""
        return harsh_classes(harmony)


@VOICINGS.keep
def harsh_classes(harmony: Harmony) -> frozenset[int]:
    """See `Harsh.classes`."""
    root = harmony.root.pitch_class
    bad = {1} if "b9" in harmony.tensions + harmony.symbol.degrees else set()
    if "3" in harmony.tones:
        bad.add(4)
    return frozenset((root + step) % 12 for step in bad)


def _chords(passage: Passage) -> Iterator[tuple[HeardChord, tuple[int, ...]]]:
    """The heard chords with the keys that are struck where they begin, but the melody's."""
    for chord in passage.chords.heard:
        midis = sorted({note.midi for note in passage.notes if note.role != "melody"
                        and note.onset_quarter == chord.onset_quarter})
        if len(midis) > 1:
            yield chord, tuple(midis)


CROWDED, HARSH = Crowded(), Harsh()
