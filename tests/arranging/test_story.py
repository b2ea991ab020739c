"""What comes back in a chorus, and how."""

from __future__ import annotations

import re
from collections import Counter
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.fills.builders import chorus_of

from fillwright import Chorus, Options, find_gaps, read_tune
from fillwright.arranging.build import Offers
from fillwright.arranging.model import Decided
from fillwright.arranging.story import going_on, story_of
from fillwright.demo import demo_path
from fillwright.fills import Cell, Relation, cell_of, develops, relation_of

EIGHTH = Fraction(1, 2)


def cell(*strikes: tuple[str, int], under: int = 0, family: str = "comp") -> Cell:
    """A cell from (place, top key), with so many keys under each top."""
    onsets = tuple(Fraction(place) for place, _ in strikes)
    tops = tuple(top for _, top in strikes)
    keys = frozenset((onset, top - 4 * n) for onset, top in zip(onsets, tops, strict=True)
                     for n in range(under + 1))
    return Cell(onsets, tops, keys, family)


FIRST = cell(("1", 72), ("3/2", 74), ("5/2", 71), under=1)


@pytest.mark.parametrize(("again", "relation"), [
    (FIRST, Relation.COPY),
    (cell(("3/2", 72), ("2", 74), ("3", 71), under=1), Relation.DISPLACED),
    (cell(("2", 65), ("5/2", 69), ("7/2", 60), under=1), Relation.DISPLACED),
    (cell(("1", 72), ("3/2", 74), ("5/2", 71), under=2), Relation.THICKENED),
    (cell(("1", 72), ("3/2", 74), ("5/2", 71)), Relation.THINNED),
    (cell(("1", 77), ("3/2", 79), ("5/2", 76), under=1), Relation.MOVED),
    (cell(("1", 72), ("3/2", 70), ("5/2", 73), under=1), Relation.TURNED),
    (cell(("1", 71), ("3/2", 73), ("5/2", 73), under=1), Relation.RECOLOURED),
    (cell(("1", 60), ("3/2", 64), ("5/2", 62), family="line"), Relation.ANSWERED),
    (cell(("1", 71), ("3/2", 73), under=1), Relation.BROKEN_OFF),
    (cell(("3/2", 74), ("5/2", 71), under=1), None),
    (cell(("1", 72), ("2", 74), ("3", 71), under=1), None),
    (cell(("0", 72)), None),
])
def test_what_becomes_of_an_idea(again: Cell, relation: Relation | None) -> None:
    assert relation_of(FIRST, again) is relation


def test_an_idea_goes_on_elsewhere_where_it_is_long_enough_to_be_known() -> None:
    later = cell(("3/2", 76), ("2", 77), ("3", 74), under=1)
    assert develops(FIRST, later)
    assert develops(FIRST, cell(("1", 60), ("3/2", 64), under=1))
    assert not develops(FIRST, FIRST)
    two = cell(("0", 72), ("1", 74))
    assert relation_of(two, cell(("0", 72), ("1/2", 74), ("1", 71), under=2))
    assert not develops(two, cell(("0", 72), ("1/2", 74), ("1", 71), under=2))


CELLS = st.lists(st.tuples(st.sampled_from(["1/2", "1", "3/2", "2", "5/2"]),
                           st.integers(60, 72)), min_size=2, max_size=4,
                 unique_by=lambda strike: strike[0]).map(lambda s: cell(*sorted(s)))


@given(CELLS, st.sampled_from([-EIGHTH, EIGHTH, Fraction(1)]), st.integers(-2, 2))
def test_a_rhythm_that_only_moves_is_displaced(one: Cell, by: Fraction, steps: int) -> None:
    moved = Cell(tuple(o + by for o in one.onsets), tuple(t + steps for t in one.tops),
                 frozenset((o + by, m + steps) for o, m in one.keys), one.family)
    common = len(one.keys & moved.keys)
    wanted = Relation.COPY if common >= Fraction(3, 4) * len(one.keys) else Relation.DISPLACED
    if not set(one.onsets) < set(moved.onsets):
        assert relation_of(one, moved) is wanted


