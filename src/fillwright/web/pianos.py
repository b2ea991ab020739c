"""The pianos a teacher can choose: the one that comes along, the SoundFonts of the folder
``soundfonts`` beside the tunes, and the one that was named at the start.

A file gets into the folder by hand, never through the page: SoundFonts are large, and reading
one is the work of a library. What was chosen is kept in ``piano.json``.
"""

from __future__ import annotations

import json
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from fillwright.errors import InputError

__all__ = ["OWN", "Piano", "Pianos", "is_soundfont"]

OWN = ""
"""The name of the piano that comes along."""

MOST_FILES = 200


@dataclass(frozen=True, slots=True)
class Piano:
    """`path`: None for the one that comes along. `mark` is another when the file is."""

    name: str
    path: Path | None = None
    mark: str = "own"


def is_soundfont(path: Path) -> bool:
    """Whether a file begins as those of the SoundFont 2 specification do: RIFF, with the form
    type sfbk. Raises OSError."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        head = file.read(12)
    return head[:4] == b"RIFF" and head[8:] == b"sfbk"


class Pianos:
    """named   the one named at the start: it is played until another is chosen"""

    def __init__(self, data_folder: Path, named: Path | None = None) -> None:
        self.folder = data_folder / "soundfonts"
        self._kept = data_folder / "piano.json"
        self._named = named
        with suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
        self._chosen = self._read() if named is None else named.name

    def _read(self) -> str:
        try:
            chosen = json.loads(self._kept.read_text(encoding="utf-8"))["piano"]
        except (OSError, ValueError, KeyError, TypeError):
            return OWN
        return chosen if isinstance(chosen, str) else OWN

    def there(self) -> list[Piano]:
        """The one that comes along first, then those of the folder by name."""
        found = {} if self._named is None else {self._named.name: self._named}
        with suppress(OSError):
            for path in sorted(self.folder.iterdir())[:MOST_FILES]:
                with suppress(OSError):
                    if path.suffix.lower() == ".sf2" and is_soundfont(path):
                        found.setdefault(path.name, path)
        return [Piano(OWN), *(Piano(name, path, _mark(path)) for name, path in found.items())]

    def played(self) -> Piano:
        """The one that was chosen; where its file is gone, the one that comes along."""
        there = {piano.name: piano for piano in self.there()}
        return there.get(self._chosen, there[OWN])

    def named(self, name: str) -> Piano:
        """Raises InputError where there is none of that name."""
        for piano in self.there():
            if piano.name == name:
                return piano
        raise InputError("there is no such piano in the folder soundfonts")

    def choose(self, piano: Piano) -> None:
        """Keep a choice. Raises OSError; then it is not changed."""
        part = self._kept.with_suffix(".part")
        try:
            part.write_text(json.dumps({"piano": piano.name}) + "\n", encoding="utf-8")
            os.replace(part, self._kept)
        finally:
            part.unlink(missing_ok=True)
        self._chosen = piano.name


def _mark(path: Path) -> str:
    try:
        stat = path.stat()
    except OSError:
        return "gone"
    return f"{path.name} {stat.st_mtime_ns} {stat.st_size}"
