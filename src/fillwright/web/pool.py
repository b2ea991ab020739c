"""Processes that do the work, so that the server itself never computes and never dies.

A `Worker` is one process that runs the functions of `fillwright.web.tasks` one at a time.
Work that takes too long, or is cancelled and does not stop by itself, is ended by killing
the process; the next request gets a new one. The same happens when a library brings the
process down.

A `Pool` sends work about the same sheet to the same worker, which remembers what it has
computed for it.
"""

from __future__ import annotations

import asyncio
import logging
import multiprocessing
import multiprocessing.connection
import multiprocessing.process
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from contextlib import ExitStack, suppress
from typing import Any

from fillwright.errors import InputError
from fillwright.web.patience import first_of

__all__ = ["Cancelled", "Pool", "TooSlow", "Worker", "WorkerDied"]

Progress = Callable[[str, int, int], None]

START_SEC = 60.0
"""How long a process may take until it begins its first work; it loads much."""

_GRACE_SEC = 0.7
"""How long cancelled work may take to stop by itself before its process is killed."""

PATIENCE_SEC = 1.0
"""Work on a sheet goes to the process that remembers it, unless that has been at one piece of
work for longer than this."""

MEMORY_BYTES = 3 * 1024 ** 3
"""Address space of a worker; beyond it the work fails with one sentence."""

_log = logging.getLogger("fillwright.web")


class Cancelled(Exception):
    """The work was stopped because somebody asked for it."""


class TooSlow(Exception):
    """The work did not end within its time."""


class WorkerDied(Exception):
    """The process ended while it worked, or the work failed in a way nobody foresaw."""


class Worker:
    """One process. `run` may be awaited by many at once; they take turns."""

    def __init__(self, name: str) -> None:
        self.name = name
        self._context = multiprocessing.get_context("spawn")
        self._lock = asyncio.Lock()
        self._ends = threading.Lock()  # the process and its pipes begin and end in threads
        self._process: multiprocessing.process.BaseProcess | None = None
        self._pipe: multiprocessing.connection.Connection | None = None
        self._stop: multiprocessing.connection.Connection | None = None
        self._listener: threading.Thread | None = None
        self._count = 0
        self._since_sec = 0.0
        self._closed = False

    async def run(self, task: str, *arguments: Any, limit_sec: float,
                  progress: Progress | None = None,
                  cancel: asyncio.Event | None = None) -> Any:
        """Call ``tasks.TASKS[task](*arguments)`` there.

        limit_sec   the time the process may work for it (`patience`); waiting for a turn, or for
                    the process to be there, does not count
        progress    called with (what is done, steps done, steps in all)
        cancel      when set, the work is stopped

        Raises InputError from the work, `TooSlow`, `Cancelled`, `WorkerDied`.
        """
        async with self._lock:
            self._since_sec = time.monotonic()
            if cancel is not None and cancel.is_set():
                raise Cancelled
            try:
                pipe, stop = await asyncio.to_thread(self._start)
            except OSError as error:  # the system gives no more processes or pipes
                _log.error("%s does not start: %s", self.name, error)
                raise WorkerDied from error
            self._count += 1
            work = (self._count, task, arguments)
            return self._result(task, *await self._talk(pipe, stop, work, limit_sec,
                                                        progress, cancel))

    async def _talk(self, pipe: multiprocessing.connection.Connection,
                    stop: multiprocessing.connection.Connection,
                    work: tuple[int, str, tuple[Any, ...]], limit_sec: float,
                    progress: Progress | None,
                    cancel: asyncio.Event | None) -> tuple[str, Any]:
        loop = asyncio.get_running_loop()
        begun: asyncio.Future[None] = loop.create_future()
        answer: asyncio.Future[tuple[str, Any]] = loop.create_future()

        def take(kind: str, value: Any) -> None:
            if progress is not None and kind in ("begun", "progress"):
                progress(*(value or ("job_begun", 0, 0)))
            if kind == "progress":
                return
            if not begun.done():
                begun.set_result(None)
            if kind != "begun" and not answer.done():
                answer.set_result((kind, value))

        def listen() -> None:
            kind, value = "", None
            with suppress(RuntimeError):  # the loop may be gone when the server stops
                while kind in ("", "begun", "progress"):
                    try:
                        if not kind:
                            pipe.send(work)
                        kind, value = pipe.recv()
                    except (EOFError, OSError):
                        kind, value = "died", None
                    loop.call_soon_threadsafe(take, kind, value)

        with self._ends:
            if self._process is None or self._process.pid is None:  # ended in the meantime
                return "died", None
            pid = self._process.pid
            self._listener = threading.Thread(target=listen, name=f"hear {self.name}",
                                              daemon=True)
            self._listener.start()
        stopping = None if cancel is None else asyncio.ensure_future(cancel.wait())
        stops: set[asyncio.Future[Any]] = set() if stopping is None else {stopping}
        try:
            await first_of({begun, *stops}, pid, START_SEC)
            if begun.done():
                await first_of({answer, *stops}, pid, limit_sec)
            if not answer.done() and stopping is not None and stopping.done():
                with suppress(OSError):
                    stop.send(work[0])
                await asyncio.wait({answer}, timeout=_GRACE_SEC)
                if not answer.done():
                    raise Cancelled
            if not answer.done():
                raise TooSlow
        finally:
            if stopping is not None:
                stopping.cancel()
            if not answer.done():
                self.kill()
        return answer.result()

    def _result(self, task: str, kind: str, value: Any) -> Any:
        if kind == "done":
            return value
        if kind == "input":
            kind_of_error, *said = value
            raise kind_of_error(*said)
        if kind == "cancelled":
            raise Cancelled
        if self._closed:
            raise Cancelled
        if kind == "failed":
            _log.error("%s failed in %s:\n%s", task, self.name, value)
        else:
            _log.error("%s ended the process %s", task, self.name)
            self.kill()
        raise WorkerDied

    def _start(self) -> tuple[multiprocessing.connection.Connection,
                              multiprocessing.connection.Connection]:
        """The pipes to the process, which is started if there is none.

        Raises `Cancelled` once the worker is closed.
        """
        with self._ends:
            if self._closed:
                raise Cancelled
            if (self._process is not None and self._process.is_alive()
                    and self._pipe is not None and self._stop is not None):
                return self._pipe, self._stop
            self._end()
            with ExitStack() as far, ExitStack() as near:
                pipe, there = self._context.Pipe()
                near.callback(pipe.close)
                far.callback(there.close)
                stopped, stop = self._context.Pipe(duplex=False)
                near.callback(stop.close)
                far.callback(stopped.close)
                process = self._context.Process(
                    target=_serve, args=(there, stopped), name=self.name, daemon=True)
                process.start()
                near.pop_all()  # they stay open
            self._process, self._pipe, self._stop = process, pipe, stop
            return pipe, stop

    def _end(self) -> None:
        """End the process and hang up; `_ends` is held."""
        if self._process is not None:
            self._process.kill()
            self._process.join(2)
        if self._listener is not None:
            # It reads to the end of the pipe, which must not be closed, and its number given
            # to another, under its hands.
            self._listener.join(2)
            self._listener = None
        for end in (self._pipe, self._stop):
            if end is not None:
                end.close()
        self._process = self._pipe = self._stop = None

    def kill(self) -> None:
        """End the process at once."""
        with self._ends:
            self._end()

    def close(self) -> None:
        """End the process for good."""
        self._closed = True
        self.kill()

    @property
    def is_busy(self) -> bool:
        return self._lock.locked()

    @property
    def busy_sec(self) -> float:
        """For how long the work that is being done has been going on."""
        return time.monotonic() - self._since_sec if self._lock.locked() else 0.0


