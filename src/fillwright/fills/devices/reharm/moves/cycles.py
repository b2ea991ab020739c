"""Rounds of several chords: turnarounds, constant structures, symmetric cycles."""

from __future__ import annotations

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.reharm import conditions as on
from fillwright.fills.devices.reharm.device import Fare, Heard, Motion, Move, Root, Way
from fillwright.fills.player import ADVANCED, INTERMEDIATE

__all__ = ["CYCLES"]

_HOME = (on.goal_tonic, on.goal_major, ~on.here_its_five)

CYCLES: tuple[Move, ...] = (
    Move("turnaround", Fare.USUAL, (
        Way("6:m7 2:m7 5:7", Root.GOAL, _HOME,
            "{row} go round to {goal}: VI II V, the bass falling by fifths.", beats=4),
        Way("6:7 2:m7 5:7", Root.GOAL, _HOME,
            "{row} go round to {goal}; the VI is a dominant of the II.",
            level=INTERMEDIATE, beats=4),
        Way("3:m7 6:7 2:m7 5:7", Root.GOAL, _HOME,
            "{row}: III VI II V, four falling fifths home to {goal}.",
            level=INTERMEDIATE, beats=5),
        Way("6:m7b5 2:m7b5 5:7b9", Root.GOAL, (on.goal_tonic, on.goal_minor, ~on.here_its_five),
            "{row} go round to {goal}: VI II V in minor, the bass falling by fifths.",
            level=INTERMEDIATE, beats=4),
        Way("6:m7b5", Root.KEY, (on.here_tonic, on.here_minor, on.goal_second_degree),
            "{x} stands on the sixth degree: VI II V in {key}, the bass falling by fifths.",
            level=INTERMEDIATE),
    ), example=Example(
                "Cmaj7 1, +A7 1, +Dm7 1, +G7 1",
                left="0 1 C3, 1 1 A2, 2 1 D3, 3 1 G2 F3",
                right="0 1 G3 B3 E4, 1 1 G3 B3 C#4 E4, 2 1 F3 A3 C4 E4, 3 1 B3 E4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("turnaround with tritone substitutes", Fare.RICH, (
        Way("b3:7 b6:7 b2:7", Root.GOAL, _HOME,
            "{row} stand for the dominants on VI, II and V of {goal}, each a tritone away; the "
            "last steps down a half step.", level=ADVANCED, beats=4),
        Way("b3:7 2:m7 b2:7", Root.GOAL, _HOME,
            "{x} and {y} stand for the dominants on VI and V of {goal}, a tritone away: the "
            "bass walks down in half steps ({walk}).",
            level=ADVANCED, beats=4, motion=Motion.PARALLEL, heard=Heard.WALK),
    ), example=Example(
                "Cmaj7 1, +Eb7 1, +Dm7 1, +Db7 1",
                left="0 1 C3, 1 1 Eb2 Bb2, 2 1 D2 A2, 3 1 Db2 Ab2",
                right="0 1 G3 B3 E4, 1 1 G3 Db4 F4, 2 1 F3 C4 E4, 3 1 F3 Cb4 Eb4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("turnaround with diminished", Fare.USUAL, (
        Way("b3:dim7 2:m7 5:7", Root.GOAL, _HOME,
            "{x} falls by half step into the II, and II V leads home to {goal}.",
            level=INTERMEDIATE, beats=4),
        Way("#1:dim7 2:m7 5:7", Root.GOAL, (*_HOME, on.here_tonic),
            "{x} rises by half step into the II, and II V leads home to {goal}.",
            level=INTERMEDIATE, beats=4),
    ), example=Example(
                "Cmaj7 1, +C#dim7 1, +Dm7 1, +G7 1",
                left="0 1 C3, 1 1 C#3, 2 1 D3, 3 1 G2 F3",
                right="0 1 G3 B3 E4, 1 1 G3 Bb3 E4, 2 1 F3 A3 C4 E4, 3 1 B3 E4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("constant structure", Fare.RICH, (
        Way("b3:maj7 b6:maj7 b2:maj7", Root.GOAL, _HOME,
            "{row} are of one kind, major seventh chords, while the roots fall by fifths and "
            "then sink a half step into {goal}.",
            level=ADVANCED, beats=4, motion=Motion.PARALLEL),
        Way("b3:maj7 b2:maj7", Root.GOAL, _HOME,
            "{row} are of one kind, major seventh chords, over a bass that comes down to "
            "{goal}.", level=ADVANCED, beats=3, motion=Motion.PARALLEL),
        Way("b6:maj7 b7:maj7", Root.GOAL, _HOME,
            "{row} are of one kind, major seventh chords, and climb by whole steps into "
            "{goal}.", level=ADVANCED, beats=3, motion=Motion.PARALLEL),
    ), example=Example(
                "Cmaj7 2, +Abmaj7 1, +Bbmaj7 1",
                left="0 2 C3, 2 1 Ab2 Eb3, 3 1 Bb2 F3",
                right="0 2 G3 B3 E4, 2 1 G3 C4, 3 1 A3 D4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("symmetric cycle", Fare.RICH, (
        Way("b3:maj7 #4:maj7 6:maj7", Root.GOAL, (*_HOME, on.same),
            "{row}: the chord goes round by minor thirds, which divide the octave evenly, back "
            "to {goal}.", level=ADVANCED, beats=4, motion=Motion.PARALLEL),
        Way("b6:maj7 3:maj7", Root.GOAL, (*_HOME, on.same),
            "{row}: the chord goes round by major thirds, which divide the octave evenly, back "
            "to {goal}.", level=ADVANCED, beats=3, motion=Motion.PARALLEL),
        Way("b3:7 b6:maj7 7:7 3:maj7 5:7", Root.GOAL, (*_HOME, on.same),
            "{row}: three keys a major third apart, each with its dominant, back to {goal}.",
            level=ADVANCED, beats=6),
    ), example=Example(
                "Cmaj7 2, +Abmaj7 1, +Emaj7 1",
                left="0 2 C3 G3, 2 1 Ab3, 3 1 E3 G#3",
                right="0 2 E4 B4, 2 1 Eb4 G4 C5, 3 1 D#4 F#4 B4",
                landing="Cmaj7 A4",
                held="Eb5")),
)
