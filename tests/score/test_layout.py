"""Line breaks, words and signs clear of the notes, lines of music on their pages."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction
from importlib import import_module

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from tests.score.written import arrangement, chorus_of, hand, swing_tune

from fillwright.score import (
    Area,
    PageStyle,
    drawn_on,
    engrave_musicxml,
    part_signs,
    placing,
    shift,
    to_musicxml,
    turning,
)
from fillwright.score.labels import text_width
from fillwright.score.mei import choose_breaks
from fillwright.score.obstacles import Sky
from fillwright.score.paging import Paper, balanced, level_of, levelled

pytestmark = pytest.mark.slow

IMPLICIT = ' implicit="yes"'


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
    assert choose_breaks([10.0] * count, starts, 60, first_only(count, pickup)) == expected


def first_only(count: int, pickup: bool) -> list[bool]:
    return [pickup and not place for place in range(count)]


def test_the_rest_of_a_divided_bar_begins_a_line_as_a_pickup() -> None:
    pickups = [place in (0, 9) for place in range(18)]
    assert choose_breaks([10.0] * 18, [False] * 18, 60, pickups) == [5, 9, 14]
    for (low, high), lines in (((3, 1), [4, 3, 5, 4, 2]),    # one bar
                               ((3, 3), [4, 4, 4, 4, 2]),    # two short ones
                               ((2, 1), [4, 4, 4, 4, 2])):
        view = quarters_in_bars([4] * 6 + [low, high] + [4] * 10)
        assert [line.count('class="measure"') for page in engrave_musicxml(view).pages
                for line in page.split('class="system"')[1:]] == lines
    view = quarters_in_bars([4] * 6 + [2, 2, 2, 2] + [4] * 8)  # bars in their own right
    assert [page.count('class="system"') for page in engrave_musicxml(view).pages] == [5]


def quarters_in_bars(lengths: list[int]) -> bytes:
    note = ("<note><pitch><step>A</step><octave>4</octave></pitch><duration>2</duration>"
            "<type>quarter</type></note>")
    bars = [f'<measure number="{place + 1}"{IMPLICIT * (length < 4)}>'
            + ("" if place else "<attributes><divisions>2</divisions><time><beats>4</beats>"
               "<beat-type>4</beat-type></time></attributes>")
            + note * length + "</measure>" for place, length in enumerate(lengths)]
    return ('<score-partwise version="4.0"><part-list><score-part id="P1"><part-name/>'
            '</score-part></part-list><part id="P1">' + "".join(bars)
            + "</part></score-partwise>").encode()


def test_lines_that_do_not_fit_are_halved() -> None:
    assert choose_breaks([10.0] * 8, [True] + [False] * 7, 25, first_only(8, False)) == [2, 4, 6]
    assert choose_breaks([30.0] * 4, [True] + [False] * 3, 25, first_only(4, False)) == [1, 2, 3]
    # a pickup stays with its bar
    assert choose_breaks([10.0] * 5, [False, True, False, False, False], 35,
                         first_only(5, True)) == [3]


@given(st.lists(st.floats(1, 40), min_size=1, max_size=30), st.sets(st.integers(0, 29)),
       st.booleans())
def test_every_line_fits_or_is_one_bar(widths: list[float], sections: set[int],
                                       pickup: bool) -> None:
    starts = [index in sections for index in range(len(widths))]
    pickup = pickup and len(widths) > 1
    breaks = choose_breaks(widths, starts, 50, first_only(len(widths), pickup))
    assert breaks == sorted(set(breaks)) and 0 not in breaks
    edges = [0, *breaks, len(widths)]
    for low, high in itertools.pairwise(edges):
        counted = high - low - (1 if pickup and low == 0 else 0)
        assert counted <= 1 or sum(widths[low:high]) <= 50


def test_one_line_alone_is_as_wide_as_its_music_on_a_page() -> None:
    """Its bars are no narrower than on a page without stretching, its page no wider than what
    is drawn and the margins; one that is too narrow for it is full."""
    view = to_musicxml(swing_tune("beginner"), view=True)
    bars = swing_tune("beginner").chorus.bars

    def drawn(width: int) -> tuple[int, float]:
        style = PageStyle(width=width, margin_side=20, in_one_line=True)
        [page] = engrave_musicxml(view, style=style, foot=()).pages
        root = etree.fromstring(page.encode())
        right = max(thing.box.right for thing in drawn_on(root))
        return int((root.get("viewBox") or "").split()[2]), right / 10
    width, right = drawn(20_000)
    assert right < width <= right + 3 * 20
    assert width > 350 * len(bars)
    assert drawn(width // 2)[0] == width // 2


def test_ties_of_a_second_over_the_end_of_a_line_can_be_seen() -> None:
    """To the left one of its heads the engraver leaves 1.3 mm."""
    chorus = chorus_of("Over", [("4/4", 8)], "F", "C5:4 " * 8, "C:32")
    tied = arrangement(chorus, hand("r:14 C3+D3:4", "left"))
    [page] = engrave_musicxml(to_musicxml(tied, view=True)).pages
    ties = [thing.box for thing in drawn_on(etree.fromstring(page.encode()))
            if thing.kind == "tie"]
    assert len(ties) == 4                               # two keys, on two lines
    assert min(box.right - box.left for box in ties) > 190


# --- words and signs --------------------------------------------------------------------

SVG = "{http://www.w3.org/2000/svg}"
HEAD = ("M0 -39c0 68 73 172 200 172c66 0 114 -37 114 -95c0 -84 -106 -171 -218 -171"
        "c-64 0 -96 30 -96 94z")


def test_every_key_of_a_tied_chord_with_a_second_has_a_tie_that_can_be_seen() -> None:
    """To the left one of its heads the engraver draws 0.1 mm, and begins those beside it late."""
    chorus = chorus_of("Tied", [("4/4", 4)], "C", "C6:4 " * 4, "C:16")
    tied = arrangement(chorus, hand("r:1.5 A3+C4+F4+G4:2 r:.5 " * 4, "left"))
    [page] = engrave_musicxml(to_musicxml(tied, view=True)).pages
    ties = [thing.box for thing in drawn_on(etree.fromstring(page.encode()))
            if thing.kind == "tie"]
    assert len(ties) == 16
    assert min(tie.right - tie.left for tie in ties) > 120
    starts = sorted(tie.left for tie in ties)
    assert all(max(four) - min(four) < 100 for four in zip(*[iter(starts)] * 4, strict=True))


def head(x: int, y: int) -> str:
    return (f'<g class="note"><g class="notehead"><use href="#E0A4-x" '
            f'transform="translate({x}, {y}) scale(0.6, 0.6)"/></g></g>')


def words(key: str, x: int, y: int, text: str, kind: str = "harm", size: int = 270) -> str:
    return (f'<g id="{key}" class="{kind}"><text x="{x}" y="{y}" text-anchor="middle" '
            f'font-size="0px"><tspan font-size="{size}px">{text}</tspan></text></g>')


def label(key: str, x: int, y: int) -> str:
    return (f'<g id="{key}" class="harm"><ellipse cx="{x + 140}" cy="{y - 85}" rx="140" ry="175" '
            f'stroke-width="20"/><text x="{x + 75}" y="{y}" font-size="0px">'
            '<tspan font-size="270px">1</tspan></text></g>')


def line(*drawn: str, notes: str = "") -> etree._Element:
    """A line of music: staves at 5000 to 5600 and 7000 to 7600."""
    staves = "".join('<g class="staff">' + "".join(
        f'<path d="M0 {top + 150 * place} L18000 {top + 150 * place}" stroke-width="11"/>'
        for place in range(5)) + (notes if top == 5000 else "") + "</g>" for top in (5000, 7000))
    page = etree.fromstring(
        '<svg xmlns="http://www.w3.org/2000/svg"><defs><g id="E0A4-x">'
        f'<path transform="scale(1,-1)" d="{HEAD}"/></g></defs><g class="system">'
        f'<g class="measure">{staves}{"".join(drawn)}</g></g></svg>')
    return next(group for group in page.iter(f"{SVG}g") if group.get("class") == "system")


def placed(system: etree._Element, names: dict[str, str] | None = None, edge: float = 18000
           ) -> dict[str, list[Area]]:
    """Where things stand after it, by id or kind; nothing meets anything else."""
    placing.place_line(system, names or {}, 270, edge)
    things = [thing for thing in drawn_on(system) if thing.kind != "staff"]
    for one, other in itertools.combinations(things, 2):
        if one.group is not other.group and {one.kind, other.kind} != {"head", "stem"}:
            assert not any(a.widened(15).meets(b.widened(15)) for a in one.areas
                           for b in other.areas), (one.kind, other.kind)
    found: dict[str, list[Area]] = {}
    for thing in things:
        found.setdefault(thing.group.get("id") or thing.kind, []).append(thing.box)
    return found


def test_fingers_stand_in_a_column_between_the_stem_and_the_slur_which_is_led_around_them() -> None:
    stem = '<g class="stem"><path d="M2180 4950 L2180 4400" stroke-width="15"/></g>'
    slur = ('<g class="slur"><path d="M1500,4400 C1800,4150 2600,4150 3000,4400 '
            'C2600,4180 1800,4180 1500,4400" stroke-width="7"/></g>')
    found = placed(line(words("fingA1-1", 2090, 5300, "1", "fing"), slur,
                        words("fingA1-2", 2100, 5200, "3", "fing"),
                        words("fingB2-1", 2090, 7100, "5", "fing"),
                        notes=head(2000, 5000) + stem))
    one, three, five = (found[key][0] for key in ("fingA1-1", "fingA1-2", "fingB2-1"))
    assert three.bottom < one.top < one.bottom < 4400       # the nearest to the note is the lower
    assert one.bottom > 4250                                # not beyond where the slur was
    assert found["slur"][0].top < three.top
    assert abs((one.left + one.right) - (three.left + three.right)) < 60
    assert 7600 < five.top < 7750                           # right under the staff


def test_counts_stand_below_all_fingers_of_their_line_and_well_apart() -> None:
    found = placed(line(words("fingB2-1", 2090, 7800, "1", "fing"),
                        words("fingB2-2", 2100, 7900, "3", "fing"),
                        words("count1", 8000, 7900, "4"), words("count2", 2100, 7900, "1")))
    far, near, low = (found[key][0] for key in ("count1", "count2", "fingB2-2"))
    assert far.top == pytest.approx(near.top, abs=5)
    assert near.top - low.bottom > 2 * (low.top - found["fingB2-1"][0].bottom)


def test_chord_symbols_stand_above_all_fingers_of_their_line() -> None:
    found = placed(line(words("fingA1-1", 2090, 4500, "1", "fing"),
                        words("a", 3000, 4900, "Dm7", size=340), notes=head(2000, 4600)))
    assert found["a"][0].bottom < found["fingA1-1"][0].top


def test_fingers_are_not_nearer_to_the_other_hands_notes_than_to_their_own() -> None:
    """Without a note of the left hand's they stand between the staves, else on the other side."""
    for other, below in ((7300, True), (6000, False)):
        found = placed(line(words("fingB1-1", 2090, 5800, "2", "fing"),
                            notes=head(2000, 5500) + head(2020, other)))
        assert (found["fingB1-1"][0].top > 5600) == below


