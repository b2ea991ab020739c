"""What every device has: a name, a sentence, a truth test, and an example that holds in every
key; and how such examples are written."""

from __future__ import annotations

import json
import re
from fractions import Fraction
from pathlib import Path

import pytest
from tests.fills.builders import chorus_of, one_task
from tests.sweep import every

from fillwright import Key, Pitch
from fillwright.fills import (
    DEVICES,
    FAMILIES,
    Device,
    Draft,
    DraftChord,
    DraftNote,
    Example,
    HeldEnd,
    device_names,
    passage_of,
)
from fillwright.fills.idea import Idea
from fillwright.theory import Interval

EXAMPLE = Example("Dm7 2, +Db7 2", "0 2 D3 C4, 2 2 Db3 Cb4", "0 2 F4, 2 2 F4", "Cmaj7 E5", "A4")

KEYS = [Interval(*steps) for steps in (
    (0, 0), (1, 1), (1, 2), (2, 3), (2, 4), (3, 5), (3, 6), (4, 7), (5, 8), (5, 9), (6, 10),
    (6, 11))]
EVERY = [device for family in FAMILIES for device in DEVICES[family]]


def test_every_name_has_its_device() -> None:
    assert set(DEVICES) == set(FAMILIES)
    for family, devices in DEVICES.items():
        assert {device.family for device in devices} == {family}
        assert {device.name for device in devices} == set(device_names()[family])
    assert len({device.name for device in EVERY}) == len(EVERY) > 150


@every(EVERY)
def test_a_device_is_heard_in_its_example_in_every_key(device: Device) -> None:
    """The example is worked by hand; the truth test hears it wherever it is played, and the
    sentence is whole."""
    for by in KEYS:
        passage = device.example.passage(by)
        assert device.is_heard_in(passage), f"not heard {by.semitones} half steps up"
        said = device.says(passage)
        assert re.fullmatch(r"[A-Z].*[.]", said) and not re.search(r"[{}]|  ", said), said


@pytest.mark.slow
@every(EVERY)
def test_a_device_is_told_from_others(device: Device) -> None:
    """It is not heard in most examples of its family."""
    others = [one for one in DEVICES[device.family] if one is not device]
    heard = [one.name for one in others if device.is_heard_in(one.example.passage())]
    assert len(heard) < len(others) / 2, heard


def test_an_example_is_read() -> None:
    passage = EXAMPLE.passage()
    assert [(str(c.harmony.symbol), float(c.onset_quarter), float(c.end_quarter), c.added)
            for c in passage.chords] == [("Dm7", 0.0, 2.0, False), ("Db7", 2.0, 4.0, True)]
    assert passage.struck() == ((Fraction(0), (50, 60, 65)), (Fraction(2), (49, 59, 65)))
    assert passage.struck("right") == ((Fraction(0), (65,)), (Fraction(2), (65,)))
    assert (str(passage.held), str(passage.landing)) == ("A4", "E5")
    assert passage.goal is not None and str(passage.goal.symbol) == "Cmaj7"
    assert str(passage.chord_at(Fraction(3)).harmony.symbol) == "Db7"


@pytest.mark.parametrize("by", KEYS, ids=lambda by: str(by.semitones))
def test_an_example_is_moved(by: Interval) -> None:
    semitones = by.semitones
    plain, moved = EXAMPLE.passage(), EXAMPLE.passage(by)
    assert [n.midi - semitones for n in moved.notes] == [n.midi for n in plain.notes]
    for one, other in zip(plain.chords, moved.chords, strict=True):
        assert (other.harmony.root.pitch_class - semitones - one.harmony.root.pitch_class) % 12 == 0
        assert other.harmony.symbol.kind == one.harmony.symbol.kind
        assert other.harmony.function == one.harmony.function


def test_a_draft_is_heard_from_the_gaps_onset_on() -> None:
    task = one_task(chorus_of("4/4", "C", 120, [("E4", 4), ("A4", 4), ("E5", 4)],
                              [("Cmaj7", 4), ("Dm7", 4), ("Cmaj7", 4)]), 2)
    harmony, start = task.spans[0].harmony, task.onset_quarter
    draft = Draft("reharm", "walk", (DraftNote(start, Fraction(2), Pitch.parse("D3"), "left"),),
                  (DraftChord(start, task.end_quarter, harmony),), (), (),
                  Idea((), (), "", 0), HeldEnd("finger", task.end_quarter))
    passage = passage_of(task, draft)
    assert passage.struck() == ((Fraction(0), (50,)),)
    assert passage.chords[0].onset_quarter == 0 and passage.key == Key.parse("C")
    assert (str(passage.held), str(passage.landing)) == ("A4", "E5")


def test_ideas_have_names_in_other_languages() -> None:
    """Nearly all: an idea may be newer than its name there, and is called in English then."""
    folder = Path(__file__).parents[2] / "src" / "fillwright" / "web" / "words" / "ideas"
    every_name = {name for names in device_names().values() for name in names}
    for path in folder.iterdir():
        missing = every_name - json.loads(path.read_text(encoding="utf-8")).keys()
        assert len(missing) < 0.1 * len(every_name), (path.name, sorted(missing))
