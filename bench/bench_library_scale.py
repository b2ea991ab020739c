"""Ten thousand sheets: added while being killed three times, against an undisturbed run; and a
Dask cluster of one and of two workers, with what a million sheets would take.

The sheets are made by transposing and splicing the demo tunes, and those of a folder if one is
given. The projection takes the figures of this run, in proportion.

    python -m bench.bench_library_scale [COUNT] [FOLDER]
"""

from __future__ import annotations

import hashlib
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, cast

from bench.made_sheets import patterns, write_sheets

from fillwright import Library

COUNT, CLUSTER_COUNT, MILLION = 10_000, 400, 1_000_000
TABLES = (
    "SELECT content, fingerprint, title FROM sheets ORDER BY content",
    "SELECT content, number, beats, seconds, rows.row, landing, place FROM gaps JOIN sheets ON "
    "sheets.id = gaps.sheet JOIN rows ON rows.id = gaps.row ORDER BY content, number",
    "SELECT path, number, digest, refused FROM files ORDER BY path, number")


def content(path: Path) -> str:
    """A digest of all that was described, whatever the order it was done in."""
    digest = hashlib.sha256()
    with Library(path) as shelf:
        for sql in TABLES:
            for row in shelf.connection.execute(sql):
                digest.update(repr(row).encode())
    return digest.hexdigest()


def command(sheets: Path, data: Path) -> list[str]:
    return [sys.executable, "-m", "fillwright.cli", "library", "add", str(sheets), "--data",
            str(data), "--processes", "2"]


def resident_kb(process: int) -> int:
    """The memory of a process (Linux), 0 where it cannot be told."""
    try:
        text = Path(f"/proc/{process}/status").read_text(encoding="ascii")
    except OSError:
        return 0
    return next((int(line.split()[1]) for line in text.splitlines()
                 if line.startswith("VmRSS")), 0)


def watched(process: subprocess.Popen[bytes], data: Path, until: int) -> int:
    """Wait until so many sheets are there, or the process has ended; its memory then."""
    memory_kb = 0
    while process.poll() is None:
        time.sleep(0.1)
        memory_kb = resident_kb(process.pid) or memory_kb
        with Library(data / "library.sqlite3") as shelf:
            if len(shelf) >= until:
                break
    return memory_kb


def killed(sheets: Path, data: Path, count: int) -> None:
    for part in (1, 2, 3):
        process = subprocess.Popen(command(sheets, data), stdout=subprocess.DEVNULL,
                                   start_new_session=True)
        memory_kb = watched(process, data, part * count // 4)
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        with Library(data / "library.sqlite3") as shelf:
            print(f"killed with {len(shelf)} of {count} sheets there, {memory_kb / 1024:.0f} MB")
    process = subprocess.Popen(command(sheets, data), stdout=subprocess.DEVNULL)
    memory_kb = watched(process, data, count)
    process.wait()
    print(f"continued to the end, {memory_kb / 1024:.0f} MB")


def by_cluster(sheets: Path, folder: Path, workers: int) -> float:
    """Sheets a second, the start of the workers not counted."""
    import distributed

    made: Any = cast(Any, distributed).LocalCluster(
        n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=None,
        silence_logs=50)
    try:
        with Library(folder / f"cluster-{workers}.sqlite3") as shelf:
            start = time.perf_counter()
            added = shelf.add([sheets], scheduler=made.scheduler_address)
            return len(added.added) / (time.perf_counter() - start)
    finally:
        made.close()


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else COUNT
    tunes = patterns(Path(sys.argv[2]) if len(sys.argv) > 2 else None)
    with tempfile.TemporaryDirectory() as made:
        place = Path(made)
        write_sheets(place / "sheets", count, tunes)
        start = time.perf_counter()
        subprocess.run(command(place / "sheets", place / "whole"), check=True,
                       stdout=subprocess.DEVNULL)
        rate = count / (time.perf_counter() - start)
        print(f"undisturbed: {count} sheets, {rate:.0f} a second by two processes")
        killed(place / "sheets", place / "killed", count)
        same = (content(place / "whole" / "library.sqlite3")
                == content(place / "killed" / "library.sqlite3"))
        print("the same content" if same else "NOT the same content")
        size = (place / "whole" / "library.sqlite3").stat().st_size
        write_sheets(place / "few", min(CLUSTER_COUNT, count), tunes)
        for workers in (1, 2):
            speed = by_cluster(place / "few", place, workers)
            print(f"cluster of {workers}: {speed:.0f} sheets a second; a million in "
                  f"{MILLION / speed / 3600:.1f} hours")
        print(f"{size / count:.0f} bytes a sheet described, indexes included: a million are "
              f"{size / count * MILLION / 2 ** 30:.1f} GB")


if __name__ == "__main__":
    main()
