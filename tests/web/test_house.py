"""A server that is open to the house: names, pass phrase, slow clients, its log, its end."""

from __future__ import annotations

import asyncio
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, MutableMapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn

from fillwright.web import connections
from fillwright.web.connections import Connection
from fillwright.web.door import COOKIE, KEPT_SEC, Door
from fillwright.web.guard import Guard
from fillwright.web.machine import address_to_type, is_loopback

pytestmark = pytest.mark.slow

# --- names ------------------------------------------------------------------------------------


def status_of(guard: Guard, host: str, server: tuple[str, int]) -> int:
    sent: list[MutableMapping[str, Any]] = []

    async def send(message: MutableMapping[str, Any]) -> None:
        sent.append(message)

    scope = {"type": "http", "method": "GET", "path": "/", "raw_path": b"/", "server": server,
             "headers": [(b"host", host.encode())]}
    with ThreadPoolExecutor(1) as thread:
        thread.submit(asyncio.run, guard(scope, None, send)).result()  # type: ignore[arg-type]
    return int(sent[0]["status"])


async def fine(scope: Any, receive: Any, send: Any) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"fine"})


@pytest.mark.parametrize(("host", "server", "status"), [
    ("192.168.1.7:8808", ("192.168.1.7", 8808), 200),
    ("192.168.1.7", ("192.168.1.7", 80), 200),
    ("192.168.1.7:8808", ("::ffff:192.168.1.7", 8808), 200),
    ("[fd00::7]:8808", ("fd00::7", 8808), 200),
    ("192.168.1.7", ("192.168.1.7", 8808), 421),
    ("192.168.1.8:8808", ("192.168.1.7", 8808), 421),
    ("evil.example:8808", ("192.168.1.7", 8808), 421),
    ("piano:8808", ("192.168.1.7", 8808), 200)])
def test_the_address_a_request_came_in_by_is_ours(host: str, server: tuple[str, int],
                                                  status: int) -> None:
    assert status_of(Guard(fine, ["piano:8808"]), host, server) == status


def test_what_others_type() -> None:
    assert address_to_type("192.168.1.7") == "192.168.1.7"
    assert address_to_type("fd00::7") == "[fd00::7]"
    assert address_to_type("piano.local") == "piano.local"
    assert "0.0.0.0" not in address_to_type("0.0.0.0")
    assert [is_loopback(host) for host in ("127.0.0.1", "::1", "localhost", "127.1.2.3", "0.0.0.0",
                                           "192.168.1.7", "piano")] == [True] * 4 + [False] * 3


# --- the pass phrase --------------------------------------------------------------------------


def test_the_door_knows_its_phrase_and_its_cookies(tmp_path: Path) -> None:
    door, again, other = Door(tmp_path), Door(tmp_path), Door(tmp_path / "other")
    assert door.phrase == again.phrase != other.phrase
    assert door.opens(f" {door.phrase.upper().replace('-', ' ')}")
    assert not door.opens("") and not door.opens(other.phrase)
    cookie = door.cookie(1000.0)
    assert again.knows(cookie, 1000.0 + KEPT_SEC - 1)
    assert not again.knows(cookie, 1000.0 + KEPT_SEC)
    assert not other.knows(cookie, 1000.0)
    until, _, signature = cookie.partition(".")
    assert not door.knows(f"{int(until) + 1}.{signature}", 1000.0)
    for text in ("", ".", "x", f"{until}.", f"-{until}.{signature}", "²." + signature):
        assert not door.knows(text, 1000.0)
    assert (tmp_path / "pass-phrase.json").stat().st_mode & 0o077 == 0


@contextmanager
def house(data: Path, *options: str) -> Iterator[tuple[int, str, str]]:
    """``fillwright serve --host 0.0.0.0``: its port, what it printed, its pass phrase."""
    command = [sys.executable, "-m", "fillwright.cli", "serve", "--port", "0", "--data", str(data),
               "--host", "0.0.0.0", *options]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            said = ""
            while "Ctrl-C" not in said:
                said += process.stdout.readline()
            port = int(said.split("\n")[0].rstrip("/").rsplit(":", 1)[1])
            yield port, said, said.split("Pass phrase: ")[1].split("\n")[0]
        finally:
            process.terminate()
            process.wait(60)


