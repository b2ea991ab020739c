"""One stretch between two fills, fingered; and the held note that opens a fill."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from fillwright.arrange.base import BaseNote, Stretch, left_hand
from fillwright.arrange.under import under_melody
from fillwright.fills.model import Fill
from fillwright.hands.model import HandNote
from fillwright.hands.parts import finger_part
from fillwright.tune.model import Chorus, SoundingNote

__all__ = ["held_note", "stretch_notes"]

_PartNote = tuple[Fraction, Fraction, int]


def held_note(fill: Fill, held: SoundingNote) -> HandNote:
    """The melody note that opens a filled gap, as long as its key is down.

    Kept by the pedal, the key is let go where the right hand plays its next note; the
    sound goes on until `fill.melody_until_quarter`.
    """
    end = fill.melody_until_quarter
    if fill.melody_kept == "pedal":
        later = [n.onset_quarter for n in fill.notes
                 if n.hand == "right" and n.onset_quarter > held.onset_quarter]
        end = min([end, *later])
    return HandNote(held.onset_quarter, end - held.onset_quarter, held.pitch, "right",
                    fill.melody_finger or 5, "melody")


def stretch_notes(chorus: Chorus, start: Fraction, end: Fraction,
                  melody: Sequence[SoundingNote], before: Fill | None, after: Fill | None,
                  held: SoundingNote | None, *, level: str, hand: str,
                  second_quarter: Fraction | None = None) -> list[HandNote]:
    """Melody and base notes from one fill to the next, both hands fingered.

    held             the melody note that opens the next fill: the right hand is on its way
    second_quarter   where a second, fuller chorus begins
    """
    if start >= end and not melody:
        return []
    resume = start
    if before is not None and before.over_quarter > 0:
        resume = min(resume_quarter(chorus, start, before.over_quarter), end)
    stretch = Stretch(resume, end, _last_keys(before), _first_keys(after))
    fuller = second_quarter is not None and start >= second_quarter
    left = [] if resume >= end else left_hand(chorus, stretch, melody, level=level, hand=hand,
                                              fuller=fuller)
    ringing = [] if before is None else [
        BaseNote(start, n.end_quarter - start, n.pitch, "left")
        for n in before.notes if n.hand == "left" and n.end_quarter > start]
    under = [n for n in under_melody(chorus, melody, [*ringing, *left], level=level, hand=hand,
                                     fuller=fuller)
             if n.onset_quarter >= start]
    notes = [HandNote(n.onset_quarter, n.duration_quarter, n.pitch, "left", finger, "base")
             for n, finger in zip(left, _left_fingers(chorus, left, before, after, hand),
                                  strict=True)]
    fingers = _right_fingers(chorus, melody, under, before, after, held, hand)
    if fingers is None:
        under = []
        fingers = _right_fingers(chorus, melody, under, before, after, held, hand)
        if fingers is None:
            fingers = _piecewise([_part(n) for n in melody], "right", hand,
                                 chorus.seconds_per_quarter)
    for note, finger in zip(melody, fingers, strict=False):
        notes.append(HandNote(note.onset_quarter, note.duration_quarter, note.pitch, "right",
                              finger, "melody"))
    for harmony, finger in zip(under, fingers[len(melody):], strict=True):
        notes.append(HandNote(harmony.onset_quarter, harmony.duration_quarter, harmony.pitch,
                              "right", finger, "base"))
    return notes


def resume_quarter(chorus: Chorus, start: Fraction, over: Fraction) -> Fraction:
    """Where the left hand comes in again after a push that rings past the landing.

    The chord was struck early and is not struck again: the hand waits for the next chord, the
    middle of a bar of four beats, or the next bar (common practice).
    """
    bar = chorus.bar_at(start)
    places = [bar.end_quarter, *(span.onset_quarter for span in chorus.chords)]
    if bar.length_quarter == 4 * bar.meter.beat_quarter:
        places.append(bar.onset_quarter + 2 * bar.meter.beat_quarter)
    return min((p for p in places if p > start and p >= start + over),
               default=chorus.length_quarter)


def _last_struck(fill: Fill | None, hand: str, first: bool = False) -> list[HandNote]:
    if fill is None:
        return []
    own = [n for n in fill.notes if n.hand == hand]
    if not own:
        return []
    onset = (min if first else max)(n.onset_quarter for n in own)
    return [n for n in own if n.onset_quarter == onset]


def _last_keys(fill: Fill | None) -> tuple[int, ...]:
    return tuple(sorted(n.midi for n in _last_struck(fill, "left")))


def _first_keys(fill: Fill | None) -> tuple[int, ...]:
    return tuple(sorted(n.midi for n in _last_struck(fill, "left", first=True)))


def _part(note: SoundingNote | BaseNote | HandNote) -> _PartNote:
    return (note.onset_quarter, note.duration_quarter, note.pitch.midi)


def _left_fingers(chorus: Chorus, left: Sequence[BaseNote], before: Fill | None,
                  after: Fill | None, hand: str) -> tuple[int, ...]:
    own = [_part(n) for n in left]
    edges = _last_struck(before, "left") + _last_struck(after, "left", first=True)
    fixed = {len(own) + i: n.finger for i, n in enumerate(edges) if n.finger is not None}
    found = finger_part([*own, *(_part(n) for n in edges)], "left", hand,
                        chorus.seconds_per_quarter, fixed)
    if found is not None:
        return found[:len(own)]
    return _piecewise(own, "left", hand, chorus.seconds_per_quarter)


def _right_fingers(chorus: Chorus, melody: Sequence[SoundingNote], under: Sequence[BaseNote],
                   before: Fill | None, after: Fill | None, held: SoundingNote | None, hand: str
                   ) -> tuple[int, ...] | None:
    """Fingers of melody and harmony notes, melody first; None where there are none."""
    own = [_part(n) for n in melody] + [_part(n) for n in under]
    edges: list[tuple[_PartNote, int | None]] = [
        (_part(n), n.finger) for n in _last_struck(before, "right")]
    if held is not None:
        edges.append((_part(held), None if after is None else after.melody_finger))
    fixed = {len(own) + i: finger for i, (_, finger) in enumerate(edges)
             if finger is not None}
    found = finger_part([*own, *(part for part, _ in edges)], "right", hand,
                        chorus.seconds_per_quarter, fixed)
    return None if found is None else found[:len(own)]


def _piecewise(part: Sequence[_PartNote], hand: str, size: str, seconds_per_quarter: float
               ) -> tuple[int, ...]:
    """Fingers for a part with a jump no hand makes in time, as written tunes may have: the
    part is cut there and fingered in pieces."""
    found = finger_part(part, hand, size, seconds_per_quarter)
    if found is not None:
        return found
    onsets = sorted({note[0] for note in part})
    if len(onsets) < 2:
        raise AssertionError(f"one stroke of the {hand} hand cannot be fingered: {part}")
    cut = onsets[len(onsets) // 2]
    early = [i for i, note in enumerate(part) if note[0] < cut]
    late = [i for i, note in enumerate(part) if note[0] >= cut]
    fingers = dict(zip(early, _piecewise([part[i] for i in early], hand, size,
                                         seconds_per_quarter), strict=True))
    fingers |= zip(late, _piecewise([part[i] for i in late], hand, size, seconds_per_quarter),
                   strict=True)
    return tuple(fingers[i] for i in range(len(part)))
