"""Scripts, styles, fonts and templates, read once when the server starts.

A request picks one of them by name out of a dictionary; no path is ever made from it.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup

from fillwright.web.words import Words

__all__ = ["Asset", "Assets"]

_HERE = Path(__file__).resolve().parent
_TYPES = {".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8",
          ".svg": "image/svg+xml", ".woff2": "font/woff2"}
ROOMS = {"shelf": "/", "library": "/library", "lessons": "/lessons"}
"""Where one can go from every page: the name of its message, and its address."""
_FONTS = {"music": "Leipzig.css", "text": "Liberation.css"}


@dataclass(frozen=True, slots=True)
class Asset:
    content: bytes
    media_type: str
    etag: str


class Assets:
    """All files of the page by name."""

    def __init__(self) -> None:
        self.words = Words()
        self._assets = {path.name: _asset(path.read_bytes(), path.suffix)
                        for path in sorted((_HERE / "static").iterdir())
                        if path.suffix in _TYPES}
        for name, content in _fonts().items():
            self._assets[name] = _asset(content, ".woff2")
        self.version = hashlib.sha256("".join(
            asset.etag for asset in self._assets.values()).encode()).hexdigest()[:12]
        sources = {path.name: path.read_text(encoding="utf-8")
                   for path in sorted((_HERE / "templates").glob("*.html"))}
        self._templates = Environment(loader=DictLoader(sources), autoescape=True,
                                      undefined=StrictUndefined, trim_blocks=True,
                                      lstrip_blocks=True)

    def get(self, name: str) -> Asset | None:
        return self._assets.get(name)

    def page(self, name: str, language: str, **values: object) -> str:
        """A template filled in, in a language; everything in it is escaped."""
        words = self.words
        data = json.dumps(words.for_scripts(language), ensure_ascii=False, separators=(",", ":"))
        return self._templates.get_template(name).render(
            t=words.say(language), language=language, languages=words.languages,
            rooms=ROOMS, words=Markup(data.replace("<", "\\u003c")), version=self.version, **values)


def _asset(content: bytes, suffix: str) -> Asset:
    return Asset(content, _TYPES[suffix], hashlib.sha256(content).hexdigest()[:16])


def _fonts() -> dict[str, bytes]:
    """The engraver's music font and text font, out of its style sheets."""
    spec = find_spec("verovio")
    if spec is None or spec.origin is None:
        return {}
    data = Path(spec.origin).parent / "data"
    found = {}
    for name, sheet in _FONTS.items():
        try:
            text = (data / sheet).read_text(encoding="ascii")
        except OSError:
            continue
        faces = re.findall(r"@font-face\s*{(.*?)}", text, re.DOTALL)
        for face in faces:
            packed = re.search(r"base64,([^)]*)\)", face)
            if packed is None:
                continue
            style = ("-italic" if re.search(r"font-style:\s*italic", face) else "") + (
                "-bold" if re.search(r"font-weight:\s*(bold|700)", face) else "")
            found[f"{name}{style}.woff2"] = base64.b64decode(packed[1])
    return found
