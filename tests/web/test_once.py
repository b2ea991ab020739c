"""What is decided once and holds in many places, and what the sheet tells of it: one tune, one page
for all of these tests, each of which takes back what it did."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect
from tests.web.page_server import Server, watched
from tests.web.test_browser import drawn, open_tune, to_view

pytestmark = pytest.mark.slow

BARREN, AGAIN = 11, (3, 7, 16)
"""In Third Lamp on the Left: a gap that is too short at its tempo; one whose phrase comes again."""


@dataclass(frozen=True)
class Lamp:
    page: Page
    server: Server
    key: str

    def tune(self) -> dict[str, Any]:
        with self.server.client() as client:
            return dict(client.get(f"/api/tunes/{self.key}").json())

    def pick(self, gap: int) -> str:
        return str(self.tune()["picks"][str(gap)]["fill"])

    def open(self, gap: int) -> None:
        self.page.goto(f"{self.server.address}/tunes/{self.key}?gap={gap}")
        expect(self.page.locator("#bench[aria-busy=false]")).to_be_visible()
        drawn(self.page)

    def take_back(self) -> None:
        while self.page.locator("#undo").is_enabled():
            said = self.page.locator("#undo").get_attribute("title") or ""
            self.page.locator("#undo").click()
            expect(self.page.locator("#undo")).not_to_have_attribute("title", said)


@pytest.fixture(scope="module")
def opened(browser: Browser, server: Server) -> Iterator[Lamp]:
    with watched(browser, size=(1280, 900)) as page:
        key = open_tune(page, server, "lamp")
        to_view(page, "chorus")  # so that it is known what the program would play
        expect(page.locator("#view-chorus .fill-list .row").first).to_be_visible()
        yield Lamp(page, server, key)


@pytest.fixture
def lamp(opened: Lamp) -> Iterator[Lamp]:
    yield opened
    opened.take_back()


def test_a_and_b_by_one_key(lamp: Lamp) -> None:
    """A is the one on the left, whichever was heard first."""
    lamp.open(3)
    lamp.page.locator("#transport").get_by_label("over and over").check()  # it ends when told to
    playing = lamp.page.locator(".card.playing .rank")
    for key, rank in (("3", "3"), ("1", "1"), ("a", "3"), ("a", "1")):
        lamp.page.keyboard.press(key)
        expect(playing).to_have_text(rank)
    expect(lamp.page.locator(".badge:visible")).to_have_text(["A", "B"])
    lamp.page.locator("#transport").get_by_role("button", name="A or B").click()
    expect(playing).to_have_text("3")
    lamp.page.keyboard.press("Escape")
    expect(playing).to_have_count(0)


def test_the_same_or_varied_wherever_the_phrase_comes(lamp: Lamp) -> None:
    first, *others = AGAIN
    for key, said in (("s", "too"), ("v", "varied")):
        lamp.open(first)
        lamp.page.keyboard.press("2")
        lamp.page.keyboard.press("c")
        expect(lamp.page.locator(".saying")).to_contain_text("comes again in gap 7 and gap 16")
        lamp.page.keyboard.press(key)
        expect(lamp.page.locator(".decided")).to_contain_text("3 of 18")
        expect(lamp.page.locator(".saying")).to_contain_text(said)
        device = lamp.pick(first).split("-", 2)[2]
        assert all((lamp.pick(gap).split("-", 2)[2] == device) is (key == "s") for gap in others)
        to_view(lamp.page, "sheet")
        for gap in AGAIN:
            expect(lamp.page.locator(f'#sheet .gap-mark[data-gap="{gap}"] .gap-word')
                   ).to_have_text("✓ reharm")
        lamp.take_back()


def test_the_programs_own_choice_is_changed_and_kept(lamp: Lamp) -> None:
    lamp.open(3)
    says = lamp.page.locator(".decide .rest")
    before = says.text_content() or ""
    lamp.page.keyboard.press("r")
    expect(says).not_to_have_text(before)
    now = (says.text_content() or "").removeprefix("Undecided; proposed: ")
    lamp.page.locator(".decide").get_by_role("button", name="Choose").click()
    expect(lamp.page.locator(".decided")).to_contain_text("1 of 18")
    expect(lamp.page.locator(".saying")).to_contain_text(now)
    lamp.take_back()
    lamp.open(3)
    lamp.page.keyboard.press("l")  # the same by its key
    expect(lamp.page.locator(".decided")).to_contain_text("1 of 18")


def test_the_card_that_is_proposed_says_so(lamp: Lamp) -> None:
    """On that card, and on no other; a choice takes the word away."""
    rest = lamp.tune()["rest"]
    lamp.open(3)
    said = lamp.page.locator("#ideas .card:has(.proposal:visible)")
    expect(said).to_have_count(1)
    expect(said).to_have_attribute("data-fill", rest["3"]["fill"])
    said.locator(".choose").click()
    lamp.open(3)
    expect(lamp.page.locator("#ideas .card.chosen")).to_have_count(1)
    expect(said).to_have_count(0)


def test_what_is_proposed_to_stay_open_is_paler_too(lamp: Lamp) -> None:
    """The number and the words over a gap that nobody decided to leave open."""
    left = next(int(gap) for gap, one in lamp.tune()["rest"].items() if one["fill"] == "open")
    lamp.open(left)
    to_view(lamp.page, "chorus")
    pages = lamp.page.locator(".pages[aria-busy=false]")
    label = pages.locator(f'[id$="-gap{left}"]').first
    expect(label).to_have_css("opacity", "0.5", timeout=120_000)


def test_what_is_left_open_has_its_reason(lamp: Lamp) -> None:
    """In the list of the chorus and at the gap itself; a neighbour that is named is filled."""
    rest = lamp.tune()["rest"]
    left = [int(gap) for gap, one in rest.items() if one["fill"] == "open"]
    lamp.page.goto(f"{lamp.server.address}/tunes/{lamp.key}?view=chorus")
    rows = lamp.page.locator("#view-chorus .fill-list li")
    expect(rows.first).to_be_visible()
    said = {gap: rows.nth(gap - 1).text_content() or "" for gap in left}
    assert len(left) > 2 and "Nothing fits here at this tempo." in said[BARREN]
    for gap, words in said.items():
        reason = words.split("(proposed) ")[1].split(".")[0]
        assert len(reason.split()) > 4, words
        named = {int(number) for number in re.findall(r"\d+", reason)}
        assert named <= {gap - 1, gap + 1}
        assert all(rest[str(near)]["fill"] != "open" for near in named)
    lamp.open(left[0])
    expect(lamp.page.locator(".decide .rest")).to_have_text(
        "Undecided; proposed: no fill. " + said[left[0]].split("(proposed) ")[1].split("Choose")[0])


def test_a_choice_says_where_it_leads(lamp: Lamp) -> None:
    lamp.open(18)
    choose = lamp.page.locator("#ideas .card .choose").first
    expect(choose).to_contain_text("then gap 1")  # the first that is left
    lamp.page.keyboard.press("c")
    expect(lamp.page.locator("#bench h2")).to_contain_text("Gap 1 ")
    expect(lamp.page.locator(".saying")).to_contain_text("✓ Gap 18:")
    drawn(lamp.page)
    expect(choose).to_contain_text("then gap 2")
    bar = lamp.page.locator("#transport").bounding_box()
    for button in lamp.page.locator("#ideas .card .choose").all():
        box = button.bounding_box()
        assert box and bar and box["y"] + box["height"] <= bar["y"]  # in sight without a scroll


def test_a_gap_without_ideas_says_at_which_tempo_there_are_some(lamp: Lamp) -> None:
    lamp.open(BARREN)
    empty = lamp.page.locator("#ideas .nothing")
    expect(empty).to_have_count(1)  # the three families have the same reason: it is said once
    expect(empty.locator("p").nth(1)).not_to_be_empty()
    boxes = [part.bounding_box() for part in empty.locator("> *").all()]
    assert all(one and other and one["y"] + one["height"] <= other["y"] + 1
               for one, other in pairwise(boxes))  # below each other
    expect(empty.get_by_role("button", name=re.compile(r"^Go to \d+ a minute$"))).to_be_visible()
    expect(lamp.page.locator("#bench .where")).to_contain_text("Bar 21, beat 1")  # as is printed
    to_view(lamp.page, "sheet")
    mark = lamp.page.locator(f'#sheet .gap-mark.barren[data-gap="{BARREN}"]')
    expect(mark.locator(".gap-word")).to_have_text(
        re.compile(r"^nothing fits; at \d+ it does$"))
    expect(mark).to_have_attribute(
        "aria-label", re.compile(r"at \d+ beats a minute something does"))


def test_a_broken_rule_is_marked_on_the_sheet(lamp: Lamp) -> None:
    lamp.open(3)
    card = lamp.page.locator("#ideas .card").first
    lamp.page.keyboard.press("e")
    expect(card.locator(".says .fine")).to_be_visible()
    for _ in range(14):
        lamp.page.keyboard.press("ArrowDown")
    expect(card.locator(".findings li").first).to_be_visible()
    lamp.page.keyboard.press("Escape")  # out of the notes, not away from the gap
    expect(card.locator(".editor")).to_be_hidden()
    expect(card.get_by_role("button", name="Change notes")).to_be_focused()
    lamp.page.keyboard.press("c")
    expect(lamp.page.locator(".decided")).to_contain_text("1 of 18")
    to_view(lamp.page, "sheet")
    mark = lamp.page.locator('#sheet .gap-mark.broken[data-gap="3"][role=button]')
    expect(mark.locator(".gap-word")).to_contain_text("breaks a rule")
    expect(mark).to_have_attribute("aria-label", re.compile("your notes break a rule"))


def test_a_chord_is_changed_everywhere_it_comes(lamp: Lamp) -> None:
    lamp.page.goto(f"{lamp.server.address}/tunes/{lamp.key}")
    symbols = lamp.page.locator("#sheet[aria-busy=false] .chord-symbol")
    old = symbols.and_(lamp.page.locator('[data-text="Ebmaj7"]'))
    expect(old.first).to_be_visible()
    count = old.count()
    assert count > 2
    old.nth(1).click()
    lamp.page.locator(".chord-form").get_by_label(f"all {count} places").check()
    lamp.page.locator(".chord-form input[name=text]").fill("Eb6/9")
    lamp.page.keyboard.press("Enter")
    expect(symbols.and_(lamp.page.locator('[data-text="Eb6/9"]'))).to_have_count(count)
    expect(old).to_have_count(0)
