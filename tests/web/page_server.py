"""Starting ``fillwright serve`` for a test, and asking it."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx
from playwright.sync_api import Browser, Page

__all__ = ["CHROMIUM", "CHROMIUM_OPTIONS", "ROOT", "Server", "running", "watched"]

ROOT = Path(__file__).resolve().parent.parent.parent
CHROMIUM = "/usr/bin/chromium"
CHROMIUM_OPTIONS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync"]


@dataclass(frozen=True)
class Server:
    """A running server: its address, its token, and where it keeps its tunes."""

    address: str
    token: str
    data: Path

    def client(self) -> httpx.Client:
        """One that may change things, as the page's own scripts do."""
        return httpx.Client(base_url=self.address, timeout=60, headers={"x-token": self.token})

    def demo(self, name: str = "umbrella") -> str:
        """Put a demo tune on the shelf; returns its id."""
        with self.client() as client:
            return str(client.post("/api/tunes", json={"demo": name}).json()["id"])


@contextmanager
def running(data: Path, *options: str) -> Iterator[str]:
    """``fillwright serve`` on a free port; gives its address."""
    command = [sys.executable, "-m", "fillwright.cli", "serve", "--port", "0",
               "--data", str(data), *options]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            line = process.stdout.readline()
            assert "fillwright is open at" in line, line
            yield line.split()[-1].rstrip("/")
        finally:
            process.terminate()
            process.wait(60)


@contextmanager
def watched(browser: Browser, *expected: str, size: tuple[int, int] = (1360, 900),
            **device: bool) -> Iterator[Page]:
    """A page of its own; at the end it is asserted that nothing complained in the console but
    what holds one of the expected texts, and that nothing went out of the house."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]},
                                  reduced_motion="reduce", accept_downloads=True,
                                  **device)  # type: ignore[arg-type]
    page = context.new_page()
    page.set_default_timeout(120_000)
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text)
            if message.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    outside: list[str] = []
    page.on("request", lambda request: outside.append(request.url)
            if not request.url.startswith("http://127.0.0.1:") else None)
    try:
        yield page
    finally:
        context.close()
    assert outside == []
    allowed = ("422 (", "409 (", *expected)  # refused input is answered so, and shown
    unexpected = [text for text in complaints if not any(word in text for word in allowed)]
    assert not unexpected, unexpected
