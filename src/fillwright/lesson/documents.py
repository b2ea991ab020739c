"""What the desk gives other programs, as JSON (docs/json.md)."""

from __future__ import annotations

from collections.abc import Iterable

from fillwright.arranging.model import Options
from fillwright.contract import VERSION, Json, fill_value, gap_value, options_value, tune_value
from fillwright.lesson.rungs import Ladder

__all__ = ["ladder_document"]


def ladder_document(found: Ladder, options: Options, warnings: Iterable[str] = ()) -> Json:
    """What ``fillwright ladder --json`` prints."""
    gap = found.gap
    return {
        "version": VERSION, "tune": tune_value(found.chorus), "options": options_value(options),
        "warnings": list(warnings), "gap": gap_value(gap, found.chorus),
        "rungs": [{"level": rung.level, "difficulty": rung.difficulty,
                   "highest_tempo": rung.highest_tempo, "left_out": list(rung.left_out),
                   "fill": fill_value(rung.fill, gap)} for rung in found.rungs],
        "missing": [{"level": one.level, "reason": one.reason} for one in found.missing],
    }
