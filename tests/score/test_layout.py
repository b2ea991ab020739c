"""Line breaks, labels and clear places on the page."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from fillwright.score.labels import (
    boxes_of,
    give_dynamics_air,
    lower_counts,
    text_width,
    write_labels,
)
from fillwright.score.mei import choose_breaks
from fillwright.score.obstacles import Area, areas_of, first_free_rise

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(("count", "sections", "pickup", "expected"), [
    (8, [0], False, [4]),
    (9, [0, 1], True, [5]),                     # a pickup goes with the first line
    (12, [0, 8], False, [4, 8]),
    (17, [0, 1, 9], True, [5, 9, 13]),
    (10, [0, 5], False, [5]),                   # no bar alone on a line
    (6, [0], False, [4]),
])
def test_four_bars_to_a_line(count: int, sections: list[int], pickup: bool,
                             expected: list[int]) -> None:
    starts = [index in sections for index in range(count)]
    assert choose_breaks([10.0] * count, starts, 60, pickup) == expected


def test_lines_that_do_not_fit_are_halved() -> None:
    assert choose_breaks([10.0] * 8, [True] + [False] * 7, 25, False) == [2, 4, 6]
    assert choose_breaks([30.0] * 4, [True] + [False] * 3, 25, False) == [1, 2, 3]
    # a pickup stays with its bar
    assert choose_breaks([10.0] * 5, [False, True, False, False, False], 35, True) == [3]


@given(st.lists(st.floats(1, 40), min_size=1, max_size=30), st.sets(st.integers(0, 29)),
       st.booleans())
def test_every_line_fits_or_is_one_bar(widths: list[float], sections: set[int],
                                       pickup: bool) -> None:
    starts = [index in sections for index in range(len(widths))]
    pickup = pickup and len(widths) > 1
    breaks = choose_breaks(widths, starts, 50, pickup)
    assert breaks == sorted(set(breaks)) and 0 not in breaks
    edges = [0, *breaks, len(widths)]
    for low, high in itertools.pairwise(edges):
        counted = high - low - (1 if pickup and low == 0 else 0)
        assert counted <= 1 or sum(widths[low:high]) <= 50


# --- labels -----------------------------------------------------------------------------

def page_with(*boxes: tuple[str, int, int], extra: str = "") -> etree._Element:
    groups = "".join(
        f'<g id="{key}" class="harm"><rect x="{x}" y="{y - 260}" width="280" height="350"/>'
        f'<text x="{x + 75}" y="{y}" font-size="0px"><tspan font-size="270px">1</tspan></text></g>'
        for key, x, y in boxes)
    return etree.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{groups}{extra}</svg>')


def lines_of(page: etree._Element, key: str) -> list[tuple[str, float, float]]:
    return [(text.text or "", float(text.get("x", 0)), float(text.get("y", 0)))
            for group in page.iter("{http://www.w3.org/2000/svg}g") if group.get("id") == key
            for text in group.findall("{http://www.w3.org/2000/svg}text")[1:]]


def labelled(page: etree._Element, names: dict[str, str], edge: float = 18000) -> None:
    write_labels([page], boxes_of([page], edge, 270), names, 270)


def test_a_label_stands_beside_its_box() -> None:
    page = page_with(("gap1", 1000, 5000))
    labelled(page, {"gap1": "shells, off-beats"})
    [(text, x, y)] = lines_of(page, "gap1")
    assert text == "shells, off-beats" and y == 5000 and x > 1280


def test_a_label_ends_before_the_next_and_before_the_edge() -> None:
    name = "rootless voicings over the root, on the beat"
    page = page_with(("gap1", 1000, 5000), ("gap2", 5000, 5000))
    labelled(page, {"gap1": name, "gap2": name}, edge=9000)
    for key, limit in (("gap1", 5000), ("gap2", 9000)):
        lines = lines_of(page, key)
        assert " ".join(text for text, _, _ in lines) == name
        assert len(lines) > 1
        assert all(x + text_width(text, 270) <= limit for text, x, _ in lines)
        assert lines[-1][2] == 5000                     # it grows upwards


def test_boxes_of_another_line_do_not_matter() -> None:
    page = page_with(("gap1", 9000, 5000), ("gap2", 9500, 9000))
    labelled(page, {"gap1": "a rather long name of a device"})
    assert len(lines_of(page, "gap1")) == 1


def test_a_label_rises_above_what_it_would_meet() -> None:
    high_note = '<use href="#E0A4-x" transform="translate(2500, 4900) scale(0.6, 0.6)"/>'
    page = page_with(("gap1", 1000, 5000), extra=high_note)
    labelled(page, {"gap1": "shells, off-beats"})
    [(_, _, y)] = lines_of(page, "gap1")
    [note] = [area for element, area in areas_of(page) if element.tag.endswith("use")]
    assert y <= note.top
    rect = page.find(".//{http://www.w3.org/2000/svg}rect")
    assert rect is not None and float(rect.get("y", 0)) == 4740 - (5000 - y)  # with its box


def test_a_label_rises_above_an_octave_line() -> None:
    line = '<g class="octave"><path d="M2000 5020 L3000 5020"/></g>'
    page = page_with(("gap1", 1000, 5000), extra=line)
    labelled(page, {"gap1": "shells, off-beats"})
    [(_, _, y)] = lines_of(page, "gap1")
    assert y < 5000                                     # descenders touch nothing


@pytest.mark.parametrize(("below", "fall"), [(9000, 75), (4250, 0)])
def test_dynamics_stand_off_from_the_notes_where_there_is_room(below: int, fall: int) -> None:
    use = '<use href="#{0}" transform="translate(1000, {1}) scale(0.6, 0.6)"/>'
    page = page_with(extra=f'<g class="dynam">{use.format("E52C", 4000)}</g>'
                     + use.format("E0A4", 3800) + use.format("E0A4", below))
    give_dynamics_air(page, 7.5)
    [mark] = [g[0] for g in page.iter("{http://www.w3.org/2000/svg}g") if g.get("class") == "dynam"]
    assert mark.get("transform") == f"translate(1000, {4000 + fall}) scale(0.6, 0.6)"


@pytest.mark.parametrize(("obstacle", "fall"), [(None, 75), (4150, 0)])
def test_a_hairpin_has_air_where_there_is_room(obstacle: int | None, fall: int) -> None:
    extra = ('<g class="hairpin"><polyline points="2000,4093 1000,4000 2000,3907 "/></g>')
    if obstacle is not None:
        extra += f'<use href="#E0A4" transform="translate(1500, {obstacle}) scale(0.6, 0.6)"/>'
    page = page_with(extra=extra)
    give_dynamics_air(page, 7.5)
    [line] = page.iter("{http://www.w3.org/2000/svg}polyline")
    assert (line.get("points") or "").split() == [
        f"{x},{y + fall}" for x, y in ((2000, 4093), (1000, 4000), (2000, 3907))]


@pytest.mark.parametrize(("head", "falls"), [(1300, True), (3000, False)])
def test_a_row_of_counts_falls_below_a_low_note_beside_it(head: int, falls: bool) -> None:
    count = ('<g id="count{0}"><text x="{1}" y="5000" text-anchor="middle" font-size="0px">'
             '<tspan font-size="330px">{0}</tspan></text></g>')
    page = page_with(extra=count.format(1, 1000) + count.format(2, 9000)
                     + f'<use href="#E0A4" transform="translate({head}, 4950) scale(0.6, 0.6)"/>')
    lower_counts(page, 270)
    rows = {text.get("y") for text in page.iter("{http://www.w3.org/2000/svg}text")}
    assert len(rows) == 1                               # the row stays a row
    assert (float(rows.pop() or 0) > 5000) == falls


def test_first_free_rise() -> None:
    area = Area(0, 100, 50, 110)
    assert first_free_rise(area, [], 1, 100) == 0
    assert first_free_rise(area, [Area(60, 100, 70, 110)], 1, 100) == 0
    assert first_free_rise(area, [Area(10, 95, 20, 105)], 1, 100) == 16
    stacked = [Area(10, 95, 20, 105), Area(10, 75, 20, 90)]
    assert first_free_rise(area, stacked, 1, 100) == 36
    assert first_free_rise(area, stacked, 1, 20) == 0    # too far: stay


def test_widths_of_text() -> None:
    """Digits of Times are half an em wide (the face's metrics)."""
    assert text_width("0", 100) == pytest.approx(50)
    assert text_width("00", 100) == pytest.approx(100)
    assert float(Fraction(text_width("", 100))) == 0
