"""A fill taken back to the draft it was, so that it can be changed and finished anew.

A finished fill counts from the beginning of its chorus and has no harmonies; the rules of
`fillwright.fills.finish` ask for a draft at its gap. What is finished from here goes the way
every fill goes: fingers, rules, difficulty, counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fillwright.exact import Fraction
from fillwright.fills.devices.device import Device
from fillwright.fills.devices.registry import DEVICES
from fillwright.fills.draft import Draft, DraftChord, DraftNote
from fillwright.fills.finish import Refusal, finish
from fillwright.fills.hearing import hear, situation_of
from fillwright.fills.model import Fill, HeldEnd, Shift
from fillwright.fills.player import player_of
from fillwright.fills.situation import Task, task_of
from fillwright.theory.harmony import harmony_of
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import Chorus, Gap

__all__ = ["Place", "draft_of", "named_devices", "names_in", "plainest_name",
           "says_what_it_hears"]

_EVERY_LEVEL = "advanced"
"""The level whose range of difficulty ends where the scale does."""


@dataclass(frozen=True, slots=True)
class Place:
    """A gap of a chorus as a hand hears it, whatever its level.

    task   set to the most able player unless a level is named, so that nothing is refused for
           being hard
    """

    chorus: Chorus
    gap: Gap
    task: Task

    @classmethod
    def of(cls, chorus: Chorus, number: int, hand: str,
           gaps: tuple[Gap, ...] | None = None, level: str = _EVERY_LEVEL) -> Place:
        """`number` is that of a gap; `gaps` are all of the chorus, where they are known; a fill
        too hard for `level` is refused."""
        gaps = find_gaps(chorus) if gaps is None else gaps
        situation = situation_of(hear(chorus), gaps, number)
        return cls(chorus, gaps[number - 1], task_of(situation, player_of(level, hand)))

    @property
    def hand(self) -> str:
        return self.task.hand_size

    def finished(self, draft: Draft) -> Fill | Refusal:
        """The draft as a fill that counts from the gap's onset, or why it is none."""
        return finish(self.task, draft)


def draft_of(fill: Fill, place: Place) -> Draft:
    """The draft of a fill of this gap; times count from the gap's onset."""
    back = place.gap.onset_quarter
    shift = fill.shift
    return Draft(
        fill.family, fill.device,
        tuple(DraftNote(n.onset_quarter - back, n.duration_quarter, n.pitch, n.hand, n.rolled)
              for n in fill.notes),
        tuple(_chords(fill, place.task, back)), fill.reasons, fill.costs, fill.idea,
        HeldEnd(fill.held_end.kept, fill.held_end.until_quarter - back),
        None if shift is None else Shift(shift.landing_quarter - back, shift.back_quarter - back))


def _chords(fill: Fill, task: Task, back: Fraction) -> Iterator[DraftChord]:
    """The chords as they are heard: those of the sheet as the gap hears them, the added ones in
    the key of their place."""
    symbols = [span.symbol for span in fill.chords]
    after = [*symbols[1:], task.landing_chord]
    for span, following in zip(fill.chords, after, strict=True):
        onset = span.onset_quarter - back
        here = task.span_at(onset)
        harmony = here.harmony
        if span.added or harmony.symbol != span.symbol:
            harmony = harmony_of(span.symbol, harmony.key, following)
        yield DraftChord(onset, onset + span.duration_quarter, harmony, span.added,
                         span.reason if span.added else None)


def named_devices(fill: Fill) -> tuple[Device, ...]:
    """The devices that a fill's name says, the first of them first; () for one that no table
    has."""
    return tuple(device for device, _ in names_in(fill))


def names_in(fill: Fill) -> tuple[tuple[Device, str], ...]:
    """The same with what each is called there: comping is called as fully as is true."""
    rows = DEVICES[fill.family]
    found: list[tuple[int, Device, str]] = []
    rest = fill.device
    for device in sorted(rows, key=lambda one: -max(len(name) for name in _names(one))):
        for name in sorted(_names(device), key=len, reverse=True):
            place = _at_word(rest, name)
            if place is not None:
                found.append((place, device, name))
                rest = rest[:place] + "\0" * len(name) + rest[place + len(name):]
                break
    return tuple((device, name) for _, device, name in sorted(found, key=lambda row: row[0]))


def plainest_name(device: Device) -> str:
    """The name that says least, and so is true whatever the hands strike."""
    return _names(device)[-1]


def says_what_it_hears(device: Device, name: str) -> bool:
    """Whether a name is the device's own and of one part, so that the device's own test says
    that it is true."""
    return name == device.name and len(getattr(device, "said", ())) <= 1


def _names(device: Device) -> tuple[str, ...]:
    names: tuple[str, ...] = getattr(device, "names", ())
    return names or (device.name,)


def _at_word(text: str, name: str) -> int | None:
    """Where a name stands in a text as a part of its own: at its start, before a comma or
    "then"."""
    for start in range(len(text)):
        if text.startswith(name, start):
            before, behind = text[:start], text[start + len(name):]
            if ((not before or before.endswith(", then ") or before.endswith("\0, then "))
                    and (not behind or behind.startswith(","))):
                return start
    return None
