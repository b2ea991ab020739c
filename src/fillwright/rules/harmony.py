"""What a melody note that still sounds asks of the chords under it, and what a chord asks of the
keys that rest on it.

Common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from typing import ClassVar

from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.rules.chords import PUSH_QUARTER, HeardChord
from fillwright.rules.model import Finding, MelodySpan, Passage, Rule, name_of
from fillwright.rules.sound import RUB
from fillwright.theory.chord import degree_number, degree_pitch_class
from fillwright.theory.harmony import Harmony

__all__ = ["AVOID", "FOREIGN", "Avoid", "Foreign", "under_its_root"]


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


_STEP = 2
"""Semitones of a whole step: by so much a foreign key may be left."""
_TONES = {1: "root", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh",
          9: "ninth", 11: "eleventh", 13: "thirteenth"}


class Foreign(Rule):
    """A key that rests is a chord tone or a tension, or stands no half step, in any octave, from
    the melody and the chord tones.

    It rests where it lasts a beat, or belongs to a chord of its hand, and no key a step away
    follows it. What is struck just ahead of a chord belongs to that one.
    """

    __slots__ = ()
    name: ClassVar[str] = "foreign tones"
    asks: ClassVar[str] = "a key that rests belongs to its chord, or leads on by step"
    why: ClassVar[str] = "resting there, it is easily heard as a slip"
    remedy: ClassVar[str] = "move it by a half step, or lead it by step into the next note"

    def applies(self, passage: Passage) -> bool:
        return any(chord.harmony is not None for chord in passage.chords.heard)

    def tried(self, passage: Passage) -> int:
        return sum(note.role != "melody" for note in passage.notes)

    def breaks(self, harmony: Harmony, midi: int) -> bool:
        """Is a key foreign to a chord that is heard?"""
        bass = harmony.symbol.bass
        return not harmony.takes(midi % 12) and (
            bass is None or bass.pitch_class != midi % 12)

    def findings(self, passage: Passage) -> Iterator[Finding]:
        for note in passage.notes:
            chord = _chord_of(note, passage)
            if (note.role == "melody" or chord is None or chord.harmony is None
                    or not self.breaks(chord.harmony, note.midi) or not _rests(note, passage)):
                continue
            meanwhile = [span for span in passage.sounding
                         if span.onset_quarter < note.end_quarter
                         and span.until_quarter > note.onset_quarter]
            if any(RUB.breaks(note.midi, span.midi) for span in meanwhile):
                continue        # that is said already
            near = _close_to(note.midi, meanwhile, chord.harmony)
            if near is not None:
                words, midis = near
                yield self.found(note.onset_quarter, f"{name_of(note.midi)} is foreign to"
                                 f" {chord.symbol.pretty}, {words}", (note.midi, *midis))


def _chord_of(note: HandNote, passage: Passage) -> HeardChord | None:
    """The chord that a key belongs to: the coming one where it is struck just ahead of it."""
    over = passage.chords.over(note)
    if len(over) > 1 and over[1].onset_quarter <= note.onset_quarter + PUSH_QUARTER:
        return over[1]
    return over[0] if over else None


def _rests(note: HandNote, passage: Passage) -> bool:
    same = [other for other in passage.notes
            if other.hand == note.hand and other.role != "melody" and other is not note]
    chord = any(other.onset_quarter == note.onset_quarter for other in same)
    if not chord and note.duration_quarter < passage.beat_quarter:
        return False
    later = sorted({other.onset_quarter for other in passage.notes
                    if other.onset_quarter > note.onset_quarter})
    until = note.end_quarter + passage.beat_quarter
    coming: Fraction | None = next((at for at in later if at >= note.end_quarter), None)
    places = {at for at in later if at < note.end_quarter} | (
        set() if coming is None or coming > until else {coming})
    return not any(0 < abs(other.midi - note.midi) <= _STEP for other in passage.notes
                   if other.onset_quarter in places)


def _close_to(midi: int, meanwhile: list[MelodySpan], harmony: Harmony
              ) -> tuple[str, tuple[int, ...]] | None:
    """Words for what a key stands a half step from, the melody first; the melody's key."""
    for span in meanwhile:
        if (midi - span.midi) % 12 in (1, 11):
            apart = {1: "a half step", 11: "a major seventh"}.get(
                abs(midi - span.midi), "a half step and octaves")
            return f"{apart} from the melody's {name_of(span.midi)}", (span.midi,)
    for degree in harmony.tones:
        apart_by = (harmony.symbol.relative(midi % 12) - degree_pitch_class(degree)) % 12
        if apart_by in (1, 11):
            return f"a half step from its {_TONES[degree_number(degree)]}", ()
    return None


AVOID, FOREIGN = Avoid(), Foreign()
