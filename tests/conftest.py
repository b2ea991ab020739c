"""Two tiers: what is not marked ``slow`` runs in `make check`, everything in `make test`."""

from __future__ import annotations

from pathlib import Path

import pytest

WHOLE_FILE = "\npytestmark = pytest.mark.slow\n"


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """A file that is slow as a whole is not even imported where slow tests are left out."""
    if config.getoption("markexpr") != "not slow" or collection_path.suffix != ".py":
        return None
    return WHOLE_FILE in collection_path.read_text(encoding="utf-8") or None
