"""A recording in pieces that are heard each by itself, and what was heard in them as one.

The pieces overlap. Each answers for what begins in its own part; the overlap lets it hear what came
before and how long a key is held. So they can be heard in any order, by several processes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fillwright.take.recording.model import HeardKey

__all__ = ["Window", "joined", "windows_of"]

_MARGIN_SEC = 2.0
"""Of other parts' sound at either side of a piece's own. With 1 s and with 4 s as many keys
are rightly heard (`python -m bench.bench_listen --margins`)."""
_SAME_SEC = 0.06
"""Two pieces that hear one stroke say the same within this; a key cannot be struck again so soon
(the fastest trills of a key take some 80 ms, from memory)."""


@dataclass(frozen=True, slots=True)
class Window:
    """A piece of a recording, from and to in seconds; what begins from `own_from_sec` until
    `own_to_sec` is its own."""

    from_sec: float
    to_sec: float
    own_from_sec: float
    own_to_sec: float


def windows_of(length_sec: float, window_sec: float, margin_sec: float = _MARGIN_SEC
               ) -> tuple[Window, ...]:
    """Pieces of `window_sec` at most that cover a recording, each with a margin at either side.

    >>> [(w.from_sec, w.to_sec) for w in windows_of(30.0, 16.0)]
    [(0.0, 16.0), (12.0, 28.0), (24.0, 30.0)]
    """
    if window_sec <= 2 * margin_sec:
        raise ValueError("an ear hears more than the margins of a piece at once")
    step = window_sec - 2 * margin_sec
    found = []
    start = 0.0
    while True:
        end = min(start + window_sec, length_sec)
        last = end >= length_sec
        found.append(Window(start, end, start + margin_sec if start else 0.0,
                            end if last else start + step + margin_sec))
        if last:
            return tuple(found)
        start += step


def joined(windows: Sequence[Window], heard: Sequence[Sequence[HeardKey]]
           ) -> tuple[HeardKey, ...]:
    """What was heard in the pieces (each in seconds of its own), by time, in seconds of all."""
    keys: dict[int | None, list[HeardKey]] = {}
    for window, some in zip(windows, heard, strict=True):
        for one in sorted(some, key=lambda one: one.onset_sec):
            moved = replace(one, onset_sec=one.onset_sec + window.from_sec,
                            release_sec=one.release_sec + window.from_sec)
            _add(keys.setdefault(one.midi, []), moved, window)
    found = [one for some in keys.values() for one in _apart(some)]
    return tuple(sorted(found, key=lambda one: (one.onset_sec, -1 if one.midi is None
                                                else one.midi)))


def _add(known: list[HeardKey], one: HeardKey, window: Window) -> None:
    """Put a key to those known of it, or learn from it how long the last one was held."""
    last = known[-1] if known else None
    if last is not None and one.begins and abs(one.onset_sec - last.onset_sec) < _SAME_SEC:
        _held(known, one)
    elif (one.begins
          and window.own_from_sec - _SAME_SEC / 2 <= one.onset_sec
          < window.own_to_sec + _SAME_SEC / 2):
        known.append(one)
    elif not one.begins and last is not None and not last.ends:
        _held(known, one)


def _held(known: list[HeardKey], again: HeardKey) -> None:
    """The last key, heard once more by the next piece, which hears for longer."""
    last = known[-1]
    if not last.ends and again.release_sec > last.release_sec:
        known[-1] = replace(last, release_sec=again.release_sec, ends=again.ends)


def _apart(keys: Sequence[HeardKey]) -> list[HeardKey]:
    """A key is up before it goes down again."""
    found: list[HeardKey] = []
    for one in sorted(keys, key=lambda one: one.onset_sec):
        if found and found[-1].release_sec > one.onset_sec:
            found[-1] = replace(found[-1], release_sec=one.onset_sec)
        found.append(one)
    return found
