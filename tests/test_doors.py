"""The command line at its edges: names, pipes, devices, full disks; one sentence each."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from tests.tune.sheets import chord, notes, read_bars, sheet, sound

from fillwright import InputError, read_tune

SHEET = sheet([chord("C") + notes("C5:16")] * 2)


def run(*arguments: str | bytes, given: bytes = b"", to: str | None = None
        ) -> subprocess.CompletedProcess[bytes]:
    command: list[str | bytes] = [sys.executable, "-m", "fillwright.cli", *arguments]
    with open(to or os.devnull, "wb") as stream:
        return subprocess.run(command, input=given, timeout=120, check=False,
                              stdout=stream if to else subprocess.PIPE, stderr=subprocess.PIPE)


@pytest.mark.slow
def test_a_name_that_is_no_utf_8(tmp_path: Path) -> None:
    name = os.path.join(os.fsencode(tmp_path), b"caf\xe9.musicxml")
    with open(name, "wb") as stream:
        stream.write(SHEET)
    done = run("gaps", name, "--json")
    assert done.returncode == 0, done.stderr
    assert "caf\ufffd" in done.stdout.decode("utf-8")
    assert read_tune(Path(os.fsdecode(name))).title == "caf\ufffd"
    with open(name, "wb") as stream:
        stream.write(b"no score")
    done = run("gaps", name)
    assert done.returncode == 2
    assert done.stderr.decode("utf-8").startswith("caf\ufffd.musicxml: ")
    assert done.stderr.count(b"\n") == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
def test_a_full_disk_behind_the_output() -> None:
    done = run("demo", "--list", to="/dev/full")
    assert done.returncode == 1
    assert done.stderr == b"fillwright: the output cannot be written: No space left on device\n"


@pytest.mark.slow
def test_a_tune_that_is_piped_in() -> None:
    done = run("gaps", "-", given=SHEET)
    assert done.returncode == 0, done.stderr
    assert b"2 gaps" in done.stdout or b"C5" in done.stdout
    assert run("gaps", "-", given=b"no score").stderr.startswith(b"-: ")


def test_a_pipe_without_a_writer_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.musicxml")
    with pytest.raises(InputError, match=r"pipe\.musicxml: it is a pipe or a device"):
        read_tune(tmp_path / "pipe.musicxml")
    with pytest.raises(InputError, match="null: it is a pipe or a device"):
        read_tune(os.devnull)


def test_an_empty_name() -> None:
    done = run("gaps", "")
    assert done.returncode == 2 and b"the name of the tune is empty" in done.stderr


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "closed.musicxml"
    path.write_bytes(SHEET)

    def closed(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", closed)
    with pytest.raises(InputError) as caught:
        read_tune(path)
    assert str(caught.value) == "closed.musicxml: it cannot be read: Permission denied"


@pytest.mark.parametrize(("tempo", "said"), [
    ("9999999", "faster than 480"), ("5", "slower than 20"), ("0.5", "slower than 20")])
def test_a_tempo_out_of_bounds_is_said_in_words(tempo: str, said: str) -> None:
    tune = read_bars([sound(f'tempo="{tempo}"') + chord("C") + notes("C5:16")])
    assert 20 <= tune.tempo_bpm <= 480
    assert [said in warning for warning in tune.warnings] == [True]
    assert "e+" not in tune.warnings[0]
