"""Who may ask: hosts, origins, the token, sizes, paths; and what no answer may leave out."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Iterator, MutableMapping
from concurrent.futures import ThreadPoolExecutor
from typing import Any
from urllib.parse import urlsplit

import httpx
import pytest
from tests.web.page_server import Server

from fillwright.web.guard import Guard

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def key(server: Server) -> str:
    return server.demo()


@pytest.mark.parametrize("host", ["evil.example", "localhost.evil.example", "127.0.0.1",
                                  "localhost:1", "127.0.0.1:99999", ""])
def test_a_host_that_is_not_ours_is_refused(server: Server, host: str) -> None:
    # DNS rebinding: a foreign name that points at the loopback address.
    answer = httpx.get(server.address, headers={"host": host}, timeout=60)
    assert answer.status_code in (400, 421)


def test_localhost_by_its_name_is_ours(server: Server) -> None:
    port = urlsplit(server.address).port
    answer = httpx.get(server.address, headers={"host": f"localhost:{port}"}, timeout=60)
    assert answer.status_code == 200


@pytest.mark.parametrize("headers", [
    {"origin": "http://evil.example"}, {"origin": "null"}, {"origin": "https://127.0.0.1"},
    {"sec-fetch-site": "cross-site"}, {"sec-fetch-site": "same-site"}, {"x-token": "guessed"},
    {"x-token": ""}])
def test_a_change_from_elsewhere_is_refused(server: Server, headers: dict[str, str]) -> None:
    with server.client() as client:
        answer = client.post("/api/tunes", json={"demo": "umbrella"}, headers=headers)
    assert answer.status_code == 403


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded"])
def test_what_a_form_of_another_site_could_send_is_no_json(server: Server, kind: str) -> None:
    with server.client() as client:
        answer = client.post("/api/tunes", content=b'{"demo": "umbrella"}',
                             headers={"content-type": kind})
    assert answer.status_code == 415


def test_another_site_cannot_read_but_a_link_to_the_page_works(server: Server, key: str) -> None:
    headers = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "cors"}
    answer = httpx.get(f"{server.address}/api/tunes", headers=headers, timeout=60)
    assert answer.status_code == 403
    headers["sec-fetch-mode"] = "navigate"
    answer = httpx.get(f"{server.address}/tunes/{key}", headers=headers, timeout=60)
    assert answer.status_code == 200


def test_get_changes_nothing(server: Server, key: str) -> None:
    with server.client() as client:
        before = client.get(f"/api/tunes/{key}").json()["version"]
        for path in ("undo", "redo", "chord", "jobs", "gaps/1/check", "gaps/1/heard"):
            assert client.get(f"/api/tunes/{key}/{path}").status_code == 405
        for path in ("", "/lead", "/gaps/1"):
            assert client.get(f"/api/tunes/{key}{path}").status_code == 200
        assert client.get(f"/api/tunes/{key}").json()["version"] == before


@pytest.mark.parametrize("path", ["/", "/api/tunes", "/static/page.css", "/nothing", "/tunes/no"])
def test_headers_of_every_answer(server: Server, path: str) -> None:
    answer = httpx.get(server.address + path, timeout=60)
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy and "unsafe" not in policy
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "server" not in answer.headers


def test_pages_hold_no_inline_script_or_style(server: Server, key: str) -> None:
    for path in ("/", f"/tunes/{key}", "/tunes/none"):
        text = httpx.get(server.address + path, timeout=60).text
        assert "<style" not in text and " style=" not in text and " on" + "click" not in text
        # The words of the page are data, which no browser runs.
        assert text.count("<script") == text.count('<script type="module" src="/static/'
                                                   ) + text.count('<script type="application/json"')


@pytest.mark.parametrize("path", [
    "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "/static/%5c..%5capp.py",
    "/static//etc/passwd", "/static/C:%5cboot.ini", "/static/page.css%00.js", "/tunes/..%2f..",
    "/api/tunes/..%2f..%2fetc%2fpasswd", "/api/jobs/../tunes", "/api/piano/1", "/api/piano/-1"])
def test_no_path_reaches_a_file(server: Server, path: str) -> None:
    parts = urlsplit(server.address)
    with socket.create_connection((parts.hostname, parts.port)) as raw:  # sent as it stands
        raw.sendall(f"GET {path} HTTP/1.1\r\nHost: {parts.netloc}\r\nConnection: close\r\n\r\n"
                    .encode())
        answer = b"".join(iter(lambda: raw.recv(65536), b""))
    assert answer.split(b" ", 2)[1] in (b"404", b"400", b"307")
    assert b"Traceback" not in answer and b"def " not in answer


@pytest.mark.parametrize("declared", [True, False])
def test_too_much_is_not_taken(server: Server, declared: bool) -> None:
    def body() -> Iterator[bytes]:
        for _ in range(12):
            yield b"x" * 1024 * 1024

    headers = {"content-type": "application/json"}
    if declared:
        headers["content-length"] = str(12 * 1024 * 1024)
    with server.client() as client:
        try:
            answer = client.post("/api/tunes", content=body(), headers=headers)
        except httpx.TransportError:  # it hung up before all was sent, or read
            return
    assert answer.status_code == 413


def test_unknown_methods_and_doubled_headers(server: Server) -> None:
    assert httpx.request("TRACE", server.address, timeout=60).status_code == 405
    assert httpx.request("OPTIONS", server.address, timeout=60).status_code == 405
    doubled = [("x-token", server.token), ("x-token", server.token)]
    answer = httpx.post(f"{server.address}/api/tunes", headers=doubled, timeout=60)
    assert answer.status_code == 400


def test_an_upload_that_never_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fillwright.web.guard.BODY_SEC", 0.05)
    sent: list[MutableMapping[str, Any]] = []

    async def app(scope: Any, receive: Any, send: Any) -> None:
        raise AssertionError("the body was not there yet")

    async def receive() -> dict[str, Any]:
        await asyncio.sleep(0.03)
        return {"type": "http.request", "body": b"x", "more_body": True}

    async def send(message: MutableMapping[str, Any]) -> None:
        sent.append(message)

    guard = Guard(app, ["here:1"])
    headers = [(b"host", b"here:1"), (b"x-token", guard.token.encode())]
    with ThreadPoolExecutor(1) as thread:
        thread.submit(asyncio.run, guard(
            {"type": "http", "method": "POST", "path": "/", "headers": headers}, receive, send)
            ).result()
    assert sent[0]["status"] == 408
    assert any(name == b"content-security-policy" for name, _ in sent[0]["headers"])


def test_a_fault_shows_no_traceback(caplog: pytest.LogCaptureFixture) -> None:
    sent: list[MutableMapping[str, Any]] = []

    async def app(scope: Any, receive: Any, send: Any) -> None:
        raise RuntimeError("secret")

    async def send(message: MutableMapping[str, Any]) -> None:
        sent.append(message)

    guard = Guard(app, ["here:1"])
    with ThreadPoolExecutor(1) as thread:
        thread.submit(asyncio.run, guard(
            {"type": "http", "method": "GET", "path": "/", "headers": [(b"host", b"here:1")]},
            None, send)).result()  # type: ignore[arg-type]
    assert sent[0]["status"] == 500 and b"secret" not in sent[1]["body"]
    assert "secret" in caplog.text
