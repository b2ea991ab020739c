"""Pages that listen: told in order, bounded in number, and forgotten when they are gone."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

from fillwright.web import events

T = TypeVar("T")

def run(work: Coroutine[Any, Any, T]) -> T:
    """In a thread of its own: the browser of other tests has a loop in this one."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, work).result()


def test_what_is_published_comes_in_order_after_the_first() -> None:
    async def listen() -> list[str]:
        told = events.Events()
        stream = told.stream("tune", {"version": 1})
        assert stream is not None
        told.publish("tune", {"version": 2})
        told.publish("other", {"version": 9})
        heard = [await anext(stream), await anext(stream)]
        told.close()
        return heard + [text async for text in stream]

    heard = run(listen())
    assert [text.partition("data: ")[2].strip() for text in heard] == [
        '{"version":1}', '{"version":2}']


def test_an_answer_that_is_never_sent_is_no_listener() -> None:
    async def come_and_go() -> int:
        told = events.Events()
        for _ in range(3 * events.MOST_LISTENERS):
            stream = told.stream("tune", {})
            assert stream is not None
            del stream  # nothing else holds it
        return told.listeners

    assert run(come_and_go()) == 0


def test_there_are_only_so_many() -> None:
    async def fill() -> bool:
        told = events.Events()
        held = [told.stream("tune", {}) for _ in range(events.MOST_LISTENERS)]
        return all(held) and told.stream("tune", {}) is None

    assert run(fill())
