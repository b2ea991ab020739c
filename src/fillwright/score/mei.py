"""What the engraver's own format needs before it is laid out.

Verovio turns MusicXML into MEI; here the MEI is given what MusicXML cannot say or the
conversion leaves out: rows for chord symbols, gap labels and counts (each at one height
along a system, each with room of its own), italics for added chords, a centred title and
line breaks.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from lxml import etree

from fillwright.score.labels import COUNT_ID, FINGER_ID, LABEL_ID, TEMPO_ID, text_width

__all__ = ["Heading", "add_breaks", "choose_breaks", "dress"]

Element = etree._Element
_NS = "http://www.music-encoding.org/ns/mei"
_M = f"{{{_NS}}}"
_ID = "{http://www.w3.org/XML/1998/namespace}id"

_LONG_NAME = 30
_TITLE_PERCENT = 180
_MOST_TITLE_LINES = 3
_CHORD_ROW, _LABEL_ROW, _COUNT_ROW, _TEMPO_ROW = "1", "2", "3", "4"


@dataclass(frozen=True, slots=True)
class Heading:
    """What stands at the top of the first page."""

    title: str = ""
    subtitle: str = ""
    composer: str = ""


def dress(mei: bytes, heading: Heading, room_em: float = 55) -> tuple[Element, dict[str, str]]:
    """The MEI tree, ready for line breaks, and the names of the devices by label id.

    `room_em` is the width of a line in ems of ordinary text: a title must not be longer.
    """
    root = etree.fromstring(mei)
    names: dict[str, str] = {}
    counts = itertools.count()
    for measure in root.iter(f"{_M}measure"):
        _rows(measure, names, counts)
    score_def = next(root.iter(f"{_M}scoreDef"))
    for old in score_def.findall(f"{_M}pgHead") + score_def.findall(f"{_M}pgFoot"):
        score_def.remove(old)
    for place, element in enumerate(_head(heading, room_em)):
        score_def.insert(place, element)
    return root, names


def _rows(measure: Element, names: dict[str, str], counts: Iterator[int]) -> None:
    for harm in measure.findall(f"{_M}harm"):
        harm.set("n", _CHORD_ROW)
        _italicise_added(harm)
        _keep_off_the_next(harm)
    for direction in measure.findall(f"{_M}dir"):
        rends = direction.findall(f"{_M}rend")
        if direction.get("place") == "below":
            direction.tag = f"{_M}harm"
            direction.set("n", _COUNT_ROW)
            direction.set(_ID, f"{COUNT_ID}{next(counts)}")
        elif rends and rends[0].get("rend") == "circle":
            key = f"{LABEL_ID}{rends[0].text}"
            if key in names:
                continue
            direction.tag = f"{_M}harm"
            direction.set("n", _LABEL_ROW)
            direction.set(_ID, key)
            rends[0].set("fontsize", "80%")
            names[key] = _name_on_page(" ".join(rend.text or "" for rend in rends[1:]))
            for rend in rends[1:]:
                direction.remove(rend)
    _stack_fingers(measure)
    _name_fingers(measure, counts)
    for place, tempo in enumerate(measure.findall(f"{_M}tempo")):
        rends = tempo.findall(f"{_M}rend")
        if len(rends) > 1:
            rends[0].tail = "\u00a0\u00a0 " + (rends[0].tail or "").strip()
        _above_chords(tempo, place)


def _above_chords(tempo: Element, place: int) -> None:
    """Tempo words in a row of their own above the chord symbols, as on a lead sheet: the
    engraver would set them between the symbols and the staff."""
    score_def = next(tempo.getroottree().getroot().iter(f"{_M}scoreDef"))
    speed = tempo.get("midi.bpm")
    if speed is not None and score_def.get("midi.bpm") is None:
        score_def.set("midi.bpm", speed)  # for the timemap
    for name in ("midi.bpm", "mm", "mm.unit", "mm.dots"):
        tempo.attrib.pop(name, "")
    tempo.tag = f"{_M}harm"
    tempo.set("n", _TEMPO_ROW)
    tempo.set(_ID, f"{TEMPO_ID}{place}")


def _name_on_page(device: str) -> str:
    """A long name without its rhythm, which the counts below say better.

    >>> _name_on_page("shells, off-beats")
    'shells, off-beats'
    >>> _name_on_page("root, then guide tones in the left hand, one off-beat")
    'root, then guide tones in the left hand'
    """
    idea, _, rhythm = device.rpartition(", ")
    return idea if idea and rhythm and len(device) > _LONG_NAME else device


def _stack_fingers(measure: Element) -> None:
    """Hang all fingers of a chord on one of its notes: each on its own, those of a second
    would stand side by side, in no order."""
    chord_of = {note.get(_ID): chord for chord in measure.iter(f"{_M}chord")
                for note in chord.iter(f"{_M}note")}
    stacks: dict[int, list[Element]] = {}
    for finger in measure.findall(f"{_M}fing"):
        chord = chord_of.get((finger.get("startid") or "").lstrip("#"))
        if chord is not None:
            stacks.setdefault(id(chord), []).append(finger)
    for stack in stacks.values():
        chord = chord_of[(stack[0].get("startid") or "").lstrip("#")]
        # The note on the usual side of the stem: the highest if the stem is down.
        ends = [note.get(_ID) for note in chord.iter(f"{_M}note")]
        anchor = ends[-1] if chord.get("stem.dir") == "down" else ends[0]
        texts = [finger.text for finger in stack]
        if stack[0].get("place") == "below":
            texts.reverse()  # the first of a stack is the nearest to the notes
        for finger, text in zip(stack, texts, strict=True):
            finger.set("startid", f"#{anchor}")
            finger.text = text


def _name_fingers(measure: Element, counts: Iterator[int]) -> None:
    """Say in the id of a finger on which side of which staff it stands."""
    staff_of = {note.get(_ID): staff.get("n") for staff in measure.iter(f"{_M}staff")
                for note in staff.iter(f"{_M}note")}
    for finger in measure.findall(f"{_M}fing"):
        staff = staff_of.get((finger.get("startid") or "").lstrip("#"), "1")
        side = "B" if finger.get("place") == "below" else "A"
        finger.set(_ID, f"{FINGER_ID}{side}{staff}-{next(counts)}")


def _italicise_added(harm: Element) -> None:
    """Chord symbols in square brackets are set in italics."""
    text = harm.text or ""
    if "[" not in text:
        return
    harm.text = ""
    for part in re.findall(r"\[[^\]]*\]|[^\[]+", text):
        if part.startswith("["):
            etree.SubElement(harm, f"{_M}rend", {"fontstyle": "italic"}).text = part
        elif len(harm):
            harm[-1].tail = (harm[-1].tail or "") + part
        else:
            harm.text += part


def _keep_off_the_next(harm: Element) -> None:
    """A space behind a chord symbol: the engraver lets the next one begin right where it ends."""
    if len(harm):
        harm[-1].tail = (harm[-1].tail or "") + "\u00a0"
    else:
        harm.text = (harm.text or "") + "\u00a0"


def _head(heading: Heading, room_em: float) -> list[Element]:
    if not heading.title and not heading.subtitle:
        return []
    head = etree.Element(f"{_M}pgHead", {"func": "first"})
    for place, line in enumerate(title_lines(heading.title, room_em)):
        if place:
            etree.SubElement(head, f"{_M}lb")
        # Bold capitals are wider than the italics that are measured.
        widest = max(text_width(line, 1.25), 1)
        size = max(40, min(_TITLE_PERCENT, int(100 * room_em / widest)))
        title = etree.SubElement(head, f"{_M}rend", {
            "halign": "center", "valign": "top", "fontsize": f"{size}%", "fontweight": "bold"})
        title.text = line
    if heading.subtitle:
        for space in ("40%", ""):
            etree.SubElement(head, f"{_M}lb")
            if space:
                spacer = etree.SubElement(head, f"{_M}rend", {
                    "halign": "center", "valign": "top", "fontsize": space})
                spacer.text = "\u00a0"
        under = etree.SubElement(head, f"{_M}rend", {"halign": "center", "valign": "top",
                                                     "fontsize": "100%"})
        under.text = heading.subtitle
    return [head]


def title_lines(title: str, room_em: float) -> list[str]:
    """A title in as few lines as it needs at two thirds of its size, of about one length."""
    words = title.split()
    whole = text_width(title, 1.25 * _TITLE_PERCENT / 150)
    count = min(len(words), _MOST_TITLE_LINES, max(1, -(-int(whole) // int(room_em))))
    lines: list[str] = []
    for left in range(count, 0, -1):
        share = len(" ".join(words)) / left
        taken = 1
        while len(words) - taken >= left and len(" ".join(words[:taken + 1])) <= share + 3:
            taken += 1
        taken = len(words) if left == 1 else taken
        lines.append(" ".join(words[:taken]))
        words = words[taken:]
    return lines


# --- line breaks ------------------------------------------------------------------------

def choose_breaks(widths: Sequence[float], starts: Sequence[bool], room: float,
                  pickups: Sequence[bool], per_line: int = 4) -> list[int]:
    """Indices of bars that begin a line.

    A line has `per_line` bars, counted from the start of each section and from each pickup, where
    their natural widths fit into `room`; else it is halved. A pickup goes with the line after it,
    as one bar more.
    """
    breaks: list[int] = []
    edges = [index for index, start in enumerate(starts)
             if index and (pickups[index] or (start and not pickups[index - 1]))]
    for low, high in itertools.pairwise([0, *edges, len(widths)]):
        first = low + 1 if pickups[low] and low + 1 < high else low
        place = low
        for end in _line_ends(first, high, per_line):
            breaks += _fit(widths, place, end, room, first if place == low else place)
            place = end
    return [index for index in breaks if index]


def _line_ends(first: int, high: int, per_line: int) -> list[int]:
    """Where lines of a section end; no bar is left alone on the last."""
    ends = list(range(first + per_line, high, per_line))
    if ends and high - ends[-1] == 1:
        ends.pop()
    return [*ends, high]


def _fit(widths: Sequence[float], low: int, high: int, room: float, first: int) -> list[int]:
    """Halve a line until it fits; `first` is the first bar that counts (no pickup)."""
    if high - first <= 1 or sum(widths[low:high]) <= room:
        return [low]
    middle = first + (high - first + 1) // 2
    return (_fit(widths, low, middle, room, first)
            + _fit(widths, middle, high, room, middle))


def add_breaks(root: Element, breaks: Sequence[int]) -> None:
    """Put a system break before each of these bars, and before no other."""
    for section in [*root.iter()]:
        for old in section.findall(f"{_M}sb"):
            section.remove(old)
    wanted = set(breaks)
    for index, measure in enumerate(list(root.iter(f"{_M}measure"))):
        if index in wanted:
            measure.addprevious(etree.Element(f"{_M}sb"))
