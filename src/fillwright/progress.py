"""A progress bar for work that takes longer than a second, on a terminal only."""

from __future__ import annotations

import time
from collections.abc import Callable
from types import TracebackType
from typing import TextIO

__all__ = ["Progress"]

_QUIET_SEC = 1.0
_CELLS = 24
_SAID_FROM_SEC = 3.0
_A_MINUTE = 60


class Progress:
    """Draws on one line of `stream`; draws nothing where that is no terminal.

    Used as a context manager, which wipes the line at the end. `clock` gives seconds; `what` is
    counted.
    """

    def __init__(self, stream: TextIO, clock: Callable[[], float] = time.monotonic,
                 what: str = "gap") -> None:
        self._stream = stream
        self._what = what
        self._shown = stream.isatty()
        self._clock = clock
        self._start_sec = clock()
        self._width = 0

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        if self._width:
            self._draw("")
            self._stream.write("\r")
            self._stream.flush()

    def start(self, what: str) -> None:
        """Something else is counted from here on."""
        self._what = what
        self._start_sec = self._clock()

    def update(self, done: int, total: int) -> None:
        """`done` of `total` are ready."""
        filled = _CELLS * done // max(total, 1)
        self._draw(f"[{'#' * filled}{'.' * (_CELLS - filled)}] {self._what} {done} of {total}"
                   + self._left(done, total))

    def _left(self, done: int, total: int) -> str:
        """About how long it takes still, where that is worth saying."""
        passed_sec = self._clock() - self._start_sec
        if not done or done == total or passed_sec < _SAID_FROM_SEC:
            return ""
        left_sec = passed_sec / done * (total - done)
        if left_sec < _A_MINUTE:
            return f", about {max(round(left_sec), 1)} seconds left"
        minutes = round(left_sec / _A_MINUTE)
        return f", about {minutes} minute{'s' * (minutes != 1)} left"

    def stage(self, name: str) -> None:
        """What is being done now, where it cannot be counted; such work is always long."""
        self._draw(f"{name} ...", at_once=True)

    def _draw(self, text: str, at_once: bool = False) -> None:
        early = not self._width and self._clock() - self._start_sec < _QUIET_SEC
        if not self._shown or (early and not at_once):
            return
        self._stream.write("\r" + text.ljust(self._width))
        self._stream.flush()
        self._width = max(self._width, len(text))
