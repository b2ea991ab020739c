"""What the desk says to people: plain text, at most `tables.WIDTH` columns."""

from __future__ import annotations

import textwrap

from fillwright.lesson.rungs import Ladder
from fillwright.tables import WIDTH, fill_lines, gap_heading

__all__ = ["ladder_lines"]


def ladder_lines(found: Ladder) -> list[str]:
    """The rungs of a ladder, the hardest first, then the levels that have none."""
    lines = [*_wrapped(gap_heading(found.gap), "", "    ")]
    for number, rung in enumerate(found.rungs, 1):
        lines.append("")
        lines += _wrapped(f"{number}. {rung.level}, difficulty {rung.difficulty}, up to "
                          f"{rung.highest_tempo} a minute: {rung.fill.device}"
                          + (f", without {_row(rung.left_out)}" if rung.left_out else ""))
        told = fill_lines(rung.fill, number, found.gap, found.chorus, found.hand)
        lines += told[next(i for i, line in enumerate(told) if line.lstrip().startswith("count")):]
    if found.missing:
        lines.append("")
    for one in found.missing:
        lines += _wrapped(f"no {one.level} rung: {one.reason}")
    return lines


def _row(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def _wrapped(text: str, first: str = "  ", then: str = "      ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then)
