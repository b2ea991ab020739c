"""Orders, covers, and what is left to teach; gaps that are like a gap."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import fillwright
from fillwright import Library, Question, SheetFacts, describe
from fillwright.library import (
    Lesson,
    Offered,
    order_lessons,
    row_distance,
    smallest_cover,
    still_to_teach,
)

DATA = Path(str(fillwright.__file__)).parent / "data"


def lesson(key: str, **devices: int) -> Lesson:
    return Lesson(key, key.title(), {name: Offered(hard) for name, hard in devices.items()})


def test_each_lesson_brings_something_new_and_not_too_much() -> None:
    lessons = [lesson("one", shells=5, walk=9), lesson("two", shells=6, walk=8, sus=12, run=30),
               lesson("three", run=28, shells=7), lesson("four", shells=9)]
    steps = order_lessons(lessons, known=["shells"])
    # By hand: "one" has walk at 9; "two" has walk at 8 and, four points on, sus: the easiest new
    # thing decides by the hardest of what comes with it. Then sus, 3 points on; the run is a leap
    # wherever it comes, and comes last; "four" has nothing new.
    assert [step.lesson.key for step in steps] == ["one", "two", "three"]
    assert [[one.device for one in step.new] for step in steps] == [["walk"], ["sus"], ["run"]]
    assert [step.again for step in steps] == [1, 2, 1]
    assert [step.harder for step in steps] == [4, 3, 16]
    assert "a leap" in steps[2].reason and "walk" in steps[0].reason
    assert [one.device for one in still_to_teach(lessons[1], ["shells", "run"])] == ["walk", "sus"]


def test_a_small_step_goes_before_a_leap() -> None:
    steps = order_lessons([lesson("leap", a=40), lesson("step", b=12, c=14)], known=["x"],
                          new_each=1)
    assert [step.lesson.key for step in steps] == ["step", "leap"]
    assert len(order_lessons([lesson("leap", a=40), lesson("step", b=12)], most=1)) == 1
    assert order_lessons([lesson("old", a=4)], known=["a"]) == ()


LESSONS = st.lists(st.dictionaries(st.sampled_from("abcdefgh"), st.integers(1, 50), min_size=1),
                   min_size=1, max_size=8).map(lambda rows: [
                       Lesson(f"{place:02d}", "", {k: Offered(v) for k, v in row.items()})
                       for place, row in enumerate(rows)])


@given(LESSONS, st.sets(st.sampled_from("abc")), st.integers(1, 3))
def test_an_order_is_true_of_itself(lessons: list[Lesson], known: set[str], new_each: int) -> None:
    met = set(known)
    for step in order_lessons(lessons, known, new_each=new_each):
        new = {one.device for one in step.new}
        assert 1 <= len(new) <= new_each and not new & met
        assert step.again == len(set(step.lesson.devices) & met)
        left = {device: offered.difficulty for device, offered in step.lesson.devices.items()
                if device not in met}
        assert max(left[device] for device in new) <= min(
            (left[device] for device in left.keys() - new), default=99)
        met |= new


@given(LESSONS)
def test_a_cover_is_the_smallest_there_is(lessons: list[Lesson]) -> None:
    cover = smallest_cover(lessons)
    wanted = {device for one in lessons for device in one.devices}
    shown = {device for one in cover.lessons for device in one.devices}
    assert cover.exact and shown == wanted and cover.devices == len(wanted)
    assert not any({device for one in some for device in one.devices} == wanted
                   for some in combinations(lessons, len(cover.lessons) - 1))


@pytest.mark.slow
def test_a_larger_cover_agrees_with_integer_programming() -> None:
    # Against the solver HiGHS, as scipy carries it (and takes a second to import).
    from scipy.optimize import Bounds, LinearConstraint, milp

    dice = np.random.default_rng(7)
    for _ in range(4):
        table = dice.random((30, 24)) < 0.18
        table[dice.integers(0, 30, 24), np.arange(24)] = True
        lessons = [Lesson(f"{row:02d}", "", {f"d{column:02d}": Offered(1) for column in range(24)
                                            if table[row, column]}) for row in range(30)]
        solved = milp(np.ones(30), integrality=np.ones(30), bounds=Bounds(0, 1),
                      constraints=LinearConstraint(table.T.astype(float), 1, np.inf))
        cover = smallest_cover(lessons)
        assert cover.exact and len(cover.lessons) == round(solved.fun)
        rough = smallest_cover(lessons, work=1)
        assert not rough.exact and len(rough.lessons) >= len(cover.lessons)


# --- like a gap -----------------------------------------------------------------------------


@given(*[st.lists(st.sampled_from(["2m", "77", "0M", "9m"]), max_size=4)] * 2)
def test_the_distance_of_rows_is_a_distance(one: list[str], other: list[str]) -> None:
    a, b = f" {' '.join(one)} ", f" {' '.join(other)} "
    assert row_distance(a, b) == row_distance(b, a) >= abs(len(one) - len(other))
    assert (row_distance(a, b) == 0) == (one == other)
    assert row_distance(a, b) <= max(len(one), len(other))


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    with Library(tmp_path_factory.mktemp("like") / "library.sqlite3") as opened:
        opened.add([DATA])
        yield opened


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    with Library(tmp_path_factory.mktemp("worked") / "library.sqlite3") as opened:
        opened.add([DATA / "umbrella.musicxml", DATA / "ferry.musicxml"])
        opened.work_out("beginner")
        yield opened


@pytest.fixture(scope="module")
def tune() -> SheetFacts:
    return describe((DATA / "lamp.musicxml").read_bytes(), "lamp.musicxml")


def test_a_gap_is_most_like_itself_then_like_where_its_phrase_comes_again(
        shelf: Library, tune: SheetFacts) -> None:
    for gap in tune.gaps:
        nearest = shelf.like(gap, Question(count=1))[0]
        assert (nearest.title, nearest.beats, nearest.chords[:1]) == (
            tune.title, gap.beats, gap.chords[:1])
        assert all((other.title, other.number) != (tune.title, gap.number)
                   for other in shelf.like(gap, fingerprint=tune.fingerprint))
    twice = next(gap for gap in tune.gaps if gap.alike != gap.number)
    near = shelf.like(twice, fingerprint=tune.fingerprint)[0]
    assert (near.title, near.chords, near.degree) == (tune.title, twice.chords, twice.degree)


@pytest.mark.slow
def test_the_same_idea_is_found_elsewhere(worked: Library, tune: SheetFacts) -> None:
    device = "secondary dominant"
    found = worked.like(tune.gaps[0], Question(device=device, level="beginner", count=50),
                        fingerprint=tune.fingerprint)
    assert found and all(device in {one.name for one in gap.devices} for gap in found)
    assert len(found) == worked.find(Question(device=device, level="beginner")).total


@pytest.mark.slow
def test_tunes_and_gaps_of_the_shelf_are_lessons(worked: Library) -> None:
    tunes, gaps = worked.lessons("beginner"), worked.lessons("beginner", gaps=True)
    assert len(tunes) == 2 and len(gaps) > 12
    assert worked.lessons("advanced") == ()
    for one in tunes:
        own = [gap for gap in gaps if gap.name.startswith(one.name)]
        assert {device: min(gap.devices[device].difficulty for gap in own if device in gap.devices)
                for device in one.devices} == {
                    device: offered.difficulty for device, offered in one.devices.items()}
    cover = smallest_cover(tunes)
    assert cover.exact and 1 <= len(cover.lessons) <= 2
    steps = order_lessons(gaps, most=6)
    assert len(steps) == 6 and all(step.reason.endswith(".") for step in steps)
    hardest = [max(one.offered.difficulty for one in step.new) for step in steps]
    assert all(later >= earlier - 20 for earlier, later in pairwise(hardest))
