"""Fonts inside the pages."""

from __future__ import annotations

import base64
import io
import re

import pytest
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]
from tests.score.written import waltz

from fillwright.score import embed_fonts, render_score

FACE = re.compile(r"@font-face\{font-family:'([\w ]+)';font-weight:(\w+);font-style:(\w+);"
                  r"src:url\(data:font/woff2;base64,([\w+/=]+)\)")
SHEET = "<style>@font-face { font-family: 'Leipzig'; src: url(data:all) }</style>"
PAGE = ('<svg xmlns="http://www.w3.org/2000/svg">{0}<g font-family="Times, serif">{1}</g></svg>')


def faces(page: str) -> dict[tuple[str, str, str], set[str]]:
    """The characters of each face in a page, as a font library reads them."""
    found = {}
    for family, weight, style, packed in FACE.findall(page):
        font = TTFont(io.BytesIO(base64.b64decode(packed)))
        found[family, weight, style] = {chr(code) for code in font.getBestCmap()}
    return found


def test_each_face_has_the_characters_that_are_set_in_it() -> None:
    words = ('<g class="fing"><text><tspan>5</tspan></text></g>'
             '<text>Dm<tspan font-style="italic">xyz</tspan>q</text>'
             '<text><tspan font-weight="bold"><tspan font-style="italic">Z</tspan></tspan></text>'
             '<text>B<tspan font-family="Leipzig">\ue260</tspan></text>'
             '<text font-style="italic"><tspan font-family="Leipzig">\ue262</tspan></text>')
    [page] = embed_fonts([PAGE.format(SHEET, words)])
    got = faces(page)
    assert got["Leipzig", "normal", "normal"] == {"\ue260", "\ue262"}   # SMuFL: flat, sharp
    text = {key[1:]: characters - set("0123456789().,-") for key, characters in got.items()
            if key[0] == "Liberation Serif"}
    assert text == {("bold", "normal"): set(), ("normal", "normal"): set("DmqB"),
                    ("normal", "italic"): set("xyz"), ("bold", "italic"): {"Z"}}
    assert "5" in got["Liberation Serif", "bold", "normal"]
    assert "data:all" not in page                                # the whole music font is gone


def test_a_page_without_words_has_no_fonts_and_a_stranger_is_left_to_the_machine() -> None:
    [bare] = embed_fonts([PAGE.format("", "<g/>")])
    assert "font-face" not in bare
    [page] = embed_fonts([PAGE.format("", "<text>A\u4e2d</text>")])
    assert faces(page)["Liberation Serif", "normal", "normal"] == set("A0123456789().,-")


@pytest.mark.slow
def test_pages_of_an_arrangement_carry_their_fonts() -> None:
    """And are no larger for it: the engraver puts the whole music font into each."""
    page = render_score(waltz(), ("svg",))["page-1.svg"].decode()
    assert set(faces(page)) >= {("Leipzig", "normal", "normal"),
                                *(("Liberation Serif", weight, "normal")
                                  for weight in ("normal", "bold"))}
    assert sum(len(packed) for *_, packed in FACE.findall(page)) < 40_000
