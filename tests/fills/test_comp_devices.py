"""Devices of comping that are told from the notes: each is heard in no other device's example,
and in every fill that goes by its name."""

from __future__ import annotations

from dataclasses import replace

from tests.fills.builders import chorus_of, context_of

from fillwright.fills.devices.comp.family import COMP
from fillwright.fills.devices.comp.heard import DEVICES
from fillwright.fills.devices.device import passage_of
from fillwright.theory.pitch import Interval


def test_a_device_is_heard_in_no_other_example() -> None:
    for device in DEVICES:
        for other in DEVICES:
            if other.example != device.example and other.hears is not device.hears:
                heard = device.is_heard_in(other.example.passage())
                # a broken tenth is a broken chord too
                assert not heard or ("broken" in device.name and "broken" in other.name), (
                    device.name, other.name)


def test_one_key_off_is_not_the_device() -> None:
    """A half step more on the last key of the hand that tells it."""
    for device in DEVICES:
        passage = device.example.passage()
        hand = "right" if any(n.hand == "right" for n in passage.notes) else "left"
        last = max((n for n in passage.notes if n.hand == hand),
                   key=lambda n: (n.onset_quarter, -n.midi))
        notes = tuple(replace(n, pitch=n.pitch + Interval(0, 1)) if n is last else n
                      for n in passage.notes)
        if device.name.startswith(("moving", "two notes slid", "chord slid", "planed")):
            assert not device.is_heard_in(replace(passage, notes=notes)), device.name


def test_what_is_offered_by_its_name_is_heard() -> None:
    seen = set()
    named = {d.name: d for d in DEVICES}
    for tempo in (63, 132):
        for chord, goal, held in (("Cmaj7", "Dm7", "G4"), ("Dm7", "G7", "A4"),
                                  ("G7", "Cmaj7", "F5")):
            chorus = chorus_of("4/4", "C", tempo, [(held, 4), ("E5", 4)],
                               [(chord, 4), (goal, 4)])
            task = context_of(chorus, 1, "advanced")
            for number, candidate in enumerate(COMP.candidates(task, task.player, frozenset())):
                if number >= 40:
                    break
                device = named.get(candidate.device)
                for draft in candidate.drafts(0) if device is not None else ():
                    assert device is not None
                    said = device.says(passage_of(task, draft))
                    assert said in draft.reasons
                    seen.add(device.name)
    assert len(seen) >= 5, seen
