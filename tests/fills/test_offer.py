"""The offer: what order its options have, and what counts as another idea."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.fills.builders import chorus_of, one_task

from fillwright import Fill, Pitch
from fillwright.fills import Draft, DraftChord, DraftNote, HeldEnd, Player, Task, fills_of
from fillwright.fills.idea import Apart, Idea, contour_distance, rhythm_distance
from fillwright.fills.offer import ENOUGH, Candidate, options
from fillwright.hands import LEVELS

CHORUS = chorus_of("4/4", "C", 120, [("E5", 8), ("D5", 4), ("C5", 4)],
                   [("Cmaj7", 8), ("G7", 4), ("C6", 4)])
CONTEXT = one_task(CHORUS)


@dataclass(frozen=True)
class Sketch:
    """A candidate in short: its cost, device and onsets; `top` tells ideas apart; without keys
    it is refused."""

    cost: int
    device: str
    onset: int
    top: int
    playable: bool = True
    last: bool = False
    plain: bool = False


def draft_of(sketch: Sketch) -> Draft:
    onset = Fraction(sketch.onset, 2)
    keys = ("C3", "E3") if sketch.playable else ("C3", "C6")
    notes = tuple(DraftNote(onset, Fraction(1, 2), Pitch.parse(key), "left") for key in keys)
    span = CONTEXT.spans[0]
    idea = Idea((onset,), (sketch.top,), "dull" if sketch.plain else "kind", 0)
    return Draft("comp", sketch.device, notes,
                 (DraftChord(span.onset_quarter, CONTEXT.end_quarter, span.harmony),),
                 ("Why.",), (("cost", sketch.cost),), idea,
                 HeldEnd("finger", CONTEXT.end_quarter))


class Rows:
    """A family that reads its candidates from a table."""

    name = "comp"
    patience = 1000

    def __init__(self, rows: tuple[Sketch, ...], far: int = 1000) -> None:
        self.rows, self.far = rows, far
        self.built = 0

    def candidates(self, situation: Task, player: Player, without: frozenset[str]
                   ) -> Iterator[Candidate]:
        for row in self.rows:
            yield Candidate(row.cost, row.device, partial(self._drafts, row), last=row.last)

    def _drafts(self, row: Sketch, turn: int) -> Iterator[Draft]:
        self.built += 1
        yield draft_of(row)

    def related(self, task: Task) -> Iterator[Candidate]:
        return self.candidates(task, task.player, task.without)

    def suits(self, fill: Fill, player: Player) -> bool:
        return fill.idea.voicing != "dull"

    def why_not(self, situation: Task, player: Player) -> str:
        return "nothing is in the table"


def offer(family: Rows, task: Task, count: int) -> tuple[Fill, ...] | str:
    found = tuple(islice(options(family, task), count))
    return found or family.why_not(task, task.player)


def costs(*rows: Sketch, far: int = 1000, count: int = 99, without: frozenset[str] = frozenset()
          ) -> list[int]:
    found = offer(Rows(rows, far), replace(CONTEXT, without=without), count)
    assert not isinstance(found, str)
    return [fill.total_cost for fill in found]


def test_every_device_comes_once_before_any_comes_again() -> None:
    assert costs(Sketch(1, "a", 2, 1), Sketch(2, "a", 3, 2), Sketch(3, "b", 4, 3),
                 Sketch(4, "a", 5, 4), Sketch(5, "b", 6, 5)) == [1, 3, 2, 5, 4]


def test_what_is_held_back_or_does_not_suit_comes_after_the_rest() -> None:
    assert costs(Sketch(1, "a", 2, 1, last=True), Sketch(2, "b", 3, 2, plain=True),
                 Sketch(3, "c", 4, 3)) == [3, 2, 1]


def test_what_is_far_from_the_best_fills_up_a_short_offer_only() -> None:
    near = [Sketch(cost, f"near {cost}", 2 + cost, cost) for cost in range(ENOUGH)]
    far = Sketch(60, "far", 1, 60)
    assert costs(far, *near[:3], far=50) == [60, 0, 1, 2]  # the first is as it comes
    assert costs(*near[:3], far, Sketch(9, "near 9", 13, 9), far=50) == [0, 1, 2, 9, 60]
    assert costs(*near, far, far=50) == list(range(ENOUGH))


def test_what_cannot_be_played_or_is_switched_off_is_left_out() -> None:
    rows = (Sketch(1, "a", 2, 1, playable=False), Sketch(2, "b", 3, 2), Sketch(3, "c", 4, 3))
    assert costs(*rows) == [2, 3]
    assert costs(*rows, without=frozenset({"b"})) == [3]
    assert offer(Rows(rows[:1]), CONTEXT, 3) == "nothing is in the table"


def test_the_same_idea_is_offered_once_and_nothing_is_built_before_it_is_asked_for() -> None:
    rows = tuple(Sketch(k, f"device {k}", 2, k // 2) for k in range(6))
    assert costs(*rows) == [0]  # the onsets are the same: one difference at most
    family = Rows(tuple(Sketch(k, f"device {k}", 2 + k, k) for k in range(6)))
    assert len(list(islice(options(family, CONTEXT), 2))) == 2
    assert family.built == 2


def test_an_offer_gives_up_after_enough_refusals() -> None:
    rows = tuple(Sketch(k, f"device {k}", 2 + k, k, playable=False) for k in range(6))
    family = Rows((*rows, Sketch(9, "last", 12, 9)))
    family.patience = 4
    assert offer(family, CONTEXT, 3) == "nothing is in the table"
    assert family.built == 4


sketches = st.lists(st.builds(
    Sketch, st.integers(0, 40), st.sampled_from("abcd"), st.integers(2, 9), st.integers(0, 5),
    st.booleans(), st.booleans(), st.booleans()), max_size=12)


@settings(max_examples=60, deadline=None)
@given(sketches, st.integers(1, 6))
def test_one_more_begins_with_what_was_given_before(rows: list[Sketch], count: int) -> None:
    family = Rows(tuple(sorted(rows, key=lambda r: r.cost)), far=15)
    fewer, more = (offer(family, CONTEXT, n) for n in (count, count + 1))
    if isinstance(fewer, str):
        assert more == fewer
    else:
        assert not isinstance(more, str) and more[:count] == fewer
        assert all(a.idea.is_another_than(b.idea) for a in more for b in more if a is not b)


BASE = Idea((Fraction(0), Fraction(1)), (60, 64), "shells", 60)


def test_an_idea_differs_in_two_respects() -> None:
    assert BASE.differences(BASE) == 0
    other = replace(BASE, voicing="fourths")
    assert BASE.differences(other) == 1 and not BASE.is_another_than(other)
    assert BASE.is_another_than(replace(other, register=65))
    assert not BASE.is_another_than(replace(other, register=64))
    assert BASE.is_another_than(replace(other, top_line=(60, 65)))
    assert BASE.is_another_than(replace(other, onsets=(Fraction(0),)))


def test_what_an_idea_is_compared_by_besides_makes_it_stricter() -> None:
    other = replace(BASE, voicing="fourths", register=66, top_line=(62, 66))
    assert BASE.differences(other) == 3
    one, two = (replace(idea, hand_line=(59,), sounds=frozenset({frozenset({0, 4})}), balance=57)
                for idea in (BASE, other))
    assert one.differences(two) == 0
    apart = Apart(Fraction(1, 3), Fraction(3))
    near = replace(BASE, top_line=(61, 66), apart=apart)
    assert near.differences(replace(BASE, apart=apart)) == 0  # two semitones on average at most
    assert near.differences(replace(BASE, top_line=(65, 70), apart=apart)) == 1


def test_distances_of_rhythms_and_lines() -> None:
    one, other = [Fraction(k, 2) for k in (0, 1, 2)], [Fraction(k, 2) for k in (0, 1, 3)]
    assert rhythm_distance(one, one) == rhythm_distance([], []) == 0
    assert rhythm_distance(one, other) == Fraction(1, 2)
    low, high = [(k, 60) for k in one], [(k, 67) for k in other]
    assert contour_distance(low, low) == 0
    assert contour_distance(low, high) == contour_distance(high, low) == 7


@pytest.mark.slow
@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("family", ["comp", "reharm"])
def test_real_offers_grow_at_their_end(family: str, level: str) -> None:
    for number in (1, 2):
        task = one_task(CHORUS, number, level)
        few, some, many = (fills_of(task, family, count) for count in (1, 3, 6))
        assert not isinstance(few, str) and len(few) == 1 < len(some)
        assert some[:1] == few and many[:len(some)] == some
