"""The order of parts a sheet states outright, as the P: field of ABC notation does.

ABC 2.1 (abcnotation.com), 3.1.9: a letter calls the part that is marked with it, a number
behind a letter or a pair of parentheses says how often (``A2B``, ``(AB)3C``), dots and spaces
are there for the eye. 4.10: where a part has several endings, each call takes the next one.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from fillwright.errors import InputError
from fillwright.tune.limits import MAX_PLAYED_BARS

__all__ = ["Part", "labels_of", "parse_part_order"]

_TOKEN = re.compile(r"([A-Za-z])|(\()|(\))|(\d{1,4})|([\s.,|-]+)")

Part = tuple[int, int]
"""The first bar of a part and the one behind its last."""


def parse_part_order(text: str) -> tuple[str, ...] | None:
    """Letters in the order they are called; None for a text that is no such order.

    Raises InputError where the repeats call more parts than bars may be played.

    >>> "".join(parse_part_order("A2.(BC)2 A") or ())
    'AABCBCA'
    >>> parse_part_order("(AB") is None
    True
    """
    stack: list[list[str]] = [[]]
    last: list[str] | None = None  # what a number would repeat
    position = 0
    while position < len(text):
        token = _TOKEN.match(text, position)
        if token is None:
            return None
        letter, opening, closing, number, _ = token.groups()
        if letter:
            last = [letter]
            stack[-1] += last
        elif opening:
            stack.append([])
            last = None
        elif closing:
            if len(stack) == 1:
                return None
            last = stack.pop()
            stack[-1] += last
        elif number:
            if last is None or int(number) == 0:
                return None
            if len(stack[-1]) + len(last) * int(number) > MAX_PLAYED_BARS:
                raise InputError("the order of parts calls more of them than the limit of "
                                 f"{MAX_PLAYED_BARS}")
            stack[-1] += last * (int(number) - 1)
            last = None
        position = token.end()
    return tuple(stack[0]) if len(stack) == 1 and stack[0] else None


def labels_of(sections: Sequence[str], order: Sequence[str]) -> dict[str, Part]:
    """Which bars each part of an order has, from the label printed at each bar ("" for none).

    A part lasts until the next label, whether the order calls that one or not; of two with
    the same label the first counts.
    """
    bounds = [index for index, label in enumerate(sections) if label] + [len(sections)]
    parts: dict[str, Part] = {}
    for start, end in pairwise(bounds):
        label = sections[start]
        if label in order and label not in parts:
            parts[label] = (start, end)
    return parts
