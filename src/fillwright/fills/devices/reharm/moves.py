"""The moves: every device of reharmonization as one row of one table.

A row is a pattern of chords to put between the chord that sounds (*here*) and the chord
that comes (*goal*), the condition under which it may stand there, the level from which it
is taught, the least space it wants, and the sentence that explains it. Adding a device is
adding a row, and its test.

Patterns. `5:7` is a dominant seventh on the fifth degree above the row's anchor: the root
of the goal, the root of the chord here, or the tonic of the local key. `=` takes the
quality of the goal (or of the chord here); `@3` puts that degree in the bass; `+1` and
`-2` are the diatonic seventh chords so many steps of the local scale above or below the
chord here; `*2 4` is any one of the diatonic chords on these degrees of the local key.

Anchors: "goal", "here", "key", and "bass", the lowest note of the goal. The moves are those
of harmony textbooks (Levine, *The Jazz Theory Book*, Sher 1995; Nettles & Graf, *The Chord
Scale Theory and Jazz Harmony*, Advance 1997; from memory) and common practice.
"""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.fills.player import ADVANCED, BEGINNER, INTERMEDIATE, Level

__all__ = ["MOVES", "Move"]


@dataclass(frozen=True, slots=True)
class Move:
    """One row.

    device    the trade's name of it
    pattern   the added chords
    anchor    what degrees of the pattern count from: "goal", "here", "key" or "bass"
    when      conditions, all of which must hold; "not " before one turns it round
              (named in `place.CONDITIONS`)
    level     the lowest level it is offered at
    beats     the least number of felt beats from the chord here to the goal
    habit     what the trade's habit adds to (or takes off) the cost of the progression
    motion    how the hands move: "smooth", "contrary", "parallel", "common top", "thirds",
              "tenths", "inner line", "pedal"
    reason    the sentence; in braces what is filled in: {here} {goal} {key}, {x} and {y}
              the first and the last added chord, {row} all of them, {bass} the bass line,
              {walk} the bass line without the chord here, {tones} how much of {x} belongs to
              the chord it stands for, {leads} how the last chord leads on, {turn} the third
              that turns minor
    delay     true where the first chord takes the place of the written one, which follows
    colour    true where only the colour of the written chord changes
    instead   true where the chords take the whole place of the written one
    """

    device: str
    pattern: str
    anchor: str
    when: tuple[str, ...]
    level: Level
    beats: int
    habit: int
    motion: str
    reason: str
    delay: bool = False
    colour: bool = False
    instead: bool = False


def _rows(*rows: tuple[str, str, str, str, Level, int, int, str, str]) -> tuple[Move, ...]:
    made = []
    for device, pattern, anchor, when, level, beats, habit, motion, reason in rows:
        conditions = tuple(part.strip() for part in when.split(",") if part.strip())
        flags = {c for c in conditions if c in ("delay", "colour", "instead")}
        made.append(Move(device, pattern, anchor,
                         tuple(c for c in conditions if c not in flags), level, beats, habit,
                         motion, reason, "delay" in flags, "colour" in flags,
                         "instead" in flags))
    return tuple(made)


_B, _I, _A = BEGINNER, INTERMEDIATE, ADVANCED

