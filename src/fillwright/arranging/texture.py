"""One stretch between two fills; and the held note that opens a fill."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from fillwright.arranging.base import Stretch, left_hand
from fillwright.arranging.under import under_melody
from fillwright.fills.draft import DraftNote
from fillwright.fills.model import Fill
from fillwright.fills.player import player_of
from fillwright.hands.model import HandNote
from fillwright.hands.parts import finger_part
from fillwright.tune.model import Chorus, SoundingNote

__all__ = ["held_note", "stretch_notes"]


def held_note(fill: Fill, held: SoundingNote) -> HandNote:
    """The melody note that opens a filled gap, as long as its key is down."""
    end = fill.held_end.key_until(held.onset_quarter, (
        n.onset_quarter for n in fill.notes if n.hand == "right"))
    return HandNote(held.onset_quarter, end - held.onset_quarter, held.pitch, "right",
                    None, "melody")


def stretch_notes(chorus: Chorus, start: Fraction, end: Fraction,
                  melody: Sequence[SoundingNote], before: Fill | None, after: Fill | None,
                  held: SoundingNote | None, *, level: str, hand: str,
                  second_quarter: Fraction | None = None) -> list[HandNote]:
    """Melody and base notes from one fill to the next, not yet fingered.

    held             the melody note that opens the next fill: the right hand is on its way
    second_quarter   where a second, fuller chorus begins
    """
    if start >= end and not melody:
        return []
    resume = start
    if before is not None and before.over_quarter > 0:
        resume = min(resume_quarter(chorus, start, before.over_quarter), end)
    leaving, coming = _last_struck(before, "left"), _last_struck(after, "left", first=True)
    until = _last_beat(chorus, resume, end)
    stretch = Stretch(resume, until, _keys(leaving), _keys(coming),
                      leaving[0].onset_quarter if leaving else None,
                      coming[0].onset_quarter if coming else None)
    player = player_of(level, hand)
    fuller = second_quarter is not None and start >= second_quarter
    ringing = [] if before is None else [
        DraftNote(start, n.end_quarter - start, n.pitch, "left")
        for n in before.notes if n.hand == "left" and n.end_quarter > start]
    left: list[DraftNote] = []
    under: list[DraftNote] = []
    for alone in (False, True):  # the left hand alone where the right cannot help it
        fixed: list[DraftNote] = []
        if resume < until:
            left, fixed = left_hand(chorus, stretch, melody, player=player,
                                    fuller=fuller, alone=alone)
        under = [n for n in under_melody(chorus, melody, [*ringing, *left],
                                         player=player, fuller=fuller, fixed=fixed)
                 if n.onset_quarter >= start]
        if _playable(chorus, melody, under, before, held, hand):
            break
        if not fixed:
            under = []
            break
    notes = [HandNote(n.onset_quarter, n.duration_quarter, n.pitch, n.hand, None, "base")
             for n in (*left, *under)]
    notes += [HandNote(n.onset_quarter, n.duration_quarter, n.pitch, "right", None, "melody")
              for n in melody]
    return notes


def _last_beat(chorus: Chorus, start: Fraction, end: Fraction) -> Fraction:
    """Where the left hand lets go before a fill that begins between two beats.

    On the beat before, so that the fill's first stroke is heard and no tie leads into it; but
    not where a chord begins after that beat, nor where less than a beat would be left.
    """
    if end >= chorus.length_quarter:
        return end
    beat = chorus.bar_at(end).meter.beat_quarter
    floor = end - (chorus.beat_in_bar(end) % 1) * beat
    if floor - start < beat or any(floor <= span.onset_quarter < end for span in chorus.chords):
        return end
    return floor


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


def _keys(notes: Sequence[HandNote]) -> tuple[int, ...]:
    return tuple(sorted(n.midi for n in notes))


def _part(note: SoundingNote | DraftNote | HandNote) -> tuple[Fraction, Fraction, int]:
    return (note.onset_quarter, note.duration_quarter, note.pitch.midi)


def _playable(chorus: Chorus, melody: Sequence[SoundingNote], under: Sequence[DraftNote],
              before: Fill | None, held: SoundingNote | None, hand: str) -> bool:
    """Whether the right hand gets from the fill before through the stretch to the next."""
    part = [_part(n) for n in melody] + [_part(n) for n in under]
    part += [_part(n) for n in _last_struck(before, "right")]
    if held is not None:
        part.append(_part(held))
    return finger_part(part, "right", hand, chorus.seconds_per_quarter) is not None
