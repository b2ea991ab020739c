"""Work that is spread over several processes, for a caller who asks for it.

The answers come in the order of the parts and are the same as from one process. A process is
started afresh (it inherits nothing), which takes about a second: it is worth it for a long tune.
A script that asks for several processes begins under ``if __name__ == "__main__":``, as for
everything of `multiprocessing`.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import TypeVar

__all__ = ["dealt", "spread"]

T = TypeVar("T")
R = TypeVar("R")

_PARTS_A_PROCESS = 4
"""Parts that a process is given on average, so that none waits long for the last one."""


def dealt(groups: Sequence[Sequence[T]], processes: int) -> list[list[T]]:
    """Groups that belong together, dealt out into parts for so many processes.

    >>> dealt([[1, 4], [2], [3], [5], [6]], 1)
    [[1, 4, 6], [2], [3], [5]]
    """
    parts: list[list[T]] = [[] for _ in range(min(len(groups), _PARTS_A_PROCESS * processes))]
    for place, group in enumerate(groups):
        parts[place % len(parts)] += group
    return parts


def spread(work: Callable[[T], R], parts: Sequence[T], processes: int) -> Iterator[R]:
    """What `work`, a function of a module's top level, makes of each part."""
    if processes == 1 or len(parts) < 2:
        yield from map(work, parts)
        return
    with ProcessPoolExecutor(min(processes, len(parts)),
                             multiprocessing.get_context("spawn")) as pool:
        yield from pool.map(work, parts)
