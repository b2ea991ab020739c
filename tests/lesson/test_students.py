"""The class book: dates as the scheduler has them, days that are mixed, and nothing left."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from fsrs import Card, Rating, Scheduler
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright import InputError
from fillwright.cli import main
from fillwright.lesson import Choice, ClassBook, item_of, mixed_day, rated, student_of
from fillwright.lesson import Share as Known

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
RATINGS = ("again", "hard", "good", "easy")


@pytest.fixture
def book(tmp_path: Path) -> Iterator[ClassBook]:
    with ClassBook(tmp_path / "students.sqlite3") as opened:
        opened.add(student_of("Robin", "intermediate", "small", ["Shells"], "left hand first"))
        yield opened


# --- when it comes again ----------------------------------------------------------------------

def test_the_package_gives_the_intervals_it_publishes() -> None:
    """Days between reviews for a row of ratings: py-fsrs, tests/test_basic.py, test_review_card
    (FSRS-6, default parameters); other implementations of the algorithm (ts-fsrs) test for the
    same row."""
    scheduler, card, now = Scheduler(enable_fuzzing=False), Card(card_id=1), NOON
    days = []
    for rating in (3, 3, 3, 3, 3, 3, 1, 1, 3, 3, 3, 3, 3):
        card, _ = scheduler.review_card(card, Rating(rating), now)
        assert card.last_review is not None
        days.append((card.due - card.last_review).days)
        now = card.due
    assert days == [0, 2, 11, 46, 163, 498, 0, 0, 2, 4, 7, 12, 21]


def test_what_is_remembered_is_what_the_package_publishes() -> None:
    """Stability and difficulty after a row of ratings: py-fsrs, tests/test_basic.py,
    test_memo_state."""
    scheduler, card, now = Scheduler(enable_fuzzing=False), Card(card_id=1), NOON
    for rating, days in ((1, 0), (3, 0), (3, 1), (3, 3), (3, 8), (3, 21)):
        now += timedelta(days=days)
        card, _ = scheduler.review_card(card, Rating(rating), now)
    assert card.stability == pytest.approx(53.62691, abs=1e-4)
    assert card.difficulty == pytest.approx(6.3574867, abs=1e-4)


def test_the_package_does_what_its_own_tests_say() -> None:
    """From py-fsrs, tests/test_basic.py: after ten reviews that went easily the difficulty is 1;
    a first review is followed after 1, 5.5 or 10 minutes."""
    scheduler, card = Scheduler(enable_fuzzing=False), Card(card_id=1)
    for second in range(10):
        card, _ = scheduler.review_card(card, Rating.Easy, NOON + timedelta(microseconds=second))
    assert card.difficulty == 1.0
    for rating, seconds in ((Rating.Again, 60), (Rating.Hard, 330), (Rating.Good, 600)):
        first, _ = scheduler.review_card(Card(card_id=1), rating, NOON)
        assert first.due - NOON == timedelta(seconds=seconds)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(RATINGS), st.integers(0, 90)), min_size=1, max_size=8))
def test_an_item_comes_again_when_the_package_says(row: list[tuple[str, int]]) -> None:
    scheduler = Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)
    item, card, own, at = item_of(1, device="shells"), Card(card_id=1), None, NOON
    for rating, days in row:
        at += timedelta(days=days)
        card, _ = scheduler.review_card(card, Rating(RATINGS.index(rating) + 1), at)
        own, due, stability, _ = rated(item, own, rating, at)
        assert (due, stability) == (card.due, card.stability)
        assert due >= at + timedelta(days=1)  # never twice on a day


@given(st.lists(st.sampled_from(RATINGS), max_size=40), st.integers(20, 400))
@settings(max_examples=30, deadline=None)
def test_the_tempo_goes_up_with_good_ratings_and_never_past_the_aim(row: list[str], aim: int
                                                                    ) -> None:
    item, card, at = item_of(1, device="shells", tempo=aim), None, NOON
    assert 20 <= item.now_tempo <= aim
    for rating in row:
        card, at, _, tempo = rated(item, card, rating, at)
        assert 20 <= tempo <= aim
        if rating in ("good", "easy"):
            assert tempo > item.now_tempo or tempo == aim
        if rating == "again":
            assert tempo < item.now_tempo or tempo == 20 or item.now_tempo < 25
        item = replace(item, now_tempo=tempo)


# --- a day ------------------------------------------------------------------------------------

def test_a_day_has_what_is_due_the_least_known_first_and_fits(book: ClassBook) -> None:
    for key in ("C", "F", "Bb", "Eb"):
        for device in ("shells", "scale run", "tritone substitute"):
            book.give("Robin", device=device, key=key)
    first = book.today("Robin", 20, NOON)
    assert [one.why for one in first] == ["new"] * 5 and sum(one.minutes for one in first) == 20
    for one, rating in zip(first, ("easy", "good", "good", "hard", "again"), strict=True):
        book.rate("Robin", one.item.number, rating, NOON)
    later = NOON + timedelta(days=4)
    second = book.today("Robin", 14, later)
    assert sum(one.minutes for one in second) <= 14
    due = {one.item.number for one in second if one.why != "new"}
    assert due == {one.item.number for one in first[1:]}  # what went easily is not yet due
    assert len([one for one in second if one.why == "new"]) == 1
    for row in (first, second):
        for one, other in pairwise(row):
            assert (one.item.device, one.item.key) != (other.item.device, other.item.key)


def test_neighbours_differ_where_they_can() -> None:
    shares = [Known(item_of(n, device=device, key=key), None) for n, (device, key) in enumerate(
        [("shells", "C"), ("shells", "F"), ("scale run", "C"), ("scale run", "F")], 1)]
    row = [one.item for one in mixed_day(shares, 60, NOON)]
    assert all(a.device != b.device for a, b in pairwise(row))


def test_a_day_of_new_things_has_several_and_comes_to_an_end(book: ClassBook) -> None:
    """What was practised today counts, so the minutes are those of the day."""
    for device in ("shells", "scale run"):
        for key in ("C", "F", "Bb", "Eb"):
            book.give("Robin", device=device, key=key)
    assert [one.item.device for one in book.today("Robin", 16, NOON)] == [
        "shells", "scale run"] * 2
    played = 0
    while day := book.today("Robin", 16, NOON):
        played += day[0].minutes
        assert played <= 16
        book.rate("Robin", day[0].item.number, "good", NOON)
        assert book.minutes_done("Robin", NOON) == played
    assert played == 16
    assert book.today("Robin", 20, NOON) and book.minutes_done(
        "Robin", NOON + timedelta(days=1)) == 0
    later = NOON + timedelta(days=30)
    book.rate("Robin", 1, "good", later)
    assert book.minutes_done("Robin", later) == 2


def test_nothing_to_practise_is_an_empty_day(book: ClassBook) -> None:
    assert book.today("Robin", 20, NOON) == ()


# --- the book ---------------------------------------------------------------------------------

def test_a_student_is_exported_whole(book: ClassBook) -> None:
    book.give("Robin", tune="lamp", gap=3, key="F", tempo=100)
    book.rate("robin", 1, "good", NOON, tempo=80)
    value = json.loads(json.dumps(book.export("ROBIN", NOON)))
    assert value["student"] == {"name": "Robin", "level": "intermediate", "hand": "small",
                                "without": ["shells"], "notes": "left hand first"}
    assert value["items"][0]["tune"] == "lamp" and value["items"][0]["known"] == 1
    assert value["reviews"] == [{"number": 1, "at": NOON.isoformat(), "rating": "good",
                                 "tempo": 80}]


def test_no_column_of_a_student_is_left_out_of_the_export(book: ClassBook) -> None:
    """Read beside the book with a general library (sqlite3): each value that is kept is there."""
    book.give("Robin", tune="lamp", gap=3, fill="comp:1", key="F", tempo=100)
    book.give("Robin", device="shells", key="Eb", tempo=90)
    book.rate("Robin", 1, "hard", NOON, tempo=80)
    book.chose("Robin", Choice("4 beats, dominant", "line", False, 2.375), NOON)
    book.keep_pack("p", {"title": "For ROBIN", "student": "ROBIN", "items": []}, NOON)
    book.keep_pack("q", {"title": "For others", "student": "", "items": []}, NOON)
    text = json.dumps(book.export("Robin", NOON), ensure_ascii=False)
    with closing(sqlite3.connect(book.path)) as db:
        names = [row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type='table'")]
        rows = [row for name in names if name != "packs" for row in db.execute(
            f"SELECT * FROM {name}")]
    kept = [value for row in rows for value in row[1:] if isinstance(value, str | float)]
    card = next(json.loads(str(value)) for value in kept if str(value).startswith("{"))
    kept = [value for value in kept if not str(value).startswith("{")]
    kept += [card[name] for name in ("due", "stability", "difficulty", "last_review")]
    missing = [value for value in kept if json.dumps(value, ensure_ascii=False) not in text]
    assert len(kept) > 15 and not missing
    assert "For ROBIN" in text and "For others" not in text


def test_what_did_not_go_is_not_shown_as_known(book: ClassBook) -> None:
    for number, key in enumerate(("C", "F"), 1):
        book.give("Robin", device="shells", key=key)
        book.rate("Robin", number, ("again", "good")[number - 1], NOON)
    assert [one.known for one in book.shares("Robin", NOON)] == [0.5, 1.0]
    book.rate("Robin", 1, "good", NOON + timedelta(days=1))
    assert book.shares("Robin", NOON + timedelta(days=1))[0].known == 1.0


def test_what_is_deleted_is_in_no_file(tmp_path: Path) -> None:
    path = tmp_path / "students.sqlite3"
    with ClassBook(path) as book:
        book.add(student_of("Zebedee", notes="a secret of Zebedee's"))
        book.add(student_of("Robin"))
        book.give("Zebedee", device="scale run", key="F")
        book.rate("Zebedee", 1, "good", NOON)
        assert b"Zebedee" in path.read_bytes()
        book.delete("zebedee")
        assert [one.name for one in book.students()] == ["Robin"]
    for file in tmp_path.iterdir():
        content = file.read_bytes()
        assert b"Zebedee" not in content and b"scale run" not in content
    with ClassBook(path) as book, pytest.raises(InputError, match="no student 'Zebedee'"):
        book.reviews("Zebedee")


def test_a_pack_is_kept_and_loses_the_name_of_who_is_deleted(book: ClassBook) -> None:
    book.keep_pack("a", {"title": "One", "student": "robin", "items": []}, NOON)
    book.keep_pack("b", {"title": "Two", "items": []}, NOON + timedelta(days=1))
    assert [key for key, _, _ in book.packs()] == ["b", "a"]
    book.delete("Robin")
    assert book.pack("a") == {"title": "One", "student": "", "items": []}
    book.drop_pack("a")
    with pytest.raises(InputError, match="no longer there"):
        book.pack("a")
    assert b"robin" not in book.path.read_bytes().lower()


def test_a_student_changes_and_keeps_what_is_practised(book: ClassBook) -> None:
    book.give("Robin", device="scale run")
    book.keep_pack("a", {"title": "One", "student": "robin", "items": []}, NOON)
    book.add(student_of("Ada"))
    assert book.change("ROBIN", level="advanced", without=[]) == replace(
        student_of("Robin", "advanced", "small"), notes="left hand first")
    book.change("Robin", name="R. 7", notes="")
    assert [one.name for one in book.students()] == ["Ada", "R. 7"]
    assert book.pack("a")["student"] == "R. 7" and len(book.shares("r. 7", NOON)) == 1
    assert b"robin" not in book.path.read_bytes().lower()
    for wish, said in (({"name": "ada"}, "already"), ({"level": "none"}, "level"),
                       ({"name": " "}, "name of a student")):
        with pytest.raises(InputError, match=said):
            book.change("R. 7", **wish)
    assert book.student("R. 7") == student_of("R. 7", "advanced", "small")


def test_what_is_taken_back_leaves_nothing_to_what_comes_after(book: ClassBook) -> None:
    for key in ("C", "F"):
        book.give("Robin", device="scale run", key=key)
    for number in (1, 2):
        book.rate("Robin", number, "again", NOON)
    assert book.take_back("Robin", 2).key == "F"
    assert [one.number for one in book.reviews("Robin")] == [1]
    again = book.give("Robin", device="scale run", key="F")
    assert book.shares("Robin", NOON)[-1] == Known(again, None)
    with pytest.raises(InputError, match="nothing of number 9"):
        book.take_back("Robin", 9)


def test_the_book_is_there_when_it_is_opened_again(tmp_path: Path) -> None:
    path = tmp_path / "new folder" / "students.sqlite3"
    with ClassBook(path) as book:
        book.add(student_of("Robin"))
        book.give("Robin", device="shells")
        due = book.rate("Robin", 1, "good", NOON).due
    with ClassBook(path) as book:
        assert book.shares("Robin", NOON)[0].item.due == due


@pytest.mark.parametrize(("wish", "said"), [
    ({}, "a device, or a gap"), ({"device": "no such thing"}, "no device"),
    ({"device": "shells", "gap": 2}, "belongs to a tune"), ({"tune": "lamp"}, "by its number"),
    ({"device": "shells", "key": "H"}, "write a key"), ({"device": "shells", "tempo": 5}, "lies"),
    ({"device": "shells", "tempo": "fast"}, "number"), ({"device": "Shells"}, "already")])
def test_what_cannot_be_practised_is_refused(book: ClassBook, wish: dict[str, object], said: str
                                             ) -> None:
    book.give("Robin", device="shells")
    with pytest.raises(InputError, match=said):
        book.give("Robin", **wish)
    assert len(book.shares("Robin", NOON)) == 1


def test_wrong_words_are_one_sentence_each(book: ClassBook, tmp_path: Path) -> None:
    book.give("Robin", device="shells")
    for wrong in (lambda: student_of(""), lambda: student_of("a\nb" * 200),
                  lambda: student_of("A", level="none"), lambda: book.add(student_of("ROBIN")),
                  lambda: book.rate("Robin", 1, "fine", NOON),
                  lambda: book.rate("Robin", 9, "good", NOON), lambda: book.today("Robin", 0, NOON),
                  lambda: book.delete("Nobody")):
        with pytest.raises(InputError):
            wrong()
    (tmp_path / "other").write_bytes(b"not a database at all, but long enough to be looked at")
    with pytest.raises(InputError):
        ClassBook(tmp_path / "other")


def test_the_commands_lead_through_a_week(tmp_path: Path, capsys: pytest.CaptureFixture[str]
                                          ) -> None:
    def run(*words: str) -> str:
        with pytest.raises(SystemExit) as end:
            main(["student", *words, "--data", str(tmp_path)])
        printed = capsys.readouterr()
        return f"{end.value.code or 0} {printed.out}{printed.err}"

    assert run("list") == "0 no students yet\n"
    assert "pain is a matter" in run("add", "Robin", "--hand", "small")
    assert "tritone substitute in F" in run("give", "Robin", "--device", "tritone substitute",
                                            "--keys", "C F")
    assert "84" in run("today", "Robin")
    assert "again on" in run("rate", "Robin", "1", "good")
    assert run("rate", "Robin", "1", "fine").startswith("2 students.sqlite3: 'fine' is no rating")
    assert "known in" in run("list", "Robin")
    assert json.loads(run("export", "Robin")[2:])["reviews"]
    assert len(json.loads(run("today", "Robin", "--json")[2:])["practice"]) == 1
    assert run("change", "Robin", "--level", "advanced", "--without", "shells") == (
        "0 Robin, advanced, small hand, without shells\n")
    assert run("change", "Robin", "--without", "") == "0 Robin, advanced, small hand\n"
    assert run("change", "Robin").startswith("2 ") and run("take-back", "Robin", "9")[0] == "2"
    assert "in F is no longer practised" in run("take-back", "Robin", "2")
    assert run("delete", "Robin", "--yes") == "0 Robin is deleted\n"
    assert run("export", "Robin").startswith("2 students.sqlite3: there is no student")
