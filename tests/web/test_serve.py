"""``fillwright serve`` itself: it begins, it ends, and it says in one line why it cannot."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from fillwright.web.serve import data_folder

COMMAND = [sys.executable, "-m", "fillwright.cli", "serve"]


def refused(*options: str) -> str:
    done = subprocess.run([*COMMAND, *options], capture_output=True, text=True, timeout=60,
                          check=False)
    assert done.returncode == 2 and done.stderr.count("\n") == 1, done.stderr
    return done.stderr


def test_a_port_that_is_taken(tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = str(other.getsockname()[1])
        assert f"127.0.0.1:{port}: cannot listen there" in refused("--port", port, "--data",
                                                                   str(tmp_path))


def test_a_folder_that_is_none(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    assert "cannot be used" in refused("--port", "0", "--data", str(tmp_path / "file"))
    (tmp_path / "fillwright.sqlite3").write_text("this is no database, and long enough to see it"
                                                 * 40)
    assert "cannot be used" in refused("--port", "0", "--data", str(tmp_path))


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_quietly_when_told_to(tmp_path: Path, how: signal.Signals) -> None:
    with subprocess.Popen([*COMMAND, "--port", "0", "--data", str(tmp_path)], text=True,
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None and process.stderr is not None
        assert "127.0.0.1" in process.stdout.readline()
        process.send_signal(how)
        process.wait(30)
        assert process.stderr.read() == ""


def test_tunes_live_in_the_users_data_folder(monkeypatch: pytest.MonkeyPatch,
                                             tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    if sys.platform == "linux":
        assert data_folder() == tmp_path / "fillwright"
