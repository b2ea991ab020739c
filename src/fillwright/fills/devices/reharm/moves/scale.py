"""Neighbours in the key: what stands for the written chord, what comes instead of a goal; and what
the tune itself has between two chords."""

from __future__ import annotations

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.reharm import conditions as on
from fillwright.fills.devices.reharm.device import Fare, Move, Root, Way
from fillwright.fills.player import INTERMEDIATE

__all__ = ["SCALE"]


def _on_the_way(group: str, degrees: str, does: str, example: Example) -> Move:
    dull = 34 if group == "tonic" else 10  # home is not gone back to on the way to the cadence
    return Move(f"{group} chord on the way", Fare.PLAIN, (
        Way(f"*{degrees}", Root.KEY, (~on.here_its_two, ~on.here_its_five, ~on.turns),
            "{x} is the {numeral} of {key}" + does + "{sharing_both}: {leads}."),
        Way(f"*{degrees}", Root.KEY, (on.turns,),
            "{x} comes before {here} turns into {goal}: {leads}.", taste=14),
        Way(f"*{degrees}", Root.KEY, (on.here_its_two,),
            "{x} parts the II from its V{sharing_both}: {leads}.", taste=dull),
    ), example)


SCALE: tuple[Move, ...] = (
    Move("chord standing for the written one", Fare.PLAIN, (
        Way("3:m7", Root.HERE, (on.here_major, ~on.here_its_five, ~on.same),
            "{x} stands for {here}{own}: {leads}.", level=INTERMEDIATE),
        Way("6:m7", Root.HERE, (on.here_major, ~on.here_its_five, ~on.same),
            "{x} stands for {here}{own}: {leads}."),
        Way("b3:maj7", Root.HERE, (on.here_minor, ~on.same),
            "{x} stands for {here}{own}: {leads}.", level=INTERMEDIATE),
        Way("3:m7b5", Root.HERE, (on.here_dominant, ~on.here_sus, ~on.here_raised_fifth,
                                  ~on.same),
            "{x} is the upper part of {here} with a ninth{own}: {leads}.",
            level=INTERMEDIATE),
    ), example=Example(
                "Cmaj7 3/2, +Am7 5/2",
                left="0 3/2 C3, 3/2 5/2 A2",
                right="0 3/2 G3 B3 E4, 3/2 5/2 G3 B3 C4 E4",
                landing="Fmaj7 A4",
                held="G4")),
    Move("tonic before it turns", Fare.USUAL, (
        Way("1:maj7", Root.GOAL, (on.here_its_five, on.goal_on_tonic, on.goal_dominant,
                                  ~on.goal_inverted, ~on.here_comes_back),
            "{x} is home for a moment, where {here} leads; its seventh then falls a half step, and "
            "home is a dominant."),
        Way("1:maj7", Root.GOAL, (on.here_its_five, on.goal_on_tonic, on.goal_minor,
                                  on.goal_a_two, on.goal_its_two, ~on.goal_inverted,
                                  ~on.here_comes_back),
            "{x} is home for a moment, where {here} leads; its third then falls a half step "
            "({turn}), and home is a II."),
    ), example=Example(
                "G7 2, +Cmaj7 2",
                left="0 2 G2 F3, 2 2 C3",
                right="0 2 B3 E4, 2 2 G3 B3 E4",
                landing="C7 A4",
                held="G4")),
    Move("deceptive cadence", Fare.USUAL, (
        Way("5:7", Root.KEY, (on.goal_for_tonic, ~on.here_dominant, ~on.same),
            "{x} is the dominant of {key}, which does not come: {leads}.", level=INTERMEDIATE),
        Way("3:7", Root.KEY, (on.goal_fourth_degree, on.goal_major, on.here_of_the_tonic),
            "{x} is the dominant of the sixth degree of {key}, which does not come: {leads}.",
            level=INTERMEDIATE),
    ), example=Example(
                "Cmaj7 2, +E7 2",
                left="0 2 C3 G3, 2 2 E3 G#3",
                right="0 2 E4 B4, 2 2 D4 F#4 B4",
                landing="Fmaj7 A4",
                held="E5")),
    _on_the_way("tonic", "1 3 6", "", Example(
        "Fmaj7 2, +Em7 2", left="0 2 F3, 2 2 E3", right="0 2 A3 C4 E4, 2 2 G3 B3 D4",
        landing="Dm7 A4", held="G4")),
    _on_the_way("subdominant", "2 4", ", a step away from home", Example(
        "Cmaj7 2, +Dm7 2", left="0 2 C3, 2 2 D3", right="0 2 G3 B3 E4, 2 2 F3 A3 C4 E4",
        landing="Fmaj7 A4", held="G4")),
    _on_the_way("dominant", "5 7", "", Example(
        "Cmaj7 2, +Bm7b5 2", left="0 2 C3, 2 2 B2", right="0 2 G3 B3 E4, 2 2 F3 A3 D4",
        landing="Dm7 A4", held="G4")),
    Move("as elsewhere in the tune", Fare.USUAL, (
        Way("~", Root.HERE, (), "{x} comes between {here} and {goal} as the tune has it in another "
            "place{sharing_both}."),
    ), example=Example(
                "C 2, +Bb7 2",
                left="0 2 C3 G3, 2 2 Bb2 F3",
                right="0 2 C4 E4, 2 2 Ab3 D4",
                landing="Em B4",
                held="G4",
                elsewhere="C Bb7 Em")),
)
