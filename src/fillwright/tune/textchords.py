"""Chord symbols that a sheet carries as words above the staff or as lyrics.

Some exporters and typists have no chord symbols. Where a score holds none, words or one
line of lyrics are taken for them, but only if they are unmistakable: nearly all words that
begin like a chord, or all syllables of a verse, are understood to their end, and at least
one is more than a capital letter.
"""

from __future__ import annotations

from lxml import etree

from fillwright.theory.chord import ChordSymbol
from fillwright.theory.chordtext import ChordTextError, is_no_chord, parse_chord
from fillwright.tune.notices import Notices

__all__ = ["chords_from_text"]

_LEAST = 2


def chords_from_text(root: etree._Element, notices: Notices) -> dict[str, ChordSymbol]:
    """Put a `<harmony>` with an `id` at each place and return the symbols by it; nothing is
    changed, and {} returned, where the texts are no chord symbols."""
    words = [(element, (element.text or "").strip()) for element in root.iter("words")]
    words = [(element, text) for element, text in words if _may_be_chord(text)]
    found = _understood(words, tolerance=4)
    if found:
        notices.add("the chord symbols are taken from the words above the staff")
        return _insert([(_above(element, "direction"), symbol) for element, symbol in found])
    verses: dict[str, list[tuple[etree._Element, str]]] = {}
    for lyric in root.iter("lyric"):
        text = (lyric.findtext("text") or "").strip()
        if text:
            verses.setdefault(lyric.get("number") or "1", []).append((lyric, text))
    for number, syllables in verses.items():
        if all(_may_be_chord(text) for _, text in syllables):
            found = _understood(syllables, tolerance=len(syllables) + 1)
            if found:
                notices.add(f"the chord symbols are taken from verse {number[:10]} of the "
                            "lyrics")
                return _insert([(_above(element, "note"), symbol) for element, symbol in found])
    return {}


def _may_be_chord(text: str) -> bool:
    return (text[:1] in tuple("ABCDEFG") and len(text) < 20) or is_no_chord(text)


def _understood(texts: list[tuple[etree._Element, str]], tolerance: int
                ) -> list[tuple[etree._Element, ChordSymbol]]:
    """The texts that are chord symbols, if at most one in `tolerance` is not one."""
    found = []
    telling = False
    for element, text in texts:
        try:
            symbol = parse_chord(text)
        except ChordTextError:
            continue
        found.append((element, symbol))
        telling |= symbol.is_chord and len(text) > 1
    wrong = len(texts) - len(found)
    return found if telling and len(found) >= _LEAST and wrong * tolerance <= len(found) else []


def _above(element: etree._Element, tag: str) -> etree._Element | None:
    above: etree._Element | None = element
    while above is not None and above.tag != tag:
        above = above.getparent()
    return above


def _insert(places: list[tuple[etree._Element | None, ChordSymbol]]) -> dict[str, ChordSymbol]:
    symbols: dict[str, ChordSymbol] = {}
    for place, symbol in places:
        parent = None if place is None else place.getparent()
        if place is None or parent is None:
            continue
        name = f"text-{len(symbols)}"
        harmony = etree.Element("harmony", {"id": name})
        offset = place.find("offset")
        if offset is not None:
            etree.SubElement(harmony, "offset").text = offset.text
        parent.insert(parent.index(place), harmony)
        symbols[name] = symbol
    return symbols
