"""The bass walks: up and down the scale, by half steps, in thirds, through inversions."""

from __future__ import annotations

from fillwright.fills.devices.device import Example
from fillwright.fills.devices.reharm import conditions as on
from fillwright.fills.devices.reharm.device import Fare, Heard, Motion, Move, Root, Way
from fillwright.fills.player import ADVANCED, INTERMEDIATE

__all__ = ["WALKS"]

WALKS: tuple[Move, ...] = (
    Move("diatonic walk-up", Fare.PLAIN, (
        Way("+1", Root.HERE, (on.up(2),),
            "{x} lies between {here} and {goal} in {key}: the bass walks up the scale "
            "({bass}).", motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("+1 +2", Root.HERE, (on.up(3),),
            "{row} walk up from {here} to {goal} on the steps of {key} ({bass}).",
            beats=3, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("2:m7 1:@3", Root.HERE, (on.here_tonic, on.here_major, on.up(3)),
            "{x}, then {here} with its third in the bass: the bass walks up the scale to {goal} "
            "({bass}).", beats=3, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("+1 +2 +3", Root.HERE, (on.up(4),),
            "{row} walk up from {here} to {goal} on the steps of {key} ({bass}).",
            level=INTERMEDIATE, beats=4, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("+1 +2", Root.HERE, (on.here_tonic, on.goal_after_the_three, ~on.up(3), ~on.same),
            "{row} walk up the steps of {key} ({bass}); {leads}.",
            beats=3, motion=Motion.CONTRARY, heard=Heard.BASS),
    ), example=Example(
                "Cmaj7 2, +Dm7 1, +Em7 1",
                left="0 2 C3, 2 1 D3, 3 1 E3",
                right="0 2 G3 A3 D4 E4, 2 1 F3 A3 C4 E4, 3 1 A3 B3 D4",
                landing="Fmaj7 A4",
                held="G4")),
    Move("diatonic walk-up and back", Fare.PLAIN, (
        Way("+1 +2 +1", Root.HERE, (on.same, on.here_tonic),
            "{row} walk up the steps of {key} and back to {goal} ({bass}).",
            beats=4, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("+1", Root.HERE, (on.same, on.here_tonic),
            "{x} is the next step of {key}: the bass steps up and comes back ({bass}).",
            motion=Motion.CONTRARY, heard=Heard.BASS),
    ), example=Example(
                "Cmaj7 1, +Dm7 1, +Em7 1, +Dm7 1",
                left="0 1 C3, 1 1 D3, 2 1 E3, 3 1 D3",
                right="0 1 G3 A3 D4 E4, 1 1 F3 A3 C4 E4, 2 1 A3 B3 D4, 3 1 F3 A3 C4 E4",
                landing="Cmaj7 A4",
                held="G4")),
    Move("diatonic walk-down", Fare.PLAIN, (
        Way("-1", Root.HERE, (on.down(2), ~on.here_dominant),
            "{x} lies between {here} and {goal} in {key}: the bass walks down the scale "
            "({bass}).", motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("-1 -2", Root.HERE, (on.down(3),),
            "{row} walk down from {here} to {goal} on the steps of {key} ({bass}).",
            beats=3, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("-1 -2 -3", Root.HERE, (on.down(4),),
            "{row} walk down from {here} to {goal} on the steps of {key} ({bass}).",
            level=INTERMEDIATE, beats=4, motion=Motion.CONTRARY, heard=Heard.BASS),
    ), example=Example(
                "Cmaj7 2, +Bm7b5 1, +Am7 1",
                left="0 2 C3, 2 1 B2, 3 1 A2",
                right="0 2 G3 B3 E4, 2 1 F3 A3 D4, 3 1 G3 B3 C4 E4",
                landing="G7 A4",
                held="G4")),
    Move("bass line down through the seventh", Fare.RICH, (
        Way("3:m7@7 6:m7", Root.HERE, (on.here_tonic, on.here_major, ~on.here_inverted,
                                      ~on.same, on.goal_after_line),
            "The bass walks down from {here} over its seventh to {y} ({bass}), while the chord "
            "above moves little: {x} has its fifth below; {leads}.",
            level=INTERMEDIATE, beats=3, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("3:m7@7 6:m7 6:m7@5", Root.HERE, (on.here_tonic, on.here_major,
                                             ~on.here_inverted, on.goal_fourth_degree),
            "The bass walks down the scale from {here} to {goal} ({bass}): {x} has its fifth "
            "below, then come the VI and its fifth.",
            level=INTERMEDIATE, beats=4, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("1:m7@b7", Root.HERE, (on.here_minor, ~on.here_inverted, on.whole_line_down),
            "The seventh of {here} goes into the bass, which walks down to {goal} ({bass}).",
            motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("1:m7@b7 6:m7b5", Root.HERE, (on.here_minor, ~on.here_inverted,
                                          on.goal_sixth_below),
            "The bass walks down from {here} over its seventh and sixth to {goal} ({bass}).",
            level=INTERMEDIATE, beats=3, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("1:7@b7", Root.HERE, (on.here_major, ~on.here_inverted, on.goal_fourth_inverted),
            "{here} turns into a dominant with its seventh in the bass, which steps down to the "
            "third of "
            "{goal} ({bass}).", motion=Motion.CONTRARY, heard=Heard.BASS),
    ), example=Example(
                "Cmaj7 2, +Em/B 1, +Am7 1",
                left="0 2 C3, 2 1 B2, 3 1 A2",
                right="0 2 G3 B3 E4, 2 1 G3 D4 E4, 3 1 G3 B3 C4 E4",
                landing="Fmaj7 A4",
                held="G4")),
    Move("walk-up with chromatic passing chord", Fare.USUAL, (
        Way("2:m7 b3:m7 3:m7", Root.KEY, (on.here_tonic, on.here_major, on.goal_after_the_three),
            "{row}: between the II and the III of {key} the bass takes the half step too "
            "({bass}).", level=INTERMEDIATE, beats=4, motion=Motion.CONTRARY,
            heard=Heard.BASS),
        Way("2:m7 b3:m6 3:m7", Root.KEY, (on.here_tonic, on.here_major, on.goal_after_the_three),
            "{row}: a minor sixth chord fills the half step between the II and the III of "
            "{key} ({bass}).", level=ADVANCED, beats=4, motion=Motion.CONTRARY,
            heard=Heard.BASS),
        Way("2:m7 #2:dim7 3:m7", Root.KEY, (on.here_tonic, on.here_major,
                                            on.goal_after_the_three),
            "{row}: a diminished chord leads from the II up to the III of {key} ({bass}).",
            level=INTERMEDIATE, beats=4, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("2:m7 b3:m7 3:m7 b3:m7 2:m7", Root.KEY, (on.here_tonic, on.here_major, on.same),
            "{row}: up the half steps to the III of {key} and back the same way ({bass}).",
            level=INTERMEDIATE, beats=6, motion=Motion.CONTRARY, heard=Heard.BASS),
        Way("#1:dim7 2:m7 #2:dim7", Root.KEY, (on.here_tonic, on.here_major,
                                               on.goal_third_step),
            "Two passing diminished chords and the II between them: the bass climbs by half "
            "steps ({bass}).", level=INTERMEDIATE, beats=4, motion=Motion.CONTRARY,
            heard=Heard.BASS),
    ), example=Example(
                "Cmaj7 1, +Dm7 1, +D#dim7 1, +Em7 1",
                left="0 1 C3 G3, 1 1 D3 G3, 2 1 D#3 F#3, 3 1 E3 A3",
                right="0 1 E4 B4, 1 1 C4 F4 A4, 2 1 C4 E#4 A4, 3 1 D4 G4 B4",
                landing="Fmaj7 A4",
                held="D5")),
    Move("walk-down with chromatic passing chord", Fare.USUAL, (
        Way("3:m7 b3:m7 2:m7", Root.KEY, (on.here_tonic, on.here_major, on.goal_after_the_two),
            "{row}: from the III of {key} down to the II by half steps ({walk}); {leads}.",
            level=INTERMEDIATE, beats=4, motion=Motion.PARALLEL, heard=Heard.WALK),
        Way("3:m7 b3:dim7", Root.KEY, (on.here_tonic, on.here_major, on.goal_second_degree),
            "{x}, then a diminished chord: the bass walks down by half steps to {goal} "
            "({walk}).", level=INTERMEDIATE, beats=3, motion=Motion.PARALLEL,
            heard=Heard.WALK),
        Way("#4:m7b5 4:m6 1:@3 b3:dim7", Root.KEY, (on.here_tonic, on.here_major,
                                                    on.goal_second_degree),
            "The bass walks down by half steps from the raised fourth to {goal} ({walk}), and "
            "every chord has the tonic in it.", level=ADVANCED, beats=5, heard=Heard.WALK),
        Way("3:m7 b3:7", Root.KEY, (on.here_tonic, on.here_major, on.goal_second_degree),
            "{x}, then {y}, the tritone substitute of the dominant of {goal}: the bass walks "
            "down by half steps ({walk}).", level=ADVANCED, beats=3, motion=Motion.PARALLEL,
            heard=Heard.WALK),
    ), example=Example(
                "Cmaj7 2, +Em7 1, +Eb7 1",
                left="0 2 C3, 2 1 E2 B2, 3 1 Eb2 Bb2",
                right="0 2 G3 B3 E4, 2 1 G3 D4, 3 1 G3 Db4",
                landing="Dm7 A4",
                held="G4")),
    Move("thirds walking under a common top note", Fare.RICH, (
        Way("2:m7 b3:dim7 1:6@3", Root.HERE, (on.here_six, on.goal_after_the_three),
            "The bass walks up in thirds ({bass}) while {top} stays on top: it belongs to every "
            "one of {here}, {row}.",
            level=INTERMEDIATE, beats=4, motion=Motion.THIRDS, heard=Heard.BASS),
        Way("2:m7 b3:dim7 1:@3", Root.HERE, (on.here_six, on.goal_after_the_three),
            "Thirds walk up ({bass}) while {top} stays on top: it belongs to every one of "
            "{here}, {row}.", beats=4, motion=Motion.THIRDS, heard=Heard.BASS),
    ), example=Example(
                "Cmaj7 1, +Dm7 1, +Ebdim7 1, +C6/E 1",
                left="0 1 C3 E3, 1 1 D3 F3, 2 1 Eb3 Gb3, 3 1 E3 G3",
                right="0 1 D4 E4 G4 A4, 1 1 C4 E4 F4 A4, 2 1 C4 Eb4 Gb4 A4, 3 1 D4 E4 G4 A4",
                landing="Fmaj7 A4",
                held="C5")),
    Move("thirds walking up and back under a common top note", Fare.RICH, (
        Way("2:m7 b3:dim7 1:6@3 b3:dim7 2:m7", Root.HERE, (on.here_six, on.same),
            "Thirds walk up and back ({bass}) while {top} stays on top: it belongs to every "
            "chord.", level=INTERMEDIATE, beats=6, motion=Motion.THIRDS, heard=Heard.BASS),
    ), example=Example(
                "Cmaj7 1, +Dm7 1, +Ebdim7 1, +C6/E 1, +Ebdim7 1, +Dm7 1",
                left="0 1 C3 E3, 1 1 D3 F3, 2 1 Eb3 Gb3, 3 1 E3 G3, 4 1 Eb3 Gb3, 5 1 D3 F3",
                right="0 1 D4 E4 G4 A4, 1 1 C4 E4 F4 A4, 2 1 C4 F4 A4, 3 1 D4 E4 A4, 4 1 C4 F4"
                      " A4, 5 1 C4 E4 A4",
                landing="Cmaj7 A4",
                held="C5")),
)
