"""Whole arrangements: the promises of the JSON and the rules of the hands.

What is promised is common practice (the melody is heard, nothing collides); the checks of
the hands name their own sources.
"""

from __future__ import annotations

import json
from fractions import Fraction
from functools import lru_cache
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from tests.demo_arrangements import arranged
from tests.promises import broken_rules

from fillwright import Arrangement, InputError, Options, Tune, arrange, read_tune
from fillwright.arranging.audit import audit_arrangement
from fillwright.arranging.breaths import breaths_of
from fillwright.arranging.build import prepare
from fillwright.arranging.refit import refitted
from fillwright.contract import arrangement_document
from fillwright.fills import BEGINNER
from fillwright.hands import LEVELS
from fillwright.hands.difficulty import difficulty
from fillwright.tune import second_chorus_quarter

pytestmark = pytest.mark.slow

TUNES = ("lamp", "snow", "ferry", "umbrella")


@lru_cache
def tune(name: str) -> Tune:
    return read_tune(Path(str(files("fillwright") / "data" / f"{name}.musicxml")))


def document(arrangement: Arrangement) -> dict[str, object]:
    """The JSON as another program reads it."""
    read: dict[str, object] = json.loads(json.dumps(arrangement_document(arrangement)))
    return read


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("name", TUNES)
def test_demo_tunes_keep_the_promises(name: str, level: str) -> None:
    arrangement = arranged(name, level)
    assert broken_rules(document(arrangement)) == []
    assert audit_arrangement(arrangement).findings == ()


@pytest.mark.parametrize("hand", ["small", "medium"])
@pytest.mark.parametrize("name", TUNES)
def test_a_beginner_plays_a_beginners_chorus_from_end_to_end(name: str, hand: str) -> None:
    arrangement = (arranged(name, "beginner") if hand == "medium" else
                   arrange(tune(name), Options(level="beginner", hand=hand)))
    chorus = arrangement.chorus
    hard = difficulty(arrangement.notes, hand, chorus.seconds_per_quarter,
                      chorus.meter.beat_quarter).total
    assert hard <= BEGINNER.difficulty[1]
    breaths = breaths_of(chorus, arrangement.gaps)
    assert len(arrangement.fills) > (len(arrangement.gaps) - len(breaths)) / 2


@pytest.mark.parametrize("name", TUNES)
def test_no_left_hand_note_leads_into_a_fill_between_the_beats(name: str) -> None:
    """A base note that ends where a fill begins off the beat was struck less than a beat
    before, or its chord was."""
    arrangement = arranged(name, "advanced")
    chorus = arrangement.chorus
    changes = {span.onset_quarter for span in chorus.chords}
    for fill in arrangement.fills:
        start = arrangement.gaps[fill.gap - 1].onset_quarter
        if chorus.beat_in_bar(start).denominator == 1:
            continue
        for note in arrangement.notes:
            if note.role == "base" and note.hand == "left" and note.end_quarter == start:
                assert note.duration_quarter < 1 or changes & {start, start - Fraction(1, 2)}


@pytest.mark.parametrize("level", LEVELS)
def test_no_page_of_ties_in_three_layers(level: str) -> None:
    """With a melody note held from between two beats not both hands strike and hold on."""
    arrangement = arranged("lamp", level)
    for fill in arrangement.fills:
        start = arrangement.gaps[fill.gap - 1].onset_quarter
        if arrangement.chorus.beat_in_bar(start).denominator > 1:
            assert len({n.hand for n in fill.notes if n.onset_quarter == start}) < 2


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("name", TUNES)
def test_every_chorus_closes_on_its_tonic(name: str, level: str) -> None:
    """The last chord played has the key's tonic for its root, in the lowest key that sounds."""
    arrangement = arranged(name, level)
    ending = arrangement.fill_of(len(arrangement.gaps))
    assert ending is not None
    last = ending.chords[-1]
    assert last.symbol.root == arrangement.chorus.key.tonic
    bass = [n for n in arrangement.notes if n.hand == "left" and n.end_quarter > last.onset_quarter]
    assert min(n.midi for n in bass) % 12 == arrangement.chorus.key.tonic.pitch_class


@pytest.mark.parametrize("level", LEVELS)
def test_families_are_mixed_and_no_device_comes_twice_in_a_row(level: str) -> None:
    fills = arranged("lamp", level).fills
    assert {f.family for f in fills} == {"comp", "reharm", "line"}
    devices = [f.device for f in fills]
    assert all(a != b for a, b in pairwise(devices))
    assert len(set(devices)) >= len(devices) // 2


def test_some_gaps_stay_open() -> None:
    arrangement = arranged("lamp", "intermediate")
    assert 0 < len(arrangement.gaps) - len(arrangement.fills) < len(arrangement.gaps) // 2


def test_same_input_same_arrangement() -> None:
    again = arrange(tune("umbrella"), Options(level="beginner"))
    assert document(again) == document(arranged("umbrella", "beginner"))


def test_picks_are_kept_and_survive_level_tempo_and_key() -> None:
    first = arranged("umbrella", "intermediate")
    fill = first.fills[0]
    for options in (Options(level="advanced", picks=((fill.gap, fill.id),)),
                    Options(level="intermediate", tempo=Fraction(110),
                            picks=((fill.gap, fill.id),)),
                    Options(level="intermediate", key="Am", picks=((fill.gap, fill.id),))):
        second = arrange(tune("umbrella"), options)
        kept = second.fill_of(fill.gap)
        assert kept is not None and kept.id == fill.id
        assert broken_rules(document(second)) == []
        assert audit_arrangement(second).findings == ()


