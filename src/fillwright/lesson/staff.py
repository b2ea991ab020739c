"""The staves of a pack: the bars around a gap, engraved, cut to what is drawn.

A staff comes as an SVG that is as high as its music, for paper and for a screen alike. Its notes
have the ids ``n<index>``, the index being that in the sheet's notes.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from lxml import etree

from fillwright.exact import Fraction
from fillwright.lesson.task import Sheet
from fillwright.score import drawn_on
from fillwright.score.engraver import Copy, PageStyle, engrave_several
from fillwright.score.lead import draw_brackets
from fillwright.score.mei import Heading
from fillwright.score.musicxml import to_musicxml
from fillwright.tune.model import Gap

__all__ = ["StaffWanted", "engraved"]

Element = etree._Element

_SVG = "{http://www.w3.org/2000/svg}"
_HIGH = 4000
"""Of the page that is cut, in tenths of a millimetre: room for all lines of music."""
_MARGIN, _SIDE = 20, 6
_AIR = 12
"""What is left above and below the music, in tenths of a millimetre."""
_BRACE_AIR = 2
_LINES, _BARS_A_LINE = 20, 4
_BETWEEN = 90
"""Air between two lines of music, in tenths of a millimetre: they are no page to be filled."""
_GREY = "0.08"


@dataclass(frozen=True, slots=True)
class StaffWanted:
    """A staff to be made.

    width, unit   of the page, in tenths of a millimetre; half the distance of two staff lines
    bars          so many to a line, where they fit
    counts        whether they are printed; so are fingers
    """

    sheet: Sheet
    width: int
    unit: float
    bars: int = _BARS_A_LINE
    counts: bool = True
    fingers: bool = True


def engraved(wanted: Sequence[StaffWanted]) -> tuple[str, ...]:
    """An SVG for each. Raises `EngravingError`."""
    done = engrave_several([Copy(_view(one), Heading(), _style(one), foot=()) for one in wanted])
    return tuple(_cut(result.pages[0], one) for result, one in zip(done, wanted, strict=True))


def _style(wanted: StaffWanted) -> PageStyle:
    return PageStyle(width=wanted.width, height=_HIGH, unit=wanted.unit, margin_side=_SIDE,
                     margin_top=_MARGIN, margin_bottom=_MARGIN, systems=_LINES,
                     bars_per_line=wanted.bars, stretch_from=0.0, most=_BETWEEN)


# --- before it is engraved --------------------------------------------------------------------


def _view(wanted: StaffWanted) -> bytes:
    """The sheet without what belongs to a whole page: labels, dynamics, sections, the end."""
    sheet = wanted.sheet
    root = etree.fromstring(to_musicxml(
        sheet.arrangement, fingering="fills" if wanted.fingers else "none", view=True,
        dynamics=False))
    for measure in root.iter("measure"):
        for direction in measure.findall("direction"):
            if _belongs_to_a_page(direction) or (not wanted.counts and _is_count(direction)):
                measure.remove(direction)
        for barline in measure.findall("barline"):
            measure.remove(barline)
    if sheet.is_open:
        _hide_rests(root, sheet.arrangement.gaps)
    for note in root.iter("note"):
        if re.fullmatch(r"n(\d+)(-\d+)?", note.get("id", "")) and _index(note) in sheet.hints:
            _only_rhythm(note)
    return bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8"))


def _belongs_to_a_page(direction: Element) -> bool:
    return any(direction.find(f"direction-type/{sign}") is not None
               for sign in ("words[@enclosure]", "rehearsal", "dynamics", "wedge"))


def _is_count(direction: Element) -> bool:
    return (direction.get("placement") == "below"
            and direction.find("direction-type/words") is not None)


def _hide_rests(root: Element, gaps: Sequence[Gap]) -> None:
    """Print no rests inside the gaps: there is something to be written. A rest that begins
    before and ends behind is left."""
    divisions = int(root.findtext(".//divisions") or 1)
    start = now = 0
    for measure in root.iter("measure"):
        end = now = start
        for element in measure.iter("note", "forward", "backup"):
            ticks = 0 if element.find("chord") is not None else int(
                element.findtext("duration") or 0)
            if element.tag == "backup":
                now -= ticks
                continue
            if element.find("rest") is not None and any(
                    gap.onset_quarter * divisions <= now < gap.end_quarter * divisions
                    for gap in gaps):
                element.set("print-object", "no")
            now += ticks
            end = max(end, now)
        start = end


def _index(note: Element) -> int:
    return int(note.get("id", "n-1").split("-")[0][1:] or -1)


def _only_rhythm(note: Element) -> None:
    """A slash on the middle line: no pitch is meant. In MusicXML the head comes behind the
    stem."""
    for sign in note.findall("accidental"):
        note.remove(sign)
    head = etree.Element("notehead")
    head.text = "slash"
    before = [child for name in ("staff", "beam", "notations") for child in note.findall(name)]
    before[0].addprevious(head)


# --- after ------------------------------------------------------------------------------------


def _cut(page: str, wanted: StaffWanted) -> str:
    """The drawing with its gap bracketed, as high as what is drawn."""
    root = etree.fromstring(page.encode("utf-8"))
    arrangement = wanted.sheet.arrangement
    draw_brackets([root], arrangement.gaps, _names(wanted.sheet, arrangement.gaps))
    _shade(root)
    for title in root.findall(f"{_SVG}desc"):
        root.remove(title)
    for group in list(root.iter(f"{_SVG}g")):
        parent = group.getparent()
        if parent is not None and (group.get("class") or "").startswith("mNum"):
            parent.remove(group)  # a bar's number, from the first one here: not the tune's
    inner = next(child for child in root if child.get("class") == "definition-scale")
    left, top, bottom = _edges(inner)
    for name, value in (("x", 0), ("y", 0), ("width", wanted.width), ("height", _HIGH)):
        inner.set(name, str(value))
    top, bottom = top / 10 + _MARGIN - _AIR, bottom / 10 + _MARGIN + _AIR
    inner.set("overflow", "visible")  # the brace stands before the margin
    left = min(left / 10 + _SIDE - _BRACE_AIR, 0)
    width = wanted.width - left
    root.set("viewBox", f"{left:.0f} {top:.0f} {width:.0f} {bottom - top:.0f}")
    root.set("width", f"{width / 10:.1f}mm")
    root.set("height", f"{(bottom - top) / 10:.1f}mm")
    root.attrib.pop("overflow", "")
    return str(etree.tostring(root, encoding="unicode"))


def _shade(root: Element) -> None:
    """A grey field behind the gap in place of the bracket under it, which on two staves would
    meet what the left hand plays."""
    for mark in root.iter(f"{_SVG}g"):
        if mark.get("class") == "gap-mark":
            for element in list(mark):
                if element.get("class") == "gap-field":
                    element.set("fill", "black")
                    element.set("fill-opacity", _GREY)
                else:
                    mark.remove(element)


def _names(sheet: Sheet, gaps: Sequence[Gap]) -> dict[Fraction, str]:
    """The melody's notes by their onsets. A landing that comes early or late stands for the one
    written there."""
    melody = {note.onset_quarter: f"n{index}" for index, note in enumerate(sheet.arrangement.notes)
              if note.role == "melody"}
    for gap in gaps:
        fill = sheet.arrangement.fill_of(gap.number)
        if fill is not None and fill.shift is not None:
            melody[gap.end_quarter] = melody.get(fill.shift.landing_quarter, "")
    return melody


def _edges(drawing: Element) -> tuple[float, float, float]:
    """From where something is drawn, from above to below where, in the engraver's own lengths."""
    ink = [thing.box for thing in drawn_on(drawing)]
    return min(box.left for box in ink), min(box.top for box in ink), max(box.bottom for box in ink)
