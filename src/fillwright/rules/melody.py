"""The melody is heard first, stays on top, keeps its sound, and is back in time.

Common practice of solo piano, but where a source is named.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.rules.model import Finding, MelodySpan, Passage, Rule, name_of
from fillwright.rules.nearby import Nearby

__all__ = ["COVERED", "HEARD_FIRST", "LANDING", "MELODY", "PEDALLED", "Covered", "HeardFirst",
           "Landing", "Melody", "Pedalled", "alone_quarter"]

HEARD_SECONDS = 0.10
"""A melody key is held at least so long before the hand leaves it (the fastest subdivision
that is heard as such: London, Hearing in Time, 2004)."""


_ALONE_SECONDS = 0.3
"""A shorter time is not enough to hear a held melody note by itself."""


def alone_quarter(beat_quarter: Fraction, seconds_per_quarter: float) -> Fraction:
    """How long a held melody note is left alone: a felt beat, or two of them where one takes
    under 0.3 s.

    >>> alone_quarter(Fraction(1), 0.5), alone_quarter(Fraction(1), 0.25)
    (Fraction(1, 1), Fraction(2, 1))
    """
    least = float(beat_quarter) * seconds_per_quarter >= _ALONE_SECONDS
    return beat_quarter if least else 2 * beat_quarter


class Melody(Rule):
    """Every melody note is struck at its place and held long enough to be heard."""

    __slots__ = ()
    name: ClassVar[str] = "melody"
    asks: ClassVar[str] = "every melody note is struck and held until it is heard"
    why: ClassVar[str] = "without it the tune is not heard"
    remedy: ClassVar[str] = "strike the note, and hold it until it is heard"

    def applies(self, passage: Passage) -> bool:
        return passage.melody is not None

    def tried(self, passage: Passage) -> int:
        return len(passage.melody or ())

    def breaks(self, held_quarter: Fraction, written_quarter: Fraction,
               seconds_per_quarter: float) -> bool:
        """Is a key let go before its note is heard?"""
        least = min(float(written_quarter) * seconds_per_quarter, HEARD_SECONDS)
        return float(held_quarter) * seconds_per_quarter < least - 1e-9

    def findings(self, passage: Passage) -> Iterator[Finding]:
        found = []
        struck = {(note.onset_quarter, note.midi): note for note in passage.notes
                  if note.role == "melody"}
        for onset, duration, midi in passage.melody or ():
            played = struck.pop((onset, midi), None)
            if played is None:
                what = f"the melody's {name_of(midi)} is missing"
            elif self.breaks(played.duration_quarter, duration, passage.seconds_per_quarter):
                what = f"the melody's {name_of(midi)} is left before it is heard"
            else:
                continue
            found.append(self.found(onset, what, (midi,)))
        found += [self.found(onset, f"{name_of(midi)} is not in the melody", (midi,))
                  for onset, midi in struck]
        yield from sorted(found, key=lambda finding: (finding.onset_quarter, finding.midis))


def _beside_melody(passage: Passage) -> Nearby[HandNote]:
    return Nearby(note for note in passage.notes if note.role != "melody")


class HeardFirst(Rule):
    """A held melody note is left alone at first: until then only what the same hand can strike
    with it, or under it while its key is down, is struck there. The left hand is free."""

    __slots__ = ()
    name: ClassVar[str] = "heard first"
    asks: ClassVar[str] = "a held melody note is heard before the hand leaves it"
    why: ClassVar[str] = "the ear takes the next sound for the tune"
    remedy: ClassVar[str] = "begin a beat later"

    def applies(self, passage: Passage) -> bool:
        return any(span.alone_quarter for span in passage.sounding)

    def tried(self, passage: Passage) -> int:
        return sum(span.alone_quarter > 0 for span in passage.sounding)

    def breaks(self, note: HandNote, span: MelodySpan, key_end_quarter: Fraction) -> bool:
        since = note.onset_quarter - span.onset_quarter
        if note.hand != "right" or not 0 <= since < span.alone_quarter:
            return False
        return not (note.midi < span.midi
                    and (since == 0 or note.onset_quarter < key_end_quarter))

    def findings(self, passage: Passage) -> Iterator[Finding]:
        alone = [span for span in passage.sounding if span.alone_quarter]
        if not alone:
            return
        ends = {(note.onset_quarter, note.midi): note.end_quarter for note in passage.notes
                if note.role == "melody"}
        near = _beside_melody(passage)
        for span in alone:
            end = ends.get((span.onset_quarter, span.midi), span.onset_quarter)
            for note in near.within(span.onset_quarter, span.onset_quarter
                                      + span.alone_quarter):
                if self.breaks(note, span, end):
                    yield self.found(note.onset_quarter, f"{name_of(note.midi)} comes before the"
                                     f" melody's {name_of(span.midi)} was heard",
                                     (note.midi, span.midi))


class Covered(Rule):
    """The melody is on top: nothing is struck or rings above it where it is struck; while its
    key is down its hand strikes nothing above it; and the left hand stays below it, and nobody
    takes its key, as long as it sounds."""

    __slots__ = ()
    name: ClassVar[str] = "covered"
    asks: ClassVar[str] = "the melody is on top"
    why: ClassVar[str] = "what is heard on top is taken for the tune"
    remedy: ClassVar[str] = "keep the melody on top"

    def applies(self, passage: Passage) -> bool:
        return passage.melody is not None  # else the top line is taken for it

    def tried(self, passage: Passage) -> int:
        return len(passage.sounding)

    def breaks(self, note: HandNote, span: MelodySpan, key_end_quarter: Fraction) -> bool:
        """Does another key cover a melody note whose own key is down until `key_end_quarter`?"""
        if (note.midi < span.midi or note.onset_quarter >= span.until_quarter
                or note.end_quarter <= span.onset_quarter):
            return False
        return (note.midi == span.midi or note.hand == "left"
                or note.onset_quarter <= span.onset_quarter
                or note.onset_quarter < key_end_quarter)

    def findings(self, passage: Passage) -> Iterator[Finding]:
        ends = {(note.onset_quarter, note.midi): note.end_quarter for note in passage.notes
                if note.role == "melody"}
        near = _beside_melody(passage)
        found = []
        for span in passage.sounding:
            end = ends.get((span.onset_quarter, span.midi), span.until_quarter)
            for note in near.within(span.onset_quarter, span.until_quarter):
                if self.breaks(note, span, end):
                    found.append(self.found(
                        max(note.onset_quarter, span.onset_quarter), f"{name_of(note.midi)}"
                        f" covers the melody's {name_of(span.midi)}", (note.midi, span.midi)))
        yield from sorted(found, key=lambda finding: (finding.onset_quarter, finding.midis))


class Pedalled(Rule):
    """A melody note that the pedal keeps sounds no longer than the chord it began over, and
    nothing short is struck meanwhile: the pedal would smear both."""

    __slots__ = ()
    name: ClassVar[str] = "pedalled"
    asks: ClassVar[str] = "the pedal keeps no melody note through a new chord or a short hit"
    why: ClassVar[str] = "the pedal smears what should be heard apart"
    remedy: ClassVar[str] = "keep the note with a finger, or let it go"

    def applies(self, passage: Passage) -> bool:
        return any(span.by_pedal for span in passage.sounding)

    def tried(self, passage: Passage) -> int:
        return sum(span.by_pedal for span in passage.sounding)

    def breaks(self, note: HandNote, span: MelodySpan, beat_quarter: Fraction) -> bool:
        """Is a note a short hit in the pedal that keeps a melody note?"""
        return (span.onset_quarter < note.onset_quarter < span.until_quarter
                and note.duration_quarter < min(beat_quarter,
                                                span.until_quarter - note.onset_quarter))

    def findings(self, passage: Passage) -> Iterator[Finding]:
        near = _beside_melody(passage)
        for span in passage.sounding:
            if not span.by_pedal:
                continue
            for chord in passage.chords.over(span):
                if chord.onset_quarter > span.onset_quarter:
                    yield self.found(chord.onset_quarter, "the chord changes while the pedal"
                                     f" keeps the melody's {name_of(span.midi)}", (span.midi,))
            for note in near.within(span.onset_quarter, span.until_quarter):
                if self.breaks(note, span, passage.beat_quarter):
                    yield self.found(note.onset_quarter, f"{name_of(note.midi)} is short, and the"
                                     f" pedal keeps the melody's {name_of(span.midi)}",
                                     (note.midi, span.midi))


class Landing(Rule):
    """A fill stays in its gap: the right hand is free when the landing comes, and what the left
    hand lets ring ends within a beat, or with the added chord that leads on to the next change."""

    __slots__ = ()
    name: ClassVar[str] = "landing"
    asks: ClassVar[str] = "a fill is over when the melody comes back"
    why: ClassVar[str] = "the melody comes back late, or into what still sounds"
    remedy: ClassVar[str] = "let go earlier"

    def applies(self, passage: Passage) -> bool:
        return bool(passage.fill_spans)

    def tried(self, passage: Passage) -> int:
        return len(passage.fill_spans)

    def findings(self, passage: Passage) -> Iterator[Finding]:
        spans = {span.gap: span for span in passage.fill_spans}
        for note in passage.notes:
            span = None if note.gap is None or note.role != "fill" else spans.get(note.gap)
            if span is None:
                continue
            if not span.onset_quarter <= note.onset_quarter < span.landing_quarter:
                what = "lies outside its gap"
            elif note.hand == "right" and note.end_quarter > span.landing_quarter:
                what = "is held when the melody comes back"
            elif note.end_quarter > span.ring_quarter:
                what = "rings too far"
            else:
                continue
            yield self.found(note.onset_quarter, f"{name_of(note.midi)} {what}", (note.midi,))


MELODY, HEARD_FIRST, COVERED = Melody(), HeardFirst(), Covered()
PEDALLED, LANDING = Pedalled(), Landing()