def test_a_slur_that_meets_no_finger_stays() -> None:
    curve = "M1500,4700 C1800,4450 2600,4450 3000,4700 C2600,4480 1800,4480 1500,4700"
    for at, stays in ((1500, True), (2100, False)):
        system = line(f'<g class="slur"><path d="{curve}" stroke-width="7"/></g>',
                      words("fingA1-1", at, 4900, "1", "fing"), notes=head(2000, 4800))
        placing.place_line(system, {}, 270, 18000)
        [path] = [path for group in system.iter(f"{SVG}g") if group.get("class") == "slur"
                  for path in group]
        assert (path.get("d") == curve) == stays


def test_a_label_stands_beside_its_box_above_the_chord_symbols() -> None:
    found = placed(line(label("gap1", 1000, 5000), words("a", 1300, 4000, "Dm7", size=340),
                        words("b", 6000, 4300, "G7", size=340)), {"gap1": "shells, off-beats"})
    assert found["a"][0].bottom == pytest.approx(found["b"][0].bottom, abs=6)   # one row
    assert found["a"][0].bottom < 5000
    box = found["gap1"][0]
    name = found["gap1"][-1]
    assert name.left > box.right and name.bottom < found["a"][0].top


def test_pages_half_empty_are_saved_by_music_a_little_smaller() -> None:
    view = to_musicxml(swing_tune("beginner"))
    page = PageStyle(height=1950)
    closer = engrave_musicxml(view, style=page)
    usual = engrave_musicxml(view, style=replace(page, least_unit=page.unit))
    assert [page.count('class="system"') for page in closer.pages] == [2, 3]
    assert [page.count('class="system"') for page in usual.pages] == [2, 2, 1]


