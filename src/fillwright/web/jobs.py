"""Long work: started, watched, cancelled, and its result kept until it is fetched.

Jobs that ask for the same share the work: it is done once, and stopped when the last of them is
cancelled.
"""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import Awaitable, Callable, Hashable
from dataclasses import dataclass, field
from typing import Any

from fillwright.errors import InputError
from fillwright.web.pool import Cancelled, TooSlow, WorkerDied
from fillwright.web.words import Say

__all__ = ["Job", "Jobs", "Shared"]

_WAITING = "job_waiting"

KEPT = 24
"""Jobs remembered; the oldest finished ones are forgotten first."""

Work = Callable[["Shared"], Awaitable[Any]]


@dataclass(slots=True, eq=False)
class Job:
    """`state` is "running", "done", "failed" or "cancelled".

    what      what is being done, `message` why it ended: keys of `fillwright.web.words`, without
              "server."; `reason` is what the library says of what it was given
    """

    id: str
    state: str = "running"
    what: str = _WAITING
    done: int = 0
    total: int = 0
    message: str = ""
    reason: str = ""
    result: Any = None
    cancel: asyncio.Event = field(default_factory=asyncio.Event)
    changed: asyncio.Event = field(default_factory=asyncio.Event)

    def progress(self, what: str, done: int, total: int) -> None:
        self.what, self.done, self.total = what, done, total
        self.changed.set()

    def value(self, say: Say) -> dict[str, Any]:
        message = self.reason or (self.message and say(f"server.{self.message}"))
        return {"id": self.id, "state": self.state, "what": say(f"server.{self.what}"),
                "done": self.done, "total": self.total, "message": message}


class Shared:
    """Work that one or more jobs wait for.

    cancel   set when nobody waits any more
    """

    def __init__(self) -> None:
        self.cancel = asyncio.Event()
        self.task: asyncio.Task[Any] | None = None
        self.jobs: list[Job] = []
        self._last: tuple[str, int, int] | None = None

    def progress(self, what: str, done: int, total: int) -> None:
        self._last = (what, done, total)
        for job in self.jobs:
            job.progress(what, done, total)

    def join(self, job: Job) -> None:
        self.jobs.append(job)
        if self._last is not None:
            job.progress(*self._last)

    def leave(self, job: Job) -> None:
        self.jobs.remove(job)
        if not self.jobs:
            self.cancel.set()


class Jobs:
    """All jobs of a server."""

    def __init__(self) -> None:
        self._jobs: dict[str, Job] = {}
        self._tasks: set[asyncio.Task[None]] = set()
        self._shared: dict[Hashable, Shared] = {}

    def start(self, work: Work, key: Hashable = None) -> Job:
        """key   jobs with the same one do the same work; None: this one stands alone"""
        job = Job(secrets.token_hex(8))
        for old in [key for key, other in self._jobs.items() if other.state != "running"][:-KEPT]:
            del self._jobs[old]
        self._jobs[job.id] = job
        shared = self._shared.get(key)
        if key is None or shared is None or shared.cancel.is_set():
            shared = self._begin(work, key)
        shared.join(job)
        task = asyncio.create_task(_run(job, shared))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return job

    def _begin(self, work: Work, key: Hashable) -> Shared:
        shared = Shared()

        def ended(task: asyncio.Task[Any]) -> None:
            if not task.cancelled():
                task.exception()  # those who wait are told; where nobody does, it is forgotten
            if self._shared.get(key) is shared:
                del self._shared[key]

        async def done() -> Any:
            return await work(shared)

        shared.task = asyncio.create_task(done())
        shared.task.add_done_callback(ended)
        if key is not None:
            self._shared[key] = shared
        return shared

    async def cancel(self, job: Job) -> None:
        """Stop a job, at once where it still waits; others that share its work go on."""
        job.cancel.set()
        while job.state == "running":
            await self.wait(job, 1.0)

    def get(self, key: str) -> Job | None:
        return self._jobs.get(key)

    @property
    def running(self) -> int:
        return sum(job.state == "running" for job in self._jobs.values())

    async def wait(self, job: Job, seconds: float) -> None:
        """Until something changes, or the time is over."""
        if job.state != "running":
            return
        job.changed.clear()
        try:
            async with asyncio.timeout(seconds):
                await job.changed.wait()
        except TimeoutError:
            return


async def _run(job: Job, shared: Shared) -> None:
    assert shared.task is not None
    stopping = asyncio.create_task(job.cancel.wait())
    try:
        await asyncio.wait({shared.task, stopping}, return_when=asyncio.FIRST_COMPLETED)
        if not shared.task.done():
            raise Cancelled
        job.result = shared.task.result()
        job.state = "done"
    except Cancelled:
        job.state = "cancelled"
        job.message = "job_stopped_early" if job.what == _WAITING else "job_stopped"
    except InputError as error:
        job.state, job.reason = "failed", error.message
    except TooSlow:
        job.state, job.message = "failed", "job_slow"
    except WorkerDied:
        job.state, job.message = "failed", "job_failed"
    finally:
        stopping.cancel()
        shared.leave(job)
        if job.state == "running":
            job.state, job.message = "failed", "job_failed"
        job.changed.set()
