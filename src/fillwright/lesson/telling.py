"""What the desk says to people: plain text, at most `tables.WIDTH` columns."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from fillwright.fills.ladder.naming import joined
from fillwright.fills.ladder.rungs import Ladder
from fillwright.lesson.choices import KindOfGap
from fillwright.lesson.drills import Drill
from fillwright.lesson.practice import FOURTHS, Practice, Share, progress_rows
from fillwright.lesson.rounds import Round
from fillwright.lesson.students import Student
from fillwright.tables import WIDTH, fill_lines, gap_heading, table

__all__ = ["choice_lines", "drill_lines", "ladder_lines", "progress_lines", "round_lines",
           "student_line", "today_lines"]


def ladder_lines(found: Ladder) -> list[str]:
    """The rungs of a ladder, the hardest first, then the levels that have none."""
    lines = [*_wrapped(gap_heading(found.gap), "", "    ")]
    for number, rung in enumerate(found.rungs, 1):
        lines.append("")
        lines += _wrapped(f"{number}. {rung.level}, difficulty {rung.difficulty}, up to "
                          f"{rung.highest_tempo} a minute: {rung.fill.device}"
                          + (f", without {joined(rung.left_out)}" if rung.left_out else ""))
        told = fill_lines(rung.fill, number, found.gap, found.chorus, found.hand)
        lines += told[next(i for i, line in enumerate(told) if line.lstrip().startswith("count")):]
    if found.missing:
        lines.append("")
    for one in found.missing:
        lines += _wrapped(f"no {one.level} rung: {one.reason}")
    return lines


def _wrapped(text: str, first: str = "  ", then: str = "      ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then)


def round_lines(found: Round) -> list[str]:
    """The keys of a round in their order, how hard each is, and what is different in it."""
    width = max(len(one.key.tonic.pretty) for one in found.keys)
    lines = []
    for one in found.keys:
        head = f"  {one.key.tonic.pretty.ljust(width)}  difficulty {one.difficulty:3}  "
        lines += textwrap.wrap(head + ("; ".join(one.changed) or "as it stands"), WIDTH,
                               subsequent_indent=" " * len(head), drop_whitespace=True)
    return lines


def drill_lines(found: Drill, *, answers: bool = True) -> list[str]:
    """Gap by gap what would work, the best first; only the gaps, where the answers wait."""
    lines: list[str] = []
    for one in found.gaps:
        lines += _wrapped(gap_heading(one.gap), "", "    ")
        if answers:
            for fill, sentence in one.works:
                lines += _wrapped(f"{fill.family}: {fill.device}. {sentence}")
            for none in one.empty:
                lines += _wrapped(f"no {none.family}: {none.reason}")
        else:
            lines.append("  comp, reharm, line?")
        lines.append("")
    return lines[:-1]


def student_line(one: Student) -> str:
    """A student in a line."""
    off = f", without {joined(one.without)}" if one.without else ""
    notes = f": {' '.join(one.notes.split())}" if one.notes else ""
    return f"{one.name}, {one.level}, {one.hand} hand{off}{notes}"


def today_lines(row: Sequence[Practice], done: int) -> list[str]:
    """A day's practice, a line each, in the order to play; `done`: minutes, today."""
    said = f", after the {done} of today" if done else ""
    if not row:
        return [f"nothing more today: {done} minutes are done" if done else "nothing is due today"]
    return [f"{sum(one.minutes for one in row)} minutes{said}", *table(
        ["n", "what", "tempo", "minutes", "why"],
        [[str(one.item.number), one.item.words, str(one.tempo), str(one.minutes), one.why]
         for one in row], right=[0, 2, 3])]


def progress_lines(shares: Sequence[Share]) -> list[str]:
    """All that is practised, and what is known in which key, in hundredths."""
    if not shares:
        return ["nothing to practise yet"]
    lines = ["", *table(
        ["n", "what", "tempo", "aim", "known", "again on"],
        [[str(one.item.number), one.item.words, str(one.item.now_tempo), str(one.item.tempo),
          "new" if one.known is None else f"{round(100 * one.known)} %",
          "" if one.item.due is None else str(one.item.due.date())] for one in shares],
        right=[0, 2, 3, 4])]
    rows = progress_rows(shares)
    if rows:
        lines += ["", *table(["known in", *FOURTHS], [
            [name, *("" if cell is None else str(cell) for cell in row)] for name, row in rows],
            right=range(1, len(FOURTHS) + 1))]
    return lines


def choice_lines(kinds: Sequence[KindOfGap]) -> list[str]:
    """Where choosing is slow, the slowest kind of gap first."""
    return table(["kind of gap", "asked", "worked", "seconds"],
                 [[one.kind, str(one.asked), str(one.worked), f"{one.seconds:.1f}"]
                  for one in kinds], right=[1, 2, 3])
