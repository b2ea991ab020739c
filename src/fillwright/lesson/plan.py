"""The plan of a pack: a TOML file in which a teacher says what is handed out.

    title = "Answers to a held note"

    [[item]]
    tune = "lamp"               # a lead sheet or an edition, from where the plan lies, or a tune
                                # that comes along
    gap = 3
    fill = "line:1"
    show = "rhythm"
    words = "Clap it first."

Every key is listed in `TOP_KEYS` and `ITEM_KEYS`; a word that is none is refused, and the nearest
is named. What stands above the items holds for all that do not say otherwise.
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields
from datetime import date
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from fillwright.arranging.model import Options
from fillwright.arranging.user_picks import OPEN, check_pick
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.given import given_tempo, given_whole
from fillwright.hands.model import HAND_SIZES, LEVELS
from fillwright.theory.key import Key

__all__ = ["ITEM_KEYS", "LANGUAGES", "MOST_ITEMS", "PAPERS", "SHOWS", "TOP_KEYS", "Item",
           "PackPlan", "plan_of", "read_plan", "read_plan_text"]

PAPERS = ("A4", "Letter")
SHOWS = ("blank", "rhythm", "chords", "first", "filled")
"""How an item is handed out: nothing in the gap, the rhythm of its fill, the names of its chords,
the first stroke of each hand, all of it."""
LANGUAGES = ("en", "de")

MOST_ITEMS = 100
MOST_BYTES = 1_000_000
LONGEST_LINE, LONGEST_WORDS = 200, 2000
_MOST_GAPS = 100_000


@dataclass(frozen=True, slots=True)
class Item:
    """One gap of one tune.

    tune            as the plan names it
    fill            a fill's id or FAMILY:RANK; "" for the choice of an edition, else for the first
                    that the program offers
    tempo           felt beats a minute; None: as the tune says
    key             None: as written
    show            one of `SHOWS`
    words           the teacher's own, above the staff
    hand_pictures   beside what is filled; so are counts and reasons
    named           the keys that the plan names, here or above the items
    """

    tune: str
    gap: int
    fill: str = ""
    level: str = "intermediate"
    hand: str = "medium"
    tempo: Fraction | None = None
    key: str | None = None
    show: str = "filled"
    words: str = ""
    hand_pictures: bool = True
    counts: bool = True
    reasons: bool = True
    named: frozenset[str] = frozenset()

    @property
    def options(self) -> Options:
        """The settings of its tune."""
        return Options(level=self.level, hand=self.hand, tempo=self.tempo, key=self.key)


@dataclass(frozen=True, slots=True)
class PackPlan:
    """A whole pack.

    date              as it is printed
    larger_print      for eyes that need it: music and words a third larger
    answers_in_page   the student's page gives the answer too, folded away
    """

    title: str
    items: tuple[Item, ...]
    teacher: str = ""
    student: str = ""
    date: str = ""
    paper: str = "A4"
    language: str = "en"
    larger_print: bool = False
    answers_in_page: bool = False


_ITEM_DEFAULTS = ("level", "hand", "show", "hand_pictures", "counts", "reasons")
"""Keys that may stand above the items too."""
ITEM_KEYS = tuple(field.name for field in fields(Item) if field.name != "named")
TOP_KEYS = (*(field.name for field in fields(PackPlan) if field.name != "items"), *_ITEM_DEFAULTS,
            "item")


def read_plan(path: Path) -> PackPlan:
    """Raises InputError with one sentence, which names the item."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"the plan cannot be read: {error.strerror}", path.name) from None
    if len(data) > MOST_BYTES:
        raise InputError(f"a plan has at most {MOST_BYTES} bytes", path.name)
    try:
        return read_plan_text(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise InputError(f"the plan is no UTF-8 text: byte {error.start}", path.name) from None
    except InputError as error:
        raise InputError(error.message, path.name) from None


def read_plan_text(text: str) -> PackPlan:
    """The same from a text.

    >>> plan = read_plan_text('title = "Holds"\\n[[item]]\\ntune = "lamp"\\ngap = 3')
    >>> plan.items[0].show
    'filled'
    """
    try:
        return plan_of(tomllib.loads(text.replace("\r\n", "\n")))
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"the plan is no TOML: {error}") from None


