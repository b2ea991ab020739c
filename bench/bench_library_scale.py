"""Ten thousand sheets: added while being killed three times, against an undisturbed run; and a
Dask cluster of one and of two workers, with what a million sheets would take.

The sheets are made by transposing and splicing the demo tunes, and those of a folder if one is
given. While they are added, the memory of the process that writes and of those that read is looked
at, and printed for each tenth of the sheets: it does not grow with the shelf. The projection takes
the figures of this run, in proportion.

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
from dataclasses import dataclass, field
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


@dataclass(slots=True)
class Memory:
    """Megabytes of a run, at each look: sheets there, the process that writes, the largest of
    those that read."""

    looks: list[tuple[int, float, float]] = field(default_factory=list)

    def look(self, process: int, there: int) -> None:
        readers = [resident_mb(one) for one in children(process)]
        own = resident_mb(process)
        if own:
            self.looks.append((there, own, max(readers, default=0.0)))

    def lines(self, count: int) -> list[str]:
        """The largest of each tenth of the sheets, and of all."""
        rows = []
        for tenth in range(10):
            inside = [look for look in self.looks if tenth <= 10 * look[0] / count < tenth + 1]
            if inside:
                rows.append(f"  {tenth * count // 10:6} sheets: {max(o for _, o, _ in inside):4.0f}"
                            f" MB writing, {max(r for *_, r in inside):4.0f} MB reading")
        return [*rows, f"  peak: {max(o for _, o, _ in self.looks):.0f} MB writing, "
                f"{max(r for *_, r in self.looks):.0f} MB reading"]


def resident_mb(process: int) -> float:
    """The memory of a process (Linux), 0 where it cannot be told."""
    try:
        text = Path(f"/proc/{process}/status").read_text(encoding="ascii")
    except OSError:
        return 0.0
    return next((int(line.split()[1]) / 1024 for line in text.splitlines()
                 if line.startswith("VmRSS")), 0.0)


def children(process: int) -> list[int]:
    """The processes that a process has started (Linux)."""
    try:
        text = Path(f"/proc/{process}/task/{process}/children").read_text(encoding="ascii")
    except OSError:
        return []
    return [int(word) for word in text.split()]


def watched(process: subprocess.Popen[bytes], data: Path, until: int, memory: Memory) -> None:
    """Wait until so many sheets are there, or the process has ended."""
    while process.poll() is None:
        time.sleep(0.5)
        with Library(data / "library.sqlite3") as shelf:
            there = len(shelf)
        memory.look(process.pid, there)
        if there >= until:
            break


def killed(sheets: Path, data: Path, count: int) -> None:
    memory = Memory()
    for part in (1, 2, 3):
        process = subprocess.Popen(command(sheets, data), stdout=subprocess.DEVNULL,
                                   start_new_session=True)
        watched(process, data, part * count // 4, memory)
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        with Library(data / "library.sqlite3") as shelf:
            whole = shelf.connection.execute("PRAGMA integrity_check").fetchone()[0]
            print(f"killed with {len(shelf)} of {count} sheets there; the file is {whole}",
                  flush=True)
    process = subprocess.Popen(command(sheets, data), stdout=subprocess.DEVNULL)
    watched(process, data, 2 * count, memory)
    print("continued to the end", *memory.lines(count), sep="\n", flush=True)


def undisturbed(sheets: Path, data: Path, count: int) -> None:
    memory, start = Memory(), time.perf_counter()
    before = os.times()
    process = subprocess.Popen(command(sheets, data), stdout=subprocess.DEVNULL)
    watched(process, data, 2 * count, memory)
    took, after = time.perf_counter() - start, os.times()
    used = (after.children_user + after.children_system - before.children_user
            - before.children_system)
    print(f"undisturbed: {count} sheets, {count / took:.0f} a second by two processes; "
          f"{1000 * used / count:.1f} ms of processor time a sheet", *memory.lines(count),
          sep="\n", flush=True)


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
        undisturbed(place / "sheets", place / "whole", count)
        killed(place / "sheets", place / "killed", count)
        same = (content(place / "whole" / "library.sqlite3")
                == content(place / "killed" / "library.sqlite3"))
        print("the same content" if same else "NOT the same content", flush=True)
        with Library(place / "whole" / "library.sqlite3") as shelf:
            size = shelf.connection.execute("SELECT page_count * page_size FROM "
                                            "pragma_page_count, pragma_page_size").fetchone()[0]
        write_sheets(place / "few", min(CLUSTER_COUNT, count), tunes)
        for workers in (1, 2):
            speed = by_cluster(place / "few", place, workers)
            print(f"cluster of {workers}: {speed:.0f} sheets a second; a million in "
                  f"{MILLION / speed / 3600:.1f} hours", flush=True)
        print(f"{size / count:.0f} bytes a sheet described, indexes included: a million are "
              f"{size / count * MILLION / 2 ** 30:.1f} GB")


if __name__ == "__main__":
    main()
