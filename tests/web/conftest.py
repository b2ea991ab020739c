"""A server of its own for the tests of the page, opened in a real browser."""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest
from playwright.sync_api import Browser, Page
from tests.web.page_server import Server, running, watched


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    data = tmp_path_factory.mktemp("page")
    with running(data) as address:
        page = httpx.get(address, timeout=60).text
        yield Server(address, page.split('name="token" content="')[1].split('"')[0], data)


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page that fails its test if anything complains in the console, or goes out of the
    house."""
    with watched(browser) as page:
        yield page
