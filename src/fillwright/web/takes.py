"""Takes kept with their tune: files in a folder of its own beside the tunes.

They are in no backup and in no other file, so that what is deleted is gone.
"""

from __future__ import annotations

import json
import re
import secrets
import shutil
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fillwright.errors import InputError
from fillwright.web.store import Missing

__all__ = ["KeptTake", "Takes"]

MOST_TAKES = 200
"""Of one tune."""
_ID = re.compile("[0-9a-f]{16}")


@dataclass(frozen=True, slots=True)
class KeptTake:
    """A take as the list shows it.

    made_sec  when it was brought or recorded
    notes     what is to be known of how it was heard, where it was a recording
    """

    id: str
    name: str
    made_sec: float
    notes: tuple[str, ...] = ()

    def value(self) -> dict[str, Any]:
        return {"id": self.id, "name": self.name, "made_sec": self.made_sec}


class Takes:
    """`folder` is made when the first take comes."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def add(self, tune: str, name: str, data: bytes, notes: tuple[str, ...] = ()) -> KeptTake:
        """Keep a take. Raises InputError where there are too many, OSError."""
        if len(self.of(tune)) >= MOST_TAKES:
            raise InputError(f"a tune keeps {MOST_TAKES} takes; delete one first")
        take = KeptTake(secrets.token_hex(8), name, time.time(), notes)
        folder = self._of(tune)
        folder.mkdir(parents=True, exist_ok=True)
        (folder / f"{take.id}.mid").write_bytes(data)
        part = folder / f"{take.id}.part"  # what has no name yet is no take
        part.write_text(json.dumps({"name": name, "made_sec": take.made_sec,
                                    "notes": list(notes)}), encoding="utf-8")
        part.replace(folder / f"{take.id}.json")
        return take

    def of(self, tune: str) -> list[KeptTake]:
        """Those of a tune, the newest first."""
        found = []
        for path in self._of(tune).glob("*.json"):
            with suppress(OSError, ValueError, KeyError, TypeError):
                about = json.loads(path.read_text(encoding="utf-8"))
                found.append(KeptTake(path.stem, str(about["name"]), float(about["made_sec"]),
                                      tuple(str(one) for one in about.get("notes", ()))))
        return sorted(found, key=lambda take: (-take.made_sec, take.id))

    def get(self, tune: str, key: str) -> tuple[KeptTake, bytes]:
        """Raises `Missing`."""
        for take in self.of(tune):
            if take.id == key:
                with suppress(OSError):
                    return take, (self._of(tune) / f"{key}.mid").read_bytes()
        raise Missing

    def remove(self, tune: str, key: str) -> None:
        """Delete the files of a take. Raises `Missing`."""
        if _ID.fullmatch(key) is None or not (self._of(tune) / f"{key}.json").exists():
            raise Missing
        for ending in ("json", "mid"):
            (self._of(tune) / f"{key}.{ending}").unlink(missing_ok=True)

    def forget(self, tune: str) -> None:
        """Delete all takes of a tune."""
        shutil.rmtree(self._of(tune), ignore_errors=True)

    def _of(self, tune: str) -> Path:
        """A tune's id is one of the store's, which makes no path of its own."""
        if _ID.fullmatch(tune) is None:
            raise Missing
        return self._folder / tune
