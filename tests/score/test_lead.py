"""The lead sheet as a page: one staff, or an empty one to write on, every gap bracketed."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest
from lxml import etree

from fillwright import Options, read_tune
from fillwright.arranging.build import prepare
from fillwright.demo import DEMO_TUNES, demo_path
from fillwright.score.lead import blank_sheet, lead_sheet, lead_view, phrase_staff

pytestmark = pytest.mark.slow

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("name", DEMO_TUNES)
def test_every_gap_has_its_bracket_in_the_order_of_the_music(name: str) -> None:
    chorus, gaps = prepare(read_tune(demo_path(name)), Options())
    pages = lead_sheet(chorus, gaps).pages
    marked = [int(number) for page in pages for number in re.findall(r'data-gap="(\d+)"', page)]
    assert sorted(set(marked)) == [gap.number for gap in gaps]
    for page in pages:
        for system in etree.fromstring(page.encode()).iter(f"{SVG}g"):
            if system.get("class") != "system":
                continue
            fields = [mark.find(f"{SVG}rect") for mark in system.findall(f"{SVG}g")
                      if mark.get("class") == "gap-mark"]
            edges = [(float(f.get("x", 0)), float(f.get("width", 0)))
                     for f in fields if f is not None]
            assert all(a + width <= b for (a, width), (b, _) in itertools.pairwise(edges))


def test_chord_symbols_say_where_they_stand() -> None:
    chorus, gaps = prepare(read_tune(demo_path("umbrella")), Options())
    page = lead_sheet(chorus, gaps).pages[0]
    found = re.findall(r'data-bar="(\d+)" data-onset="([^"]+)" data-text="([^"]+)"', page)
    first = chorus.chords[0]
    assert found[0] == ("0", "0", str(first.symbol))
    assert len(found) == len({span.onset_quarter for span in chorus.chords})


def test_the_tempo_is_no_chord_symbol() -> None:
    chorus, gaps = prepare(read_tune(demo_path("umbrella")), Options())
    assert chorus.chords[0].onset_quarter == 0  # it stands below the tempo
    page = etree.fromstring(lead_sheet(chorus, gaps).pages[0].encode())
    groups = {group.get("id", ""): group for group in page.iter(f"{SVG}g")}
    assert groups["tempo0"].get("data-text") is None
    tagged = [g for g in groups.values() if g.get("data-text")]
    said = [re.sub(r"\W", "", "".join(map(str, g.itertext())))[:1] for g in tagged]
    assert said == [(g.get("data-text") or "")[0] for g in tagged]


def test_a_bracket_that_goes_on_in_the_next_line_is_numbered_there_too(tmp_path: Path) -> None:
    bars = "|".join(['"C"c d e f', '"F"a g f e', '"G7"d e f g', '"C"c4-'] + ['"C"c2 d2'] * 4)
    path = tmp_path / "edge.abc"
    path.write_text(f"X:1\nT:Over the Edge\nM:4/4\nL:1/4\nK:C\n{bars}|]\n", encoding="utf-8")
    chorus, gaps = prepare(read_tune(path), Options())
    page = etree.fromstring(lead_sheet(chorus, gaps).pages[0].encode())
    parts: dict[str, list[bool]] = {}
    for mark in page.iter(f"{SVG}g"):
        if mark.get("class") == "gap-mark":
            again = mark.find(f"{SVG}text")
            assert again is None or again.text == f"({mark.get('data-gap')})"
            parts.setdefault(mark.get("data-gap", ""), []).append(again is not None)
    assert any(len(marks) > 1 for marks in parts.values())
    assert all(marks == [False, *[True] * (len(marks) - 1)] for marks in parts.values())


@pytest.mark.parametrize("name, number", [("ferry", 1), ("ferry", 3), ("ferry", -1),
                                          ("lamp", 5)])  # a section begins in the last one
def test_a_phrase_is_the_bars_around_its_gap(name: str, number: int) -> None:
    chorus, gaps = prepare(read_tune(demo_path(name)), Options())
    gap = gaps[number - 1 if number > 0 else number]
    done, first = phrase_staff(chorus, gaps, gap.number)
    page = etree.fromstring(done.pages[0].encode())
    bars = [g for g in page.iter(f"{SVG}g") if g.get("class") == "measure"]
    assert len(bars) >= 5
    assert f'data-gap="{gap.number}"' in done.pages[0]
    assert not [g for g in page.iter(f"{SVG}g") if g.get("id", "").startswith("tempo")]
    heads = [g for g in page.iter(f"{SVG}g") if re.fullmatch(r"n\d+", g.get("id", ""))]
    shown = chorus.melody[first:first + len(heads)]
    assert gap.held is None or gap.onset_quarter in {note.onset_quarter for note in shown}


def test_one_staff_or_an_empty_one_below() -> None:
    chorus, gaps = prepare(read_tune(demo_path("ferry")), Options())
    lead = etree.fromstring(lead_view(chorus, gaps))
    assert not lead.findall(".//staves") and not lead.findall(".//backup")
    assert all(staff.text == "1" for staff in lead.iter("staff"))
    blank = etree.fromstring(lead_view(chorus, gaps, blank=True))
    below = [note for note in blank.iter("note") if note.findtext("staff") == "2"]
    assert below and all(note.find("rest") is not None and note.get("print-object") == "no"
                         for note in below)
    for sheet in (lead, blank):  # loud and soft is the performance's
        assert not sheet.findall(".//dynamics") and not sheet.findall(".//wedge")
    heads = sum(note.find("pitch") is not None and note.find("tie[@type='stop']") is None
                for note in blank.iter("note"))
    assert heads == len(chorus.melody)


def test_the_blank_sheet_has_brackets_too() -> None:
    chorus, gaps = prepare(read_tune(demo_path("umbrella")), Options())
    pages = "".join(blank_sheet(chorus, gaps).pages)
    assert all(f'data-gap="{gap.number}"' in pages for gap in gaps)