def test_labels_that_nearly_stand_in_a_row_do() -> None:
    notes = '<g class="stem"><path d="M9100 4800 L9100 5300" stroke-width="15"/></g>'
    found = placed(line(label("gap1", 1000, 5000), label("gap2", 9000, 5000), notes=notes),
                   {"gap1": "shells", "gap2": "enclosure"})
    assert found["gap1"][0].bottom == found["gap2"][0].bottom < 4800


def test_a_label_at_the_edge_moves_left_into_the_page() -> None:
    found = placed(line(label("gap1", 17500, 5000)), {"gap1": "open"})
    assert max(area.right for area in found["gap1"]) <= 18000


def test_accidentals_of_two_voices_are_told_apart() -> None:
    def sign(x: int, y: int) -> str:
        return (f'<g class="note"><g class="accid"><use href="#E0A4-x" '
                f'transform="translate({x}, {y}) scale(0.6, 0.6)"/></g></g>')

    system = line(notes=sign(2000, 5000) + sign(1850, 5080))
    upper, lower = (thing.box for thing in drawn_on(system) if thing.kind == "accid")
    assert upper.left - lower.right < 25
    part_signs(system)
    right, left = (thing.box for thing in drawn_on(system) if thing.kind == "accid")
    assert right == upper and 29 <= right.left - left.right < 40


