"""Diminished chords: passing, on a root that stays, and for the dominant they stand for."""

from __future__ import annotations

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.reharm import conditions as on
from fillwright.fills.devices.reharm.device import Fare, Heard, Motion, Move, Root, Way
from fillwright.fills.player import ADVANCED, INTERMEDIATE

__all__ = ["DIMINISHED"]

DIMINISHED: tuple[Move, ...] = (
    Move("passing diminished, rising", Fare.USUAL, (
        Way("7:dim7", Root.GOAL, (on.whole_step_up,),
            "{x} fills the whole step between {here} and {goal}: it is {dominant} with a flat "
            "nine{rootless}, and its bass leads up ({bass}).", heard=Heard.BASS),
        Way("7:dim7", Root.BASS, (on.goal_inverted, ~on.goal_on_tonic, on.whole_step_up),
            "{x} fills the whole step between the bass of {here} and that of {goal}, and leads "
            "up ({bass}).", heard=Heard.BASS),
        Way("7:dim7", Root.GOAL, (~on.whole_step_up, ~on.goal_diminished),
            "{x} is {dominant} with a flat nine{rootless}: it leads into {goal}, the bass up "
            "a half step."),
    ), example=Example(
                "Cmaj7 3/2, +Edim7 5/2",
                left="0 3/2 C3, 3/2 5/2 E2 Db3",
                right="0 3/2 G3 B3 E4, 3/2 5/2 G3 Bb3",
                landing="Fmaj7 A4",
                held="G4")),
    Move("passing diminished, falling", Fare.USUAL, (
        Way("b2:dim7", Root.GOAL, (on.whole_step_down, ~on.goal_diminished),
            "{x} fills the whole step between {here} and {goal}, the bass falling by half "
            "steps ({bass}).", heard=Heard.BASS),
        Way("b2:dim7", Root.GOAL, (~on.whole_step_down, on.goal_minor, ~on.here_its_five),
            "{x} passes from {here} down to {goal}: the bass reaches it by a half step.",
            level=INTERMEDIATE),
        Way("b2:dim7", Root.BASS, (on.goal_inverted, on.whole_step_down),
            "{x} fills the whole step between the bass of {here} and that of {goal}, falling by "
            "half steps ({bass}).", heard=Heard.BASS),
    ), example=Example(
                "Cmaj7 2, +Ebdim7 2",
                left="0 2 C3 A3, 2 2 Eb3 A3",
                right="0 2 E4 G4, 2 2 D4 Gb4",
                landing="Dm7 A4",
                held="C5")),
    Move("passing diminished and return", Fare.USUAL, (
        Way("1:dim7", Root.GOAL, (on.same, on.goal_stable, ~on.goal_dominant),
            "{x} stands on the root of {goal}: a diminished chord over the same bass, which then "
            "comes home.", motion=Motion.COMMON_TOP),
    ), example=Example(
                "Cmaj7 3/2, +Cdim7 5/2",
                left="0 3/2 C3 G3, 3/2 5/2 C3 Gb3",
                right="0 3/2 E4 A4, 3/2 5/2 Eb4 A4",
                landing="Cmaj7 A4",
                held="C5")),
    Move("diminished over the coming root", Fare.USUAL, (
        Way("1:dim7", Root.GOAL, (~on.same, on.goal_major),
            "{x} has the root of {goal} in the bass already; the other voices move into "
            "{goal} when it comes.",
            level=INTERMEDIATE),
    ), example=Example(
                "Cmaj7 3/2, +Fdim7 5/2",
                left="0 3/2 C3, 3/2 5/2 F2 Cb3",
                right="0 3/2 G3 B3 E4, 3/2 5/2 Ab3 D4",
                landing="Fmaj7 A4",
                held="G4")),
    Move("diminished on the root", Fare.USUAL, (
        Way("1:dim7", Root.HERE, (~on.same, on.here_major, on.here_tonic),
            "{x} keeps the root of {here}, with its third and fifth a half step lower; {leads}.",
            level=INTERMEDIATE, motion=Motion.COMMON_TOP),
    ), example=Example(
                "Cmaj7 3, +Cdim7 1",
                left="0 3 C3 G3, 3 1 C3 Gb3",
                right="0 3 E4 A4, 3 1 Eb4 A4",
                landing="Dm7 A4",
                held="C5")),
    Move("diminished before the dominant", Fare.USUAL, (
        Way("#4:dim7", Root.KEY, (on.goal_dominant, on.goal_fifth_degree),
            "{x} stands a half step under the root of {goal} and leads up into it."),
        Way("#1:dim7", Root.KEY, (on.here_tonic, on.here_major, on.goal_dominant,
                                  on.goal_fifth_degree),
            "{x} stands a half step above the root of {here}; {leads}.", level=INTERMEDIATE),
        Way("b3:dim7", Root.KEY, (~on.same, on.here_tonic, on.goal_dominant),
            "{x} keeps the root of {here} on top of a rising bass; {leads}.",
            level=INTERMEDIATE),
    ), example=Example(
                "Cmaj7 2, +C#dim7 2",
                left="0 2 C3, 2 2 C#3",
                right="0 2 G3 B3 E4, 2 2 G3 Bb3 E4",
                landing="G7 A4",
                held="G4")),
    Move("half-diminished on the raised fourth", Fare.USUAL, (
        Way("#4:m7b5", Root.KEY, (on.goal_fourth_degree, on.goal_stable, on.here_stable,
                                  ~on.turns, ~on.same),
            "{x} stands a half step above {goal}, and the bass slides down into it.",
            level=INTERMEDIATE),
        Way("#4:m7b5 4:m6", Root.KEY, (on.goal_on_tonic, on.goal_major, ~on.here_its_five),
            "{row} come down in half steps on the way home; {leads}.",
            level=ADVANCED, beats=3),
        Way("#4:m7b5 7:7", Root.KEY, (on.goal_third_degree, on.goal_minor),
            "{row} are the II V of {goal}, beginning on the raised fourth{guides}.",
            level=INTERMEDIATE, beats=3),
    ), example=Example(
                "Cmaj7 3/2, +F#m7b5 5/2",
                left="0 3/2 C3 G3, 3/2 5/2 F#3",
                right="0 3/2 E4 B4, 3/2 5/2 E4 A4 B4 C5",
                landing="Fmaj7 A4",
                held="E5")),
    Move("diminished before the tonic", Fare.USUAL, (
        Way("#4:dim7", Root.KEY, (on.goal_tonic, on.goal_over_its_fifth),
            "{x} leads up into the fifth under {goal}; {leads}."),
    ), example=Example(
                "Fmaj7 2, +F#dim7 2",
                left="0 2 F3, 2 2 F#3",
                right="0 2 C4 E4 A4, 2 2 C4 Eb4 A4",
                landing="C/G A4",
                held="C5")),
    Move("diminished for the dominant, in block chords", Fare.RICH, (
        Way("2:dim7 1:6@3", Root.HERE, (on.here_six, on.here_tonic, on.goal_after_the_three),
            "{here} moves up to its inversion ({climb}); {x} between them is {own_dominant}; "
            "{leads}.",
            level=INTERMEDIATE, beats=3, motion=Motion.PARALLEL, heard=Heard.WALK),
        Way("2:dim7 1:6@3 2:dim7", Root.HERE, (on.here_six, on.here_tonic, on.same),
            "{here} moves up to its inversion and back ({bass}); the diminished chord between "
            "them is {own_dominant}.",
            level=INTERMEDIATE, beats=4, motion=Motion.PARALLEL, heard=Heard.WALK),
        Way("2:dim7 1:6@3 4:dim7 1:6@5", Root.HERE, (on.here_six, on.here_tonic),
            "{here} climbs through its inversions ({climb}); the diminished chords between them "
            "are all {own_dominant}; {leads}.",
            level=ADVANCED, beats=5, motion=Motion.PARALLEL, heard=Heard.WALK),
    ), example=Example(
                "Cmaj7 2, +Ddim7 1, +C6/E 1",
                left="0 2 C3, 2 1 D3 F3, 3 1 E3 G3",
                right="0 2 G3 B3 D4 E4, 2 1 Ab3 Cb4 E4, 3 1 A3 D4 E4",
                landing="Fmaj7 A4",
                held="G4")),
)
