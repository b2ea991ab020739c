"""How many gaps each further choice would leave: what stands beside the choices of the page.

A choice is counted with all other conditions kept and its own let go, so that the number beside it
is the number that is found when it is taken.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from fillwright.fills.tempo import BALLAD_BELOW, MEDIUM_TO
from fillwright.hands.model import LEVELS
from fillwright.library.asking import Question, Span
from fillwright.library.finding import (
    Database,
    Where,
    device_number,
    find_gaps_in,
    of_the_page,
    player_number,
)
from fillwright.library.numerals import row_pattern, told

__all__ = ["BEATS", "DIFFICULTIES", "TEMPOS", "Choice", "Counts", "Picture", "counts_of"]

TEMPOS: tuple[Span, ...] = ((None, BALLAD_BELOW), (BALLAD_BELOW, 120), (120, 160),
                            (160, MEDIUM_TO), (MEDIUM_TO, None))
"""Stretches of tempo that are offered, in felt beats a minute (design choice: a ballad, a slow, a
medium, an up tempo and what is above)."""
DIFFICULTIES = (10, 15, 20, 25, 30, 40)
_DEGREES = ("1", "b9", "9", "#9", "3", "11", "#11", "5", "b13", "13", "b7", "7")
"""A degree by its semitones above the root; a minor chord's third is asked for as "b3", which is
the same number."""
_ROWS = 12
"""Rows of chords that are shown at most: the most frequent."""
BEATS: tuple[Span, ...] = ((2, 2.99), (3, 3.99), (4, 4.99), (5, 5.99), (6, 7.99), (8, None))
"""Stretches of beats that are offered: whole beats, with the eighths and triplets beyond them
(design choice; four gaps in five are shorter than five beats)."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A value as it is asked for, and how many gaps it would leave."""

    value: str
    count: int


@dataclass(frozen=True, slots=True)
class Picture:
    """The shelf by beats and chords: `cells[row][column]` gaps of `columns[column]` beats, a
    stretch as `span_of` reads it, have the chords `rows[row]` next to each other, among others or
    alone."""

    rows: tuple[str, ...]
    columns: tuple[str, ...]
    cells: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class Counts:
    """Choices by the field of `Question` they are for, and the picture, of all beats and chords
    whatever is asked of these two."""

    choices: dict[str, tuple[Choice, ...]]
    picture: Picture


def counts_of(database: Database, question: Question) -> Counts:
    """What each choice would leave of a question."""
    free = _counted(database, replace(question, beats=None, over=""), "gaps.beats, gaps.row")
    names = dict(database.execute("SELECT id, row FROM rows").fetchall())
    told_rows = _frequent_rows(free, names)
    by_beats = _summed(free, lambda key: key[0], _of_chords(question.over, names))
    by_row = _summed(free, lambda key: key[1], lambda key: _within(key[0], question.beats))
    holding = _counted(database, replace(question, holding=""), "gaps.semitones")
    key = _counted(database, replace(question, key="", copies=True), "sheets.tonic, sheets.mode")
    tempo = _counted(database, replace(question, tempo=None), "sheets.tempo")
    choices = {
        "beats": _beats(by_beats),
        "over": _choices((told(names[row]), _containing(by_row, names, row)) for row in told_rows),
        "holding": _choices((_DEGREES[one], count) for (one,), count in holding.items()
                            if one is not None),
        "key": _choices((_KEYS[tonic] + ("m" if mode == "minor" else ""), count)
                        for (tonic, mode), count in key.items()),
        "tempo": tuple(Choice(span_text(span), sum(
            count for (one,), count in tempo.items() if _within(one, span))) for span in TEMPOS),
        "device": _devices(database, question),
        "max_difficulty": _difficulties(database, question),
        "level": tuple(Choice(level, find_gaps_in(database, replace(
            question, level=level, count=1)).total) for level in LEVELS)}
    return Counts(choices, _picture(free, names, told_rows))


_KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
Counted = dict[tuple[Any, ...], int]


