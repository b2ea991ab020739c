"""Nothing touches on the pages of the demo tunes; the audit that says so sees what does."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from lxml import etree
from playwright.sync_api import Browser
from tests.demo_arrangements import arranged
from tests.score.touching import touches
from tests.score.written import swing_tune

import fillwright
from fillwright.score import drawn_on, engrave_arrangement, shift

pytestmark = pytest.mark.slow
DATA = Path(fillwright.__file__).parent / "data"
NEAR_PER_HUNDRED_BARS = 3
MEASURED = """() => {
  const all = "use path polygon polyline rect text".split(" ").map((n) => ".measure " + n).join();
  const inner = document.querySelector(".page-margin").getCTM().inverse();
  return [...document.querySelectorAll(all)].map((element) => {
    const b = element.getBBox(), to = inner.multiply(element.getCTM());
    const corners = [[b.x, b.y], [b.x + b.width, b.y + b.height]].map(
      ([x, y]) => new DOMPoint(x, y).matrixTransform(to));
    const xs = corners.map((p) => p.x), ys = corners.map((p) => p.y);
    return [element.tagName, Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
  });
}"""


def test_nothing_touches_on_demo_tunes() -> None:
    near, bars = Counter[tuple[str, str]](), 0
    for tune, level in (("ferry", "intermediate"), ("lamp", "beginner"), ("snow", "advanced"),
                        ("umbrella", "intermediate")):
        done = arranged(tune, level)
        found = [touch for page in engrave_arrangement(done).pages for touch in touches(page)]
        assert [touch for touch in found if touch.is_hard] == []
        near += Counter(touch.kinds for touch in found)
        bars += len(done.chorus.bars)
    assert 100 * near.total() <= NEAR_PER_HUNDRED_BARS * bars, near


@pytest.fixture(scope="module")
def page() -> str:
    return engrave_arrangement(swing_tune("beginner")).pages[0]


@pytest.mark.parametrize(("kind", "onto"), [("fing", "head"), ("chord", "box"), ("dynam", "staff"),
                                            ("count", "head"), ("artic", "beam")])
def test_what_is_moved_onto_something_is_found(page: str, kind: str, onto: str) -> None:
    root = etree.fromstring(page.encode())
    things = list(drawn_on(root))
    one = next((thing for thing in things if thing.kind == kind), None)
    if one is None:
        one = next(thing for thing in things if thing.kind == "chord")
        kind = "chord"
    other = next((thing for thing in things if thing.kind == onto and thing.owner != one.owner),
                 next(thing for thing in things if thing.kind == "head"))
    shift(one.group, other.box.left - one.box.left, other.box.top - one.box.top)
    hard = {frozenset(touch.kinds) for touch in
            touches(etree.tostring(root, encoding="unicode")) if touch.is_hard}
    assert frozenset((kind, other.kind)) in hard


def test_boxes_agree_with_a_browser(page: str, browser: Browser) -> None:
    """Chromium's getBBox of the same page: shapes within a quarter of a millimetre (it leaves
    out how thick a line is), words as wide as they are set."""
    sheet = browser.new_page()
    sheet.set_content(page)
    sheet.evaluate("document.fonts.ready")
    measured = [box for box in sheet.evaluate(MEASURED) if box]
    sheet.close()
    ours = [thing.box for thing in drawn_on(etree.fromstring(page.encode()))]
    for tag, left, top, right, bottom in measured:
        if right - left + bottom - top < 1:
            continue
        if tag == "text":  # the browser adds the space behind a chord symbol, and the line's height
            assert any(abs(box.left - left) < 40 and -130 < box.right - right < 40
                       and top - 5 <= box.top and box.bottom <= bottom + 5 for box in ours), (
                           left, top, right, bottom)
        else:
            assert any(max(abs(box.left - left), abs(box.right - right), abs(box.top - top),
                           abs(box.bottom - bottom)) < 25 for box in ours), (
                               tag, left, top, right, bottom)
