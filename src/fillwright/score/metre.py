"""The tree of a bar: bar, halves, beats and what beats divide into.

All places count from the bar line in quarter notes. The groupings are common practice:
4/4 and 2/2 are two halves of two quarters, 3/4 three quarters, 5/4 three and two, 6/8 two
dotted quarters, 5/8 three and two eighths, 7/8 two, two and three.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from fillwright.exact import Fraction
from fillwright.tune.model import Meter

__all__ = ["Node", "bar_tree", "beats_of", "free_tree"]

@dataclass(frozen=True, slots=True)
class Node:
    """A span of a bar.

    parts   the spans it is felt in; () for a beat or less, which `divisions` divides
    """

    start_quarter: Fraction
    length_quarter: Fraction
    parts: tuple[Node, ...] = ()

    @property
    def end_quarter(self) -> Fraction:
        return self.start_quarter + self.length_quarter

    @property
    def is_group(self) -> bool:
        """True above the beat."""
        return bool(self.parts)

    @property
    def divisions(self) -> tuple[Node, ...]:
        """What the span is counted in: its parts, or halves (thirds, fifths) of a beat."""
        if self.parts:
            return self.parts
        count = _smallest_odd_prime(self.length_quarter.numerator) or 2
        size = self.length_quarter / count
        return tuple(Node(self.start_quarter + size * place, size) for place in range(count))

    @property
    def is_even(self) -> bool:
        """True where all parts are equally long."""
        return len({part.length_quarter for part in self.divisions}) == 1

    @property
    def is_compound(self) -> bool:
        """True where the beats inside fall into three."""
        node = self
        while node.parts:
            node = node.parts[0]
        return node.length_quarter.numerator % 3 == 0


def _smallest_odd_prime(number: int) -> int | None:
    for prime in range(3, number + 1, 2):
        if number % prime == 0:
            return prime
    return None


@lru_cache(maxsize=256)
def free_tree(length_quarter: Fraction) -> Node:
    """A span that is felt as one beat of that length (the inside of a tuplet)."""
    return Node(Fraction(0), length_quarter)


@lru_cache(maxsize=256)
def bar_tree(meter: Meter, length_quarter: Fraction | None = None,
             from_end: bool = False) -> Node:
    """The tree of a bar of that meter.

    A bar shorter than its meter is the meter's beginning, or its end where `from_end` is
    set (a pickup: its tree then begins before the bar). What is longer continues with the
    meter once more. So the tree covers the bar, but may be longer.

    >>> [str(part.length_quarter) for part in bar_tree(Meter(5, 4)).parts]
    ['3', '2']
    """
    full = meter.length_quarter
    length = full if length_quarter is None else length_quarter
    whole = _group(Fraction(0), _beats(meter))
    if length <= full:
        return _shift(whole, length - full) if from_end else whole
    count = -(-length // full)
    return Node(Fraction(0), full * count,
                tuple(_shift(whole, full * place) for place in range(count)))


def beats_of(node: Node) -> tuple[Node, ...]:
    """The beats inside, in order.

    >>> len(beats_of(bar_tree(Meter(6, 8))))
    2
    """
    if not node.parts:
        return (node,)
    return tuple(beat for part in node.parts for beat in beats_of(part))


def _beats(meter: Meter) -> list[Fraction]:
    unit = Fraction(4, meter.beat_type)
    count = meter.beats
    if unit >= 1:
        return [Fraction(1)] * int(count * unit)
    per_quarter = int(1 / unit)
    if count % 3 == 0 and not (count == 3 and unit < Fraction(1, 2)):
        return [3 * unit] * (count // 3)
    beats = [unit * per_quarter] * (count // per_quarter)
    left = count % per_quarter
    if left and meter.beat_type == 8 and beats:
        beats[-1] += unit * left
        if count == 5:
            beats.reverse()
    elif left:
        beats.append(unit * left)
    return beats


def _group(start: Fraction, beats: list[Fraction]) -> Node:
    count = len(beats)
    total = sum(beats, Fraction(0))
    if count == 1:
        return Node(start, beats[0])
    if (count <= 3 and len(set(beats)) == 1) or count == 2:
        sizes = [1] * count
    elif count == 3:
        sizes = [2, 1]
    elif count == 5:
        sizes = [3, 2]
    elif count % 3 == 0 and count % 4:
        sizes = [3] * (count // 3)
    elif count == 4:
        sizes = [2, 2]
    else:
        sizes = [4] * (count // 4) + ([count % 4] if count % 4 else [])
    parts: list[Node] = []
    place, index = start, 0
    for size in sizes:
        part = _group(place, beats[index:index + size])
        parts.append(part)
        place, index = part.end_quarter, index + size
    return Node(start, total, tuple(parts))


def _shift(node: Node, by_quarter: Fraction) -> Node:
    return Node(node.start_quarter + by_quarter, node.length_quarter,
                tuple(_shift(part, by_quarter) for part in node.parts))
