"""Chords borrowed from the minor key: the minor IV and the back door, flat VI, VII, III and II."""

from __future__ import annotations

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.reharm import conditions as on
from fillwright.fills.devices.reharm.device import Fare, Heard, Motion, Move, Root, Way
from fillwright.fills.player import ADVANCED, INTERMEDIATE

__all__ = ["BORROWED"]

BORROWED: tuple[Move, ...] = (
    Move("backdoor", Fare.RICH, (
        Way("b7:7", Root.GOAL, (on.goal_major, on.goal_tonic, ~on.here_its_five),
            "{x} comes in by the back door: a whole step under {goal}{guides}.",
            level=INTERMEDIATE),
        Way("4:m7 b7:7", Root.GOAL, (on.goal_major, on.goal_tonic, ~on.here_its_five),
            "{row} are the back door to {goal}: the minor IV and the dominant a whole step "
            "under it{guides}.", level=INTERMEDIATE, beats=3),
        Way("4:m6 b7:7", Root.GOAL, (on.goal_major, on.goal_tonic, on.here_its_five),
            "{here} does not fall home yet: {row} come in by the back door, a whole step under "
            "{goal}{guides}.", level=INTERMEDIATE, beats=3),
        Way("4:m7 b7:7", Root.GOAL, (on.goal_major, ~on.goal_tonic, ~on.here_its_five),
            "{row} come into {goal} from a whole step below, as by a back door{guides}.",
            level=ADVANCED, beats=3),
        Way("b7:7", Root.KEY, (on.goal_minor, on.goal_third_degree),
            "{x} comes in by the back door, not to the tonic but to {goal}, which stands for "
            "it.", level=INTERMEDIATE),
    ), example=Example(
                "Cmaj7 2, +Fm7 1, +Bb7 1",
                left="0 2 C3, 2 1 F2 C3, 3 1 Bb2 F3",
                right="0 2 G3 B3 E4, 2 1 Ab3 Eb4, 3 1 Ab3 D4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("IV minor", Fare.USUAL, (
        Way("4:m6", Root.GOAL, (on.goal_major, on.goal_tonic, ~on.here_its_five),
            "{x} is the minor IV of {goal}{guides}."),
        Way("1:m6", Root.HERE, (on.here_major, on.here_fourth_degree, ~on.same),
            "{here} turns minor: its third falls a half step ({inner}); {leads}.",
            motion=Motion.INNER_LINE, heard=Heard.LINE),
    ), example=Example(
                "Cmaj7 3/2, +Fm6 5/2",
                left="0 3/2 C3, 3/2 5/2 F2 C3",
                right="0 3/2 G3 B3 E4, 3/2 5/2 Ab3 D4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("IV, then IV minor", Fare.USUAL, (
        Way("4:maj7 4:m6", Root.GOAL, (on.goal_major, on.goal_tonic, ~on.here_its_five,
                                        ~on.here_fourth_degree),
            "{x} and {y} lead into {goal}: the third of {x} falls by half steps ({inner}).",
            beats=3, motion=Motion.INNER_LINE, heard=Heard.LINE),
        Way("1:m6 b7:7", Root.HERE, (on.here_major, on.here_fourth_degree, ~on.same),
            "{here} turns minor and goes on through the back door; {leads}.",
            level=INTERMEDIATE, beats=3),
        Way("1:maj7", Root.GOAL, (on.goal_minor, on.goal_fourth_degree, on.major_key,
                                  ~on.goal_on_this_root, ~on.goal_inverted),
            "{x} is {goal} with a major third, which falls a half step on the way ({turn}): the "
            "IV, then the minor IV."),
    ), example=Example(
                "Cmaj7 2, +Fmaj7 1, +Fm6 1",
                left="0 2 C3, 2 1 F2 C3, 3 1 F2 C3",
                right="0 2 G3 B3 E4, 2 1 A3 E4, 3 1 Ab3 D4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("IV and back", Fare.PLAIN, (
        Way("4:maj7", Root.GOAL, (on.same, on.goal_major, on.goal_tonic),
            "{x} is the neighbour on the fourth degree{sharing}: the harmony breathes out and "
            "comes back."),
        Way("4:m7", Root.GOAL, (on.same, on.goal_minor),
            "{x} is the neighbour on the fourth degree{sharing}: the harmony breathes out and "
            "comes back."),
        Way("4:7", Root.GOAL, (on.same, on.goal_minor, on.here_tonic),
            "{x} is the neighbour on the fourth degree with a major third, as in the Dorian "
            "mode{sharing}.", level=INTERMEDIATE),
        Way("4:7", Root.GOAL, (on.same, on.goal_dominant),
            "{x} is the neighbour on the fourth degree, a dominant as in a blues."),
        Way("4:7", Root.GOAL, (on.same, on.goal_major, on.goal_tonic),
            "{x} is the neighbour on the fourth degree, with the seventh of a blues{sharing}.",
            level=INTERMEDIATE, taste=10),
    ), example=Example(
                "Cmaj7 2, +Fmaj7 2",
                left="0 2 C3, 2 2 F2 C3",
                right="0 2 G3 B3 E4, 2 2 A3 E4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("flat VI, flat VII, home", Fare.RICH, (
        Way("b6:maj7 b7:7", Root.GOAL, (on.goal_major, on.goal_tonic, ~on.here_its_five),
            "{row} climb by whole steps into {goal} ({walk}): the flat VI and flat VII, "
            "borrowed from the minor key.", level=INTERMEDIATE, beats=3,
            motion=Motion.PARALLEL, heard=Heard.WALK),
        Way("b6:maj7 b7:7", Root.KEY, (on.goal_major, on.goal_third_degree),
            "{row} borrow the flat VI and flat VII of the minor key before {goal}.",
            level=ADVANCED, beats=3),
    ), example=Example(
                "Cmaj7 2, +Abmaj7 1, +Bb7 1",
                left="0 2 C3, 2 1 Ab2 Eb3, 3 1 Bb2 F3",
                right="0 2 G3 B3 E4, 2 1 G3 C4, 3 1 Ab3 D4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("flat VI before the dominant", Fare.RICH, (
        Way("b6:maj7", Root.KEY, (on.goal_dominant, on.goal_fifth_degree, on.major_key),
            "{x} is the flat VI of {key}, borrowed from the minor key: the bass steps down a "
            "half step to {goal}{guides}.", level=INTERMEDIATE, motion=Motion.PARALLEL),
        Way("b6:7", Root.KEY, (on.goal_dominant, on.goal_fifth_degree, ~on.here_its_two),
            "{x} lies on the flat VI: it slides down a half step to {goal}.",
            level=INTERMEDIATE, motion=Motion.PARALLEL),
    ), example=Example(
                "Cmaj7 2, +Abmaj7 2",
                left="0 2 C3, 2 2 Ab2",
                right="0 2 G3 B3 E4, 2 2 G3 Bb3 C4 Eb4",
                landing="G7 A4",
                held="G4")),
    Move("flat III", Fare.RICH, (
        Way("b3:maj7", Root.KEY, (on.here_tonic, on.here_major, on.goal_second_degree),
            "{x} is the flat III, borrowed from the minor key: the bass steps down to "
            "{goal}{sharing}.", level=INTERMEDIATE, motion=Motion.PARALLEL),
        Way("b3:maj7 b6:maj7", Root.KEY, (on.goal_dominant, on.goal_fifth_degree, on.major_key),
            "{row} are the flat III and flat VI, borrowed from the minor key; the bass then "
            "steps down a half step to {goal}.",
            level=ADVANCED, beats=3, motion=Motion.PARALLEL),
        Way("b3:maj7 4:6", Root.GOAL, (on.goal_major, on.goal_tonic, ~on.here_its_five),
            "{x}, the flat III of the minor key, and the IV lead home to {goal} without a "
            "dominant{guides}.", level=INTERMEDIATE, beats=3),
    ), example=Example(
                "Cmaj7 3/2, +Ebmaj7 5/2",
                left="0 3/2 C3, 3/2 5/2 Eb3",
                right="0 3/2 G3 B3 E4, 3/2 5/2 G3 C4 D4 F4",
                landing="Dm7 A4",
                held="G4")),
    Move("flat II major", Fare.RICH, (
        Way("b2:maj7", Root.GOAL, (on.goal_major, on.goal_tonic),
            "{x} stands a half step above {goal} in place of a dominant: the whole chord "
            "sinks home ({walk}).", level=INTERMEDIATE, motion=Motion.PARALLEL,
            heard=Heard.WALK),
        Way("b6:maj7 b2:maj7", Root.GOAL, (on.goal_major, on.goal_tonic),
            "{row} are the flat VI and flat II as major sevenths: a fifth down, then a half "
            "step home to {goal} ({walk}).", level=ADVANCED, beats=3, motion=Motion.PARALLEL),
        Way("2:m7 b2:maj7", Root.GOAL, (on.goal_major, on.goal_tonic, ~on.here_its_five),
            "{x} is the II of {goal}; {y} takes the place of the dominant, and the bass walks "
            "down in half steps ({walk}).",
            level=ADVANCED, beats=3, motion=Motion.PARALLEL, heard=Heard.WALK),
    ), example=Example(
                "Cmaj7 2, +Abmaj7 1, +Dbmaj7 1",
                left="0 2 C3, 2 1 Ab2, 3 1 Db3",
                right="0 2 G3 B3 E4, 2 1 F3 Bb3 C4 Eb4, 3 1 F3 Bb3 C4 Eb4",
                landing="Cmaj7 A4",
                held="G4")),
)