def span_text(span: Span) -> str:
    """As `span_of` reads it."""
    low, high = span
    return f"{'' if low is None else f'{low:g}'}..{'' if high is None else f'{high:g}'}"


def _choices(found: Iterable[tuple[str, int]]) -> tuple[Choice, ...]:
    return tuple(Choice(value, count) for value, count in sorted(
        found, key=lambda one: (-one[1], one[0])))


def _where(database: Database, question: Question) -> Where | None:
    """All conditions of a question on `gaps`; None where nothing can answer it."""
    where = of_the_page(database, question)
    if where is None or not question.asks_for_offers:
        return where
    wanted: object = question.family
    table, which = "ease", "family = ?"
    if question.device:
        table, which, wanted = "offers", "device = ?", device_number(database, question)
    limit = "" if question.max_difficulty is None else (
        f" AND difficulty <= {question.max_difficulty}")
    where.add(f"gaps.id IN (SELECT gap FROM {table} WHERE player = ? AND {which}{limit})",
              player_number(database, question), wanted)
    return where


def _counted(database: Database, question: Question, columns: str) -> Counted:
    """How many gaps of a question have each value of some columns."""
    where = _where(database, question)
    if where is None:
        return {}
    return {tuple(row[:-1]): row[-1] for row in database.execute(
        f"SELECT {columns}, count(*) FROM gaps JOIN sheets ON sheets.id = gaps.sheet WHERE "
        f"{where.text} GROUP BY {columns}", where.values).fetchall()}


def _summed(counted: Counted, key: Any, kept: Any) -> Counter[Any]:
    total: Counter[Any] = Counter()
    for one, count in counted.items():
        if kept(one):
            total[key(one)] += count
    return total


def _of_chords(over: str, names: dict[int, str]) -> Any:
    if not over:
        return lambda key: True
    pattern = row_pattern(over)
    return lambda key: pattern.search(names[key[1]]) is not None


def _within(value: float, span: Span | None) -> bool:
    low, high = span or (None, None)
    return (low is None or value >= low) and (high is None or value <= high)


def _frequent_rows(counted: Counted, names: dict[int, str]) -> list[int]:
    by_row = _summed(counted, lambda key: key[1], lambda key: names[key[1]])
    return sorted(by_row, key=lambda row: (-by_row[row], names[row]))[:_ROWS]


def _containing(by_row: Counter[Any], names: dict[int, str], row: int) -> int:
    """Gaps that have the chords of a row next to each other, among others or alone."""
    return sum(count for other, count in by_row.items() if names[row] in names[other])


def _beats(by_beats: Counter[Any]) -> tuple[Choice, ...]:
    return tuple(Choice(span_text(span), sum(
        count for beats, count in by_beats.items() if _within(beats, span))) for span in BEATS)


def _picture(counted: Counted, names: dict[int, str], rows: Sequence[int]) -> Picture:
    cells = tuple(tuple(sum(
        count for (beats, other), count in counted.items()
        if _within(beats, span) and names[row] in names[other]) for span in BEATS) for row in rows)
    return Picture(tuple(told(names[row]) for row in rows), tuple(map(span_text, BEATS)), cells)


def _devices(database: Database, question: Question) -> tuple[Choice, ...]:
    where = of_the_page(database, question)
    if where is None:
        return ()
    limit = "" if question.max_difficulty is None else (
        f" AND offers.difficulty <= {question.max_difficulty}")
    return _choices((name, count) for name, count in database.execute(
        "SELECT devices.name, count(*) FROM offers JOIN devices ON devices.id = offers.device "
        f"JOIN gaps ON gaps.id = offers.gap WHERE offers.player = ?{limit} AND {where.text} "
        "GROUP BY devices.name", [player_number(database, question), *where.values]).fetchall())


def _difficulties(database: Database, question: Question) -> tuple[Choice, ...]:
    return tuple(Choice(str(most), sum(_counted(
        database, replace(question, max_difficulty=most), "gaps.place").values()))
        for most in DIFFICULTIES)
