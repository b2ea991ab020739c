"""Two tiers: what is not marked ``slow`` runs in `make check`, everything in `make test`."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser

gc.set_threshold(100_000, 20, 100)
"""Thousands of tests keep what is worth keeping: looking through all of it for cycles as often
as Python does by itself took an eighth of the time."""

WHOLE_FILE = "\npytestmark = pytest.mark.slow\n"


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """A file that is slow as a whole is not even imported where slow tests are left out."""
    if config.getoption("markexpr") != "not slow" or collection_path.suffix != ".py":
        return None
    return WHOLE_FILE in collection_path.read_text(encoding="utf-8") or None


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium as the system has it (on Debian: apt-get install chromium)."""
    from playwright.sync_api import expect, sync_playwright
    from tests.web.page_server import CHROMIUM, CHROMIUM_OPTIONS

    expect.set_options(timeout=120_000)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_OPTIONS)
        yield browser
        browser.close()
