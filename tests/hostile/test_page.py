"""The page under attack, in small; ``make attack`` does the same for longer."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.hostile.attack import (
    Page,
    attack_page,
    attack_with_full_disk,
    attack_with_kills,
    attack_with_slow_clients,
    page,
)

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    with page(tmp_path_factory.mktemp("hostile")) as server:
        yield server


def test_no_request_is_an_error_of_the_server(server: Page) -> None:
    outcome = attack_page(server.address, server.token, 60, 14)
    assert outcome.faults == []
    assert outcome.counts["done"] >= 10 and outcome.counts["refused"] >= 40


def test_slow_clients_hold_up_nobody(server: Page) -> None:
    outcome = attack_with_slow_clients(server.address, 160)  # more than one address may have
    assert outcome.faults == [] and outcome.counts["others answered"] == 16


def test_kills_lose_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    outcome = attack_with_kills(1, 14, tmp_path)
    assert outcome.faults == [] and outcome.counts["kills"] == 1
    assert outcome.counts["changes acknowledged"] > 0


def test_a_full_disk_loses_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    outcome = attack_with_full_disk(1, tmp_path / "disk")
    if not outcome.counts["full"]:
        pytest.skip(str(dict(outcome.counts)))
    assert outcome.faults == [] and outcome.counts["taken off"] == 1