MOVES: tuple[Move, ...] = _rows(
    # --- dominants of the goal -------------------------------------------------------------
    ("secondary dominant", "5:7", "goal", "target, not goal tonic, not goal dominant", _B, 2, 0,
     "smooth", "{x} is the dominant of {goal}: its root falls a fifth; {guides}."),
    ("secondary dominant", "5:7", "goal",
     "target, not goal tonic, goal dominant, not goal leads to minor", _B, 2, 0,
     "smooth", "{x} is the dominant of the coming dominant {goal}: its root falls a fifth; "
     "{guides}."),
    ("secondary dominant", "5:7", "goal",
     "target, not goal tonic, goal dominant, goal leads to minor", _B, 2, 8,
     "smooth", "{x} is the dominant of the coming dominant {goal}: its root falls a fifth; "
     "{guides}."),
    ("dominant on the way", "5:7", "goal", "target, goal tonic", _B, 2, 0, "smooth",
     "{x} is the dominant of {goal}: its root falls a fifth; {guides}."),
    ("related II before the dominant", "5:m7", "goal",
     "goal dominant, not goal leads to a minor key, not here its II", _B, 2, 0, "smooth",
     "{x} is the II that belongs to {goal}: together they make a II V, with {shared} in "
     "common."),
    ("related II before the dominant", "5:m7", "goal",
     "goal dominant, goal leads to a minor key, not here its II", _B, 2, 10, "smooth",
     "{x} is the II that belongs to {goal}: together they make a II V, with {shared} in "
     "common."),
    ("half-diminished II before the dominant", "5:m7b5", "goal",
     "goal dominant, goal leads to minor, not goal leads to a minor key, not here its II", _I, 2,
     -2, "smooth", "{x} is the II of a minor key before its dominant {goal}, which leads to a "
     "minor chord; {shared} in common."),
    ("half-diminished II before the dominant", "5:m7b5", "goal",
     "goal dominant, goal leads to a minor key, not here its II", _I, 2, -12, "smooth",
     "{x} is the II of a minor key before its dominant {goal}, which leads to a minor chord; "
     "{shared} in common."),
    ("half-diminished II before the dominant", "5:m7b5", "goal",
     "goal dominant, not goal leads to minor, not here its II", _I, 2, 8, "smooth",
     "{x} is the II of a minor key before its dominant {goal}; {shared} in common."),
    ("dominant turning minor", "1:7", "goal", "goal minor, goal a II, not turns", _I, 2, 0,
     "smooth", "{x} is {goal} with a major third, which falls a half step on the way ({turn}); "
     "{leads}."),
    ("II V into the coming chord", "2:m7 5:7", "goal", "goal major", _B, 3, -6, "smooth",
     "{row} are the II V of {goal}: two falling fifths that arrive on its beat."),
    ("II V into the coming chord", "2:m7 5:7", "goal", "goal dominant", _I, 3, 0, "smooth",
     "{row} are the II V of {goal}, which goes on as a dominant itself."),
    ("II V into the coming chord", "2:m7b5 5:7b9", "goal", "goal minor", _I, 3, -6, "smooth",
     "{row} are the minor II V of {goal}: two falling fifths that arrive on its beat."),
    ("II V into the coming chord", "2:m7b5 5:7", "goal", "goal minor", _B, 3, -4, "smooth",
     "{row} are the minor II V of {goal}: two falling fifths that arrive on its beat."),
    ("cycle of dominants", "2:7 5:7", "goal", "target", _I, 3, 2, "smooth",
     "{row}: each dominant is the dominant of the next, down to {goal}."),
    ("cycle of dominants", "6:7 2:7 5:7", "goal", "target", _I, 4, 0, "smooth",
     "{row}: each dominant is the dominant of the next, down to {goal}."),
    # --- substitutes of the dominant ----------------------------------------------------------
    ("tritone substitute", "b2:7", "goal", "goal dominant, here its II", _I, 2, -30, "parallel",
     "{x} is the tritone substitute of {dominant}, the dominant of {goal}: they share {shared}, "
     "and the bass steps down a half step onto the coming dominant ({bass})."),
    ("tritone substitute", "b2:7", "goal", "goal dominant", _I, 2, -8, "parallel",
     "{x} is the tritone substitute of {dominant}, the dominant of {goal}: they share {shared}, "
     "and the bass steps down a half step onto the coming dominant."),
    ("tritone substitute", "b2:7", "goal", "target, not goal dominant", _I, 2, -10, "parallel",
     "{x} is the tritone substitute of {dominant}, the dominant of {goal}: they share {shared}, "
     "and the bass steps down a half step ({bass})."),
    ("II V of the tritone substitute", "b6:m7 b2:7", "goal", "target", _A, 4, -22, "parallel",
     "{x} is the II that belongs to {y}, the tritone substitute of {dominant}; the bass falls a "
     "fifth and then a half step ({bass})."),
    ("II, then the tritone substitute", "2:m7 b2:7", "goal", "goal major", _I, 3, -24,
     "parallel", "{x} is the II of {goal}; {y} stands for its V, so the bass walks down in half "
     "steps ({walk})."),
    ("II, then the tritone substitute", "2:m7b5 b2:7", "goal", "goal minor", _A, 3, -22,
     "parallel", "{x} is the II of {goal}; {y} stands for its V, so the bass walks down in half "
     "steps ({walk})."),
    ("backdoor", "b7:7", "goal", "goal major", _I, 2, -6, "smooth",
     "{x} comes in by the back door: a whole step under {goal}, and {guides}."),
    ("backdoor", "4:m7 b7:7", "goal", "goal major", _I, 3, -16, "smooth",
     "{row} are the back door to {goal}: the minor IV and the dominant a whole step under it, "
     "and {guides}."),
    ("backdoor", "b7:7", "key", "goal minor, goal third degree", _I, 2, -8, "smooth",
     "{x} comes in by the back door, not to the tonic but to {goal}, which stands for it."),
    ("II V that turns aside", "4:7", "here",
     "here minor, not same, not goal fifth below, not next II V, last leads", _I,
     2, 6, "smooth", "{here} and {x} make a II V that does not come home: {leads}."),
    ("II V and again", "4:7", "here", "here minor, same", _B, 2, 0, "smooth",
     "{x} makes a II V with {here}, which comes again."),
    ("chain of II V", "4:7", "here", "here its related II, next II V", _I, 2, -84, "smooth",
     "{here} and {x} make a II V; the next one, with {goal}, begins a half step lower before it "
     "has come home."),
    ("dominant, then its tritone substitute", "4:7", "here",
     "here its related II, goal dominant, half step down", _A, 2, -20, "smooth",
     "{x} makes a II V with {here}; {goal}, its tritone substitute, then takes its place."),
    # --- IV and IV minor ----------------------------------------------------------------------
    ("IV minor", "4:m6", "goal", "goal major, goal tonic", _B, 2, -6, "smooth",
     "{x} is the minor IV of {goal}: {guides}."),
    ("IV, then IV minor", "4:maj7 4:m6", "goal", "goal major, not here its V", _B, 3, -12,
     "inner line", "{x} and {y} lead into {goal}: the third of {x} falls by half steps "
     "({inner})."),
    ("IV, then IV minor", "4:maj7 4:m6", "goal", "goal major, here its V", _B, 3, 4,
     "inner line", "{x} and {y} put off the step from {here} to {goal}: the third of {x} falls "
     "by half steps ({inner})."),
    ("IV and back", "4:maj7", "goal", "same, goal major", _B, 2, 0, "smooth",
     "{x} is the neighbour on the fourth degree, with {shared} in common: {leads}."),
    ("IV and back", "4:m7", "goal", "same, goal minor", _B, 2, 0, "smooth",
     "{x} is the neighbour on the fourth degree, with {shared} in common: {leads}."),
    ("IV and back", "4:7", "goal", "same, goal dominant", _B, 2, -4, "smooth",
     "{x} is the neighbour on the fourth degree, a dominant as in a blues; {leads}."),
    # --- diminished chords -----------------------------------------------------------------
    ("passing diminished, rising", "7:dim7", "goal", "whole step up", _B, 2, -6, "smooth",
     "{x} fills the whole step between {here} and {goal}: it is {dominant} with a flat nine and "
     "no root, and its bass leads up ({bass})."),
    ("passing diminished, rising", "7:dim7", "goal", "not whole step up, not goal diminished", _I,
     2, 2, "smooth",
     "{x} is {dominant} with a flat nine and no root: it leads into {goal}, the bass up a half "
     "step."),
    ("passing diminished, falling", "b2:dim7", "goal", "whole step down, not goal diminished",
     _B, 2, -6, "smooth",
     "{x} fills the whole step between {here} and {goal}, the bass falling by half steps "
     "({bass})."),
    ("passing diminished, falling", "b2:dim7", "goal",
     "not whole step down, goal minor, here tonic", _I, 2, 0, "smooth",
     "{x} passes from {here} down to {goal}: the bass reaches it by a half step."),
    ("passing diminished and return", "1:dim7", "goal", "same, goal stable", _B, 2, -12,
     "common top", "{x} shares its root with {goal}: the fifth slips a half step away and comes "
     "back."),
    ("diminished over the coming root", "1:dim7", "goal", "not same, goal stable", _I, 2, 8,
     "smooth", "{x} delays {goal}: the root is there already, the fifth steps into place."),
    ("diminished on the root", "1:dim7", "here", "not same, here major, here tonic", _I, 2, -6,
     "common top", "{x} keeps the root of {here} while its fifth slips a half step; {leads}."),
    ("passing diminished, rising", "7:dim7", "bass",
     "goal inverted, not goal on the tonic, whole step up", _B, 2, -16, "smooth",
     "{x} fills the whole step between the bass of {here} and that of {goal}, and leads "
     "up ({bass})."),
    ("passing diminished, falling", "b2:dim7", "bass", "goal inverted, whole step down", _B, 2,
     -16, "smooth", "{x} fills the whole step between the bass of {here} and that of {goal}, "
     "falling by half steps ({bass})."),
    ("diminished before the dominant", "#1:dim7", "key",
     "here tonic, here major, goal dominant, goal a fifth degree", _I, 2, 0, "smooth",
     "{x} stands a half step above the root of {here}; {leads}."),
    ("half-diminished on the raised fourth", "#4:m7b5", "key",
     "goal a fourth degree, goal stable, here stable, not turns, not same", _I, 2, -6, "smooth",
     "{x} stands a half step above {goal}, and the bass slides down into it ({bass})."),
    ("diminished before the dominant", "b3:dim7", "key", "not same, here tonic, goal dominant",
     _I, 2, 2, "smooth", "{x} keeps the root of {here} on top of a rising bass; {leads}."),
    ("diminished before the tonic", "#4:dim7", "key", "goal tonic, goal over its fifth", _B, 2,
     -14, "smooth", "{x} leads up into the fifth under {goal}; {leads}."),
    ("diminished before the tonic", "#4:dim7", "key", "goal on the tonic", _I, 2, 0, "smooth",
     "{x} is the dominant of the fifth degree without its root; {leads}."),
    ("diminished before the tonic", "#4:dim7", "key", "goal third degree, goal minor", _I, 2, -12,
     "smooth", "{x} leads home as from the IV to the tonic, for which {goal} stands; {leads}."),
    # --- diatonic walks ---------------------------------------------------------------------
    ("diatonic walk-up", "+1", "here", "up 2", _B, 2, -10, "contrary",
     "{x} lies between {here} and {goal} in {key}: the bass walks up the scale ({bass})."),
    ("diatonic walk-up", "+1 +2", "here", "up 3", _B, 3, -30, "contrary",
     "{row} walk up from {here} to {goal} on the steps of {key} ({bass})."),
    ("diatonic walk-up", "2:m7 1:@3", "here", "here tonic, here major, up 3", _B, 3, -30,
     "contrary", "{x}, then {here} with its third in the bass: the bass walks up the scale to "
     "{goal} ({bass})."),
    ("diatonic walk-up", "+1 +2 +3", "here", "up 4", _I, 4, -28, "contrary",
     "{row} walk up from {here} to {goal} on the steps of {key} ({bass})."),
    ("diatonic walk-up", "+1 +2", "here",
     "here tonic, goal after the III, last leads, not up 3, not same", _B, 3, -6, "contrary",
     "{row} walk up the steps of {key} ({bass}); {leads}."),
    ("diatonic walk-up and back", "+1 +2 +1", "here", "same", _B, 4, -32, "contrary",
     "{row} walk up the steps of {key} and back to {goal} ({bass})."),
    ("diatonic walk-up and back", "+1", "here", "same, here tonic", _B, 2, -12, "contrary",
     "{x} is the next step of {key}: the bass steps up and comes back ({bass})."),
    ("diatonic walk-down", "-1", "here", "down 2, not here dominant", _B, 2, -10, "contrary",
     "{x} lies between {here} and {goal} in {key}: the bass walks down the scale ({bass})."),
    ("diatonic walk-down", "-1 -2", "here", "down 3", _B, 3, -20, "contrary",
     "{row} walk down from {here} to {goal} on the steps of {key} ({bass})."),
    ("diatonic walk-down", "-1 -2 -3", "here", "down 4", _I, 4, -18, "contrary",
     "{row} walk down from {here} to {goal} on the steps of {key} ({bass})."),
    ("walk-up with chromatic passing chord", "2:m7 b3:m7 3:m7", "key",
     "here tonic, here major, goal after the III, last leads", _I, 4, -46, "contrary",
     "{row}: between the II and the III of {key} the bass takes the half step too ({bass})."),
    ("walk-up with chromatic passing chord", "2:m7 b3:m6 3:m7", "key",
     "here tonic, here major, goal after the III, last leads", _A, 4, -40, "contrary",
     "{row}: a minor sixth chord fills the half step between the II and the III of {key} "
     "({bass})."),
    ("walk-up with chromatic passing chord", "2:m7 #2:dim7 3:m7", "key",
     "here tonic, here major, goal after the III, last leads", _I, 4, -40, "contrary",
     "{row}: a diminished chord leads from the II up to the III of {key} ({bass})."),
    ("walk-up with chromatic passing chord", "2:m7 b3:m7 3:m7 b3:m7 2:m7", "key",
     "here tonic, here major, same", _I, 6, -66, "contrary",
     "{row}: up the half steps to the III of {key} and back the same way ({bass})."),
    ("walk-down with chromatic passing chord", "3:m7 b3:m7 2:m7", "key",
     "here tonic, here major, goal after the II, last leads", _I, 4, -34, "parallel",
     "{row}: from the III of {key} down to the II by half steps ({bass}); {leads}."),
    # --- thirds under a common tone ---------------------------------------------------------
    ("thirds walking under a common top note", "2:m7 b3:dim7 1:6@3", "here", "here six, up 3",
     _I, 4, -46, "thirds",
     "The bass walks up in thirds ({bass}) while {top} stays on top: it belongs to every one of "
     "{here}, {row}."),
    ("thirds walking under a common top note", "2:m7 b3:dim7 1:6@3", "here",
     "here six, goal after the III, not up 3", _I, 4, -34, "thirds",
     "The bass walks up in thirds ({bass}) while {top} stays on top: it belongs to every one of "
     "{here}, {row}."),
    ("thirds walking under a common top note", "2:m7 b3:dim7 1:@3", "here", "here six, up 3",
     _B, 4, -44, "thirds",
     "Thirds walk up ({bass}) while {top} stays on top: it belongs to every one of {here}, "
     "{row}."),
    ("thirds walking under a common top note", "2:m7 b3:dim7 1:@3", "here",
     "here six, goal after the III, not up 3", _B, 4, -32, "thirds",
     "Thirds walk up ({bass}) while {top} stays on top: it belongs to every one of {here}, "
     "{row}."),
    ("thirds walking up and back under a common top note", "2:m7 b3:dim7 1:6@3 b3:dim7 2:m7",
     "here", "here six, same", _I, 6, -74, "thirds",
     "Thirds walk up and back ({bass}) while {top} stays on top: it belongs to every chord."),
    ("root, then third in the bass", "1:@3", "here", "here six, up 3", _B, 2, 6, "tenths",
     "{x} is {here} with its third in the bass, a half step under {goal}: the bass leads in "
     "({bass})."),
    # --- suspensions --------------------------------------------------------------------------
    ("sus delay", "1:9sus4", "here",
     "delay, here dominant, not here sus, not here flat nine, not here inverted, "
     "goal fifth below", _B, 2, 16,
     "smooth", "{x} is the II over the root of {here}: it holds the third back, and then {third} "
     "falls into it."),
    ("sus delay", "1:9sus4", "here",
     "delay, here dominant, not here sus, not here flat nine, not here inverted, "
     "not goal fifth below", _B, 2, 28,
     "smooth", "{x} is the II over the root of {here}: it holds the third back, and then {third} "
     "falls into it."),
    ("sus delay", "1:7sus4", "here",
     "delay, here dominant, not here sus, here flat nine, not here inverted", _B, 2, 18, "smooth",
     "{x} holds the third of {here} back, and then {third} falls into it."),
    ("sus delay", "1:9sus4", "goal",
     "goal dominant, not goal sus, not goal flat nine, not goal inverted, not same", _B, 2, 36,
     "common top", "{x} is the II over the root of {goal}: the root is there early, the third "
     "waits for the coming chord."),
    ("sus delay", "1:7sus4", "goal",
     "goal dominant, not goal sus, goal flat nine, not goal inverted, not same", _B, 2, 36,
     "common top", "{x} has the root of {goal} early; the third waits for the coming chord."),
    ("sus delay", "1:9sus4", "here",
     "instead, here dominant, goal same root, not here sus, not goal sus", _B, 1, 30,
     "common top", "{x} takes the place of {here}, which comes when the melody comes back: the "
     "third waits until then."),
    ("tritone substitute in place of the dominant", "b5:7", "here",
     "instead, here dominant, not here sus, goal fifth below", _I, 1, 12, "parallel",
     "{x} takes the place of {here}, a tritone away: they share {shared_here}, and the bass steps "
     "down a half step to {goal}."),
    # --- approach by half step --------------------------------------------------------------
    ("chromatic approach from above", "b2:=", "goal",
     "not goal dominant, goal stable, not goal inverted, not same", _I, 2, -16, "parallel",
     "{x} is {goal} a half step too high, and slides down into it ({bass})."),
    ("chromatic approach from above", "b2:=", "goal",
     "not goal dominant, goal stable, not goal inverted, same", _A, 2, -16, "parallel",
     "{x} is {goal} a half step too high: the chord slides up and back ({bass})."),
    ("chromatic approach from below", "7:=", "goal",
     "goal stable, not goal major, not goal inverted, not same", _I, 2, -22, "parallel",
     "{x} is {goal} a half step too low, and slides up into it ({bass})."),
    ("chromatic approach from below", "7:=", "goal",
     "goal stable, not goal inverted, same", _A, 2, -16, "parallel",
     "{x} is {goal} a half step too low: the chord slides down and back ({bass})."),
    ("chromatic approach from below", "7:=", "goal", "goal major, not goal inverted, not same",
     _I, 2, -12, "parallel",
     "{x} is {goal} a half step too low, and slides up into it ({bass})."),
    ("chromatic passing chord", "7:=", "goal", "alike, not goal inverted, whole step up", _I, 2,
     -20, "parallel", "{x} fills the whole step between {here} and {goal}, sliding up by half "
     "steps ({bass})."),
    ("chromatic passing chord", "b2:=", "goal", "alike, not goal inverted, whole step down", _I,
     2, -20, "parallel", "{x} fills the whole step between {here} and {goal}, sliding down by "
     "half steps ({bass})."),
    ("chromatic approach from above", "2:= b2:=", "goal",
     "goal stable, not goal major, here tonic, not same", _A, 4, -24, "parallel",
     "{row} slide down by half steps into {goal} ({bass})."),
    # --- chords that stand for the written one ---------------------------------------------------
    ("chord standing for the written one", "3:m7", "here", "here major", _I, 2, -1, "smooth",
     "{x} stands for {here}: {tones} are its own; {leads}."),
    ("chord standing for the written one", "6:m7", "here", "here major", _B, 2, -1, "smooth",
     "{x} stands for {here}: {tones} are its own; {leads}."),
    ("chord standing for the written one", "b3:maj7", "here", "here minor", _I, 2, -1, "smooth",
     "{x} stands for {here}: {tones} are its own; {leads}."),
    ("chord standing for the written one", "3:m7b5", "here", "here dominant, not here sus", _I,
     2, -1, "smooth",
     "{x} is the upper part of {here} with a ninth: {tones} are its own; {leads}."),
    # --- moving inner line ------------------------------------------------------------------
    ("moving inner line", "1:m(maj7) 1:m7 1:m6", "here", "here minor", _I, 4, 24, "inner line",
     "Over {here} one voice falls by half steps from the root ({inner}); the rest stays."),
    ("moving inner line", "1:m(maj7) 1:m7", "here", "here minor", _I, 3, 26, "inner line",
     "Over {here} one voice falls by half steps from the root ({inner}); the rest stays."),
    ("moving inner line", "1:m7b5", "here", "here its II, here minor, goal dominant", _I, 2, 0,
     "inner line", "The fifth of {here} falls a half step on the way into {goal} ({inner}), as in "
     "a minor II V."),
    ("IV, then IV minor", "1:m6", "here", "here major, here a fourth degree, last leads", _B, 2,
     0, "inner line", "{here} turns minor: its third falls a half step ({inner}); {leads}."),
    ("moving inner line", "1:+ 1:6", "here", "here major", _I, 3, 26, "inner line",
     "Over {here} one voice rises by half steps from the fifth ({inner}); the rest stays."),
    ("moving inner line", "1:+ 1:6 1:+", "here", "here major, same", _I, 4, 24, "inner line",
     "Over {here} one voice rises from the fifth and falls back ({inner}); the rest stays."),
    # --- turnarounds ----------------------------------------------------------------------------
    ("turnaround", "6:m7 2:m7 5:7", "goal",
     "goal tonic, goal major, not here its V", _B, 4, -12, "smooth",
     "{row} go round to {goal}: VI II V, the bass falling by fifths."),
    ("turnaround", "6:7 2:m7 5:7", "goal",
     "goal tonic, goal major, not here its V", _I, 4, -12, "smooth",
     "{row} go round to {goal}; the VI is a dominant of the II."),
    ("turnaround", "3:m7 6:7 2:m7 5:7", "goal",
     "goal tonic, goal major, not here its V", _I, 6, -24, "smooth",
     "{row}: III VI II V, four falling fifths home to {goal}."),
    ("turnaround", "6:m7b5 2:m7b5 5:7b9", "goal",
     "goal tonic, goal minor, not here its V", _I, 4, -6, "smooth",
     "{row} go round to {goal}: VI II V in minor, the bass falling by fifths."),
    ("turnaround", "6:m7b5", "key", "here tonic, here minor, goal second degree", _I, 2, -4,
     "smooth", "{x} stands on the sixth degree: VI II V in {key}, the bass falling by fifths."),
    ("substitute put off by the II", "b6:7", "key",
     "goal second degree, goal minor, goal a II, not here a second degree", _I, 2, -22,
     "parallel", "{x} lies a half step above the V of {key}, and {goal}, the II, comes first."),
    ("turnaround with tritone substitutes", "b3:7 b6:7 b2:7", "goal",
     "goal tonic, goal major, not here its V",
     _A, 4, -20, "parallel",
     "{row} stand for the dominants on VI, II and V of {goal}, each a tritone away; the last "
     "steps down a half step."),
    ("turnaround with diminished", "b3:dim7 2:m7 5:7", "goal",
     "goal tonic, goal major, not here its V", _I, 4,
     -12, "smooth", "{x} falls by half step into the II, and II V leads home to {goal}."),
    # --- pedal -----------------------------------------------------------------------------------
    ("pedal point", "2:m7@1 5:7@1", "here", "here tonic, here major, same", _A, 4, -10, "pedal",
     "II and V of {here} move over its root, which stays in the bass until {goal} is back."),
    ("pedal point", "2:m7@5 5:7", "goal", "goal tonic, goal major", _B, 3, -6, "pedal",
     "{x} stands over the root of {y}: the bass waits there for {goal}."),
    ("pedal point", "4:@1", "here", "here major, here tonic", _B, 2, 8, "pedal",
     "{x} over the root of {here}: the bass stays; {leads}."),
    ("pedal point", "4:m6@1", "here", "here major, same, here tonic", _I, 2, 4, "pedal",
     "{x} over the root of {here}: the bass stays, the minor IV steps home."),
    ("pedal point", "4:maj7@1 1:7", "here", "here dominant, not here sus", _A, 3, 20,
     "pedal",
     "{x} moves over the root of {here}, which stays in the bass."),
    ("delayed ending", "4:m6@1", "here", "delay, here major, here tonic, ending", _B, 2, -2,
     "pedal", "{x} holds the ending back over the same bass: the minor IV, then home."),
    ("delayed ending", "4:@1", "here", "delay, here major, ending", _B, 2, 2, "pedal",
     "{x} holds the ending back over the same bass: the IV, then home."),
    ("delayed ending", "4:m@1", "here", "delay, here minor, ending", _B, 2, 2, "pedal",
     "{x} holds the ending back over the same bass: the IV, then home."),
    ("delayed ending", "5:7@1", "here", "delay, here stable, ending", _B, 2, 0, "pedal",
     "{x} holds the ending back over the same bass: the dominant, then home."),
    ("delayed ending", "4:7@1", "here", "delay, here dominant, ending", _B, 2, 0, "pedal",
     "{x} holds the ending back over the same bass: the IV of the blues, then home."),
    ("delayed ending", "7:dim7@1", "here", "delay, here stable, here tonic, ending", _I, 2, 4,
     "pedal", "{x} over the root of {here}: a last suspension before it comes "
     "home."),
    ("delayed ending", "b2:maj7", "here", "delay, here stable, here tonic, ending", _A, 2,
     0, "parallel", "{x} holds {here} back: the whole chord a half step too high, then home."),
    # --- neighbours in the key -----------------------------------------------------------------
    ("early resolution", "4:maj7", "here",
     "here dominant, not same, not goal fifth below, not resolves to minor", _B, 2, 0, "smooth",
     "{here} resolves early to {x}, where it leads; {leads}."),
    ("early resolution", "4:m7", "here",
     "here dominant, not same, not goal fifth below, resolves to minor", _B, 2, 0, "smooth",
     "{here} resolves early to {x}, where it leads; {leads}."),
    ("early resolution", "4:7", "here", "here dominant, not same, not goal fifth below", _I, 2,
     2, "smooth", "{here} falls its fifth early, to {x}; {leads}."),
    ("deceptive cadence", "5:7", "key",
     "not goal tonic, not here dominant, not same, last leads", _I, 2, -1, "smooth",
     "{x} is the dominant of {key}, which does not come: {leads}."),
    ("deceptive cadence", "3:7", "key", "goal a fourth degree, goal major, here tonic", _I, 2, -8,
     "smooth", "{x} is the dominant of the sixth degree of {key}, which does not come: {leads}."),
    *[row for group, steps in (("tonic", "1 3 6"), ("subdominant", "2 4"), ("dominant", "5 7"))
      for row in (
        (f"{group} chord on the way", f"*{steps}", "key",
         "not here its II, not here its V, not turns", _B, 2, 0, "smooth",
         "{x} belongs to {key}, " f"with the {group}" ": {leads}."),
        (f"{group} chord on the way", f"*{steps}", "key", "turns", _B, 2, 14, "smooth",
         "{x} belongs to {key} and comes before {here} turns into {goal}: {leads}."),
        (f"{group} chord on the way", f"*{steps}", "key", "here its V", _B, 2, 18, "smooth",
         "{x} belongs to {key} and puts off the step from {here} to {goal}: {leads}."),
        (f"{group} chord on the way", f"*{steps}", "key", "here its II", _B, 2, 14, "smooth",
         "{x} belongs to {key} and parts the II from its V: {leads}."))],
    # --- colour only ----------------------------------------------------------------------------
    ("colour change: sus, 13, altered", "1:9sus4 1:13 1:7alt", "here",
     "delay, colour, here dominant, not here sus, goal fifth below", _A, 3, 40, "inner line",
     "Only the colour of {here} changes, from {x} to {y}: a line of half steps ({inner})."),
    ("colour change: sus, then altered", "1:9sus4 1:7alt", "here",
     "delay, colour, here dominant, not here sus, goal fifth below", _I, 2, 42, "inner line",
     "Only the colour of {here} changes: the third is held back, then the tensions lead into "
     "{goal}."),
    ("colour change: 13, then flat 13", "1:13 1:7b13", "here",
     "delay, colour, here dominant, not here sus, goal fifth below", _I, 2, 42, "inner line",
     "Only the colour of {here} changes: the thirteenth falls by half steps into {goal}."),
    ("colour change: major seventh, then sixth", "1:maj7 1:6", "here",
     "delay, colour, here major", _B, 2, 46, "inner line",
     "Only the colour of {here} changes: the seventh falls to the sixth."),
)
