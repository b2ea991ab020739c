"""The class book: students, what they practise and how it went, and packs, in one SQLite file.

Everything stays in that file, on this computer. A change is one transaction, on disk before it
is acknowledged. What is deleted is written over (SQLite's `secure_delete`, and the file is
packed anew), so that no name is left in it.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import asdict, replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any

from fillwright.errors import InputError
from fillwright.lesson.choices import Choice
from fillwright.lesson.practice import (
    Practice,
    Share,
    known_share,
    minutes_done,
    mixed_day,
    rated,
)
from fillwright.lesson.students import Item, Review, Student, item_of, student_of

__all__ = ["FILE_NAME", "ClassBook"]

FILE_NAME = "students.sqlite3"
"""Of the file, in the data folder."""

_WAIT_SEC = 6
_MOST_MINUTES = 24 * 60

_FIRST = ("""
CREATE TABLE students (
    id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE COLLATE NOCASE, level TEXT NOT NULL,
    hand TEXT NOT NULL, without TEXT NOT NULL, notes TEXT NOT NULL)""", """
CREATE TABLE items (
    student INTEGER NOT NULL REFERENCES students(id) ON DELETE CASCADE, number INTEGER NOT NULL,
    device TEXT NOT NULL, tune TEXT NOT NULL, gap INTEGER, fill TEXT NOT NULL, key TEXT NOT NULL,
    tempo INTEGER NOT NULL, now_tempo INTEGER NOT NULL, card TEXT,
    PRIMARY KEY (student, number)) WITHOUT ROWID""", """
