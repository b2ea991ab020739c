"""The page under a finger, on a screen as wide as a telephone's; and on paper."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect
from tests.web.page_server import Server, watched
from tests.web.test_browser import open_tune

pytestmark = pytest.mark.slow

SMALL = """(least) => [...document.querySelectorAll(
        "button, select, summary, label.button, a.tune-link")]
    .filter((e) => e.checkVisibility())
    .map((e) => [e, e.getBoundingClientRect()])
    .filter(([, box]) => box.width && (box.width < least || box.height < least))
    .map(([e]) => e.outerHTML.slice(0, 120))"""
HEADS = ".staff .note .notehead:visible"

LEAST = 24
"""CSS pixels a target has either way (WCAG 2.2, 2.5.8)."""


@pytest.fixture
def hand(browser: Browser) -> Iterator[Page]:
    with watched(browser, size=(390, 844), has_touch=True, is_mobile=True) as page:
        yield page


def tap_note(page: Page, index: int) -> None:
    """A finger on the head of a note of the first idea."""
    box = page.locator("#ideas .card").first.locator(HEADS).nth(index).bounding_box()
    assert box is not None
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)


def test_a_gap_is_heard_and_decided_by_finger(hand: Page, server: Server) -> None:
    open_tune(hand, server)
    hand.locator('#sheet .gap-mark[data-gap="2"][role=button] .gap-field').tap()
    expect(hand.locator("#bench[aria-busy=false] .card").first).to_be_visible()
    hear, choose = (hand.locator("#ideas .card").first.locator(name)
                    for name in (".hear", ".choose"))
    bar = hand.locator("#transport").bounding_box()
    for button in (hear, choose):  # both are in sight without scrolling
        box = button.bounding_box()
        assert box is not None and bar is not None
        assert box["y"] > 0 and box["y"] + box["height"] < bar["y"]
    hear.tap()
    expect(hear).to_have_attribute("aria-pressed", "true")
    expect(hand.locator("#ideas .card.playing .score .on").first).to_be_attached()
    hear.tap()
    expect(hear).to_have_attribute("aria-pressed", "false")
    hand.locator("#transport .play").tap()
    expect(hand.locator("#transport .play.on")).to_be_visible()
    hand.locator("#transport .play").tap()
    assert hand.evaluate(SMALL, LEAST) == []
    hand.evaluate("scrollTo(0, 120)")
    choose.tap()
    expect(hand.locator(".decided")).to_contain_text("1 of")
    expect(hand.locator("#bench h2")).not_to_contain_text("Gap 2")
    expect(hand.locator("#bench .phrase")).to_be_in_viewport(ratio=1)  # the next gap is on screen
    assert hand.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_note_is_changed_by_finger(hand: Page, server: Server) -> None:
    key = open_tune(hand, server)
    hand.goto(f"{server.address}/tunes/{key}?gap=2")
    card = hand.locator("#ideas .card").first
    expect(hand.locator("#bench[aria-busy=false]")).to_be_visible()
    expect(card.locator(".staff[aria-busy=false] svg.score")).to_be_visible()
    card.get_by_role("button", name="Change notes").tap()
    expect(card.locator(".says .fine")).to_be_visible()
    named = card.locator(".note-name")
    first = named.text_content()
    card.get_by_role("button", name="Next note").tap()
    expect(named).not_to_have_text(first or "")
    card.locator("div.staff").scroll_into_view_if_needed()
    heads = card.locator(HEADS).count()
    found = set()
    for index in range(heads):  # the melody's own notes are not taken in hand
        tap_note(hand, index)
        found.add(named.text_content())
    assert len(found) > 1
    before = named.text_content() or ""
    card.get_by_role("button", name="Higher").tap()
    expect(named).not_to_have_text(before)
    expect(card.get_by_role("button", name="Back to the notes")).to_be_visible()


BARE_HEAD = """() => {
    const lines = [...document.querySelectorAll("#sheet .system")].slice(1, 4);
    for (const head of lines.flatMap((line) => [...line.querySelectorAll(".note .notehead")])) {
        const { left, right, bottom } = head.getBoundingClientRect();
        const point = [(left + right) / 2, bottom + 14];
        const hit = document.elementFromPoint(...point);
        if (hit?.closest(".paper") && !hit.closest(".gap-mark, .chord-symbol")) return point;
    }
}"""


def test_the_sheet_by_finger(hand: Page, server: Server) -> None:
    open_tune(hand, server, "lamp")
    assert hand.evaluate("""() => { const paper = document.getElementById("sheet");
        return paper.scrollWidth <= paper.clientWidth; }""")  # nothing is pushed aside to be read
    assert hand.evaluate("""(least) => [...document.querySelectorAll("#sheet .field")].every(
        (e) => Object.values([e.getBoundingClientRect()].map((b) => [b.width, b.height])[0])
            .every((size) => size >= least))""", LEAST)
    hand.touchscreen.tap(*hand.evaluate(BARE_HEAD))
    expect(hand.locator("#transport .play.on")).to_be_visible()
    expect(hand.locator("#sheet .on").first).to_be_attached()
    hand.locator("#transport .play").tap()
    symbol = hand.locator('#sheet .chord-symbol[role=button]').nth(3)
    symbol.tap()
    form = hand.locator(".chord-form")
    form.locator("input[name=text]").fill("Eb7sus4")
    assert hand.evaluate(SMALL, LEAST) == []
    form.get_by_role("button", name="Write it").tap()
    expect(hand.locator('#sheet[aria-busy=false] .chord-symbol[data-text="Eb7sus4"]').first
           ).to_be_visible()
    hand.locator("#undo").tap()


def test_ideas_are_swiped(hand: Page, server: Server) -> None:
    key = server.demo("umbrella")
    hand.goto(f"{server.address}/tunes/{key}?gap=2")
    expect(hand.locator("#bench[aria-busy=false] .card.held")).to_be_visible()
    box = hand.locator("#ideas").bounding_box()
    assert box is not None
    finger = hand.context.new_cdp_session(hand)
    at, y = box["x"] + 0.8 * box["width"], box["y"] + 60
    finger.send("Input.dispatchTouchEvent",
                {"type": "touchStart", "touchPoints": [{"x": at, "y": y}]})
    for step in range(1, 13):
        finger.send("Input.dispatchTouchEvent",
                    {"type": "touchMove", "touchPoints": [{"x": at - 22 * step, "y": y}]})
        hand.wait_for_timeout(16)
    finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    expect(hand.locator("#ideas .card").nth(1)).to_have_class(re.compile(r"\bheld\b"))
    expect(hand).to_have_url(re.compile("idea=2"))
    hand.locator(".card.held .choose").tap()
    expect(hand.locator(".decided")).to_contain_text("1 of")


def test_the_shelf_by_finger(hand: Page, server: Server) -> None:
    key = server.demo("snow")
    hand.goto(server.address)
    slip = hand.locator(f'.slip[data-tune="{key}"]')
    slip.locator(".more-handle").tap()
    slip.get_by_label("Title").fill("Snow by Hand")
    slip.get_by_role("button", name="Rename").tap()
    expect(slip.locator(".tune-title")).to_have_text("Snow by Hand")
    assert hand.evaluate(SMALL, LEAST) == []
    assert hand.evaluate("document.documentElement.scrollWidth <= innerWidth")
    slip.locator(".tune-link").tap()
    hand.wait_for_url(f"**/tunes/{key}")


CONTROLS = """() => [...document.querySelectorAll("button, select, input, summary, a")]
    .filter((e) => e.checkVisibility()).map((e) => e.outerHTML.slice(0, 120))"""


def test_paper_has_music_and_no_controls(page: Page, server: Server) -> None:
    page.emulate_media(color_scheme="dark")
    key = open_tune(page, server)
    for query, music in (("", "#sheet[aria-busy=false] svg.score"),
                         ("?gap=2", "#bench[aria-busy=false] .card .staff svg"),
                         ("?view=chorus", "#view-chorus[aria-busy=false] .pages svg.score"),
                         ("?view=hand", ".handout[aria-busy=false] svg.score")):
        page.goto(f"{server.address}/tunes/{key}{query}")
        expect(page.locator(music).first).to_be_visible(timeout=120_000)
        page.emulate_media(media="print")
        assert page.evaluate(CONTROLS) == [], query
        assert page.locator(music).first.is_visible(), query
        assert page.evaluate("getComputedStyle(document.body).backgroundColor"
                             ) == "rgb(255, 255, 255)"
        assert page.evaluate("getComputedStyle(document.querySelector('.score')).color"
                             ) == "rgb(0, 0, 0)"
        if "gap" in query:  # the tune is named on it, and the hands are thought of
            assert page.locator("h1").is_visible()
            assert page.locator(".print-only.caution").is_visible()
            assert page.locator(".name-line").is_visible()  # who plays it; staves to write on
            assert page.locator(".card .empty-staff:visible").count() == 3
            assert not page.locator(".card .ease:visible").count()  # no word of levels
        page.emulate_media(media="screen")
    assert len(page.pdf(prefer_css_page_size=True)) > 20_000
