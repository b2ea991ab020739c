"""From MusicXML to pages in SVG.

The engraver is verovio. It runs in a process of its own, because some input can end the
process it runs in. The same input gives the same bytes.
"""

from __future__ import annotations

import itertools
import json
import re
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from lxml import etree

from fillwright.exact import Fraction
from fillwright.score.handdrawing import Picture
from fillwright.score.handstrip import with_hands
from fillwright.score.ink import around, drawn_on
from fillwright.score.labels import FONT_SHARE, centre_counts, clear_signs, text_width
from fillwright.score.mei import Heading, add_breaks, choose_breaks, dress
from fillwright.score.paging import Paper, pages_of, shares_of
from fillwright.score.placing import Extent, place_line
from fillwright.score.signs import part_signs
from fillwright.score.ties import lengthen_ties
from fillwright.score.turning import Bars, free_seconds, starts_for_turning

__all__ = ["CAUTION", "LEGEND", "Copy", "Engraving", "EngravingError", "PageStyle",
           "engrave_copy", "engrave_here", "engrave_musicxml", "engrave_several"]

Element = etree._Element
_SVG = "{http://www.w3.org/2000/svg}"
_TIMEOUT_SEC, _MORE_SEC = 120, 10
"""For one document, and for each more."""
_CLEF_UNITS = 120
"""Room for brace, clef and signature at the start of a line, for each unit."""
_SPREAD = 0.33
"""What a length adds to the space of a note where no line is stretched to the edge. On a page lines
are stretched by a quarter to a half over what the engraver's own 0.25 gives; this is as wide."""
_FULL = 0.78
"""Of the room on pages: what fills less is set closer, if that saves a page (design
choice)."""
_TALLEST = 60000
"""Of the engraver's pages: all lines stand on one, and are spread over pages afterwards."""
_TEXT_UNITS = 45
"""Size of text (a chord symbol), for each unit."""
LEGEND = ("Circled numbers: gaps of the melody.  [ ]: chord added by a fill, not on the lead "
          "sheet.  Counts below the staff: say them aloud, those in ( ) silently.")
CAUTION = ("A stretch that hurts is to be rolled or left out; pain is a matter for a teacher "
           "or a doctor.")
_TEXT_FONTS = "'Liberation Serif', 'Times New Roman', Times, serif"


class EngravingError(RuntimeError):
    """The engraver could not read the score, or died over it."""


@dataclass(frozen=True, slots=True)
class PageStyle:
    """A4 upright by default; lengths in tenths of a millimetre.

    unit            half the distance of two staff lines
    least_unit      down to which it may go where that saves a page of pages half empty
    systems         at most so many lines of music on a page
    bars_per_line   wanted; half as many where they do not fit
    stretch_from    a last line that fills so much of the width is stretched to all of it
    in_one_line     no bar begins a line of its own, nor does a section; the page is as wide as what
                    is drawn on it, `width` at most
    spread          in one line: what a length adds to the space of a note (the engraver's
                    ``spacingLinear``)
    least           air between the ink of two lines
    most            between the staves of two lines, where a page has room to spare
    """

    width: int = 2100
    height: int = 2970
    unit: float = 7.5
    least_unit: float = 6.8
    margin_side: int = 120
    margin_top: int = 120
    margin_bottom: int = 230
    systems: int = 6
    bars_per_line: int = 4
    stretch_from: float = 0.5
    in_one_line: bool = False
    spread: float = _SPREAD
    least: int = 55
    most: int = 480

    @property
    def music(self) -> float:
        """How wide a line of music is, in the lengths of the page."""
        return 10.0 * (self.width - 2 * self.margin_side)

    @property
    def paper(self) -> Paper:
        """What a page of it holds."""
        return Paper(10 * self.height, 10 * (self.height - self.margin_top - self.margin_bottom),
                     self.systems, 10 * self.least, 10 * self.most)

    @property
    def closer(self) -> PageStyle:
        """The same with music as small, and lines as close, as it may be."""
        share = min(1.0, self.least_unit / self.unit)
        return replace(self, unit=share * self.unit, least=round(share * self.least))


@dataclass(frozen=True, slots=True)
class Engraving:
    """SVG pages, and for each moment what sounds (verovio's timemap, in score time)."""

    pages: tuple[str, ...]
    timemap: tuple[Mapping[str, Any], ...] = field(default=())


