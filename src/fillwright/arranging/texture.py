"""One stretch between two fills; and the held note that opens a fill."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace

from fillwright.arranging.base import Help, Stretch, left_hand, passed_until, untold
from fillwright.arranging.textures import BasePlan
from fillwright.arranging.under import under_melody
from fillwright.arranging.weigh import Neighbour
from fillwright.exact import Fraction
from fillwright.fills.draft import DraftNote
from fillwright.fills.model import Fill
from fillwright.hands.model import HandNote
from fillwright.hands.parts import finger_part
from fillwright.tune.model import ChordSpan, Chorus, SoundingNote

__all__ = ["Between", "held_note", "stretch_notes"]

_MOST_ROUNDS = 4
"""How often the hands share out a stretch anew."""

_NEAR_NOTES = 2
"""So many melody notes on either side tell whether the right hand reaches a chord."""


def held_note(fill: Fill, held: SoundingNote) -> HandNote:
    """The melody note that opens a filled gap, as long as its key is down."""
    end = fill.held_end.key_until(held.onset_quarter, (
        n.onset_quarter for n in fill.notes if n.hand == "right"))
    return HandNote(held.onset_quarter, end - held.onset_quarter, held.pitch, "right",
                    None, "melody")


@dataclass(frozen=True, slots=True)
class Between:
    """What lies between two fills.

    melody   the notes that begin there, as they are played
    held     the melody note that opens the fill after: the right hand is on its way
    """

    onset_quarter: Fraction
    end_quarter: Fraction
    melody: Sequence[SoundingNote]
    before: Fill | None = None
    after: Fill | None = None
    held: SoundingNote | None = None


def stretch_notes(plan: BasePlan, between: Between) -> list[HandNote]:
    """Melody and base notes from one fill to the next, not yet fingered."""
    if between.onset_quarter >= between.end_quarter and not between.melody:
        return []
    notes = [HandNote(n.onset_quarter, n.duration_quarter, n.pitch, n.hand, None, "base")
             for n in _base(plan, between)]
    notes += [HandNote(n.onset_quarter, n.duration_quarter, n.pitch, "right", None, "melody")
              for n in between.melody]
    return notes


def _base(plan: BasePlan, between: Between) -> list[DraftNote]:
    """The base's notes, with as much help from the right hand as it can give.

    The right hand is asked to share textures and to tell what the left hand leaves out; where
    it cannot, the left hand does without it.
    """
    start, melody, fill = between.onset_quarter, between.melody, between.before
    stretch = _stretch(plan.chorus, between)
    since = max(start, passed_until(plan.chorus, stretch))
    ringing = [] if fill is None else [
        DraftNote(start, n.end_quarter - start, n.pitch, "left")
        for n in fill.notes if n.hand == "left" and n.end_quarter > start]
    help = Help()
    left: list[DraftNote] = []
    under: list[DraftNote] = []
    for _ in range(_MOST_ROUNDS):
        fixed: list[DraftNote] = []
        if stretch.onset_quarter < stretch.end_quarter:
            left, fixed = left_hand(plan, stretch, melody, help)
        under = [n for n in under_melody(plan, melody, [*ringing, *left], fixed)
                 if n.onset_quarter >= since]
        if not _playable(plan, between, under):
            struck = {n.onset_quarter for n in under}
            under = _reached(plan, between, under)
            lost = struck - {n.onset_quarter for n in under}
            if help.shares and any(n.onset_quarter in lost for n in fixed):
                help = replace(help, shares=False)
                continue
        bare = untold(plan, stretch, melody, [*left, *under]) - help.without
        if not bare or not help.tells:
            break
        help = replace(help, without=help.without | bare)
    return [*left, *under]


def _stretch(chorus: Chorus, between: Between) -> Stretch:
    """The left hand's part of it: from where it comes in again to where it lets go."""
    resume, before = between.onset_quarter, between.before
    if before is not None and before.over_quarter > 0:
        resume = min(resume_quarter(chorus, resume, before.over_quarter), between.end_quarter)
    return Stretch(resume, _last_beat(chorus, resume, between.end_quarter),
                   _neighbour(_last_struck(before, "left")),
                   _neighbour(_last_struck(between.after, "left", first=True)),
                   before is not None and before.chords[-1].added)


