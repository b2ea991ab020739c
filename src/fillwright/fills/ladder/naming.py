"""What is said of a fill that was changed: only what its devices hear in its notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fillwright.fills.devices.device import Device, passage_of
from fillwright.fills.draft import Draft
from fillwright.fills.ladder.taken_back import Place, named_devices
from fillwright.fills.model import Fill
from fillwright.tune.model import ChordSpan

__all__ = ["heard_in", "joined", "retold"]


def heard_in(fill: Fill, draft: Draft, place: Place) -> tuple[Device, ...]:
    """Those of a fill's devices that are heard in a draft at a place."""
    if draft.family == "line" and not any(n.hand == "right" for n in draft.notes):
        return ()
    passage = passage_of(place.task, draft)
    return tuple(one for one in named_devices(fill) if one.is_heard_in(passage))


def retold(fill: Fill, draft: Draft, place: Place, chords: Sequence[ChordSpan]
           ) -> tuple[tuple[str, ...], tuple[ChordSpan, ...]]:
    """The sentences of the devices of `fill` that are heard in a draft made of it, and `chords`
    with the reasons of the added ones said anew."""
    heard = heard_in(fill, draft, place)
    passage = passage_of(place.task, draft)
    said = tuple(dict.fromkeys(one.says(passage) for one in heard))
    anew: dict[str, str] = {}
    if fill.family == "reharm":  # there the first reasons are those of the devices, in order
        anew = {old: one.says(passage) for old, one in
                zip(fill.reasons, named_devices(fill), strict=False) if one in heard}
    return said, tuple(replace(c, reason=anew.get(c.reason or "", c.reason)) if c.added else c
                       for c in chords)


def joined(words: Sequence[str]) -> str:
    """``"1, 2 and 3"``."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]
