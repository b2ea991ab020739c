"""Starting ``fillwright serve`` for a test, and asking it."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

__all__ = ["CHROMIUM", "CHROMIUM_OPTIONS", "ROOT", "Server", "running"]

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
def running(data: Path) -> Iterator[str]:
    """``fillwright serve`` on a free port; gives its address."""
    command = [sys.executable, "-m", "fillwright.cli", "serve", "--port", "0",
               "--data", str(data)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            line = process.stdout.readline()
            assert "fillwright is open at" in line, line
            yield line.split()[-1].rstrip("/")
        finally:
            process.terminate()
            process.wait(20)
