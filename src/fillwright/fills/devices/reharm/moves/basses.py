"""The bass line is the idea: chords over their third, their fifth or their seventh, so that it
steps from root to root."""

from __future__ import annotations

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.reharm import conditions as on
from fillwright.fills.devices.reharm.device import Fare, Heard, Motion, Move, Root, Way
from fillwright.fills.player import ADVANCED, INTERMEDIATE

__all__ = ["BASSES"]

BASSES: tuple[Move, ...] = (
    Move("written chord over its third", Fare.PLAIN, (
        Way("1:@3", Root.HERE, (on.here_major, ~on.here_inverted, on.goal_over_the_third),
            "{here} stays, and its third goes into the bass, which walks up to {goal} "
            "({bass}).", motion=Motion.CONTRARY, heard=Heard.BASS, taste=8),
        Way("1:m7@b3", Root.HERE, (on.here_minor, ~on.here_inverted, on.goal_over_the_third),
            "{here} stays, and its third goes into the bass, which walks up to {goal} "
            "({bass}).", motion=Motion.CONTRARY, heard=Heard.BASS, taste=16),
    ), example=Example(
                "Cmaj7 2, +C/E 2",
                left="0 2 C3 G3, 2 2 E3",
                right="0 2 E4 B4, 2 2 G4 C5",
                landing="Fmaj7 A4",
                held="E5"), colour=True),
    Move("dominant over its third", Fare.RICH, (
        Way("5:7@7", Root.GOAL, (on.goal_stable, on.target, ~on.goal_inverted, ~on.here_its_five,
                                 ~on.over_its_leading_tone, ~on.same,
                                 on.bass_by_step_to_the_third),
            "{x} is the dominant of {goal} with its third in the bass, which steps on into the "
            "root of {goal} ({bass}).",
            level=INTERMEDIATE, motion=Motion.CONTRARY, heard=Heard.BASS, taste=4),
        Way("5:7@7", Root.GOAL, (on.goal_stable, on.target, ~on.goal_inverted, ~on.here_its_five,
                                 ~on.over_its_leading_tone, ~on.bass_by_step_to_the_third),
            "{x} is the dominant of {goal} with its third in the bass, which leads up a half "
            "step to the root of {goal} ({bass}).",
            level=INTERMEDIATE, motion=Motion.CONTRARY, heard=Heard.BASS, taste=12),
    ), example=Example(
                "Cmaj7 2, +A7/C# 2",
                left="0 2 C3 G3, 2 2 C#3",
                right="0 2 E4 B4, 2 2 G4 A4",
                landing="Dm7 A4",
                held="E5")),
    Move("bass line down through inversions", Fare.RICH, (
        Way("5:@7", Root.HERE, (on.here_major, on.here_tonic, ~on.here_inverted,
                                on.third_below, on.goal_minor),
            "{x}, the dominant over its third, takes the bass down the scale from {here} to "
            "{goal} ({bass}).", motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("5:@7 6:m7", Root.HERE, (on.here_major, on.here_tonic, ~on.here_inverted, ~on.same,
                                     on.goal_after_line),
            "The bass walks down the scale from {here} ({bass}): {x} has its third below, and "
            "{leads}.", beats=3, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("5:@7 6:m7 1:@5", Root.HERE, (on.here_major, on.here_tonic, ~on.here_inverted,
                                          on.goal_fourth_degree),
            "The bass walks down the scale from {here} to {goal} ({bass}): {x} has its third "
            "below, {y} its fifth.",
            level=INTERMEDIATE, beats=4, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("3:m7@7", Root.HERE, (on.here_major, ~on.here_inverted, on.third_below,
                                 on.goal_minor),
            "{x}, a third above {here}, has the leading tone in the bass, on the way down to "
            "{goal} ({bass}).",
            level=INTERMEDIATE, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("3:m7@7 1:7@b7", Root.HERE, (on.here_major, ~on.here_inverted, on.third_below),
            "The bass falls by half steps from {here} to {goal} ({bass}): it is the fifth of {x}, "
            "then the seventh of {y}.",
            level=INTERMEDIATE, beats=3, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("1:7@b7", Root.HERE, (on.here_major, ~on.here_inverted, on.whole_line_down),
            "{here} turns into a dominant with its seventh in the bass, which steps down to {goal} "
            "({bass}).", level=INTERMEDIATE, motion=Motion.CONTRARY, heard=Heard.BASS),
    ), example=Example(
                "C 2, +G/B 2",
                left="0 2 C3 G3, 2 2 B2",
                right="0 2 E4 C5, 2 2 D4 G4",
                landing="Am7 A4",
                held="G5")),
    Move("bass line up through inversions", Fare.RICH, (
        Way("5:@2 1:@3", Root.HERE, (on.here_major, on.here_tonic, ~on.here_inverted, on.up(3)),
            "The bass walks up the scale to {goal} ({bass}): {x} has its fifth below, {y} its "
            "third.", beats=3, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("5:@2 1:@3 1:7@3", Root.HERE, (on.here_major, on.here_tonic, ~on.here_inverted,
                                           on.up(3), on.goal_major),
            "The bass walks up the scale ({bass}): {x} has its fifth below, then the third of "
            "{here} waits there for the seventh that leads to {goal}.",
            level=INTERMEDIATE, beats=4, motion=Motion.CONTRARY, heard=Heard.BASS),
    ), example=Example(
                "C 2, +G/D 1, +C/E 1",
                left="0 2 C3, 2 1 D3, 3 1 E3",
                right="0 2 G3 C4 E4, 2 1 G3 B3, 3 1 G3 C4",
                landing="Fmaj7 A4",
                held="G4")),
    Move("line cliché in the bass", Fare.RICH, (
        Way("1:m(maj7)@7 1:m7@b7 1:m6@6", Root.HERE, (on.here_minor, ~on.here_inverted,
                                                      ~on.goal_fifth_below),
            "{here} stays while the bass falls by half steps from its root ({climb}).",
            level=INTERMEDIATE, beats=4, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("1:m(maj7)@7 1:m7@b7", Root.HERE, (on.here_minor, ~on.here_inverted,
                                               on.third_below),
            "{here} stays while the bass falls by half steps from its root to {goal} ({bass}).",
            level=INTERMEDIATE, beats=3, motion=Motion.CONTRARY, heard=Heard.BASS),
    ), example=Example(
                "Dm7 1, +Dm(maj7)/C# 1, +Dm7/C 1, +Dm6/B 1",
                left="0 1 D3, 1 1 C#3, 2 1 C3, 3 1 B2",
                right="0 1 F3 A3 C4 E4, 1 1 F3 A3 D4, 2 1 F3 A3 D4, 3 1 F3 A3 D4",
                landing="Bbmaj7 A4",
                held="A4")),
    Move("bass line down through the minor IV", Fare.RICH, (
        Way("1:7@b7 4:@6 4:m6@b6 1:@5", Root.HERE, (on.here_major, ~on.here_inverted,
                                                    on.goal_from_the_fifth),
            "The bass walks down from {here} to its fifth ({bass}): the seventh, the IV over its "
            "third, the minor IV, and {y}.",
            level=INTERMEDIATE, beats=5, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("1:7@b7 4:@6 4:m6@b6", Root.HERE, (on.here_major, ~on.here_inverted, on.same),
            "The bass walks down from {here} ({bass}): the seventh, the IV over "
            "its third, the minor IV, which goes home.",
            level=INTERMEDIATE, beats=4, motion=Motion.CONTRARY, heard=Heard.BASS),
    ), example=Example(
                "Cmaj7 1, +C7/Bb 1, +F/A 1, +Fm6/Ab 1, +C/G 1",
                left="0 1 C3, 1 1 Bb2, 2 1 A2, 3 1 Ab2, 4 1 G2",
                right="0 1 E4 G4, 1 1 E4 G4, 2 1 F4 A4, 3 1 F4 Ab4 D5, 4 1 E4 G4",
                landing="Cmaj7 A4",
                held="C5")),
    Move("bass line up through the IV", Fare.RICH, (
        Way("1:7@3 4:6 #4:dim7 1:@5", Root.HERE, (on.here_major, ~on.here_inverted,
                                                  on.goal_from_the_fifth),
            "The bass climbs to the fifth of {here} ({bass}): {x} has its third below, and a "
            "diminished chord leads from the IV to {y}.",
            level=INTERMEDIATE, beats=5, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("1:@3 4:6 #4:dim7", Root.HERE, (on.here_major, on.here_tonic, ~on.here_inverted,
                                            on.goal_fifth_degree),
            "The bass climbs from {here} to the dominant {goal} ({bass}), the last step by "
            "a diminished chord.",
            level=INTERMEDIATE, beats=4, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("4:maj7 #4:dim7", Root.KEY, (on.goal_fifth_degree, on.goal_dominant, on.major_key,
                                         on.here_tonic),
            "{row} walk up to the dominant {goal} by half steps ({walk}).",
            level=INTERMEDIATE, beats=3, motion=Motion.CONTRARY, heard=Heard.WALK),
        Way("4:maj7 #4:m7b5", Root.KEY, (on.goal_fifth_degree, on.goal_dominant, on.major_key,
                                         on.here_tonic),
            "{row} walk up to the dominant {goal} by half steps ({walk}), while the chord above "
            "hardly moves.",
            level=ADVANCED, beats=3, motion=Motion.CONTRARY, heard=Heard.WALK),
    ), example=Example(
                "C 1, +C7/E 1, +F6 1, +F#dim7 1, +C/G 1",
                left="0 1 C3, 1 1 E3, 2 1 F3, 3 1 F#3, 4 1 G3",
                right="0 1 E4 G4, 1 1 G4 Bb4, 2 1 A4 D5, 3 1 A4 Eb5, 4 1 E4 G4",
                landing="Cmaj7 A4",
                held="C5")),
    Move("bass line up to the third", Fare.RICH, (
        Way("#1:dim7 2:m7 1:7@3", Root.HERE, (on.here_dominant, ~on.here_inverted, ~on.here_sus,
                                              on.goal_fifth_below),
            "The bass climbs from the root of {here} to its third ({bass}), and {goal} is the "
            "next step.",
            level=INTERMEDIATE, beats=4, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("2:m7 1:7@3", Root.HERE, (on.here_dominant, ~on.here_inverted, ~on.here_sus,
                                      on.goal_fifth_below),
            "The bass climbs from the root of {here} over {x} to its third ({bass}), and {goal} "
            "is the next step.", beats=3, motion=Motion.CONTRARY, heard=Heard.BASS),
    ), example=Example(
                "G7 2, +Am7 1, +G7/B 1",
                left="0 2 G2 D3, 2 1 A2, 3 1 B2",
                right="0 2 F4 B4, 2 1 G4 C5, 3 1 G4",
                landing="Cmaj7 E4",
                held="D5")),
)
