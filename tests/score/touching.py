"""What touches or nearly touches on an engraved page, counted by kind.

Every two things that are drawn and are not parts of one sign are to have air between them.
Not counted: what belongs together by its nature (a head and its stem, a beam and its stems,
a label and its box, a hand picture), what a staff line or bar line is meant to cross (notes; lines
that go on: slurs, hairpins, octave lines), and slurs and ties where they begin at their notes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from lxml import etree

from fillwright.score import Area, Drawn, drawn_on

NEAR_MM = 0.3
MM = 100
"""Lengths of a page in a millimetre."""
_DEPTH = 0.03 * MM
_NOTE = frozenset({"head", "stem", "beam", "flag", "dots", "accid", "artic", "rest", "tuplet",
                   "tupletBracket", "tupletNum", "tie", "arpeg", "slur"})
_BEND = frozenset({"slur", "tie"})
_ON = _BEND | {"hairpin", "octave", "pedal", "beam", "tupletBracket", "grpSym", "barLine", "staff",
               "system"}
_FRONT = frozenset({"clef", "keyAccid", "meterSig", "grpSym", "system", "barLine", "staff"})
_WORDS = frozenset({"fing", "chord", "gap", "box", "count", "tempo", "reh", "mNum", "dir",
                    "tupletNum", "dynam", "pedal"})
_VOICE = frozenset({"head", "stem", "flag", "dots", "beam"})
"""Two voices on a staff share heads and stand close; only what lies on another counts."""


@dataclass(frozen=True, slots=True)
class Touch:
    """Two kinds, and the distance of their ink in millimetres; 0 where they overlap."""

    kinds: tuple[str, str]
    distance_mm: float
    left: float
    top: float

    @property
    def is_hard(self) -> bool:
        return self.distance_mm <= 0


def touches(page: str) -> list[Touch]:
    """All pairs on a page nearer than `NEAR_MM`."""
    things = sorted(drawn_on(etree.fromstring(page.encode("utf-8"))),
                    key=lambda thing: thing.box.left)
    boxes = [thing.box for thing in things]
    found = []
    far = NEAR_MM * MM
    for index, thing in enumerate(things):
        box = boxes[index]
        for later in range(index + 1, len(things)):
            other = boxes[later]
            if other.left > box.right + far:
                break
            if (other.top > box.bottom + far or box.top > other.bottom + far
                    or not _counts(thing, things[later])):
                continue
            distance = _distance(thing.areas, things[later].areas)
            if distance < far and _is_seen(thing, things[later], distance):
                kinds = sorted((thing.kind, things[later].kind))
                found.append(Touch((kinds[0], kinds[1]), max(0.0, distance) / MM,
                                   max(box.left, other.left), max(box.top, other.top)))
    return found


def _counts(one: Drawn, other: Drawn) -> bool:
    kinds = {one.kind, other.kind}
    if (picture := _picture(one)) is not None and picture is _picture(other):
        return False
    if one.owner == other.owner or one.group is other.group or "ledger" in kinds <= _NOTE | {
            "ledger", "staff", "barLine"}:
        return False
    if "staff" in kinds or "system" in kinds or "grpSym" in kinds:
        return bool(kinds & _WORDS) and kinds != {"staff", "tupletNum"}
    if "barLine" in kinds:
        return not kinds <= _ON
    if kinds <= _FRONT or kinds == {"tupletBracket", "tupletNum"}:
        return False
    return not (kinds & _BEND and kinds <= _NOTE | _BEND | {"ledger"})


def _picture(thing: Drawn) -> etree._Element | None:
    """The hand picture it is a part of."""
    return next((group for group in (thing.group, *thing.group.iterancestors())
                 if group.get("class") == "hand-strip"), None)


def _is_seen(one: Drawn, other: Drawn, distance: float) -> bool:
    """Signs of two notes count where they overlap, words where they are near."""
    return bool({one.kind, other.kind} - _VOICE) or (
        distance < -_DEPTH and one.voice != other.voice and {one.kind, other.kind} != {"head"})


def _distance(some: Iterable[Area], others: tuple[Area, ...]) -> float:
    """Of the ink; below 0 how deep it overlaps."""
    return min(_gap(a, b) for a in some for b in others)


def _gap(one: Area, other: Area) -> float:
    across = max(one.left, other.left) - min(one.right, other.right)
    down = max(one.top, other.top) - min(one.bottom, other.bottom)
    if across > 0 and down > 0:
        return float((across * across + down * down) ** 0.5)
    return max(across, down)


def counted(pages: Iterable[str]) -> Iterator[tuple[str, Counter[str]]]:
    """ "hard" and "near" with their pairs of kinds, over many pages."""
    hard: Counter[str] = Counter()
    near: Counter[str] = Counter()
    for page in pages:
        for touch in touches(page):
            (hard if touch.is_hard else near)[" ".join(touch.kinds)] += 1
    yield "hard", hard
    yield "near", near
