"""All sheets below some folders, in order, with what cannot be read.

Links to folders are followed, each folder once, so that a circle ends. Names that begin with a
dot are passed over.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from fillwright.errors import InputError

__all__ = ["SUFFIXES", "Sighting", "sheets_below"]

SUFFIXES = (".musicxml", ".mxl", ".xml", ".abc")
"""Files that are taken for sheets inside a folder; a file that is named itself is always one."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """A file that may be a sheet, or a place that could not be read.

    path    absolute, links not resolved
    bytes, changed_ns   what the file system says of it
    trouble a sentence where it could not be looked at, else ""
    """

    path: str
    bytes: int = 0
    changed_ns: int = 0
    trouble: str = ""


def sheets_below(places: Iterable[str | Path]) -> Iterator[Sighting]:
    """Every sheet in and below the places, each once, in the order of their names. Raises
    InputError for a place that is not there."""
    named_places = list(places)
    roots = [os.path.abspath(place) for place in named_places]
    for root, named in zip(roots, named_places, strict=True):
        if not os.path.lexists(root):
            raise InputError("there is no such folder or file", Path(named).name or str(named))
    seen: set[tuple[int, int]] = set()
    told: set[str] = set()
    for root in roots:
        found = _below(root, seen) if os.path.isdir(root) else iter([_seen(root)])
        for one in found:
            if one.path not in told:
                told.add(one.path)
                yield one


def _below(root: str, seen: set[tuple[int, int]]) -> Iterator[Sighting]:
    waiting = [root]
    while waiting:
        folder = waiting.pop()
        try:
            about = os.stat(folder)
            if (about.st_dev, about.st_ino) in seen:
                continue
            seen.add((about.st_dev, about.st_ino))
            with os.scandir(folder) as entries:
                inside = sorted(entries, key=lambda entry: os.fsencode(entry.name))
        except OSError as error:
            yield Sighting(folder, trouble=f"the folder cannot be read: {_said(error)}")
            continue
        deeper = []
        for entry in inside:
            if entry.name.startswith("."):
                continue
            if _is_folder(entry):
                deeper.append(entry.path)
            elif entry.name.lower().endswith(SUFFIXES):
                yield _seen(entry.path)
        waiting += reversed(deeper)


def _is_folder(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir()
    except OSError:
        return False


def _seen(path: str) -> Sighting:
    try:
        about = os.stat(path)
    except OSError as error:
        return Sighting(path, trouble=f"it cannot be read: {_said(error)}")
    return Sighting(path, about.st_size, about.st_mtime_ns)


def _said(error: OSError) -> str:
    return error.strerror or type(error).__name__
