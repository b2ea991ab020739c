"""Where a tune ends: its last note stays on top of what sounds, to the end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fillwright.exact import Fraction
from fillwright.fills.devices.comp.setting import CompSetting
from fillwright.fills.devices.comp.strokes import PlannedStroke
from fillwright.fills.model import HeldEnd

__all__ = ["Hands", "closed"]

Hands = tuple[list[PlannedStroke], list[PlannedStroke]]
"""The strokes of the left and of the right hand."""


def closed(setting: CompSetting, hands: Hands, held: HeldEnd) -> Hands | None:
    """The strokes of a tune's last gap: nothing rings longer than the tune's last note or, where
    the right hand comes back to that (`search` sees to it), than its last stroke, which rings as
    long as anything does. None where something is struck after that. The strokes of another gap
    as they are."""
    if setting.task.last_midi is None:
        return hands
    left, right = hands
    again = [s for s in right if s.onset_quarter >= held.until_quarter]
    end = held.until_quarter
    if again:
        last = again[-1]
        end = max(s.end_quarter for s in (*left, *right))
        if any(s.onset_quarter > last.onset_quarter and s.harmony != last.harmony for s in left):
            return None
        right = [replace(s, end_quarter=end) if s is last else s for s in right]
    if any(_last_onset(s) >= end for s in (*left, *right)):
        return None
    return _until(left, end), _until(right, end)


def _last_onset(stroke: PlannedStroke) -> Fraction:
    return stroke.onset_quarter + (stroke.breaks[-1] if stroke.breaks else 0)


def _until(strokes: Sequence[PlannedStroke], end: Fraction) -> list[PlannedStroke]:
    return [replace(s, end_quarter=min(s.end_quarter, end)) for s in strokes]
