"""Engraved pages: nothing collides, everything can be found, the same bytes again."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from lxml import etree
from tests.score.page_boxes import heads_of, words_of
from tests.score.touching import touches
from tests.score.written import arrangement, ballad, chorus_of, swing_tune, waltz

from fillwright import Arrangement
from fillwright.score import (
    Engraving,
    EngravingError,
    engrave_arrangement,
    engrave_musicxml,
    pages_to_pdf,
    render_score,
)
from fillwright.score.marks import tempo_words

pytestmark = pytest.mark.slow

TUNES: dict[str, Callable[[], Arrangement]] = {
    "beginner": lambda: swing_tune("beginner"), "swing": swing_tune, "waltz": waltz,
    "ballad": ballad}


@pytest.fixture(scope="module")
def engraved() -> dict[str, Engraving]:
    return {name: engrave_arrangement(build()) for name, build in TUNES.items()}


@pytest.mark.parametrize("name", sorted(TUNES))
def test_nothing_touches(name: str, engraved: dict[str, Engraving]) -> None:
    for page in engraved[name].pages:
        assert words_of(page) and heads_of(page)
        assert [touch for touch in touches(page) if touch.is_hard] == []


@pytest.mark.parametrize("name", sorted(TUNES))
def test_all_is_on_the_paper(name: str, engraved: dict[str, Engraving]) -> None:
    for page in engraved[name].pages:
        for box in [*words_of(page), *heads_of(page)]:
            # The music is 186 mm wide; the foot begins 268 mm below the top margin.
            assert box.left > -300 and box.right < 18600 + 300, box
            assert box.top > -1000 and box.bottom < 26300, box


@pytest.mark.parametrize("name", sorted(TUNES))
def test_every_note_and_bar_is_found_by_its_id(name: str, engraved: dict[str, Engraving]) -> None:
    arranged = TUNES[name]()
    ids = {element.get("id") for page in engraved[name].pages
           for element in etree.fromstring(page.encode()).iter()}
    assert {f"n{index}" for index in range(len(arranged.notes))} <= ids
    first = 0 if arranged.chorus.bars[0].is_pickup else 1
    assert {f"m{index + first}" for index in range(len(arranged.chorus.bars))} <= ids


def test_at_most_five_lines_of_music_a_page(engraved: dict[str, Engraving]) -> None:
    for engraving in engraved.values():
        for page in engraving.pages:
            assert 1 <= page.count('class="system"') <= 5


def test_counts_stand_under_their_notes(engraved: dict[str, Engraving]) -> None:
    """Each count that is said aloud is below a note head, within its width."""
    [page] = engraved["waltz"].pages
    heads = heads_of(page)
    said = [box for box in words_of(page) if re.fullmatch(r"count (\d|&|trip|let)", box.what)]
    assert len(said) >= 10
    for box in said:
        middle = (box.left + box.right) / 2
        assert any(abs((head.left + head.right) / 2 - middle) < 120 and head.bottom < box.top
                   for head in heads), box


def test_the_page_says_what_it_is(engraved: dict[str, Engraving]) -> None:
    page = engraved["swing"].pages[0]
    text = " ".join("".join(map(str, etree.fromstring(page.encode()).itertext())).split())
    for words in ("Paper Lanterns", "intermediate, medium hand", "Medium swing",
                  "scale motion, answered", "chord added by a fill", "A stretch that hurts"):
        assert words in text


@pytest.mark.parametrize(("meter", "tempo", "feel", "words"), [
    ("4/4", 66, "swing", "Ballad"), ("4/4", 140, "swing", "Medium swing"),
    ("4/4", 190, "swing", "Medium swing"), ("4/4", 240, "swing", "Fast swing"),
    ("4/4", 60, "straight", "Ballad, straight eighths"),
    ("4/4", 136, "straight", "Medium, straight eighths"),
    ("3/4", 80, "swing", "Slow jazz waltz"), ("3/4", 150, "swing", "Medium jazz waltz"),
    ("3/4", 175, "swing", "Fast jazz waltz"),
    ("3/4", 150, "straight", "Medium waltz, straight eighths"),
    ("6/8", 60, "straight", "Ballad, straight eighths"),
])
def test_tempo_words(meter: str, tempo: int, feel: str, words: str) -> None:
    beats = int(meter[0]) if meter != "6/8" else 3
    chorus = chorus_of("Words", [(meter, 1)], "C", f"C5:{beats}", f"C:{beats}", tempo=tempo,
                       feel=feel)
    assert tempo_words(chorus) == words


def test_tempo_words_stand_above_the_chords_at_the_left(engraved: dict[str, Engraving]) -> None:
    for engraving in engraved.values():
        page = etree.fromstring(engraving.pages[0].encode())
        groups = {g.get("id"): g for g in page.iter("{*}g")}
        left, height = _place(groups["tempo0"].find("{*}text"))
        edges = [path.get("d", "").split()[0][1:] for g in page.iter("{*}g")
                 if g.get("class") == "staff" for path in g.findall("{*}path")]
        assert left == min(map(float, edges))
        first = next(g for g in page.iter("{*}g") if g.get("class") == "system")
        chords = [text for g in first.iter("{*}g") if g.get("class") == "harm"
                  and not (g.get("id") or "").startswith(("tempo", "count", "gap"))
                  for text in g.findall("{*}text")]
        assert chords
        assert all(height < _place(text)[1] for text in chords)


def _place(text: etree._Element | None) -> tuple[float, float]:
    assert text is not None
    return float(text.get("x", "nan")), float(text.get("y", "nan"))


def test_pages_are_numbered_where_there_are_several() -> None:
    chorus = chorus_of("Long", [("4/4", 40)], "C", " ".join(["C5:1 D5:1 E5:1/2 F5:1/2 G5:1"] * 40),
                       " ".join(["C:4"] * 40))
    pages = engrave_arrangement(arrangement(chorus, [])).pages
    assert len(pages) >= 2
    for number, page in enumerate(pages, 1):
        assert f">{number} / {len(pages)}<" in page


def test_same_bytes_again() -> None:
    first, second = render_score(waltz()), render_score(waltz())
    assert list(first) == ["arrangement.musicxml", "page-1.svg", "arrangement.pdf"]
    assert first == second


def test_only_what_is_asked_for() -> None:
    assert list(render_score(waltz(), ("json", "musicxml", "flac"))) == ["arrangement.musicxml"]
    assert list(render_score(waltz(), ("svg",))) == ["page-1.svg"]


def test_what_cannot_be_read_is_an_error_not_an_old_page() -> None:
    with pytest.raises(EngravingError):
        engrave_musicxml(b"<score-partwise/>")
    with pytest.raises(EngravingError):
        engrave_musicxml(b"not a score at all")


def test_markup_in_a_title_stays_text() -> None:
    chorus = chorus_of('</text><script>alert("x")</script>', [("4/4", 1)], "C", "C5:4", "C:4")
    [page] = engrave_arrangement(arrangement(chorus, [])).pages
    root = etree.fromstring(page.encode())
    assert not [element for element in root.iter() if str(element.tag).endswith("script")]


def test_a_long_title_stays_on_the_page() -> None:
    chorus = chorus_of("A title that goes on " * 6, [("4/4", 1)], "C", "C5:4", "C:4")
    [page] = engrave_arrangement(arrangement(chorus, [])).pages
    size = re.findall(r'<tspan font-size="(\d+)px">A title', page)[0]
    lines = re.findall(rf'<tspan font-size="{size}px">([^<]*)</tspan>', page)
    assert " ".join(line.strip() for line in lines[:2]) == chorus.tune.title.strip()
    assert all(0.45 * float(size) * len(line) < 18600 for line in lines[:2])


# --- PDF --------------------------------------------------------------------------------

def test_the_pdf_has_the_pages_and_their_text(engraved: dict[str, Engraving]) -> None:
    """Read back by PDFium: A4 sheets, with the words as text."""
    import pypdfium2  # type: ignore[import-untyped]

    data = pages_to_pdf(engraved["beginner"].pages, "Paper Lanterns")
    document = pypdfium2.PdfDocument(data)
    assert len(document) == len(engraved["beginner"].pages)
    width, height = document[0].get_size()
    assert (round(width * 25.4 / 72), round(height * 25.4 / 72)) == (210, 297)
    text = document[0].get_textpage().get_text_bounded()
    assert "Paper Lanterns" in text and "tritone substitute" in text
    document.close()


def test_chord_symbols_have_real_accidentals_in_the_pdf() -> None:
    """The flat of B flat is a glyph of the engraver's music font, which is in the file."""
    import pypdfium2

    files = render_score(waltz(), ("svg", "pdf"))
    fonts = set(re.findall(rb"/FontName/[A-Z]{6}\+([\w-]+)", files["arrangement.pdf"]))
    assert {b"Leipzig", b"LiberationSerif-Regular", b"LiberationSerif-Italic"} <= fonts
    svg = files["page-1.svg"].decode()
    [symbol] = set(re.findall(r'>B</tspan>\s*<tspan font-family="Leipzig"[^>]*>(.)</tspan>', svg))
    document = pypdfium2.PdfDocument(files["arrangement.pdf"])
    text = document[0].get_textpage().get_text_bounded()
    document.close()
    assert f"B{symbol}maj7" in "".join(text.split())
