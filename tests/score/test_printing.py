"""What a reader chooses of the page: fingers, counts, size, paper; who wrote the tune."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from lxml import etree
from tests.score.remarks import is_of_the_reader, remarks
from tests.score.schema import schema_errors
from tests.score.touching import touches
from tests.score.written import arrangement, ballad, chorus_of, swing_tune, waltz

from fillwright import Arrangement, HandNote, InputError, Pitch, read_tune, unfold
from fillwright.score import (
    Area,
    Printing,
    drawn_on,
    engrave_arrangement,
    render_score,
    restyled,
    to_musicxml,
)
from fillwright.score.fingers import fingered
from fillwright.score.ink import around
from fillwright.score.lead import blank_sheet, lead_sheet
from fillwright.score.mei import title_lines


def scale(pitches: str, fingers: str, hand: str) -> Arrangement:
    """Quarter notes with these fingers, over a held melody of their length."""
    names = pitches.split()
    chorus = chorus_of("Scale", [("4/4", -(-len(names) // 4))], "C", "C6:4 " * -(-len(names) // 4),
                       "C:4 " * -(-len(names) // 4))
    notes = [HandNote(Fraction(place), Fraction(1), Pitch.parse(name), hand, int(finger), "base")
             for place, (name, finger) in enumerate(zip(names, fingers.split(), strict=True))]
    return replace(arrangement(chorus, []), notes=tuple(notes))


@pytest.mark.parametrize(("pitches", "fingers", "hand", "printed"), [
    ("C4 D4 E4 F4 G4", "1 2 3 4 5", "right", [0]),                  # the hand lies still
    ("C4 D4 E4 F4 G4 A4 B4 C5", "1 2 3 1 2 3 4 5", "right", [0, 3]),  # the thumb goes under
    ("C5 B4 A4 G4 F4 E4 D4 C4", "5 4 3 2 1 3 2 1", "right", [0, 5]),  # the third goes over
    ("C3 D3 E3 F3 G3 A3 B3 C4", "5 4 3 2 1 3 2 1", "left", [0, 5]),
    ("C4 D4 C4 D4", "1 3 1 3", "right", [0]),                       # open by a step
])
def test_fingers_are_printed_where_the_hand_takes_a_new_place(
        pitches: str, fingers: str, hand: str, printed: list[int]) -> None:
    """The fingerings of the scale of C as every method has them (common practice)."""
    done = scale(pitches, fingers, hand)
    assert sorted(fingered(done, "helpful")) == printed


def test_which_fingers_stand_in_the_score() -> None:
    done = swing_tune("beginner")
    counts = {name: len(re.findall("<fingering", to_musicxml(done, fingering=name).decode()))
              for name in ("all", "auto", "fills", "helpful", "none")}
    assert counts["all"] == counts["auto"] > counts["helpful"] > counts["none"] == 0
    assert counts["all"] > counts["fills"] > 0


def test_no_counts() -> None:
    with_counts, without = (to_musicxml(swing_tune(), counts=wanted).decode()
                            for wanted in (True, False))
    assert with_counts.count("halign=\"center\"") > 5 > without.count("halign=\"center\"") == 0


@pytest.mark.parametrize("wrong", [{"fingering": "some"}, {"paper": "A3"}, {"counts": 1},
                                   {"large": "yes"}, {"chords": "short"}, {"saving": 1},
                                   {"hands": None}, {"large": True, "saving": True}])
def test_what_cannot_be_printed(wrong: dict[str, object]) -> None:
    with pytest.raises(InputError, match=next(iter(wrong))):
        Printing(**wrong)  # type: ignore[arg-type]


@pytest.mark.slow
@pytest.mark.parametrize(("printing", "size", "bars"), [
    (Printing(), "2100 2970", 4), (Printing(paper="Letter"), "2159 2794", 4),
    (Printing(large=True), "2100 2970", 3), (Printing(paper="phone"), "1050 5000", 2),
    (Printing(saving=True, chords="signs", paper="Letter"), "2159 2794", 4)])
def test_pages_as_chosen(printing: Printing, size: str, bars: int) -> None:
    done = swing_tune("beginner")
    files = render_score(done, ("svg", "pdf"), printing=printing)
    page = files["page-1.svg"].decode()
    assert f'viewBox="0 0 {size}"' in page
    root = etree.fromstring(page.encode())
    lines = [group for group in root.iter("{*}g") if group.get("class") == "system"]
    assert max(sum(g.get("class") == "measure" for g in line) for line in lines) <= bars + 1
    found = touches(page)
    assert not [touch for touch in found if touch.is_hard or touch.kinds == ("fing", "fing")]
    import pypdfium2  # type: ignore[import-untyped]

    document = pypdfium2.PdfDocument(files["arrangement.pdf"])
    width, height = document[0].get_size()
    document.close()
    assert [round(side * 254 / 72) for side in (width, height)] == [int(n) for n in size.split()]


@pytest.mark.parametrize(("style", "written"), [
    ("written", "Dm7 G7 C^7 Bm7b5 C-7 Fdim7 C6/E AbmMaj7 N.C."),
    ("words", "Dm7 G7 Cmaj7 Bm7b5 Cm7 Fdim7 C6/E Abm(maj7) N.C."),
    ("signs", "D−7 G7 CΔ7 Bø7 C−7 F°7 C6/E Ab−Δ7 N.C.")])
def test_chord_symbols_as_chosen(style: str, written: str) -> None:
    """The spellings in use beside each other (common practice)."""
    names = ["Dm7", "G7", "C^7", "Bm7b5", "C-7", "Fdim7", "C6/E", "AbmMaj7", "N.C."]
    chorus = chorus_of("Names", [("4/4", len(names))], "C", "C5:4 " * len(names),
                       " ".join(f"{name}:4" for name in names))
    done = restyled(arrangement(chorus, []), style)
    assert [str(span.symbol) for span in done.chords] == written.split()
    assert [span.symbol.degrees for span in done.chords] == [
        span.symbol.degrees for span in chorus.chords]


@pytest.mark.slow
def test_hand_pictures_under_their_line_of_music() -> None:
    done = swing_tune()
    plain, pictured = (render_score(done, ("svg",), printing=Printing(hands=hands))
                       for hands in (False, True))
    assert not any('class="hand-strip"' in page.decode() for page in plain.values())
    assert not any(touches(page.decode()) for page in pictured.values())
    shown = []
    for page in pictured.values():
        lines: list[tuple[Area, list[Area]]] = []
        for system in etree.fromstring(page).iter("{*}g"):
            if system.get("class") == "system":
                hands = [group for group in system if group.get("class") == "hand-strip"]
                shown += [text.text for group in hands for text in group.findall("{*}text")]
                ink = [[a for thing in drawn_on(group) for a in thing.areas] for group in hands]
                whole = [a for thing in drawn_on(system) for a in thing.areas]
                lines.append((around(whole), [around(areas) for areas in ink]))
        for place, (_, hands_) in enumerate(lines):
            assert all(not one.meets(other) for one, other in itertools.combinations(hands_, 2))
            assert all(area.left > -20 and area.right <= 18620 for area in hands_)
            assert all(area.bottom < below.top for below, _ in lines[place + 1:] for area in hands_)
    gaps = [str(fill.gap) for fill in done.fills]
    numbers = [gap for gap, _ in itertools.groupby(text for text in shown if text in gaps)]
    assert numbers == gaps          # all, in their order; on each row of them, with their number
    for page in pictured.values():
        for system in etree.fromstring(page).iter("{*}g"):
            rows: dict[int, list[tuple[float, bool]]] = {}
            for group in system:
                if group.get("class") == "hand-strip":
                    box = around([a for thing in drawn_on(group) for a in thing.areas])
                    rows.setdefault(round(box.bottom / 300), []).append(
                        (box.left, any(text.text in gaps for text in group.findall("{*}text"))))
            assert all(min(row)[1] for row in rows.values())


def test_a_long_title_is_broken_not_cut() -> None:
    title = "A rather long name for a tune that goes on and on until nobody remembers how it began"
    assert title_lines("Short", 55) == ["Short"] and title_lines("", 55) == []
    lines = title_lines(title, 30)
    assert len(lines) in (2, 3) and " ".join(lines) == title
    assert max(map(len, lines)) < 1.5 * min(map(len, lines))


@pytest.mark.slow
def test_the_composer_and_the_rights_are_printed() -> None:
    done = swing_tune()
    tune = replace(done.chorus.tune, composer="Nobody In Particular", rights="For everyone, 2026")
    done = replace(done, chorus=replace(done.chorus, tune=tune))
    page = engrave_arrangement(done).pages[0]
    assert "Nobody In Particular" in page and "For everyone, 2026" in page
    assert not [touch for touch in touches(page) if touch.is_hard]
    assert b'<creator type="composer">Nobody In Particular<' in to_musicxml(done)
    for make in (lead_sheet, blank_sheet):  # whoever is named on one page is named on all
        page = make(done.chorus, done.gaps).pages[0]
        assert "Nobody In Particular" in page and "For everyone, 2026" in page


def test_a_lead_sheet_with_the_chords_as_they_are_played(tmp_path: Path) -> None:
    """Read as any sheet is: the melody as it was, the chords of the fills among those of the
    tune, one at a place."""
    done = swing_tune()
    data = render_score(done, ("lead",))["arrangement-lead.musicxml"]
    assert schema_errors(data) == []
    (tmp_path / "lead.musicxml").write_bytes(data)
    tune = read_tune(tmp_path / "lead.musicxml")
    assert tune.warnings == ()
    chorus = unfold(tune)
    assert [(n.onset_quarter, n.pitch) for n in chorus.melody] == [
        (n.onset_quarter, n.pitch) for n in done.chorus.melody]
    found = {span.onset_quarter: str(span.symbol) for span in chorus.chords}
    assert any(span.added for span in done.chords)
    assert all(found[span.onset_quarter] == str(span.symbol) for span in done.chords if span.added)


@pytest.mark.slow
def test_other_programs_read_it_without_a_warning() -> None:
    """music21 and verovio say nothing at all, partitura what it says of any file with words, chord
    symbols and a metronome (see `remarks`)."""
    for done in (swing_tune(), waltz(), ballad()):
        found = [*remarks(to_musicxml(done, fingering="all"))]
        assert [one for one in found if not is_of_the_reader(*one)] == []
