"""Touch: printed and played from one plan."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from lxml import etree
from tests.demo_arrangements import arranged
from tests.score.written import arrangement, chorus_of

from fillwright import Arrangement, perform
from fillwright.arranging.articulation import touch_of
from fillwright.arranging.dynamics import free_swells, plan_dynamics
from fillwright.score.musicxml import to_musicxml
from fillwright.score.voices import columns_of

pytestmark = pytest.mark.slow


def lamp() -> Arrangement:
    return arranged("lamp", "advanced")


def test_what_is_marked_is_there_to_be_struck() -> None:
    touch = touch_of(lamp())
    struck = {(n.onset_quarter, n.hand, n.role) for n in lamp().notes}
    assert touch.accents | touch.tenutos <= struck
    assert not touch.accents & touch.tenutos
    assert touch.accents
    assert touch.tenutos


def test_swells_lie_inside_their_gaps_or_meet_no_fill_and_apart() -> None:
    touch = touch_of(lamp())
    spans = [(gap.onset_quarter, gap.end_quarter if fill.shift is None
              else fill.shift.landing_quarter)  # from an early landing on it is the melody's
             for fill in lamp().fills for gap in [lamp().gaps[fill.gap - 1]]]
    assert touch.swells
    for before, after in zip(touch.swells, touch.swells[1:], strict=False):
        assert before.end_quarter <= after.onset_quarter
    for swell in touch.swells:
        inside = any(start <= swell.onset_quarter < swell.end_quarter <= end
                     for start, end in spans)
        of_melody = not any(start < swell.end_quarter and swell.onset_quarter < end
                            for start, end in spans)
        assert inside or of_melody


def landings() -> set[object]:
    """Where the tune comes back after a fill."""
    return {lamp().gaps[fill.gap - 1].end_quarter if fill.shift is None
            else fill.shift.landing_quarter for fill in lamp().fills}


def test_the_note_that_a_fill_leads_back_to_is_held_out() -> None:
    touch = touch_of(lamp())
    marked = {at for at, _, role in touch.tenutos | touch.accents if role == "melody"}
    long = {n.onset_quarter for n in lamp().notes
            if n.role == "melody" and n.duration_quarter >= 1 and n.onset_quarter in landings()}
    assert long
    assert long <= marked


def left_to_ring() -> set[object]:
    """Where the tune holds a note that no fill covers."""
    filled = {fill.gap for fill in lamp().fills}
    return {gap.onset_quarter for gap in lamp().gaps
            if gap.held is not None and gap.number not in filled}


def test_what_is_left_to_ring_is_held_out() -> None:
    touch = touch_of(lamp())
    marked = {at for at, _, role in touch.tenutos | touch.accents if role == "melody"}
    assert left_to_ring()
    assert left_to_ring() <= marked


def test_a_note_that_comes_early_is_leaned_on_however_straight() -> None:
    tune = "C5:1 D5:1/2 E5:3/2 F5:1 " * 8
    for feel in ("swing", "straight"):
        piece = arrangement(replace(chorus_of("Early", [("4/4", 8)], "C", tune, "C:32"),
                                    feel=feel), [])
        assert {at for at, _, _ in touch_of(piece).accents} == {
            4 * bar + Fraction(3, 2) for bar in range(8)}


def test_one_stroke_a_fill_is_leaned_on_and_one_note_of_four_bars_held_out() -> None:
    """But for the notes that fills lead back to, or leave to ring."""
    touch = touch_of(lamp())
    for fill in lamp().fills:
        places = {n.onset_quarter for n in fill.notes}
        assert sum(role == "fill" and at in places for at, _, role in touch.accents) <= 1
    bars = [bar.onset_quarter for bar in lamp().chorus.bars if not bar.is_pickup]
    fours = [bisect_right(bars, at) // 4 if at else 0
             for at, _, role in touch.tenutos
             if role == "melody" and at not in landings() | left_to_ring()]
    assert 0 < len(fours) <= len(bars) / 4 + 1


def test_the_page_prints_what_is_planned() -> None:
    arrangement = lamp()
    root = etree.fromstring(to_musicxml(arrangement))
    touch = touch_of(arrangement)
    # where the keys of a stroke have two lengths, each stem bears its sign
    stems = [place for s in columns_of(arrangement)
             if (place := (s.onset_quarter, s.hand, s.role)) in touch.accents]
    assert set(stems) == touch.accents
    assert len(root.findall(".//articulations/accent")) == len(stems)
    hairpins = [w for w in root.findall(".//wedge") if w.get("type") != "stop"]
    plan = plan_dynamics(arrangement)
    onsets = {note.onset_quarter for note in arrangement.notes}
    struck = [pin for pin in plan.hairpins
              if any(pin.onset_quarter < onset < pin.end_quarter for onset in onsets)]
    assert len(hairpins) == len(struck) + len(free_swells(plan, touch))


def test_what_is_held_does_not_swell() -> None:
    """Four hairpins between levels, one swell: none to a level over a whole note."""
    tune = "C5:1 D5:1 E5:1 F5:1 "
    for last, printed in (("G5:4 ", 4), ("G5:2 E5:2 ", 5)):
        piece = arrangement(chorus_of("Held", [("4/4", 16)], "C",
                                      tune * 14 + last + "C5:4", "C:64"), [])
        wedges = etree.fromstring(to_musicxml(piece)).iter("wedge")
        assert sum(wedge.get("type") != "stop" for wedge in wedges) == printed


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


def test_a_slur_has_neither_a_rest_nor_a_key_struck_again_inside() -> None:
    arrangement = lamp()
    touch = touch_of(arrangement)
    lines = {fill.gap for fill in arrangement.fills if fill.family == "line"}
    assert {slur.role for slur in touch.slurs} == {"melody", "fill"}
    for slur in touch.slurs:
        row = [n for n in arrangement.notes if n.role == slur.role and n.hand == "right"
               and slur.onset_quarter <= n.onset_quarter <= slur.last_quarter
               and (n.role == "melody" or n.gap in lines)]
        assert len(row) >= 3
        assert all(a.end_quarter >= b.onset_quarter and a.midi != b.midi
                   for a, b in pairwise(row))
        assert slur.last_quarter - slur.onset_quarter < 2 * arrangement.chorus.meter.length_quarter


def test_slurs_are_printed_from_end_to_end() -> None:
    """A bar is written voice by voice, so those of two voices are told apart by their numbers."""
    root = etree.fromstring(to_musicxml(lamp()))
    kinds: dict[str | None, list[str | None]] = {}
    for slur in root.iter("slur"):
        kinds.setdefault(slur.get("number"), []).append(slur.get("type"))
    assert sum(len(row) for row in kinds.values()) == 2 * len(touch_of(lamp()).slurs)
    assert all(row == ["start", "stop"] * (len(row) // 2) for row in kinds.values())


@pytest.mark.parametrize(("top", "swells"), [("E5", []), ("G5", [(12, 16, True), (16, 20, False)])])
def test_a_melody_swells_where_it_climbs_a_fourth(top: str, swells: list[object]) -> None:
    melody = "C5:1 D5:1 E5:1 D5:1 " * 4 + f"{top}:1 E5:1 D5:1 C5:1 " + "D5:1 C5:1 D5:1 C5:1 " * 3
    done = arrangement(chorus_of("Climbs", [("4/4", 8)], "C", melody, "C:32"), [])
    found = touch_of(done).swells
    assert [(s.onset_quarter, s.end_quarter, s.rises) for s in found] == swells
