"""What the program chose stays when one gap is decided; another one; the same everywhere."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fillwright import Arrangement, Edition, InputError, open_edition
from fillwright.arranging import model, story
from fillwright.cli import main
from fillwright.demo import demo_path
from fillwright.edition import choices, decisions, desk, file
from fillwright.fills import FAMILIES, relation

pytestmark = pytest.mark.slow

TWICE = Edition(b"""X:1
T:Twice the Same
M:4/4
L:1/4
Q:1/4=120
K:F
"Gm7"d2 e f|"C7"g4|"Fmaj7"A2 G F|"D7"c4|
"Gm7"d2 e f|"C7"g4|"Fmaj7"A2 G F|"F6"F4|]
""", "twice.abc")
"""The second bar's gap comes again in the sixth."""


def stands(arrangement: Arrangement) -> dict[int, str | None]:
    return {gap.number: fill.id if (fill := arrangement.fill_of(gap.number)) else None
            for gap in arrangement.gaps}


def other_than(edition: Edition, gap: int, fill: str | None) -> str:
    at_work = desk.desk_of(edition.bare)
    for family in FAMILIES:
        found = at_work.fills(gap, family, 4)
        for one in () if isinstance(found, str) else found:
            if one.id != fill:
                return one.id
    raise AssertionError


@pytest.mark.parametrize("edition", [
    TWICE, TWICE.with_settings({"level": "advanced", "choruses": 2}),
    TWICE.with_settings({"level": "beginner"}).with_choice(1, "open"),
    Edition.of_sheet(demo_path("umbrella"))], ids=["plain", "two", "beginner", "umbrella"])
def test_what_is_kept_sounds_as_what_was_chosen(edition: Edition) -> None:
    before = edition.arrange()
    kept = edition.with_rest_kept()
    after = kept.arrange()
    assert after.notes == before.notes and after.fills == before.fills
    assert after.chords == before.chords and after.story == before.story
    assert kept.with_rest_kept() == kept


