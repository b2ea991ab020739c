"""Chord symbols in MusicXML.

The saved file says what the chord is (kind and degrees) and how it was written (text).
Programs differ in whether they print the degrees next to the text, so the degrees are
marked as not to be printed: the text is whole. The copy for engraving has the text alone,
with real accidentals, and added chords in square brackets.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from lxml import etree

from fillwright.arranging.model import Arrangement
from fillwright.exact import Fraction
from fillwright.theory.chord import (
    KIND_DEGREES,
    ChordSymbol,
    default_suffix,
    degree_number,
    kind_changes,
)
from fillwright.theory.pitch import NoteName, degree_interval
from fillwright.tune.model import ChordSpan, Chorus

__all__ = ["CHORD_STYLES", "again_spans", "harmony_element", "restyled", "restyled_chorus",
           "shown_spans", "view_harmony"]

Element = etree._Element

CHORD_STYLES = ("written", "words", "signs")
_SIGNS = tuple((re.compile(pattern), sign) for pattern, sign in (
    (r"m7b5", "ø7"), (r"dim", "°"), (r"m\(maj(\d+)\)", r"−Δ\1"), (r"maj(?=\d)", "Δ"), (r"m", "−")))
"""What a quality begins with, and the sign for it (common practice)."""


def restyled(arrangement: Arrangement, style: str) -> Arrangement:
    """The same with its chord symbols written in one of `CHORD_STYLES`."""
    if style == "written":
        return arrangement
    gaps = tuple(replace(gap, landing_chord=None if gap.landing_chord is None
                         else _restyled(gap.landing_chord, style)) for gap in arrangement.gaps)
    return replace(arrangement, chorus=restyled_chorus(arrangement.chorus, style), gaps=gaps,
                   chords=_spans(arrangement.chords, style),
                   fills=tuple(replace(fill, chords=_spans(fill.chords, style))
                               for fill in arrangement.fills))


def restyled_chorus(chorus: Chorus, style: str) -> Chorus:
    """The same of a chorus."""
    return replace(chorus, chords=_spans(chorus.chords, style))


def _spans(spans: Sequence[ChordSpan], style: str) -> tuple[ChordSpan, ...]:
    return tuple(replace(span, symbol=_restyled(span.symbol, style)) for span in spans)


def _restyled(symbol: ChordSymbol, style: str) -> ChordSymbol:
    """
    >>> str(_restyled(ChordSymbol.parse("Cm7b5"), "signs"))
    'Cø7'
    >>> str(_restyled(ChordSymbol.parse("C^9"), "words"))
    'Cmaj9'
    """
    if style == "written" or symbol.root is None:
        return symbol
    suffix = default_suffix(symbol.kind, symbol.degrees)
    if style == "signs":
        for pattern, sign in _SIGNS:
            if pattern.match(suffix):
                suffix = pattern.sub(sign, suffix, count=1)
                break
    return replace(symbol, suffix=suffix)


def harmony_element(span: ChordSpan, identifier: str, offset: int) -> Element:
    """A `<harmony>` for the saved file; `offset` in divisions from the cursor.

    An added chord is printed in italics and has an id that begins with "added"; one of the
    sheet that sounds again behind it has one that begins with "again".
    """
    harmony = etree.Element("harmony", {"placement": "above", "id": identifier})
    if span.added:
        harmony.set("font-style", "italic")
    symbol = span.symbol
    if symbol.root is None:
        _no_chord(harmony)
    else:
        _note_name(etree.SubElement(harmony, "root"), "root", symbol.root)
        kind = etree.SubElement(harmony, "kind", {"text": symbol.suffix})
        kind.text = symbol.kind
        if symbol.bass is not None:
            _note_name(etree.SubElement(harmony, "bass"), "bass", symbol.bass)
        _degrees(harmony, symbol)
    return _finish(harmony, offset)


def again_spans(arrangement: Arrangement) -> tuple[ChordSpan, ...]:
    """The chords of the sheet where they sound again behind an added one, in order.

    Without their symbols the added chord would be read on until the next one.
    """
    begun = {span.onset_quarter for span in arrangement.chords}
    found: dict[Fraction, ChordSpan] = {}
    for added in arrangement.chords:
        place = added.end_quarter
        if not added.added or place in begun:
            continue
        for span in arrangement.chords:
            if not span.added and span.onset_quarter < place < span.end_quarter:
                found[place] = replace(span, onset_quarter=place,
                                       duration_quarter=span.end_quarter - place)
    return tuple(found[place] for place in sorted(found))


def shown_spans(arrangement: Arrangement) -> tuple[ChordSpan, ...]:
    """The chords as a page shows them: one that a fill delays stands where it comes, and one
    of the sheet again behind an added one.

    A chord that a fill replaces altogether stays at its place, the added one behind it.
    """
    comes: dict[Fraction, Fraction] = {}
    for fill in arrangement.fills:
        added = {c.onset_quarter for c in fill.chords if c.added}
        for written in arrangement.chords:
            if written.added or written.onset_quarter not in added:
                continue
            back = [c.onset_quarter for c in fill.chords
                    if not c.added and c.symbol == written.symbol
                    and written.onset_quarter < c.onset_quarter < written.end_quarter]
            if back:
                comes[written.onset_quarter] = min(back)
    shown = [span if span.added or span.onset_quarter not in comes
             else replace(span, onset_quarter=comes[span.onset_quarter])
             for span in arrangement.chords]
    begun = {span.onset_quarter for span in shown}
    shown += [span for span in again_spans(arrangement) if span.onset_quarter not in begun]
    return tuple(sorted(shown, key=lambda span: span.onset_quarter))


def view_harmony(spans: Sequence[ChordSpan], offset: int) -> Element:
    """One `<harmony>` for the engraver with all symbols of one place, written ones first."""
    texts = [f"[{span.symbol.pretty}]" if span.added else span.symbol.pretty
             for span in sorted(spans, key=lambda span: span.added)]
    harmony = etree.Element("harmony", {"placement": "above"})
    root = etree.SubElement(harmony, "root")
    etree.SubElement(root, "root-step", {"text": ""}).text = "C"
    etree.SubElement(harmony, "kind", {"text": " ".join(texts)}).text = "other"
    return _finish(harmony, offset)


def _finish(harmony: Element, offset: int) -> Element:
    if offset:
        etree.SubElement(harmony, "offset").text = str(offset)
    etree.SubElement(harmony, "staff").text = "1"
    return harmony


def _no_chord(harmony: Element) -> None:
    root = etree.SubElement(harmony, "root")
    etree.SubElement(root, "root-step", {"text": ""}).text = "C"
    etree.SubElement(harmony, "kind", {"text": "N.C."}).text = "none"


def _note_name(parent: Element, word: str, name: NoteName) -> None:
    etree.SubElement(parent, f"{word}-step").text = name.step
    if name.alter:
        etree.SubElement(parent, f"{word}-alter").text = str(name.alter)


def _degrees(harmony: Element, symbol: ChordSymbol) -> None:
    """What the kind does not say. By the MusicXML 4.0 documentation, an added degree is
    altered against a dominant chord, an altered one against the chord of the kind."""
    for action, degree in kind_changes(symbol.kind, symbol.degrees):
        number = degree_number(degree)
        if action == "alter":
            base = next(d for d in KIND_DEGREES[symbol.kind] if degree_number(d) == number)
        elif action == "add":
            base = "b7" if number == 7 else str(number)
        else:
            base = degree
        alter = degree_interval(degree).semitones - degree_interval(base).semitones
        element = etree.SubElement(harmony, "degree", {"print-object": "no"})
        etree.SubElement(element, "degree-value").text = str(number)
        etree.SubElement(element, "degree-alter").text = str(alter)
        etree.SubElement(element, "degree-type").text = action
