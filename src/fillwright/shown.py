"""What a value of this program looks and sounds like in a notebook.

`Shown` gives `show()` and `play()` to tunes, choruses, fills and arrangements. Drawing and
playing belong to parts above them, so who draws is told from the top of the package with
`display_with`, and is loaded when something is shown.
"""

from __future__ import annotations

import base64
from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Protocol

__all__ = ["Display", "Picture", "Shown", "Sound", "display_with"]


@dataclass(frozen=True, slots=True)
class Picture:
    """Engraved pages, each an SVG; a notebook shows them below each other."""

    pages: tuple[str, ...]
    title: str = ""

    def __repr__(self) -> str:
        return f"<Picture of {self.title}: {len(self.pages)} SVG pages>"

    def _repr_svg_(self) -> str:
        return self.pages[0]

    def _repr_html_(self) -> str:
        """As images, so that the ids of one picture do not meet those of another."""
        return "\n".join(
            f'<img alt="{escape(self.title)}, page {number}" style="max-width:100%;'
            f'background:#fff" src="data:image/svg+xml;base64,{_base64(page.encode())}">'
            for number, page in enumerate(self.pages, start=1))

    def save(self, path: Path | str) -> None:
        """Write the first page."""
        Path(path).write_text(self.pages[0], encoding="utf-8")


@dataclass(frozen=True, slots=True)
class Sound:
    """FLAC; a notebook shows a player."""

    flac: bytes
    title: str = ""

    def __repr__(self) -> str:
        return f"<Sound of {self.title}: {len(self.flac)} bytes of FLAC>"

    def _repr_html_(self) -> str:
        return (f'<audio controls aria-label="{escape(self.title)}" '
                f'src="data:audio/flac;base64,{_base64(self.flac)}"></audio>')

    def save(self, path: Path | str) -> None:
        Path(path).write_bytes(self.flac)


class Display(Protocol):
    """Who draws and plays."""

    def show(self, thing: object) -> Picture: ...

    def play(self, thing: object) -> Sound: ...


class Shown:
    """A value that a notebook shows as music."""

    __slots__ = ()

    def show(self) -> Picture:
        """The staff."""
        return _display().show(self)

    def play(self) -> Sound:
        """How it sounds, by the piano that comes along."""
        return _display().play(self)

    def _repr_html_(self) -> str:
        return f"<p>{escape(repr(self))}</p>\n{self.show()._repr_html_()}"


_loaders: list[Callable[[], Display]] = []


def display_with(loader: Callable[[], Display]) -> None:
    """Say who draws and plays; `loader` is called when something is shown."""
    _loaders[:] = [loader]


def _display() -> Display:
    return _loaders[0]()


def _base64(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")
