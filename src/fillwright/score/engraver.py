"""From MusicXML to pages in SVG.

The engraver is verovio. It runs in a process of its own, because some input can end the
process it runs in. The same input gives the same bytes.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from lxml import etree

from fillwright.score.handdrawing import Picture
from fillwright.score.handstrip import with_hands
from fillwright.score.ink import around, drawn_on
from fillwright.score.labels import FONT_SHARE, centre_counts, text_width
from fillwright.score.mei import Heading, add_breaks, choose_breaks, dress
from fillwright.score.paging import Paper, pages_of
from fillwright.score.placing import place_line

__all__ = ["CAUTION", "LEGEND", "Copy", "Engraving", "EngravingError", "PageStyle",
           "engrave_copy", "engrave_here", "engrave_musicxml", "engrave_several"]

Element = etree._Element
_SVG = "{http://www.w3.org/2000/svg}"
_TIMEOUT_SEC, _MORE_SEC = 120, 10
"""For one document, and for each more."""
_CLEF_UNITS = 120
"""Room for brace, clef and signature at the start of a line, for each unit."""
_TALLEST = 60000
"""Of the engraver's pages: all lines stand on one, and are spread over pages afterwards."""
_TEXT_UNITS = 45
"""Size of text (a chord symbol), for each unit."""
LEGEND = ("Boxed numbers: gaps of the melody.  [ ]: chord added by a fill, not on the lead "
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
    systems         at most so many lines of music on a page
    bars_per_line   wanted; half as many where they do not fit
    stretch_from    a last line that fills so much of the width is stretched to all of it
    in_one_line     no bar begins a line of its own, nor does a section
    least           air between the ink of two lines
    """

    width: int = 2100
    height: int = 2970
    unit: float = 7.5
    margin_side: int = 120
    margin_top: int = 120
    margin_bottom: int = 230
    systems: int = 6
    bars_per_line: int = 4
    stretch_from: float = 0.5
    in_one_line: bool = False
    least: int = 55

    @property
    def paper(self) -> Paper:
        """What a page of it holds."""
        return Paper(10 * self.height, 10 * (self.height - self.margin_top - self.margin_bottom),
                     self.systems, 10 * self.least)


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
    music = 10 * (style.width - 2 * style.margin_side)
    heading = asked.heading or _heading(view)
    root, names = dress(mei.encode("utf-8"), heading, music / (_TEXT_UNITS * style.unit))
    _load(toolkit, etree.tostring(root, encoding="unicode"), in_one_line)
    widths = _measure_widths(toolkit.renderToSVG(1))
    starts, has_pickup = _sections(view)
    room = music - _CLEF_UNITS * style.unit
    breaks = ([] if style.in_one_line else
              choose_breaks(widths, starts, room, has_pickup, style.bars_per_line))
    add_breaks(root, breaks)
    _load(toolkit, etree.tostring(root, encoding="unicode"), in_lines)
    drawn = _pages(toolkit)
    size = _TEXT_UNITS * style.unit * FONT_SHARE
    extents = []
    for page in drawn:
        centre_counts(page, style.unit)
        lines = [place_line(group, names, size, music) for group in page.iter(f"{_SVG}g")
                 if group.get("class") == "system"]
        extents += [with_hands(line, asked.hands, music) for line in lines]
    _write_composer(drawn[0], heading.composer, music, 0.9 * _TEXT_UNITS * style.unit)
    pages = pages_of(drawn, extents, style.paper)
    for number, page in enumerate(pages, 1):
        _write_foot(page, style, asked.foot, f"{number} / {len(pages)}" if len(pages) > 1 else "")
    timemap = toolkit.renderToTimemap({"includeMeasures": True, "includeRests": False})
    if isinstance(timemap, str):
        timemap = json.loads(timemap)
    return Engraving(tuple(_text(page) for page in pages), tuple(timemap))


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
        "spacingSystem": 8, "spacingStaff": 12, "minLastJustification": style.stretch_from,
        "svgRemoveXlink": True, "bottomMarginHarm": 2.2, "bottomMarginHeader": 6,
        "topMarginHarm": 1.6, "hairpinSize": 2.5,
    }


def _heading(view: bytes) -> Heading:
    root = etree.fromstring(view)
    words = {credit.findtext("credit-type"): credit.findtext("credit-words") or ""
             for credit in root.findall("credit")}
    title = words.get("title") or root.findtext("work/work-title") or ""
    composer = root.findtext("identification/creator[@type='composer']") or ""
    return Heading(title, words.get("subtitle", ""), composer)


def _sections(view: bytes) -> tuple[list[bool], bool]:
    """Which bars start a section, and whether the first is a pickup."""
    measures = etree.fromstring(view).findall("part")[0].findall("measure")
    starts = [measure.find(".//rehearsal") is not None for measure in measures]
    return starts, bool(measures) and measures[0].get("number") == "0"


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


def _write_foot(page: Element, style: PageStyle, foot: Sequence[str], number: str) -> None:
    """Put the lines at the foot, and the page number below them."""
    group = etree.SubElement(page, f"{_SVG}g", {"class": "foot", "font-family": _TEXT_FONTS,
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