def engrave_musicxml(view: bytes, heading: Heading | None = None,
                     style: PageStyle | None = None, seed: int = 1,
                     foot: Sequence[str] = (LEGEND, CAUTION)) -> Engraving:
    """Lay out a MusicXML document in a separate process.

    heading   title and subtitle; None: from the credits of the document
    foot      lines at the foot of each page, above the page number
    seed      of the ids of elements that have none of their own

    Raises `EngravingError`.
    """
    return engrave_several([Copy(view, heading, style or PageStyle(), seed, tuple(foot))])[0]


@dataclass(frozen=True, slots=True)
class Copy:
    """One document to be laid out, as `engrave_musicxml` has it; `hands` are pictures to stand
    under the lines of music, by the numbers of their gaps."""

    view: bytes
    heading: Heading | None = None
    style: PageStyle = field(default_factory=PageStyle)
    seed: int = 1
    foot: tuple[str, ...] = (LEGEND, CAUTION)
    hands: Mapping[str, Sequence[Picture]] = field(default_factory=dict)


def engrave_several(copies: Sequence[Copy]) -> tuple[Engraving, ...]:
    """Lay out several documents in one separate process: starting it takes longer than a page.
    Raises `EngravingError` if one of them cannot be read."""
    request = [{"view": copy.view.decode("utf-8"), "seed": copy.seed, "foot": list(copy.foot),
                "heading": None if copy.heading is None else asdict(copy.heading),
                "style": asdict(copy.style), "hands": dict(copy.hands)} for copy in copies]
    try:
        done = subprocess.run([sys.executable, "-m", "fillwright.score.worker"],
                              input=json.dumps(request).encode(), capture_output=True,
                              timeout=_TIMEOUT_SEC + _MORE_SEC * (len(copies) - 1),
                              check=False)
    except subprocess.TimeoutExpired as error:
        raise EngravingError("the engraver took too long") from error
    if done.returncode != 0:
        lines = done.stderr.decode("utf-8", "replace").strip().splitlines()
        reason = lines[-1] if lines else f"exit status {done.returncode}"
        raise EngravingError(f"the score could not be engraved: {reason}")
    return tuple(Engraving(tuple(answer["pages"]), tuple(answer["timemap"]))
                 for answer in json.loads(done.stdout))


def engrave_here(view: bytes, heading: Heading | None = None, style: PageStyle | None = None,
                 seed: int = 1, foot: Sequence[str] = (LEGEND, CAUTION)) -> Engraving:
    """The same in this process."""
    return engrave_copy(Copy(view, heading, style or PageStyle(), seed, tuple(foot)))


def engrave_copy(asked: Copy) -> Engraving:
    """One document laid out in this process."""
    import verovio

    view, style, seed = asked.view, asked.style, asked.seed
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    options = _options(style, seed)
    in_one_line = {**options, "breaks": "none"}
    # Ids that are made anew must not be those the elements have from the first reading.
    in_lines = {**options, "breaks": "line", "pageHeight": _TALLEST, "xmlIdSeed": seed + 1}
    mei = _load(toolkit, view.decode("utf-8"), in_one_line).getMEI()
    music = style.music
    heading = asked.heading or _heading(view)
    root, names = dress(mei.encode("utf-8"), heading, music / (_TEXT_UNITS * style.unit))
    _load(toolkit, etree.tostring(root, encoding="unicode"), in_one_line)
    widths = _measure_widths(toolkit.renderToSVG(1))
    starts, pickups = _sections(view)
    bars = Bars(widths, [a or b for a, b in zip(starts, pickups, strict=True)],
                music - _CLEF_UNITS * style.unit)
    breaks = ([] if style.in_one_line else
              choose_breaks(widths, starts, bars.room, pickups, style.bars_per_line))

    def laid(breaks: Sequence[int]) -> _Laid:
        add_breaks(root, breaks)
        _load(toolkit, etree.tostring(root, encoding="unicode"), in_lines)
        return _lay_out(toolkit, style, names, asked.hands)

    lines = laid(breaks)
    many = _half_empty(lines, style)
    if many:
        closer = engrave_copy(replace(asked, style=style.closer))
        if len(closer.pages) < many:
            return closer
    better = _breaks_for_turning(lines, bars, breaks, style.paper)
    if better != breaks:
        turned = laid(better)
        if _pages_of(turned, style, better) <= _pages_of(lines, style, breaks):
            breaks, lines = better, turned
    drawn = lines.drawn
    _write_composer(drawn[0], heading.composer, music, 0.9 * _TEXT_UNITS * style.unit)
    pages = pages_of(drawn, lines.extents, style.paper,
                     [lines.free_sec[bar] for bar in breaks])
    for number, page in enumerate(pages, 1):
        if style.in_one_line:
            _narrow(page, style)
        _write_foot(page, style, asked.foot, f"{number} / {len(pages)}" if len(pages) > 1 else "")
    return Engraving(tuple(_text(page) for page in pages), tuple(lines.timemap))


