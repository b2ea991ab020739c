"""Chord symbols that an exporter stacks above one note, spread over it as a player would.

Where the symbols stand side by side on paper (`default-x`, `relative-x`) their order and, as
far as the page says how wide the note is, their places follow the print; else they are spread
evenly over the note's beats, the earlier ones longer (two chords in three beats are two and
one, three in four are two, one and one: common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from lxml import etree

from fillwright.exact import Fraction
from fillwright.theory.chord import ChordSymbol
from fillwright.tune.melody import RawNote, Ticks
from fillwright.tune.notices import Notices
from fillwright.tune.signature import NUMBER

__all__ = ["Printed", "spread"]

Chord = tuple[Ticks, ChordSymbol]
Printed = dict[int, etree._Element]
"""The `<harmony>` element of a bar's chords, by the chord's index."""

_BETWEEN = {"harmony", "direction", "print", "sound"}
"""What may stand between two symbols above the same note."""


def spread(chords: Sequence[Chord], printed: Printed, notes: Sequence[RawNote], end: Ticks,
           beat: Ticks, notices: Notices) -> list[Chord]:
    """The chords of a bar with stacks of different symbols at one place resolved.

    end     of the bar's content, in ticks
    beat    the felt beat, in ticks
    """
    result: list[Chord] = []
    index = 0
    while index < len(chords):
        stack = [index]
        while stack[-1] + 1 < len(chords) and _above_one_note(chords, printed, stack[-1]):
            stack.append(stack[-1] + 1)
        index = stack[-1] + 1
        names = [symbol for _, symbol in (chords[i] for i in stack)]
        if len(stack) == 1 or all(name == names[0] for name in names):
            result.extend(chords[i] for i in stack)
            continue
        onset = chords[stack[0]][0]
        stop = min([place for place, _ in chords if place > onset], default=end)
        until = _end_of_note(notes, onset, end)
        room = max(min(max(until, onset + len(stack) * beat), stop, end) - onset, 0)
        if room <= 0:
            result.extend(chords[i] for i in stack)
            continue
        xs = _side_by_side([printed[i] for i in stack])
        if xs is not None:
            stack = [i for _, i in sorted(zip(xs, stack, strict=True))]
            xs = sorted(xs)
        places = _as_printed(printed[stack[0]], xs, room, beat) if xs is not None else None
        if places is None:
            places = _even(len(stack), room, beat)
        moved = [(onset + place, chords[i][1]) for place, i in zip(places, stack, strict=True)]
        result.extend(moved)
        beats = [str(1 + Fraction(place) / beat) for place, _ in moved]
        notices.add(f"chords {_listed([str(symbol) for _, symbol in moved])} stand above one "
                    f"note; they are put on beats {_listed(beats)}")
    return result


def _above_one_note(chords: Sequence[Chord], printed: Printed, index: int) -> bool:
    """Whether a chord and the next one of the list are printed above the same note."""
    if chords[index][0] != chords[index + 1][0]:
        return False
    element, following = printed.get(index), printed.get(index + 1)
    while element is not None and following is not None:
        element = element.getnext()
        if element is following:
            return True
        if element is None or element.tag not in _BETWEEN:
            return False
    return False


def _end_of_note(notes: Sequence[RawNote], onset: Ticks, end: Ticks) -> Ticks:
    """Where the note, or the rest, at a place ends."""
    ends = [note.end for note in notes if note.onset <= onset < note.end]
    return max(ends) if ends else min([n.onset for n in notes if n.onset > onset], default=end)


def _even(count: int, room: Ticks, beat: Ticks) -> list[Ticks]:
    beats = room // beat
    if beats < count:
        return [_tick(Fraction(place) * room / count) for place in range(count)]
    return [-(-place * beats // count) * beat for place in range(count)]


def _tick(value: Fraction) -> Ticks:
    return value.numerator if value.denominator == 1 else value


def _side_by_side(elements: Sequence[etree._Element]) -> list[float] | None:
    """Where symbols stand from left to right, None where that is not told apart."""
    xs = []
    for element in elements:
        found = [element.get(name) for name in ("default-x", "relative-x")]
        numbers = [float(text) for text in found if text is not None and NUMBER.fullmatch(text)]
        if not numbers:
            numbers = [0.0]
        xs.append(sum(numbers))
    return xs if len(set(xs)) == len(xs) else None


def _as_printed(first: etree._Element, xs: Sequence[float], room: Ticks, beat: Ticks
                ) -> list[Ticks] | None:
    """Places on beats by where the symbols stand over their note; None where the page does
    not say how wide the note is, or two of them would fall on one beat."""
    left, right = _edges(first)
    beats = room // beat
    if left is None or right is None or right <= left or first.get("default-x") is None:
        return None
    places = [round((x - left) / (right - left) * beats) for x in xs]
    places = [max(place, 0) for place in places]
    if places[0] != 0 or places[-1] >= beats or any(b <= a for a, b in pairwise(places)):
        return None
    return [place * beat for place in places]


def _edges(harmony: etree._Element) -> tuple[float | None, float | None]:
    """Where the note under a symbol begins and ends on paper."""
    notes = [n for n in harmony.itersiblings("note") if n.find("chord") is None][:2]
    measure = harmony.getparent()
    width = None if measure is None else measure.get("width")
    marks = [n.get("default-x") for n in notes] + ([width] if len(notes) < 2 else [])
    edges = [float(text) if text is not None and NUMBER.fullmatch(text) else None
             for text in marks]
    return (edges[0], edges[1]) if len(edges) == 2 else (None, None)


def _listed(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} and {words[-1]}"
