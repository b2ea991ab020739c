"""Long work: started, watched, cancelled, and its result kept until it is fetched."""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import Any

from fillwright.errors import InputError
from fillwright.web.pool import Cancelled, TooSlow, WorkerDied

__all__ = ["Job", "Jobs"]

KEPT = 24
"""Jobs remembered; the oldest finished ones are forgotten first."""

Work = Callable[["Job"], Awaitable[Any]]


@dataclass(slots=True)
class Job:
    """`state` is "running", "done", "failed" or "cancelled"."""

    id: str
    state: str = "running"
    what: str = "waiting for a free hand"
    done: int = 0
    total: int = 0
    message: str = ""
    result: Any = None
    cancel: asyncio.Event = field(default_factory=asyncio.Event)
    changed: asyncio.Event = field(default_factory=asyncio.Event)

    def progress(self, what: str, done: int, total: int) -> None:
        self.what, self.done, self.total = what, done, total
        self.changed.set()

    def value(self) -> dict[str, Any]:
        return {"id": self.id, "state": self.state, "what": self.what, "done": self.done,
                "total": self.total, "message": self.message}


class Jobs:
    """All jobs of a server."""

    def __init__(self) -> None:
        self._jobs: dict[str, Job] = {}
        self._tasks: set[asyncio.Task[None]] = set()

    def start(self, work: Work) -> Job:
        job = Job(secrets.token_hex(8))
        for old in [key for key, other in self._jobs.items() if other.state != "running"][:-KEPT]:
            del self._jobs[old]
        self._jobs[job.id] = job
        task = asyncio.create_task(_run(job, work))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return job

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


async def _run(job: Job, work: Work) -> None:
    try:
        job.result = await work(job)
        job.state = "done"
    except Cancelled:
        job.state, job.message = "cancelled", "Stopped."
    except InputError as error:
        job.state, job.message = "failed", error.message
    except TooSlow:
        job.state, job.message = "failed", "This took too long and was stopped."
    except WorkerDied:
        job.state, job.message = "failed", "This could not be worked out. The log says more."
    finally:
        if job.state == "running":
            job.state, job.message = "failed", "This could not be worked out."
        job.changed.set()
