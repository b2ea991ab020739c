"""Recordings that are brought become takes: long work, in processes of its own.

A recording is kept only until it has been heard; what is kept then is a take like any other. Only
one is listened to at a time, for an ear takes much memory, and the processes end with the work.
"""

from __future__ import annotations

import asyncio
import secrets
import shutil
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from fillwright.take.recording import (
    MAX_RECORDING_SEC,
    Ear,
    HeardKey,
    OpenEar,
    Recording,
    Window,
    memory_words,
    open_piano_ear,
    piano_ear_is_installed,
    piece_of,
    prepared,
    processes_for,
    read_recording,
    ready_ear,
    take_bytes,
    take_of,
    windows_of,
)
from fillwright.web.jobs import Job, Jobs, Shared
from fillwright.web.pool import Worker
from fillwright.web.takes import Takes

__all__ = ["Recordings", "recording_piece", "recording_pieces", "recording_sec",
           "recording_take"]

PIECE_SEC = 300.0
"""How long hearing one piece may take: some ten seconds on a computer that does nothing else."""


class Recordings:
    """`open_ear` gets an ear ready, in each process that hears."""

    def __init__(self, folder: Path, takes: Takes, jobs: Jobs,
                 open_ear: OpenEar = open_piano_ear) -> None:
        self._folder, self._takes, self._jobs = folder, takes, jobs
        self._open_ear = open_ear
        self._ears: list[Worker] = []
        self._turn = asyncio.Lock()
        shutil.rmtree(folder, ignore_errors=True)       # what a server that died was hearing

    @property
    def can_hear(self) -> bool:
        return self._open_ear is not open_piano_ear or piano_ear_is_installed()

    def needs(self) -> str:
        """What listening takes of this computer's memory, at most."""
        return memory_words(processes_for(MAX_RECORDING_SEC))

    def begin(self, tune: str, name: str, data: bytes) -> Job:
        """Begin to hear a recording; the result is the take that is kept, as the list shows it."""
        async def work(job: Shared) -> dict[str, Any]:
            async with self._turn:
                return await self._heard(tune, name, data, job)

        return self._jobs.start(work)

    async def _heard(self, tune: str, name: str, data: bytes, job: Shared) -> dict[str, Any]:
        path = self._folder / secrets.token_hex(8)
        await asyncio.to_thread(_written, path, data)
        try:
            job.progress("job_ear", 0, 0)
            first = Worker("ear-0")
            self._ears = [first]
            length_sec = await first.run("recording_sec", path, limit_sec=PIECE_SEC,
                                         cancel=job.cancel)
            number = processes_for(length_sec)
            count = await first.run("recording_pieces", self._open_ear, number, path,
                                    limit_sec=PIECE_SEC, cancel=job.cancel)
            self._ears += [Worker(f"ear-{place}") for place in range(1, min(number, count))]
            heard = await self._pieces(path, number, count, job)
            made, notes = await first.run("recording_take", self._open_ear, number, path, heard,
                                          limit_sec=PIECE_SEC, cancel=job.cancel)
            take = await asyncio.to_thread(self._takes.add, tune, name, made, notes)
            return take.value()
        finally:
            await asyncio.to_thread(self._end, path)

    async def _pieces(self, path: Path, number: int, count: int, job: Shared
                      ) -> list[Sequence[HeardKey]]:
        """Each ear hears the next piece that nobody has heard."""
        heard: list[Sequence[HeardKey]] = [()] * count
        waiting = iter(range(count))
        done = 0

        async def listen(ear: Worker) -> None:
            nonlocal done
            for place in waiting:
                heard[place] = await ear.run("recording_piece", self._open_ear, number, path, place,
                                             limit_sec=PIECE_SEC, cancel=job.cancel)
                done += 1
                job.progress("job_hearing", done, count)

        job.progress("job_hearing", 0, count)
        listening = [asyncio.create_task(listen(ear)) for ear in self._ears]
        try:
            await asyncio.gather(*listening)
        finally:
            for task in listening:
                task.cancel()
        return heard

    def _end(self, path: Path) -> None:
        self.close()
        path.unlink(missing_ok=True)

    def close(self) -> None:
        """End the processes that hear."""
        for ear in self._ears:
            ear.close()
        self._ears = []


def _written(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)


# --- in a process that hears ----------------------------------------------------------------------

@lru_cache(maxsize=1)
def _heard_by(open_ear: OpenEar, processes: int, path: Path
              ) -> tuple[Ear, Recording, tuple[Window, ...]]:
    """One of so many ears, the recording as it wants it, and its pieces. Raises InputError."""
    ear = ready_ear(open_ear, processes)
    recording = prepared(read_recording(path), ear.rate)
    return ear, recording, windows_of(len(recording.samples) / recording.rate, ear.window_sec)


def recording_sec(path: Path) -> float:
    """How long a recording is. Raises InputError."""
    return read_recording(path).length_sec


def recording_pieces(open_ear: OpenEar, processes: int, path: Path) -> int:
    """In how many pieces it is heard. Raises InputError."""
    return len(_heard_by(open_ear, processes, path)[2])


def recording_piece(open_ear: OpenEar, processes: int, path: Path, place: int
                    ) -> Sequence[HeardKey]:
    """What is heard in one piece."""
    ear, recording, windows = _heard_by(open_ear, processes, path)
    return ear.hear(piece_of(recording, windows[place]))


def recording_take(open_ear: OpenEar, processes: int, path: Path,
                   heard: Sequence[Sequence[HeardKey]]) -> tuple[bytes, tuple[str, ...]]:
    """The take as a file, and what is to be known of how it was heard. Raises InputError."""
    _, recording, windows = _heard_by(open_ear, processes, path)
    take = take_of(recording, windows, heard)
    return take_bytes(take), take.warnings
