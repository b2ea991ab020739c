"""The tunes that come with the package. They were composed for it."""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType

__all__ = ["DEMO_TUNES", "demo_path"]

DEMO_TUNES: MappingProxyType[str, str] = MappingProxyType({
    "lamp": "Third Lamp on the Left, 32 bars AABA, medium swing",
    "snow": "What the Snow Kept, 32 bars ABAC, ballad",
    "ferry": "Ferry Before Noon, 32 bars, jazz waltz",
    "umbrella": "Wrong Umbrella, 12-bar minor blues",
})
"""Name -> what it is. The first is the one shown when none is asked for."""

_DATA = Path(__file__).resolve().parent / "data"


def demo_path(name: str) -> Path:
    """The lead sheet of a demo tune. Raises KeyError for an unknown name.

    >>> demo_path("lamp").name
    'lamp.musicxml'
    """
    if name not in DEMO_TUNES:
        raise KeyError(name)
    return _DATA / f"{name}.musicxml"
