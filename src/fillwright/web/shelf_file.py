"""All tunes as one JSON file, with what undo can go back through: to keep, or to carry to
another computer. The shape is described in docs/json.md."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from fillwright.edition.decisions import Decisions
from fillwright.edition.file import read_sheet, sheet_name, sheet_value
from fillwright.edition.model import Edition
from fillwright.errors import InputError

__all__ = ["MAX_SHELF_BYTES", "KeptTune", "read_shelf", "shelf_text"]

FORMAT = "fillwright shelf"
VERSION = 1
MAX_SHELF_BYTES = 64 * 1024 * 1024
MOST_STATES = 1000


@dataclass(frozen=True, slots=True)
class KeptTune:
    """A tune as it stands on the shelf.

    states   (place, what was changed, decisions), by place; `place` is the one that holds
    """

    id: str
    title: str
    name: str
    data: bytes
    place: int
    changed_sec: float
    states: tuple[tuple[int, str, Decisions], ...]
    folder: str = ""

    @property
    def edition(self) -> Edition:
        now = {place: decisions for place, _, decisions in self.states}
        return Edition(self.data, self.name, now.get(self.place, Decisions()))


def shelf_text(tunes: Iterable[KeptTune]) -> str:
    """The file's text."""
    return json.dumps({"format": FORMAT, "version": VERSION, "tunes": [{
        "id": tune.id, "title": tune.title, "sheet": sheet_value(tune.edition),
        "changed_sec": tune.changed_sec, "folder": tune.folder, "place": tune.place,
        "states": [{"place": place, "what": what, **decisions.value()}
                   for place, what, decisions in tune.states]} for tune in tunes]},
        ensure_ascii=False, indent=1) + "\n"


def read_shelf(data: bytes, source: str) -> list[KeptTune]:
    """Raises InputError with one sentence."""
    try:
        value = json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise InputError("it is not JSON", source) from None
    if not isinstance(value, dict) or value.get("format") != FORMAT:
        raise InputError("it holds no shelf", source)
    if value.get("version") != VERSION:
        raise InputError(f"it is of version {str(value.get('version'))[:20]}; this program reads "
                         f"version {VERSION}", source)
    tunes = value.get("tunes")
    if not isinstance(tunes, list):
        raise InputError("it holds no tunes", source)
    found = []
    for number, tune in enumerate(tunes, 1):
        try:
            found.append(_tune(tune))
        except InputError as error:
            raise InputError(f"tune {number}: {error.message}", source) from error
    return found


def _tune(value: Any) -> KeptTune:
    if not isinstance(value, Mapping) or not isinstance(value.get("sheet"), Mapping):
        raise InputError("it has no sheet")
    key, title, place, changed = (value.get(name) for name in
                                  ("id", "title", "place", "changed_sec"))
    if not isinstance(key, str) or re.fullmatch("[0-9a-f]{16}", key) is None:
        raise InputError("its id is none")
    if not isinstance(title, str) or len(title) > 200:
        raise InputError("its title is none")
    if isinstance(changed, bool) or not isinstance(changed, int | float) or not 0 <= changed < 1e11:
        raise InputError("it does not say when it was changed")
    states = value.get("states")
    if not isinstance(states, list) or not 0 < len(states) <= MOST_STATES:
        raise InputError("it has no states")
    read = sorted((_state(state) for state in states), key=lambda state: state[0])
    if place not in {at for at, _, _ in read}:
        raise InputError("its place is none of its states")
    name = sheet_name(value["sheet"])
    folder = value.get("folder", "")
    if not isinstance(folder, str) or len(folder) > 80 or not folder.isprintable():
        raise InputError("its folder is none")
    return KeptTune(key, title, name, read_sheet(value["sheet"], name, None), int(place),
                    float(changed), tuple(read), folder)


def _state(value: Any) -> tuple[int, str, Decisions]:
    if not isinstance(value, Mapping):
        raise InputError("a state is an object")
    place, what = value.get("place"), value.get("what")
    if isinstance(place, bool) or not isinstance(place, int) or not 0 <= place < 2 ** 31:
        raise InputError("a state has a place")
    if not isinstance(what, str) or len(what) > 200:
        raise InputError("a state says what was changed")
    return place, what, Decisions.read(value)
