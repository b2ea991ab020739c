"""Where the chords after a written one lead, and when they get there.

A chord that comes back for a moment before the next one is no place to arrive at: the ear takes
the chord after it for the goal, and between the fills it is not struck either (see
`arranging.base.portions`). Added chords then lead past it, and their left hand rings on until
the goal comes, if the melody notes that sound before that belong to the last of them. Where it
would come back for half a bar, both are offered: to come home with the melody, and to aim past
it at the next real change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fillwright.exact import Fraction
from fillwright.fills.devices.reharm.function import LETTERS, plain_chord, sounds_as
from fillwright.fills.devices.reharm.place import Place
from fillwright.fills.situation import Printed, Task
from fillwright.hands.jumps import JUMP_SECONDS, jump_ok
from fillwright.rules.chords import flat_nine_homes
from fillwright.rules.sound import RUB
from fillwright.theory.harmony import Harmony
from fillwright.tune.model import SoundingNote

__all__ = ["Leaving", "leavings", "out_of_reach", "rung_until"]

_ARRIVAL_BEATS = 1
"""Felt beats that a chord of the sheet has to last on from a landing inside a bar, and more, to
be heard as what the chords before led to (common practice)."""

_PAST_BEATS = 2
"""So many felt beats past a landing inside a bar the chords may aim at the next change, the chord
of the sheet not coming back before it (common practice)."""

_MAJOR_THIRD = 4

_LEAP_SECONDS, _LEAP_SEMITONES = 1.0, 12
"""In less than this time the right hand goes no farther than this to the landing."""


@dataclass(frozen=True, slots=True)
class Leaving:
    """How a written chord is left.

    place          what lies around
    end_quarter    until when chords may be struck: the next written chord, or the landing
    goal_quarter   where the goal of `place` comes
    ring_quarter   until when the last added chord may sound
    home           it must come home inside the gap because nothing follows: the tune is over, or
                   no chord is printed there
    passing        the melody notes from the landing to the goal that the ear takes for notes of a
                   chord: the landing, and those that begin on a beat or last for one
    soon           it comes home with the melody, and the next real change is half a bar away
    """

    place: Place
    end_quarter: Fraction
    goal_quarter: Fraction
    ring_quarter: Fraction
    home: bool = False
    passing: tuple[SoundingNote, ...] = ()
    soon: bool = False

    def carries(self, last: Harmony) -> bool:
        """Whether a chord may sound on under the melody until the goal comes, neither of them
        giving the other's third the lie; a diminished one under its own tones alone."""
        if sounds_as(last) == "o" and not all(
                last.is_tone(note.pitch.pitch_class) for note in self.passing):
            return False
        third = last.root.pitch_class + _MAJOR_THIRD if last.third == "3" else None
        return all(last.takes(note.pitch.pitch_class)
                   and (third is None or (third - note.pitch.pitch_class) % 12 != 1)
                   for note in self.passing)


def leavings(situation: Task, index: int) -> tuple[Leaving, ...]:
    """How written chord `index` of a gap may be left, with what the tune itself has elsewhere
    between the same two chords."""
    return tuple(_with_own(situation, found) for found in _leavings(situation, index))


def _with_own(situation: Task, found: Leaving) -> Leaving:
    place = found.place
    own = frozenset((root, LETTERS[kind])
                    for root, kind in situation.habits.between(place.here, place.goal))
    return replace(found, place=replace(place, own=own)) if own else found


def _leavings(situation: Task, index: int) -> tuple[Leaving, ...]:
    spans = situation.spans
    here = spans[index].harmony
    before = spans[index - 1].harmony if index else next(
        (p.harmony for p in reversed(situation.before)
         if p.harmony is not None and p.harmony.symbol != here.symbol), None)
    home = situation.key
    last = situation.form.leads in ("top", "end")
    triads = situation.habits.triads
    if index + 1 < len(spans):
        goal = spans[index + 1].harmony
        rest = [span.harmony for span in spans[index + 2:]]
        comes = spans[index + 1].onset_quarter
        return (Leaving(Place(here, goal, False, before, _next_change(goal, rest, situation.after),
                              False, home, triads), comes, comes, comes),)
    landing = situation.landing_harmony
    if situation.landing is None or landing is None:
        end = _last_end(situation)
        return (Leaving(Place(here, here, situation.landing is None, before, None, last, home,
                              triads), end, end, end, True),)
    end, after = situation.end_quarter, situation.after
    place = Place(here, landing, False, before, _next_change(landing, (), after), last, home,
                  triads, soon=_changes_soon(situation, landing))
    at_landing = Leaving(place, end, end, end)
    beats = _back_beats(situation, here)
    if beats is None or beats > _PAST_BEATS:
        return (at_landing,)
    past, comes = after[1].harmony, after[1].onset_quarter
    assert past is not None
    place = Place(here, past, False, before, _next_change(past, (), after[1:]), last, home, triads,
                  landing)
    past_it = _past_landing(situation, place, comes)
    return (past_it,) if beats <= _ARRIVAL_BEATS else (replace(at_landing, soon=True), past_it)


