"""Graded sets: found by computing, written as a plan."""

from __future__ import annotations

from pathlib import Path

import pytest

from fillwright import InputError
from fillwright.cli import main
from fillwright.lesson import Found, Search, plan_text, read_plan, read_plan_text, tasks_of

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def search() -> Search:
    return Search(["umbrella"], Path())


def gaps_of(found: tuple[Found, ...]) -> list[int]:
    return [one.item.gap for one in found]


def difficulties(found: tuple[Found, ...]) -> list[int]:
    return [one.fill.difficulty for one in found]


def test_one_device_rises(search: Search) -> None:
    found = search.one_device("Shells")
    assert len(found) > 1 and len(set(gaps_of(found))) == len(found)
    assert all(one.fill.device.split(", ")[0] == "shells" for one in found)
    assert difficulties(found) == sorted(set(difficulties(found)))
    few = search.one_device("shells", 2)
    assert few == (found[0], found[-1])
    with pytest.raises(InputError, match="is no device"):
        search.one_device("shellz of doom")


def test_a_family_gives_each_device_once(search: Search) -> None:
    found = search.every_device("line", "intermediate")
    names = [one.fill.device for one in found]
    assert len(names) == len(set(names)) > 2
    assert {one.fill.family for one in found} == {"line"}
    assert difficulties(found) == sorted(difficulties(found))
    with pytest.raises(InputError, match="is no family"):
        search.every_device("lines", "intermediate")


def test_the_gaps_of_a_tune_come_once_and_easy_first(search: Search) -> None:
    found = search.gaps_in_order("beginner")
    assert len(set(gaps_of(found))) == len(found) > 2
    assert difficulties(found) == sorted(difficulties(found))
    assert len({one.fill.device for one in found}) > 1
    assert search.gaps_in_order("beginner", 1) == found[:1]


def test_a_set_is_a_plan(search: Search) -> None:
    found = search.gaps_in_order("intermediate")
    plan = read_plan_text(plan_text('A "set" \\ \x7f', found, "rhythm"))
    assert [(item.gap, item.fill, item.show) for item in plan.items] == [
        (one.item.gap, one.item.fill, "rhythm") for one in found]
    assert plan.title == 'A "set" \\'
    assert [task.fill for task in tasks_of(plan, Path())] == [one.fill for one in found]


def test_the_command_overwrites_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]
                                        ) -> None:
    path = tmp_path / "plan.toml"
    arguments = ["plan", "umbrella", "-o", str(path), "--family", "comp", "--items", "2"]
    for code in (0, 2):
        with pytest.raises(SystemExit) as end:
            main(arguments)
        assert (end.value.code or 0) == code
    assert len(read_plan(path).items) == 2
    assert "is there already" in capsys.readouterr().err
