"""The same work by many machines: a Dask cluster reads, describes and works out.

The bytes of a file come along with the task, so that the workers need no common disk; the answers
are written by the process that asked, a sheet a transaction, as on one machine. What a worker had
that is lost goes to another; a file on which workers die again and again is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import Any, cast

from fillwright.errors import InputError
from fillwright.library.processes import Each
from fillwright.tune.read import file_bytes

__all__ = ["by_cluster"]

_WAIT_SEC = 20
"""How long a scheduler is waited for."""
_BATCH = 8
"""Tasks that go together: one alone is shorter than its way."""
_AHEAD = 4
"""Batches a worker's thread that are under way, so that memory does not grow with the shelf."""

Work = Callable[[Any], Any]


@contextmanager
def by_cluster(address: str) -> Iterator[Each]:
    """The workers of the scheduler at an address do it. Raises InputError where there is none, or
    the libraries are missing."""
    try:
        import distributed
    except ImportError as error:
        raise InputError("work on a cluster needs more libraries: pip install "
                         "'fillwright[cluster]'", "--scheduler") from error
    try:
        client: Any = cast(Any, distributed).Client(address, timeout=_WAIT_SEC,
                                                    set_as_default=False)
    except (OSError, ValueError) as error:
        raise InputError(f"no Dask scheduler answers there: {error}", address) from error
    try:
        yield lambda work, tasks, crashed: _each(client, work, tasks, crashed)
    finally:
        client.close()


def _each(client: Any, work: Work, tasks: Sequence[Any], crashed: Work) -> Iterator[Any]:
    """What `work` makes of each task, as it is ready."""
    import distributed

    left = iter(tasks)
    batches = iter(lambda: list(islice(left, _BATCH)), [])
    threads = sum(client.nthreads().values()) or 1
    under_way: dict[Any, list[Any]] = {}
    done: Any = cast(Any, distributed).as_completed(loop=client.loop)

    def submit(batch: list[Any]) -> None:
        future = client.submit(_batch, work, [_carried(task) for task in batch], pure=False)
        under_way[future] = batch
        done.add(future)

    for batch in islice(batches, _AHEAD * threads):
        submit(batch)
    for future in done:
        batch = under_way.pop(future)
        if future.status == "finished":
            yield from future.result()
        elif len(batch) == 1:
            yield crashed(batch[0])
        else:  # one of them has killed workers: each by itself
            for task in batch:
                submit([task])
        future.release()
        following = next(batches, None)
        if following is not None:
            submit(following)


def _batch(work: Work, tasks: Sequence[Any]) -> list[Any]:
    return [work(task) for task in tasks]


def _carried(task: Any) -> Any:
    """A task with the bytes of its file, if it can be read; else its worker says why not."""
    with suppress(InputError):
        return replace(task, data=file_bytes(Path(task.path)))
    return task
