"""In which order the bars of a sheet are played.

What a player does (common practice): a repeat goes back to the last open forward repeat,
or to the start of the section; each pass takes the ending with its number; D.C. and D.S.
hold after the repeats are done, and on the way back no repeats are taken and the last
ending is; Fine and "to coda" hold only on that way back. Repeats in a coda that has not
been played before are taken.

Small faults are repaired with a warning (see `fillwright.tune.endings`). Where the marks make
no sense the bars are played as printed, once.

A sheet may also state the order of its parts outright (`fillwright.tune.partorder`): then
each part is played with its own repeats whenever it is called, and D.C. and D.S. say nothing
new.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.tune.endings import Bracket, EndedSection, sections_of
from fillwright.tune.limits import MAX_PLAYED_BARS
from fillwright.tune.model import Bar, Jump
from fillwright.tune.partorder import Part, labels_of

__all__ = ["cut_for_pickup", "lacks_its_pickup", "playing_order"]

_DAL_SEGNO = (Jump.DAL_SEGNO, Jump.DAL_SEGNO_AL_FINE, Jump.DAL_SEGNO_AL_CODA)
_AL_CODA = (Jump.DA_CAPO_AL_CODA, Jump.DAL_SEGNO_AL_CODA)
_AL_FINE = (Jump.DA_CAPO_AL_FINE, Jump.DAL_SEGNO_AL_FINE)


class _Nonsense(Exception):
    """The marks contradict each other."""


def playing_order(bars: Sequence[Bar], parts: Sequence[str] = ()) -> tuple[list[int], list[str]]:
    """Indices of the printed bars in the order they are played, and warnings.

    parts  labels of sections in the order the sheet says they are played; () where only its
           signs do

    Raises InputError where more than `MAX_PLAYED_BARS` bars would be played.
    """
    order, warnings = _as_marked(bars)
    if not parts:
        return order, warnings
    called = "".join(parts)[:40]
    ranges = labels_of([bar.section for bar in bars], parts)
    missing = [label for label in parts if label not in ranges]
    if missing:
        return order, [*warnings, f"the order of parts {called} calls part {missing[0]}, which "
                                  "is marked nowhere; the signs of the form are followed"]
    if _entered(order, ranges) == list(parts):
        return order, warnings  # it says what the repeat signs say
    return _by_parts(bars, parts, ranges)


def _as_marked(bars: Sequence[Bar]) -> tuple[list[int], list[str]]:
    warnings: list[str] = []
    try:
        sections = sections_of(bars, warnings)
        return _Player(bars, sections, warnings).play(), warnings
    except _Nonsense as problem:
        warnings.append(f"{problem}; the tune is played as printed, once")
        return list(range(len(bars))), warnings


# Parts ---------------------------------------------------------------------------------


def _entered(order: Sequence[int], ranges: dict[str, Part]) -> list[str]:
    """The parts that are begun, in this order of bars."""
    labels = {index: label for label, part in ranges.items() for index in range(*part)}
    entered: list[str] = []
    previous = -1
    for index in order:
        label = labels.get(index, "")
        if index <= previous or not entered or label != labels.get(previous, ""):
            entered.append(label)
        previous = index
    return [label for label in entered if label]


def _by_parts(bars: Sequence[Bar], parts: Sequence[str], ranges: dict[str, Part]
              ) -> tuple[list[int], list[str]]:
    """The bars before the first part, once, then each part as it is called."""
    order = list(range(min(first for first, _ in ranges.values())))
    warnings: list[str] = []
    alone: dict[str, list[int]] = {}
    turns: Counter[str] = Counter()
    for label in parts:
        first, end = ranges[label]
        turns[label] += 1
        last_ending = max(max(bar.marks.endings, default=0) for bar in bars[first:end])
        if 1 < last_ending <= parts.count(label):
            turn = min(turns[label], last_ending)
            order += [index for index in range(first, end)
                      if not bars[index].marks.endings or turn in bars[index].marks.endings]
        else:
            if label not in alone:
                alone[label], notes = _part_alone(bars[first:end])
                warnings += [note for note in notes if note not in warnings]
            order += [first + index for index in alone[label]]
        if len(order) > MAX_PLAYED_BARS:
            raise InputError("with its order of parts the tune is longer than the limit of "
                             f"{MAX_PLAYED_BARS} bars")
    return order, warnings


def _part_alone(bars: Sequence[Bar]) -> tuple[list[int], list[str]]:
    """The bars of one part with its repeats, its jumps left out."""
    plain = [replace(bar, marks=replace(bar.marks, segno=False, coda=False, to_coda=False,
                                        fine=False, jump=None)) for bar in bars]
    order, warnings = _as_marked(plain)
    warnings += [f"bar {bar.number}: {bar.marks.jump.value} is left out, since the order of "
                 "parts is stated" for bar in bars if bar.marks.jump is not None]
    return order, warnings


# Playing -------------------------------------------------------------------------------


class _Player:
    """Walks through the bars, once."""

    def __init__(self, bars: Sequence[Bar], sections: list[EndedSection], warnings: list[str]
                 ) -> None:
        self._bars = bars
        self._sections = sections
        self._warnings = warnings
        self._turns = [1] * len(sections)
        self._order: list[int] = []
        self._visited: set[int] = set()
        self._jump: Jump | None = None
        self._jumped: set[int] = set()
        self._ends: dict[int, list[int]] = {}
        self._brackets: dict[int, int] = {}
        for place, section in enumerate(sections):
            if section.brackets:
                self._brackets[section.brackets[0].first] = place
                for bracket in section.brackets:
                    self._ends.setdefault(bracket.last, []).append(place)
            else:
                self._ends.setdefault(section.last, []).append(place)
        self._check_jumps()

    def _check_jumps(self) -> None:
        """Raise where a jump has no target or no way out."""
        bars = self._bars
        for index, bar in enumerate(bars):
            jump = bar.marks.jump
            if jump is None:
                continue
            target = self._target(index, jump)
            if target is None:
                raise _Nonsense(f"bar {bar.number}: {jump.value} without a segno")
            if jump in _AL_FINE and not any(b.marks.fine for b in bars[target:]):
                raise _Nonsense(f"bar {bar.number}: {jump.value} without a Fine")
            if jump in _AL_CODA:
                if not any(b.marks.to_coda for b in bars[target:index + 1]):
                    raise _Nonsense(f"bar {bar.number}: {jump.value} without a place to leave "
                                    "for the coda")
                if self._coda_after(index, target) is None:
                    raise _Nonsense(f"bar {bar.number}: {jump.value} without a coda")
        if any(b.marks.to_coda for b in bars) and all(b.marks.jump is None for b in bars):
            number = next(b.number for b in bars if b.marks.to_coda)
            self._warnings.append(f"bar {number}: a way to the coda, but no D.C. or D.S.; the "
                                  "bars are played in order")

    def _target(self, index: int, jump: Jump) -> int | None:
        """The bar a jump at the end of a bar goes back to."""
        if jump not in _DAL_SEGNO:
            return 0
        before = [i for i in range(index + 1) if self._bars[i].marks.segno]
        return before[-1] if before else None

    def _coda_after(self, index: int, target: int) -> int | None:
        """The coda: the first one after the jump, else the last one after the way out."""
        codas = [i for i, bar in enumerate(self._bars) if bar.marks.coda]
        after = [i for i in codas if i > index]
        if after:
            return after[0]
        leave = next((i for i in range(target, index + 1) if self._bars[i].marks.to_coda), index)
        later = [i for i in codas if i > leave]
        return later[-1] if later else None

    def play(self) -> list[int]:
        bars, index = self._bars, 0
        coda: int | None = None
        while 0 <= index < len(bars):
            index = self._enter(index)
            if index >= len(bars):
                break
            self._order.append(index)
            if len(self._order) > MAX_PLAYED_BARS:
                raise InputError(f"bar {bars[index].number}: with its repeats the tune is "
                                 f"longer than the limit of {MAX_PLAYED_BARS} bars")
            marks = bars[index].marks
            if self._jump is not None and marks.to_coda and coda is not None:
                self._mark_visited()
                index, self._jump, coda = coda, None, None
                continue
            if self._jump is not None and marks.fine and self._jump not in _AL_CODA:
                break
            following = self._leave(index)
            if following is not None:
                index = following
                continue
            if marks.jump is not None and self._jump is None and index not in self._jumped:
                self._jumped.add(index)
                target = self._target(index, marks.jump)
                assert target is not None  # checked before
                self._jump = marks.jump
                coda = self._coda_after(index, target) if marks.jump in _AL_CODA else None
                self._mark_visited()
                index = self._with_pickup(target, index)
                continue
            if index in self._jumped and self._jump in (Jump.DA_CAPO, Jump.DAL_SEGNO):
                self._jump = None  # past the D.C. the second time: on to the end
            index = self._after(index)
        return self._order

    def _mark_visited(self) -> None:
        self._visited.update(self._order)

    def _enter(self, index: int) -> int:
        """Where to go on arriving at a bar: past the endings of other passes."""
        place = self._brackets.get(index)
        if place is None:
            return index
        section = self._sections[place]
        if self._replaying(section):
            bracket = self._way_out(section)
            return section.last + 1 if bracket is None else bracket.first
        found = section.bracket_for(self._turns[place])
        return section.last + 1 if found is None else found.first

    def _replaying(self, section: EndedSection) -> bool:
        """Whether a section is played again after a jump, so that repeats are not taken."""
        return bool(self._jumped) and (self._jump is not None
                                       or section.first in self._visited)

    def _way_out(self, section: EndedSection) -> Bracket | None:
        """The ending to take after a jump: the last, unless only another one holds the
        Fine or the way to the coda."""
        last = section.bracket_for(section.times)
        if self._jump in _AL_CODA or self._jump in _AL_FINE:
            coda = self._jump in _AL_CODA

            def leads(first: int, end: int) -> bool:
                return any((b.marks.to_coda if coda else b.marks.fine)
                           for b in self._bars[first:end])

            end = len(self._bars)
            begin = section.last + 1 if last is None else last.first
            outside = leads(section.last + 1, end) or leads(begin, (
                section.last if last is None else last.last) + 1)
            if not outside:
                return next((b for b in section.brackets if leads(b.first, b.last + 1)), last)
        return last

    def _leave(self, index: int) -> int | None:
        """Back to the start of a repeat that ends with this bar, or past its endings; None
        where the bar ends none that counts."""
        for place in self._ends.get(index, ()):
            section = self._sections[place]
            if self._replaying(section):
                continue
            turn = self._turns[place]
            if turn < section.times:
                self._turns[place] = turn + 1
                self._reset_inside(section, place)
                return self._with_pickup(section.first, index)
            self._turns[place] = 1
        return None

    def _after(self, index: int) -> int:
        """The bar after this one, past endings that belong to other passes."""
        for place in self._ends.get(index, ()):
            section = self._sections[place]
            if section.brackets:
                return section.last + 1
        return index + 1

    def _reset_inside(self, outer: EndedSection, place: int) -> None:
        for other, section in enumerate(self._sections):
            if other != place and outer.first <= section.first and section.last <= outer.last:
                self._turns[other] = 1

    def _with_pickup(self, target: int, index: int) -> int:
        """Going back to a pickup that has no room: to the whole bar after it, unless the
        repeat is marked to begin with the pickup."""
        bars = self._bars
        if (bars[target].is_pickup and target + 1 < len(bars) and target != index
                and cut_for_pickup(bars[index], bars[target]) is None
                and not bars[target].marks.repeat_start):
            return target + 1
        return target


def cut_for_pickup(bar: Bar, pickup: Bar) -> Fraction | None:
    """By how much a bar is shortened where a pickup follows it on the way back to the
    beginning, so that the beat goes on: 0 if the bar leaves room for the pickup, else what
    is missing, as long as no note begins there; None if there is no room.

    A held note is left early for the pickup, as a player does (common practice).
    """
    missing = pickup.length_quarter - max(
        bar.meter.length_quarter - bar.length_quarter, Fraction(0))
    if missing <= 0 or (not bar.is_pickup and bar.length_quarter < bar.meter.length_quarter):
        return Fraction(0)  # a bar that is short at all was meant to leave room
    end = bar.length_quarter - missing
    if end <= 0 or any(note.onset_quarter >= end for note in bar.notes):
        return None
    return missing


def lacks_its_pickup(bars: Sequence[Bar], index: int, following: int) -> bool:
    """Whether a bar is short only for the pickup printed behind it, which is not played now:
    the beat goes on, so it is held to its full length (common practice)."""
    bar, beside = bars[index], bars[min(index + 1, len(bars) - 1)]
    return (beside.is_pickup and not bar.is_pickup and not bars[following].is_pickup
            and bar.length_quarter + beside.length_quarter == bar.meter.length_quarter)