def test_one_decision_moves_nothing_else() -> None:
    """Without what is kept the choice of the others goes after every decision."""
    edition = Edition.of_sheet(demo_path("lamp")).with_rest_kept()
    before = stands(edition.arrange())
    number = max(before)
    for gap in (1, number // 2, number):
        choice = other_than(edition, gap, before[gap])
        after = stands(edition.with_choice(gap, choice).arrange())
        assert after == {**before, gap: choice}
        assert stands(edition.with_choice(gap, "open").arrange()) == {**before, gap: None}


def test_what_is_taken_back_is_what_was_there() -> None:
    edition = TWICE.with_rest_kept()
    before = edition.arrange()
    decided = edition.with_choice(1, other_than(edition, 1, stands(before)[1]))
    back = decided.decisions.with_pick(1, None)
    assert back == edition.decisions
    assert desk.desk_of(edition.bare).chorus_of(back).notes == before.notes


def test_every_door_keeps_the_same(tmp_path: Path) -> None:
    edition = TWICE.with_rest_kept()
    edition = edition.with_choice(2, other_than(edition, 2, stands(edition.arrange())[2]))
    edition.save(tmp_path / "it.json")
    again = open_edition(tmp_path / "it.json")
    assert again == edition and again.decisions.rest is not None
    done = edition.arrange()
    with pytest.raises(SystemExit) as end:
        main(["arrange", "--edition", str(tmp_path / "it.json"), "-o", str(tmp_path / "out"),
              "--formats", "json"])
    assert end.value.code in (0, None)
    written = json.loads((tmp_path / "out" / "arrangement.json").read_text(encoding="utf-8"))
    assert [fill["id"] for fill in written["fills"]] == [fill.id for fill in done.fills]
    assert [(note["onset_quarter"], note["midi"]) for note in written["notes"]] == [
        (str(note.onset_quarter), note.midi) for note in done.notes]


def test_an_edition_without_it_is_written_as_before() -> None:
    assert "rest" not in json.loads(file.edition_text(TWICE))


@pytest.mark.parametrize(("value", "says"), [
    ([], "is an object"), ({}, "has fills"), ({"fills": {"0": "open"}}, "for the number of a gap"),
    ({"fills": {"1": 5}}, "for the number of a gap"), ({"fills": {}, "fuller": 3}, "a place"),
    ({"fills": {}, "fuller": "x"}, "a place"), ({"fills": {}, "strained": 1}, "true or false"),
    ({"fills": {"1": "a b"}}, "for the number of a gap")])
def test_what_is_kept_is_checked(value: object, says: str) -> None:
    document = json.loads(file.edition_text(TWICE)) | {"rest": value}
    with pytest.raises(InputError, match=says):
        file.edition_from_text(json.dumps(document).encode(), "it.json")


def test_what_does_not_exist_any_more_is_chosen_anew_around_the_rest() -> None:
    edition = TWICE.with_rest_kept()
    before = edition.arrange()
    gone = before.fills[0]
    without = edition.with_settings({"without": [gone.device]})
    assert without.decisions.rest is not None
    after = without.arrange()
    assert all(fill.device != gone.device for fill in after.fills)
    for fill in before.fills:  # only the fingers may be others
        if fill.device != gone.device:
            assert stands(after)[fill.gap] == fill.id
    kept = without.with_rest_kept()
    assert kept.arrange().notes == after.notes


@pytest.mark.parametrize("change", [{"level": "beginner"}, {"tempo": "90"}, {"choruses": 2},
                                    {"mix": {"comp": 0, "reharm": 1, "line": 1}}])
def test_what_was_chosen_for_other_settings_is_not_kept(change: dict[str, object]) -> None:
    edition = TWICE.with_rest_kept()
    assert edition.with_settings(change).decisions.rest is None
    assert edition.with_settings(change).arrange() == TWICE.with_settings(change).arrange()


def test_all_are_chosen_again_when_it_is_asked_for() -> None:
    edition = TWICE.with_rest_kept().with_choice(1, "open")
    assert edition.with_all_chosen_again().arrange() == TWICE.with_choice(1, "open").arrange()


def test_another_one_goes_through_all_there_is() -> None:
    edition = TWICE.with_rest_kept()
    before = stands(edition.arrange())
    seen = [before[1]]
    for _ in range(3):
        edition = edition.with_another(1)
        now = stands(edition.arrange())
        assert {**now, 1: None} == {**before, 1: None}
        assert now[1] not in seen
        seen.append(now[1])
    with pytest.raises(InputError, match="there is no gap 99"):
        edition.with_another(99)


def test_the_programs_choice_becomes_the_teachers() -> None:
    at_work = desk.desk_of(TWICE.bare)
    before = at_work.chorus_of(TWICE.decisions)
    locked = choices.locked(at_work, TWICE.decisions, 1)
    assert dict(locked.picks)[1].fill == (stands(before)[1] or "open")
    assert at_work.chorus_of(locked).notes == before.notes
    assert choices.locked(at_work, locked, 1) == locked


def test_the_same_wherever_the_phrase_comes() -> None:
    at_work = desk.desk_of(TWICE)
    first, again = next(iter(story.alike(at_work.story.returns).values()))
    comp = at_work.fills(first, "comp", 12)
    assert not isinstance(comp, str)
    editions = [TWICE.with_choice(first, fill.id) for fill in comp]
    # Not every idea has a variation there; where it has none, that is told.
    told = [choices.everywhere(at_work, edition.decisions, first, "varied")[1]
            for edition in editions]
    assert set(told) == {(), (again,)}
    edition = editions[told.index(())]
    done = edition.with_choice_everywhere(first).arrange()
    one, two = done.fill_of(first), done.fill_of(again)
    assert one is not None and two is not None
    cells = [relation.cell_of(fill, at_work.gap(fill.gap).onset_quarter) for fill in (one, two)]
    assert relation.relation_of(*cells) is relation.Relation.COPY
    varied = edition.with_choice_everywhere(first, "varied").arrange()
    three = varied.fill_of(again)
    assert three is not None and varied.fill_of(first) == one
    found = relation.relation_of(cells[0], relation.cell_of(
        three, at_work.gap(again).onset_quarter))
    assert found not in (None, relation.Relation.COPY)
    open_, missing = choices.everywhere(
        at_work, TWICE.with_choice(first, "open").decisions, first, "same")
    assert not missing and dict(open_.picks)[again].fill == "open"


def test_a_phrase_that_comes_once_has_no_elsewhere() -> None:
    at_work = desk.desk_of(TWICE)
    known = story.alike(at_work.story.returns)
    lonely = next(gap.number for gap in at_work.gaps if gap.number not in known)
    with pytest.raises(InputError, match="comes only once"):
        TWICE.with_choice_everywhere(lonely)
    with pytest.raises(InputError, match="same or varied"):
        TWICE.with_choice_everywhere(1, "otherwise")


def test_keeping_twice_leaves_what_was_kept() -> None:
    one = decisions.Decisions().keeping(model.Chosen(((1, "a"), (2, "b"))))
    two = one.keeping(model.Chosen(((2, "c"), (3, "d"))))
    assert two.rest == model.Chosen(((1, "a"), (2, "b"), (3, "d")))
