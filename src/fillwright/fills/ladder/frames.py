"""The frame of an idea: what is still recognised when its full name is no longer true.

Four-note voicings with a key less are not called so any more, but with their top line, their
rhythm and their chords they are the same idea. An idea that is a voice inside the chords, or in
the left hand, has no such frame: there the device itself has to be heard.
"""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.exact import Fraction
from fillwright.fills.devices.device import Device, passage_of
from fillwright.fills.devices.registry import DEVICES
from fillwright.fills.draft import Draft
from fillwright.fills.ladder.taken_back import Place, names_in, plainest_name
from fillwright.fills.model import Fill

__all__ = ["frame_name", "is_its_frame"]

_OF_THE_LEFT = ("bass", "left", "stride", "time", "break", "answer", "bell", "close", "pedal")
"""Divisions of labour (`Texture.mode`) whose idea is not the right hand's top line."""
_OF_CHORDS = ("", "inversions", "planed", "locked", "slide", "diminished")
"""Ways of moving (`Texture.motion`) that are heard in the top line."""
_ALIKE, _TELLING = 3, 2
"""Words that two names share where the one is a simpler form of the other; of these so many say
what is played."""
_SMALL_WORDS = frozenset({"a", "an", "the", "its", "of", "in", "on", "over", "under", "with", "and",
                          "to", "by", "at"})


def is_its_frame(idea: Draft, draft: Draft, devices: Sequence[Device]) -> bool:
    """Whether a draft is the frame of an idea: for chords the top line wherever something is
    struck, for a line its first and its last note."""
    before, now = _top(idea), _top(draft)
    if len(now) < 2:
        return False
    if idea.family == "line":
        return (all(before.get(place) == midi for place, midi in now.items())
                and min(now) == min(before) and max(now) == max(before))
    return (idea.family == "comp" and all(_has_frame(one) for one in devices)
            and all(before.get(place) == midi for place, midi in now.items()))


def _has_frame(device: Device) -> bool:
    return (getattr(device, "mode", "bass") not in _OF_THE_LEFT
            and getattr(device, "motion", "inner") in _OF_CHORDS
            and getattr(device, "line", None) is None)


def _top(draft: Draft) -> dict[Fraction, int]:
    """The highest keys of the right hand, by place."""
    top: dict[Fraction, int] = {}
    for note in draft.notes:
        if note.hand == "right":
            top[note.onset_quarter] = max(note.midi, top.get(note.onset_quarter, 0))
    return top


def frame_name(fill: Fill, draft: Draft, place: Place) -> str:
    """What a frame is called: as the simpler device it is, where one of a like name is heard,
    else by the name of the idea that says less, or, where it has but one, as it, thinned."""
    named = names_in(fill)
    if not named:
        return fill.device
    device, name = named[0]
    if fill.family != "comp":
        return f"{device.name}, thinned"
    if {n.hand for n in draft.notes} == {"left", "right"}:
        passage = passage_of(place.task, draft)
        kin = [one for one in DEVICES["comp"]
               if are_akin(one.name, device.name) and one.is_heard_in(passage)]
        if kin:
            return max(kin, key=lambda one: len(_shared(one.name, device.name))).name
    plainest = plainest_name(device)
    return plainest if plainest != name else f"{name}, thinned"


def are_akin(one: str, other: str) -> bool:
    """Whether by their names one device may be a simpler form of another.

    >>> are_akin("the melody's last notes in two voices", "the melody's last notes in harmony")
    True
    >>> are_akin("two notes in the top register", "the melody's last notes in harmony")
    False
    """
    shared = _shared(one, other)
    return len(shared) >= _ALIKE and len(shared - _SMALL_WORDS) >= _TELLING


def _shared(one: str, other: str) -> set[str]:
    return set(one.split()) & set(other.split())
