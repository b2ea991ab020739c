"""A small disk in memory, where this system lets us make one."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

__all__ = ["fill_up", "small_disk"]


@contextmanager
def small_disk(place: Path, megabytes: int = 2) -> Iterator[str]:
    """A file system mounted on a folder that is made; gives "" or why there is none."""
    place.mkdir()
    try:
        done = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs",
                               str(place)], capture_output=True, check=False)
    except FileNotFoundError:
        yield "there is no mount here"
        return
    if done.returncode:
        yield "a file system in memory may not be made here"
        return
    try:
        yield ""
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def fill_up(path: Path) -> None:
    """Something else fills the disk, to the last byte."""
    with path.open("wb", buffering=0) as file:
        for size in (65536, 1024, 1):
            with suppress(OSError):
                while file.write(b"x" * size):
                    pass
