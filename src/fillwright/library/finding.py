"""Asking the library: from a question to the gaps that answer it.

The statements are plain enough for SQLite and DuckDB. What is asked of the chords is looked for
among the few thousand different rows of chords first, so that a hundred thousand gaps are
compared by numbers only; a limit of hardness walks along an index that is in that order.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from fillwright.errors import printable_name
from fillwright.library.asking import WAYS, Question
from fillwright.library.model import PLACES, WORK
from fillwright.library.numerals import degree_semitones, row_pattern
from fillwright.library.shelving import BITS
from fillwright.library.teaching import Lesson, Offered

__all__ = ["Answer", "Database", "FoundDevice", "FoundGap", "Where", "device_number",
           "find_gaps_in", "gaps_offering", "of_the_page", "player_number", "read_gaps",
           "read_lessons", "sheets_of", "sheets_that_match", "sheets_that_may"]


class Rows(Protocol):
    """What a statement gives."""

    def fetchall(self) -> list[Any]: ...

    def fetchone(self) -> Any: ...


class Database(Protocol):
    """What is asked of a connection, of SQLite or DuckDB."""

    def execute(self, sql: str, parameters: Any = ..., /) -> Rows: ...


@dataclass(frozen=True, slots=True)
class FoundDevice:
    """A device that is offered at a gap, with its best option's difficulty."""

    family: str
    name: str
    level: str
    difficulty: int


