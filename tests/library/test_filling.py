"""What is not worked out yet: worked out where it is listed, counted, and told where it fails."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.library.test_library import HEADER, names, run

import fillwright.library
from fillwright import Library, Question, Tune

MUSIC = '"Dm7" {} | "G7" B2 "Cmaj7" c d |]\n'


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Library]:
    """Three tunes of two gaps each, nothing worked out."""
    (tmp_path / "sheets").mkdir()
    for title, note in (("Ash", "A4"), ("Birch", "f4"), ("Cedar", "d4")):
        (tmp_path / "sheets" / f"{title.lower()}.abc").write_text(
            HEADER.format(title, 120, "C") + MUSIC.format(note))
    with Library(tmp_path / "library.sqlite3") as opened:
        opened.add([tmp_path / "sheets"])
        yield opened


def test_only_what_is_listed_is_worked_out(shelf: Library) -> None:
    question = Question(level="beginner", count=2)
    at_once = shelf.find(question)
    assert not any(gap.devices for gap in at_once.gaps) and at_once.unworked == 6
    answer = shelf.find(question, working=9)
    assert all(gap.devices for gap in answer.gaps) and answer.unworked == 4
    # A device: tune after tune until enough are listed.
    one = Question(level="beginner", device="shells", count=6)
    before = shelf.find(one)
    assert 1 <= before.total <= 2 and before.unworked == 4
    found = shelf.find(one, working=1)
    assert found.total > before.total and found.unworked == 2
    # What may be used is counted by itself, and less work.
    may = Question(level="beginner", device="shells", may=True)
    assert shelf.find(may).unworked == 2
    assert shelf.find(may, working=9).unworked == 0 and shelf.find(one).unworked <= 2


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> None:
    real = fillwright.library.work_out

    def work_out(tune: Tune, *rest: Any) -> Any:
        if tune.title == "Birch":
            raise ZeroDivisionError("no beat")
        return real(tune, *rest)

    monkeypatch.setattr("fillwright.library.filling.work_out", work_out)


@pytest.mark.usefixtures("failing")
def test_what_cannot_be_worked_out_is_told_each_time_and_not_tried_again(shelf: Library) -> None:
    worked = shelf.work_out("beginner")
    assert worked.tunes == 2
    [(path, sentence)] = worked.failed
    assert names([path]) == ["birch.abc"] and "no beat" in sentence
    again = shelf.work_out("beginner")
    assert again.tunes == 0 and again.failed == worked.failed
    answer = shelf.find(Question(level="beginner"), working=9)
    assert (answer.total, answer.unworked, answer.failed) == (6, 0, 2)
    assert shelf.find(Question(level="beginner", device="shells")).failed == 2
    assert shelf.find(Question(level="beginner", title="ash")).failed == 0


@pytest.mark.usefixtures("failing")
def test_the_commands_tell_what_failed(
        capsys: pytest.CaptureFixture[str], tmp_path: Path, shelf: Library) -> None:
    data = ("--data", tmp_path)
    status, out, _ = run(capsys, "add", tmp_path / "sheets", "--level", "beginner", "--processes",
                         1, *data)
    assert status == 0 and "2 tunes worked out for beginner players, 1 failed" in out
    assert "birch.abc: the program failed on this tune" in out
    _, out, _ = run(capsys, "find", "--level", "beginner", *data)
    assert "2 of them lie in tunes that could not be worked out" in out


def test_a_file_that_is_another_now_is_told_and_tried_again(shelf: Library, tmp_path: Path) -> None:
    path = tmp_path / "sheets" / "birch.abc"
    before = path.read_text()
    path.write_text(before.replace("f4", "e4"))
    (tmp_path / "sheets" / "cedar.abc").unlink()
    worked = shelf.work_out("beginner")
    assert worked.tunes == 1 and names([one for one, _ in worked.failed]) == [
        "birch.abc", "cedar.abc"]
    assert "add its folder again" in worked.failed[0][1]
    assert "no such file" in worked.failed[1][1]
    assert shelf.find(Question(level="beginner")).unworked == 4  # counted, whatever is asked
    path.write_text(before)
    assert shelf.work_out("beginner").tunes == 1


def test_the_nearest_gaps_are_worked_out_too(shelf: Library, tmp_path: Path) -> None:
    sheet = fillwright.describe((tmp_path / "sheets" / "ash.abc").read_bytes(), "ash.abc")
    wanted = Question(level="beginner", count=2)
    assert not any(gap.devices for gap in shelf.like(sheet.gaps[0], wanted))
    near = shelf.like(sheet.gaps[0], wanted, working=9)
    assert all(gap.devices for gap in near) and shelf.find(Question(level="beginner")).unworked
    elsewhere = shelf.like(sheet.gaps[0], Question(level="beginner", count=2, device="shells"),
                           fingerprint=sheet.fingerprint, working=9)
    assert {gap.title for gap in elsewhere} <= {"Ash", "Birch", "Cedar"} and len(elsewhere) == 2


def test_an_order_says_what_it_leaves_out(
        capsys: pytest.CaptureFixture[str], tmp_path: Path, shelf: Library) -> None:
    shelf.find(Question(level="beginner", title="ash"), working=1)
    assert shelf.lacking("beginner") == 2 and shelf.lacking("advanced") == 3
    for command in ("order", "cover"):
        _, out, _ = run(capsys, command, "--level", "beginner", "--data", tmp_path)
        assert "2 more tunes are not worked out for beginner players" in out