def plan_of(table: Mapping[str, Any], *, least: int = 1) -> PackPlan:
    """The same from a table, as TOML or JSON gives it; `least` items at least."""
    _known(table, TOP_KEYS)
    if "title" not in table:
        raise InputError("a plan has a title")
    items = table.get("item")
    if not isinstance(items, list) or len(items) < least or not all(
            isinstance(one, dict) for one in items):
        raise InputError("a plan has at least one [[item]]")
    if len(items) > MOST_ITEMS:
        raise InputError(f"a plan has at most {MOST_ITEMS} items, not {len(items)}")
    above = {name: table[name] for name in _ITEM_DEFAULTS if name in table}
    _checked(above)
    own = {name: value for name, value in table.items() if name not in (*_ITEM_DEFAULTS, "item")}
    return PackPlan(items=tuple(_item(number, {**above, **entry})
                                for number, entry in enumerate(items, 1)), **_checked(own))


def _item(number: int, entry: Mapping[str, Any]) -> Item:
    try:
        _known(entry, ITEM_KEYS)
        for name in ("tune", "gap"):
            if name not in entry:
                raise InputError(f"it has no {name}")
        return Item(**_checked(entry), named=frozenset(entry))
    except InputError as error:
        raise InputError(f"item {number}: {error.message}") from None


def _known(table: Mapping[str, Any], known: Collection[str]) -> None:
    """Raises InputError for a key that is none, naming the nearest."""
    for name in table:
        if name not in known:
            near = get_close_matches(name.lower(), known, n=1, cutoff=0.0)[0]
            raise InputError(f"{name!r} is no key here; the nearest is {near}")


def _checked(table: Mapping[str, Any]) -> dict[str, Any]:
    return {name: _CHECKS[name](name, value) for name, value in table.items()}


# --- what each key may be ---------------------------------------------------------------------


def _line(name: str, value: object) -> str:
    """A text on one line, without signs that cannot be printed."""
    if not isinstance(value, str):
        raise InputError(f"{name} is a text, not {value!r}")
    line = " ".join("".join(sign if sign.isprintable() else " " for sign in value).split())
    if len(line) > LONGEST_LINE:
        raise InputError(f"{name} has at most {LONGEST_LINE} characters")
    return line


def _named(name: str, value: object) -> str:
    line = _line(name, value)
    if not line:
        raise InputError(f"{name} is empty")
    return line


def _words(name: str, value: object) -> str:
    """Several lines; those left empty divide paragraphs."""
    if not isinstance(value, str):
        raise InputError(f"{name} are a text, not {value!r}")
    if len(value) > LONGEST_WORDS:
        raise InputError(f"{name} have at most {LONGEST_WORDS} characters")
    return "\n".join(_line(name, line) if len(line) <= LONGEST_LINE else
                     " ".join(line.split()) for line in value.strip().splitlines())


def _day(name: str, value: object) -> str:
    return value.isoformat() if isinstance(value, date) else _line(name, value)


def _switch(name: str, value: object) -> bool:
    if not isinstance(value, bool):
        raise InputError(f"{name} is true or false, not {value!r}")
    return value


def _one_of(allowed: Collection[str]) -> Any:
    def check(name: str, value: object) -> str:
        if value not in allowed:
            near = get_close_matches(str(value), allowed, n=1, cutoff=0.0)
            raise InputError(f"{value!r} is not a value of {name}; it is one of "
                             f"{', '.join(allowed)}" + (f"; the nearest is {near[0]}"
                                                        if near else ""))
        return str(value)
    return check


def _gap(_: str, value: object) -> int:
    return given_whole(value, "the number of a gap", 1, _MOST_GAPS)


def _fill(name: str, value: object) -> str:
    line = _named(name, value)
    check_pick(line)
    if line == OPEN:
        raise InputError("an open gap has no fill to hand out; leave the key fill out")
    return line


def _tempo(_: str, value: object) -> Fraction:
    return given_tempo(value)


def _key(name: str, value: object) -> str:
    line = _named(name, value)
    try:
        Key.parse(line)
    except ValueError as error:
        raise InputError(f"{error}; write it like Ab, F#m or 'C minor'") from None
    return line


_CHECKS: Mapping[str, Any] = {
    "title": _named, "teacher": _line, "student": _line, "date": _day, "paper": _one_of(PAPERS),
    "language": _one_of(LANGUAGES), "larger_print": _switch, "answers_in_page": _switch,
    "tune": _named, "gap": _gap, "fill": _fill, "level": _one_of(LEVELS),
    "hand": _one_of(HAND_SIZES), "tempo": _tempo, "key": _key, "show": _one_of(SHOWS),
    "words": _words, "hand_pictures": _switch, "counts": _switch, "reasons": _switch}