def test_a_label_ends_before_the_next_and_before_the_edge() -> None:
    name = "rootless voicings over the root"
    system = line(label("gap1", 1000, 5000), label("gap2", 4500, 5000))
    found = placed(system, {"gap1": name, "gap2": name}, edge=8000)
    for key, limit in (("gap1", 4500), ("gap2", 8000)):
        assert len(found[key]) == 4                          # box, number and two lines
        assert all(area.right <= limit for area in found[key])
    texts = [text.text for text in system.iter(f"{SVG}text") if text.text]
    assert " ".join(texts) == f"{name} {name}"


def test_a_flat_in_a_label_is_one_of_the_music_font() -> None:
    system = line(label("gap1", 1000, 5000))
    placed(system, {"gap1": "moving voice ♭7–♯6"})
    parts = [(part.text, part.get("font-family"), float((part.get("font-size") or "")[:-2]))
             for part in system.iter(f"{SVG}tspan") if part.text]
    assert [(text, face) for text, face, _ in parts[-4:]] == [
        ("\uea64", "Leipzig"), ("7–", None), ("\uea66", "Leipzig"), ("6", None)]
    assert parts[-4][2] > 2 * parts[-3][2]              # taller than a capital: see test_placing


def test_a_label_that_needs_more_than_two_lines_stands_above_its_neighbour() -> None:
    name = "rootless voicings over the root"
    found = placed(line(label("gap1", 1000, 5000), label("gap2", 2000, 5000)),
                   {"gap1": name, "gap2": "open"})
    assert found["gap1"][0].bottom < found["gap2"][0].top + 2
    assert len(found["gap1"]) == 3                           # box, number, one line


def test_rows_rise_above_what_they_would_meet() -> None:
    octave = '<g class="octave"><path d="M900 4700 L3000 4700" stroke-width="15"/></g>'
    found = placed(line(words("a", 1300, 4900, "Dm7", size=340), octave,
                        words("b", 6000, 4900, "G7", size=340),
                        words("reh", 1250, 4800, "A", "reh")))
    assert found["a"][0].bottom == pytest.approx(found["b"][0].bottom, abs=6)   # still a row
    assert found["b"][0].bottom < 4700
    assert found["reh"][0].right < found["a"][0].left            # a letter goes to the left


def test_counts_fall_together_below_low_notes_and_fingers() -> None:
    system = line(words("count1", 1000, 7700, "1"), words("count2", 9000, 7700, "2"),
                  words("fingB2-1", 1090, 7650, "5", "fing"), notes=head(1000, 7900))
    found = placed(system)
    assert found["count1"][0].top > found["fingB2-1"][0].bottom > 8000
    assert len({text.get("y") for text in system.iter(f"{SVG}text")} - {"7650"}) == 2


@pytest.mark.parametrize("kind", ["dynam", "hairpin"])
def test_dynamics_have_air_between_the_staves(kind: str) -> None:
    inner = ('<use href="#E0A4-x" transform="translate(1000, 6000) scale(0.6, 0.6)"/>'
             if kind == "dynam" else
             '<polyline points="2000,6093 1000,6000 2000,5907" stroke-width="15"/>')
    [area] = placed(line(f'<g id="d" class="{kind}">{inner}</g>', notes=head(1100, 6075)))["d"]
    assert area.top > 6040 or area.bottom < 5990        # not where it was
    assert area.top > 5600 and area.bottom < 7000       # and still between the staves


