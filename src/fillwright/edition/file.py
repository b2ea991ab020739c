"""An edition as one JSON file, to keep, to send and to bring to another computer.

The sheet is in the file, so that one file is all there is to lose; or, where a folder of
sheets is kept, the file names it: then the sheet lies beside it, and its hash says that it is
still the same. The shape is described in docs/json.md.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fillwright.edition.decisions import Decisions
from fillwright.edition.model import Edition
from fillwright.errors import InputError
from fillwright.given import a
from fillwright.tune.read import file_bytes

__all__ = ["EDITION_VERSION", "FORMAT", "edition_from_text", "edition_text", "is_edition",
           "open_edition", "read_sheet", "save_edition", "sheet_name", "sheet_value"]

FORMAT = "fillwright edition"
EDITION_VERSION = 1
MAX_BYTES = 32 * 1024 * 1024
"""A file larger than this is not read."""


def edition_text(edition: Edition, *, embed: bool = True) -> str:
    """The file's text; the same edition gives the same text.

    embed   False: the sheet is named, not held
    """
    document = {"format": FORMAT, "version": EDITION_VERSION,
                "sheet": sheet_value(edition, embed=embed), **edition.decisions.value()}
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


def sheet_value(edition: Edition, *, embed: bool = True) -> dict[str, str]:
    """The sheet's name, hash and bytes: as text where they are text, so that a person can read
    them."""
    named = {"name": edition.name, "sha256": edition.sha256}
    if not embed:
        return named
    try:
        return {**named, "text": edition.sheet.decode("utf-8")}
    except UnicodeDecodeError:
        return {**named, "base64": base64.b64encode(edition.sheet).decode("ascii")}


def save_edition(edition: Edition, path: Path | str, *, embed: bool = True) -> None:
    """Write the file: whole or not at all. Raises InputError, OSError."""
    path = _path(path, "saved")
    beside = path.with_name(f".{path.name}.new")
    try:
        beside.write_text(edition_text(edition, embed=embed), encoding="utf-8", newline="\n")
        beside.replace(path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


def open_edition(path: Path | str) -> Edition:
    """Read an edition from its file. Raises InputError with one sentence."""
    path = _path(path, "opened")
    data = file_bytes(path)
    return edition_from_text(data, path.name, path.parent)


def _path(path: object, what: str) -> Path:
    if not isinstance(path, str | Path):
        raise InputError(f"an edition is {what} by the name of its file, not by {a(path)}")
    return Path(path)


def is_edition(data: bytes) -> bool:
    """Whether bytes look like an edition's file."""
    return data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] == b"{"


def edition_from_text(data: bytes, source: str, folder: Path | None = None) -> Edition:
    """Read an edition.

    source   the file's name, for messages
    folder   where a sheet may lie that is named only; None: nowhere

    Raises InputError with one sentence.
    """
    try:
        return _edition(_document(data), folder)
    except InputError as error:
        raise InputError(error.message, source) from error


def _document(data: bytes) -> Mapping[str, Any]:
    if len(data) > MAX_BYTES:
        raise InputError(f"it has more than {MAX_BYTES // 1024 ** 2} MB")
    try:
        value = json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise InputError("it is not an edition: it is not JSON") from None
    if not isinstance(value, dict) or value.get("format") != FORMAT:
        raise InputError(f"it is not an edition: its format is not {FORMAT!r}")
    version = value.get("version")
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise InputError("it does not say which version it is")
    if version > EDITION_VERSION:
        raise InputError(f"it is of version {version}; this program reads version "
                         f"{EDITION_VERSION}: a newer one wrote it")
    return value


def _edition(value: Mapping[str, Any], folder: Path | None) -> Edition:
    sheet = value.get("sheet")
    if not isinstance(sheet, Mapping) or not isinstance(sheet.get("name"), str):
        raise InputError("it names no sheet")
    name = sheet_name(sheet)
    return Edition(read_sheet(sheet, name, folder), name, Decisions.read(value))


def sheet_name(sheet: Mapping[str, Any]) -> str:
    """The name of a sheet's file, no folder. Raises InputError."""
    name = str(sheet.get("name")).replace("\\", "/").rsplit("/", 1)[-1]
    if not name or name.startswith(".") or len(name) > 200 or not name.isprintable():
        raise InputError("the name of its sheet is none")
    return name


def read_sheet(sheet: Mapping[str, Any], name: str, folder: Path | None) -> bytes:
    """The bytes of a sheet, held or beside, checked by their hash. Raises InputError."""
    data = _sheet_data(sheet, name, folder)
    if hashlib.sha256(data).hexdigest() != sheet.get("sha256"):
        raise InputError(f"{name} is not the sheet this edition was made from: its hash is "
                         "another")
    return data


def _sheet_data(sheet: Mapping[str, Any], name: str, folder: Path | None) -> bytes:
    text, encoded = sheet.get("text"), sheet.get("base64")
    if isinstance(text, str):
        return text.encode("utf-8", "surrogatepass")
    if isinstance(encoded, str):
        try:
            return base64.b64decode(encoded, validate=True)
        except (binascii.Error, ValueError):
            raise InputError(f"{name} is damaged in it") from None
    if folder is None:
        raise InputError(f"it only names {name}: save the edition with its sheet in it")
    try:
        with (folder / name).open("rb") as file:
            return file.read(MAX_BYTES)
    except OSError:
        raise InputError(f"{name}, its sheet, does not lie beside it") from None
