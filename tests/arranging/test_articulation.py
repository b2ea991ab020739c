"""Touch inside fills: printed and played from one plan."""

from __future__ import annotations

from functools import lru_cache

import pytest
from lxml import etree

from fillwright.arranging.articulation import touch_of
from fillwright.arranging.build import arrange
from fillwright.arranging.dynamics import free_swells, plan_dynamics
from fillwright.arranging.model import Arrangement, Options
from fillwright.demo import demo_path
from fillwright.score.musicxml import to_musicxml
from fillwright.score.voices import strikes_of
from fillwright.sound.perform import perform
from fillwright.tune.read import read_tune


@lru_cache
def lamp() -> Arrangement:
    return arrange(read_tune(demo_path("lamp")), Options(level="advanced"))


@pytest.mark.slow
def test_what_is_marked_is_there_to_be_struck() -> None:
    touch = touch_of(lamp())
    struck = {(n.onset_quarter, n.hand, n.role) for n in lamp().notes}
    assert touch.accents | touch.tenutos <= struck
    assert not touch.accents & touch.tenutos
    assert touch.accents
    assert touch.tenutos


def test_swells_lie_inside_their_gaps_and_apart() -> None:
    touch = touch_of(lamp())
    spans = [(gap.onset_quarter, gap.end_quarter if fill.shift is None
              else max(gap.end_quarter, fill.shift.landing_quarter))
             for fill in lamp().fills for gap in [lamp().gaps[fill.gap - 1]]]
    assert touch.swells
    for before, after in zip(touch.swells, touch.swells[1:], strict=False):
        assert before.end_quarter <= after.onset_quarter
    for swell in touch.swells:
        assert any(start <= swell.onset_quarter < swell.end_quarter <= end
                   for start, end in spans)


@pytest.mark.slow
def test_the_page_prints_what_is_planned() -> None:
    arrangement = lamp()
    root = etree.fromstring(to_musicxml(arrangement))
    touch = touch_of(arrangement)
    # where the keys of a stroke have two lengths, each stem bears its sign
    stems = [place for s in strikes_of(arrangement)
             if (place := (s.onset_quarter, s.hand, s.role)) in touch.accents]
    assert set(stems) == touch.accents
    assert len(root.findall(".//articulations/accent")) == len(stems)
    hairpins = [w for w in root.findall(".//wedge") if w.get("type") != "stop"]
    plan = plan_dynamics(arrangement)
    assert len(hairpins) == len(plan.hairpins) + len(free_swells(plan, touch))


@pytest.mark.slow
def test_a_swell_is_heard() -> None:
    """The last strokes of a rising swell are louder than its first by half a printed level."""
    arrangement = lamp()
    played = {note.index: note.velocity for note in perform(arrangement).notes}
    free = free_swells(plan_dynamics(arrangement), touch_of(arrangement))
    rises = []
    for swell in free:
        if not swell.rises:
            continue
        inside = [(n.onset_quarter, played[i]) for i, n in enumerate(arrangement.notes)
                  if n.role == "fill" and n.hand == "left"
                  and swell.onset_quarter <= n.onset_quarter <= swell.end_quarter]
        if inside and inside[0][0] != inside[-1][0]:
            rises.append(inside[-1][1] - inside[0][1])
    assert rises
    assert sum(rises) / len(rises) >= 3
