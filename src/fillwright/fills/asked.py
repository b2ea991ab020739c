"""What may be asked of `propose`: one clear sentence for everything else."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from fillwright.errors import InputError
from fillwright.fills.devices.registry import known_devices
from fillwright.fills.model import FAMILIES
from fillwright.fills.player import hand_of, level_of
from fillwright.tune.model import Chorus, Gap

__all__ = ["MOST_PROCESSES", "check_asked"]

MOST = 1000
"""Options a gap and family, far more than there are."""
MOST_PROCESSES = 64


def check_asked(chorus: object, gaps: object, *, level: str, hand: str,
                families: Collection[str] | None, numbers: Collection[int] | None, count: int,
                without: Collection[str], processes: int = 1) -> frozenset[str]:
    """Raises InputError for what is none; returns the devices as the tables write them."""
    if not isinstance(chorus, Chorus):
        raise InputError(f"options are proposed for a Chorus, not for {_a(chorus)}; "
                         "unfold(tune) makes one")
    if not isinstance(gaps, Sequence) or not all(isinstance(gap, Gap) for gap in gaps):
        raise InputError("the gaps are those that find_gaps(chorus) gives")
    level_of(level)
    hand_of(hand)
    for family in _several(families, "families"):
        if family not in FAMILIES:
            raise InputError(f"{family!r} is no family; there are {', '.join(FAMILIES)}")
    known = {gap.number for gap in gaps}
    for number in _several(numbers, "numbers"):
        if number not in known:
            raise InputError(f"there is no gap {number!r}; there are {len(gaps)}")
    if not isinstance(count, int) or not 1 <= count <= MOST:
        raise InputError(f"count is a number from 1 to {MOST}, not {count!r}")
    if not isinstance(processes, int) or not 1 <= processes <= MOST_PROCESSES:
        raise InputError(f"processes is a number from 1 to {MOST_PROCESSES}, not {processes!r}")
    return frozenset(known_devices(str(name) for name in _several(without, "without")))


def _several(values: object, what: str) -> Collection[object]:
    if values is None:
        return ()
    if isinstance(values, str) or not isinstance(values, Collection):
        raise InputError(f"{what} is a list, not {values!r}")
    return values


def _a(thing: object) -> str:
    name = type(thing).__name__
    return f"{'an' if name[:1].lower() in 'aeio' else 'a'} {name}"
