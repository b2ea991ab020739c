"""``fillwright serve`` itself: it begins, it ends, and it says in one line why it cannot."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import httpx
import pytest
from tests.web.page_server import running

from fillwright.web.serve import data_folder

pytestmark = pytest.mark.slow

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


def test_another_piano(tmp_path: Path) -> None:
    font = tmp_path / "piano.sf2"
    font.write_bytes(b"no font")
    assert refused("--port", "0", "--data", str(tmp_path), "--soundfont", str(font)) == (
        "piano.sf2: not a usable SoundFont (.sf2)\n")
    font.write_bytes(b"RIFF\x04\0\0\0sfbk")  # it is one by its head, and has no sounds
    with running(tmp_path / "data", "--soundfont", str(font)) as address:
        answer = httpx.get(f"{address}/api/piano/24", timeout=60)
        assert answer.status_code == 422 and "piano.sf2: not a usable" in answer.json()["error"]


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
        process.wait(60)
        assert process.stderr.read() == ""


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_what_waits_is_answered_when_it_ends(tmp_path: Path, how: signal.Signals) -> None:
    with (subprocess.Popen([*COMMAND, "--port", "0", "--data", str(tmp_path)], text=True,
                           stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process,
          ThreadPoolExecutor(2) as threads):
        assert process.stdout is not None and process.stderr is not None
        try:
            address = process.stdout.readline().split()[-1].rstrip("/")
            token = httpx.get(address, timeout=60).text.split('name="token" content="')[1]
            with httpx.Client(base_url=address, timeout=60,
                              headers={"x-token": token.split('"')[0]}) as client:
                key = client.post("/api/tunes", json={"demo": "snow"}).json()["id"]
                job = client.post(f"/api/tunes/{key}/jobs", json={"kind": "pdf"}).json()["id"]
                while client.get(f"/api/jobs/{job}").json()["done"] < 1:
                    client.get(f"/api/jobs/{job}?wait=1")  # until it works

                def watch() -> str:
                    state = "running"
                    while state == "running":
                        state = client.get(f"/api/jobs/{job}?wait=1").json()["state"]
                    return str(state)

                def ask() -> int:
                    return client.get(f"/api/tunes/{key}/gaps/5").status_code

                waiting = threads.submit(watch), threads.submit(ask)
                process.send_signal(how)
                for one in waiting:  # an answer, or a door that was closed before it was asked
                    with suppress(httpx.TransportError):
                        assert one.result() in ("cancelled", "done", 200, 503)
                process.wait(60)
                assert process.stderr.read() == ""
        finally:
            process.kill()


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="it reads /proc")
def test_killed_it_leaves_no_process_behind(tmp_path: Path) -> None:
    with subprocess.Popen([*COMMAND, "--port", "0", "--data", str(tmp_path)], text=True,
                          stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        children: list[str] = []
        until = time.monotonic() + 60
        while len(children) < 2 and time.monotonic() < until:
            children = [number for task in Path(f"/proc/{process.pid}/task").iterdir()
                        for number in (task / "children").read_text().split()]
        assert len(children) >= 2  # a reader and a desk at least
        process.kill()
        process.wait(60)
        while left := [number for number in children if _lives(number)]:
            assert time.monotonic() < until, left
            time.sleep(0.05)


def _lives(number: str) -> bool:
    try:
        state = Path(f"/proc/{number}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except OSError:
        return False
    return state not in "ZX"


def test_tunes_live_in_the_users_data_folder(monkeypatch: pytest.MonkeyPatch,
                                             tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    if sys.platform == "linux":
        assert data_folder() == tmp_path / "fillwright"