def aaba() -> Chorus:
    """Four times eight bars; a gap at the end of each four-bar phrase."""
    phrase = [("C5", 2), ("D5", 2), ("E5", 2), ("G5", 2), ("A5", 1), ("G5", 1), ("E5", 2),
              ("D5", 4)]
    other = [("F5", 2), ("E5", 2), ("D5", 2), ("F5", 2), ("A5", 1), ("C6", 1), ("B5", 2),
             ("G5", 4)]
    chords = [("Cmaj7", 4), ("Am7", 4), ("Dm7", 4), ("G7", 4)] * 2
    bridge = [("Fmaj7", 4), ("Bm7b5", 4), ("Em7", 4), ("A7", 4)] * 2
    return chorus_of("4/4", "C", 132, (phrase * 2) * 2 + other * 2 + phrase * 2,
                     chords * 2 + bridge + chords)


def test_gaps_of_a_phrase_that_comes_again_know_the_earlier_one() -> None:
    chorus = aaba()
    gaps = find_gaps(chorus)
    story = story_of(chorus, gaps)
    by_number = {gap.number: gap for gap in gaps}
    whole = [gap for gap in gaps if gap.duration_quarter >= 4]
    assert len(story.sections) == 4
    last = whole[-2]  # the first phrase end of the last section
    earlier = by_number[story.returns[last.number]]
    assert last.onset_quarter - earlier.onset_quarter == 64  # over the bridge
    assert all(story.returns[n] < n for n in story.returns)
    assert all(gap.number not in story.returns for gap in gaps if gap.onset_quarter < 16)


def test_a_chorus_aims_higher_as_it_goes_on() -> None:
    chorus = aaba()
    gaps = find_gaps(chorus)
    story = story_of(chorus, gaps)
    plain = [story.fullness[g.number] for g in gaps
             if g.number not in story.contrast and g.number != story.peak]
    assert plain == sorted(plain)
    assert plain[-1] > plain[0] + 2


def test_a_chorus_draws_back_once_in_its_middle() -> None:
    """The tune alone over held chords, softer, its gaps left open; then it rises."""
    chorus = aaba()
    gaps = find_gaps(chorus)
    story = story_of(chorus, gaps)
    assert story.quiet == (Fraction(64), Fraction(80))
    inside = {gap.number for gap in gaps if 64 <= gap.onset_quarter < 80}
    assert inside
    assert inside <= story.breaths
    blues = chorus_of("4/4", "C", 132, [("C5", 2), ("D5", 2)] * 12, [("C7", 4)] * 12)
    assert story_of(blues, find_gaps(blues)).quiet is None


def test_a_chorus_shouts_once_late_and_where_there_is_room() -> None:
    chorus = aaba()
    gaps = find_gaps(chorus)
    story = story_of(chorus, gaps)
    assert story.peak is not None
    peak = gaps[story.peak - 1]
    assert 3 * peak.onset_quarter >= 2 * chorus.length_quarter
    assert peak.landing is not None
    assert peak.number not in story.breaths
    assert story.fullness[peak.number] == max(story.fullness.values())


def test_a_fill_is_asked_to_go_on_with_the_one_before_once_a_section() -> None:
    offers = Offers(read_tune(demo_path("lamp")), Options(level="intermediate"))
    story = story_of(offers.chorus, offers.gaps)
    fills = [found[0] for gap in offers.gaps
             if not isinstance(found := offers.fills(gap.number, "comp", 1), str)]
    pairs = list(going_on(story, fills))
    assert pairs
    sections = [sum(s.onset_quarter <= offers.gaps[number - 1].onset_quarter
                    for s in story.sections) for _, number in pairs]
    assert len(set(sections)) == len(sections)
    for before, number in pairs:
        assert before.gap < number
        assert number not in story.returns
        gap = offers.gaps[before.gap - 1]
        assert len(cell_of(before, gap.onset_quarter).onsets) >= 3