CREATE TABLE reviews (
    student INTEGER NOT NULL REFERENCES students(id) ON DELETE CASCADE, number INTEGER NOT NULL,
    at TEXT NOT NULL, rating TEXT NOT NULL, tempo INTEGER NOT NULL)""")

_SECOND = ("""
CREATE TABLE choices (
    student INTEGER NOT NULL REFERENCES students(id) ON DELETE CASCADE, at TEXT NOT NULL,
    kind TEXT NOT NULL, family TEXT NOT NULL, works INTEGER NOT NULL, seconds REAL NOT NULL)""",)
"""What was chosen in drills."""

_THIRD = ("""
CREATE TABLE packs (id TEXT PRIMARY KEY, document TEXT NOT NULL, changed_sec REAL NOT NULL)
WITHOUT ROWID""",)
"""What is to be handed out, as JSON."""

_STEPS = (_FIRST, _SECOND, _THIRD)
"""What leads from each version of the tables to the next."""

VERSION = len(_STEPS)


class ClassBook:
    """An open book; used as a context manager. Raises InputError where the file is not one."""

    def __init__(self, path: Path) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        self.path = path
        try:
            self._db = sqlite3.connect(path, timeout=_WAIT_SEC, isolation_level=None)
            for pragma in ("secure_delete=ON", "foreign_keys=ON", "synchronous=FULL"):
                self._db.execute(f"PRAGMA {pragma}")
            self._prepare()
        except sqlite3.Error as error:
            raise InputError(f"cannot be used as a book of students ({error})",
                             path.name) from error

    def _prepare(self) -> None:
        version = self._db.execute("PRAGMA user_version").fetchone()[0]
        if version > VERSION:
            raise InputError("was written by a newer version of this program", self.path.name)
        if version < VERSION:
            with self._change():
                for step in _STEPS[version:]:
                    for table in step:
                        self._db.execute(table)
                self._db.execute(f"PRAGMA user_version={VERSION}")

    def __enter__(self) -> ClassBook:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        self._db.close()

    @contextmanager
    def _change(self) -> Iterator[None]:
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            self._db.execute("ROLLBACK")
            raise
        self._db.execute("COMMIT")

    # --- students -----------------------------------------------------------------------------

    def add(self, student: Student) -> None:
        """Raises InputError where there is one of that name."""
        try:
            with self._change():
                self._db.execute(
                    "INSERT INTO students (name, level, hand, without, notes) VALUES (?,?,?,?,?)",
                    (student.name, student.level, student.hand, "\n".join(student.without),
                     student.notes))
        except sqlite3.IntegrityError:
            raise InputError(f"there is a student {student.name!r} already") from None

    def students(self) -> tuple[Student, ...]:
        """All of them, by name."""
        with closing(self._db.execute("SELECT name, level, hand, without, notes FROM students "
                                      "ORDER BY name")) as rows:
            return tuple(_student(row) for row in rows)

    def student(self, name: str) -> Student:
        """Raises InputError where there is none, naming those there are."""
        row = self._db.execute("SELECT name, level, hand, without, notes FROM students "
                               "WHERE id = ?", (self._id(name),)).fetchone()
        return _student(row)

    def change(self, name: str, /, **wish: Any) -> Student:
        """A student otherwise: another name, level or hand, other devices switched off, other
        notes, as `student_of` takes them; what is not named stays, and so does what is practised.
        Packs for them go by the new name. Raises InputError."""
        number, before = self._id(name), self.student(name)
        after = student_of(**{**asdict(before), **wish})
        try:
            with self._change():
                self._db.execute(
                    "UPDATE students SET name = ?, level = ?, hand = ?, without = ?, notes = ? "
                    "WHERE id = ?", (after.name, after.level, after.hand,
                                     "\n".join(after.without), after.notes, number))
                self._readdress(before.name, after.name)
        except sqlite3.IntegrityError:
            raise InputError(f"there is a student {after.name!r} already") from None
        self._db.execute("VACUUM")
        return after

    def delete(self, name: str) -> None:
        """A student with everything that was kept of them; nothing of it is left in the file, and
        packs for them are for nobody in particular. Raises InputError where there is none."""
        number = self._id(name)
        known = self.student(name).name
        with self._change():
            self._db.execute("DELETE FROM students WHERE id = ?", (number,))
            self._readdress(known, "")
        self._db.execute("VACUUM")

    def _readdress(self, name: str, other: str) -> None:
        """Packs for one name are for another."""
        for key, document, changed_sec in self._packs():
            if _is_for(document, name):
                self._put(key, {**document, "student": other}, changed_sec)

    def _id(self, name: str) -> int:
        row = self._db.execute("SELECT id FROM students WHERE name = ?",
                               (" ".join(str(name).split()),)).fetchone()
        if row is None:
            known = ", ".join(one.name for one in self.students())
            raise InputError(f"there is no student {name!r}"
                             + (f"; there are {known}" if known else " yet"))
        return int(row[0])

    # --- what they practise -------------------------------------------------------------------

    def give(self, name: str, **wish: Any) -> Item:
        """Something more to practise, as `item_of` takes it. Raises InputError."""
        student = self._id(name)
        with self._change():
            last = self._db.execute("SELECT MAX(number) FROM items WHERE student = ?",
                                    (student,)).fetchone()[0] or 0
            item = item_of(last + 1, **wish)
            same = self._db.execute(
                "SELECT number FROM items WHERE student = ? AND device = ? AND tune = ? AND "
                "gap IS ? AND fill = ? AND key = ?", (student, item.device, item.tune, item.gap,
                                                      item.fill, item.key)).fetchone()
            if same is not None:
                raise InputError(f"{item.words} is practised already, number {same[0]}")
            self._db.execute(
                "INSERT INTO items VALUES (?,?,?,?,?,?,?,?,?,NULL)",
                (student, item.number, item.device, item.tune, item.gap, item.fill, item.key,
                 item.tempo, item.now_tempo))
        return item

    def take_back(self, name: str, number: int) -> Item:
        """Something is no longer practised; how it went goes with it. Raises InputError where there
        is nothing of that number."""
        item, _ = self._numbered(name, number)
        student = self._id(name)
        with self._change():
            for table in ("items", "reviews"):
                self._db.execute(f"DELETE FROM {table} WHERE student = ? AND number = ?",
                                 (student, number))
        return item

    def shares(self, name: str, at: datetime) -> tuple[Share, ...]:
        """What a student practises, in order of number, each with how likely it is known."""
        last: dict[int, str] = {}
        for review in self.reviews(name):
            last[review.number] = review.rating
        return tuple(Share(item, known_share(card, last.get(item.number), at))
                     for item, card in self._items(name))

    def _items(self, name: str) -> list[tuple[Item, str | None]]:
        with closing(self._db.execute(
                "SELECT number, device, tune, gap, fill, key, tempo, now_tempo, card FROM items "
                "WHERE student = ? ORDER BY number", (self._id(name),))) as rows:
            return [(_item(row), row[-1]) for row in rows]

    def _numbered(self, name: str, number: int) -> tuple[Item, str | None]:
        """Raises InputError."""
        found = next((row for row in self._items(name) if row[0].number == number), None)
        if found is None:
            raise InputError(f"{name} practises nothing of number {number}")
        return found

    def rate(self, name: str, number: int, rating: str, at: datetime,
             tempo: int | None = None) -> Item:
        """How an item went, and at which tempo where it was another than asked for; returns the
        item as it is from now on. Raises InputError."""
        item, card = self._numbered(name, number)
        if tempo is not None:
            checked = item_of(number, device=item.device, tune=item.tune, gap=item.gap,
                              key=item.key, tempo=tempo)
            item = replace(item, now_tempo=checked.tempo)
        after, due, stability, next_tempo = rated(item, card, rating, at)
        student = self._id(name)
        with self._change():
            self._db.execute("UPDATE items SET card = ?, now_tempo = ? WHERE student = ? AND "
                             "number = ?", (after, next_tempo, student, number))
            self._db.execute("INSERT INTO reviews VALUES (?,?,?,?,?)", (
                student, number, at.astimezone(UTC).isoformat(), rating, item.now_tempo))
        return replace(item, now_tempo=next_tempo, due=due, stability=stability)

    def reviews(self, name: str) -> tuple[Review, ...]:
        """How it went, in order of time."""
        with closing(self._db.execute(
                "SELECT number, at, rating, tempo FROM reviews WHERE student = ? ORDER BY at, "
                "rowid", (self._id(name),))) as rows:
            return tuple(Review(number, datetime.fromisoformat(at), rating, tempo)
                         for number, at, rating, tempo in rows)

    def chose(self, name: str, choice: Choice, at: datetime) -> None:
        """What a student answered in a drill. Raises InputError where there is none."""
        student = self._id(name)
        with self._change():
            self._db.execute("INSERT INTO choices VALUES (?,?,?,?,?,?)", (
                student, at.astimezone(UTC).isoformat(), choice.kind, choice.family,
                choice.works, choice.seconds))

    def choices(self, name: str) -> tuple[Choice, ...]:
        """All answers in drills, in order of time."""
        with closing(self._db.execute(
                "SELECT kind, family, works, seconds FROM choices WHERE student = ? ORDER BY at, "
                "rowid", (self._id(name),))) as rows:
            return tuple(Choice(kind, family, bool(works), seconds)
                         for kind, family, works, seconds in rows)

    def today(self, name: str, minutes: int, at: datetime) -> tuple[Practice, ...]:
        """What to practise today, in so many minutes at most, those that were practised on that day
        among them. Raises InputError."""
        if isinstance(minutes, bool) or not isinstance(minutes, int) or not (
                1 <= minutes <= _MOST_MINUTES):
            raise InputError(f"a day's practice lasts 1 to {_MOST_MINUTES} minutes")
        return mixed_day(self.shares(name, at), minutes - self.minutes_done(name, at), at)

    def minutes_done(self, name: str, at: datetime) -> int:
        """What a student has practised on the day of `at`."""
        return minutes_done(self.reviews(name), at)

    # --- packs --------------------------------------------------------------------------------

    def packs(self) -> list[tuple[str, dict[str, Any], float]]:
        """All of them: key, document, when it was changed (seconds since 1970), the last first."""
        return sorted(self._packs(), key=lambda row: (-row[2], row[0]))

    def pack(self, key: str) -> dict[str, Any]:
        """Raises InputError where there is none."""
        found = next((document for own, document, _ in self._packs() if own == key), None)
        if found is None:
            raise InputError("that pack is no longer there")
        return found

    def keep_pack(self, key: str, document: Mapping[str, Any], at: datetime) -> None:
        with self._change():
            self._put(key, document, at.timestamp())

    def drop_pack(self, key: str) -> None:
        """Raises InputError where there is none."""
        self.pack(key)
        with self._change():
            self._db.execute("DELETE FROM packs WHERE id = ?", (key,))

    def _put(self, key: str, document: Mapping[str, Any], changed_sec: float) -> None:
        self._db.execute("INSERT OR REPLACE INTO packs VALUES (?,?,?)",
                         (key, json.dumps(document), changed_sec))

    def _packs(self) -> list[tuple[str, dict[str, Any], float]]:
        with closing(self._db.execute("SELECT id, document, changed_sec FROM packs")) as rows:
            return [(key, json.loads(text), changed) for key, text, changed in rows]

    # ------------------------------------------------------------------------------------------

    def export(self, name: str, at: datetime) -> dict[str, Any]:
        """All that is kept of a student, as JSON has it."""
        student, number = self.student(name), self._id(name)
        cards = {item.number: card for item, card in self._items(name)}
        with closing(self._db.execute(
                "SELECT at FROM choices WHERE student = ? ORDER BY at, rowid", (number,))) as rows:
            chosen = [at for at, in rows]
        return {
            "format": "fillwright student", "version": VERSION,
            "student": {**asdict(student), "without": list(student.without)},
            "items": [{**_plain(asdict(one.item)), "known": None if one.known is None
                       else round(one.known, 4), **_memory(cards[one.item.number])}
                      for one in self.shares(name, at)],
            "reviews": [_plain(asdict(one)) for one in self.reviews(name)],
            "choices": [{"at": when, **asdict(one)}
                        for when, one in zip(chosen, self.choices(name), strict=True)],
            "packs": [document for _, document, _ in self.packs()
                      if _is_for(document, student.name)],
        }


def _is_for(document: Mapping[str, Any], name: str) -> bool:
    """Whether a pack is made out to a student."""
    return str(document.get("student", "")).casefold() == name.casefold()


def _memory(card: str | None) -> dict[str, Any]:
    """What the scheduler knows of an item besides its stability."""
    state = {} if card is None else json.loads(card)
    return {name: state.get(name) for name in ("difficulty", "last_review")}


def _student(row: tuple[str, str, str, str, str]) -> Student:
    name, level, hand, without, notes = row
    return Student(name, level, hand, tuple(one for one in without.split("\n") if one), notes)


def _item(row: tuple[Any, ...]) -> Item:
    *values, card = row
    item = Item(*values)
    if card is None:
        return item
    state = json.loads(card)
    return replace(item, due=datetime.fromisoformat(state["due"]), stability=state["stability"])


def _plain(value: dict[str, Any]) -> dict[str, Any]:
    """Dates as text."""
    return {name: one.isoformat() if isinstance(one, datetime) else one
            for name, one in value.items()}
