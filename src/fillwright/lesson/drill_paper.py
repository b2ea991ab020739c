"""A drill on paper: the lead sheet with its gaps, a line to tick for each, then the answers.

The same drill gives the same bytes.
"""

from __future__ import annotations

from pathlib import Path

from fillwright.lesson.drills import Drill, DrillGap
from fillwright.score.engraver import CAUTION
from fillwright.score.lead import lead_sheet
from fillwright.score.typeset import typeset
from fillwright.tables import count_of, gap_heading
from fillwright.tune.model import Gap

__all__ = ["drill_pdf"]

_TEMPLATE = Path(__file__).resolve().parent / "drill.typ"


def drill_pdf(found: Drill) -> bytes:
    """A4. Raises `EngravingError` where the sheet cannot be engraved."""
    pages = lead_sheet(found.chorus, [one.gap for one in found.gaps]).pages
    names = [f"sheet-{number}.svg" for number in range(1, len(pages) + 1)]
    data = {
        "title": f"{found.chorus.tune.title}: comp, reharm or line?", "answers": "Answers",
        "asked": f"For a player of the {found.options.level} level. Tick what you would play "
                 "before you turn the page.",
        "heads": ["gap", "bar", "beats", "chords", "comp", "reharm", "line"],
        "caution": CAUTION, "sheets": names,
        "gaps": [{"cells": _cells(one.gap), "heading": gap_heading(one.gap),
                  "works": [[fill.family, fill.device, sentence]
                            for fill, sentence in one.works],
                  "empty": _empty(one)} for one in found.gaps]}
    return typeset(_TEMPLATE.read_text(encoding="utf-8"), data,
                   dict(zip(names, pages, strict=True)))


def _cells(gap: Gap) -> list[str]:
    place = gap.bar if gap.pass_number == 1 else f"{gap.bar}, time {gap.pass_number}"
    return [str(gap.number), f"{place}, beat {count_of(gap.beat)}", count_of(gap.beats),
            "  ".join(span.symbol.pretty for span in gap.chords)]


def _empty(one: DrillGap) -> list[list[str]]:
    return [[none.family, none.reason] for none in one.empty]
