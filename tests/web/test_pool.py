"""Workers: answers, errors, cancelling, killing, and what happens after a crash."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Awaitable, Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from fillwright import Edition, InputError
from fillwright.demo import demo_path
from fillwright.web import patience
from fillwright.web import pool as pool_module
from fillwright.web.jobs import Jobs, Shared
from fillwright.web.pool import Cancelled, Pool, TooSlow, Worker, WorkerDied

pytestmark = pytest.mark.slow

SHEET = Edition(demo_path("snow").read_bytes(), "snow.musicxml")


def with_worker(work: Callable[[Worker], Awaitable[Any]]) -> Any:
    async def main() -> Any:
        worker = Worker("test")
        try:
            return await work(worker)
        finally:
            worker.kill()
    return run(main())


def run(work: Coroutine[Any, Any, Any]) -> Any:
    """In a thread of its own: the browser of the other tests has a loop in this one."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, work).result()


def test_answers_and_errors() -> None:
    async def work(worker: Worker) -> None:
        sheet = Edition.of_sheet(demo_path("umbrella"))
        found = await worker.run("read", sheet, limit_sec=60)
        assert found["title"] == "Wrong Umbrella"
        with pytest.raises(InputError, match="not"):
            await worker.run("read", Edition(b"<nothing", "x.musicxml"), limit_sec=60)
        with pytest.raises(WorkerDied):
            await worker.run("options", "no sheet", 1, "comp", 3, limit_sec=60)
        assert await worker.run("read", sheet, limit_sec=60) == found
    with_worker(work)


def test_work_tells_that_it_has_begun() -> None:
    async def work(worker: Worker) -> None:
        told: list[tuple[str, int, int]] = []
        await worker.run("wake", limit_sec=60, progress=lambda *what: told.append(what))
        assert told == [("job_begun", 0, 0)]
    with_worker(work)


def test_work_that_takes_too_long_is_killed_and_the_next_request_is_served() -> None:
    async def work(worker: Worker) -> None:
        await worker.run("read", SHEET, limit_sec=60)
        first = worker._process
        with pytest.raises(TooSlow):
            await worker.run("sound", SHEET, SHEET.decisions, limit_sec=0.05)
        assert first is not None and not first.is_alive()
        assert (await worker.run("read", SHEET, limit_sec=60))["bars"] == 33
    with_worker(work)


@pytest.mark.parametrize(("worked", "waited_for"), [
    ([1.0, 1.01], True), ([1.0, 3.0], False), ([None, None], False)])
