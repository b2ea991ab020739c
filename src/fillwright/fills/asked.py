"""What may be asked of `propose`: one clear sentence for everything else."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from fillwright.errors import InputError
from fillwright.fills.model import FAMILIES
from fillwright.fills.player import hand_of, level_of
from fillwright.given import a, given_whole, several
from fillwright.tune.model import Chorus, Gap

__all__ = ["MOST_PROCESSES", "check_asked", "devices_of", "family_of"]

MOST = 1000
"""Options a gap and family, far more than there are."""
MOST_PROCESSES = 64


def check_asked(chorus: object, gaps: object, *, level: str, hand: str,
                families: Collection[str] | None, numbers: Collection[int] | None, count: int,
                without: Collection[str], processes: int = 1, progress: object = None,
                same_each_time: object = False
                ) -> frozenset[str]:
    """Raises InputError for what is none; returns the devices as the tables write them."""
    if not isinstance(chorus, Chorus):
        raise InputError(f"options are proposed for a Chorus, not for {a(chorus)}; "
                         "unfold(tune) makes one")
    if not isinstance(gaps, Sequence) or not all(isinstance(gap, Gap) for gap in gaps):
        raise InputError("the gaps are those that find_gaps(chorus) gives")
    if any(gap.end_quarter > chorus.length_quarter for gap in gaps):
        raise InputError("the gaps are those of another chorus; find_gaps(chorus) gives its own")
    level_of(level)
    hand_of(hand)
    for family in several(families, "families"):
        family_of(family)
    known = [gap.number for gap in gaps]
    for number in several(numbers, "numbers"):
        if isinstance(number, bool) or not isinstance(number, int) or number not in known:
            raise InputError(f"there is no gap {number!r}; there are {len(gaps)}")
    given_whole(count, "count", 1, MOST)
    given_whole(processes, "processes", 1, MOST_PROCESSES)
    if not isinstance(same_each_time, bool):
        raise InputError(f"same_each_time is true or false, not {same_each_time!r}")
    if progress is not None and not callable(progress):
        raise InputError(f"progress is a function of gaps done and gaps in all, not {progress!r}")
    return devices_of(without)


def family_of(name: object) -> str:
    """A family. Raises InputError for what is none."""
    if name not in FAMILIES:
        raise InputError(f"{name!r} is no family; there are {', '.join(FAMILIES)}")
    return str(name)


def devices_of(without: object) -> frozenset[str]:
    """Devices that are switched off, as the tables write them. Raises InputError."""
    from fillwright.fills.devices.registry import known_devices  # of all families: it takes a while

    return frozenset(known_devices(str(name) for name in several(without, "without")))
