"""What stands a tritone away, or a half step beside: substitutes and chords that slide."""

from __future__ import annotations

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.reharm import conditions as on
from fillwright.fills.devices.reharm.device import Fare, Heard, Motion, Move, Root, Stands, Way
from fillwright.fills.player import ADVANCED, INTERMEDIATE

__all__ = ["SUBSTITUTES"]

SUBSTITUTES: tuple[Move, ...] = (
    Move("tritone substitute", Fare.USUAL, (
        Way("b2:7", Root.GOAL, (on.goal_dominant, on.here_its_two),
            "{x} is the tritone substitute of {dominant}, the dominant of {goal}{both}; the "
            "bass steps down a half step onto the coming dominant ({bass}).",
            level=INTERMEDIATE, motion=Motion.PARALLEL, heard=Heard.BASS, taste=-8),
        Way("b2:7", Root.GOAL, (on.goal_dominant, ~on.here_its_two),
            "{x} is the tritone substitute of {dominant}, the dominant of {goal}{both}; the "
            "bass steps down a half step onto the coming dominant.",
            level=INTERMEDIATE, motion=Motion.PARALLEL),
        Way("b2:7", Root.GOAL, (on.target, ~on.goal_dominant),
            "{x} is the tritone substitute of {dominant}, the dominant of {goal}{both}; the "
            "bass steps down a half step ({bass}).",
            level=INTERMEDIATE, motion=Motion.PARALLEL, heard=Heard.BASS),
    ), example=Example(
                "Cmaj7 2, +Gb7 2",
                left="0 2 C3 G3, 2 2 Gb3",
                right="0 2 E4 B4, 2 2 Fb4 Ab4 Bb4 Db5",
                landing="Fmaj7 A4",
                held="E5")),
    Move("II V of the tritone substitute", Fare.RICH, (
        Way("b6:m7 b2:7", Root.GOAL, (on.target,),
            "{x} is the II that belongs to {y}, the tritone substitute of {dominant}; the bass "
            "falls a fifth and then a half step ({bass}).",
            level=ADVANCED, beats=4, motion=Motion.PARALLEL, heard=Heard.BASS),
    ), example=Example(
                "Cmaj7 2, +Dbm7 1, +Gb7 1",
                left="0 2 C3 G3, 2 1 Db3 Ab3, 3 1 Gb3 Bb3",
                right="0 2 E4 B4, 2 1 Fb4 Cb5, 3 1 Fb4 Ab4 Db5",
                landing="Fmaj7 A4",
                held="E5")),
    Move("sidestepped II V", Fare.RICH, (
        Way("b2:m7 b5:7", Root.HERE, (on.here_minor, on.here_its_two, on.goal_dominant),
            "{row} are the II V a half step too high; {leads}, back into the II V that is "
            "written.", level=ADVANCED, beats=3, motion=Motion.PARALLEL),
    ), example=Example(
                "Dm7 2, +Ebm7 1, +Ab7 1",
                left="0 2 D3 C4, 2 1 Eb3 Db4, 3 1 Ab2 Gb3",
                right="0 2 F4, 2 1 Gb4, 3 1 C4 F4",
                landing="G7 B4")),
    Move("II, then the tritone substitute", Fare.RICH, (
        Way("2:m7 b2:7", Root.GOAL, (on.goal_major, ~on.here_flat_nine),
            "{x} is the II of {goal}; {y} stands for its V{dominant_both}, so the bass walks "
            "down in half steps ({walk}).",
            level=INTERMEDIATE, beats=3, motion=Motion.PARALLEL, heard=Heard.WALK),
        Way("2:m7b5 b2:7", Root.GOAL, (on.goal_minor, ~on.here_its_five),
            "{x} is the II of {goal}; {y} stands for its V{dominant_both}, so the bass walks "
            "down in half steps ({walk}).",
            level=ADVANCED, beats=3, motion=Motion.PARALLEL, heard=Heard.WALK),
    ), example=Example(
                "Cmaj7 2, +Gm7 1, +Gb7 1",
                left="0 2 C3 G3, 2 1 G3, 3 1 Gb3",
                right="0 2 E4 A4, 2 1 D4 F4 Bb4, 3 1 Db4 Fb4 Bb4",
                landing="Fmaj7 A4",
                held="C5")),
    Move("dominant, then its tritone substitute", Fare.RICH, (
        Way("4:7", Root.HERE, (on.here_minor_or_half, on.goal_dominant, on.half_step_down),
            "{x} makes a II V with {here}; {goal}, its tritone substitute, then takes its "
            "place.", level=ADVANCED),
        Way("4:7", Root.HERE, (on.here_dominant, on.goal_dominant, on.half_step_down),
            "{x} is where {here} leads; {goal}, its tritone substitute, then takes its place.",
            level=INTERMEDIATE),
        Way("b5:7", Root.HERE, (on.here_dominant, ~on.here_sus, on.goal_fifth_below),
            "{x} is {here} a tritone away{both_here}; the bass then steps down a half step to "
            "{goal}.", level=INTERMEDIATE, motion=Motion.PARALLEL),
    ), example=Example(
                "Dm7 2, +G7 2",
                left="0 2 D3, 2 2 G2 F3",
                right="0 2 F3 A3 C4 E4, 2 2 B3 E4",
                landing="Db7 A4",
                held="G4")),
    Move("tritone substitute in place of the dominant", Fare.USUAL, (
        Way("b5:7", Root.HERE, (on.here_dominant, ~on.here_sus, on.goal_fifth_below),
            "{x} takes the place of {here}, a tritone away{both_here}; the bass steps down a "
            "half step to {goal}.", level=INTERMEDIATE, beats=1, motion=Motion.PARALLEL,
            stands=Stands.INSTEAD),
    ), example=Example(
                "Dm7 2, +Db7 2",
                left="0 2 D3 C4, 2 2 Db3 Cb4",
                right="0 2 F4 A4, 2 2 F4 Ab4",
                landing="Cmaj7 G4")),
    Move("substitute put off by the II", Fare.RICH, (
        Way("b5:7", Root.GOAL, (on.goal_minor, on.goal_a_two, on.goal_its_two,
                                ~on.goal_on_this_root),
            "{x} lies a half step above the V that {goal}, its II, puts off.",
            level=INTERMEDIATE, motion=Motion.PARALLEL),
    ), example=Example(
                "Cmaj7 3/2, +Ab7 5/2",
                left="0 3/2 C3 A3, 3/2 5/2 Ab2 Gb3",
                right="0 3/2 E4 G4, 3/2 5/2 C4 F4",
                landing="Dm7 A4",
                held="C5")),
    Move("dominants down in half steps", Fare.RICH, (
        Way("2:7 b2:7", Root.GOAL, (on.goal_major, ~on.here_its_five),
            "{row} slide down in half steps into {goal} ({walk}): each is the tritone "
            "substitute of a dominant.",
            level=ADVANCED, beats=3, motion=Motion.PARALLEL, heard=Heard.WALK),
        Way("b3:7 2:7 b2:7", Root.GOAL, (on.goal_major, ~on.here_its_five),
            "{row} slide down in half steps into {goal} ({walk}).",
            level=ADVANCED, beats=4, motion=Motion.PARALLEL, heard=Heard.WALK),
        Way("b3:7 2:7", Root.GOAL, (on.goal_dominant, ~on.same, ~on.here_its_two),
            "{row} slide down in half steps towards {goal} ({walk}), a chain of dominants.",
            level=ADVANCED, beats=4, motion=Motion.PARALLEL),
    ), example=Example(
                "Cmaj7 3/2, +G7 3/2, +Gb7 1",
                left="0 3/2 C3 G3, 3/2 3/2 G3, 3 1 Gb3",
                right="0 3/2 E4 B4 D5, 3/2 3/2 F4 A4 B4 D5, 3 1 Fb4 Ab4 Bb4 Db5",
                landing="Fmaj7 A4",
                held="E5")),
    Move("chromatic approach from above", Fare.RICH, (
        Way("b2:=", Root.GOAL, (~on.goal_dominant, on.goal_stable, ~on.goal_inverted, ~on.same,
                                ~on.alike),
            "{x} is {goal} a half step too high, and the harmony goes down into it ({bass}).",
            level=INTERMEDIATE, motion=Motion.PARALLEL, heard=Heard.BASS),
        Way("b2:=", Root.GOAL, (~on.goal_dominant, on.goal_stable, ~on.goal_inverted, on.same),
            "{x} is {goal} a half step too high: the harmony goes up and back ({bass}).",
            level=ADVANCED, motion=Motion.PARALLEL, heard=Heard.BASS, taste=6),
        Way("2:= b2:=", Root.GOAL, (on.goal_stable, ~on.goal_major, on.here_tonic, ~on.same),
            "{row} slide down by half steps into {goal} ({bass}).",
            level=ADVANCED, beats=4, motion=Motion.PARALLEL, heard=Heard.BASS),
    ), example=Example(
                "Cmaj7 3/2, +Ebm7 5/2",
                left="0 3/2 C3, 3/2 5/2 Eb3",
                right="0 3/2 G4 B4 D5, 3/2 5/2 Gb4 Ab4 Db5",
                landing="Dm7 A4",
                held="F5")),
    Move("chromatic approach from below", Fare.RICH, (
        Way("7:=", Root.GOAL, (on.goal_minor, ~on.goal_inverted, ~on.same, on.goal_plain_fifth),
            "{x} is {goal} a half step too low, and the harmony goes up into it ({bass}).",
            level=INTERMEDIATE, motion=Motion.PARALLEL, heard=Heard.BASS, taste=14),
        Way("7:=", Root.GOAL, (on.goal_stable, ~on.goal_inverted, on.same, on.goal_plain_fifth),
            "{x} is {goal} a half step too low: the harmony goes down and back ({bass}).",
            level=ADVANCED, motion=Motion.PARALLEL, heard=Heard.BASS, taste=6),
    ), example=Example(
                "Cmaj7 3/2, +C#m7 5/2",
                left="0 3/2 C3 G3, 3/2 5/2 C#3 G#3",
                right="0 3/2 E4 B4, 3/2 5/2 E4 B4",
                landing="Dm7 A4",
                held="E5")),
    Move("chromatic passing chord", Fare.USUAL, (
        Way("7:=", Root.GOAL, (on.alike, ~on.goal_inverted, on.whole_step_up),
            "{x} fills the whole step between {here} and {goal}, sliding up by half steps "
            "({bass}).", level=INTERMEDIATE, motion=Motion.PARALLEL, heard=Heard.BASS,
            slides=True),
        Way("b2:=", Root.GOAL, (on.alike, ~on.goal_inverted, on.whole_step_down),
            "{x} fills the whole step between {here} and {goal}, sliding down by half steps "
            "({bass}).", level=INTERMEDIATE, motion=Motion.PARALLEL, heard=Heard.BASS,
            slides=True),
    ), example=Example(
                "Em7 2, +Ebm7 2",
                left="0 2 E3, 2 2 Eb3 Db4",
                right="0 2 E4 G4 B4, 2 2 F4 Gb4 Bb4",
                landing="Dm7 A4",
                held="Eb5")),
)
