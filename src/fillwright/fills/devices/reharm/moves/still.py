"""The bass stays or the third waits: suspensions, pedals, endings held back."""

from __future__ import annotations

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.reharm import conditions as on
from fillwright.fills.devices.reharm.device import Fare, Heard, Motion, Move, Root, Stands, Way
from fillwright.fills.player import ADVANCED, INTERMEDIATE

__all__ = ["STILL"]

_HOLDABLE = (on.here_dominant, ~on.here_sus, ~on.here_inverted)

STILL: tuple[Move, ...] = (
    Move("sus delay", Fare.PLAIN, (
        Way("1:9sus4", Root.HERE, (*_HOLDABLE, ~on.here_flat_nine, on.goal_fifth_below),
            "{x} is the II over the root of {here}: it holds the third back, and then {third} "
            "falls into it.", stands=Stands.DELAY, taste=14),
        Way("1:9sus4", Root.HERE, (*_HOLDABLE, ~on.here_flat_nine, ~on.goal_fifth_below),
            "{x} is the II over the root of {here}: it holds the third back, and then {third} "
            "falls into it.", stands=Stands.DELAY, taste=22),
        Way("1:7sus4", Root.HERE, (*_HOLDABLE, on.here_flat_nine),
            "{x} holds the third of {here} back, and then {third} falls into it.",
            stands=Stands.DELAY, taste=14),
        Way("1:9sus4", Root.HERE, (on.here_dominant, on.goal_same_root, ~on.here_sus,
                                   ~on.goal_sus),
            "{x} takes the place of {here}, which comes when the melody comes back: the third "
            "waits until then.", beats=1, motion=Motion.COMMON_TOP, stands=Stands.INSTEAD,
            taste=20),
    ), example=Example(
                "+G9sus4 2, G7 2",
                left="0 2 G2 F3, 2 2 G2 F3",
                right="0 2 C4 E4, 2 2 B3 E4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("sus chain", Fare.RICH, (
        Way("5:9sus4 5:7b9", Root.GOAL, (on.goal_major, on.goal_tonic, ~on.here_its_five),
            "{x} waits with its third until {y}, and only then it falls home to "
            "{goal}{guides}.", level=INTERMEDIATE, beats=3),
        Way("2:9sus4 5:9sus4", Root.GOAL, (on.goal_major, ~on.here_its_five, ~on.here_its_two),
            "{row}: dominants without their thirds fall by fifths to {goal}.",
            level=ADVANCED, beats=3),
        Way("2:9sus4 2:7 5:9sus4 5:7", Root.GOAL, (on.goal_major, on.goal_tonic,
                                                   ~on.here_its_five),
            "{row}: each dominant first waits with its third, down to {goal}.",
            level=ADVANCED, beats=5),
    ), example=Example(
                "Cmaj7 3/2, +G9sus4 3/2, +C9sus4 1",
                left="0 3/2 C3, 3/2 3/2 G2, 3 1 C2 G2",
                right="0 3/2 G3 B3 E4, 3/2 3/2 F3 A3 C4 D4, 3 1 F3 Bb3 D4",
                landing="Fmaj7 A4",
                held="G4")),
    Move("slash cadence", Fare.RICH, (
        Way("4:m6@5", Root.GOAL, (on.goal_major, on.goal_tonic, ~on.here_its_five,
                                  ~on.here_its_two),
            "{x}, the minor IV over the fifth of {key}, does the work of a dominant with a flat "
            "nine and no third{guides}.", level=INTERMEDIATE),
        Way("4:@5", Root.GOAL, (on.goal_major, on.goal_tonic, ~on.here_its_five,
                                ~on.here_its_two),
            "{x}, the IV over the fifth of {key}, does the work of a dominant without its "
            "third{guides}.", level=INTERMEDIATE),
        Way("4:@1", Root.GOAL, (on.goal_dominant, on.leads_to_major),
            "{x} stands over the root of {goal} already, and its other tones lead into {goal} "
            "while the bass waits.", motion=Motion.PEDAL, taste=6),
        Way("4:m@1", Root.GOAL, (on.goal_dominant, on.leads_to_minor),
            "{x} stands over the root of {goal} already, and its other tones lead into {goal} "
            "while the bass waits.", motion=Motion.PEDAL, taste=6),
        Way("2:m7@5 5:7b9", Root.GOAL, (on.goal_major, on.goal_tonic, ~on.here_its_five),
            "{x} stands over the root of {y} already: the bass waits there for {goal}.",
            beats=3, motion=Motion.PEDAL),
        Way("2:m7b5@5 5:7b9", Root.GOAL, (on.goal_minor, on.goal_tonic, ~on.here_its_five),
            "{x} stands over the root of {y} already: the bass waits there for {goal}.",
            level=INTERMEDIATE, beats=3, motion=Motion.PEDAL),
    ), example=Example(
                "Cmaj7 2, +Dm7/G 1, +G7b9 1",
                left="0 2 C3, 2 1 G2, 3 1 G2 F3",
                right="0 2 G3 B3 E4, 2 1 F3 C4 E4, 3 1 Ab3 B3 Eb4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("dominant delayed by the minor IV", Fare.RICH, (
        Way("b7:m6@1", Root.HERE, (*_HOLDABLE, on.goal_fifth_below, on.goal_major),
            "{x}, the minor IV over the bass of {here}, holds the third back, and then {here} "
            "comes.", level=INTERMEDIATE, motion=Motion.PEDAL, stands=Stands.DELAY, taste=8),
    ), example=Example(
                "+Fm6/G 2, G7 2",
                left="0 2 G2, 2 2 G2 F3",
                right="0 2 F3 Ab3 D4, 2 2 B3 E4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("pedal point", Fare.USUAL, (
        Way("2:m7@1 5:7@1", Root.HERE, (on.here_tonic, on.here_major, on.same),
            "II and V of {here} move over its root, which stays in the bass until {goal} is "
            "back.", level=ADVANCED, beats=4, motion=Motion.PEDAL),
        Way("4:@1 4:m6@1", Root.HERE, (on.here_tonic, on.here_major, on.same),
            "{x} over the root of {here} turns minor, and comes home over the same bass.",
            level=INTERMEDIATE, beats=3, motion=Motion.PEDAL),
        Way("b7:@1 4:@1", Root.HERE, (on.here_tonic, on.here_major, on.same),
            "{row} move over the root of {here}, which stays in the bass until {goal} is back.",
            level=INTERMEDIATE, beats=4, motion=Motion.PEDAL),
        Way("b7:@1 b6:@1", Root.HERE, (on.here_tonic, on.same),
            "{row}, borrowed from the minor key, move over the root of {here}, which stays in "
            "the bass.", level=ADVANCED, beats=4, motion=Motion.PEDAL),
        Way("4:m7@1", Root.HERE, (on.here_minor, on.same),
            "{x} over the root of {here}: the bass stays, the chord above it comes back.",
            motion=Motion.PEDAL),
        Way("4:7@1", Root.HERE, (on.here_dominant, on.here_tonic, on.same),
            "{x} over the root of {here}: the bass stays, the chord above it comes back, as in "
            "a blues.", motion=Motion.PEDAL),
        Way("4:@1", Root.HERE, (on.here_major, on.here_tonic, on.same),
            "{x} over the root of {here}: the bass stays, the chord above it comes back.",
            motion=Motion.PEDAL),
        Way("4:m6@1", Root.HERE, (on.here_major, on.here_tonic, on.same),
            "{x} over the root of {here}: the bass stays, the minor IV steps home.",
            level=INTERMEDIATE, motion=Motion.PEDAL),
    ), example=Example(
                "Cmaj7 2, +Dm7/C 1, +G7/C 1",
                left="0 2 C3, 2 1 C3, 3 1 C3",
                right="0 2 G3 B3 E4, 2 1 F3 A3 E4, 3 1 F3 B3",
                landing="Cmaj7 A4",
                held="G4")),
    Move("triads sliding over a pedal", Fare.RICH, (
        Way("2:@1 b2:@1", Root.HERE, (on.here_tonic, on.here_major, on.same),
            "{row} slide down by half steps over the root of {here}, which stays in the bass.",
            level=ADVANCED, beats=3, motion=Motion.PEDAL, heard=Heard.TRIAD),
        Way("2:@1", Root.HERE, (on.here_tonic, on.here_major, on.same),
            "{x}, a triad a whole step up, over the root of {here}, which stays in the bass "
            "until {goal} is back.", level=INTERMEDIATE, motion=Motion.PEDAL,
            heard=Heard.TRIAD),
        Way("b7:@1", Root.HERE, (on.here_minor, on.same),
            "{x}, a triad a whole step down, over the root of {here}, which stays in the bass "
            "until {goal} is back.", level=INTERMEDIATE, motion=Motion.PEDAL,
            heard=Heard.TRIAD, taste=6),
        Way("b2:maj7@1", Root.HERE, (on.here_minor, on.here_tonic, on.same),
            "{x} a half step up, over the root of {here}, which stays in the bass until {goal} "
            "is back.", level=ADVANCED, motion=Motion.PEDAL),
    ), example=Example(
                "Cmaj7 2, +D/C 1, +Db/C 1",
                left="0 2 C3, 2 1 C3, 3 1 C3",
                right="0 2 G3 B3 E4, 2 1 F#3 A3 D4, 3 1 F3 Ab3 Db4",
                landing="Cmaj7 A4",
                held="G4")),
)
