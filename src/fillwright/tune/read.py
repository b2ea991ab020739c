"""Reading a lead sheet from a file or from bytes."""

from __future__ import annotations

import re
import stat
from pathlib import Path

from fillwright.errors import InputError, printable_name
from fillwright.given import a
from fillwright.tune.abc import looks_like_abc, score_from_abc
from fillwright.tune.assemble import tune_from_score
from fillwright.tune.container import is_archive, parse_score, unpack
from fillwright.tune.convert import score_from_other
from fillwright.tune.limits import MAX_UNPACKED_BYTES
from fillwright.tune.model import Tune
from fillwright.tune.notices import Notices

_NUMBERED = re.compile(r"(.+)#(\d{1,6})")
_MUSICXML = (".musicxml", ".xml", ".mxl", "")
_NOT_SHEETS = {".mid": "played notes", ".midi": "played notes", ".pdf": "a picture of a page",
               ".png": "a picture", ".jpg": "a picture", ".jpeg": "a picture",
               ".svg": "a picture", ".mp3": "sound", ".wav": "sound", ".flac": "sound",
               ".ogg": "sound"}

__all__ = ["file_bytes", "read_bytes", "read_tune"]


def read_tune(path: str | Path, *, part: str | None = None) -> Tune:
    """Read a lead sheet.

    path  a file: MusicXML (`.musicxml`, `.xml`, `.mxl`), ABC (`.abc`), or another notation
          that music21 reads; `book.abc#3` is the tune with X: 3 (or else the third) of a
          file that holds several
    part  the part that holds the melody, by id, name or number from 1; by default the one
          with the chord symbols

    What can be understood is read, with a sentence in `Tune.warnings` for each thing that
    needed good will. Raises InputError, whose `source` is the file's name.
    """
    if not isinstance(path, str | Path):
        raise InputError(f"a tune is read from the name of a file, not from {a(path)}")
    if not isinstance(part, str | None):
        raise InputError(f"a part is named by its id, its name or its number as text, not by "
                         f"{a(part)}")
    path = Path(path)
    number = None
    chosen = _NUMBERED.fullmatch(path.name)
    if chosen is not None and not path.exists():
        path, number = path.with_name(chosen[1]), int(chosen[2])
    data = file_bytes(path)
    return read_bytes(data, path.name, part=part, number=number)


def file_bytes(path: Path, most: int = MAX_UNPACKED_BYTES) -> bytes:
    """The file's bytes, one more than `most` at most; raises InputError."""
    try:
        kind = path.stat().st_mode
        if not stat.S_ISREG(kind) and not stat.S_ISDIR(kind):  # a pipe may wait for ever
            raise InputError("it is a pipe or a device, not a file; on the command line - is the "
                             "tune that is piped in", path.name)
        with path.open("rb") as stream:
            return stream.read(most + 1)
    except FileNotFoundError:
        raise InputError("there is no such file", path.name) from None
    except IsADirectoryError:
        raise InputError("it is a folder, not a file", path.name) from None
    except OSError as error:
        raise InputError(f"it cannot be read: {error.strerror or type(error).__name__}",
                         path.name) from error
    except ValueError as error:
        raise InputError("it has a name that no file can have", path.name) from error


def read_bytes(data: bytes, name: str, *, part: str | None = None,
               number: int | None = None) -> Tune:
    """Read a lead sheet from the bytes of a file called `name`. Raises InputError.

    part, number  as in `read_tune`
    """
    name = printable_name(name.replace("\\", "/").rsplit("/", 1)[-1])
    try:
        return _read(data, name, part, number)
    except InputError as error:
        if error.source:
            raise
        raise InputError(error.message, name) from error.__cause__


def _read(data: bytes, name: str, part: str | None, number: int | None) -> Tune:
    notices = Notices()
    suffix = Path(name).suffix.lower()
    if suffix == ".abc" or (suffix in ("", ".txt") and looks_like_abc(data)):
        score = score_from_abc(data, notices, number=number)
        return tune_from_score(score.root, name, notices, part=part, given=score.symbols,
                               part_order=score.part_order)
    if number not in (None, 1):
        raise InputError(f"there is no tune {number}; the file holds one")
    if suffix in _NOT_SHEETS:
        raise InputError(f"a {suffix} file is {_NOT_SHEETS[suffix]}, not a lead sheet with "
                         "chord symbols")
    if suffix not in _MUSICXML and not _looks_like_musicxml(data):
        return tune_from_score(score_from_other(data, suffix, notices), name, notices, part=part)
    if is_archive(data):
        data = unpack(data)
    root, warnings = parse_score(data)
    for warning in warnings:
        notices.add(warning)
    return tune_from_score(root, name, notices, part=part)


def _looks_like_musicxml(data: bytes) -> bool:
    head = data[:4000].replace(b"\0", b"")
    return b"<score-partwise" in head or b"<score-timewise" in head or is_archive(data)
