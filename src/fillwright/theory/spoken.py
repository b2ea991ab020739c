"""Degrees of a chord in words."""

from __future__ import annotations

from types import MappingProxyType

__all__ = ["ordinal", "spoken_degree"]

_ORDINALS = MappingProxyType({
    "1": "root", "2": "second", "3": "third", "4": "fourth", "5": "fifth", "6": "sixth",
    "7": "seventh", "9": "ninth", "11": "eleventh", "13": "thirteenth"})

_NAMED = MappingProxyType({"b3": "minor third", "#5": "raised fifth", "bb7": "diminished seventh",
                           "b7": "seventh", "7": "major seventh"})
"""Degrees that have a name of their own: a chord's seventh is the minor one (common practice)."""


def ordinal(degree: str) -> str:
    """Which tone of a chord a degree is, however it is altered.

    >>> ordinal("b3"), ordinal("7"), ordinal("#11")
    ('third', 'seventh', 'eleventh')
    """
    return _ORDINALS[degree.lstrip("b#")]


def spoken_degree(degree: str | None) -> str:
    """A degree in words: ``"b9"`` is the flat ninth; no degree at all is a tone.

    >>> spoken_degree("b3"), spoken_degree("#11"), spoken_degree("b7"), spoken_degree("7")
    ('minor third', 'sharp eleventh', 'seventh', 'major seventh')
    """
    if degree is None:
        return "tone"
    return _NAMED.get(degree) or {"b": "flat ", "#": "sharp "}.get(degree[0], "") + ordinal(degree)
