"""A ladder on paper and in sound: its rungs one after the other, each with the bars around it."""

from __future__ import annotations

from fillwright.arranging.model import Arrangement, Options
from fillwright.lesson.rounds import around_gap
from fillwright.lesson.rungs import Ladder
from fillwright.lesson.strung import cut_piece, strung

__all__ = ["study_of"]


def study_of(found: Ladder, options: Options) -> Arrangement:
    """The hardest rung first; over each its level."""
    chorus, gap = found.chorus, found.gap
    pieces = [cut_piece(chorus, (gap,), (rung.fill,), rung.level,
                        around_gap(chorus, gap)) for rung in found.rungs]
    return strung(f"{chorus.tune.title}: gap {gap.number}, step by step", pieces, options)[0]
