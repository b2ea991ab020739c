"""Warnings gathered while a sheet is read: one sentence each, none twice; what is so in several
bars is said once, with the bars in front."""

from __future__ import annotations

from fillwright.tune.limits import MAX_WARNINGS

__all__ = ["Notices"]

_SINGLY = 2
"""A sentence about so many bars is said bar by bar; about more, once."""
_NAMED = 4
"""Of many bars so many are named, the others are counted."""


class Notices:
    """A bounded list of sentences. `bar` is the printed number the reader stands at."""

    def __init__(self) -> None:
        self.bar = ""
        self.count = 0
        self._seen: dict[str, dict[str, None]] = {}
        self._left_out = 0

    def add(self, sentence: str, *, bar: str | None = None) -> None:
        """Note something; the bar is named in front unless `bar` is empty."""
        self.count += 1
        where = self.bar if bar is None else bar
        text = " ".join(sentence.split())
        if text not in self._seen and len(self._seen) >= MAX_WARNINGS:
            self._left_out += 1
            return
        self._seen.setdefault(text, {})[where] = None

    def as_tuple(self) -> tuple[str, ...]:
        last = (f"{self._left_out} more warnings were left out",) if self._left_out else ()
        return (*(line for text, bars in self._seen.items() for line in _lines(text, [*bars])),
                *last)


def _lines(text: str, bars: list[str]) -> list[str]:
    """
    >>> _lines("it is short", ["2"]), _lines("it is short", ["2", "5", "8", "9", "11", "12"])
    (['bar 2: it is short'], ['bars 2, 5, 8, 9 and 2 more, each: it is short'])
    """
    lines = [text] if "" in bars else []
    named = [bar for bar in bars if bar]
    if len(named) <= _SINGLY:
        return [*lines, *(f"bar {bar}: {text}" for bar in named)]
    more = len(named) - _NAMED
    if more > 0:
        where = f"{', '.join(named[:_NAMED])} and {more} more"
    else:
        where = f"{', '.join(named[:-1])} and {named[-1]}"
    return [*lines, f"bars {where}, each: {text}"]
