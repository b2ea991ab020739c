"""A server of its own for the tests of the page, and a real browser.

The browser is Chromium as the system has it (on Debian: apt-get install chromium).
"""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright
from tests.web.page_server import CHROMIUM, CHROMIUM_OPTIONS, Server, running, watched


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    data = tmp_path_factory.mktemp("page")
    with running(data) as address:
        page = httpx.get(address, timeout=60).text
        yield Server(address, page.split('name="token" content="')[1].split('"')[0], data)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    expect.set_options(timeout=30_000)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_OPTIONS)
        yield browser
        browser.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page that fails its test if anything complains in the console, or goes out of the
    house."""
    with watched(browser) as page:
        yield page