def test_a_level_without_room_above_or_below_goes_aside() -> None:
    wall = "".join(head(1000, y) for y in range(5440, 7300, 215))
    mark = '<use href="#E0A4-x" transform="translate(1000, 6000) scale(0.6, 0.6)"/>'
    [area] = placed(line(f'<g id="d" class="dynam">{mark}</g>', notes=wall))["d"]
    assert area.right < 1000                            # before its note
    assert area.top > 5600 and area.bottom < 7000


def test_what_swells_and_fades_stands_on_one_line_with_its_level() -> None:
    """A head under the second hairpin moves all three; the two do not meet."""
    found = placed(line(
        '<g id="level" class="dynam"><use href="#E0A4-x" transform="translate(700, 6050) '
        'scale(0.6, 0.6)"/></g>',
        '<g id="up" class="hairpin"><polyline points="4000,6100 1000,6000 4000,5900"/></g>'
        '<g id="down" class="hairpin"><polyline points="4000,6150 7000,6050 4000,5950"/></g>',
        notes=head(5500, 6050)))
    areas = {name: Area(min(a.left for a in found[name]), min(a.top for a in found[name]),
                        max(a.right for a in found[name]), max(a.bottom for a in found[name]))
             for name in ("level", "up", "down")}
    middles = {round((area.top + area.bottom) / 2, -1) for area in areas.values()}
    assert len(middles) == 1 and 5600 < middles.pop() < 7000
    assert areas["up"].left - areas["level"].right >= 80
    assert areas["down"].left - areas["up"].right >= 80


@pytest.mark.parametrize(("points", "left", "right"), [
    ("12000,6100 1000,6000 12000,5900", 6000, 12000),           # louder: towards its end
    ("1000,6100 12000,6000 1000,5900", 1000, 7000)])
def test_no_hairpin_reads_as_two_level_lines(points: str, left: int, right: int) -> None:
    [area] = placed(line(f'<g id="d" class="hairpin"><polyline points="{points}"/></g>'))["d"]
    assert abs(area.left - left) < 60 and abs(area.right - right) < 60
    assert area.bottom - area.top == pytest.approx(200, abs=20)


def test_a_hairpin_without_room_opens_less() -> None:
    pin = '<g id="d" class="hairpin"><polyline points="6000,6200 1000,6000 6000,5800"/></g>'
    notes = "".join(head(x, y) for x in (1500, 5500) for y in (5960, 6310))
    system = line(pin, notes=notes)
    placed(system)
    [line_] = system.iter(f"{SVG}polyline")
    ys = [float(point.split(",")[1]) for point in (line_.get("points") or "").split()]
    assert 200 < ys[0] - ys[2] < 400                    # what opens less reads as a line


@pytest.mark.parametrize(("at", "left", "right"), [(4000, 4200, 9000), (8600, 1000, 8560)])
def test_a_hairpin_that_meets_something_at_any_height_is_shorter(at: int, left: int, right: int
                                                                 ) -> None:
    """It comes to a point again, or opens less."""
    wall = "".join(head(at, y) for y in range(5440, 7300, 215))
    system = line('<g id="d" class="hairpin"><polyline points="9000,6200 1000,6000 9000,5800"/>'
                  "</g>", notes=wall)
    [area] = placed(system)["d"]
    assert area.left >= left and area.right <= right and area.right - area.left > 3000
    [points] = [line_.get("points", "").split() for line_ in system.iter(f"{SVG}polyline")]
    assert len(points) == 3 and points[0].split(",")[0] == points[2].split(",")[0]


def test_a_hairpin_of_which_nothing_is_left_is_not_drawn() -> None:
    wall = "".join(head(x, y) for y in range(5440, 7300, 215) for x in range(900, 2400, 300))
    assert "d" not in placed(line('<g id="d" class="hairpin"><polyline points="2000,6200 1000,6000 '
                                  '2000,5800"/></g>', notes=wall))


