"""Warnings gathered while a sheet is read: one sentence each, none twice."""

from __future__ import annotations

from fillwright.tune.limits import MAX_WARNINGS

__all__ = ["Notices"]


class Notices:
    """A bounded list of sentences. `bar` is the printed number the reader stands at."""

    def __init__(self) -> None:
        self.bar = ""
        self.count = 0
        self._seen: dict[str, None] = {}
        self._left_out = 0

    def add(self, sentence: str, *, bar: str | None = None) -> None:
        """Note something; the bar is named in front unless `bar` is empty."""
        self.count += 1
        where = self.bar if bar is None else bar
        text = " ".join(f"bar {where}: {sentence}".split() if where else sentence.split())
        if text in self._seen:
            return
        if len(self._seen) >= MAX_WARNINGS:
            self._left_out += 1
            return
        self._seen[text] = None

    def as_tuple(self) -> tuple[str, ...]:
        last = (f"{self._left_out} more warnings were left out",) if self._left_out else ()
        return (*self._seen, *last)
