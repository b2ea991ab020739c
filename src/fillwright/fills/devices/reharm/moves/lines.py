"""One voice moves while the rest stays: line clichés in minor and in major."""

from __future__ import annotations

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.reharm import conditions as on
from fillwright.fills.devices.reharm.device import Fare, Heard, Motion, Move, Root, Stands, Way
from fillwright.fills.player import ADVANCED, INTERMEDIATE

__all__ = ["LINES"]

LINES: tuple[Move, ...] = (
    Move("line cliché in minor", Fare.RICH, (
        Way("1:m(maj7) 1:m7 1:m6", Root.HERE, (on.here_minor, ~on.here_inverted),
            "Over {here} one voice falls by half steps from the root ({inner}).",
            level=INTERMEDIATE, beats=4, motion=Motion.INNER_LINE, heard=Heard.LINE),
        Way("1:m(maj7) 1:m7", Root.HERE, (on.here_minor, ~on.here_inverted),
            "Over {here} one voice falls by half steps from the root ({inner}).",
            level=INTERMEDIATE, beats=3, motion=Motion.INNER_LINE, heard=Heard.LINE),
        Way("b6:maj7@1 1:m6 b6:maj7@1", Root.HERE, (on.here_minor, ~on.here_inverted, on.same),
            "Over the root of {here} one voice rises from the fifth and falls back ({inner}).",
            level=INTERMEDIATE, beats=4, motion=Motion.INNER_LINE, heard=Heard.LINE),
        Way("b6:maj7@1 1:m6", Root.HERE, (on.here_minor, ~on.here_inverted, ~on.goal_fifth_below),
            "Over the root of {here} one voice rises by half steps from the fifth ({inner}).",
            level=INTERMEDIATE, beats=3, motion=Motion.INNER_LINE, heard=Heard.LINE),
    ), example=Example(
                "Dm7 2, +Dm(maj7) 1, +Dm7 1",
                left="0 2 D3, 2 1 D2 C#3, 3 1 D2 C3",
                right="0 2 F3 A3 C4 E4, 2 1 F3 A3 E4, 3 1 F3 A3 E4",
                landing="G7 A4",
                held="G4")),
    Move("line cliché in major", Fare.RICH, (
        Way("1:maj7 1:7", Root.HERE, (on.here_major, on.goal_fifth_below, ~on.here_inverted),
            "Over {here} one voice falls by half steps from the root into {goal} ({inner}).",
            level=INTERMEDIATE, beats=3, motion=Motion.INNER_LINE, heard=Heard.LINE),
        Way("1:+ 1:6", Root.HERE, (on.here_major, on.here_tonic, ~on.here_inverted),
            "Over {here} one voice rises by half steps from the fifth ({inner}).",
            level=INTERMEDIATE, beats=3, motion=Motion.INNER_LINE, heard=Heard.LINE, taste=36),
        Way("1:+ 1:6 1:7", Root.HERE, (on.here_major, on.goal_fifth_below, ~on.here_inverted),
            "Over {here} one voice rises by half steps from the fifth to the seventh "
            "({inner}), and then {goal} takes it.",
            level=ADVANCED, beats=4, motion=Motion.INNER_LINE, heard=Heard.LINE),
        Way("1:+ 1:6 1:+", Root.HERE, (on.here_major, on.same, ~on.here_inverted),
            "Over {here} one voice rises from the fifth and falls back ({inner}).",
            level=INTERMEDIATE, beats=4, motion=Motion.INNER_LINE, heard=Heard.LINE, taste=16),
    ), example=Example(
                "Cmaj7 2, +C+ 1, +C6 1",
                left="0 2 C3, 2 1 C3, 3 1 C3",
                right="0 2 E4 G4 B4, 2 1 E4 G#4 C5, 3 1 E4 G4 A4",
                landing="Fmaj7 A4",
                held="E5")),
    Move("colour change: the fifth falls", Fare.USUAL, (
        Way("1:m7b5", Root.HERE, (on.here_its_two, on.here_minor, on.goal_dominant),
            "Only the colour of {here} changes: its fifth falls a half step on the way into "
            "{goal} ({inner}), as in a minor II V.",
            level=INTERMEDIATE, motion=Motion.INNER_LINE, heard=Heard.LINE, taste=10),
    ), example=Example(
                "Dm7 2, +Dm7b5 2",
                left="0 2 D3 C4, 2 2 D3 C4",
                right="0 2 F4 A4, 2 2 F4 Ab4",
                landing="G7 B4"), colour=True),
    Move("colour change: sus, then its third", Fare.USUAL, (
        Way("1:7", Root.HERE, (on.here_sus, on.goal_fifth_below, ~on.here_inverted),
            "Only the colour of {here} changes: its fourth falls to the third on the way into "
            "{goal} ({inner}).", motion=Motion.INNER_LINE, heard=Heard.LINE, taste=6),
    ), example=Example(
                "G7sus4 2, +G7 2",
                left="0 2 G2 F3, 2 2 G2 F3",
                right="0 2 C4 D4, 2 2 B3 D4",
                landing="Cmaj7 A4",
                held="G4"), colour=True),
    Move("colour change: sus, 13, altered", Fare.USUAL, (
        Way("1:9sus4 1:13 1:7alt", Root.HERE, (on.here_dominant, ~on.here_sus,
                                               on.goal_fifth_below),
            "Only the colour of {here} changes: the third is held back, and from {x} to {y} the "
            "colours fall by half steps.", level=ADVANCED, beats=3, motion=Motion.INNER_LINE,
            stands=Stands.COLOUR, taste=14),
    ), example=Example(
                "+G9sus4 1, +G13 1, +G7alt 2",
                left="0 1 G2 F3, 1 1 G2 F3, 2 2 G2 F3",
                right="0 1 A3 C4, 1 1 B3 E4, 2 2 B3 Eb4",
                landing="Cmaj7 E4"), colour=True),
    Move("colour change: sus, then altered", Fare.USUAL, (
        Way("1:9sus4 1:7alt", Root.HERE, (on.here_dominant, ~on.here_sus, on.goal_fifth_below),
            "Only the colour of {here} changes: the third is held back, then the tensions lead "
            "into {goal}.", level=INTERMEDIATE, motion=Motion.INNER_LINE,
            stands=Stands.COLOUR, taste=16),
    ), example=Example(
                "+G9sus4 2, +G7alt 2",
                left="0 2 G2 F3, 2 2 G2 F3",
                right="0 2 C4 E4, 2 2 B3 Eb4",
                landing="Cmaj7 A4",
                held="G4"), colour=True),
    Move("colour change: 13, then flat 13", Fare.USUAL, (
        Way("1:13 1:7b13", Root.HERE, (on.here_dominant, ~on.here_sus, ~on.here_raised_fifth,
                                       on.goal_fifth_below),
            "Only the colour of {here} changes: the thirteenth falls a half step on the way into "
            "{goal}.", level=INTERMEDIATE, motion=Motion.INNER_LINE, stands=Stands.COLOUR,
            taste=16),
    ), example=Example(
                "+G13 2, +G7b13 2",
                left="0 2 G2 F3, 2 2 G2 F3",
                right="0 2 B3 E4, 2 2 B3 Eb4",
                landing="Cmaj7 E4"), colour=True),
)
