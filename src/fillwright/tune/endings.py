"""Which bars of a sheet are repeated, and which endings each pass takes.

Small faults are repaired with a warning: an ending bracketed over its first bar only, a missing
stop, a missing repeat sign at the end of a first ending, endings with the same number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from fillwright.tune.model import Bar

__all__ = ["Bracket", "EndedSection", "sections_of"]


@dataclass(slots=True)
class Bracket:
    """An ending: bars `first` to `last` for the passes in `numbers`."""

    first: int
    last: int
    numbers: tuple[int, ...]


@dataclass(slots=True)
class EndedSection:
    """Bars `first` to `last`, played `times` times; the brackets lie at its end."""

    first: int
    last: int
    times: int
    brackets: list[Bracket] = field(default_factory=list)

    def bracket_for(self, turn: int) -> Bracket | None:
        return next((b for b in self.brackets if turn in b.numbers), None)


def _brackets(bars: Sequence[Bar]) -> list[Bracket]:
    found: list[Bracket] = []
    for index, bar in enumerate(bars):
        if bar.marks.ending_starts or (bar.marks.endings and (
                index == 0 or bars[index - 1].marks.endings != bar.marks.endings)):
            found.append(Bracket(index, index, bar.marks.endings or (1,)))
        elif bar.marks.endings and found:
            found[-1].last = index
    return found


def _groups(bars: Sequence[Bar], brackets: list[Bracket], warnings: list[str]
            ) -> list[list[Bracket]]:
    """Brackets that belong together; each but the last of a group is drawn out to the bar
    before the next one."""
    groups: list[list[Bracket]] = []
    for bracket in brackets:
        before = groups[-1][-1] if groups else None
        if before is not None and not _new_group(bars, before, bracket):
            if before.last < bracket.first - 1:
                warnings.append(f"bar {bars[before.first].number}: the ending is taken to last "
                                f"until bar {bars[bracket.first - 1].number}")
                before.last = bracket.first - 1
            groups[-1].append(bracket)
        else:
            groups.append([bracket])
    for group in groups:
        # The last ending, bracketed over its first bars only, may close with a repeat.
        last = group[-1]
        if len(group) == 1 and not bars[last.last].marks.repeat_end:
            for index in range(last.last + 1, min(last.last + 5, len(bars))):
                marks = bars[index].marks
                if marks.repeat_start or marks.endings or marks.segno or marks.coda:
                    break
                if marks.repeat_end:
                    warnings.append(f"bar {bars[last.first].number}: the ending is taken to "
                                    f"last until bar {bars[index].number}")
                    last.last = index
                    break
    return groups


def _new_group(bars: Sequence[Bar], before: Bracket, bracket: Bracket) -> bool:
    """Whether a bracket opens a group of its own."""
    if bracket.first == before.last + 1:
        return bars[bracket.first].marks.repeat_start
    between = bars[before.last + 1:bracket.first]
    if any(bar.marks.repeat_start or bar.marks.segno or bar.marks.coda for bar in between):
        return True
    if bars[bracket.first].marks.repeat_start:
        return True
    # Bars between two brackets belong to the first if it has not been closed by a repeat
    # or if they close it.
    if max(bracket.numbers) <= max(before.numbers) or 1 in bracket.numbers:
        return True
    return bars[before.last].marks.repeat_end


def sections_of(bars: Sequence[Bar], warnings: list[str]) -> list[EndedSection]:
    """The stretches that are repeated, as they come to an end. Warnings are added to `warnings`."""
    groups = _groups(bars, _brackets(bars), warnings)
    by_first = {group[0].first: group for group in groups}
    inside = {index for group in groups for index in range(group[0].first, group[-1].last + 1)}
    sections: list[EndedSection] = []
    open_starts: list[int] = []
    free = 0  # where a repeat without a beginning goes back to
    index = 0
    while index < len(bars):
        marks = bars[index].marks
        if marks.repeat_start:
            open_starts.append(index)
        if index in by_first:
            group = by_first[index]
            start = open_starts.pop() if open_starts else free
            section = _ending_section(bars, start, group, warnings)
            if section is not None:
                sections.append(section)
                free = section.last + 1
            elif marks.repeat_end:
                sections.append(EndedSection(start, group[-1].last, marks.repeat_times))
                free = group[-1].last + 1
            else:
                open_starts.append(start)
            index = group[-1].last + 1
            continue
        if marks.repeat_end and index not in inside:
            start = open_starts.pop() if open_starts else free
            sections.append(EndedSection(start, index, marks.repeat_times))
            free = index + 1
        index += 1
    for start in open_starts:
        if bars[start].marks.repeat_start:
            warnings.append(f"bar {bars[start].number}: a repeat begins that nothing ends; "
                            "the bars are played once")
    return sections


def _ending_section(bars: Sequence[Bar], start: int, group: list[Bracket],
                    warnings: list[str]) -> EndedSection | None:
    first = group[0].first
    number = bars[first].number
    if start > first or (start == first and len(group) == 1):
        warnings.append(f"bar {number}: an ending with nothing before it; its bracket is "
                        "ignored")
        return None
    repeats = [bars[bracket.last].marks.repeat_end for bracket in group]
    if len(group) == 1 and not repeats[0]:
        warnings.append(f"bar {number}: an ending that nothing repeats; its bracket is ignored")
        return None
    taken: set[int] = set()
    doubled = False
    for bracket in group:
        doubled |= bool(taken & set(bracket.numbers))
        taken |= set(bracket.numbers)
    if doubled or taken != set(range(1, len(taken) + 1)):
        warnings.append(f"bar {number}: the endings are not numbered 1, 2, 3; they are taken "
                        "in order")
        turn = 1
        for bracket in group:
            count = 1 if doubled else len(bracket.numbers)
            bracket.numbers = tuple(range(turn, turn + count))
            turn += count
    for place, bracket in enumerate(group[:-1]):
        if not repeats[place]:
            warnings.append(f"bar {bars[bracket.last].number}: the repeat sign at the end of "
                            "the ending is missing; it is taken as written")
    times = max(max(bracket.numbers) for bracket in group)
    if len(group) == 1:
        times = max(times + 1, bars[group[0].last].marks.repeat_times)
        group[0].numbers = tuple(range(1, times))
    return EndedSection(start, group[-1].last, times, group)