def test_a_fill_carried_to_another_key_keeps_its_shape() -> None:
    chorus, gaps = prepare(tune("umbrella"), Options())
    other, other_gaps = prepare(tune("umbrella"), Options(key="Am", octave="0"))
    for fill in arranged("umbrella", "intermediate").fills:
        # The same interval is wider on other black and white keys: a large hand takes them all.
        moved = refitted(fill, gaps[fill.gap - 1], other_gaps[fill.gap - 1], other, "large")
        assert moved is not None and moved.id == fill.id
        assert {b.midi - a.midi for a, b in zip(fill.notes, moved.notes, strict=True)} == {-3}
        assert all(abs(n.pitch.alter) < 2 for n in moved.notes)
    assert chorus.melody_octave == other.melody_octave == 0


def test_a_fill_too_fast_for_the_hand_is_not_carried() -> None:
    fill = next(f for f in arranged("umbrella", "advanced").fills if f.family == "line")
    _, gaps = prepare(tune("umbrella"), Options())
    rushed, rushed_gaps = prepare(tune("umbrella"), Options(tempo=Fraction(1000)))
    place = fill.gap - 1
    assert refitted(fill, gaps[place], rushed_gaps[place], rushed, "medium") is None


def test_a_pick_may_leave_a_gap_open_or_name_a_rank() -> None:
    options = Options(picks=((1, "open"), (2, "line:2")))
    arrangement = arrange(tune("umbrella"), options)
    assert arrangement.fill_of(1) is None
    second = arrangement.fill_of(2)
    assert second is not None and second.family == "line"


def test_a_pick_that_does_not_exist_names_the_nearest() -> None:
    with pytest.raises(InputError, match="the nearest is"):
        arrange(tune("umbrella"), Options(picks=((1, "2.1.1-comp-nothing-000000"),)))
    with pytest.raises(InputError, match="there is no gap 99"):
        arrange(tune("umbrella"), Options(picks=((99, "comp:1"),)))


def test_a_device_can_be_switched_off() -> None:
    used = {f.device for f in arranged("umbrella", "intermediate").fills}
    gone = sorted(used)[0]
    again = arrange(tune("umbrella"), Options(level="intermediate", without=(gone,)))
    assert gone not in {f.device for f in again.fills}


@pytest.mark.parametrize("key", ["Am", "F#m", "Ebm"])
def test_other_keys(key: str) -> None:
    arrangement = arrange(tune("umbrella"), Options(key=key))
    assert str(arrangement.chorus.key).startswith(key[:-1])
    assert broken_rules(document(arrangement)) == []
    assert audit_arrangement(arrangement).findings == ()


@pytest.mark.parametrize(("name", "level", "options"), [
    ("umbrella", "advanced", {"tempo": Fraction(240)}),
    ("umbrella", "beginner", {"tempo": Fraction(60)}),
    ("lamp", "intermediate", {"tempo": Fraction(250), "hand": "large"}),
    ("snow", "advanced", {"key": "E", "hand": "small"}),
    ("ferry", "intermediate", {"tempo": Fraction(220), "feel": "straight"}),
])
def test_fast_slow_small_and_large_keep_the_rules(name: str, level: str,
                                                  options: dict[str, Any]) -> None:
    arrangement = arrange(tune(name), Options(level=level, **options))
    assert broken_rules(document(arrangement)) == []
    assert audit_arrangement(arrangement).findings == ()


def test_the_octave_is_decided_recorded_and_may_be_fixed() -> None:
    low, _ = prepare(tune("lamp"), Options(octave="0"))
    high, _ = prepare(tune("lamp"), Options(octave="1"))
    assert (low.melody_octave, high.melody_octave) == (0, 1)
    assert [n.midi + 12 for n in low.melody] == [n.midi for n in high.melody]
    arrangement = arrange(tune("lamp"), Options(octave="1"))
    assert broken_rules(document(arrangement)) == []


def test_an_introduction_an_ending_and_a_second_chorus() -> None:
    options = Options(choruses=2, introduction=4, ending=2)
    arrangement = arrange(tune("umbrella"), options)
    chorus = arrangement.chorus
    assert len(chorus.bars) == 4 + 12 + 12 + 2
    assert chorus.length_quarter == 30 * 4
    assert arrangement.gaps[0].held is None and arrangement.gaps[0].bar == "i1"
    assert broken_rules(document(arrangement)) == []
    assert audit_arrangement(arrangement).findings == ()
    middle = second_chorus_quarter(chorus)

    def keys_a_stroke(second: bool) -> float:
        base = [n for n in arrangement.notes
                if n.role == "base" and (n.onset_quarter >= middle) == second]
        return len(base) / len({n.onset_quarter for n in base})

    assert keys_a_stroke(second=True) > keys_a_stroke(second=False)


def test_a_pickup_falls_into_the_last_bar_of_the_first_chorus() -> None:
    chorus, _ = prepare(tune("lamp"), Options(choruses=2))
    assert chorus.length_quarter == 1 + 32 * 4 + 32 * 4
    ends = [b.end_quarter for b in chorus.bars]
    assert ends[:-1] == [b.onset_quarter for b in chorus.bars[1:]]


def test_a_family_can_be_left_out_of_the_mix() -> None:
    options = Options(mix=(("comp", 2), ("reharm", 1), ("line", 0)))
    families = [f.family for f in arrange(tune("umbrella"), options).fills]
    assert "line" not in families
    assert families.count("comp") >= families.count("reharm")
