"""Many sheets: added, killed, continued, by one machine and by a cluster; and as Parquet."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import pytest
from bench.made_sheets import patterns, write_sheets
from tests.library.test_library import FIRST, HEADER, content

from fillwright import InputError, Library, Question
from fillwright.cli import main
from fillwright.library import find_in_parquet, load_parquet, write_parquet

COUNT = 60


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    write_sheets(folder, COUNT, patterns())
    (folder / "000" / "bad.abc").write_text("X:1\nK:C\nA4|\n")
    return folder


@pytest.fixture(scope="module")
def undisturbed(made: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    with Library(tmp_path_factory.mktemp("undisturbed") / "library.sqlite3") as shelf:
        shelf.add([made])
        yield shelf


def test_a_made_sheet_is_the_same_for_the_same_seed(made: Path, tmp_path: Path) -> None:
    write_sheets(tmp_path, 3, patterns())
    for path in sorted(tmp_path.rglob("*.musicxml")):
        assert path.read_bytes() == (made / path.relative_to(tmp_path)).read_bytes()


@pytest.mark.slow
def test_a_run_that_is_killed_three_times_ends_like_one_that_is_not(
        made: Path, undisturbed: Library, tmp_path: Path) -> None:
    data = tmp_path / "data"
    command = [sys.executable, "-m", "fillwright.cli", "library", "add", str(made), "--data",
               str(data), "--processes", "2"]
    counts = [0]
    for part in (1, 2, 3):
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, start_new_session=True)
        while process.poll() is None:
            time.sleep(0.02)
            with Library(data / "library.sqlite3") as shelf:
                if len(shelf) >= part * COUNT // 5:
                    break
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        with Library(data / "library.sqlite3") as shelf:
            assert shelf.connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            counts.append(len(shelf))
            # Each tune is there whole: with all its gaps and the file that holds it.
            assert not shelf.connection.execute(
                "SELECT 1 FROM gaps LEFT JOIN told ON told.gap = gaps.id LEFT JOIN files ON "
                "files.sheet = gaps.sheet WHERE told.gap IS NULL OR files.path IS NULL").fetchall()
    assert counts == sorted(counts) and counts[1] > 0  # nothing that was there is lost
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    with Library(data / "library.sqlite3") as shelf:
        assert content(shelf) == content(undisturbed)


def workers_of(process: int) -> list[int]:
    """The processes that read for a run (Linux)."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            parent = int((place / "stat").read_text().rpartition(")")[2].split()[1])
            words = (place / "cmdline").read_bytes()
        except OSError:
            continue
        if parent == process and b"spawn_main" in words:
            found.append(int(place.name))
    return found


@pytest.mark.slow
def test_two_runs_at_once_and_a_process_that_dies_change_nothing(
        made: Path, undisturbed: Library, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "fillwright.cli", "library", "add", str(made), "--data",
               str(tmp_path), "--processes", "2"]
    first = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    second = subprocess.Popen([*command[:-1], "1"], stdout=subprocess.DEVNULL)
    killed = 0
    while first.poll() is None and not killed:
        time.sleep(0.02)
        with Library(tmp_path / "library.sqlite3") as shelf:
            far = len(shelf) >= COUNT // 4
        # The other run may have come so far while this one's processes were not there yet.
        for killed in workers_of(first.pid)[:1] if far else []:
            os.kill(killed, signal.SIGKILL)
    assert killed and [first.wait(), second.wait()] == [0, 0]
    with Library(tmp_path / "library.sqlite3") as shelf:
        assert content(shelf) == content(undisturbed)


@contextmanager
def cluster() -> Iterator[Any]:
    """Two workers, each a process of its own."""
    import distributed

    made: Any = cast(Any, distributed).LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None,
        silence_logs=50)
    try:
        yield made
    finally:
        made.close()


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_a_cluster_that_loses_a_worker_gives_what_one_machine_gives(
        made: Path, undisturbed: Library, tmp_path: Path) -> None:
    killed: list[int] = []
    with cluster() as workers, Library(tmp_path / "library.sqlite3") as shelf:
        def kill(done: int, total: int) -> None:
            if done >= total // 3 and not killed:
                killed.append(next(iter(workers.workers.values())).process.pid)
                os.kill(killed[0], signal.SIGKILL)

        added = shelf.add([made], scheduler=workers.scheduler_address, progress=kill)
        assert killed and len(added.added) == COUNT and len(added.refused) == 1
        assert content(shelf) == content(undisturbed)
        few = made / "000" / "made-000001.musicxml"
        with Library(tmp_path / "few.sqlite3") as other, Library(tmp_path / "own.sqlite3") as own:
            for one in (other, own):
                one.add([few])
            other.work_out("beginner", scheduler=workers.scheduler_address)
            own.work_out("beginner")
            assert content(other) == content(own)
            assert other.find(Question(family="comp", level="beginner")).total > 0


