"""One check over a whole table of cases, as one test whose failure lists every case that fails.

For tables of near-equal cases: a thousand tests of their own cost more time to collect and to
report than to run.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from typing import Any

import pytest

SHOWN = 20


def every(*tables: Iterable[Any]) -> Callable[[Callable[..., None]], Callable[[], None]]:
    """Run the check with every combination of the rows of the tables.

    A row that is a tuple gives several arguments. The arguments follow the order of the tables.
    """
    rows = [[row if isinstance(row, tuple) else (row,) for row in table] for table in tables]

    def decorate(check: Callable[..., None]) -> Callable[[], None]:
        def test() -> None:
            tried, failed = 0, []
            for combination in itertools.product(*rows):
                case = tuple(itertools.chain.from_iterable(combination))
                tried += 1
                try:
                    check(*case)
                except Exception as error:  # listed below, with the case it belongs to
                    first = (str(error) or repr(error)).strip()
                    failed.append(f"{case}: {type(error).__name__}: {first}")
            assert tried, "an empty table"
            if failed:
                more = f"\n... and {len(failed) - SHOWN} more" if len(failed) > SHOWN else ""
                pytest.fail(f"{len(failed)} of {tried} cases fail:\n"
                            + "\n".join(failed[:SHOWN]) + more, pytrace=False)

        test.__name__, test.__doc__ = check.__name__, check.__doc__
        test.__module__, test.__qualname__ = check.__module__, check.__qualname__
        return test

    return decorate