def test_an_octave_line_lies_over_a_slur() -> None:
    eight = '<path d="M1000 4700 L3000 4700" stroke-width="15" stroke-dasharray="30 60"/>'
    slur = ('<g class="slur"><path d="M1500,4800 C1800,4550 2600,4550 3000,4800 '
            'C2600,4580 1800,4580 1500,4800" stroke-width="9"/></g>')
    found = placed(line(f'<g id="o" class="octave">{eight}</g>', slur))
    assert found["o"][0].bottom < found["slur"][0].top


def test_moving_rewrites_every_kind_of_place() -> None:
    group = etree.fromstring(
        '<g><use transform="translate(10, -20) scale(0.6, 0.6)"/><text x="1" y="2"><tspan x="3" '
        'y="4"/></text><rect x="5" y="6"/><ellipse cx="7" cy="8"/><path d="M-1,2 C3,4 5,6 7,8"/>'
        '<path d="M1 2 L3 4"/><polygon points="1,2 3,4"/>'
        '<g transform="rotate(-90.000000 2641,7903)"/></g>')
    shift(group, 100, 1000)
    assert [{str(k): v for k, v in element.items()} for element in group] == [
        {"transform": "translate(110, 980) scale(0.6, 0.6)"}, {"x": "101", "y": "1002"},
        {"x": "105", "y": "1006"}, {"cx": "107", "cy": "1008"},
        {"d": "M99,1002 C103,1004 105,1006 107,1008"}, {"d": "M101 1002 L103 1004"},
        {"points": "101,1002 103,1004"}, {"transform": "rotate(-90.000000 2741,8903)"}]
    assert (group[1][0].get("x"), group[1][0].get("y")) == ("103", "1004")


AREAS = st.builds(lambda x, y, w, h: Area(x, y, x + w, y + h), st.integers(0, 2000),
                  st.integers(0, 300), st.integers(1, 500), st.integers(1, 80))


@given(st.lists(AREAS, min_size=1, max_size=4), st.lists(AREAS, max_size=12), st.integers(0, 40))
def test_what_has_moved_is_clear(moving: list[Area], others: list[Area], air: int) -> None:
    sky = Sky(others)
    rise, fall = sky.rise(moving, air), sky.fall(moving, air)
    assert not sky.meets([area.raised(rise) for area in moving], air)
    assert not sky.meets([area.raised(-fall) for area in moving], air)
    assert (rise == 0) == (fall == 0) == (not sky.meets(moving, air))


def test_lengths_that_are_rounded_are_cleared_in_one_step_each() -> None:
    """Here the ways to the two obstacles, added up, stay for ever a part too small to be added
    below what is needed."""
    low, high = 202.8, 202.8 + 57.6
    sky = Sky([Area(0, 194.4, 9, 238.4), Area(0, 117.3, 9, 168.9)])
    assert sky.rise([Area(0, low, 9, high)], 0) == high - 117.3
    assert sky.fall([Area(0, -high, 9, -low)], 0) == 0
    upside_down = Sky([Area(0, -238.4, 9, -194.4), Area(0, -168.9, 9, -117.3)])
    assert upside_down.fall([Area(0, -high, 9, -low)], 0) == high - 117.3


# --- pages ------------------------------------------------------------------------------

@pytest.mark.parametrize(("lines", "shares"), [
    (26, [5, 5, 5, 4, 4, 3]), (9, [5, 4]), (6, [4, 2]), (4, [4]), (11, [4, 4, 3])])
def test_pages_are_full_but_for_the_last_which_has_more_than_a_line(
        lines: int, shares: list[int]) -> None:
    found = balanced([40.0] * lines, (240, 240), 5, 5)
    assert sorted(found, reverse=True) == shares and found[-1] == shares[-1]


def test_pages_are_turned_where_a_hand_is_free() -> None:
    free = [1.2 if place in (3, 7) else 0.0 for place in range(12)]          # after lines 4 and 8
    assert balanced([40.0] * 9, (240, 240), 5, 5, free[:8]) == [4, 5]
    assert balanced([40.0] * 9, (240, 240), 5, 5, [1.2 - turn for turn in free[:8]]) == [5, 4]
    assert balanced([40.0] * 8, (240, 240), 5, 5, [1.2] * 4 + [0.96] * 3) == [5, 3]  # nearly so
    assert len(balanced([40.0] * 10, (240, 240), 5, 5, free[:9])) == 2      # never a page more


