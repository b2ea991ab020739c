"""Writing a folder: everything or nothing; and the progress bar."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fillwright.output import OWN_FILE, check_folder, write_folder
from fillwright.progress import Progress

FILES = {"arrangement.json": b"{}", "page-1.svg": b"<svg/>"}


def content(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_new_folder_is_made_with_its_parents(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "b"
    assert write_folder(FILES, folder) == [folder / name for name in FILES]
    assert content(folder) == FILES
    assert [path.name for path in folder.parent.iterdir()] == ["b"]  # no staging folder left


def test_permissions_are_those_of_any_new_folder(tmp_path: Path) -> None:
    (tmp_path / "usual").mkdir()
    write_folder(FILES, tmp_path / "out")
    assert (tmp_path / "out").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_stale_files_of_ours_go_and_others_stay(tmp_path: Path) -> None:
    for name in ("page-1.svg", "page-2.svg", "arrangement.mid", "notes.txt", "page-x.svg"):
        (tmp_path / name).write_bytes(b"old")
    write_folder(FILES, tmp_path)
    assert content(tmp_path) == FILES | {"notes.txt": b"old", "page-x.svg": b"old"}


@pytest.mark.parametrize("name", ["pack.pdf", "drill.pdf"])
def test_a_pack_or_a_drill_leaves_an_arrangement_there(tmp_path: Path, name: str) -> None:
    write_folder(FILES, tmp_path)
    write_folder({name: b"new"}, tmp_path)
    assert content(tmp_path) == FILES | {name: b"new"}


def test_a_failure_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = Path.write_bytes

    def full_disk(self: Path, data: bytes) -> int:
        if self.name == "page-1.svg":
            raise OSError(28, "No space left on device")
        return real(self, data)

    monkeypatch.setattr(Path, "write_bytes", full_disk)
    with pytest.raises(OSError, match="No space"):
        write_folder(FILES, tmp_path / "deep" / "out")
    assert list(tmp_path.iterdir()) == []


def test_a_failure_leaves_an_old_result_as_it_was(tmp_path: Path,
                                                  monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "out"
    write_folder({"arrangement.json": b"old", "page-2.svg": b"old"}, folder)

    def full_disk(self: Path, data: bytes) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full_disk)
    with pytest.raises(OSError, match="No space"):
        write_folder(FILES, folder)
    assert content(folder) == {"arrangement.json": b"old", "page-2.svg": b"old"}
    assert os.listdir(tmp_path) == ["out"]


@pytest.mark.parametrize("name", ["arrangement.json", "arrangement.flac", "page-12.svg"])
def test_own_files(name: str) -> None:
    assert OWN_FILE.fullmatch(name) and not OWN_FILE.fullmatch("my-" + name)


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


class Clock:
    """Seconds that pass only when told to."""

    def __init__(self) -> None:
        self.now_sec = 0.0

    def __call__(self) -> float:
        return self.now_sec


def test_quick_work_shows_no_bar() -> None:
    stream, clock = Terminal(), Clock()
    with Progress(stream, clock) as progress:
        clock.now_sec = 0.5
        progress.update(1, 2)
    assert stream.getvalue() == ""


def test_long_work_shows_a_bar_and_wipes_it() -> None:
    stream, clock = Terminal(), Clock()
    with Progress(stream, clock) as progress:
        clock.now_sec = 1.5
        progress.update(1, 2)
        assert "gap 1 of 2" in stream.getvalue() and "#" in stream.getvalue()
        progress.stage("engraving")
    assert "engraving" in stream.getvalue()
    assert stream.getvalue().rsplit("\r", 2)[1].strip() == ""


def test_nothing_is_drawn_where_there_is_no_terminal() -> None:
    stream, clock = io.StringIO(), Clock()
    with Progress(stream, clock) as progress:
        clock.now_sec = 9
        progress.update(1, 2)
        progress.stage("playing")
    assert stream.getvalue() == ""


def test_an_old_folder_is_written_from_inside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch
                                              ) -> None:
    """It may be a mount point, over whose edge nothing is moved, in a folder closed to us."""
    folder = tmp_path / "out"
    folder.mkdir()
    real: Callable[..., str] = tempfile.mkdtemp

    def closed(**where: Any) -> str:
        if Path(where["dir"]) == tmp_path:
            raise PermissionError(13, "Permission denied")
        return real(**where)

    monkeypatch.setattr(tempfile, "mkdtemp", closed)
    check_folder(folder)
    write_folder(FILES, folder)
    assert content(folder) == FILES
    with pytest.raises(PermissionError):
        check_folder(tmp_path / "other" / "deep")


def test_checking_leaves_nothing(tmp_path: Path) -> None:
    check_folder(tmp_path / "a" / "b")
    check_folder(tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("exists", [True, False])
def test_what_a_killed_run_left_goes_with_the_next(tmp_path: Path, exists: bool) -> None:
    folder = tmp_path / "out"
    if exists:
        folder.mkdir()
    code = ("import os, sys, pathlib; from fillwright import output;"
            "os.replace = pathlib.Path.rename = lambda *a: os.kill(os.getpid(), 9);"
            "output.write_folder({'arrangement.json': b'half'}, pathlib.Path(sys.argv[1]))")
    killed = subprocess.run([sys.executable, "-c", code, str(folder)], check=False)
    assert killed.returncode == -9
    left = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert [path.read_bytes() for path in left] == [b"half"]
    mine = (folder if exists else tmp_path) / f".fillwright-{os.getpid()}-running"
    mine.mkdir()  # of a run that still goes on
    write_folder(FILES, folder)
    assert mine.is_dir()
    mine.rmdir()
    assert content(folder) == FILES
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
