"""Written rhythm: how lengths in exact quarter notes become note values, ties and tuplets.

A voice of one bar is a row of spans that touch each other (notes and rests). `write_bar`
turns each span into one or more pieces, each a note value with at most one dot, possibly
in a tuplet. The rules are common practice:

- a piece never hides the middle of a bar of 4/4, nor the border of two groups of unequal
  length, nor a beat of 6/8, 9/8, 12/8 it does not fill;
- a note that starts a group may be dotted (a dotted half, a dotted quarter); a quarter on
  the off-beat inside a half bar stays whole; every other note that leaves its beat is tied;
- rests are never syncopated, and dotted only in compound meters;
- tuplets stay inside their half bar, their beat or half of their beat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import lcm

from fillwright.exact import Fraction
from fillwright.score.metre import Node, free_tree

__all__ = ["NOTE_TYPES", "Piece", "Tuplet", "VoiceEvent", "note_value", "write_bar"]

NOTE_TYPES: tuple[tuple[Fraction, str], ...] = tuple(
    (Fraction(size), name) for size, name in (
        ("8", "breve"), ("4", "whole"), ("2", "half"), ("1", "quarter"), ("1/2", "eighth"),
        ("1/4", "16th"), ("1/8", "32nd"), ("1/16", "64th"), ("1/32", "128th"),
        ("1/64", "256th"), ("1/128", "512th"), ("1/256", "1024th")))
_TYPE_OF = dict(NOTE_TYPES)
_SHORTEST = NOTE_TYPES[-1][0]
_LONGEST_TUPLET_QUARTER = 4


@dataclass(frozen=True, slots=True)
class VoiceEvent:
    """A note or a rest of one voice, cut to its bar; places count from the bar line."""

    start_quarter: Fraction
    end_quarter: Fraction
    is_rest: bool = False


@dataclass(frozen=True, slots=True)
class Tuplet:
    """So many notes in the time of so many, over a span of the bar."""

    start_quarter: Fraction
    length_quarter: Fraction
    actual: int
    normal: int

    @property
    def end_quarter(self) -> Fraction:
        return self.start_quarter + self.length_quarter


@dataclass(frozen=True, slots=True)
class Piece:
    """One written note value of a span. `duration_quarter` is what it lasts."""

    start_quarter: Fraction
    duration_quarter: Fraction
    note_type: str
    dots: int
    tuplet: Tuplet | None = None

    @property
    def end_quarter(self) -> Fraction:
        return self.start_quarter + self.duration_quarter

    @property
    def flags(self) -> int:
        """How many flags or beams the value has."""
        names = [name for _, name in NOTE_TYPES]
        return max(0, names.index(self.note_type) - names.index("quarter"))


def note_value(length_quarter: Fraction) -> tuple[str, int] | None:
    """Type and dots of a length, with at most one dot; None where it needs a tie.

    >>> note_value(Fraction(3, 2)), note_value(Fraction(5, 4))
    (('quarter', 1), None)
    """
    if length_quarter in _TYPE_OF:
        return _TYPE_OF[length_quarter], 0
    undotted = length_quarter * 2 / 3
    if undotted in _TYPE_OF and undotted < 8 and undotted > _SHORTEST:
        return _TYPE_OF[undotted], 1
    return None


def write_bar(tree: Node, spans: Sequence[VoiceEvent]) -> list[list[Piece]]:
    """The pieces of each span. Raises ValueError where spans overlap or leave the bar."""
    place = tree.start_quarter
    for span in spans:
        if span.start_quarter < place or span.end_quarter <= span.start_quarter:
            raise ValueError("spans overlap or are empty")
        place = span.end_quarter
    if place > tree.end_quarter:
        raise ValueError("a span leaves its bar")
    points = sorted({span.start_quarter for span in spans}
                    | {span.end_quarter for span in spans})
    tuplets = _find_tuplets(tree, points)
    return [_pieces_of(tree, span, tuplets) for span in spans]


def _pieces_of(tree: Node, span: VoiceEvent, tuplets: Sequence[Tuplet]) -> list[Piece]:
    pieces: list[Piece] = []
    place = span.start_quarter
    while place < span.end_quarter:
        inside = next((t for t in tuplets if t.start_quarter <= place < t.end_quarter), None)
        if inside is None:
            following = [t.start_quarter for t in tuplets if t.start_quarter > place]
            end = min([span.end_quarter, *following])
            parts = _split(tree, place, end, span.is_rest)
            pieces += [_piece(low, high - low, high - low, None) for low, high in parts]
        else:
            end = min(span.end_quarter, inside.end_quarter)
            stretch = Fraction(inside.actual, inside.normal)
            inner = free_tree(inside.length_quarter * stretch)
            parts = _split(inner, (place - inside.start_quarter) * stretch,
                           (end - inside.start_quarter) * stretch, span.is_rest)
            pieces += [_piece(inside.start_quarter + low / stretch, (high - low) / stretch,
                              high - low, inside) for low, high in parts]
        place = end
    return pieces


def _piece(start: Fraction, duration: Fraction, nominal: Fraction,
           tuplet: Tuplet | None) -> Piece:
    value = note_value(nominal)
    if value is None:
        raise ValueError(f"not a note value: {nominal} quarters")
    return Piece(start, duration, value[0], value[1], tuplet)


# --- ties -------------------------------------------------------------------------------

def _split(node: Node, start: Fraction, end: Fraction,
           is_rest: bool) -> list[tuple[Fraction, Fraction]]:
    """Cut a span into lengths that are note values and leave the beats to be seen."""
    while True:
        if (end - start) < _SHORTEST:
            raise ValueError("shorter than any note value")
        if (start, end) == (node.start_quarter, node.end_quarter):
            break
        inside = next((part for part in node.divisions
                       if part.start_quarter <= start and end <= part.end_quarter), None)
        if inside is None:
            break
        node = inside
    if note_value(end - start) is not None and _may_stand(node, start, end, is_rest):
        return [(start, end)]
    borders = [part.start_quarter for part in node.divisions]
    between = [border for border in borders if start < border < end]
    cut = between[-1] if start in borders else between[0]
    return (_split(node, start, cut, is_rest) + _split(node, cut, end, is_rest))


def _may_stand(node: Node, start: Fraction, end: Fraction, is_rest: bool) -> bool:
    """Whether a span that crosses a border inside `node` (or fills it) may be one value."""
    divisions = node.divisions
    borders = {part.start_quarter for part in divisions} | {node.end_quarter}
    length = end - start
    fills = (start, end) == (node.start_quarter, node.end_quarter)
    dotted = length.numerator == 3
    if is_rest:
        if dotted:
            return fills and node.is_compound
        if fills:
            return True
        # a rest that begins a beat of three may be as long as two of them
        return not node.is_group and start == node.start_quarter and end in borders
    if fills:
        return True
    if not node.is_group:
        if len(divisions) == 2:
            return True
        return start in borders or end in borders
    if not node.is_even:
        return False
    if node.is_compound:
        return start in borders and end in borders
    if start in borders:
        return True
    part = divisions[0]
    return (not part.is_group and length == part.length_quarter
            and (start - node.start_quarter) % part.length_quarter == part.length_quarter / 2)


# --- tuplets ----------------------------------------------------------------------------

def _find_tuplets(node: Node, points: Sequence[Fraction]) -> list[Tuplet]:
    inner = [point for point in points if node.start_quarter < point < node.end_quarter]
    if all(_is_plain(node, point) for point in inner):
        return []
    length = node.length_quarter
    third = length / 3
    if (_is_power_of_two(length) and length <= _LONGEST_TUPLET_QUARTER
            and all((point - node.start_quarter) % third == 0 for point in inner)
            and (not node.is_group or (node.start_quarter + 2 * third in inner
                 and node.start_quarter + third in inner))):
        return [Tuplet(node.start_quarter, length, 3, 2)]
    divisions = node.divisions
    if node.is_group:
        pair = _pair_of_beats(node, inner)
        if pair is not None:
            divisions = tuple(part for part in divisions
                              if part.end_quarter <= pair.start_quarter
                              or part.start_quarter >= pair.end_quarter)
        found = [tuplet for part in divisions for tuplet in _find_tuplets(part, points)]
        return sorted(found + ([] if pair is None else [pair]),
                      key=lambda tuplet: tuplet.start_quarter)
    # Inside a beat a part may have its own tuplet only if nothing crosses its border.
    borders = [part.start_quarter for part in divisions[1:]]
    if length > Fraction(1, 8) and all(border in inner or _is_free(divisions, place, inner)
                                       for place, border in enumerate(borders)):
        found = [tuplet for part in divisions for tuplet in _find_tuplets(part, points)]
        if all(tuplet.actual == 3 for tuplet in found):
            return found
    return [_whole_tuplet(node, inner)]


def _pair_of_beats(node: Node, inner: Sequence[Fraction]) -> Tuplet | None:
    """Three notes over two neighbouring beats of a group of three."""
    if len(node.divisions) != 3 or node.divisions[0].is_group or not node.is_even:
        return None
    length = 2 * node.divisions[0].length_quarter
    for part in node.divisions[:2]:
        start = part.start_quarter
        within = {point - start for point in inner if start < point < start + length}
        if _is_power_of_two(length) and within == {length / 3, 2 * length / 3}:
            return Tuplet(start, length, 3, 2)
    return None


def _is_free(divisions: Sequence[Node], place: int, inner: Sequence[Fraction]) -> bool:
    """Whether both sides of a border are plain, so that crossing it does no harm."""
    return all(_is_plain(part, point) for part in divisions[place:place + 2]
               for point in inner if part.start_quarter < point < part.end_quarter)


def _whole_tuplet(node: Node, inner: Sequence[Fraction]) -> Tuplet:
    length = node.length_quarter
    fine = lcm(*(((point - node.start_quarter) / length).denominator for point in inner))
    odd = fine
    while odd % 2 == 0:
        odd //= 2
    normal = length.numerator
    while normal > 1 and normal % 2 == 0:
        normal //= 2
    while normal * 2 < odd:
        normal *= 2
    actual = odd
    if actual <= normal:
        actual *= 2 * normal // actual
    if actual == 3 and fine % 2 == 0:
        actual, normal = 6, 4
    return Tuplet(node.start_quarter, length, actual, normal)


def _is_plain(node: Node, point: Fraction) -> bool:
    """Whether a place is reached by halving the beats of the node."""
    denominator = (point - node.start_quarter).denominator
    return _is_power_of_two(Fraction(denominator)) and denominator <= 256


def _is_power_of_two(number: Fraction) -> bool:
    value = number.numerator * number.denominator
    return 1 in (number.numerator, number.denominator) and value & (value - 1) == 0
