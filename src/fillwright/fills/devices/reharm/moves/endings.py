"""After the last melody note: the tonic held back, gone away from, or come to by another way."""

from __future__ import annotations

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.reharm import conditions as on
from fillwright.fills.devices.reharm.device import Fare, Heard, Motion, Move, Root, Stands, Way
from fillwright.fills.player import ADVANCED, INTERMEDIATE

__all__ = ["ENDINGS"]

_MAJOR = (on.here_major, on.here_tonic, on.ending)
_MINOR = (on.here_minor, on.here_tonic, on.ending)

ENDINGS: tuple[Move, ...] = (
    Move("delayed ending", Fare.USUAL, (
        Way("4:m6@1", Root.HERE, (on.here_major, on.here_tonic, on.ending),
            "{x} holds the ending back over the same bass: the minor IV, then home.",
            motion=Motion.PEDAL, stands=Stands.DELAY),
        Way("4:@1", Root.HERE, (on.here_major, on.ending),
            "{x} holds the ending back over the same bass: the IV, then home.",
            motion=Motion.PEDAL, stands=Stands.DELAY),
        Way("4:m@1", Root.HERE, (on.here_minor, on.ending),
            "{x} holds the ending back over the same bass: the IV, then home.",
            motion=Motion.PEDAL, stands=Stands.DELAY),
        Way("5:7@1", Root.HERE, (on.here_stable, on.ending),
            "{x} holds the ending back over the same bass: the dominant, then home.",
            motion=Motion.PEDAL, stands=Stands.DELAY),
        Way("4:7@1", Root.HERE, (on.here_dominant, on.ending),
            "{x} holds the ending back over the same bass: the IV of the blues, then home.",
            motion=Motion.PEDAL, stands=Stands.DELAY),
        Way("7:dim7@1", Root.HERE, (on.here_stable, on.here_tonic, on.ending),
            "{x} over the root of {here}: a last suspension before it comes home.",
            level=INTERMEDIATE, motion=Motion.PEDAL, stands=Stands.DELAY),
        Way("b2:maj7", Root.HERE, (on.here_stable, on.here_tonic, on.ending),
            "{x} holds {here} back: the whole chord a half step too high, then home.",
            level=ADVANCED, motion=Motion.PARALLEL, stands=Stands.DELAY),
    ), example=Example(
                "+G7/C 2, Cmaj7 2",
                left="0 2 C3, 2 2 C3",
                right="0 2 G3 B3 F4, 2 2 G3 B3 E4",
                held="G4")),
    Move("deceptive ending", Fare.RICH, (
        Way("b6:maj7 b7:7", Root.HERE, (on.here_major, on.here_tonic, on.ending),
            "{x} comes where {here} was awaited; it climbs by {y} and whole steps home.",
            level=INTERMEDIATE, beats=3, motion=Motion.PARALLEL, stands=Stands.DELAY),
        Way("b6:maj7 b2:maj7", Root.HERE, (on.here_major, on.here_tonic, on.ending),
            "{x} comes where {here} was awaited; {y} then sinks a half step home.",
            level=ADVANCED, beats=3, motion=Motion.PARALLEL, stands=Stands.DELAY),
        Way("#4:m7b5 4:m6", Root.HERE, _MAJOR,
            "{x} comes where {here} was awaited; from there the bass steps down, and the minor "
            "IV goes home.", level=INTERMEDIATE, beats=3, stands=Stands.DELAY),
        Way("#4:m7b5 4:m6 3:m7 b3:dim7 2:m7 b2:maj7", Root.HERE, _MAJOR,
            "{x} comes where {here} was awaited, and the bass walks down all the half steps "
            "home ({walk}).", level=ADVANCED, beats=7, motion=Motion.PARALLEL,
            stands=Stands.DELAY, heard=Heard.WALK),
        Way("b6:maj7", Root.HERE, (on.here_minor, on.here_tonic, on.ending),
            "{x} comes where {here} was awaited, with two of its tones; then home.",
            level=INTERMEDIATE, motion=Motion.PARALLEL, stands=Stands.DELAY),
    ), example=Example(
                "+Abmaj7 2, +Dbmaj7 1, Cmaj7 1",
                left="0 2 Ab2, 2 1 Db3, 3 1 C3",
                right="0 2 F3 Bb3 C4 Eb4, 2 1 F3 Bb3 C4 Eb4, 3 1 G3 B3 E4",
                held="G4")),
    Move("delayed ending with the minor IV", Fare.RICH, (
        Way("4:@1 4:m6@1", Root.HERE, _MAJOR,
            "{x} and {y} hold the ending back over the same bass: the IV turns minor, and then "
            "{here} comes.", level=INTERMEDIATE, beats=3, motion=Motion.PEDAL,
            stands=Stands.DELAY),
        Way("b2:@1 4:m6@1", Root.HERE, _MAJOR,
            "{x} and {y} hold the ending back over the root of {here}, the first a half step "
            "above it.", level=ADVANCED, beats=3, motion=Motion.PEDAL, stands=Stands.DELAY),
    ), example=Example(
                "+F/C 1, +Fm6/C 1, Cmaj7 2",
                left="0 1 C3, 1 1 C3, 2 2 C3",
                right="0 1 F3 A3, 1 1 F3 Ab3 D4, 2 2 G3 B3 E4",
                held="C5")),
    Move("one more cadence at the end", Fare.PLAIN, (
        Way("4:6 5:7", Root.HERE, _MAJOR,
            "After {here} the cadence is played once more: {row} lead home.", beats=4),
        Way("4:m7 5:7", Root.HERE, _MINOR,
            "After {here} the cadence is played once more: {row} lead home.", beats=4),
    ), example=Example(
                "Cmaj7 2, +F6 1, +G7 1, Cmaj7 2",
                left="0 2 C3, 2 1 F2 C3, 3 1 G2, 4 2 C3",
                right="0 2 G3 B3 E4, 2 1 A3 D4, 3 1 F3 B3, 4 2 G3 B3 E4",
                held="G4")),
    Move("long way to the last chord", Fare.RICH, (
        Way("4:maj7 #4:dim7 1:@5 5:7", Root.HERE, _MAJOR,
            "The bass climbs from {x} by half steps to the fifth under {here} ({walk}), and {y} "
            "brings {here} home.",
            level=INTERMEDIATE, beats=6, motion=Motion.CONTRARY, heard=Heard.WALK),
        Way("b6:7 5:7", Root.HERE, _MINOR,
            "{x} slides down a half step to {y}, and {y} brings {here} home.",
            level=INTERMEDIATE, beats=4, motion=Motion.PARALLEL),
        Way("b6:7 5:9sus4", Root.HERE, _MAJOR,
            "{x} slides down a half step to {y}, which keeps its fourth, and {y} brings {here} "
            "home.", level=ADVANCED, beats=4, motion=Motion.PARALLEL),
        Way("#4:m7b5 4:m6 1:@3 b3:dim7 2:m7", Root.HERE, _MAJOR,
            "The bass walks down by half steps from the raised fourth to the II, and on home "
            "({walk}); each chord bears the tonic.",
            level=ADVANCED, beats=6, heard=Heard.WALK, taste=-4),
        Way("3:m7 b3:dim7 2:m7 b2:7", Root.HERE, _MAJOR,
            "The bass walks down by half steps from the third of {here} to its root ({walk}).",
            level=ADVANCED, beats=6, motion=Motion.PARALLEL, heard=Heard.WALK),
    ), example=Example(
                "Cmaj7 1, +Fmaj7 1, +F#dim7 1, +C/G 1, +G7 1, Cmaj7 1",
                left="0 1 C3, 1 1 F2, 2 1 F#2, 3 1 G2, 4 1 G2, 5 1 C3",
                right="0 1 G3 B3 E4, 1 1 A3 E4, 2 1 A3 Eb4, 3 1 C4 E4, 4 1 F3 B3, 5 1 G3 B3 E4",
                held="C5")),
)
