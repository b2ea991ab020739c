"""Everything that decides the music of a tune on the page."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.arranging.model import Options
from fillwright.web.state import ChordChange

__all__ = ["Sheet"]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The bytes brought in, their file's name, corrections and settings (no picks)."""

    data: bytes
    name: str
    chords: tuple[ChordChange, ...]
    options: Options
