"""Work that several processes of this computer do: given tasks, answers as they are ready.

A process that dies on a task is replaced, and what was under way is done again, each task in a
process of its own; what kills that one too is given up, with a word.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from itertools import islice
from typing import Any, TypeVar

__all__ = ["Each", "by_processes"]

T = TypeVar("T")
R = TypeVar("R")
Each = Callable[[Callable[[Any], Any], Sequence[Any], Callable[[Any], Any]], Iterator[Any]]
"""Who does some work: given what is to be done with a task, the tasks, and what is said of one on
which a process dies; gives the answers as they are ready."""

_AHEAD = 4
"""Tasks a process that are under way at most, so that memory does not grow with the shelf."""
FEW = 12
"""Files that are read here: a process of its own takes a second to start."""


def by_processes(processes: int, few: int = FEW) -> Each:
    """So many processes of this computer do it; one, and fewer tasks than `few`, is this one: 0
    has all done in processes of their own."""
    return partial(_each, processes=processes, few=few)


def _each(work: Callable[[T], R], tasks: Sequence[T], crashed: Callable[[T], R], *,
          processes: int, few: int) -> Iterator[R]:
    """What `work` makes of each task, as it is ready; `crashed` of those on which a process
    dies."""
    if not tasks or (few and (processes == 1 or len(tasks) < few)):
        yield from map(work, tasks)
        return
    waiting = iter(tasks)
    suspects: list[T] = []
    while True:
        left = _through_pool(work, waiting, processes, suspects)
        yield from left
        if not suspects:
            return
        for task in suspects:  # one of them has killed a process: each in one of its own
            yield _alone(work, task, crashed)
        suspects.clear()


def _through_pool(work: Callable[[T], R], tasks: Iterator[T], processes: int, suspects: list[T]
                  ) -> Iterator[R]:
    """Until all tasks are done, or a process dies: then `suspects` are those under way."""
    with _pool(processes) as pool:
        under_way: dict[Future[R], T] = {}
        try:
            while _refill(pool, work, tasks, under_way, _AHEAD * processes):
                for future in wait(under_way, return_when=FIRST_COMPLETED).done:
                    answer = future.result()
                    del under_way[future]
                    yield answer
        except BrokenProcessPool:
            suspects += under_way.values()
        finally:  # whoever asked may have stopped listening
            for future in under_way:
                future.cancel()


def _refill(pool: ProcessPoolExecutor, work: Callable[[T], R], tasks: Iterator[T],
            under_way: dict[Future[R], T], most: int) -> bool:
    """Give the processes more to do; whether anything is under way then."""
    for task in islice(tasks, max(most - len(under_way), 0)):
        future: Future[R] = Future()
        under_way[future] = task  # a pool that breaks now has it among what was under way
        started = pool.submit(work, task)
        del under_way[future]
        under_way[started] = task
    return bool(under_way)


def _alone(work: Callable[[T], R], task: T, crashed: Callable[[T], R]) -> R:
    with _pool(1) as pool:
        try:
            return pool.submit(work, task).result()
        except BrokenProcessPool:
            return crashed(task)


def _pool(processes: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(processes, multiprocessing.get_context("spawn"),
                               initializer=_begin)


def _begin() -> None:
    """In a process of its own: it ends with the one that started it, which alone hears Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = os.getppid()

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(1)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
