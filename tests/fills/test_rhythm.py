"""Comping rhythms: the syncopation measure on rhythms worked out by hand, and the generator."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.fills.builders import chorus_of, one_task

from fillwright.fills import ALL_LEVELS, RHYTHM_STYLES, Task, count_marks
from fillwright.fills.rhythm.grid import Rhythm, RhythmWindow, frame_of, style_of
from fillwright.fills.rhythm.patterns import generate
from fillwright.fills.rhythm.syncopation import bar_slots, syncopation
from fillwright.tune import Meter

EIGHTH = Fraction(1, 2)


def gap(meter: str = "4/4", tempo: int = 140, quarters: int = 4, level: str = "intermediate",
        feel: str = "swing") -> Task:
    chorus = chorus_of(meter, "C", tempo, [("G4", quarters), ("F4", 4)],
                       [("Cmaj7", quarters), ("Dm7", 4)], feel=feel)
    return one_task(chorus, 1, level)


def rhythms(task: Task, limit: int = 400, first: Fraction = EIGHTH, push: bool = True,
            opening: bool = True) -> tuple[Rhythm, ...]:
    length = task.duration_quarter
    window = RhythmWindow(first, length - EIGHTH, opening, pushes=(length,) if push else ())
    return generate(frame_of(task), window, limit)


def struck(places: set[int], count: int = 8) -> list[bool]:
    return [place in places for place in range(count)]


EIGHTS = [weight for _, weight in bar_slots(Meter(4, 4))]


def test_weights_of_the_metrical_tree() -> None:
    # Longuet-Higgins & Lee 1984: 0 for the bar, one less for each level below
    assert EIGHTS == [0, -3, -2, -3, -1, -3, -2, -3]
    assert [w for _, w in bar_slots(Meter(3, 4))] == [0, -2, -1, -2, -1, -2]
    assert [w for _, w in bar_slots(Meter(6, 8))] == [0, -2, -2, -1, -2, -2]
    assert [w for _, w in bar_slots(Meter(12, 8))] == [0, -3, -3, -2, -3, -3, -1, -3, -3, -2,
                                                       -3, -3]
    assert [w for _, w in bar_slots(Meter(5, 4))] == [0, -3, -2, -3, -2, -3, -1, -3, -2, -3]
    assert [w for _, w in bar_slots(Meter(2, 4), 3)] == [0, -2, -2, -1, -2, -2]
    assert bar_slots(Meter(7, 8))[-1][0] == 3


@pytest.mark.parametrize(("places", "value"), [
    # worked out by hand with the weights above; a note is struck on the next bar line
    ({0, 2, 4, 6}, 0),       # quarters
    ({0, 4}, 0),             # half notes
    ({0}, 0),
    ({0, 3}, 2),             # dotted quarter and eighth: 2& held over 3, -1 - -3
    ({1, 4}, 1),             # 1& held over 2: -2 - -3; the 3 is no syncopation
    ({2, 5}, 2),             # 2 held over 3: -1 - -2 = 1; 3& held over 4: -2 - -3 = 1
    ({0, 3, 6}, 2),          # three, three, two
    ({3, 7}, 2),             # 2& over 3: 2; 4& runs straight into the bar line
    ({1, 3, 5, 7}, 4),       # all off-beats: over 2: 1; over 3: 2; over 4: 1
    ({6}, 0),
    ({2}, 1),                # 2 held over 3
])
def test_syncopation_worked_by_hand(places: set[int], value: int) -> None:
    assert syncopation(struck(places), EIGHTS, last_weight=None) == value


def test_a_last_note_held_over_the_bar_line_counts() -> None:
    assert syncopation(struck({0, 7}), EIGHTS) == 3
    assert syncopation(struck({0, 7}), EIGHTS, last_weight=None) == 0


def test_syncopation_in_a_row_that_repeats() -> None:
    # the sixteen places of the son clave: 3 over 4 and 6 over 8, two each, by hand
    weights = [0, -4, -3, -4, -2, -4, -3, -4, -1, -4, -3, -4, -2, -4, -3, -4]
    assert syncopation(struck({0, 3, 6, 10, 12}, 16), weights, cyclic=True) == 4
    assert syncopation(struck({0, 4, 8, 12}, 16), weights, cyclic=True) == 0


def test_syncopation_wants_a_weight_for_every_place() -> None:
    with pytest.raises(ValueError, match="weight"):
        syncopation([True], [])


@pytest.mark.parametrize("shape", [{0, 3}, {1, 4}, {2, 5}, {3, 6}, {4, 7}, {3, 7}, {5, 7}])
def test_the_figure_its_shifts_and_off_beat_pairs_come_out(shape: set[int]) -> None:
    """Dotted quarter and eighth with its displacements, off-beat pairs (common practice)."""
    found: set[frozenset[int]] = set()
    for level in ("beginner", "intermediate", "advanced"):
        task = gap(level=level)
        for rhythm in rhythms(task, 60, first=Fraction(0), opening=False):
            found.add(frozenset(int(2 * onset) for onset in rhythm.onsets))
    assert frozenset(shape) in found


def test_the_figure_is_among_the_first_with_a_bed_under_it() -> None:
    """1 and 2&: with something struck on 1, the generator needs only the 2&."""
    best = [tuple(int(2 * o) for o in r.onsets) for r in rhythms(gap(level="beginner"), 10)]
    assert (2, 5) in best and (3, 5) in best


def test_pushes_are_only_on_the_last_off_beat_before_a_change() -> None:
    for level in ("beginner", "intermediate", "advanced"):
        for rhythm in rhythms(gap(level=level)):
            for hit in rhythm.hits:
                assert hit.anticipates == (hit.onset_quarter == Fraction(7, 2))
    assert any(h.anticipates for r in rhythms(gap(), 5) for h in r.hits)
    assert not any(h.anticipates for r in rhythms(gap(), push=False) for h in r.hits)


def test_above_two_hundred_there_are_fewer_and_shorter_hits() -> None:
    slow = rhythms(gap(quarters=8), 12)
    fast = rhythms(gap(tempo=240, quarters=8), 12)
    mean = [sum(len(r.hits) for r in pool) / len(pool) for pool in (slow, fast)]
    assert mean[1] < mean[0]
    longest = [max(h.duration_quarter for r in pool for h in r.hits if not h.anticipates)
               for pool in (slow, fast)]
    assert longest[1] < longest[0]


def test_a_waltz_has_one_and_the_off_beat_of_two() -> None:
    task = gap("3/4", 140, 3, "beginner")
    assert style_of(task) == "waltz"
    first = [r.onsets for r in rhythms(task, 4, push=False)]
    assert (Fraction(3, 2),) in first  # over the stroke on 1
    assert style_of(gap("3/4", 200, 3)) == "fast waltz"
    assert all(len(r.hits) <= 2 for r in rhythms(gap("3/4", 200, 3), 4))


def test_straight_feel_allows_neighbours_that_swing_avoids() -> None:
    """A hit on the beat and the next eighth is dear in swing and cheap in straight feel."""
    def place(feel: str) -> int:
        pool = rhythms(gap(level="advanced", feel=feel), 400, push=False)
        return next(i for i, r in enumerate(pool)
                    if any(b - a == EIGHTH for a, b in zip(r.onsets, r.onsets[1:],
                                                           strict=False)))

    assert place("straight") < place("swing")
    assert style_of(gap(feel="straight")) == "straight"


def test_straight_feel_groups_eighths_by_three() -> None:
    """Three, three, two over the stroke on 1: on 2& and 4."""
    first = [r.onsets for r in rhythms(gap(feel="straight"), 4, push=False)]
    assert (Fraction(3, 2), Fraction(3)) in first


def test_beginners_get_fewer_hits_than_advanced_players() -> None:
    counts = [sum(len(r.hits) for r in rhythms(gap(level=level, quarters=8), 10))
              for level in ("beginner", "intermediate", "advanced")]
    assert counts[0] < counts[1] < counts[2]


def test_hits_are_long_and_short_on_purpose() -> None:
    for rhythm in rhythms(gap(level="advanced"), 12):
        if len(rhythm.hits) >= 3:
            assert len({h.duration_quarter for h in rhythm.hits}) >= 2


def test_bars_of_a_long_gap_do_not_repeat_each_other() -> None:
    for rhythm in rhythms(gap(quarters=8), 5):
        bars = [tuple(o % 4 for o in rhythm.onsets if o // 4 == n) for n in (0, 1)]
        assert bars[0] != bars[1]


def test_compound_meters_use_the_eighth_of_the_bar() -> None:
    task = gap("6/8", 70, 3)
    assert style_of(task) == "compound"
    for rhythm in rhythms(task, 50):
        assert all((2 * onset).denominator == 1 for onset in rhythm.onsets)


def test_the_pull_paid_for_is_the_published_measure() -> None:
    """What the generator charges agrees with `syncopation` on the same places."""
    for level in ALL_LEVELS:
        low, high = level.rhythm.pull["medium"]
        for rhythm in rhythms(gap(level=level.name), 400):
            places = {0, *(int(2 * o) for o in rhythm.onsets)}
            pull = syncopation(struck(places), EIGHTS, last_weight=None)
            assert dict(rhythm.costs).get("pull", 0) == 3 * (max(low - pull, 0)
                                                            + max(pull - high, 0))


def test_counts_name_every_hit_in_every_meter() -> None:
    for meter, quarters, tempo in (("4/4", 4, 140), ("3/4", 3, 140), ("6/8", 3, 70),
                                   ("12/8", 6, 70), ("5/4", 5, 140), ("2/2", 4, 200),
                                   ("7/8", 4, 140), ("9/8", 9, 80)):
        task = gap(meter, tempo, quarters)
        for rhythm in rhythms(task, 6, push=False):
            marks = dict(count_marks(task.bars, task.onset_quarter,
                                     task.end_quarter, rhythm.onsets))
            for onset in rhythm.onsets:
                assert onset in marks and "(" not in marks[onset]


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(("2/4", "3/4", "4/4", "5/4", "6/4", "3/8", "6/8", "7/8", "12/8", "2/2")),
       st.integers(50, 280), st.integers(2, 12),
       st.sampled_from(("beginner", "intermediate", "advanced")),
       st.sampled_from(("swing", "straight")))
def test_rhythms_stay_in_the_gap_and_do_not_overlap(meter: str, tempo: int, quarters: int,
                                                    level: str, feel: str) -> None:
    chorus = chorus_of(meter, "C", tempo, [("G4", quarters), ("F4", 1)],
                       [("Cmaj7", quarters), ("Dm7", 1)], feel=feel)
    if chorus.meter.beat_quarter * 2 > quarters:
        return
    task = one_task(chorus, 1, level)
    if style_of(task) == "ballad":
        return  # see `rhythm.slow`
    first, last = Fraction(1), quarters - EIGHTH
    frame = frame_of(task)
    window = RhythmWindow(first, last, pushes=(Fraction(quarters),))
    pool = generate(frame, window, 20)
    assert pool == generate(frame, window, 20)
    assert len({r.onsets for r in pool}) == len(pool)
    assert [r.cost for r in pool] == sorted(r.cost for r in pool)
    for rhythm in pool:
        assert rhythm.hits
        assert style_of(task) in RHYTHM_STYLES
        for hit, following in zip(rhythm.hits, rhythm.hits[1:], strict=False):
            assert hit.end_quarter <= following.onset_quarter
        assert all(first <= h.onset_quarter <= last and h.duration_quarter > 0
                   and h.end_quarter <= quarters for h in rhythm.hits)
