"""A ladder on paper and in sound: its rungs one after the other, each with the bars around it."""

from __future__ import annotations

from dataclasses import replace

from fillwright.arranging.model import Arrangement, Options
from fillwright.arranging.window import window_of
from fillwright.fills.ladder.naming import joined
from fillwright.fills.ladder.rungs import Ladder
from fillwright.lesson.paper import STAFF_UNIT, STAFF_WIDTHS, entry_of, printed
from fillwright.lesson.rounds import around_gap
from fillwright.lesson.saying import say_in
from fillwright.lesson.staff import StaffWanted, engraved
from fillwright.lesson.strung import cut_piece, strung
from fillwright.lesson.task import Sheet
from fillwright.tune.gaps import find_gaps

__all__ = ["study_of", "study_pdf"]


def study_of(found: Ladder, options: Options) -> Arrangement:
    """The hardest rung first; over each its level."""
    chorus, gap = found.chorus, found.gap
    pieces = [cut_piece(chorus, (gap,), (rung.fill,), rung.level,
                        around_gap(chorus, gap)) for rung in found.rungs]
    return strung(f"{chorus.tune.title}: gap {gap.number}, step by step", pieces, options)[0]


def study_pdf(found: Ladder, options: Options, language: str = "en") -> bytes:
    """A page of levels, the hardest rung first: what is left out of each, how fast it goes, its
    staff, the keys that a hand plays, counts and reasons; then the levels without a rung, and
    why. Raises `EngravingError`."""
    say = say_in(language)
    title = say("study.title", title=found.chorus.tune.title, gap=found.gap.number)
    drawings: dict[str, str] = {}
    entries = [entry_of(number, rung.fill, found.gap, staff, drawings) | {
        "heading": say(f"pack.level_{rung.level}"),
        "describing": say("study.figures", difficulty=rung.difficulty, tempo=rung.highest_tempo),
        "words": [say("study.without", what=joined(rung.left_out))] if rung.left_out else []}
        for number, (rung, staff) in enumerate(zip(
            found.rungs, _staves(found, options), strict=True), 1)]
    return printed(say, title, entries, drawings, {"language": language, "notes": [
        say("study.missing", level=say(f"pack.level_{one.level}"), reason=one.reason)
        for one in found.missing]})


def _staves(found: Ladder, options: Options) -> tuple[str, ...]:
    gaps = find_gaps(found.chorus)
    sheets = []
    for rung in found.rungs:
        window = window_of(found.chorus, gaps, found.gap.number, rung.fill, options)
        sheets.append(Sheet(replace(window.arrangement, gaps=(window.gap,))))
    return engraved([StaffWanted(sheet, STAFF_WIDTHS["A4"], STAFF_UNIT) for sheet in sheets])
