"""The fonts a page needs, inside the page, so that it looks the same on every machine.

Of the engraver's text font (Liberation Serif) and music font (Leipzig), both under the SIL Open
Font License, a page carries the characters it uses, as WOFF2 in its style sheet. A character
the font has not is left to the machine, as before.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from lxml import etree

from fillwright.score.fonts import font_folder

__all__ = ["FACES", "TEXT_FAMILY", "Face", "embed_fonts", "face_of", "in_file"]

Element = etree._Element
_SVG = "{http://www.w3.org/2000/svg}"

TEXT_FAMILY = "Liberation Serif"
_MUSIC_FAMILY = "Leipzig"

class Face(NamedTuple):
    """Family, weight and style of characters; no family stands for the text font."""

    family: str
    weight: str
    style: str


FACES = {Face(_MUSIC_FAMILY, "normal", "normal"): "Leipzig-0",
         Face(TEXT_FAMILY, "normal", "normal"): "Liberation-0",
         Face(TEXT_FAMILY, "bold", "normal"): "Liberation-1",
         Face(TEXT_FAMILY, "normal", "italic"): "Liberation-2",
         Face(TEXT_FAMILY, "bold", "italic"): "Liberation-3"}
"""The file of each face, in the order of the engraver's style sheets."""
_BOLD_GROUPS = frozenset({"ending", "fing", "reh", "tempo"})
_ITALIC_GROUPS = frozenset({"dir", "dynam", "mNum"})
"""What the engraver's style sheet sets in bold and in italics."""
_LATER = "0123456789().,-"
"""Always in the text font: who draws on a finished page numbers things."""


def embed_fonts(pages: Sequence[str]) -> tuple[str, ...]:
    """Pages with all they need of the fonts; the same pages give the same bytes."""
    trees = [etree.fromstring(page.encode("utf-8")) for page in pages]
    used: dict[Face, set[str]] = {}
    for tree in trees:
        for text in tree.iter(f"{_SVG}text"):
            for face, words in _runs(text, Face("", "normal", "normal")):
                used.setdefault(in_file(face), set()).update(words)
    rules = "".join(_rule(face, frozenset(characters | set(_later(face))))
                    for face, characters in sorted(used.items()))
    return tuple(_with_rules(tree, rules) for tree in trees)


def _later(face: Face) -> str:
    return "" if face[0] == _MUSIC_FAMILY else _LATER


def _runs(text: Element, start: Face) -> Iterable[tuple[Face, str]]:
    face = start
    for parent in reversed([*text.iterancestors()]):
        face = face_of(parent, face)
    yield from _inside(text, face)


def _inside(element: Element, outer: Face) -> Iterable[tuple[Face, str]]:
    face = face_of(element, outer)
    if (element.text or "").strip():
        yield face, element.text or ""
    for child in element:
        yield from _inside(child, face)
        if (child.tail or "").strip():
            yield face, child.tail or ""


def face_of(element: Element, outer: Face) -> Face:
    """The face of the words right in an element, given that of the element around it."""
    family, weight, style = outer
    named = element.get("font-family")
    if named is not None or not family:
        family = _MUSIC_FAMILY if named == _MUSIC_FAMILY else TEXT_FAMILY
    groups = set((element.get("class") or "").split())
    weight = "bold" if groups & _BOLD_GROUPS else weight
    style = "italic" if groups & _ITALIC_GROUPS else style
    return Face(family, element.get("font-weight", weight), element.get("font-style", style))


def in_file(face: Face) -> Face:
    """The music font has one face; slanted, it is slanted by who draws it."""
    return Face(_MUSIC_FAMILY, "normal", "normal") if face.family == _MUSIC_FAMILY else face


@lru_cache(maxsize=64)
def _rule(face: Face, characters: frozenset[str]) -> str:
    """The style rule of a face with these characters; empty where there is no such face."""
    file = FACES.get(face)
    if file is None:
        return ""
    packed = base64.b64encode(_subset(file, characters)).decode("ascii")
    family, weight, style = face
    return (f"@font-face{{font-family:'{family}';font-weight:{weight};font-style:{style};"
            f"src:url(data:font/woff2;base64,{packed}) format('woff2')}}")


def _subset(file: str, characters: frozenset[str]) -> bytes:
    from fontTools import subset  # type: ignore[import-untyped]
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    options = subset.Options()
    options.flavor = "woff2"
    options.hinting = False
    options.layout_features = ["kern"]
    options.name_IDs = [1, 2, 13]  # family, style, licence
    options.notdef_outline = True
    font = TTFont(font_folder() / f"{file}.otf", recalcTimestamp=False)
    chosen = subset.Subsetter(options)
    chosen.populate(unicodes=sorted(map(ord, characters)))
    chosen.subset(font)
    stream = io.BytesIO()
    font.flavor = "woff2"
    font.save(stream, reorderTables=False)
    return stream.getvalue()


def _with_rules(tree: Element, rules: str) -> str:
    for style in list(tree.iter(f"{_SVG}style")):
        if (style.text or "").lstrip().startswith("@font-face"):
            parent = style.getparent()
            if parent is not None:
                parent.remove(style)
    if rules:
        sheet = etree.Element(f"{_SVG}style", {"type": "text/css"})
        sheet.text = rules
        tree.insert(0, sheet)
    return str(etree.tostring(tree, encoding="unicode"))
