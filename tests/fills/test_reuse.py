"""Shared options are the same as computed ones."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.fills.builders import chorus_of

from fillwright import Chorus, InputError, find_gaps, propose
from fillwright.fills import FAMILIES, LEAST_SECONDS, Tempo, hear, pace_of, situation_of
from fillwright.memory import OFFERS
from fillwright.tune import Meter

pytestmark = pytest.mark.slow

Row = tuple[tuple[tuple[str | None, int], ...], tuple[tuple[str, int], ...]]


def assert_shared_as_alone(chorus: Chorus, level: str) -> None:
    gaps = find_gaps(chorus)
    proposal = propose(chorus, gaps, level=level, count=2)
    for gap in gaps:
        OFFERS.forget()  # what was found for the whole chorus
        for family in FAMILIES:
            alone = propose(chorus, gaps, level=level, count=2, numbers=[gap.number],
                            families=[family])
            assert proposal.of(gap.number, family) == alone.fills


def test_what_comes_after_the_next_chord_is_heard() -> None:
    """The same two bars four times; what they lead to after the landing differs once."""
    chords = [chord for target in ("Em7", "Em7", "Fmaj7", "Em7")
              for chord in (("Cmaj7", 4), ("Cmaj7", 12), (target, 2), ("G7", 2))]
    melody: list[tuple[str | None, int]] = [("E5", 4), ("G5", 12), ("B4", 2), ("D5", 2)] * 4
    assert_shared_as_alone(chorus_of("4/4", "C", 120, melody, chords), "advanced")


BARS: tuple[Row, ...] = (
    ((("E5", 1), ("D5", 1), ("C5", 2)), (("Dm7", 2), ("G7", 2))),
    ((("E5", 4),), (("Cmaj7", 4),)),
    ((("A4", 3), ("B4", 1)), (("Am7", 4),)),
    (((None, 2), ("F5", 2)), (("G7", 4),)),
    ((("G5", 4),), (("Em7", 2), ("A7", 2))),
    ((("C5", 1), ("D5", 1), ("E5", 1), ("F5", 1)), (("Fmaj7", 4),)),
)


@settings(max_examples=15, deadline=None)
@given(st.lists(st.sampled_from(BARS), min_size=1, max_size=3), st.lists(
    st.sampled_from(BARS), max_size=2), st.sampled_from(("beginner", "intermediate", "advanced")))
def test_a_gap_has_the_same_fills_alone(phrase: list[Row], between: list[Row], level: str
                                        ) -> None:
    """A phrase three times, once after something else."""
    bars = [*phrase, *phrase, *between, *phrase]
    melody = [note for row, _ in bars for note in row]
    chords = [chord for _, row in bars for chord in row]
    assert_shared_as_alone(chorus_of("4/4", "C", 132, [*melody, ("C5", 4)],
                                     [*chords, ("C6", 4)]), level)


def test_several_processes_find_the_same() -> None:
    """And say how far they are, gap by gap."""
    bars = [BARS[n] for n in (0, 1, 3, 0, 1, 4)]
    chorus = chorus_of("4/4", "C", 132, [note for row, _ in bars for note in row],
                       [chord for _, row in bars for chord in row])
    gaps = find_gaps(chorus)
    assert len(gaps) > 3
    seen: list[tuple[int, int]] = []
    spread = propose(chorus, gaps, processes=2, progress=lambda *now: seen.append(now))
    assert spread == propose(chorus, gaps)
    assert seen == [(n, len(gaps)) for n in range(1, len(gaps) + 1)]
    assert all(fill.chorus is chorus for fill in spread.fills)
    with pytest.raises(InputError, match="processes is a whole number"):
        propose(chorus, gaps, processes=0)


METERS = (Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(2, 2), Meter(5, 4))


@settings(deadline=None)
@given(st.fractions(1, 1000, max_denominator=1000), st.sampled_from(METERS))
def test_a_pace_is_the_fastest_of_tempos_that_are_alike(tempo: Fraction, meter: Meter) -> None:
    pace = pace_of(tempo, meter)
    assert tempo <= pace <= tempo * Fraction(103, 100)
    assert Tempo.of(pace, meter) is Tempo.of(tempo, meter)
    assert pace_of(pace, meter) == pace


@settings(deadline=None, max_examples=4)
@given(st.integers(40, 260), st.integers(1, 6), st.sampled_from(("beginner", "advanced")))
def test_tempos_of_one_pace_have_the_same_fills(tempo: int, more: int, level: str) -> None:
    """Note for note, and looked for once; only what counts seconds differs."""
    rows = [BARS[n] for n in (0, 1, 2)]
    slow, fast = (chorus_of("4/4", "C", bpm, [note for row, _ in rows for note in row],
                            [chord for _, row in rows for chord in row])
                  for bpm in (tempo, tempo + more))
    alike = pace_of(slow.tempo_bpm, slow.meter) == pace_of(fast.tempo_bpm, fast.meter)
    heard = [situation_of(hear(chorus), find_gaps(chorus), 2) for chorus in (slow, fast)]
    assert (heard[0] == heard[1]) == alike
    if alike:
        found = [propose(chorus, find_gaps(chorus), level=level) for chorus in (slow, fast)]
        assert found[0].empty == found[1].empty
        assert found[0].fills == tuple(replace(f, chorus=slow) for f in found[1].fills)


def test_its_own_seconds_decide_whether_a_gap_is_left_open() -> None:
    """Two beats at 133 a minute are 0.902 s; at the pace of 133 they would be less than 0.9."""
    chorus = chorus_of("4/4", "C", 133, [("E5", 2), ("D5", 2)], [("C", 4)])
    gaps = find_gaps(chorus)
    assert situation_of(hear(chorus), gaps, 1).duration_sec < LEAST_SECONDS < gaps[0].seconds
    assert propose(chorus, gaps, numbers=[1], families=["comp"]).fills
    fast = chorus_of("4/4", "C", 134, [("E5", 2), ("D5", 2)], [("C", 4)])
    assert {empty.reason[:11] for empty in propose(fast, find_gaps(fast)).empty} == {
        "0.9 seconds"}


def test_a_repeated_section_is_one_situation() -> None:
    """Equal surroundings are equal situations, whatever the chorus around them."""
    bars = [("E5", 1), ("D5", 1), ("C5", 2)]
    melody: list[tuple[str | None, int]] = [*bars * 16]
    chorus = chorus_of("4/4", "C", 120, melody, [("Dm7", 2), ("G7", 2)] * 16)
    gaps, hearing = find_gaps(chorus), hear(chorus)
    heard = [situation_of(hearing, gaps, gap.number) for gap in gaps]
    assert heard[3] == heard[11] and hash(heard[3]) == hash(heard[11])
    assert heard[3] != heard[4]  # another place in the form
    assert [h.form.leads for h in (heard[1], heard[2], heard[3], heard[15])] == [
        "", "again", "again", "end"]


def test_a_gap_may_have_no_chord() -> None:
    chorus = chorus_of("4/4", "C", 120, [("E5", 4), ("D5", 4)], [("N.C.", 4), ("G7", 4)])
    gaps = find_gaps(chorus)
    assert situation_of(hear(chorus), gaps, 1).spans == ()
    assert {e.reason for e in propose(chorus, gaps, numbers=[1]).empty} == {
        "no chord sounds in this gap"}


def test_gaps_that_offer_the_same_are_counted() -> None:
    """As long, from the same note over the same chord to the same note: the third is not one of
    them. Where music is to be the same each time, its second time is none of its own."""
    row = [("G4", 2), ("G4", 1), ("A4", 1), ("C5", 4), ("G4", 2), ("E4", 2), ("C5", 4)]
    chorus = chorus_of("4/4", "C", 132, [*row, *row], [("C", 4)] * 8)
    gaps, hearing = find_gaps(chorus), hear(chorus)

    def turns(same_each_time: bool) -> list[tuple[int, int]]:
        forms = [situation_of(hearing, gaps, gap.number, same_each_time).form for gap in gaps]
        return [(form.turn, form.turns) for form, gap in zip(forms, gaps, strict=True)
                if gap.held is not None and gap.held.midi == 67 and gap.landing is not None
                and gap.landing.midi == 67]

    assert turns(same_each_time=False) == [(0, 2), (1, 2)]
    assert turns(same_each_time=True) == [(0, 1), (0, 1)]
