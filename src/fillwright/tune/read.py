"""Reading a lead sheet from a file or from bytes."""

from __future__ import annotations

from pathlib import Path

from fillwright.errors import InputError
from fillwright.tune.assemble import tune_from_score
from fillwright.tune.container import is_archive, parse_score, unpack
from fillwright.tune.limits import MAX_UNPACKED_BYTES
from fillwright.tune.model import Tune
from fillwright.tune.notices import Notices

__all__ = ["read_bytes", "read_tune"]


def read_tune(path: str | Path, *, part: str | None = None) -> Tune:
    """Read a lead sheet.

    path  a file: MusicXML (`.musicxml`, `.xml`, `.mxl`), ABC (`.abc`), or another notation
          that music21 reads
    part  the part that holds the melody, by id, name or number from 1; by default the one
          with the chord symbols

    What can be understood is read, with a sentence in `Tune.warnings` for each thing that
    needed good will. Raises InputError, whose `source` is the file's name.
    """
    path = Path(path)
    try:
        with path.open("rb") as stream:
            data = stream.read(MAX_UNPACKED_BYTES + 1)
    except FileNotFoundError:
        raise InputError("there is no such file", path.name) from None
    except IsADirectoryError:
        raise InputError("it is a folder, not a file", path.name) from None
    except (OSError, ValueError) as error:
        raise InputError(f"it cannot be read ({error.__class__.__name__})",
                         path.name) from error
    return read_bytes(data, path.name, part=part)


def read_bytes(data: bytes, name: str, *, part: str | None = None) -> Tune:
    """Read a lead sheet from the bytes of a file called `name`. Raises InputError."""
    name = name.replace("\\", "/").rsplit("/", 1)[-1]
    try:
        return _read(data, name, part)
    except InputError as error:
        if error.source:
            raise
        raise InputError(error.message, name) from error.__cause__


def _read(data: bytes, name: str, part: str | None) -> Tune:
    notices = Notices()
    if is_archive(data):
        data = unpack(data)
    root, warnings = parse_score(data)
    for warning in warnings:
        notices.add(warning)
    return tune_from_score(root, name, notices, part=part)
