"""The written chord by another name: whether an added chord is another one to the ear.

A name is no chord. What is struck under it has to hold a tone that the chord beside it neither
names nor has sounded, or its bass has to say so.
"""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.fills.devices.reharm.device import Heard
from fillwright.fills.devices.reharm.function import is_two_of, named_classes, sounds_as
from fillwright.fills.devices.reharm.plan import ChordPlan, Event
from fillwright.theory.harmony import Harmony

__all__ = ["OWN_OVER_A_BASS", "SIXTH", "all_written", "bass_class", "own_names", "stays_below"]

SIXTH = 9
"""Semitones of a sixth, or a thirteenth."""

_SEVENTH = 10
"""Semitones of a minor seventh."""


def all_written(plan: ChordPlan, rows: Sequence[tuple[int, ...]]) -> bool:
    """Whether of an added chord nothing sounds that the written chord it comes after has not
    sounded or named, or the one it comes right before has not (a written triad with its sixth),
    in whatever order: to the ear that is the written one. Right after a dominant its thirteenth
    is nothing new either. Over a bass that stays it takes two tones to be another chord. The II of
    the dominant that follows needs one tone only that these two do not name, none where that keeps
    its fourth: its bass falls a fifth. What a chord names has not all sounded with the written one,
    as F minor 7 in A flat with its sixth has."""
    written: frozenset[int] = frozenset()
    played: frozenset[int] = frozenset()
    for index, (event, row) in enumerate(zip(plan.events, rows, strict=True)):
        if not event.added:
            played = named_classes(event.harmony.symbol) | {m % 12 for m in row}
            written = _written(event.harmony) | played
            continue
        before = plan.events[index - 1].harmony if index else event.harmony
        if index and not plan.events[index - 1].added and (
                sounds_as(before) == "7" and "3" in before.tones):
            own = written | {(before.root.pitch_class + SIXTH) % 12}
        else:
            own = written
        option, sounds = event.option, {m % 12 for m in row}
        names = own_names(plan, index) if index else frozenset()
        if names and names <= played:
            return True
        if option is None or option.stays_on_root:
            here = None if option is None else option.place.here
            if here is not None and sounds_as(event.harmony) != sounds_as(here) and (
                    sounds <= named_classes(here.symbol)):
                return True  # A flat minor 6 without its fifth is in A flat diminished 7
            continue
        if event.harmony.symbol.bass is not None:
            if stays_below(plan, index) and len(sounds - played) < OWN_OVER_A_BASS:
                return True
            continue
        coming = (plan.events[index + 1].harmony if index + 1 < len(plan.events)
                  else option.place.goal)
        if is_two_of(event.harmony, coming):  # with its dominant after it, it is another chord
            if (sounds <= named_classes(coming.symbol) and "3" in coming.tones) or (
                    index > 0 and sounds <= named_classes(before.symbol)):
                return True
        elif (sounds <= own and not _walked_to(plan, index)) or sounds <= _written(coming):
            return True
    return False


def _walked_to(plan: ChordPlan, index: int) -> bool:
    """Whether an added chord stands at the end of a bass line that the sentence names: the A of A
    minor 7 under C's own tones is what is heard, after C and B."""
    option = plan.events[index].option
    return index > 0 and option is not None and Heard.BASS in option.way.heard and (
        plan.events[index - 1].option is option)


OWN_OVER_A_BASS = 2
"""Tones that a chord has of its own over the bass that lay there already."""


def stays_below(plan: ChordPlan, index: int) -> bool:
    """Whether an added chord comes over the bass of the written one right before it."""
    if not index or plan.events[index - 1].added:
        return False
    return bass_class(plan.events[index - 1]) == bass_class(plan.events[index])


def _written(harmony: Harmony) -> frozenset[int]:
    root = harmony.root.pitch_class
    names = named_classes(harmony.symbol)
    if sounds_as(harmony) in "Mm7":  # with its ninth it is the same chord still
        names |= {(root + 2) % 12}
    if harmony.symbol.seventh is None:  # E flat major 7 under a C is C minor 9
        own = (SIXTH,) * ("6" in harmony.tones) + (_SEVENTH,) * (harmony.symbol.quality == "minor")
        names |= {(root + tone) % 12 for tone in own}
    return names


def own_names(plan: ChordPlan, index: int) -> frozenset[int]:
    """The pitch classes an added chord names, bass and all, where it comes right after a written
    one on another root, and has to be another chord to the ear; else none."""
    event, before = plan.events[index], plan.events[index - 1]
    option = event.option
    if option is None or before.added or option.stays_on_root or (
            event.harmony.root == before.harmony.root or sounds_as(event.harmony) == "o"):
        return frozenset()
    return named_classes(event.harmony.symbol) | {bass_class(event)}


def bass_class(event: Event) -> int:
    return (event.harmony.symbol.lowest or event.harmony.root).pitch_class