def _past_landing(situation: Task, place: Place, comes: Fraction) -> Leaving:
    """The goal comes with the landing or after it."""
    gap = situation.following_gap_quarter  # the next fill has the hands by then
    rings = situation.end_quarter if gap is not None and gap < comes else comes
    return Leaving(place, situation.end_quarter, comes, rings, False,
                   tuple(n for n in situation.following
                         if n.onset_quarter < comes and _is_chordal(situation, n)))


def _is_chordal(situation: Task, note: SoundingNote) -> bool:
    """Whether a melody note is no passing one: it is the landing, begins on a beat, or lasts for
    one."""
    return (note.onset_quarter == situation.end_quarter
            or note.duration_quarter >= situation.beat_quarter
            or situation.beat_at(note.onset_quarter).denominator == 1)


def rung_until(situation: Task, midis: Sequence[int], end_quarter: Fraction, harmony: Harmony
               ) -> Fraction:
    """Until when left-hand keys of a chord that ends there are held down: over the landing only
    where they rub no melody note meanwhile."""
    over = [n.midi for n in situation.following if n.onset_quarter < end_quarter]
    homes = flat_nine_homes(harmony.symbol)
    rubs = any(RUB.among(midis, midi, homes) for midi in over)
    return min(end_quarter, situation.end_quarter) if rubs else end_quarter


def out_of_reach(situation: Task, keys: Sequence[int], onset_quarter: Fraction) -> bool:
    """Whether the right hand cannot get from some keys it strikes at a place to the landing in
    time."""
    landing = situation.landing_midi
    if landing is None:
        return False
    seconds = situation.seconds(situation.end_quarter - onset_quarter)
    if seconds >= _LEAP_SECONDS:
        return False
    near = min(abs(key - landing) for key in keys)
    return near > _LEAP_SEMITONES or not jump_ok(
        tuple(keys), (landing,), seconds - JUMP_SECONDS["return_margin"], situation.hand_size)


def _back_beats(situation: Task, here: Harmony) -> Fraction | None:
    """For how many felt beats the chord that sounds would come back at the landing, inside a bar,
    before another one that is printed; None where that is not so."""
    after, end = situation.after, situation.end_quarter
    if len(after) < 2 or after[1].harmony is None or after[0].harmony is None:
        return None
    comes = after[1].onset_quarter
    bar = situation.bar_at(end)
    back = (after[0].onset_quarter < end < comes
            and plain_chord(after[0].harmony) == plain_chord(here)
            and plain_chord(after[1].harmony) != plain_chord(here)
            and bar.onset_quarter < end)
    return (comes - end) / situation.beat_quarter if back else None


def _changes_soon(situation: Task, landing: Harmony) -> bool:
    """Whether the chord of the landing lasts for a bar at most from there on."""
    end = situation.end_quarter
    comes = next((p.onset_quarter for p in situation.after if p.harmony is not None
                  and plain_chord(p.harmony) != plain_chord(landing)), None)
    return comes is None or comes - end <= situation.bar_at(end).length_quarter


def _next_change(goal: Harmony, rest: Sequence[Harmony], after: Sequence[Printed]
                 ) -> Harmony | None:
    row = [*rest, *(p.harmony for p in after)]
    return next((h for h in row if h is not None and plain_chord(h) != plain_chord(goal)), None)


def _last_end(situation: Task) -> Fraction:
    """Where the last chord of the gap ends: before a printed N.C., else with the gap."""
    end = situation.end_quarter
    for chord in reversed(situation.written):
        if chord.harmony is not None:
            break
        end = chord.onset_quarter
    return end if situation.closing is None else situation.end_quarter
