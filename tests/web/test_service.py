"""Requests that ask for the same, and a program that is closed while it works."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from fillwright import Edition
from fillwright.demo import demo_path
from fillwright.score import Printing
from fillwright.web.jobs import Job
from fillwright.web.pianos import Pianos
from fillwright.web.pool import Cancelled, Pool, Worker, WorkerDied
from fillwright.web.service import Ask, Service
from fillwright.web.store import Store

pytestmark = pytest.mark.slow

SHEET = Edition(demo_path("snow").read_bytes(), "snow.musicxml")


class Hand(Worker):
    """Works as told, without a process: each piece of work waits until `finish`."""

    def __init__(self) -> None:
        super().__init__("hand")
        self.asked: list[asyncio.Future[Any]] = []

    async def run(self, task: str, *arguments: Any, **more: Any) -> Any:
        self.asked.append(asyncio.get_running_loop().create_future())
        return await self.asked[-1]


def with_service(folder: Path, work: Callable[[Service], Awaitable[Any]]) -> Any:
    async def main() -> Any:
        service = Service(Store(folder / "tunes.sqlite3"), Pool(1), Pianos(folder))
        try:
            return await work(service)
        finally:
            await service.close()
    with ThreadPoolExecutor(1) as thread:  # the browser of other tests has a loop in this one
        return thread.submit(asyncio.run, main()).result()


async def turns() -> None:
    """Let everything go on that can."""
    for _ in range(5):
        await asyncio.sleep(0)


def test_the_same_question_asked_twice_is_worked_out_once(tmp_path: Path) -> None:
    async def work(service: Service) -> None:
        hand = Hand()
        ask = Ask(SHEET, "0" * 64, hand)
        both = [asyncio.ensure_future(service.answer(ask, "overview")) for _ in range(2)]
        await turns()
        assert len(hand.asked) == 1
        both[0].cancel()  # whoever asked first has gone away; the other still gets it
        await turns()
        hand.asked[0].set_result("found")
        assert await both[1] == "found" == await service.answer(ask, "overview")
        assert len(hand.asked) == 1
    with_service(tmp_path, work)


def test_a_failure_is_told_to_all_who_wait_and_not_remembered(tmp_path: Path) -> None:
    async def work(service: Service) -> None:
        hand = Hand()
        ask = Ask(SHEET, "0" * 64, hand)
        both = [asyncio.ensure_future(service.answer(ask, "overview")) for _ in range(2)]
        await turns()
        hand.asked[0].set_exception(WorkerDied())
        told = await asyncio.gather(*both, return_exceptions=True)
        assert [type(error) for error in told] == [WorkerDied, WorkerDied]
        again = asyncio.ensure_future(service.answer(ask, "overview"))
        await turns()
        hand.asked[1].set_result("found")
        assert await again == "found"
    with_service(tmp_path, work)


def test_a_late_failure_does_not_take_a_newer_answer_away(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fillwright.web.service.KEPT_ANSWERS", 1)

    async def work(service: Service) -> None:
        hand = Hand()
        ask = Ask(SHEET, "0" * 64, hand)
        asking = []
        for task in ("overview", "lead", "overview"):  # the second pushes the first out
            asking.append(asyncio.ensure_future(service.answer(ask, task)))
            await turns()
        assert len(hand.asked) == 3
        hand.asked[0].set_exception(WorkerDied())
        hand.asked[1].set_result("drawn")
        hand.asked[2].set_result("newer")
        await asyncio.gather(*asking, return_exceptions=True)
        assert await service.answer(ask, "overview") == "newer"
        assert len(hand.asked) == 3
    with_service(tmp_path, work)


def test_closing_ends_requests_jobs_and_warming(tmp_path: Path) -> None:
    async def work(service: Service) -> None:
        key = service.store.add("Snow", Edition(SHEET.sheet, "snow.musicxml"))
        record = service.store.get(key)
        service.warmth.begin(record)
        jobs = [service.longwork.start(record, kind, Printing())
                for kind in ("pages", "pdf", "lead.pdf")]
        watching = [asyncio.ensure_future(service.jobs.wait(job, 600)) for job in jobs]
        request = asyncio.ensure_future(service.tune(record))
        await turns()
        await service.close()
        with pytest.raises(Cancelled):
            await request
        while service.jobs.running:  # each step brings them nearer to their end
            await asyncio.gather(*watching)
            watching = [asyncio.ensure_future(service.jobs.wait(job, 600)) for job in jobs]
        assert [job.state for job in jobs] == ["cancelled"] * 3
        with pytest.raises(Cancelled):  # what comes later is told the same
            await service.bringing.bring(SHEET.sheet, SHEET.name)
        assert all(worker._process is None for worker in service.pool.all)
    with_service(tmp_path, work)


def test_what_is_worked_out_for_nobody_is_given_up_without_ending_its_process(tmp_path: Path
                                                                              ) -> None:
    """A process whose work is cancelled is ended, with all that it knows of the tune."""
    async def work(service: Service) -> None:
        hand = Hand()
        service.pool.workers = [hand]
        record = service.store.get(service.store.add("Snow", SHEET))
        service.warmth.begin(record)
        await turns()
        hand.asked[0].set_result({"gaps": []})
        while len(hand.asked) < 2:  # what the whole chorus needs
            await asyncio.sleep(0.01)
        service.warmth.begin(record)  # another gap was opened
        await turns()
        assert not hand.asked[1].cancelled()
        hand.asked[1].set_result([])
        while len(hand.asked) < 3:
            await asyncio.sleep(0.01)
        service.warmth.close()
        await turns()
        assert not hand.asked[2].cancelled()
        hand.asked[2].set_exception(Cancelled())
        await turns()
    with_service(tmp_path, work)


def shared_jobs(service: Service, hand: Hand, *kinds: str) -> list[Job]:
    service.pool.workers = [hand]
    record = service.store.get(service.store.add("Snow", Edition(SHEET.sheet, "snow.musicxml")))
    return [service.longwork.start(record, kind, Printing()) for kind in kinds]


def test_equal_jobs_are_worked_out_once(tmp_path: Path) -> None:
    async def work(service: Service) -> None:
        hand = Hand()
        one, two, other = shared_jobs(service, hand, "lead.pdf", "lead.pdf", "blank.pdf")
        await turns()
        assert len(hand.asked) == 2
        one.cancel.set()  # whoever asked first does not want it any more; the other still gets it
        await turns()
        assert one.state == "cancelled"
        hand.asked[0].set_result(("lead.pdf", b"paper"))
        await turns()
        assert two.state == "done" and two.result == ("lead.pdf", b"paper")
        assert other.state == "running"
        again, = shared_jobs(service, hand, "lead.pdf")
        await turns()
        assert len(hand.asked) == 3 and again.state == "running"  # files are not kept
        for future in hand.asked[1:]:
            future.set_result(("x.pdf", b""))
        await turns()
    with_service(tmp_path, work)


def test_a_job_that_waits_says_at_once_that_it_was_cancelled(tmp_path: Path) -> None:
    async def work(service: Service) -> None:
        hand = Hand()  # busy with something else
        job, = shared_jobs(service, hand, "lead.pdf")
        await turns()
        await service.jobs.cancel(job)
        assert (job.state, job.message) == ("cancelled", "job_stopped_early")
        assert service.jobs.running == 0
        after, = shared_jobs(service, hand, "lead.pdf")  # not the one that is being stopped
        await turns()
        assert len(hand.asked) == 2 and after.state == "running"
        hand.asked[1].set_result(("lead.pdf", b"paper"))
        await turns()
        assert after.state == "done"
    with_service(tmp_path, work)
