"""Tunes for the tests of the desk."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from pathlib import Path

from fillwright import Chorus, Fill, Gap, find_gaps, propose, read_tune, unfold

NAMES = ("ferry", "lamp", "snow", "umbrella")


def sheet(name: str) -> Path:
    """One of the tunes that come along."""
    return Path(str(files("fillwright").joinpath("data", f"{name}.musicxml")))


@cache
def tune_of(name: str) -> tuple[Chorus, tuple[Gap, ...]]:
    chorus = unfold(read_tune(sheet(name)))
    return chorus, find_gaps(chorus)


@cache
def offered(name: str, number: int, level: str, count: int = 2) -> tuple[Fill, ...]:
    chorus, gaps = tune_of(name)
    return propose(chorus, gaps, level=level, numbers=[number], count=count).fills