def test_it_is_open_to_the_house_with_its_phrase(tmp_path: Path) -> None:
    with house(tmp_path, "--name", "piano.example") as (port, said, phrase):
        assert "can read and change the tunes" in said and "0.0.0.0" not in said
        address = f"http://127.0.0.1:{port}"
        typed = said.split("open at ")[1].split("/\n")[0].removeprefix("http://")
        with httpx.Client(base_url=address, timeout=60) as client:
            for host in (f"127.0.0.1:{port}", f"localhost:{port}", typed,
                         f"{socket.gethostname().lower()}:{port}", f"piano.example:{port}"):
                answer = client.get("/", headers={"host": host})
                assert answer.status_code == 401 and 'action="/enter"' in answer.text, host
                assert 'name="token" content=""' in answer.text
            assert client.get("/", headers={"host": f"evil.example:{port}"}).status_code == 421
            assert client.get("/api/tunes").status_code == 401
            assert client.get("/static/page.css").status_code == 200
            assert client.post("/enter", data={"phrase": "wrong"}).status_code == 403
            assert client.post("/enter", data={"phrase": phrase}, headers={
                "origin": "http://evil.example"}).status_code == 403
            answer = client.post("/enter", data={"phrase": phrase.replace("-", " ")})
            assert answer.status_code == 303
            cookie = answer.headers["set-cookie"].lower()
            assert "httponly" in cookie and "samesite=lax" in cookie
            assert client.get("/api/tunes").json() == {"tunes": []}
            assert 'name="token" content=""' not in client.get("/").text
            # the cookie alone changes nothing: that needs the page's token
            assert client.post("/api/tunes", json={"demo": "snow"}).status_code == 403
            client.cookies.set(COOKIE, client.cookies[COOKIE][:-1] + "x")
        assert httpx.get(f"{address}/api/tunes", timeout=60, headers={
            "cookie": f"{COOKIE}=9999999999.{'0' * 64}"}).status_code == 401


# --- slow clients, and the log ----------------------------------------------------------------


@pytest.fixture
def listening() -> Iterator[int]:
    """A server of nothing but connections; gives its port."""
    listener = socket.create_server(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(fine, http=Connection, ws="none", log_config=None,
                                           lifespan="off"))
    thread = threading.Thread(target=server.run, args=([listener],))
    thread.start()
    try:
        yield listener.getsockname()[1]
    finally:
        server.should_exit = True
        thread.join()


def closed(client: socket.socket) -> bool:
    client.settimeout(30)
    try:
        while client.recv(10_000):  # what is left of an answer may still come
            pass
        return True
    except TimeoutError:
        return False
    except ConnectionResetError:
        return True


def test_a_head_that_does_not_come_is_not_waited_for(listening: int,
                                                     monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "HEAD_SEC", 0.2)
    with socket.create_connection(("127.0.0.1", listening)) as silent:
        assert closed(silent)
    with socket.create_connection(("127.0.0.1", listening)) as slow:
        slow.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
        assert slow.recv(10_000).startswith(b"HTTP/1.1 200")
        time.sleep(0.3)  # a connection may rest between two requests
        slow.sendall(b"GET / HTTP/1.1\r\nHos")
        assert closed(slow)


def test_the_slow_give_way_to_others(listening: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "MOST_OF_ONE", 3)
    monkeypatch.setattr(connections, "HEAD_SEC", 600)  # so that it is not that which closes them
    slow = [socket.create_connection(("127.0.0.1", listening)) for _ in range(6)]
    answer = httpx.get(f"http://127.0.0.1:{listening}/", timeout=60)
    assert answer.text == "fine"
    assert all(closed(client) for client in slow[:4])
    for client in slow:
        client.close()


def test_the_log_speaks_of_no_library(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "fillwright.cli", "serve", "--port", "0", "--data",
               str(tmp_path)]
    with subprocess.Popen(command, text=True, stdout=subprocess.PIPE,
                          stderr=subprocess.PIPE) as process:
        assert process.stdout is not None and process.stderr is not None
        port = int(process.stdout.readline().rstrip("/\n").rsplit(":", 1)[1])
        for request in (b"GET / HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nConnection: Upgrade\r\nUpgrade: "
                        b"websocket\r\n\r\n" % port, b"\x16\x03\x01 no request\r\n\r\n"):
            with socket.create_connection(("127.0.0.1", port)) as client:
                client.sendall(request)
                assert client.recv(100).startswith(b"HTTP/1.1 ")
        process.terminate()
        process.wait(60)
        assert process.stderr.read() == ""


# --- the end ----------------------------------------------------------------------------------

BUSY = """
import asyncio, os, sys, time
from fillwright.web import tasks
from fillwright.web.pool import Worker

def busy(report):
    print(os.getpid(), flush=True)
    time.sleep(600)

tasks.TASKS = {**tasks.TASKS, "busy": busy}

async def main():
    await Worker("busy").run("busy", limit_sec=900)

if __name__ == "__main__":
    asyncio.run(main())
"""


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="it reads /proc")
def test_a_worker_that_is_busy_ends_with_the_server(tmp_path: Path) -> None:
    script = tmp_path / "busy.py"
    script.write_text(BUSY)
    with subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True
                          ) as process:
        assert process.stdout is not None
        worker = process.stdout.readline().strip()
        process.kill()
        process.wait(60)
    until = time.monotonic() + 30  # slow machines; its work takes ten minutes
    while _lives(worker):
        assert time.monotonic() < until
        time.sleep(0.02)


def _lives(number: str) -> bool:
    try:
        state = Path(f"/proc/{number}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except OSError:
        return False
    return state not in "ZX"