def _last_beat(chorus: Chorus, start: Fraction, end: Fraction) -> Fraction:
    """Where the left hand lets go before a fill that begins between two beats.

    On the beat before, so that the fill's first stroke is heard and no tie leads into it; but
    not where a chord begins after that beat, nor where less than a beat would be left.
    """
    if end >= chorus.length_quarter:
        return end
    beat = chorus.bar_at(end).meter.beat_quarter
    floor = end - (chorus.beat_in_bar(end) % 1) * beat
    at = bisect_left(chorus.chords, floor, key=_onset)
    begins = at < len(chorus.chords) and chorus.chords[at].onset_quarter < end
    if floor - start < beat or begins:
        return end
    return floor


def resume_quarter(chorus: Chorus, start: Fraction, over: Fraction) -> Fraction:
    """Where the left hand comes in again after a push that rings past the landing.

    The chord was struck early and is not struck again: the hand waits for the next chord, the
    middle of a bar of four beats, the second beat of one of three, or the next bar (common
    practice).
    """
    bar = chorus.bar_at(start)
    coming = bisect_left(chorus.chords, start + over, key=_onset)
    places = [bar.end_quarter, *(span.onset_quarter for span in chorus.chords[coming:coming + 1])]
    if bar.length_quarter == 4 * bar.meter.beat_quarter:
        places.append(bar.onset_quarter + 2 * bar.meter.beat_quarter)
    if bar.length_quarter == 3 * bar.meter.beat_quarter:
        places.append(bar.onset_quarter + bar.meter.beat_quarter)
    return min((p for p in places if p > start and p >= start + over),
               default=chorus.length_quarter)


def _onset(span: ChordSpan) -> Fraction:
    return span.onset_quarter


def _last_struck(fill: Fill | None, hand: str, first: bool = False) -> list[HandNote]:
    if fill is None:
        return []
    own = [n for n in fill.notes if n.hand == hand]
    if not own:
        return []
    onset = (min if first else max)(n.onset_quarter for n in own)
    return [n for n in own if n.onset_quarter == onset]


def _neighbour(notes: Sequence[HandNote]) -> Neighbour | None:
    if not notes:
        return None
    return Neighbour(tuple(sorted(n.midi for n in notes)), notes[0].onset_quarter)


def _part(note: SoundingNote | DraftNote | HandNote) -> tuple[Fraction, Fraction, int]:
    return (note.onset_quarter, note.duration_quarter, note.pitch.midi)


def _reached(plan: BasePlan, between: Between, under: Sequence[DraftNote]) -> list[DraftNote]:
    """What of the right hand's harmony notes is within its reach, note by note of the melody; none
    where the hand would get through the whole without them only."""
    chords: dict[Fraction, list[DraftNote]] = {}
    for draft in under:
        chords.setdefault(draft.onset_quarter, []).append(draft)
    kept: dict[Fraction, list[DraftNote]] = {}
    melody = between.melody
    for place, note in enumerate(melody):
        if note.onset_quarter not in chords:
            continue
        near = melody[max(place - _NEAR_NOTES, 0):place + _NEAR_NOTES + 1]
        part = Between(between.onset_quarter, between.end_quarter, near,
                       between.before if place <= _NEAR_NOTES else None, None,
                       between.held if place + _NEAR_NOTES >= len(melody) else None)
        own = chords[note.onset_quarter]
        for row in (own, _let_go_at(own, note.end_quarter)):
            kept[note.onset_quarter] = row
            if _playable(plan, part, [n for other in near
                                      for n in kept.get(other.onset_quarter, ())]):
                break
            del kept[note.onset_quarter]
    found = [n for row in kept.values() for n in row]
    return found if _playable(plan, between, found) or not _playable(plan, between, ()) else []


def _let_go_at(notes: Sequence[DraftNote], end: Fraction) -> list[DraftNote]:
    """Notes that do not sound beyond a place."""
    return [replace(n, duration_quarter=min(n.end_quarter, end) - n.onset_quarter) for n in notes]


def _playable(plan: BasePlan, between: Between, under: Sequence[DraftNote]) -> bool:
    """Whether the right hand gets from the fill before through the stretch to the next."""
    part = [_part(n) for n in between.melody] + [_part(n) for n in under]
    part += [_part(n) for n in _last_struck(between.before, "right")]
    if between.held is not None:
        part.append(_part(between.held))
    return finger_part(part, "right", plan.player.hand.name,
                       plan.chorus.seconds_per_quarter) is not None
