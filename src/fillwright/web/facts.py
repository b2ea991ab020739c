"""What the shelf shows of a tune beside its title."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

__all__ = ["facts_of"]


def facts_of(overview: Mapping[str, Any], level: str) -> dict[str, Any]:
    """Of a tune as it is played: key, metre, whole bars (a pickup is none), how many gaps, and
    the level."""
    tune = overview["tune"]
    return {"key": tune["key"], "meter": tune["meter"],
            "bars": sum(not bar["pickup"] for bar in overview["bars"]),
            "gaps": len(overview["gaps"]), "level": level}