class Pool:
    """Workers for sheets, one that only reads what is brought in, and one that engraves whole
    choruses."""

    def __init__(self, size: int) -> None:
        self.workers = [Worker(f"desk-{number}") for number in range(size)]
        self.reader = Worker("reader")
        self.press = Worker("press")

    @property
    def all(self) -> tuple[Worker, ...]:
        return (*self.workers, self.reader, self.press)

    def worker_for(self, key: str) -> Worker:
        """The worker that remembers a sheet; `key` is hexadecimal. Where that one has been held
        for long, one that is free, so that a slow sheet keeps no other waiting."""
        home = self.workers[int(key[:8], 16) % len(self.workers)]
        if home.busy_sec < PATIENCE_SEC:
            return home
        return next((worker for worker in self.workers if not worker.is_busy), home)

    def close(self) -> None:
        for worker in self.all:
            worker.close()


def _serve(pipe: multiprocessing.connection.Connection,
           stop: multiprocessing.connection.Connection) -> None:
    """The life of a worker process. `stop` brings the number of what is to be cancelled."""
    import traceback
    import warnings

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server ends its workers itself
    warnings.simplefilter("ignore")
    _end_with_the_server()
    _limit_memory()
    from fillwright.web.tasks import TASKS

    number = stopped = 0

    def report(what: str, done: int, total: int) -> None:
        nonlocal stopped
        while stop.poll():
            stopped = stop.recv()
        if stopped == number:
            raise Cancelled
        pipe.send(("progress", (what, done, total)))

    def answer(task: str, arguments: tuple[Any, ...]) -> tuple[str, Any]:
        try:
            return "done", TASKS[task](report, *arguments)
        except Cancelled:
            return "cancelled", None
        except InputError as error:
            return "input", (type(error), error.message, error.source)
        except MemoryError:
            return "input", (InputError, "it needs more memory than is allowed", "")
        except Exception:
            return "failed", traceback.format_exc()

    with suppress(EOFError, OSError):  # until the server is gone
        while True:
            number, task, arguments = pipe.recv()
            pipe.send(("begun", None))
            pipe.send(answer(task, arguments))


def _end_with_the_server() -> None:
    """However the server dies, and whatever is being computed here, this process ends too."""
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def watch() -> None:
        multiprocessing.connection.wait([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, name="server", daemon=True).start()
    if sys.platform == "linux":  # at once, even while a library does not let Python run
        import ctypes

        with suppress(OSError, AttributeError):
            ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)
        if not parent.is_alive():
            os._exit(1)


_PR_SET_PDEATHSIG = 1
"""prctl(2)."""


def _limit_memory() -> None:
    try:
        import resource
    except ImportError:  # no such limits on this system
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    if soft == resource.RLIM_INFINITY or soft > MEMORY_BYTES:
        with suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, hard))