def test_a_process_is_waited_for_until_it_has_worked_for_long_enough(
        worked: list[float | None], waited_for: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a busy computer it gets less done in the same time; where the system does not say what
    it has worked, the clock counts."""
    told = iter([worked[0]])
    monkeypatch.setattr(patience, "worked_sec", lambda pid: next(told, worked[1]))

    async def work() -> bool:
        answer = asyncio.ensure_future(asyncio.sleep(0.6))
        await patience.first_of({answer}, 1, 0.3)
        return answer.done()
    assert run(work()) == waited_for


def test_a_crash_of_the_process_is_an_error_and_no_more() -> None:
    async def work(worker: Worker) -> None:
        await worker.run("read", SHEET, limit_sec=60)
        begun = asyncio.Event()
        running = asyncio.ensure_future(worker.run(
            "sound", SHEET, SHEET.decisions, limit_sec=60, progress=lambda *_: begun.set()))
        await begun.wait()
        assert worker._process is not None
        worker._process.kill()
        with pytest.raises(WorkerDied):
            await running
        assert (await worker.run("read", SHEET, limit_sec=60))["bars"] == 33
    with_worker(work)


def test_cancelling_shows_progress_first_and_stops() -> None:
    async def work(worker: Worker) -> list[tuple[str, int, int]]:
        cancel, seen = asyncio.Event(), []

        def progress(what: str, done: int, total: int) -> None:
            seen.append((what, done, total))
            if done == 2:
                cancel.set()

        with pytest.raises(Cancelled):
            await worker.run("sound", SHEET, SHEET.decisions, limit_sec=60, progress=progress,
                             cancel=cancel)
        return seen
    seen = with_worker(work)
    begun, first, *_ = seen
    assert begun == ("job_begun", 0, 0)
    assert first == ("job_gaps", 0, first[2]) and len(seen) < first[2]


@pytest.mark.parametrize("wait_sec", [0, 0.02, 0.2])
def test_a_worker_may_be_closed_from_many_sides_while_it_starts(wait_sec: float) -> None:
    async def main() -> list[Any]:
        worker = Worker("test")
        running = [asyncio.ensure_future(worker.run("wake", limit_sec=60)) for _ in range(3)]
        await asyncio.sleep(wait_sec)
        running[0].cancel()
        await asyncio.gather(*(asyncio.to_thread(worker.close) for _ in range(8)))
        found: list[Any] = await asyncio.gather(*running, return_exceptions=True)
        assert worker._process is None and worker._pipe is None
        with pytest.raises(Cancelled):
            await worker.run("wake", limit_sec=60)
        return found
    found = run(main())
    allowed = (Cancelled, asyncio.CancelledError)
    assert not [one for one in found if isinstance(one, BaseException)
                and not isinstance(one, allowed)]


def test_a_process_that_does_not_start_is_an_error_and_the_next_one_serves(
        monkeypatch: pytest.MonkeyPatch) -> None:
    async def work(worker: Worker) -> None:
        with monkeypatch.context() as poor:
            def start(process: Any) -> None:
                raise OSError("no more processes")
            poor.setattr("multiprocessing.context.SpawnProcess.start", start)
            with pytest.raises(WorkerDied):
                await worker.run("wake", limit_sec=60)
        assert worker._process is None and worker._pipe is None
        await worker.run("wake", limit_sec=60)
    with_worker(work)


def test_loading_does_not_count_as_work(monkeypatch: pytest.MonkeyPatch) -> None:
    begin = Worker._start

    def slowly(worker: Worker) -> Any:
        pipe, stop = begin(worker)
        return _Late(pipe), stop

    monkeypatch.setattr(Worker, "_start", slowly)

    async def work(worker: Worker) -> None:
        await worker.run("wake", limit_sec=60)
        await worker.run("wake", limit_sec=0.9)
    with_worker(work)


class _Late:
    """A pipe from a process that loads for a second before it begins."""

    def __init__(self, pipe: Any) -> None:
        self.pipe, self.send = pipe, pipe.send

    def recv(self) -> Any:
        message = self.pipe.recv()
        if message[0] == "begun":
            time.sleep(1)
        return message


def test_nothing_listens_to_a_pipe_that_is_closed() -> None:
    async def work(worker: Worker) -> None:
        await worker.run("wake", limit_sec=60)
        with pytest.raises(TooSlow):
            await worker.run("sound", SHEET, SHEET.decisions, limit_sec=0)
        assert worker._listener is None and worker._pipe is None
        assert not [thread for thread in threading.enumerate() if thread.name == "hear test"]
    with_worker(work)


def test_a_job_says_how_it_went() -> None:
    async def main() -> list[str]:
        jobs = Jobs()

        async def fine(job: Shared) -> int:
            job.progress("counting", 1, 2)
            return 42

        async def bad(job: Shared) -> None:
            raise InputError("no good")

        started = [jobs.start(fine), jobs.start(bad)]
        for job in started:
            while job.state == "running":
                await jobs.wait(job, 1)
        assert started[0].result == 42
        return [job.state for job in started]
    assert run(main()) == ["done", "failed"]


def test_a_slow_sheet_keeps_no_other_waiting() -> None:
    """Two sheets that the same process remembers, of which one is at work for ever."""
    async def main() -> None:
        pool, key = Pool(2), "00000002"
        home, other = pool.workers
        try:
            assert pool.worker_for(key) is home
            async with home._lock:
                home._since_sec = time.monotonic()
                assert pool.worker_for(key) is home  # it may be free in a moment
                home._since_sec -= pool_module.PATIENCE_SEC
                assert pool.worker_for(key) is other
                async with other._lock:
                    assert pool.worker_for(key) is home
            assert pool.worker_for(key) is home
        finally:
            pool.close()
    run(main())
