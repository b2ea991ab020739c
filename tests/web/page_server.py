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

__all__ = ["CHROMIUM", "CHROMIUM_OPTIONS", "GONE", "ROOT", "Server", "running", "started",
           "watched"]

ROOT = Path(__file__).resolve().parent.parent.parent
CHROMIUM = "/usr/bin/chromium"
UNUSED = (
    # the pages of Chromium's own address bar: a process more for every window, which took a
    # quarter of all that opening a tune takes
    "WebUIOmniboxPopup", "WebUIOmniboxAimPopup", "WebUIOmniboxFullPopup",
    # what Playwright switches off, which another list of features takes the place of
    "AimEnabled", "AvoidCorsURLLoaderRestartOnRedirect", "AvoidUnnecessaryBeforeUnloadCheckSync",
    "DestroyProfileOnBrowserClose", "HttpsFirstBalancedModeAutoEnable", "HttpsUpgrades",
    "LensOverlay", "MediaRouter", "NetworkTimeServiceQuerying", "OptimizationHints",
    "PaintHolding", "PreconnectToSearch", "ThirdPartyStoragePartitioning")
CHROMIUM_OPTIONS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    f"--disable-features={','.join(UNUSED)}"]

GONE = ("ERR_CONNECTION_", "ERR_SOCKET_NOT_CONNECTED", "ERR_EMPTY_RESPONSE",
        "ERR_INCOMPLETE_CHUNKED_ENCODING")
"""What Chromium says of a server that is gone, by the moment at which it goes: refused, reset,
closed or aborted; before a connection kept open is used again; before an answer begins; within it
(its list of network errors, from memory)."""


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
    with started("fillwright.cli", "serve", "--port", "0", "--data", str(data),
                 *options) as address:
        yield address


@contextmanager
def started(module: str, *arguments: str) -> Iterator[str]:
    """A module that serves and says at which address."""
    command = [sys.executable, "-m", module, *arguments]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as process:
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
    page.on("console", lambda message: complaints.append(
        f"{message.text} {message.location.get('url', '')}")
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