def test_a_hand_is_free_from_its_last_stroke_to_the_next() -> None:
    """Two bars of two seconds: the right hand strikes at 0, 1 and 3.5 (a note tied over the bar
    line is not struck again), the left one at 0, 1.9 and 2."""
    bars = "".join(f'<g class="measure" id="m{bar}">' + "".join(
        '<g class="staff">' + "".join(f'<g class="note" id="{name}"/>' for name in names) + "</g>"
        for names in staves) + "</g>" for bar, staves in enumerate(
            [(("n0", "n1"), ("n2", "n3")), (("n1-4", "n4"), ("n5",))]))
    page = etree.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg"><g>{bars}</g></svg>')
    times = ((0, "n0 n2", 0), (1000, "n1", None), (1900, "n3", None), (2000, "n1-4 n5", 1),
             (3500, "n4", None))
    timemap = [{"tstamp": time, "on": names.split(),
                **({} if bar is None else {"measureOn": f"m{bar}"})} for time, names, bar in times]
    assert turning.free_seconds(timemap, [*page]) == pytest.approx([0.0, 2.5])


@pytest.mark.parametrize(("free", "starts", "widths", "found"), [
    ({3: 1.0}, (), 1, 3), ({5: 1.0}, (), 1, 5), ({4: 1.0, 5: 2.0}, (), 1, 4),
    ({3: 0.5, 5: 0.7}, (), 1, 5), ({3: 1.0}, (4,), 1, 4), ({3: 1.0}, (), 2, 4)])
def test_a_line_that_ends_a_page_is_a_bar_longer_or_shorter(
        free: dict[int, float], starts: tuple[int, ...], widths: int, found: int) -> None:
    """Eight bars in two lines of five at most, of four where they are wide."""
    bars = turning.Bars([widths] * 8, [bar in starts for bar in range(8)], 5 if widths == 1 else 8)
    times = [free.get(bar, 0.0) for bar in range(8)]
    assert turning.starts_for_turning(bars, [4], times) == [found]


@given(st.lists(st.floats(10, 120), min_size=1, max_size=40), st.integers(1, 8))
def test_pages_hold_their_lines_and_are_as_few_as_can_be(heights: list[float], most: int) -> None:
    shares = balanced(heights, (220, 240), 5, most)
    assert sum(shares) == len(heights) and max(shares) <= most
    edges = [0, *itertools.accumulate(shares)]
    for low, high in itertools.pairwise(edges):
        room = 220 if low == 0 else 240
        assert high - low == 1 or sum(heights[low:high]) + 5 * (high - low - 1) <= room
    filled, pages, count = 0.0, 1, 0          # as many on each as fit: the fewest pages
    for height in heights:
        if count and (filled + 5 + height > (220 if pages == 1 else 240) or count == most):
            pages, filled, count = pages + 1, 0.0, 0
        filled += height + (5 if count else 0)
        count += 1
    assert len(shares) == pages


def test_staves_stand_equally_far_apart_where_they_can() -> None:
    group = etree.Element("g")
    lines = [placing.Extent(group, 0, 100, 30, 80), placing.Extent(group, 0, 90, 20, 80),
             placing.Extent(group, 0, 200, 120, 180)]
    for room, expected in ((600, [190, 190]), (450, [90, 140]), (0, [50, 140])):
        paper = Paper(3000, room, 5, 10, 500)
        tops = levelled(lines, paper, level_of(lines, room, paper))
        staves = [(top + line.staff_top, top + line.staff_bottom)
                  for top, line in zip(tops, lines, strict=True)]
        assert [b[0] - a[1] for a, b in itertools.pairwise(staves)] == pytest.approx(expected)
        assert not room or tops[-1] + 200 == pytest.approx(room)         # the page is full


def test_widths_of_text() -> None:
    """Digits of Times are half an em wide (the face's metrics)."""
    assert text_width("0", 100) == pytest.approx(50)
    assert text_width("00", 100) == pytest.approx(100)
    assert float(Fraction(text_width("", 100))) == 0


def test_no_page_more_for_the_sake_of_turning(monkeypatch: pytest.MonkeyPatch) -> None:
    engraver = import_module("fillwright.score.engraver")
    view = to_musicxml(swing_tune(), view=True)
    plain = engraver.engrave_here(view)
    monkeypatch.setattr(engraver, "_breaks_for_turning",
                        lambda lines, bars, breaks, paper: list(range(1, len(bars.widths))))
    turned = engraver.engrave_here(view)
    assert [page.count('class="system"') for page in turned.pages] == [
        page.count('class="system"') for page in plain.pages]
