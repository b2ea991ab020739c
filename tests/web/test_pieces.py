"""The small parts of the page: clean drawings, hand pictures, windows, own notes."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
from lxml import etree

from fillwright import Chorus, Fill, Gap, Options, propose, read_tune
from fillwright.arranging.build import prepare
from fillwright.arranging.window import cut_bars, moved, staff_of, window_of
from fillwright.demo import demo_path
from fillwright.score.handpages import HandRow, hand_pages
from fillwright.score.inpage import for_page
from fillwright.score.pictures import pictures_of

pytestmark = pytest.mark.slow

SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1">{}</svg>'


@pytest.fixture(scope="module")
def tune() -> tuple[Chorus, tuple[Gap, ...]]:
    return prepare(read_tune(demo_path("ferry")), Options())


def fills_of(chorus: Chorus, gaps: tuple[Gap, ...], number: int) -> list[Fill]:
    return list(propose(chorus, gaps, numbers=[number]).fills)


@pytest.mark.parametrize("harm", [
    "<script>alert(1)</script>", '<g onload="alert(1)"/>', "<style>* {}</style>",
    '<a href="https://example.org"><text>x</text></a>', '<image href="x.png"/>',
    '<use href="https://example.org/x.svg#a"/>', '<foreignObject><p/></foreignObject>',
    '<rect style="fill: red" fill="url(https://example.org)"/>',
    '<animate attributeName="href" to="x"/>', '<set attributeName="onclick" to="x"/>'])
def test_only_drawing_passes(harm: str) -> None:
    clean = for_page(SVG.format(f'<g id="n1">{harm}<path d="M0 0"/></g>'), "p-")
    assert 'id="p-n1"' in clean and "M0 0" in clean
    for word in ("script", "alert", "style", "example.org", "png", "foreign", "animate", "set "):
        assert word not in clean


def test_text_and_references_stay() -> None:
    text = SVG.format('<defs><g id="a"/></defs><use href="#a"/><text>a &lt;b&gt; &amp; c</text>')
    clean = for_page(text, "x")
    assert 'href="#xa"' in clean and "a &lt;b&gt; &amp; c" in clean
    moved = SVG.format('<text><tspan dx="9" dy="-3">b</tspan></text>')
    assert '<tspan dx="9" dy="-3">' in for_page(moved, "x")


@pytest.mark.parametrize("text", ["", "<html/>", "<svg/>", "no", SVG.format("<g>")])
def test_what_is_no_drawing(text: str) -> None:
    with pytest.raises(ValueError, match="not an SVG"):
        for_page(text, "p-")


def test_an_entity_is_not_followed() -> None:
    text = ('<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
            + SVG.format("<text>&x;</text>"))
    clean = for_page(text, "p-")
    assert "&x;" not in clean and "<text/>" in clean


def test_there_and_back_again_is_where_it_was(tune: tuple[Chorus, tuple[Gap, ...]]) -> None:
    chorus, gaps = tune
    for value in (*gaps, *fills_of(chorus, gaps, 2)):
        assert moved(moved(value, Fraction(7, 3)), Fraction(-7, 3)) == value
        assert moved(value, Fraction(1)) != value


def test_a_window_holds_the_fill_and_the_bars_around(tune: tuple[Chorus, tuple[Gap, ...]]
                                                     ) -> None:
    chorus, gaps = tune
    for number in (1, 2, 5, len(gaps)):
        for fill in fills_of(chorus, gaps, number):
            window = window_of(chorus, gaps, number, fill, Options())
            inside = [note for note in window.arrangement.notes if note.role == "fill"]
            assert [note.midi for note in inside] == [note.midi for note in fill.notes]
            assert {n.onset_quarter + window.start_quarter for n in inside} == {
                n.onset_quarter for n in fill.notes}
            assert window.start_quarter <= gaps[number - 1].onset_quarter
            assert [(place + window.start_quarter, word) for place, word
                    in window.arrangement.fills[0].counted] == list(fill.counted)
            shown, origin = staff_of(window)
            assert {window.arrangement.notes[played].midi for played in origin.values()} == {
                note.midi for note in shown.notes}
            assert sum(note.role == "fill" for note in shown.notes) == len(fill.notes)


def test_cut_bars_keep_their_melody_and_chords(tune: tuple[Chorus, tuple[Gap, ...]]) -> None:
    chorus, _ = tune
    part = cut_bars(chorus, 4, 6)
    start, end = chorus.bars[4].onset_quarter, chorus.bars[6].end_quarter
    assert part.length_quarter == end - start
    assert [n.pitch for n in part.melody] == [
        n.pitch for n in chorus.melody if start <= n.onset_quarter < end]
    assert sum(span.duration_quarter for span in part.chords) == part.length_quarter
    assert part.bars[0].onset_quarter == 0


def test_pictures_show_each_key_once_with_its_finger(tune: tuple[Chorus, tuple[Gap, ...]]
                                                     ) -> None:
    chorus, gaps = tune
    for fill in fills_of(chorus, gaps, 2):
        pictures = pictures_of(fill, gaps[1])
        keys = [key for picture in pictures for key in picture["keys"] if key["note"] >= 0]
        assert sorted(key["note"] for key in keys) == list(range(len(fill.notes)))
        for picture in pictures:
            assert len({(k["hand"], k["midi"]) for k in picture["keys"]}) == len(picture["keys"])
            for hand in ("left", "right"):
                fingers = [k["finger"] for k in picture["keys"] if k["hand"] == hand]
                assert len(set(fingers)) == len(fingers)
        assert all(Fraction(a["end_quarter"]) == Fraction(b["onset_quarter"])
                   for a, b in itertools.pairwise(pictures))


def test_a_pushed_chord_is_called_by_its_own_name() -> None:
    chorus, gaps = prepare(read_tune(demo_path("lamp")), Options(level="beginner"))
    gap = gaps[0]  # E flat major seventh; B flat minor seventh comes on the landing's bar
    fills = propose(chorus, gaps, level="beginner", numbers=[1], families=["comp"], count=8).fills
    pushed = [fill for fill in fills if any("a push" in reason for reason in fill.reasons)]
    assert pushed
    for fill in fills:
        early = [picture for picture in pictures_of(fill, gap) if "early" in picture["chord"]]
        assert len(early) == (fill in pushed)
        for picture in early:
            assert picture["chord"] == "B♭m7, early"
            assert all(key["midi"] % 12 in (10, 1, 5, 8) for key in picture["keys"]
                       if key["role"] == "fill")


def test_hand_pages_show_every_finger_and_wrap(tune: tuple[Chorus, tuple[Gap, ...]]) -> None:
    chorus, gaps = tune
    fills = [fill for gap in gaps for fill in fills_of(chorus, gaps, gap.number)]
    rows = [HandRow(f"Gap {fill.gap}", fill.counts, pictures_of(fill, gaps[fill.gap - 1]))
            for fill in fills]
    pages = hand_pages("<Title>", rows)
    assert len(pages) > 1 and hand_pages("", []) == []
    fingers = sum(page.count('font-size="26"') for page in pages)
    assert fingers == sum(len(picture["keys"]) for row in rows for picture in row.pictures)
    for page in pages:
        root = etree.fromstring(page.encode())
        places = [(float(e.get("x") or 0) + float(e.get("width") or 0), float(e.get("y") or 0))
                  for e in root if e.tag.endswith("rect")]
        assert max(x for x, _ in places) <= 2100 - 100
        assert max(y for _, y in places) < 2800
        assert "&lt;Title&gt;" in page