def test_what_takes_up_an_idea_is_beside_the_options_and_found_by_its_id() -> None:
    """It is heard to take the idea up, changes nothing of what is offered, and can be picked."""
    options = Options(level="intermediate")
    offers = Offers(read_tune(demo_path("lamp")), options)
    story = story_of(offers.chorus, offers.gaps)
    asked = 0
    for number, first in sorted(story.returns.items())[:4]:
        if first in story.returns:
            continue
        stated = offers.fills(first, "comp", 1)
        assert not isinstance(stated, str)
        cell = cell_of(stated[0], offers.gaps[first - 1].onset_quarter)
        for fill in offers.taking_up(number, stated[0]):
            asked += 1
            relation = relation_of(cell, cell_of(fill, offers.gaps[number - 1].onset_quarter))
            assert relation not in (None, Relation.COPY)
            assert fill.id.endswith(f"~{stated[0].id}")
            found = Offers(offers.written, options).find(number, fill.id)
            assert found.notes == fill.notes
    assert asked


@pytest.mark.parametrize(("level", "some"), [("beginner", False), ("advanced", True)])
def test_the_shout_of_a_chorus_is_full_chords_of_both_hands(level: str, some: bool) -> None:
    offers = Offers(read_tune(demo_path("lamp")), Options(level=level))
    number = story_of(offers.chorus, offers.gaps).peak
    assert number is not None
    found = offers.shouts(number)
    assert bool(found) == some
    for fill in found:
        assert fill.id.endswith("~height")
        together = Counter(note.onset_quarter for note in fill.notes if note.hand == "right")
        assert sum(keys > 2 for keys in together.values()) >= 3


def test_where_every_time_is_the_same_a_phrase_breathes_where_it_did() -> None:
    chorus = aaba()
    story = story_of(chorus, find_gaps(chorus), same_each_time=True)
    assert story.returns
    assert all((number in story.breaths) == (first in story.breaths)
               for number, first in story.returns.items())


@pytest.mark.slow
def test_the_story_is_told_as_it_was_played() -> None:
    """Which bars are left to the tune, what the end stands on."""
    options = Options(level="advanced")
    offers = Offers(read_tune(demo_path("lamp")), options)
    arrangement = offers.arrangement(Decided(), options)
    text = " ".join(arrangement.story)
    open_bars = {gap.bar for gap in arrangement.gaps if gap.number in offers.story.breaths
                 and arrangement.fill_of(gap.number) is None}
    breathes = re.search(r"It breathes: bars? ([^.]+) (is|are) left to the tune", text)
    assert bool(open_bars) == bool(breathes)
    if breathes is not None:
        assert set(re.findall(r"\d+", breathes[1])) == open_bars
    assert offers.story.quiet is not None
    start, end = offers.story.quiet
    assert "draws back once" in text
    assert not [n for n in arrangement.notes if n.role == "fill" and start <= n.onset_quarter < end
                and n.gap in offers.story.breaths]
    last = max(arrangement.notes, key=lambda n: (n.end_quarter, -n.midi))
    chord = min(n.onset_quarter for n in arrangement.notes
                if n.end_quarter == last.end_quarter and n.role == "fill")
    low = min(n.midi for n in arrangement.notes if n.onset_quarter >= chord)
    ends = re.search(r"It ends on a low (\S+)\.", text)
    assert ends is not None
    assert low <= 47  # B2


@pytest.mark.slow
@pytest.mark.parametrize("level", ["beginner", "advanced"])
def test_the_same_each_time_can_be_asked_for(level: str) -> None:
    """Note for note, lines too; and a pick of the one is found in the other."""
    options = Options(level=level, same_each_time=True)
    offers = Offers(read_tune(demo_path("lamp")), options)
    arrangement = offers.arrangement(Decided(), options)
    story = story_of(offers.chorus, offers.gaps, same_each_time=True)
    chosen = {fill.gap: cell_of(fill, offers.gaps[fill.gap - 1].onset_quarter)
              for fill in arrangement.fills}
    both = [relation_of(chosen[first], chosen[number])
            for number, first in story.returns.items() if {first, number} <= chosen.keys()]
    assert both
    assert set(both) == {Relation.COPY}
    assert {fill.family for fill in arrangement.fills if fill.gap in story.returns} - {"comp"}

    other = Offers(offers.written, Options(level=level))
    line = other.fills(max(story.returns), "line", 2)
    assert not isinstance(line, str)
    assert offers.find(line[0].gap, line[0].id).id == line[0].id
