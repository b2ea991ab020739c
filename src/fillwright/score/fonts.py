"""The engraver's fonts as files, for programs that cannot read them from a page.

Verovio carries its text font (Liberation Serif, SIL Open Font License) and its music font
(Leipzig, SIL Open Font License) as WOFF2 inside style sheets. `font_folder` unpacks them
into OpenType files in the user's cache, once.
"""

from __future__ import annotations

import atexit
import base64
import io
import os
import re
import shutil
import tempfile
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

__all__ = ["Face", "faces", "font_folder", "uncovered"]

_SHEETS = ("Liberation", "Leipzig")


@dataclass(frozen=True, slots=True)
class Face:
    """One of the fonts: "Liberation" for words or "Leipzig" for music, "normal" or "italic",
    "normal" or "bold"."""

    sheet: str
    style: str
    weight: str
    path: Path


@lru_cache(maxsize=1)
def faces() -> tuple[Face, ...]:
    """All of them, in the order of the style sheets."""
    folder, found = font_folder(), []
    for sheet in _SHEETS:
        for number, (rule, _) in enumerate(_packed(sheet)):
            style = "italic" if re.search(r"font-style:\s*italic", rule) else "normal"
            weight = "bold" if re.search(r"font-weight:\s*(bold|700)", rule) else "normal"
            found.append(Face(sheet, style, weight, folder / f"{sheet}-{number}.otf"))
    return tuple(found)


@lru_cache(maxsize=1)
def font_folder() -> Path:
    """A folder with the fonts; made on first use, in a temporary place if the cache cannot
    be written."""
    import verovio

    version = re.sub(r"[^\w.-]", "_", str(verovio.toolkit().getVersion()))
    try:
        base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
        target = base / "fillwright" / f"fonts-{version}"
        if not (target / "complete").exists():
            target.mkdir(parents=True, exist_ok=True)
            _unpack(target)
    except (OSError, RuntimeError):  # not writable, or no home at all
        target = Path(tempfile.mkdtemp(prefix="fillwright-fonts-"))
        atexit.register(shutil.rmtree, target, ignore_errors=True)
        _unpack(target)
    return target


def uncovered(text: str) -> str:
    """The characters of a text that no font here has, each once, in their order."""
    return "".join(dict.fromkeys(char for char in text
                                 if char.isprintable() and ord(char) not in _covered()))


@lru_cache(maxsize=1)
def _covered() -> frozenset[int]:
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    found: set[int] = set()
    for path in font_folder().glob("*.otf"):
        with TTFont(path, lazy=True) as font:
            found |= font.getBestCmap().keys()
    return frozenset(found)


def _packed(sheet: str) -> list[tuple[str, bytes]]:
    """What a style sheet says of each of its faces, and the face as WOFF2."""
    import verovio

    text = (Path(verovio.__file__).parent / "data" / f"{sheet}.css").read_text(encoding="ascii")
    return [(rule, base64.b64decode(packed[1]))
            for rule in re.findall(r"@font-face\s*{(.*?)}", text, re.DOTALL)
            if (packed := re.search(r"base64,([^)]*)\)", rule)) is not None]


def _unpack(target: Path) -> None:
    from fontTools.ttLib import TTFont

    for sheet in _SHEETS:
        for number, (_, data) in enumerate(_packed(sheet)):
            font = TTFont(io.BytesIO(data), recalcTimestamp=False)
            font.flavor = None
            # Written beside and moved, so that two programs at once do no harm.
            handle, name = tempfile.mkstemp(dir=target, suffix=".part")
            with os.fdopen(handle, "wb") as stream:
                font.save(stream)
            os.replace(name, target / f"{sheet}-{number}.otf")
    (target / "complete").touch()