@dataclass(frozen=True, slots=True)
class _Laid:
    """A score in lines, all below one another; `free_sec` for the beginning of each bar."""

    drawn: list[Element]
    extents: list[Extent]
    timemap: list[Mapping[str, Any]]
    free_sec: list[float]


def _lay_out(toolkit: Any, style: PageStyle, names: Mapping[str, str],
             hands: Mapping[str, Sequence[Picture]]) -> _Laid:
    drawn = _pages(toolkit)
    timemap = toolkit.renderToTimemap({"includeMeasures": True, "includeRests": False})
    if isinstance(timemap, str):
        timemap = json.loads(timemap)
    for page in drawn:
        centre_counts(page, style.unit)
        clear_signs(page)
    systems = [group for page in drawn for group in page.iter(f"{_SVG}g")
               if group.get("class") == "system"]
    for system in systems:
        part_signs(system)
        lengthen_ties(system)
    size, edge = _TEXT_UNITS * style.unit * FONT_SHARE, style.music
    extents = [with_hands(place_line(system, names, size, edge), hands, edge)
               for system in systems]
    return _Laid(drawn, extents, timemap, free_seconds(timemap, systems))


def _half_empty(lines: _Laid, style: PageStyle) -> int:
    """How many pages these lines take, if a page could be saved by music a little smaller."""
    paper, closer = style.paper, style.closer.paper
    if closer.least >= paper.least:
        return 0
    shares, low = shares_of(lines.drawn, lines.extents, paper)
    fewer = len(shares) - 1
    high = sum(line.bottom - line.top + paper.least for line in lines.extents)
    room = fewer * (paper.room + paper.least) - low
    if (len(lines.extents) <= fewer * paper.lines and high <= _FULL * (room + paper.room)
            and closer.least / paper.least * high <= room):
        return len(shares)
    return 0


def _pages_of(lines: _Laid, style: PageStyle, breaks: Sequence[int]) -> int:
    """How many pages they take."""
    return len(shares_of(lines.drawn, lines.extents, style.paper,
                         [lines.free_sec[bar] for bar in breaks])[0])


def _breaks_for_turning(lines: _Laid, bars: Bars, breaks: list[int], paper: Paper) -> list[int]:
    """The bars that begin a line, where a line more or less on a page does not give a hand the
    time to turn it: those that begin a page are chosen for that."""
    if not breaks:
        return breaks
    wanted = starts_for_turning(bars, breaks, lines.free_sec)
    shares, _ = shares_of(lines.drawn, lines.extents, paper,
                          [lines.free_sec[bar] for bar in wanted])
    firsts = {sum(shares[:page]) - 1 for page in range(1, len(shares))}
    return [wanted[place] if place in firsts else bar for place, bar in enumerate(breaks)]


def _load(toolkit: Any, data: str, options: Mapping[str, Any]) -> Any:
    toolkit.setOptions(dict(options))
    if not toolkit.loadData(data):
        raise EngravingError("the engraver cannot read the score")
    return toolkit


def _options(style: PageStyle, seed: int) -> dict[str, Any]:
    return {
        "pageWidth": style.width, "pageHeight": style.height, "unit": style.unit,
        "pageMarginLeft": style.margin_side, "pageMarginRight": style.margin_side,
        "pageMarginTop": style.margin_top, "pageMarginBottom": style.margin_bottom,
        "header": "encoded", "footer": "none", "xmlIdSeed": seed, "svgViewBox": True,
        "spacingSystem": 8, "spacingStaff": 14, "minLastJustification": style.stretch_from,
        "svgRemoveXlink": True, "bottomMarginHarm": 2.2, "bottomMarginHeader": 6,
        "topMarginHarm": 1.6, "hairpinSize": 2.5, "rightMarginClef": 1.5, "rightMarginKeySig": 1.5,
        **({"spacingLinear": style.spread} if style.in_one_line else {}),
    }


def _heading(view: bytes) -> Heading:
    root = etree.fromstring(view)
    words = {credit.findtext("credit-type"): credit.findtext("credit-words") or ""
             for credit in root.findall("credit")}
    title = words.get("title") or root.findtext("work/work-title") or ""
    composer = root.findtext("identification/creator[@type='composer']") or ""
    return Heading(title, words.get("subtitle", ""), composer)


