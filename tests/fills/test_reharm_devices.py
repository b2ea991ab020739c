"""Every move is a device: worked by hand in C it is told from the keys in all keys, its sentence
speaks of what is struck, and no other chords pass for it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fillwright.fills.devices.device import Passage
from fillwright.fills.devices.reharm.recognise import DEVICES, MoveDevice
from fillwright.theory.pitch import Interval, Pitch

STEPS = (Interval(0, 0), Interval(1, 1), Interval(1, 2), Interval(2, 3), Interval(2, 4),
         Interval(3, 5), Interval(3, 6), Interval(4, 7), Interval(5, 8), Interval(5, 9),
         Interval(6, 10), Interval(6, 11))


def without_thirds(passage: Passage) -> Passage:
    """The same with every added chord's third moved up a half step."""
    notes = []
    for note in passage.notes:
        chord = passage.chord_at(note.onset_quarter)
        third = chord.harmony.third
        wrong = chord.added and third in ("3", "b3") and (
            note.pitch.note_name.pitch_class == chord.harmony.symbol.name_of(third).pitch_class)
        notes.append(replace(note, pitch=note.pitch + Interval(0, 1)) if wrong else note)
    return replace(passage, notes=tuple(notes), held=Pitch.parse("C9"))


@pytest.mark.parametrize("device", DEVICES, ids=lambda d: d.name)
def test_a_device_is_heard_in_its_example_in_every_key(device: MoveDevice) -> None:
    for by in STEPS:
        passage = device.example.passage(by)
        assert device.is_heard_in(passage), str(by)
        said = device.says(passage)
        assert said.endswith(".") and "{" not in said and "  " not in said
        roots = [c.harmony.root.pretty for c in passage.chords]
        assert any(root in said for root in roots)


def test_a_device_is_not_heard_where_nothing_is_added() -> None:
    for device in DEVICES:
        passage = device.example.passage()
        plain = replace(passage, chords=tuple(replace(c, added=False) for c in passage.chords))
        assert not device.is_heard_in(plain)


def test_a_device_is_not_heard_in_keys_that_do_not_tell_it() -> None:
    told = [d.name for d in DEVICES if d.is_heard_in(without_thirds(d.example.passage()))]
    # chords that live by another tone than their third: diminished and suspended ones, and
    # lines over a root that stays
    assert len(told) < len(DEVICES) / 2, told


def test_names_are_single() -> None:
    names = [device.name for device in DEVICES]
    assert len(names) == len(set(names)) >= 50
