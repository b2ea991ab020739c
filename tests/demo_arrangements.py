"""Arrangements of the demo tunes, made once for the tests of every room."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from fillwright import Arrangement, Options, arrange, read_tune
from fillwright.demo import demo_path

__all__ = ["arranged"]


@lru_cache(maxsize=64)
def arranged(name: str, level: str = "intermediate", tempo: int | None = None) -> Arrangement:
    """An arrangement of a demo tune, or of the sheet of that name."""
    return arrange(read_tune(name if "." in name else demo_path(name)),
                   Options(level=level, tempo=None if tempo is None else Fraction(tempo)))
