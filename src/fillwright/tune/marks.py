"""The signs of the form on a sheet, bar by bar, and what they mean together.

`<sound>` attributes come first, words and signs fill in what they leave open. A "to coda"
and a Fine hold at the end of the bar they stand in, segno and coda at its beginning,
wherever in the bar they are printed: this is how engravers mean them.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from lxml import etree

from fillwright.tune.model import FormMarks, Jump
from fillwright.tune.words import FormWord, form_word

__all__ = ["RawMarks", "carries_forward", "close_endings", "ending_numbers", "merge_marks",
           "read_barline", "read_sign", "read_sound", "read_words", "resolve_marks"]

_RANGE = re.compile(r"(\d+)\s*\.?\s*[-–]\s*(\d+)")
_MAX_ENDING = 64


@dataclass(slots=True)
class RawMarks:
    """What is printed at one bar, before the signs are understood together."""

    repeat_start: bool = False
    repeat_end: bool = False
    repeat_times: int = 2
    endings: tuple[int, ...] = ()
    ending_starts: bool = False
    ending_stops: bool = False
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    coda_sign: bool = False
    to: bool = False
    fine: bool = False
    from_start: bool = False
    from_segno: bool = False
    al_fine: bool = False
    al_coda: bool = False
    double_bar: bool = False


_NOTHING = RawMarks()
_PLAIN = FormMarks()


def read_barline(barline: etree._Element, bars: list[RawMarks]) -> None:
    """Take a `<barline>` of the last of `bars`; what stands at its left edge and closes
    something belongs to the bar before. (See `carries_forward` for the other way round.)"""
    here = bars[-1]
    here.segno |= "segno" in barline.attrib
    here.coda |= "coda" in barline.attrib
    left = barline.get("location") == "left"
    before = bars[-2] if left and len(bars) > 1 else None
    for child in barline:
        tag = child.tag
        if tag == "repeat":
            if child.get("direction") == "forward":
                here.repeat_start |= barline.get("location", "right") != "right"
            elif child.get("direction") == "backward":
                target = here if before is None else before
                target.repeat_end = True
                times = child.get("times")
                if times is not None and times.strip().isdigit() and len(times) < 12:
                    target.repeat_times = max(1, int(times))
        elif tag == "ending":
            kind = child.get("type")
            if kind == "start":
                here.endings = ending_numbers(child.get("number"), child.text)
                here.ending_starts = True
            elif kind in ("stop", "discontinue"):
                (here if before is None else before).ending_stops = True
        elif tag == "segno":
            here.segno = True
        elif tag == "coda":
            here.coda_sign = True
        elif tag == "bar-style" and child.text in ("light-light", "light-heavy", "heavy-heavy",
                                                   "heavy-light"):
            (here if before is None else before).double_bar = True


def carries_forward(barline: etree._Element) -> bool:
    """Whether a barline at the right edge opens a repeat, which then begins at the next bar."""
    return barline.get("location", "right") == "right" and any(
        child.tag == "repeat" and child.get("direction") == "forward" for child in barline)


def ending_numbers(number: str | None, text: str | None) -> tuple[int, ...]:
    """The numbers of an ending bracket: ``"1,3"``, ``"1. - 3."``.

    >>> ending_numbers("1, 3", None), ending_numbers("", "1.-3.")
    ((1, 3), (1, 2, 3))
    """
    for source in (number, text):
        source = (source or "")[:60]
        found: set[int] = set()
        for low, high in _RANGE.findall(source):
            first, last = int(low), int(high)
            if first <= last <= _MAX_ENDING:
                found.update(range(first, last + 1))
        found.update(int(n) for n in re.findall(r"\d+", source) if len(n) < 6)
        found = {n for n in found if 1 <= n <= _MAX_ENDING}
        if found:
            return tuple(sorted(found))
    return (1,)


def read_sound(sound: etree._Element, marks: RawMarks) -> None:
    """The attributes of `<sound>` that speak of the form."""
    attributes = sound.attrib
    if "segno" in attributes:
        marks.segno = True
    if "coda" in attributes:
        marks.coda = True
    if "tocoda" in attributes:
        marks.to_coda = True
    if "fine" in attributes and attributes["fine"] != "no":
        marks.fine = True
    if attributes.get("dacapo") == "yes":
        marks.from_start = True
    if "dalsegno" in attributes:
        marks.from_segno = True
    if attributes.get("forward-repeat") == "yes":
        marks.repeat_start = True


def read_sign(tag: str, marks: RawMarks) -> None:
    if tag == "segno":
        marks.segno = True
    else:
        marks.coda_sign = True


def read_words(text: str, marks: RawMarks) -> bool:
    """Words of the form; whether they were."""
    found = form_word(text)
    for word in found:
        if word == FormWord.DA_CAPO:
            marks.from_start = True
        elif word == FormWord.DAL_SEGNO:
            marks.from_segno = True
        elif word == FormWord.AL_FINE:
            marks.al_fine = True
        elif word == FormWord.AL_CODA:
            marks.al_coda = True
        elif word == FormWord.FINE:
            marks.fine = True
        elif word == FormWord.TO_CODA:
            marks.to_coda = True
        elif word == FormWord.TO:
            marks.to = True
        elif word == FormWord.CODA:
            marks.coda = True
        elif word == FormWord.CODA_SIGN:
            marks.coda_sign = True
        elif word == FormWord.SEGNO:
            marks.segno = True
    return bool(found)


def merge_marks(bars: Sequence[RawMarks], others: Sequence[RawMarks]) -> None:
    """Add to each bar what another part prints at the same bar and this one does not."""
    for here, there in zip(bars, others, strict=False):
        if there.repeat_end and not here.repeat_end:
            here.repeat_times = there.repeat_times
        if there.ending_starts and not here.ending_starts:
            here.endings, here.ending_starts = there.endings, True
        for name in ("repeat_start", "repeat_end", "ending_stops", "segno", "coda", "to_coda",
                     "coda_sign", "to", "fine", "from_start", "from_segno", "al_fine",
                     "al_coda", "double_bar"):
            if getattr(there, name):
                setattr(here, name, True)


def close_endings(bars: Sequence[RawMarks]) -> None:
    """Give every bar under a bracket its numbers. A bracket ends at its stop, at a backward
    repeat, before the next bracket or before a forward repeat."""
    open_numbers: tuple[int, ...] = ()
    for index, bar in enumerate(bars):
        if open_numbers and (bar.ending_starts or bar.repeat_start):
            bars[index - 1].ending_stops = True
            open_numbers = ()
        if bar.ending_starts:
            open_numbers = bar.endings
        bar.endings = open_numbers
        if bar.ending_stops or bar.repeat_end:
            bar.ending_stops = bool(open_numbers)
            open_numbers = ()
    if open_numbers and bars:
        bars[-1].ending_stops = True


def resolve_marks(bars: Sequence[RawMarks]) -> list[FormMarks]:
    """Understand the signs together: which coda sign is left at and which is gone to, and
    how far a bare D.C. or D.S. goes."""
    close_endings(bars)
    jumps = [i for i, bar in enumerate(bars) if bar.from_start or bar.from_segno]
    for bar in bars:
        if bar.to and bar.coda_sign:
            bar.to_coda = True
        if bar.coda_sign and (bar.coda or bar.to_coda):
            bar.coda_sign = False
    signs = [i for i, bar in enumerate(bars) if bar.coda_sign]
    has_to = any(bar.to_coda for bar in bars)
    has_target = any(bar.coda for bar in bars)
    last_jump = jumps[-1] if jumps else None
    for place, index in enumerate(signs):
        if last_jump is not None:
            leaves = index <= last_jump and not has_to
        else:
            leaves = place == 0 and not has_to and (len(signs) > 1 or has_target)
        if leaves:
            bars[index].to_coda = True
        elif last_jump is None or index > last_jump:
            bars[index].coda = True
    to_coda = any(bar.to_coda for bar in bars)
    coda = any(bar.coda for bar in bars)
    fine = any(bar.fine for bar in bars)
    result = []
    for bar in bars:
        jump = None
        if bar.from_start or bar.from_segno:
            al_coda = bar.al_coda or (not bar.al_fine and to_coda and coda)
            al_fine = bar.al_fine or (not al_coda and fine)
            if bar.from_segno:
                jump = (Jump.DAL_SEGNO_AL_CODA if al_coda else
                        Jump.DAL_SEGNO_AL_FINE if al_fine else Jump.DAL_SEGNO)
            else:
                jump = (Jump.DA_CAPO_AL_CODA if al_coda else
                        Jump.DA_CAPO_AL_FINE if al_fine else Jump.DA_CAPO)
        if bar == _NOTHING:
            result.append(_PLAIN)
            continue
        result.append(FormMarks(bar.repeat_start, bar.repeat_end, bar.repeat_times, bar.endings,
                                bar.ending_starts, bar.ending_stops, bar.segno, bar.coda,
                                bar.to_coda, bar.fine, jump))
    return result
