"""How long work in another process may take: by what that process has worked, where the system
says it, so that on a busy computer it gets there later instead of being ended."""

from __future__ import annotations

import asyncio
import os
import time
from collections.abc import Collection
from typing import Any

__all__ = ["first_of", "worked_sec"]

_MOST = 5
"""Times the limit, by the clock: a process that only waits is ended too."""


def worked_sec(pid: int) -> float | None:
    """The processor time of a process and its threads in seconds; None where it is not told
    (proc(5): fields 14 and 15 of ``stat``, which follow the name in brackets)."""
    try:
        with open(f"/proc/{pid}/stat", encoding="ascii", errors="replace") as file:
            fields = file.read().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    except (OSError, ValueError, IndexError, AttributeError):
        return None


async def first_of(wanted: Collection[asyncio.Future[Any]], pid: int, limit_sec: float) -> None:
    """Wait until one of some futures is done, or the process has worked for `limit_sec`."""
    began_sec, began_at = worked_sec(pid), time.monotonic()
    left = limit_sec
    while left > 0:
        done, _ = await asyncio.wait(wanted, timeout=left, return_when=asyncio.FIRST_COMPLETED)
        clock = time.monotonic() - began_at
        now_sec = worked_sec(pid)
        if done or began_sec is None or now_sec is None:
            return
        left = min(limit_sec - (now_sec - began_sec), _MOST * limit_sec - clock)
