"""A recording, heard by an ear in one process or several, as a take."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import TYPE_CHECKING

from fillwright.errors import InputError
from fillwright.take.model import Take
from fillwright.take.read import MAX_STROKES, take_of_keys
from fillwright.take.recording.model import Ear, HeardKey, OpenEar, Recording
from fillwright.take.recording.tuning import prepared
from fillwright.take.recording.windows import Window, joined, windows_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["hear_recording", "piece_of", "ready_ear", "take_of"]

Progress = Callable[[int, int], None]

_MOST_THREADS = 4       # more make one piece hardly faster, and take address space each

_HearAll = Callable[[Sequence["NDArray[np.float32]"]], Iterable[Sequence[HeardKey]]]

_own: list[Ear | InputError] = []
"""In a process that hears pieces for another: its ear, got ready once, or why there is none."""


def hear_recording(recording: Recording, open_ear: OpenEar, processes: int = 1,
                   progress: Progress | None = None) -> Take:
    """What is played in a recording.

    open_ear    gets the ear ready, in each process once
    processes   how many hear at once; each has an ear of its own, in memory of its own
    progress    called with (pieces heard, pieces in all); what it raises stops the work

    Raises InputError, whose `source` is the recording's name.
    """
    try:
        with _ears(open_ear, processes) as (rate, window_sec, hear):
            recording = prepared(recording, rate)
            windows = windows_of(len(recording.samples) / recording.rate, window_sec)
            if progress is not None:
                progress(0, len(windows))
            heard: list[Sequence[HeardKey]] = []
            for some in hear([piece_of(recording, window) for window in windows]):
                heard.append(some)
                if progress is not None:
                    progress(len(heard), len(windows))
        return take_of(recording, windows, heard)
    except InputError as error:
        raise InputError(error.message, recording.name) from error


def piece_of(recording: Recording, window: Window) -> NDArray[np.float32]:
    """The samples of a window."""
    return recording.samples[round(window.from_sec * recording.rate):
                             round(window.to_sec * recording.rate)]


@contextmanager
def _ears(open_ear: OpenEar, processes: int) -> Iterator[tuple[int, float, _HearAll]]:
    """What an ear wants (samples a second, seconds of a piece), and a function that hears pieces:
    by an ear in this process, or by several elsewhere."""
    if processes <= 1:
        ear = open_ear()
        yield ear.rate, ear.window_sec, lambda pieces: map(ear.hear, pieces)
        return
    pool = ProcessPoolExecutor(processes, multiprocessing.get_context("spawn"), _open,
                               (open_ear, processes))
    try:
        yield *pool.submit(_wanted).result(), lambda pieces: pool.map(_hear, pieces)
    except BrokenProcessPool as error:
        raise InputError("a process that listened has ended: most likely there is not enough "
                         "memory; try fewer (--processes 1)") from error
    finally:        # where the caller stops, what is not begun is not begun
        pool.shutdown(cancel_futures=True)


def ready_ear(open_ear: OpenEar, processes: int) -> Ear:
    """An ear of a process of its own, one of so many: it gets its share of the processors, which
    a library that computes on all of them asks for when it is loaded."""
    share = min(max((os.cpu_count() or 1) // processes, 1), _MOST_THREADS)
    for name in ("OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, str(share))
    return open_ear()


def _open(open_ear: OpenEar, processes: int) -> None:
    try:
        _own.append(ready_ear(open_ear, processes))
    except InputError as error:         # said by the first that asks for something
        _own.append(error)


def _ear() -> Ear:
    if isinstance(_own[0], InputError):
        raise _own[0]
    return _own[0]


def _wanted() -> tuple[int, float]:
    return _ear().rate, _ear().window_sec


def _hear(samples: NDArray[np.float32]) -> Sequence[HeardKey]:
    return _ear().hear(samples)


def take_of(recording: Recording, windows: Sequence[Window], heard: Sequence[Sequence[HeardKey]]
            ) -> Take:
    """The take of what was heard in the pieces of a recording. Raises InputError."""
    keys = joined(windows, heard)
    count = sum(one.midi is not None for one in keys)
    if not count:
        raise InputError("no piano is heard in it")
    if count > MAX_STROKES:
        raise InputError(f"{count:,} notes are heard in it; a take has {MAX_STROKES:,} at most")
    warnings = ["it was heard from a recording: how loud and how long each key was held, and the "
                "pedal, are estimates"]
    if recording.cents:
        side = "above" if recording.cents > 0 else "below"
        warnings.append(f"the piano is {abs(recording.cents):.0f} cents {side} concert pitch, "
                        "which was allowed for")
    by = recording.stretch
    return take_of_keys(
        [(one.onset_sec * by, one.release_sec * by, one.midi, one.velocity)
         for one in keys if one.midi is not None],
        [(sec * by, value) for one in keys if one.midi is None
         for sec, value in ((one.onset_sec, 127), (one.release_sec, 0))],
        recording.name, tuple(warnings))
