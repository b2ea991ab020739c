"""Words and signs set anew around the notes the engraver has placed, so that nothing touches.

The engraver puts fingers on stems, and rows of words where there is no room for them. Here
each line of music is gone through from the notes outwards: fingers in a column beyond the
stems, with the slurs led around them; dynamics between the staves; then one row of chord symbols
above all that, section letters beside it, labels of gaps in the next row, the tempo in it at the
left; counts in one row below. What is set is an obstacle to what follows.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from lxml import etree

from fillwright.score.ink import around, drawn_on
from fillwright.score.labels import FINGER_ID, GAP_EM, LINE_SHARE, boxes_of, wrap, write_words
from fillwright.score.moving import cut, flatten, shift
from fillwright.score.obstacles import Area, Sky
from fillwright.score.slurs import lead_around

__all__ = ["Extent", "place_line"]

Element = etree._Element
_SVG = "{http://www.w3.org/2000/svg}"

_FINGER = re.compile(rf"{FINGER_ID}([AB])(\d)")

# Lengths of the page: a hundred to a millimetre.
_USUAL_LABEL = 270
"""Size of a label on a page of the usual size; steps and rows grow with it."""
_AIR = 42
_ROW_AIR = 130
_ABOVE_FINGERS = 70
"""No finger of a line stands in its row of chord symbols."""
_CHORD_BESIDE = 40
"""With the air of its row more than a space of the staff: a tenuto beside a symbol reads as a dash
of it."""
_LABEL_AIR = 75
_COUNT_AIR = 110
_BELOW_FINGERS = 145
"""From the lowest finger of a line to its counts, much more than from finger to finger: a count
right under a column of fingers reads as one more of them."""
_FINGER_AIR = 60
_ARTIC_AIR = 40
"""And so much more around a tenuto, which would underline a figure."""
_SQUEEZED = ((0, _FINGER_AIR), (0, 35), (-40, 35), (40, 35))
"""How far aside, and with how much air, a column of fingers may stand between the staves: the first
that has room there."""
_NOT_THEIRS, _ASIDE_THEM = 130, 90
"""So far from what the other hand has: nearer to its notes they would be read as its fingers."""
_FINGER_STEP = 222
_SAME_COLUMN = 60
_OFF_STAFF = 60
_ROW_OFF_STAFF = 150
_LABEL_STEP = 375
_COUNT_BESIDE = 110
_COUNT_OFF_STAFF = 330
_NUDGES = [75, *(75 + sign * step for step in range(25, 500, 25) for sign in (1, -1))]
_ASIDE = [sign * step for step in range(100, 900, 100) for sign in (-1, 1)]
_NUDGED = ("dynam", "hairpin")
_SHORTEST_HAIRPIN, _LONGEST_HAIRPIN = 500, 6000
"""A longer one reads as two level lines: it is drawn where it is most open, no longer than this."""
_ONE_ROW = 300
_LESS_OPEN = 0.6
"""Of its opening; what opens less reads as a line."""
_LOOSE = frozenset({"fing", "chord", "gap", "box", "count", "tempo", "reh", "mNum", "dir",
                    "pedal", "octave", *_NUDGED})
_LINES = frozenset({"staff", "system", "grpSym"})


@dataclass(frozen=True, slots=True)
class Extent:
    """A line of music: its group, what its ink reaches, the top line of its first staff and the
    lowest of its last."""

    group: Element
    top: float
    bottom: float
    staff_top: float
    staff_bottom: float


def place_line(system: Element, names: Mapping[str, str], size: float, right_edge: float
               ) -> Extent:
    """Set all words and signs of one line of music.

    names        devices by the id of their label
    size         of a label
    right_edge   where the line ends
    """
    things = list(drawn_on(system))
    bands = _bands(system)
    fixed = [thing for thing in things if thing.kind not in _LOOSE | _LINES]
    scale = size / _USUAL_LABEL
    sky = Sky(area.widened(scale * _ARTIC_AIR) if thing.kind == "artic" else area
              for thing in fixed if thing.kind != "slur" for area in thing.areas)
    sky.add(bands)
    loose: dict[str, dict[int, Element]] = {}
    for thing in things:
        if thing.kind in _LOOSE:
            kind = "gap" if thing.kind == "box" else thing.kind
            loose.setdefault(kind, {})[id(thing.group)] = thing.group
    of = {kind: [*groups.values()] for kind, groups in loose.items()}
    _fingers(of.get("fing", []), bands, sky, scale * _FINGER_STEP)
    fingers = [area for group in of.get("fing", []) for area in _ink(group)]
    slurs = [*{id(thing.group): thing.group for thing in fixed if thing.kind == "slur"}.values()]
    for slur in slurs:
        lead_around(slur, fingers)
        sky.add(_ink(slur))
    for pedal in of.get("pedal", []):
        _fall([pedal], sky)
    for octave in of.get("octave", []):
        _rise([octave], sky)
    plain = Sky(area for thing in fixed if thing.kind not in ("barLine", "slur")
                for area in thing.areas)
    plain.add([*bands, *(a for group in itertools.chain(
        slurs, *(of.get(kind, []) for kind in ("fing", "pedal", "octave"))) for a in _ink(group))])
    _levels(of.get("dynam", []), of.get("hairpin", []), sky, plain)
    if bands:
        _above(of, names, size, right_edge, bands[0], sky)
        lowest = max((area.bottom for area in fingers), default=bands[-1].bottom)
        _counts(of.get("count", []), bands[-1].bottom + scale * _COUNT_OFF_STAFF,
                lowest + scale * _BELOW_FINGERS, sky)
    ink = around([area for thing in drawn_on(system) for area in thing.areas])
    return Extent(system, ink.top, ink.bottom, bands[0].top if bands else ink.top,
                  bands[-1].bottom if bands else ink.bottom)


def _bands(system: Element) -> list[Area]:
    """The staves, from their first line to the last."""
    found: list[list[Area]] = []
    for measure in system.iter(f"{_SVG}g"):
        if measure.get("class") != "measure":
            continue
        staves = [staff for staff in measure if (staff.get("class") or "").split()[:1] == ["staff"]]
        for number, staff in enumerate(staves):
            lines = [[float(n) for n in re.findall(r"-?\d+", path.get("d", ""))]
                     for path in staff.findall(f"{_SVG}path")]
            if lines:
                found += [[] for _ in range(number + 1 - len(found))]
                found[number].append(Area(min(n[0] for n in lines), min(n[1] for n in lines),
                                          max(n[2] for n in lines), max(n[3] for n in lines)))
    return [around(staves) for staves in found if staves]


def _ink(group: Element) -> list[Area]:
    return [area for thing in drawn_on(group) for area in thing.areas]


def _rise(groups: Sequence[Element], sky: Sky, air: float = _AIR, beside: float = 0) -> None:
    """Raise together until all are clear; then they are in the way of others."""
    by = sky.rise(_wide(groups, beside), air)
    for group in groups:
        shift(group, 0, -by)
    sky.add(area for group in groups for area in _ink(group))


def _fall(groups: Sequence[Element], sky: Sky, air: float = _AIR, beside: float = 0) -> None:
    by = sky.fall(_wide(groups, beside), air)
    for group in groups:
        shift(group, 0, by)
    sky.add(area for group in groups for area in _ink(group))


def _wide(groups: Sequence[Element], beside: float) -> list[Area]:
    return [Area(a.left - beside, a.top, a.right + beside, a.bottom)
            for group in groups for a in _ink(group)]


def _levels(dynamics: Sequence[Element], hairpins: Sequence[Element], sky: Sky, plain: Sky
            ) -> None:
    """Levels and hairpins between the staves; those that follow closely on one another stand on
    one line. A hairpin may cross bar lines, which `plain` has not."""
    for pin in hairpins:
        _curtail(pin)
    kinds = {id(group): plain for group in hairpins} | {id(group): sky for group in dynamics}
    for row in _rows([*dynamics, *hairpins]):
        if not _in_a_row(row, kinds):
            for group in sorted(row, key=lambda one: kinds[id(one)] is plain):
                _nudge(group, kinds[id(group)])
                plain.add(_ink(group))
                sky.add(_ink(group))
        plain.add(area for group in row for area in _ink(group))
        sky.add(area for group in row for area in _ink(group))


def _curtail(hairpin: Element) -> None:
    ink = _ink(hairpin)
    box = around(ink) if ink else None
    if box is None or box.right - box.left <= _LONGEST_HAIRPIN:
        return
    opened = [around([area for area in ink if area.left <= edge <= area.right])
              for edge in (box.left + _AIR, box.right - _AIR)]
    if opened[0].bottom - opened[0].top > opened[1].bottom - opened[1].top:
        cut(hairpin, box.left, box.left + _LONGEST_HAIRPIN)
    else:
        cut(hairpin, box.right - _LONGEST_HAIRPIN, box.right)


def _rows(groups: Sequence[Element]) -> list[list[Element]]:
    """Those with little air between them, from left to right."""
    rows: list[list[Element]] = []
    for _, group in sorted(((around(ink).left, group) for group in groups if (ink := _ink(group))),
                           key=lambda pair: pair[0]):
        if rows and (around(_ink(group)).left - around(_ink(rows[-1][-1])).right < _ONE_ROW):
            rows[-1].append(group)
        else:
            rows.append([group])
    return rows


def _in_a_row(row: Sequence[Element], skies: Mapping[int, Sky]) -> bool:
    """Set more than one at the height that is nearest and clear for all; whether there is one."""
    if len(row) < 2 or not _part(row):
        return False
    inks = [_ink(group) for group in row]
    middles = [(around(ink).top + around(ink).bottom) / 2 for ink in inks]
    for by in _NUDGES:
        down = [middles[0] + by - middle for middle in middles]
        if not any(skies[id(group)].meets([area.raised(-way) for area in ink], _AIR)
                   for group, ink, way in zip(row, inks, down, strict=True)):
            for group, way in zip(row, down, strict=True):
                shift(group, 0, way)
            return True
    return False


def _part(row: Sequence[Element]) -> bool:
    """Make air between hairpins and what they meet; whether enough is left of each."""
    inks = [around(_ink(group)) for group in row]
    lefts, rights = [ink.left for ink in inks], [ink.right for ink in inks]
    pins = [group.get("class") == "hairpin" for group in row]
    for place, (one, other) in enumerate(itertools.pairwise(inks)):
        near = 2 * _AIR - (other.left - one.right)
        if near > 0 and (count := pins[place] + pins[place + 1]):
            rights[place] -= near / count if pins[place] else 0
            lefts[place + 1] += near / count if pins[place + 1] else 0
    if any(pin and right - left < _SHORTEST_HAIRPIN
           for pin, left, right in zip(pins, lefts, rights, strict=True)):
        return False
    for group, pin, left, right in zip(row, pins, lefts, rights, strict=True):
        if pin:
            cut(group, left, right)
    return True


def _nudge(group: Element, sky: Sky) -> None:
    """Move a little up or down until clear; a level goes aside, first to the left, where it is
    read before its note; a hairpin that finds no room opens a little less, then it is shorter."""
    if _up_or_down(group, sky):
        return
    if flatten(group, _LESS_OPEN):
        if not _up_or_down(group, sky):
            _shorten(group, sky)
        return
    ink = _ink(group)
    for aside, by in ((aside, by) for aside in _ASIDE for by in _NUDGES):
        if not sky.meets([area.moved(aside, by) for area in ink], _AIR):
            shift(group, aside, by)
            return


def _up_or_down(group: Element, sky: Sky) -> bool:
    """Move to the nearest height that is clear; whether there is one."""
    ink = _ink(group)
    for by in _NUDGES:
        if not sky.meets([area.raised(-by) for area in ink], _AIR):
            shift(group, 0, by)
            return True
    return False


def _shorten(hairpin: Element, sky: Sky) -> None:
    """Leave of a hairpin the longest part that is clear, at the height where that is longest;
    none of it where nothing is left that can be read."""
    ink = _ink(hairpin)
    left, right, best = 0.0, 0.0, 0
    for by in _NUDGES:
        for start, end in _clear_parts([area.raised(-by) for area in ink], sky):
            if end - start > right - left:
                left, right, best = start, end, by
    if right - left < _SHORTEST_HAIRPIN:
        for line in [*hairpin]:
            hairpin.remove(line)
        return
    cut(hairpin, left, right)
    shift(hairpin, 0, best)


def _clear_parts(ink: Sequence[Area], sky: Sky) -> Iterator[tuple[float, float]]:
    """From where to where a hairpin has air, with what lies between its lines."""
    slices: dict[int, list[Area]] = {}
    for area in ink:
        slices.setdefault(int(area.left + area.right), []).append(area)
    run: list[Area] = []
    for _, pair in sorted(slices.items()):
        whole = around(pair)
        if not sky.meets([whole], _AIR):
            run.append(whole)
        elif run:
            yield run[0].left, run[-1].right
            run = []
    if run:
        yield run[0].left, run[-1].right


# --- fingers ----------------------------------------------------------------------------


_Columns = dict[tuple[str, int], list[list[Element]]]
"""Fingers by side ("A" above, "B" below) and staff."""


def _fingers(groups: Sequence[Element], bands: Sequence[Area], sky: Sky, step: float) -> None:
    """Fingers of one stroke in a column over (or under) its notes, the nearest ones first; on the
    other side of their staff where they would have to go on to the other hand's, or come nearer to
    its notes than to their own. Those from between the staves then stand in one column with what
    is on the other side of the same notes."""
    columns: _Columns = {}
    for group in sorted(groups, key=_x):
        named = _FINGER.match(group.get("id", ""))
        if named is not None and int(named[2]) <= len(bands):
            _join([group], columns.setdefault((named[1], int(named[2])), []))
    last = len(bands)
    inner = [*(("B", staff) for staff in range(1, last)),
             *(("A", staff) for staff in range(2, last + 1))]
    for side, staff in inner:
        other = bands[staff if side == "B" else staff - 2]
        for column in columns.get((side, staff), []):
            _stack(column, side, bands[staff - 1], step)
            room = _between([area for group in column for area in _ink(group)], sky, side,
                            other.top if side == "B" else other.bottom)
            if room is None:
                _join(column, columns.setdefault(("A" if side == "B" else "B", staff), []))
                continue
            for group in column:
                shift(group, room[0], 0)
            (_fall if side == "B" else _rise)(column, sky, room[1])
    for side, staff in [("B", last), ("A", 1)]:
        for column in columns.get((side, staff), []):
            _stack(column, side, bands[staff - 1], step)
            (_fall if side == "B" else _rise)(column, sky, _FINGER_AIR)


def _between(areas: Sequence[Area], sky: Sky, side: str, edge: float
             ) -> tuple[float, float] | None:
    """How far aside fingers go, and with how much air, so that they stand between the staves, clear
    of the other hand's notes; None where there is no room for them.

    side   of their own staff, "A" above it, "B" below
    edge   of the other staff
    """
    least = 0.0
    for aside, air in _SQUEEZED:
        moved = [area.moved(aside, 0) for area in areas]
        down = sky.fall(moved, air) if side == "B" else -sky.rise(moved, air)
        least = max(least, abs(down) - _OFF_STAFF)
        if abs(down) < least:       # beside a stem, not beyond it
            continue
        there = around([area.moved(0, down) for area in moved])
        if side == "B":
            is_off, ahead = there.bottom <= edge, there.bottom
        else:
            is_off, ahead = there.top >= edge, there.top - _NOT_THEIRS
        theirs = Area(there.left - _ASIDE_THEM, ahead, there.right + _ASIDE_THEM,
                      ahead + _NOT_THEIRS)
        if is_off and not sky.meets([theirs], 0):
            return aside, air
    return None


def _join(column: list[Element], row: list[list[Element]]) -> None:
    """Put fingers with those of the same stroke, if there are any."""
    for other in row:
        if abs(_x(column[0]) - _x(other[0])) < _SAME_COLUMN:
            other.extend(column)
            return
    row.append(column)


def _stack(column: list[Element], side: str, band: Area, step: float) -> None:
    """The fingers of a stroke right over (or under) their staff, in the order they have."""
    for group in column:
        shift(group, _x(column[0]) - _x(group), 0)
    column.sort(key=_y, reverse=side == "A")
    for place, group in enumerate(column):
        ink = around(_ink(group))
        shift(group, 0, band.top - _OFF_STAFF - place * step - ink.bottom if side == "A"
              else band.bottom + _OFF_STAFF + place * step - ink.top)


def _text(group: Element) -> Element:
    return next(group.iter(f"{_SVG}text"))


def _x(group: Element) -> float:
    return float(_text(group).get("x", "0"))


def _y(group: Element) -> float:
    return float(_text(group).get("y", "0"))


# --- rows -------------------------------------------------------------------------------


def _above(of: Mapping[str, list[Element]], names: Mapping[str, str], size: float,
           right_edge: float, band: Area, sky: Sky) -> None:
    scale = size / _USUAL_LABEL
    row = band.top - scale * _ROW_OFF_STAFF
    chords = of.get("chord", [])
    for chord in chords:
        shift(chord, 0, row - _y(chord))
    if chords:
        highest = min((area.top for group in of.get("fing", []) for area in _ink(group)),
                      default=row)
        for chord in chords:
            shift(chord, 0, min(0.0, highest - scale * _ABOVE_FINGERS - row))
        _rise(chords, sky, _ROW_AIR, _CHORD_BESIDE)
        row = _y(chords[0])
    for letter in of.get("reh", []):
        _letter(letter, chords, row, sky)
    for words in of.get("dir", []):
        _rise([words], sky)
    level = row - (scale * _LABEL_STEP if chords else 0)
    level -= _Labels(of.get("gap", []), names, size, right_edge).place(level, sky)
    for tempo in of.get("tempo", []):
        shift(tempo, band.left - _x(tempo), level - _y(tempo))
        _rise([tempo], sky, _ROW_AIR)
    for number in of.get("mNum", []):
        _rise([number], sky)


def _letter(letter: Element, chords: Sequence[Element], row: float, sky: Sky) -> None:
    """A section letter in the row of the chord symbols, to the left of the one it meets."""
    shift(letter, 0, row - _y(letter))
    box = around(_ink(letter))
    for chord in chords:
        ink = around(_ink(chord))
        if ink.left - 2 * _AIR < box.right and box.left < ink.right:
            shift(letter, ink.left - 2 * _AIR - box.right, 0)
            break
    _rise([letter], sky)


class _Labels:
    """Labels of one line: those that fit beside their neighbours stand in one row, what would
    need more than two lines above the others, where the whole line is free."""

    def __init__(self, groups: Sequence[Element], names: Mapping[str, str], size: float,
                 right_edge: float) -> None:
        self.names, self.size, self.right_edge = names, size, right_edge
        self.groups = sorted(groups, key=_x)

    def place(self, level: float, sky: Sky) -> float:
        """Set them from this height upwards; how much higher their lowest row is."""
        for group in self.groups:
            shift(group, 0, level - _y(group))
        boxes = {box.key: box for box in boxes_of(self.groups, self.right_edge, self.size)}
        high, low = [], []
        for group in self.groups:
            box = boxes.get(group.get("id", ""))
            name = self.names.get(group.get("id", ""), "")
            lines = wrap(name, box.room if box else 0, self.size)
            if box is not None and lines is None:
                high.append(group)
                continue
            self._write(group, lines or [])
            low.append(group)
        row = self._in_rows(low, sky)
        for group in high:
            box = boxes[group.get("id", "")]
            lines = wrap(self.names[box.key], self.right_edge - box.right - self.size, self.size,
                         force=True)
            self._write(group, lines or [])
            _rise([group], sky, _LABEL_AIR)
        return row

    def _in_rows(self, groups: Sequence[Element], sky: Sky) -> float:
        """Raise each until it is clear; those that come to stand less than a row apart stand in
        one row, as high as the highest of them. How high the lowest row is."""
        wanted = [(sky.rise(_ink(group), _LABEL_AIR), group) for group in groups]
        step = self.size / _USUAL_LABEL * _LABEL_STEP
        row = 0.0
        for by, group in sorted(wanted, key=lambda pair: -pair[0]):
            row = by if row - by >= step else max(row, by)
            shift(group, 0, -row)
            _rise([group], sky, _LABEL_AIR)
        return row

    def _write(self, group: Element, lines: Sequence[str]) -> None:
        """The name beside its box; more than one line grows upwards, the box with it. What would go
        beyond the edge stands as much further left."""
        box = around(_ink(group))
        step = LINE_SHARE * self.size
        shift(group, 0, -(len(lines) - 1) * step if lines else 0)
        for place, line in enumerate(lines):
            text = etree.SubElement(group, f"{_SVG}text", {
                "x": f"{box.right + GAP_EM * self.size:.0f}",
                "y": f"{_y(group) + place * step:.0f}",
                "font-size": f"{self.size:.0f}px", "font-style": "italic"})
            write_words(text, line, self.size)
        shift(group, min(0.0, self.right_edge - around(_ink(group)).right), 0)


def _counts(groups: Sequence[Element], row: float, below: float, sky: Sky) -> None:
    """One row, its line of writing no higher than `row`, its ink nowhere above `below`."""
    for group in groups:
        shift(group, 0, row - _y(group))
    highest = min((area.top for group in groups for area in _ink(group)), default=below)
    for group in groups:
        shift(group, 0, max(0.0, below - highest))
    if groups:
        _fall(groups, sky, _COUNT_AIR, _COUNT_BESIDE)
