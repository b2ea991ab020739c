"""What stands beside a choice is what is found when it is taken."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from tests.library.test_library import FIRST, HEADER, SECOND

from fillwright import Library, Question
from fillwright.library import span_of


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    """Three tunes, one of them a copy in another key; one is worked out."""
    folder = tmp_path_factory.mktemp("counted")
    moved = '"Em7" B4 | "A7" c2 "Dmaj7" d e | "F#m7" f4- | "B7" f2 g2 |"D6" f4 |]\n'
    for name, tempo, key, music in (("a", 120, "C", FIRST), ("b", 200, "Bb", SECOND),
                                    ("c", 90, "D", moved)):
        (folder / f"{name}.abc").write_text(HEADER.format(name, tempo, key) + music)
    with Library(folder / "library.sqlite3") as opened:
        opened.add([folder])
        opened.find(Question(title="a", level="beginner"), working=9)
        yield opened


def taken(question: Question, field: str, value: str) -> Question:
    """A question with a choice taken."""
    given: Any = value
    if field in ("beats", "tempo"):
        given = span_of(value)
    elif field == "max_difficulty":
        given = int(value)
    return replace(question, **{field: given})


@pytest.mark.parametrize("question", [
    Question(level="beginner"), Question(over="V7"), Question(level="beginner", device="shells"),
    Question(beats=(4, None), level="beginner", max_difficulty=20), Question(key="D"),
    Question(tempo=(None, 120), holding="5"), Question(title="c", copies=True)],
    ids=lambda one: "")
def test_each_choice_leaves_as_many_as_it_says(shelf: Library, question: Question) -> None:
    counts = shelf.counts(question)
    assert set(counts.choices) == {"beats", "over", "holding", "key", "tempo", "device",
                                   "max_difficulty", "level"}
    for field, choices in counts.choices.items():
        for choice in choices:
            found = shelf.find(taken(question, field, choice.value)).total
            assert choice.count == found, (field, choice)
    picture = counts.picture
    for row, cells in zip(picture.rows, picture.cells, strict=True):
        for column, count in zip(picture.columns, cells, strict=True):
            assert shelf.find(replace(question, over=row, beats=span_of(column))).total == count


def test_some_choices_are_there(shelf: Library) -> None:
    choices = shelf.counts(Question(level="beginner")).choices
    assert {one.value: one.count for one in choices["key"]} == {"C": 5, "D": 5, "Bb": 4}
    assert [one.count for one in choices["level"]] == [9, 9, 9]
    assert "shells" in {one.value for one in choices["device"]}
    assert sum(one.count for one in choices["beats"]) == 9  # no stretch is left out