def _sections(view: bytes) -> tuple[list[bool], list[bool]]:
    """Which bars start a section, and which are a pickup: the first where it is counted 0, and the
    second half of a bar that is divided: of two short ones that make one together."""
    measures = etree.fromstring(view).findall("part")[0].findall("measure")
    starts = [measure.find(".//rehearsal") is not None for measure in measures]
    pickups = [place == 0 and measure.get("number") == "0" for place, measure in
               enumerate(measures)]
    parts = _parts_of_a_bar(measures)
    place = 0
    for short, run in itertools.groupby(measures, lambda one: one.get("implicit") == "yes"):
        length = len(list(run))
        # More of them are bars in their own right.
        if (short and length == 2 and 0 < place < len(measures) - 2
                and parts[place] + parts[place + 1] == 1):
            pickups[place + 1] = True
        place += length
    return starts, pickups


def _parts_of_a_bar(measures: Sequence[Element]) -> list[Fraction]:
    """How much of a whole bar each of them lasts."""
    found = []
    whole = divisions = Fraction(1)
    for measure in measures:
        divisions = Fraction(measure.findtext("attributes/divisions") or divisions)
        beats, beat_type = (measure.findtext(f"attributes/time/{name}")
                            for name in ("beats", "beat-type"))
        if beats and beat_type:
            whole = Fraction(4 * int(beats), int(beat_type))
        at = end = Fraction(0)
        for element in measure:
            length = Fraction(element.findtext("duration") or 0) / divisions
            if element.find("chord") is None:
                at += -length if element.tag == "backup" else length
                end = max(end, at)
        found.append(end / whole)
    return found


def _measure_widths(svg: str) -> list[float]:
    """Natural widths of the bars of a score laid out in one line."""
    root = etree.fromstring(svg.encode("utf-8"))
    widths = []
    for group in root.iter("{http://www.w3.org/2000/svg}g"):
        if group.get("class", "").split()[:1] == ["measure"]:
            path = next(p for p in group.iter("{http://www.w3.org/2000/svg}path")
                        if re.match(r"M\d+ \d+ L\d+ \d+$", p.get("d", "")))
            numbers = [int(n) for n in re.findall(r"\d+", path.get("d", ""))]
            widths.append(float(numbers[2] - numbers[0]))
    return widths


def _pages(toolkit: Any) -> list[Element]:
    return [etree.fromstring(toolkit.renderToSVG(number).encode("utf-8"))
            for number in range(1, toolkit.getPageCount() + 1)]


def _write_composer(page: Element, composer: str, right_edge: float, size: float) -> None:
    """Below the title at the right edge: on the line of the subtitle, if they do not meet."""
    head = next((g for g in page.iter(f"{_SVG}g") if g.get("class") == "pgHead"), None)
    if head is None or not composer:
        return
    lines = [line for line in head.iter(f"{_SVG}tspan") if line.get("y") is not None]
    low = max(float(line.get("y", "0")) for line in lines)
    size = min(size, size * right_edge / max(1, text_width(composer, 1.1 * size)))
    free = right_edge - around([a for thing in drawn_on(head) for a in thing.areas
                                if a.bottom > low - size]).right
    if free < text_width(composer, 1.1 * size) + size or len(lines) == 1:
        low += 1.5 * size
    text = etree.SubElement(head, f"{_SVG}text", {
        "x": f"{right_edge:.0f}", "y": f"{low:.0f}", "font-size": f"{size:.0f}px",
        "text-anchor": "end", "class": "composer"})
    text.text = composer


def _narrow(page: Element, style: PageStyle) -> None:
    """Cut a page to what is drawn on it, with the margin there is on the left."""
    width = min(style.width, round(max(thing.box.right for thing in drawn_on(page)) / 10)
                + 2 * style.margin_side)
    for svg in [page, *page.iter(f"{_SVG}svg")]:
        box = svg.get("viewBox", "").split()
        if len(box) == 4:
            box[2] = str(width * (10 if svg.get("class") == "definition-scale" else 1))
            svg.set("viewBox", " ".join(box))


def _write_foot(page: Element, style: PageStyle, foot: Sequence[str], number: str) -> None:
    """Put the lines at the foot, and the page number below them."""
    group = etree.SubElement(page, f"{_SVG}g", {"class": "page-foot", "font-family": _TEXT_FONTS,
                                                "text-anchor": "middle", "font-size": "25px"})
    lines = [line for line in (*foot, number) if line]
    low = style.height - style.margin_bottom // 3
    for place, line in enumerate(lines):
        text = etree.SubElement(group, f"{_SVG}text", {
            "x": str(style.width // 2), "y": str(low - 32 * (len(lines) - 1 - place))})
        text.text = line


def _text(page: Element) -> str:
    return str(etree.tostring(page, encoding="unicode")).replace('"Times, serif"',
                                                                 f'"{_TEXT_FONTS}"')
