"""What a melody note that still sounds asks of the chords under it.

Common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from typing import ClassVar

from fillwright.rules.chords import PUSH_QUARTER, HeardChord
from fillwright.rules.model import Finding, MelodySpan, Passage, Rule, name_of
from fillwright.theory.harmony import Harmony

__all__ = ["AVOID", "Avoid", "under_its_root"]


class Avoid(Rule):
    """A melody note that sounds over an added chord is a chord tone or a tension of it, never a
    note to be avoided. (Over the chords of the sheet it is the composer's matter.)

    A note pushed ahead of the next chord belongs to that one.
    """

    __slots__ = ()
    name: ClassVar[str] = "avoid notes"
    asks: ClassVar[str] = "an added chord takes the melody note that sounds over it"
    why: ClassVar[str] = "the melody sounds like a wrong note"
    remedy: ClassVar[str] = "take another chord, or let the melody note go before it"

    def applies(self, passage: Passage) -> bool:
        return any(chord.added for chord in passage.chords.heard)

    def tried(self, passage: Passage) -> int:
        return sum(chord.added for chord in passage.chords.heard)

    def breaks(self, harmony: Harmony, melody_midi: int) -> bool:
        return not harmony.takes(melody_midi % 12)

    def findings(self, passage: Passage) -> Iterator[Finding]:
        for chord in passage.chords.heard:
            if not chord.added or chord.harmony is None:
                continue
            for span in passage.sounding:
                if _sounds_over(span, chord) and self.breaks(chord.harmony, span.midi):
                    yield self.found(
                        max(chord.onset_quarter, span.onset_quarter), f"the melody's"
                        f" {name_of(span.midi)} is foreign to {chord.symbol.pretty}",
                        (span.midi,))


def _sounds_over(span: MelodySpan, chord: HeardChord) -> bool:
    if not (span.onset_quarter < chord.end_quarter and span.until_quarter > chord.onset_quarter):
        return False
    pushed = (span.until_quarter > chord.end_quarter
              and span.onset_quarter >= chord.end_quarter - PUSH_QUARTER)
    return not pushed


def under_its_root(harmony: Harmony, melody_midi: int | None) -> Harmony:
    """The chord to play under a melody note that sounds, None where none does.

    Under its own root a major seventh would rub (`sound.RUB`): the sixth stands in for it.
    """
    if (melody_midi is None or "7" not in harmony.tones
            or melody_midi % 12 != harmony.root.pitch_class):
        return harmony
    return _with_sixth(harmony)


@lru_cache(maxsize=1024)
def _with_sixth(harmony: Harmony) -> Harmony:
    tones = tuple("6" if d == "7" else d for d in harmony.tones)
    return replace(harmony, tones=tones,
                   tensions=tuple(d for d in harmony.tensions if d not in ("13", "7")))


AVOID = Avoid()
