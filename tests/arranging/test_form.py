"""Sections and dynamics of a chorus (common practice), on the page and in the performance."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F

import pytest
from lxml import etree
from tests.demo_arrangements import arranged
from tests.score.schema import schema_errors
from tests.score.written import arrangement, chorus_of

from fillwright import Arrangement, perform
from fillwright.arranging.articulation import touch_of
from fillwright.arranging.dynamics import LADDER, DynamicPlan, free_swells, plan_dynamics
from fillwright.arranging.sections import section_at, sections_of
from fillwright.score.musicxml import to_musicxml
from fillwright.tune import second_chorus_quarter, twice

pytestmark = pytest.mark.slow


def form(sections: dict[int, str], bars: int, tempo: int = 140, pickup: str = "0") -> Arrangement:
    """Bars of a whole note each, with rehearsal marks."""
    melody = (f"G4:{pickup} " if pickup != "0" else "") + "C5:4 " * bars
    chorus = chorus_of("Form", [("4/4", bars)], "C", melody, f"C:{4 * bars}", tempo=tempo,
                       sections=sections, pickup=pickup)
    return arrangement(chorus, [])


def words(plan: DynamicPlan) -> list[str]:
    """Levels as ``"0 mp"`` and hairpins as ``"24-32 mp<mf"``, in order."""
    found = [(place, f"{place} {LADDER[step]}") for place, step in plan.levels]
    found += [(pin.onset_quarter, f"{pin.onset_quarter}-{pin.end_quarter} {LADDER[pin.first]}"
               f"{'<' if pin.last > pin.first else '>'}{LADDER[pin.last]}")
              for pin in plan.hairpins]
    return [text for _, text in sorted(found)]


AABA = {0: "A", 8: "A", 16: "B", 24: "A"}


def test_sections_of_a_marked_form() -> None:
    found = sections_of(form(AABA, 32).chorus)
    assert [(s.name, s.times, s.contrast) for s in found] == [
        ("A", 0, False), ("A", 1, False), ("B", 0, True), ("A", 2, False)]
    assert [s.end_quarter for s in found] == [32, 64, 96, 128]


@pytest.mark.parametrize(("bars", "starts"), [(12, [0, 16, 32]), (32, [0, 32, 64, 96])])
def test_phrases_where_nothing_is_marked(bars: int, starts: list[int]) -> None:
    chorus = form({}, bars).chorus
    assert [s.onset_quarter for s in sections_of(chorus)] == starts
    found = sections_of(chorus)
    assert section_at(found, F(starts[1])).contrast
    assert section_at(found, F(starts[1]) - F(1, 2)) == found[0]


def test_a_pickup_cut_out_alone_is_one_section() -> None:
    chorus = form({}, 4, pickup="3").chorus
    part = replace(chorus, bars=chorus.bars[:1], melody=chorus.melody[:1], chords=(), harmonies=(),
                   length_quarter=chorus.bars[0].length_quarter)
    assert [(s.onset_quarter, s.end_quarter) for s in sections_of(part)] == [(F(0), F(3))]


def test_phrases_are_counted_anew_in_a_second_chorus() -> None:
    chorus = twice(form({}, 12).chorus)
    assert [s.onset_quarter for s in sections_of(chorus)] == [0, 16, 32, 48, 64, 80]
    assert [s.contrast for s in sections_of(chorus)] == [False, True, False] * 2


def test_a_second_chorus_counts_the_passes_of_each_bar_on() -> None:
    chorus = form({}, 3).chorus
    bars = [replace(bar, bar_index=index, number=str(index + 1), pass_number=count)
            for bar, (index, count) in zip(chorus.bars, ((0, 1), (0, 2), (1, 1)), strict=True)]
    again = twice(replace(chorus, bars=tuple(bars)))
    assert [(bar.number, bar.pass_number) for bar in again.bars] == [
        ("1", 1), ("1", 2), ("2", 1), ("1", 3), ("1", 4), ("2", 2)]
    assert second_chorus_quarter(again) == chorus.length_quarter


def test_a_pickup_belongs_to_the_first_section() -> None:
    chorus = form({1: "A", 9: "B"}, 16, pickup="1").chorus
    assert [s.onset_quarter for s in sections_of(chorus)] == [0, 33]


@pytest.mark.parametrize(("sections", "bars", "tempo", "expected"), [
    # in the middle it draws back, before it rises
    (AABA, 32, 140, "0 mp|60-64 mp>p|64 p|76-80 p<mf|80 mf|120-124 mf>mp|124 mp"),
    ({0: "A", 8: "B", 16: "A", 24: "C"}, 32, 66,
     "0 p|28-32 p<mp|32 mp|60-64 mp>p|64 p|92-96 p<mp|96 mp|120-124 mp>p|124 p"),
    ({}, 12, 132, "0 mp|12-16 mp<mf|16 mf|40-44 mf>mp|44 mp"),
    ({}, 4, 132, "0 mf"),
    # the last section is one bar: no hairpin leads from its beginning to its beginning
    ({0: "A", 8: "B", 16: "C"}, 17, 132, "0 mp|28-32 mp>p|32 p|44-48 p<mf|48 mf|64 mp"),
])
def test_levels_follow_the_form(sections: dict[int, str], bars: int, tempo: int,
                                expected: str) -> None:
    assert words(plan_dynamics(form(sections, bars, tempo))) == expected.split("|")


def test_a_second_chorus_is_louder() -> None:
    once = form(AABA, 32)
    again = replace(once, chorus=twice(once.chorus), options=replace(once.options, choruses=2))
    plan = plan_dynamics(again)
    assert words(plan) == ["0 mp", "60-64 mp>p", "64 p", "76-80 p<mf", "80 mf", "188-192 mf<f",
                           "192 f", "248-252 f>mf", "252 mf"]  # it draws back once
    for place in (F(0), F(40), F(84)):
        assert plan.step_at(place + 128) == plan.step_at(place) + 1


def test_hairpins_lead_from_level_to_level() -> None:
    plan = plan_dynamics(form(AABA, 32))
    assert [plan.step_at(F(place)) for place in (0, 59, 60, 62, 64, 78, 80, 119, 122, 124)] == [
        1, 1, 1, 0.5, 0, 1, 2, 2, 1.5, 1]


@pytest.mark.parametrize("name", ["lamp", "snow", "umbrella"])
def test_what_is_printed_is_what_is_played(name: str) -> None:
    arrangement = arranged(name, "intermediate")
    plan = plan_dynamics(arrangement)
    data = to_musicxml(arrangement)
    assert schema_errors(data) == []
    root = etree.fromstring(data)
    printed = [child.tag for mark in root.iter("dynamics") for child in mark]
    assert printed == [LADDER[step] for _, step in plan.levels]
    wedges = [wedge.get("type") for wedge in root.iter("wedge")]
    onsets = {note.onset_quarter for note in arrangement.notes}
    pins = [(pin.onset_quarter, pin.last > pin.first) for pin in plan.hairpins
            if any(pin.onset_quarter < onset < pin.end_quarter for onset in onsets)]
    pins += [(swell.onset_quarter, swell.rises)
             for swell in free_swells(plan, touch_of(arrangement))]
    assert wedges.count("stop") == len(pins)
    assert [kind == "crescendo" for kind in wedges if kind != "stop"] == [
        rises for _, rises in sorted(pins)]
    # The melody of a louder level is louder on the whole, hairpins aside.
    heard: dict[float, list[int]] = {}
    for note in perform(arrangement).notes:
        written = arrangement.notes[note.index]
        if written.role == "melody":
            heard.setdefault(plan.step_at(written.onset_quarter), []).append(note.velocity)
    low, *_, high = sorted(step for step in heard if step.is_integer())
    assert sum(heard[low]) / len(heard[low]) + 3 < sum(heard[high]) / len(heard[high])


def test_one_level_is_not_printed() -> None:
    root = etree.fromstring(to_musicxml(form({}, 4)))
    assert root.find(".//dynamics") is None and root.find(".//wedge") is None
