"""A student, and what they practise: a device in a key at a tempo, or a gap of a tune."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.asked import devices_of
from fillwright.fills.player import hand_of, level_of
from fillwright.given import given_number
from fillwright.theory.key import Key

__all__ = ["RATINGS", "Item", "Review", "Student", "item_of", "student_of"]

RATINGS = ("again", "hard", "good", "easy")
"""How an item went, in the words of the scheduler."""

MOST_LETTERS = 200
MOST_NOTE_LETTERS = 10_000
LEAST_TEMPO, MOST_TEMPO = 20, 400


@dataclass(frozen=True, slots=True)
class Student:
    """A name or an alias, and what the program has to know of the player.

    without   devices that are switched off
    notes     the teacher's own words
    """

    name: str
    level: str = "beginner"
    hand: str = "medium"
    without: tuple[str, ...] = ()
    notes: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """Something to practise.

    number      counts from 1 for each student
    device      a device's name, "" for a gap
    tune, gap, fill   a gap of a tune (its file, or the name of a demo tune), and what is played
                there, "" where that is open; "" and None for a device
    key         as people write it, "" for the tune's own
    tempo       felt beats a minute that are aimed at; `now_tempo` what is played at present
    due         when it is to come again; None: not yet practised
    stability   days after which nine of ten are still known; None: not yet practised
    """

    number: int
    device: str = ""
    tune: str = ""
    gap: int | None = None
    fill: str = ""
    key: str = ""
    tempo: int = 120
    now_tempo: int = 84
    due: datetime | None = None
    stability: float | None = None

    @property
    def words(self) -> str:
        """What it is, in words, without its tempo."""
        what = self.device or f"{self.tune}, gap {self.gap}" + (f": {self.fill}" if self.fill
                                                                else "")
        key = self.key[:1] + self.key[1:].replace("b", "♭").replace("#", "♯")
        return what + (f" in {key}" if key else "")


@dataclass(frozen=True, slots=True)
class Review:
    """How an item went once."""

    number: int
    at: datetime
    rating: str
    tempo: int


def student_of(name: str, level: str = "beginner", hand: str = "medium",
               without: Iterable[str] = (), notes: str = "") -> Student:
    """A student, checked. Raises InputError."""
    name = _line(name, "the name of a student", MOST_LETTERS)
    level_of(level)
    hand_of(hand)
    if not isinstance(notes, str) or len(notes) > MOST_NOTE_LETTERS:
        raise InputError(f"the notes on a student are text of {MOST_NOTE_LETTERS} letters at most")
    return Student(name, level, hand, tuple(sorted(devices_of(tuple(without)))), notes)


def item_of(number: int, *, device: str = "", tune: str = "", gap: int | None = None,
            fill: str = "", key: str = "", tempo: object = 120) -> Item:
    """Something to practise, checked; it begins at seven tenths of its tempo. Raises
    InputError."""
    if bool(device) == bool(tune):
        raise InputError("an item is a device, or a gap of a tune")
    if device:
        device = next(iter(devices_of((device,))))
        if gap is not None or fill:
            raise InputError("a device is practised anywhere; a gap belongs to a tune")
    else:
        tune = _line(tune, "a tune", MOST_LETTERS)
        if isinstance(gap, bool) or not isinstance(gap, int) or gap < 1:
            raise InputError("a gap is named by its number, from 1 on")
        fill = _line(fill, "a fill", MOST_LETTERS) if fill else ""
    if key:
        try:
            Key.parse(key)
        except ValueError as error:
            raise InputError(f"{error}; write a key like Ab, F#m or 'C minor'") from error
    aim = given_number(tempo, "a tempo")
    if not LEAST_TEMPO <= aim <= MOST_TEMPO:
        raise InputError(f"a tempo to practise lies between {LEAST_TEMPO} and {MOST_TEMPO} beats "
                         f"a minute; it is not {tempo}")
    return Item(number, device, tune, gap, fill, key, round(aim), first_tempo(aim))


def first_tempo(aim: Fraction | int) -> int:
    """Where practice begins: seven tenths of the tempo aimed at (design choice)."""
    return max(round(Fraction(7, 10) * aim), LEAST_TEMPO)


def _line(text: object, what: str, most: int) -> str:
    if not isinstance(text, str):
        raise InputError(f"{what} is text, not {text!r}")
    line = " ".join(text.split())
    if not line or len(line) > most or not line.isprintable():
        raise InputError(f"{what} is a line of 1 to {most} letters")
    return line
