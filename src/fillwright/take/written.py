"""What was on paper: the fills that could have been played, or a whole written chorus."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fillwright.arranging.model import Arrangement, Options
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.fills.model import Fill
from fillwright.tune.model import Chorus
from fillwright.tune.read import file_bytes

__all__ = ["WrittenChorus", "WrittenFill", "WrittenNote", "read_written"]

_MAX_BYTES = 32 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class WrittenNote:
    """A key on paper; `gap` is the number of the gap it fills, else None."""

    onset_quarter: Fraction
    midi: int
    hand: str
    role: str
    gap: int | None = None


@dataclass(frozen=True, slots=True)
class WrittenFill:
    """A fill on paper."""

    id: str
    family: str
    device: str
    notes: tuple[WrittenNote, ...]

    @classmethod
    def of(cls, fill: Fill) -> WrittenFill:
        return cls(fill.id, fill.family, fill.device,
                   tuple(WrittenNote(note.onset_quarter, note.midi, note.hand, note.role, fill.gap)
                         for note in fill.notes))


@dataclass(frozen=True, slots=True)
class WrittenChorus:
    """A chorus on paper, as ``arrangement.json`` has it.

    options   with which it was made
    octave    in which its melody stands
    fills     by the number of their gap
    """

    options: Options
    octave: int
    melody: tuple[tuple[Fraction, int], ...]
    notes: tuple[WrittenNote, ...]
    fills: Mapping[int, WrittenFill]
    source: str = ""

    @classmethod
    def of(cls, arrangement: Arrangement) -> WrittenChorus:
        return cls(arrangement.options, arrangement.chorus.melody_octave,
                   tuple((note.onset_quarter, note.midi) for note in arrangement.chorus.melody),
                   tuple(WrittenNote(note.onset_quarter, note.midi, note.hand, note.role, note.gap)
                         for note in arrangement.notes),
                   {fill.gap: WrittenFill.of(fill) for fill in arrangement.fills})

    def options_for(self, asked: Options) -> Options:
        """How the chorus is to be made: as it was, but for what is asked for now."""
        default = Options()
        own = replace(self.options, octave=str(self.octave), picks=(), without=())
        changed = {name: getattr(asked, name)
                   for name in ("tempo", "feel", "octave", "key", "choruses", "introduction",
                                "ending", "hand")
                   if getattr(asked, name) != getattr(default, name)}
        return replace(own, **changed)

    def check_fits(self, chorus: Chorus) -> None:
        """Raises InputError where it is of another tune, or in another form or key."""
        melody = tuple((note.onset_quarter, note.midi) for note in chorus.melody)
        if melody != self.melody:
            raise InputError(f"it is not an arrangement of {chorus.tune.title!r} in this key, "
                             "octave and form", self.source)


def read_written(path: str | Path) -> WrittenChorus:
    """Read an ``arrangement.json``. Raises InputError, whose `source` is the file's name."""
    path = Path(path)
    data = file_bytes(path, _MAX_BYTES)
    try:
        if len(data) > _MAX_BYTES:
            raise InputError("the file is too large", path.name)
        return _written(json.loads(data), path.name)
    except InputError as error:
        raise InputError(error.message, path.name) from error
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError,
            ZeroDivisionError) as error:
        raise InputError("this is no arrangement.json of fillwright", path.name) from error


def _written(document: Any, name: str) -> WrittenChorus:
    if document["version"] != 1:
        raise InputError(f"its version is {document['version']}; this program reads 1")
    notes = tuple(_note(one) for one in document["notes"])
    fills = {}
    for fill in document["fills"]:
        fills[int(fill["gap"])] = WrittenFill(
            str(fill["id"]), str(fill["family"]), str(fill["device"]),
            tuple(_note(one) for one in fill["notes"]))
    melody = tuple((Fraction(one["onset_quarter"]), int(one["midi"]))
                   for one in document["melody"])
    return WrittenChorus(_options(document["options"]), int(document["tune"]["melody_octave"]),
                         melody, notes, fills, name)


def _note(one: Mapping[str, Any]) -> WrittenNote:
    return WrittenNote(Fraction(one["onset_quarter"]), int(one["midi"]), str(one["hand"]),
                       str(one["role"]), None if one["gap"] is None else int(one["gap"]))


def _options(value: Mapping[str, Any]) -> Options:
    tempo = value["tempo"]
    return Options(level=value["level"], hand=value["hand"],
                   tempo=None if tempo is None else Fraction(str(tempo)), feel=value["feel"],
                   key=value["key"], choruses=value.get("choruses", 1),
                   introduction=value.get("introduction", 0), ending=value.get("ending", 0))