@pytest.mark.slow
def test_no_scheduler_is_one_sentence(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from fillwright.library import cluster as place

    monkeypatch.setattr(place, "_WAIT_SEC", 0.2)
    (tmp_path / "a.abc").write_text(HEADER.format("A", 120, "C") + FIRST)
    with Library(tmp_path / "library.sqlite3") as shelf, pytest.raises(
            InputError, match="no Dask scheduler"):
        shelf.add([tmp_path], scheduler="tcp://127.0.0.1:1")


@pytest.mark.slow
def test_parquet_is_asked_as_the_library_is_and_taken_in_again(
        undisturbed: Library, tmp_path: Path) -> None:
    write_parquet(undisturbed, tmp_path / "tables")
    for question in (Question(), Question(over="II V", sort="longest"), Question(title="made 1"),
                     Question(beats=(3.0, None), holding="5", sort="shelf"), Question(key="F"),
                     Question(place="end", copies=True), Question(device="shells")):
        assert find_in_parquet(tmp_path / "tables", question) == undisturbed.find(question)
    with Library(tmp_path / "again.sqlite3") as shelf:
        load_parquet(tmp_path / "tables", shelf)
        assert content(shelf) == content(undisturbed)
        (tmp_path / "tables" / "gaps.parquet").write_bytes(b"no table")
        with pytest.raises(InputError, match="no table"):
            load_parquet(tmp_path / "tables", shelf)
        assert content(shelf) == content(undisturbed)
        (tmp_path / "tables" / "gaps.parquet").unlink()
        with pytest.raises(InputError, match=r"no gaps\.parquet"):
            find_in_parquet(tmp_path / "tables", replace(Question(), count=3))


def test_tables_are_of_one_moment_whatever_is_added_meanwhile(tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / f"{name}.abc").write_text(HEADER.format(name.title(), 120, "C") + FIRST)
    path, tables = tmp_path / "library.sqlite3", tmp_path / "tables"
    with Library(path) as shelf, Library(path) as other:
        shelf.add([tmp_path / "one.abc"])

        def meanwhile(statement: str) -> None:
            if statement == "SELECT * FROM files":
                other.add([tmp_path / "two.abc"])

        shelf.connection.set_trace_callback(meanwhile)
        write_parquet(shelf, tables)
        shelf.connection.set_trace_callback(None)
        assert len(shelf) == 2
        with Library(tmp_path / "again.sqlite3") as again:
            load_parquet(tables, again)
            assert len(again) == 1 and again.find(Question()).total == 5
            write_parquet(shelf, tmp_path / "later")
            (tmp_path / "later" / "gaps.parquet").replace(tables / "gaps.parquet")
            with pytest.raises(InputError, match="not written together"):
                load_parquet(tables, again)


@pytest.mark.slow
def test_what_is_offered_is_found_in_parquet_too(tmp_path: Path, undisturbed: Library) -> None:
    path = tmp_path / "one.abc"
    path.write_text(HEADER.format("One", 120, "C") + FIRST)
    with Library(tmp_path / "library.sqlite3") as shelf:
        shelf.add([path])
        shelf.work_out("beginner")
        write_parquet(shelf, tmp_path / "tables")
        for question in (Question(level="beginner"), Question(level="beginner", family="comp"),
                         Question(level="beginner", family="line", sort="best"),
                         Question(level="beginner", device="shells", may=True),
                         Question(level="beginner", max_difficulty=14, over="IIm7")):
            assert find_in_parquet(tmp_path / "tables", question) == shelf.find(question)


@pytest.mark.slow
def test_tables_go_out_and_in_by_command(
        capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / "one.abc").write_text(HEADER.format("One", 120, "C") + FIRST)
    for arguments in (["add", tmp_path, "--data", tmp_path / "a"],
                      ["parquet", tmp_path / "t", "--data", tmp_path / "a"],
                      ["parquet", tmp_path / "t", "--load", "--data", tmp_path / "b"]):
        with pytest.raises(SystemExit) as end:
            main(["library", *map(str, arguments)])
        assert not end.value.code
    assert capsys.readouterr().out.count(": 1 tune\n") == 2
