"""Where the tune sings the minor third over a printed major chord, no hand strikes the major one
(common practice; a printed seventh makes a sharp nine of it)."""

from fractions import Fraction

import pytest
from tests.fills.builders import chorus_of, one_task
from tests.sweep import every

from fillwright.fills import fills_of

pytestmark = pytest.mark.slow

AS_HELD = [("F5", 3), ("A5", 1), ("A5", 4)]
SUNG_BEFORE = [("F5", 1), ("A5", 3), ("G5", 4)]
LANDED_ON = [("A5", 3), ("F5", 1), ("E5", 4)]


def struck_thirds(melody: list[tuple[str, int]], chord: str, family: str, level: str) -> set[str]:
    """The devices that strike the F sharp of D in the first bar; in a line it may lead on to G.
    A stroke that takes an added chord half a beat early is that chord's, whose third it is not."""
    task = one_task(chorus_of("4/4", "C", 132, melody, [(chord, 4), ("Dm", 4)]), 1,
                    level=level)
    fills = fills_of(task, family, 4)
    if isinstance(fills, str):
        return set()
    return {fill.device for fill in fills for span in fill.chords if not span.added
            for note in fill.notes
            if note.midi % 12 == 6 and (family != "line" or note.hand == "left")
            and span.onset_quarter <= note.onset_quarter < span.end_quarter
            and not any(added.added and note.onset_quarter + Fraction(1, 2) == added.onset_quarter
                        for added in fill.chords)}


@every([AS_HELD, SUNG_BEFORE, LANDED_ON], ["comp", "reharm", "line"],
       ["beginner", "intermediate", "advanced"])
def test_no_hand_strikes_a_third_that_the_tune_denies(melody: list[tuple[str, int]], family: str,
                                                      level: str) -> None:
    assert not struck_thirds(melody, "D", family, level)


@every(["beginner", "intermediate", "advanced"])
def test_in_a_line_the_denied_third_only_leads_up(level: str) -> None:
    """Over G under a B flat, B leads to C if it comes at all, and not down to A."""
    task = one_task(chorus_of("4/4", "C", 63, [("Bb5", 2), ("A5", 1), ("G5", 1), ("A5", 4)],
                              [("G", 2), ("D", 2), ("Dm", 4)]), 1, level=level)
    fills = fills_of(task, "line", 6)
    assert not isinstance(fills, str)
    for fill in fills:
        line = [n.midi % 12 for n in fill.notes if n.hand == "right"]
        row = [*line, 9]
        assert all(0 in row[place + 1:place + 3]
                   for place, pitch_class in enumerate(row) if pitch_class == 11), fill.device


def test_a_tune_that_sings_both_thirds_or_a_printed_seventh_leaves_it() -> None:
    both = [("F5", 1), ("F#5", 3), ("A5", 4)]
    assert struck_thirds(both, "D", "comp", "intermediate") or struck_thirds(
        [("A5", 3), ("F#5", 1), ("A5", 4)], "D", "comp", "intermediate")
    assert struck_thirds(AS_HELD, "D7", "comp", "advanced")


def test_a_third_sung_over_the_chord_before_denies_nothing() -> None:
    """A flat over B flat 7 is its seventh; the tune comes to F an eighth early."""
    chorus = chorus_of("4/4", "F", 132, [("Ab5", 1), ("G5", "1/2"), ("F5", "5/2"), ("C5", 4)],
                       [("Bb7", 2), ("F", 2), ("C7", 4)])
    span = one_task(chorus, 1).spans[0]
    assert str(span.harmony.symbol) == "F"
    assert span.harmony.third == "3"
