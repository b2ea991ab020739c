"""The lead sheet as a page: melody and chord symbols, with a bracket under every gap.

`lead_sheet` shows the chorus on one staff, `phrase_staff` the bars around one gap of it.
`blank_sheet` is a hand-out: the melody on the
upper staff of a grand staff, the lower one empty, to write into. A bracket that goes on in the
next line is numbered there again. Brackets are drawn after
the engraver has placed the notes, in groups ``<g class="gap-mark" data-gap="3">``; chord
symbols carry ``data-bar`` (index of the printed bar), ``data-onset`` (quarters from the bar
line) and ``data-text``, so that a page on a screen can be pointed at.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from lxml import etree

from fillwright.arranging.model import Arrangement, Options
from fillwright.arranging.window import cut_bars, moved
from fillwright.exact import Fraction
from fillwright.hands.model import HandNote
from fillwright.score.engraver import CAUTION, Engraving, PageStyle, engrave_musicxml
from fillwright.score.labels import COUNT_ID, LABEL_ID, TEMPO_ID
from fillwright.score.mei import Heading
from fillwright.score.musicxml import to_musicxml
from fillwright.score.printing import Printing
from fillwright.score.symbols import restyled_chorus
from fillwright.tune.model import Chorus, Gap

__all__ = ["blank_sheet", "draw_brackets", "lead_musicxml", "lead_sheet", "lead_view",
           "melody_arrangement", "phrase_staff"]

Element = etree._Element
Engraver = Callable[..., Engraving]

_SVG = "{http://www.w3.org/2000/svg}"
_HEAD = re.compile(r"translate\((-?\d+(?:\.\d+)?),\s*(-?\d+(?:\.\d+)?)\)")
_NO_CHORD = re.compile(rf"({LABEL_ID}|{COUNT_ID}|{TEMPO_ID})\d")
_LINE = re.compile(r"M(-?\d+) (-?\d+) L(-?\d+) (-?\d+)$")

LEAD_STYLE = PageStyle(systems=10, margin_bottom=140)
BLANK_STYLE = PageStyle(systems=6)
PHRASE_STYLE = PageStyle(width=5200, height=1400, margin_side=20, margin_top=20,
                         margin_bottom=20, systems=1, in_one_line=True)
_PHRASE_BARS = 5
LEAD_FOOT = ("Brackets: where the melody holds still. The circled number names the gap.",)
_PLAIN = Printing()
BLANK_FOOT = ("Fill the bracketed places.", CAUTION)

# Lengths in the engraver's own measure: 150 is the distance of two staff lines.
_SPACE = 150
_BELOW_STAFF = 260
_BELOW_HEAD = 230
_TICK = 110
_STROKE = 34
_BEFORE_HEAD = 50
_AFTER_CLEF = 60
_SHORTEST = 260
_AGAIN_BELOW, _AGAIN_SIZE = 290, 270


def melody_arrangement(chorus: Chorus, gaps: Sequence[Gap]) -> Arrangement:
    """The melody alone in the right hand, as written, without fingers."""
    notes = tuple(HandNote(note.onset_quarter, note.duration_quarter, note.pitch, "right", None,
                           "melody") for note in chorus.melody)
    return Arrangement(chorus, Options(), tuple(gaps), (), notes, chorus.chords)


def lead_view(chorus: Chorus, gaps: Sequence[Gap], *, blank: bool = False) -> bytes:
    """MusicXML for the engraver: one staff, or two with an empty lower one (`blank`)."""
    root = etree.fromstring(to_musicxml(melody_arrangement(chorus, gaps), fingering="none",
                                        view=True, dynamics=False))
    for measure in root.iter("measure"):
        lower = [element for element in measure if element.findtext("staff") == "2"]
        if blank:
            for element in lower:
                element.set("print-object", "no")
        else:
            _leave_one_staff(measure, lower)
    return bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8"))


def lead_musicxml(arrangement: Arrangement) -> bytes:
    """A lead sheet for any notation program: the melody under the chords as they are played,
    those of the fills among them."""
    chorus = arrangement.chorus
    added = {span.onset_quarter for span in arrangement.chords if span.added}
    played = tuple(span for span in arrangement.chords
                   if span.added or span.onset_quarter not in added)
    sheet = replace(melody_arrangement(chorus, ()), chords=played)
    root = etree.fromstring(to_musicxml(sheet, fingering="none", dynamics=False))
    for credit in root.findall("credit"):
        if credit.findtext("credit-type") == "subtitle":
            root.remove(credit)
    for measure in root.iter("measure"):
        _leave_one_staff(measure, [e for e in measure if e.findtext("staff") == "2"])
    return bytes(etree.tostring(root.getroottree(), xml_declaration=True, encoding="UTF-8",
                                pretty_print=True))


def _leave_one_staff(measure: etree._Element, lower: Sequence[etree._Element]) -> None:
    for element in [*lower, *measure.findall("backup")]:
        measure.remove(element)
    for attributes in measure.findall("attributes"):
        for element in attributes.findall("staves") + attributes.findall("clef"):
            if element.tag == "staves" or element.get("number") == "2":
                attributes.remove(element)


def lead_sheet(chorus: Chorus, gaps: Sequence[Gap], *, engrave: Engraver = engrave_musicxml,
               printing: Printing = _PLAIN) -> Engraving:
    """The pages of the lead sheet, gaps bracketed. Raises `EngravingError`.

    engrave    `engrave_musicxml`, or `engrave_here` in a process that may die
    printing   what is chosen of the page: paper, size, chord symbols
    """
    heading = Heading(chorus.tune.title, composer=chorus.tune.composer)
    view = lead_view(restyled_chorus(chorus, printing.chords), gaps)
    done = engrave(view, heading, printing.styled(LEAD_STYLE), foot=_foot(chorus, LEAD_FOOT))
    return _marked(done, chorus, gaps)


def blank_sheet(chorus: Chorus, gaps: Sequence[Gap], *, engrave: Engraver = engrave_musicxml,
                printing: Printing = _PLAIN) -> Engraving:
    """The pages of a hand-out to write into, as `lead_sheet` has them."""
    view = lead_view(restyled_chorus(chorus, printing.chords), gaps, blank=True)
    done = engrave(view,
                   Heading(chorus.tune.title, "Name: ______________________",
                           chorus.tune.composer),
                   printing.styled(BLANK_STYLE), foot=_foot(chorus, BLANK_FOOT))
    return _marked(done, chorus, gaps)


def _foot(chorus: Chorus, lines: Sequence[str]) -> tuple[str, ...]:
    """These lines, and below them the rights of the sheet, or where it comes from."""
    return (*lines, *([chorus.tune.rights] if chorus.tune.rights else ()))


def phrase_staff(chorus: Chorus, gaps: Sequence[Gap], number: int, *,
                 engrave: Engraver = engrave_musicxml) -> tuple[Engraving, int]:
    """The bars around gap `number` on one staff: from two before it to one after its landing,
    and so many more that there are five where the tune has them.

    Returns the drawing and the index of its first melody note in the chorus. Raises
    `EngravingError`.
    """
    gap = gaps[number - 1]
    inside = [index for index, bar in enumerate(chorus.bars)
              if bar.onset_quarter <= gap.end_quarter and bar.end_quarter > gap.onset_quarter]
    low, high = max(0, inside[0] - 2), min(len(chorus.bars) - 1, inside[-1] + 1)
    high = min(len(chorus.bars) - 1, max(high, low + _PHRASE_BARS - 1))
    low = max(0, min(low, high - _PHRASE_BARS + 1))
    part, start = cut_bars(chorus, low, high), chorus.bars[low].onset_quarter
    own = [moved(other, -start) for other in gaps
           if start <= other.onset_quarter < chorus.bars[high].end_quarter]
    view = _excerpt(lead_view(part, own), ends=high == len(chorus.bars) - 1)
    done = _marked(engrave(view, Heading(), PHRASE_STYLE, foot=()), part, own)
    first = sum(note.onset_quarter < start for note in chorus.melody)
    return done, first


def _excerpt(view: bytes, ends: bool) -> bytes:
    """A few bars without the tempo, and without the last bar line of a tune that goes on."""
    root = etree.fromstring(view)
    for measure in root.iter("measure"):
        for direction in measure.findall("direction"):
            if direction.find("direction-type/metronome") is not None:
                measure.remove(direction)
        for bar_line in measure.findall("barline[@location='right']"):
            if not ends and bar_line.findtext("bar-style") == "light-heavy":
                measure.remove(bar_line)
    return bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8"))


# --- where things stand on the page ---------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Line:
    """A line of music: its group, edges, where the music starts after clef and signature."""

    group: Element
    left: float
    start: float
    right: float
    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class _OnPage:
    line: int
    x: float


def _marked(done: Engraving, chorus: Chorus, gaps: Sequence[Gap]) -> Engraving:
    names = {note.onset_quarter: f"n{number}" for number, note in enumerate(chorus.melody)}
    pages = [etree.fromstring(page.encode("utf-8")) for page in done.pages]
    for page in pages:
        _tag_chords(page, chorus)
    draw_brackets(pages, gaps, names)
    return Engraving(tuple(etree.tostring(page, encoding="unicode") for page in pages),
                     done.timemap)


def draw_brackets(pages: Sequence[Element], gaps: Sequence[Gap], names: Mapping[Fraction, str]
                  ) -> None:
    """Draw a bracket under every gap of laid-out pages.

    names   ids of the melody notes by their onsets in the gaps' own times
    """
    lines: list[_Line] = []
    heads: dict[str, tuple[_OnPage, float]] = {}
    for page in pages:
        for system in page.iter(f"{_SVG}g"):
            if system.get("class") == "system":
                _collect(system, lines, heads)
    for gap in gaps:
        _draw(gap, names, lines, heads)


def _collect(system: Element, lines: list[_Line], heads: dict[str, tuple[_OnPage, float]]) -> None:
    edges: list[tuple[float, float, float]] = []
    signs: list[float] = []
    for group in system.iter(f"{_SVG}g"):
        kind = (group.get("class") or "").split(" ")[0]
        if kind == "staff":
            for path in group.findall(f"{_SVG}path"):
                found = _LINE.match(path.get("d", ""))
                if found is not None and found[2] == found[4]:
                    edges.append((float(found[1]), float(found[3]), float(found[2])))
        elif kind in ("clef", "keyAccid", "meterSig"):
            signs += [x for x, _ in _glyphs(group)]
        elif kind == "note":
            for x, y in _glyphs(group, "notehead")[:1]:
                heads[group.get("id", "")] = (_OnPage(len(lines), x), y)
    if not edges:
        return
    left = min(edge[0] for edge in edges)
    firsts = [x for x in signs if x < left + 20 * _SPACE]
    lines.append(_Line(system, left, max([left, *firsts]) + 2 * _SPACE + _AFTER_CLEF,
                       max(edge[1] for edge in edges), min(edge[2] for edge in edges),
                       max(edge[2] for edge in edges)))


def _glyphs(group: Element, inside: str = "") -> list[tuple[float, float]]:
    places = []
    for use in group.iter(f"{_SVG}use"):
        parent = use.getparent()
        if inside and (parent is None or parent.get("class") != inside):
            continue
        found = _HEAD.match(use.get("transform", ""))
        if found is not None:
            places.append((float(found[1]), float(found[2])))
    return places


def _tag_chords(page: Element, chorus: Chorus) -> None:
    """Say of each chord symbol which bar and place it belongs to: from left to right they
    come in the order of their places."""
    shift = 0 if chorus.bars[0].is_pickup else 1
    for measure in page.iter(f"{_SVG}g"):
        number = re.fullmatch(r"m(\d+)", measure.get("id", ""))
        if measure.get("class") != "measure" or number is None:
            continue
        bar = chorus.bars[int(number[1]) - shift]
        spans = {span.onset_quarter: str(span.symbol) for span in chorus.chords
                 if bar.onset_quarter <= span.onset_quarter < bar.end_quarter}
        symbols = [group for group in measure.iter(f"{_SVG}g") if group.get("class") == "harm"
                   and not _NO_CHORD.match(group.get("id", ""))]
        symbols.sort(key=lambda group: float(next(group.iter(f"{_SVG}text")).get("x", 0)))
        for group, (onset, text) in zip(symbols, sorted(spans.items()), strict=True):
            group.set("class", "harm chord-symbol")
            group.set("data-bar", str(bar.bar_index))
            group.set("data-onset", str(onset - bar.onset_quarter))
            group.set("data-text", text)


# --- the brackets -----------------------------------------------------------------------------


def _draw(gap: Gap, names: Mapping[Fraction, str], lines: Sequence[_Line],
          heads: dict[str, tuple[_OnPage, float]]) -> None:
    start = end = None
    if gap.held is not None:
        start = heads.get(names.get(gap.onset_quarter, ""))
    if gap.landing is not None:
        end = heads.get(names.get(gap.end_quarter, ""))
    first = start[0] if start is not None else _OnPage(0, lines[0].start)
    last = end[0] if end is not None else _OnPage(len(lines) - 1, lines[-1].right + _BEFORE_HEAD)
    parts: list[tuple[int, float, float, bool, bool]] = []
    for number in range(first.line, last.line + 1):
        line = lines[number]
        left = first.x - _BEFORE_HEAD if number == first.line else line.start
        right = last.x - _BEFORE_HEAD if number == last.line else line.right
        if right - left >= _SHORTEST or number == first.line:
            parts.append((number, left, max(right, left + _SHORTEST), number == first.line,
                          number == last.line))
    if not parts[-1][4]:  # the landing opens the next line: the bracket ends with this one
        parts[-1] = (*parts[-1][:4], True)
    for number, left, right, opens, closes in parts:
        line = lines[number]
        low = max([line.bottom + _BELOW_STAFF]
                  + [y + _BELOW_HEAD for place, y in heads.values()
                     if place.line == number and left - _SPACE <= place.x <= right])
        group = etree.SubElement(line.group, f"{_SVG}g",
                                 {"class": "gap-mark", "data-gap": str(gap.number)})
        etree.SubElement(group, f"{_SVG}rect", {
            "class": "gap-field", "x": f"{left:.0f}", "y": f"{line.top - _SPACE:.0f}",
            "width": f"{right - left:.0f}", "height": f"{low - line.top + _SPACE:.0f}",
            "fill-opacity": "0", "stroke-opacity": "0"})
        shape = (f"M{left:.0f} {low - _TICK:.0f} V{low:.0f}" if opens
                 else f"M{left:.0f} {low:.0f}") + f" H{right:.0f}"
        etree.SubElement(group, f"{_SVG}path", {
            "class": "gap-bracket", "d": shape + (f" V{low - _TICK:.0f}" if closes else ""),
            "fill": "none", "stroke-width": str(_STROKE), "stroke": "currentColor"})
        if not opens:
            again = etree.SubElement(group, f"{_SVG}text", {
                "class": "gap-again", "x": f"{left:.0f}", "y": f"{low + _AGAIN_BELOW:.0f}",
                "font-size": f"{_AGAIN_SIZE}px", "font-weight": "bold",
                "font-family": "'Liberation Serif', 'Times New Roman', Times, serif"})
            again.text = f"({gap.number})"