@dataclass(frozen=True, slots=True)
class FoundGap:
    """A gap on the shelf. `tune` is the path of its file ("book.abc#3" for a tune of a book),
    the rest as in `GapFacts` and `SheetFacts`."""

    id: int
    sheet: int
    tune: str
    title: str
    key: str
    tempo: float
    number: int
    bar: str
    pass_number: int
    beat: str
    beats: str
    seconds: float
    chords: tuple[str, ...]
    functions: tuple[str, ...]
    degree: str
    held: str
    place: str
    why: tuple[str, ...]
    alike: int
    devices: tuple[FoundDevice, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """The gaps that answer a question, in the order asked for.

    total      how many answer it, listed or not
    unworked   how many answer all of it that is read off the page, in tunes whose devices are
               not worked out for the player, those left out of which it is known that the device
               may not be used there
    failed     the same of tunes that cannot be worked out
    """

    gaps: tuple[FoundGap, ...]
    total: int
    unworked: int
    failed: int = 0


@dataclass(slots=True)
class Where:
    """Conditions of a statement with their values."""

    parts: list[str] = field(default_factory=list)
    values: list[object] = field(default_factory=list)

    def add(self, part: str, *values: object) -> None:
        self.parts.append(part)
        self.values += values

    def between(self, what: str, span: tuple[float | None, float | None] | None) -> None:
        low, high = span or (None, None)
        if low is not None:
            self.add(f"{what} >= ?", low)
        if high is not None:
            self.add(f"{what} <= ?", high)

    @property
    def text(self) -> str:
        return " AND ".join(self.parts) or "1 = 1"


_FEW = 8000
"""Gaps that are looked up one by one; of more, the index that is in order is walked along."""


def find_gaps_in(database: Database, question: Question) -> Answer:
    """The gaps that answer a question."""
    where = of_the_page(database, question)
    if where is None:
        return Answer((), 0, 0)
    player = player_number(database, question)
    search = _Search(database, question, where, player)
    if question.may:
        total, ids = search.that_may()
    elif question.asks_for_offers:
        total, ids = search.offered()
    else:
        total, ids = search.any()
    return Answer(read_gaps(database, ids, player, question.level), total,
                  *_unworked(database, question, where, player))


def player_number(database: Database, question: Question) -> int:
    return _number(database, "SELECT id FROM players WHERE level = ? AND hand = ?",
                   question.level, question.hand)


def _number(database: Database, sql: str, *values: object) -> int:
    """The number a statement gives, -1 for none."""
    row = database.execute(sql, values).fetchone()
    return -1 if row is None or row[0] is None else int(row[0])


def _numbers(numbers: Iterable[int]) -> str:
    """For IN (...): numbers of our own, so that the statement may hold them."""
    return ", ".join(map(str, numbers))


def of_the_page(database: Database, question: Question) -> Where | None:
    """What is read off the page, as conditions for `gaps`; None where nothing can answer it."""
    where = Where()
    where.between("gaps.beats", question.beats)
    where.between("gaps.seconds", question.seconds)
    if question.over or question.into:
        rows = database.execute("SELECT id, row FROM rows").fetchall()
        for column, text in (("gaps.row", question.over), ("gaps.into_row", question.into)):
            if text:
                pattern = row_pattern(text)
                found = [number for number, row in rows if pattern.search(row)]
                if not found:
                    return None
                where.add(f"{column} IN ({_numbers(found)})")
    if question.holding:
        where.add("gaps.semitones = ?", degree_semitones(question.holding))
    if question.landing:
        low, high = WAYS[question.landing]
        where.add("gaps.landing BETWEEN ? AND ?", low, high)
    if question.place:
        where.add("gaps.place = ?", PLACES.index(question.place))
    sheet = _of_the_sheet(question)
    if sheet.parts:
        where.add(f"gaps.sheet IN (SELECT id FROM sheets WHERE {sheet.text})", *sheet.values)
    elif not question.copies and database.execute(
            "SELECT 1 FROM sheets WHERE first = 0 LIMIT 1").fetchone() is not None:
        where.add("gaps.sheet NOT IN (SELECT id FROM sheets WHERE first = 0)")
    return where


def _of_the_sheet(question: Question) -> Where:
    where = Where()
    where.between("tempo", question.tempo)
    if question.meter:
        where.add("meter = ?", question.meter)
    if question.title:
        where.add("instr(folded, ?) > 0", question.title.casefold())
    if question.key:  # a copy in the wanted key is as good as the first
        key = question.wanted_key
        where.add("tonic = ? AND mode = ?", key.tonic.pitch_class, key.mode)
    elif where.parts and not question.copies:
        where.add("first = 1")
    return where


def _unworked(database: Database, question: Question, where: Where, player: int
              ) -> tuple[int, int]:
    """Gaps in tunes whose devices are not worked out for the player, and in those that cannot be;
    not those of which it is known that the device may not be used there."""
    depth = 0 if question.may else 1
    tried = f"SELECT sheet FROM worked WHERE player = ? AND program = {WORK}"
    done = f"{tried} AND depth >= {depth} AND failed = ''"
    if not _number(database, f"SELECT count(*) FROM sheets WHERE id NOT IN ({done})", player):
        return 0, 0
    never = Where()
    device = device_number(database, question) if question.device else -1
    if device > 0:
        column, bit = divmod(device - 1, BITS)
        never.add(" AND gaps.id NOT IN (SELECT gap FROM may JOIN gaps AS own ON own.id = may.gap "
                  f"WHERE may.player = ? AND (m{column} & {1 << bit}) = 0 AND own.sheet IN "
                  f"({tried}))", player, player)
    lacking, failed = (_number(
        database, f"SELECT count(*) FROM gaps WHERE {where.text} AND sheet {which}"
        + "".join(never.parts), *where.values, player, *never.values)
        for which in (f"NOT IN ({done})", f"IN ({tried} AND failed != '')"))
    return lacking - failed, failed


_ORDERS = {"easiest": "offered.difficulty, offered.gap",
           "best": "{best}, offered.difficulty, offered.gap",
           "longest": "gaps.beats DESC, offered.difficulty, offered.gap", "shelf": "offered.gap"}


class _Search:
    """A question on its way: each table is gone through once."""

    def __init__(self, database: Database, question: Question, where: Where, player: int
                 ) -> None:
        self.database, self.question = database, question
        self.where, self.player = where, player
        self.few: list[int] | None = None
        """All gaps that answer what is read off the page, where they are few."""
        if where.parts:
            found = self._column(f"SELECT gaps.id FROM gaps WHERE {where.text} LIMIT {_FEW + 1}",
                                 where.values)
            self.few = found if len(found) <= _FEW else None

    def _column(self, sql: str, values: Sequence[object]) -> list[int]:
        return [row[0] for row in self.database.execute(sql, values).fetchall()]

    def offered(self) -> tuple[int, list[int]]:
        """Gaps at which what is asked for is offered."""
        question = self.question
        table, best = "ease", "offered.ideas DESC"
        wanted = Where(["offered.player = ?"], [self.player])
        if question.device:
            table, best = "offers", "offered.rank"
            wanted.add("offered.device = ?", device_number(self.database, question))
        else:
            wanted.add("offered.family = ?", question.family)
        if question.max_difficulty is not None:
            wanted.add("offered.difficulty <= ?", question.max_difficulty)
        return self._sorted(table, wanted, _ORDERS[question.sort].format(best=best))

    def _sorted(self, table: str, wanted: Where, order: str) -> tuple[int, list[int]]:
        """How many rows there are, and the gaps of the first of them."""
        count = self.question.count
        longest = " JOIN gaps ON gaps.id = offered.gap" if "gaps." in order else ""
        if self.few is not None:
            wanted.add(f"offered.gap IN ({_numbers(self.few)})")
        elif self.where.parts:  # the order of the tables is said: SQLite has no figures to choose
            found = self._column(
                f"SELECT offered.gap FROM {table} AS offered CROSS JOIN gaps WHERE offered.gap = "
                f"gaps.id AND {wanted.text} AND {self.where.text} ORDER BY {order}",
                [*wanted.values, *self.where.values])
            return len(found), found[:count]
        total = _number(self.database, f"SELECT count(*) FROM {table} AS offered WHERE "
                        f"{wanted.text}", *wanted.values)
        return total, self._column(
            f"SELECT offered.gap FROM {table} AS offered{longest} WHERE {wanted.text} ORDER BY "
            f"{order} LIMIT {count}", wanted.values)

    def that_may(self) -> tuple[int, list[int]]:
        """Gaps at which a device may be used, those at which it is offered first."""
        device = device_number(self.database, self.question)
        if device < 0:
            return 0, []
        column, bit = divmod(device - 1, BITS)
        mask = Where([f"may.player = ? AND (may.m{column} & {1 << bit}) != 0"], [self.player])
        source = "may"
        if self.few is not None:
            mask.add(f"may.gap IN ({_numbers(self.few)})")
        elif self.where.parts:
            source = "may CROSS JOIN gaps"
            mask.add(f"gaps.id = may.gap AND {self.where.text}", *self.where.values)
        total = _number(self.database, f"SELECT count(*) FROM {source} WHERE {mask.text}",
                        *mask.values)
        _, found = self.offered()
        return total, self._and_others(found, f"SELECT may.gap FROM {source} WHERE {mask.text}",
                                       "may.gap", mask.values)

    def _and_others(self, found: list[int], sql: str, column: str, values: Sequence[object]
                    ) -> list[int]:
        """Those found, and others up to the number asked for, in the order of the shelf."""
        count = self.question.count - len(found)
        if count <= 0:
            return found
        known = f" AND {column} NOT IN ({_numbers(found)})" if found else ""
        return found + self._column(f"{sql}{known} ORDER BY {column} LIMIT {count}", values)

    def any(self) -> tuple[int, list[int]]:
        """Gaps of which nothing is asked that has to be worked out; where it is, the easiest come
        first all the same."""
        where, sort, count = self.where, self.question.sort, self.question.count
        total = len(self.few) if self.few is not None else _number(
            self.database, f"SELECT count(*) FROM gaps WHERE {where.text}", *where.values)
        if self.few is not None:
            where = Where([f"gaps.id IN ({_numbers(self.few)})"])
        if sort in ("longest", "shelf") or not total:
            order = "gaps.beats DESC, gaps.id" if sort == "longest" else "gaps.id"
            return total, self._column(f"SELECT gaps.id FROM gaps WHERE {where.text} ORDER BY "
                                       f"{order} LIMIT {count}", where.values)
        order = _ORDERS[sort].format(best="offered.ideas DESC")
        if self.few is not None:
            _, found = self._sorted("ease", Where(["offered.player = ? AND offered.family = ''"],
                                                   [self.player]), order)
        else:
            found = self._column(
                "SELECT offered.gap FROM ease AS offered CROSS JOIN gaps WHERE offered.gap = "
                f"gaps.id AND offered.player = ? AND offered.family = '' AND {where.text} ORDER BY "
                f"{order} LIMIT {count}", [self.player, *where.values])
        return total, self._and_others(found, f"SELECT gaps.id FROM gaps WHERE {where.text}",
                                       "gaps.id", where.values)


def device_number(database: Database, question: Question) -> int:
    return _number(database, "SELECT id FROM devices WHERE family = ? AND name = ?",
                   *question.wanted_device)


def sheets_that_match(database: Database, question: Question) -> list[int]:
    """The tunes that have a gap which answers all of a question that is read off the page."""
    where = of_the_page(database, question)
    if where is None:
        return []
    return [row[0] for row in database.execute(
        f"SELECT DISTINCT sheet FROM gaps WHERE {where.text} ORDER BY sheet",
        where.values).fetchall()]


def sheets_of(database: Database, gaps: Iterable[int]) -> list[int]:
    """The tunes of some gaps, each once, in the order of the gaps."""
    wanted = list(gaps)
    found = dict(database.execute(f"SELECT id, sheet FROM gaps WHERE id IN ({_numbers(wanted)})"
                                  ).fetchall())
    return list(dict.fromkeys(found[gap] for gap in wanted if gap in found))


def sheets_that_may(database: Database, question: Question) -> list[int]:
    """The tunes in which the device of a question may be used by its player."""
    device = device_number(database, question)
    player = player_number(database, question)
    if device < 0:
        return []
    column, bit = divmod(device - 1, BITS)
    return [row[0] for row in database.execute(
        "SELECT DISTINCT gaps.sheet FROM may JOIN gaps ON gaps.id = may.gap WHERE may.player = ? "
        f"AND (may.m{column} & {1 << bit}) != 0 ORDER BY gaps.sheet", (player,)).fetchall()]


def gaps_offering(database: Database, question: Question, player: int) -> list[int]:
    """All gaps at which the device of a question is offered to a player."""
    return [row[0] for row in database.execute(
        "SELECT gap FROM offers WHERE player = ? AND device = ? ORDER BY gap",
        (player, device_number(database, question))).fetchall()]


def read_lessons(database: Database, level: str, hand: str, *, gaps: bool = False
                 ) -> tuple[Lesson, ...]:
    """Every tune (or gap) with the devices that are offered there to a player, each where it is
    easiest; of the same music in several keys the first."""
    player = _number(database, "SELECT id FROM players WHERE level = ? AND hand = ?", level, hand)
    found: dict[int, dict[str, Offered]] = {}
    names: dict[int, tuple[str, str]] = {}
    for sheet, title, gap, number, bar, family, device, difficulty in database.execute(
            "SELECT sheets.id, sheets.title, gaps.id, gaps.number, told.bar, devices.family, "
            "devices.name, offers.difficulty FROM offers JOIN gaps ON gaps.id = offers.gap JOIN "
            "told ON told.gap = gaps.id JOIN sheets ON sheets.id = gaps.sheet JOIN devices ON "
            "devices.id = offers.device WHERE offers.player = ? AND sheets.first = 1 "
            "ORDER BY offers.difficulty, gaps.id", (player,)).fetchall():
        key = gap if gaps else sheet
        names[key] = (f"{sheet:09d}:{number:05d}" if gaps else f"{sheet:09d}",
                      f"{title}, bar {bar}" if gaps else title)
        found.setdefault(key, {}).setdefault(device, Offered(difficulty, family, bar, number))
    return tuple(Lesson(*names[key], devices) for key, devices in sorted(found.items()))


def read_gaps(database: Database, ids: Sequence[int], player: int, level: str
              ) -> tuple[FoundGap, ...]:
    """Gaps by their numbers, in this order, with what is offered there to a player."""
    if not ids:
        return ()
    wanted = _numbers(ids)
    paths = {row[0]: _path(row[1], row[2]) for row in database.execute(
        "SELECT sheet, min(path), min(number) FROM files WHERE sheet IN (SELECT sheet FROM gaps "
        f"WHERE id IN ({wanted})) GROUP BY sheet").fetchall()}
    devices: dict[int, list[FoundDevice]] = {}
    for gap, family, name, difficulty in database.execute(
            "SELECT offers.gap, devices.family, devices.name, offers.difficulty FROM offers JOIN "
            f"devices ON devices.id = offers.device WHERE offers.gap IN ({wanted}) AND "
            "offers.player = ? ORDER BY offers.difficulty, devices.family, devices.name",
            (player,)).fetchall():
        devices.setdefault(gap, []).append(FoundDevice(family, name, level, difficulty))
    found = {}
    for row in database.execute(
            "SELECT gaps.id, gaps.sheet, sheets.title, sheets.key, sheets.tempo, gaps.number, "
            "told.bar, told.pass, told.beat, told.beats, gaps.seconds, told.chords, "
            "told.functions, told.degree, told.held, gaps.place, told.why, gaps.alike FROM gaps "
            "JOIN sheets ON sheets.id = gaps.sheet JOIN told ON told.gap = gaps.id WHERE gaps.id "
            f"IN ({wanted})").fetchall():
        (gap, sheet, title, key, tempo, number, bar, again, beat, beats, seconds, chords,
         functions, degree, held, place, why, alike) = row
        found[gap] = FoundGap(
            gap, sheet, paths.get(sheet, ""), title, key, tempo, number, bar, again, beat, beats,
            seconds, _texts(chords), _texts(functions), degree, held,
            PLACES[place], tuple(why.split()), alike, tuple(devices.get(gap, ())))
    return tuple(found[gap] for gap in ids if gap in found)


def _path(path: bytes, number: int) -> str:
    name = printable_name(os.fsdecode(path))
    return f"{name}#{number}" if number else name


def _texts(joined: str) -> tuple[str, ...]:
    return tuple(joined.split("\t")) if joined else ()
