"""Dominants of the chord that comes, with and without their II."""

from __future__ import annotations

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.reharm import conditions as on
from fillwright.fills.devices.reharm.device import (
    Fare,
    Heard,
    Motion,
    Move,
    Root,
    Stands,
    Way,
)
from fillwright.fills.player import ADVANCED, INTERMEDIATE

__all__ = ["DOMINANTS"]

DOMINANTS: tuple[Move, ...] = (
    Move("major chord turning dominant", Fare.PLAIN, (
        Way("1:7", Root.HERE, (on.here_major, on.goal_fifth_below, on.target, ~on.goal_inverted,
                               ~on.here_inverted, ~on.five_a_triad),
            "{here} turns into a dominant on its own root: {x} wants to go on to {goal}{guides}."),
    ), example=Example(
                "Cmaj7 2, +C7 2",
                left="0 2 C3, 2 2 C3",
                right="0 2 G3 B3 E4, 2 2 G3 Bb3 E4",
                landing="Fmaj7 A4",
                held="G4")),
    Move("secondary dominant", Fare.PLAIN, (
        Way("5:7", Root.GOAL, (on.target, ~on.goal_tonic, ~on.goal_dominant, ~on.here_its_two,
                                ~on.five_a_triad),
            "{x} is the dominant of {goal}: {falls}{guides}."),
        Way("5:7", Root.GOAL, (on.target, ~on.goal_tonic, ~on.goal_dominant, on.here_its_two,
                                ~on.five_a_triad),
            "{x} is the dominant of {goal}: {falls}{guides}."),
        Way("5:7", Root.GOAL, (on.target, ~on.goal_tonic, on.goal_dominant, ~on.five_a_triad),
            "{x} is the dominant of the coming dominant {goal}: {falls}{guides}."),
    ), example=Example(
                "Cmaj7 2, +A7 2",
                left="0 2 C3, 2 2 A2 G3",
                right="0 2 G3 B3 E4, 2 2 A3 C#4",
                landing="Dm7 A4",
                held="E5")),
    Move("dominant on the way", Fare.PLAIN, (
        Way("5:7", Root.GOAL, (on.target, on.goal_tonic, ~on.five_a_triad),
            "{x} is the dominant of {goal}: {falls}{guides}."),
    ), example=Example(
                "Cmaj7 2, +G7 2",
                left="0 2 C3 G3, 2 2 G2 F3",
                right="0 2 B3 E4, 2 2 B3 E4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("V as a triad", Fare.PLAIN, (
        Way("5:", Root.GOAL, (on.target, on.five_a_triad),
            "{x} is the V of {goal}, a triad without a seventh as the tune has it: "
            "{falls}{guides}."),
    ), example=Example(
                "C 2, +G 2",
                left="0 2 C3 G3, 2 2 G2 D3",
                right="0 2 C4 E4, 2 2 B3",
                landing="C E4",
                held="G4")),
    Move("related II before the dominant", Fare.USUAL, (
        Way("5:m7", Root.GOAL, (on.goal_dominant, ~on.here_its_two, ~on.same,
                                ~on.goal_leads_to_minor_key),
            "{x} is the II that belongs to {goal}: together they make a II V{sharing}."),
        Way("5:m7b5", Root.GOAL, (on.goal_dominant, ~on.here_its_two, ~on.same,
                                  on.goal_leads_to_minor_key),
            "{x} is the II that belongs to {goal}: together they make a minor II V{sharing}.",
            level=INTERMEDIATE),
        Way("5:m7", Root.GOAL, (on.here_dominant, on.goal_dominant, ~on.same,
                                on.goal_leads_to_minor_key),
            "{x} is the II of {goal}, taken from the major key on its root{sharing}.", taste=8),
        Way("5:m7", Root.GOAL, (on.goal_dominant, on.same, ~on.goal_leads_to_minor_key),
            "{here} steps aside to {x}, its own II, and comes again{sharing}."),
        Way("5:m7b5", Root.GOAL, (on.goal_dominant, on.same, on.goal_leads_to_minor_key),
            "{here} steps aside to {x}, its own II, and comes again{sharing}.",
            level=INTERMEDIATE),
    ), example=Example(
                "Cmaj7 2, +Dm7 2",
                left="0 2 C3, 2 2 D3",
                right="0 2 G3 B3 E4, 2 2 F3 A3 C4 E4",
                landing="G7 A4",
                held="G4")),
    Move("dominant delayed by its II", Fare.USUAL, (
        Way("5:m7", Root.HERE, (on.here_dominant, on.goal_fifth_below, ~on.here_flat_nine,
                                ~on.here_sus, ~on.two_before, ~on.here_begun),
            "{x}, the II that belongs to {here}, comes first: the dominant becomes a II V.",
            stands=Stands.DELAY, taste=4),
        Way("5:m7b5", Root.HERE, (on.here_dominant, on.goal_fifth_below, on.here_flat_nine,
                                  ~on.two_before, ~on.here_begun),
            "{x}, the II of a minor key, comes before {here}: the dominant becomes a II V.",
            level=INTERMEDIATE, stands=Stands.DELAY, taste=4),
    ), example=Example(
                "+Dm7 2, G7 2",
                left="0 2 D3, 2 2 G2 F3",
                right="0 2 F3 A3 C4, 2 2 B3 E4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("dominant as a minor II V", Fare.RICH, (
        Way("5:m7b5 1:7alt", Root.HERE, (on.here_dominant, on.goal_fifth_below, on.goal_minor,
                                         ~on.here_sus, ~on.two_before, ~on.here_begun),
            "{here} is played as a minor II V: {x} comes first, then {y} with its altered colours "
            "leads into {goal}.", level=ADVANCED, stands=Stands.COLOUR),
        Way("5:m7b5 1:7alt", Root.HERE, (on.here_dominant, on.goal_fifth_below, on.goal_major,
                                         ~on.here_sus, ~on.two_before, ~on.here_begun),
            "{here} is played as a II V of the minor key: {x} comes first, then {y} with its "
            "altered colours leads into {goal}, which is major after all.",
            level=ADVANCED, stands=Stands.COLOUR, taste=8),
    ), example=Example(
                "+Dm7b5 2, +G7alt 2",
                left="0 2 D3, 2 2 G2 F3",
                right="0 2 Ab3 C4 F4, 2 2 B3 Eb4",
                landing="Cm7 Eb4",
                held="G4",
                key="Cm")),
    Move("half-diminished II before the dominant", Fare.USUAL, (
        Way("5:m7b5", Root.GOAL, (on.goal_dominant, on.goal_resolves, on.goal_leads_to_minor,
                                 ~on.here_its_two),
            "{x} is the II of a minor key before its dominant {goal}, which leads to a minor "
            "chord{sharing}.", level=INTERMEDIATE),
        Way("5:m7b5", Root.GOAL, (on.goal_dominant, on.goal_resolves, ~on.goal_leads_to_minor,
                                 ~on.here_its_two),
            "{x} borrows the II of the minor key for its dominant {goal}{sharing}.",
            level=INTERMEDIATE),
    ), example=Example(
                "Cmaj7 2, +Dm7b5 2",
                left="0 2 C3, 2 2 D3",
                right="0 2 G3 B3 E4, 2 2 Ab3 C4 F4",
                landing="G7 A4",
                held="G4")),
    Move("dominant turning minor", Fare.USUAL, (
        Way("1:7", Root.GOAL, (on.goal_minor, on.goal_a_two, on.goal_its_two,
                               ~on.goal_on_this_root),
            "{x} is {goal} with a major third, which falls a half step on the way ({turn}); "
            "{leads}.", level=INTERMEDIATE),
    ), example=Example(
                "Cmaj7 3/2, +D7 5/2",
                left="0 3/2 C3 G3, 3/2 5/2 D3 A3",
                right="0 3/2 E4 B4, 3/2 5/2 F#4 C5",
                landing="Dm7 A4",
                held="E5")),
    Move("II V into the coming chord", Fare.USUAL, (
        Way("2:m7 5:7", Root.GOAL, (on.goal_major, ~on.here_its_five),
            "{row} are the II V of {goal}: {fifths}{guides}.", beats=3),
        Way("2:m7 5:7", Root.GOAL, (on.goal_dominant, ~on.here_its_five),
            "{row} are the II V of {goal}: {fifths}{guides}.", beats=3),
        Way("2:m7b5 5:7b9", Root.GOAL, (on.goal_minor, ~on.here_its_five),
            "{row} are the minor II V of {goal}: {fifths}{guides}.", level=INTERMEDIATE, beats=3,
            taste=-10),
        Way("2:m7b5 5:7", Root.GOAL, (on.goal_minor, ~on.here_its_five),
            "{row} are the minor II V of {goal}: {fifths}{guides}.", beats=3),
        Way("2:m7 5:7", Root.GOAL, (on.goal_minor, ~on.here_its_five),
            "{row} are a II V into {goal}; the II is taken from the major key on its "
            "root{guides}.", level=INTERMEDIATE, beats=3, taste=8),
        Way("2:m7 5:9sus4 5:7", Root.GOAL, (on.goal_major, ~on.here_its_five),
            "{x} is the II of {goal}; its V keeps the fourth at first, which falls into the "
            "third{guides}.", beats=4),
        Way("2:m7 5:9sus4", Root.GOAL, (on.goal_major, ~on.here_its_five),
            "{row} are the II V of {goal}, the V without its third: the fourth stays until {goal} "
            "comes{guides}.", beats=3),
    ), example=Example(
                "Cmaj7 2, +Gm7 1, +C7 1",
                left="0 2 C3, 2 1 G2 C3, 3 1 C3",
                right="0 2 G3 B3 E4, 2 1 F3 Bb3 D4, 3 1 G3 Bb3 E4",
                landing="Fmaj7 A4",
                held="G4")),
    Move("altered dominant", Fare.RICH, (
        Way("5:7alt", Root.GOAL, (on.goal_minor, ~on.here_its_five, ~on.goal_inverted),
            "{x} is the dominant of {goal} in altered colours: {falls}{guides}.",
            level=ADVANCED, taste=6),
        Way("5:7alt", Root.GOAL, (on.goal_major, ~on.here_its_five, ~on.goal_inverted),
            "{x} is the dominant of {goal} in altered colours: {falls}{guides}.",
            level=ADVANCED, taste=16),
        Way("5:7b9", Root.GOAL, (on.target, on.goal_minor, ~on.here_its_five, ~on.goal_inverted,
                                 ~on.five_a_triad),
            "{x} is the dominant of {goal} with the flat nine of a minor key, which falls a half "
            "step onto its fifth: {falls}{guides}.", level=ADVANCED, taste=4),
        Way("5:7b9", Root.GOAL, (on.target, on.goal_major, ~on.here_its_five, ~on.goal_inverted,
                                 ~on.five_a_triad),
            "{x} is the dominant of {goal} with a flat nine, borrowed from the minor key, which "
            "falls a half step onto its fifth: {falls}{guides}.", level=ADVANCED, taste=10),
        Way("2:m7b5 5:7alt", Root.GOAL, (on.goal_minor, on.goal_tonic, ~on.here_its_five,
                                         ~on.goal_inverted),
            "{row} are the minor II V of {goal}, the V in altered colours: {fifths}{guides}.",
            level=ADVANCED, beats=3),
    ), example=Example(
                "Am7 2, +E7alt 2",
                left="0 2 A2 G3, 2 2 E3 D4",
                right="0 2 A4 C5, 2 2 G#4 C5",
                landing="Am7 A4",
                held="E5",
                key="Am")),
    Move("cycle of dominants", Fare.USUAL, (
        Way("2:7 5:7", Root.GOAL, (on.target, ~on.here_its_five),
            "{row}: each dominant is the dominant of the next, down to {goal}{guides}.",
            level=INTERMEDIATE, beats=3),
        Way("6:7 2:7 5:7", Root.GOAL, (on.target, ~on.here_its_five),
            "{row}: each dominant is the dominant of the next, down to {goal}{guides}.",
            level=INTERMEDIATE, beats=4),
        Way("3:7 6:7 2:7 5:7", Root.GOAL, (on.target, ~on.here_its_five),
            "{row}: each dominant is the dominant of the next, down to {goal}{guides}.",
            level=ADVANCED, beats=5),
    ), example=Example(
                "Cmaj7 3/2, +G7 3/2, +C7 1",
                left="0 3/2 C3 G3, 3/2 3/2 G2 F3, 3 1 C3 G3",
                right="0 3/2 B3 E4, 3/2 3/2 B3 E4, 3 1 Bb3 E4",
                landing="Fmaj7 A4",
                held="G4")),
    Move("II V that turns aside", Fare.USUAL, (
        Way("4:7", Root.HERE, (on.here_minor, ~on.same, ~on.goal_fifth_below, ~on.next_two_five,
                               ~on.goal_dominant, ~on.goal_whole_step_below),
            "{here} and {x} make a II V that does not come home: {leads}.",
            level=INTERMEDIATE),
    ), example=Example(
                "Dm7 2, +G7 2",
                left="0 2 D3, 2 2 G2 F3",
                right="0 2 F3 A3 C4 E4, 2 2 B3 E4",
                landing="Em7 A4",
                held="G4")),
    Move("dominant of the same II", Fare.PLAIN, (
        Way("4:7", Root.HERE, (on.here_minor, ~on.here_tonic, on.same, on.two_goes_on),
            "{x} is the dominant that belongs to {here}, which then comes again{sharing}."),
    ), example=Example(
                "Cm7 3/2, +F7 5/2",
                left="0 3/2 C3, 3/2 5/2 F2 C3",
                right="0 3/2 G3 Bb3 Eb4, 3/2 5/2 A3 Eb4",
                landing="Cm7 G4",
                held="G4",
                key="Bb")),
    Move("chain of II V", Fare.RICH, (
        Way("4:7", Root.HERE, (on.here_minor_or_half, on.next_two_five),
            "{here} and {x} make a II V; the next one, with {goal}, begins a half step lower "
            "before it has come home.", level=INTERMEDIATE),
        Way("3:m7 6:7 2:m7 5:7", Root.GOAL, (on.goal_major, ~on.here_its_five),
            "{row} are two II Vs, the second a whole step under the first, down to "
            "{goal}{guides}.", level=INTERMEDIATE, beats=5),
        Way("b7:m7 b3:7 b6:7 b2:7", Root.GOAL, (on.target, on.third_below),
            "{row} fall by fifths, and the last slips down a half step to {goal}.",
            level=ADVANCED, beats=5),
        Way("#2:m7 #5:7 2:m7 5:7", Root.GOAL, (on.goal_major, on.goal_tonic, ~on.here_its_five),
            "{row} are two II Vs, the second a half step under the first: one sidestep, then "
            "home to {goal}.", level=ADVANCED, beats=4),
    ), example=Example(
                "+D#m7 1, +G#7 1, +Dm7 1, +G7 1",
                left="0 1 D#3 C#4, 1 1 G#3 D#4, 2 1 D3 A3, 3 1 G3 B3",
                right="0 1 F#4 A#4, 1 1 F#4 B#4, 2 1 F4 C5, 3 1 F4 A4 D5",
                landing="Cmaj7 A4",
                held="F5")),
    Move("augmented dominant", Fare.RICH, (
        Way("1:7#5", Root.HERE, (on.here_major, on.goal_fifth_below, on.goal_third_major,
                                 ~on.here_inverted),
            "{here} turns into a dominant, and its fifth rises by half steps into {goal} "
            "({inner}).",
            level=INTERMEDIATE, motion=Motion.INNER_LINE, heard=Heard.LINE),
        Way("5:7#5", Root.GOAL, (on.goal_major, ~on.here_its_five, ~on.here_its_two),
            "{x} is the dominant of {goal} with its fifth raised, which leads up a half step "
            "({inner}).", level=INTERMEDIATE, motion=Motion.INNER_LINE, heard=Heard.LINE),
        Way("5:7 5:7#5", Root.GOAL, (on.goal_major, ~on.here_its_five),
            "The fifth of {x} rises by half steps into {goal} ({inner}): the dominant, then "
            "augmented.", level=INTERMEDIATE, beats=3, motion=Motion.INNER_LINE,
            heard=Heard.LINE),
    ), example=Example(
                "Cmaj7 2, +G7 1, +G7#5 1",
                left="0 2 C3 G3, 2 1 G2 F3, 3 1 G2 F3",
                right="0 2 E4, 2 1 D4, 3 1 D#4",
                landing="Cmaj7 G4",
                held="B4")),
)
