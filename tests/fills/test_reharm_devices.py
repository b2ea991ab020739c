"""A move of reharmonization is told from its keys, and no other chords pass for it. That it is
heard in its example stands in test_device."""

from __future__ import annotations

from dataclasses import replace

from fillwright import Pitch
from fillwright.fills import FillPassage
from fillwright.fills.devices.reharm.recognise import DEVICES
from fillwright.theory import Interval


def without_thirds(passage: FillPassage) -> FillPassage:
    """The same with every added chord's third moved up a half step."""
    notes = []
    for note in passage.notes:
        chord = passage.chord_at(note.onset_quarter)
        third = chord.harmony.third
        wrong = chord.added and third in ("3", "b3") and (
            note.pitch.note_name.pitch_class == chord.harmony.symbol.name_of(third).pitch_class)
        notes.append(replace(note, pitch=note.pitch + Interval(0, 1)) if wrong else note)
    return replace(passage, notes=tuple(notes), held=Pitch.parse("C9"))


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


def test_a_sentence_names_a_chord_of_its_example() -> None:
    for device in DEVICES:
        passage = device.example.passage()
        said = device.says(passage)
        assert any(c.harmony.root.pretty in said for c in passage.chords), said
