"""Names, contrast, focus and the keyboard: axe-core's audit, and a whole task without a mouse.

axe-core (Deque Systems) checks against WCAG 2.1 A and AA; the version is the one that comes
with the package axe-playwright-python.
"""

from __future__ import annotations

from pathlib import Path

import axe_playwright_python  # type: ignore[import-untyped]
import pytest
from playwright.sync_api import Page, expect
from tests.web.page_server import Server
from tests.web.test_browser import drawn, open_gap, open_tune, to_view

pytestmark = pytest.mark.slow

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")


WHOLE = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]


def audit(page: Page, leave_out: str = "nothing", only: list[str] | None = None) -> list[str]:
    """What breaks a rule, of whatever weight, with the elements it is about.

    leave_out   selector of what is not looked at, such as drawings with one name for all
    """
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    found = page.evaluate("""async ([out, only]) => (await axe.run(
        {include: [["html"]], exclude: [[out]]}, {runOnly: only, resultTypes: ["violations"]},
    )).violations.map((v) => [v.impact, v.id, v.nodes.slice(0, 4).map((n) => n.html.slice(0, 160)),
                              v.nodes[0].failureSummary])""", [leave_out, only or WHOLE])
    return [f"{impact} {rule}: {nodes} {why}" for impact, rule, nodes, why in found]


def open_everything(page: Page, server: Server) -> None:
    """A gap with a changed note, a choice, and all that is folded away."""
    open_tune(page, server)
    open_gap(page, 2)
    for card, fold in ((0, "Change notes"), (0, "Why it works"), (1, "Hands")):
        page.locator("#ideas .card").nth(card).get_by_role("button", name=fold).click()
    expect(page.locator(".says .fine")).to_be_visible()
    page.locator("#ideas .card").nth(1).get_by_role("button", name="Choose").click()
    expect(page.locator(".decided")).to_contain_text("1 of")
    page.get_by_role("button", name="Back to gap 2").click()
    expect(page.locator("#bench[aria-busy=false] .card.chosen")).to_have_count(1)


def misread_a_chord(page: Page) -> None:
    to_view(page, "sheet")
    page.locator(".chord-symbol").first.click()
    page.locator(".chord-form input[name=text]").fill("Cm7x")
    expect(page.locator(".chord-says strong")).to_be_visible()


def test_no_findings(page: Page, server: Server) -> None:
    page.goto(server.address)
    assert audit(page) == []
    open_tune(page, server)
    assert audit(page) == []
    open_everything(page, server)
    assert audit(page, leave_out=".score") == []
    page.locator("#show-keys").click()
    assert audit(page, leave_out=".score") == []
    page.keyboard.press("Escape")
    page.locator("#drawer summary").first.click()
    assert audit(page, leave_out=".score") == []
    page.keyboard.press("Escape")
    misread_a_chord(page)
    assert audit(page, leave_out=".score") == []
    page.keyboard.press("Escape")
    to_view(page, "chorus")
    expect(page.locator("#view-chorus .pages svg.score").first).to_be_visible(timeout=120_000)
    assert audit(page, leave_out=".score") == []
    to_view(page, "hand")
    page.get_by_role("button", name="Filled").click()
    expect(page.locator(".hand-row .hands").first).to_be_visible(timeout=120_000)
    assert audit(page, leave_out=".score") == []


def test_no_findings_where_something_is_wrong_or_on_its_way(page: Page, server: Server) -> None:
    """Chords pasted without a melody; own notes against the rules, with what mends them; a gap
    in which nothing fits; what is folded away; the rooms beside the tune."""
    page.goto(server.address)
    page.fill("#text", "Dm7 G7 | Cmaj7")
    page.get_by_role("button", name="Put it on the shelf").click()
    expect(page.locator("#paste-says p")).to_be_visible()
    assert audit(page) == []
    open_tune(page, server)
    open_gap(page, 2)
    page.keyboard.press("e")
    expect(page.locator(".says .fine")).to_be_visible()
    page.locator(".editor").press("ArrowRight")
    for _ in range(14):
        page.locator(".editor").press("ArrowDown")
    expect(page.locator(".says .findings li").first).to_be_visible()
    page.get_by_role("button", name="What speaks against it?").click()
    expect(page.locator(".why-not-says > *").first).to_be_visible()
    page.get_by_text("Type notes of your own").click()
    assert audit(page, leave_out=".score") == []
    page.keyboard.press("c")
    expect(page.locator(".saying")).not_to_be_empty()
    page.locator(".mixer summary").click()
    assert audit(page, leave_out=".score") == []
    page.get_by_role("button", name="Use in a lesson").click()
    expect(page.locator("#into select").first).to_be_visible()
    assert audit(page, leave_out=".score") == []
    page.locator("#into").get_by_role("button", name="Close").click()
    to_view(page, "sheet")
    expect(page.locator("#sheet .gap-mark.broken").first).to_be_visible()
    assert audit(page) == []
    to_view(page, "take")
    assert audit(page) == []
    page.goto(f"{server.address}/library")
    expect(page.locator("#gaps li").first).to_be_visible()
    assert audit(page) == []


def test_dark_is_as_readable_as_light(page: Page, server: Server) -> None:
    server.demo()
    page.emulate_media(color_scheme="dark")
    page.goto(server.address)
    page.locator(".more-handle").first.click()
    page.fill("#text", "Dm7 G7")
    page.get_by_role("button", name="Put it on the shelf").click()
    expect(page.locator("#paste-says p")).to_be_visible()
    assert audit(page, only=["color-contrast"]) == []
    open_everything(page, server)
    assert audit(page, leave_out=".score", only=["color-contrast"]) == []
    misread_a_chord(page)
    assert audit(page, leave_out=".score", only=["color-contrast"]) == []


def test_the_audit_finds_what_is_wrong(page: Page, server: Server) -> None:
    page.goto(server.address)
    page.evaluate("document.body.append(document.createElement('button'))")
    assert any("button-name" in finding for finding in audit(page))


def tab_to(page: Page, selector: str, most: int = 120) -> None:
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("(s) => document.activeElement.matches(s)", selector):
            return
    raise AssertionError(f"no way to {selector} by the Tab key")


def test_a_whole_task_by_keyboard(page: Page, server: Server) -> None:
    page.goto(server.address)
    tab_to(page, "[data-demo=umbrella]")
    page.keyboard.press("Enter")
    page.wait_for_url("**/tunes/*")
    expect(page.locator("#sheet[aria-busy=false] .gap-mark").first).to_be_visible()
    tab_to(page, ".gap-mark[role=button]")
    page.keyboard.press("ArrowRight")
    assert page.evaluate("document.activeElement.dataset.gap") == "2"
    page.keyboard.press("Enter")
    expect(page.locator("#bench h2")).to_be_focused()
    tab_to(page, ".card .hear")
    page.keyboard.press("Enter")
    expect(page.locator(".card .hear[aria-pressed=true]")).to_have_count(1)
    page.keyboard.press("Escape")
    expect(page.locator(".card .hear[aria-pressed=true]")).to_have_count(0)
    tab_to(page, ".card .folds button:nth-last-child(2)")  # change its notes
    page.keyboard.press("Enter")
    expect(page.locator(".says .fine")).to_be_visible()
    name = page.locator(".note-name").first
    before = name.text_content() or ""
    page.keyboard.press("ArrowUp")
    expect(name).not_to_have_text(before)
    page.keyboard.press("ArrowDown")
    expect(name).to_have_text(before)
    tab_to(page, ".card .choose")
    page.keyboard.press("Space")
    expect(page.locator(".decided")).to_contain_text("1 of")
    page.locator("#tab-gap").focus()
    page.keyboard.press("ArrowLeft")
    expect(page.locator("#tab-sheet")).to_be_focused()
    tab_to(page, ".chord-symbol")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    expect(page.locator(".chord-form input[name=text]")).to_be_focused()
    page.keyboard.press("Escape")
    assert page.evaluate("document.activeElement.matches('.chord-symbol')")
    page.locator("#tab-gap").focus()
    page.keyboard.press("ArrowRight")
    expect(page.locator("#tab-chorus")).to_be_focused()
    expect(page.locator("#view-chorus")).to_be_visible()


def test_focus_is_seen(page: Page, server: Server) -> None:
    page.goto(server.address)
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"


def test_readable_at_twice_the_size(page: Page, server: Server) -> None:
    """200 per cent zoom of a 1360 pixel window is a window of 680: nothing runs out of it, and
    no control lies upon another. An idea is heard and chosen, and the sheet played, without a
    scroll; what is set stands between the names of the rooms and what plays."""
    page.set_viewport_size({"width": 680, "height": 450})
    open_tune(page, server)
    open_gap(page, 2)
    drawn(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    bar, head = (page.locator(name).bounding_box() for name in ("#transport", ".masthead"))
    choose = page.locator(".card.held .choose").bounding_box()
    assert bar and head and choose
    assert bar["y"] + bar["height"] <= 450 and choose["y"] + choose["height"] <= bar["y"]
    page.locator("#drawer summary").first.click()
    form = page.locator("#settings").bounding_box()
    assert form and head["y"] + head["height"] <= form["y"] < 200
    assert form["y"] + form["height"] <= bar["y"]
    page.keyboard.press("Escape")
    to_view(page, "sheet")
    page.locator(".chord-symbol").nth(4).click()
    form = page.locator(".chord-form").bounding_box()
    assert form and form["y"] >= 0 and form["y"] + form["height"] <= bar["y"]
    page.keyboard.press("Escape")
    open_gap(page, 2)
    overlaps = page.evaluate("""() => {
        const all = [...document.querySelectorAll("button, select, input, summary")]
            .filter((e) => e.checkVisibility() && !e.closest(".paper"));
        const boxes = all.map((e) => [e, e.getBoundingClientRect()]);
        const found = [];
        boxes.forEach(([a, p], i) => boxes.slice(i + 1).forEach(([b, q]) => {
            if (p.left < q.right - 1 && q.left < p.right - 1 && p.top < q.bottom - 1
                && q.top < p.bottom - 1 && !a.contains(b)) found.push(a.outerHTML + b.outerHTML);
        }));
        return found;
    }""")
    assert overlaps == []


def test_no_findings_in_german(page: Page, server: Server) -> None:
    """The other language: the shelf, a gap with all that is folded away, whose reasons are marked
    as English; the chorus, the paper, takes, students, the library."""
    page.context.add_cookies([{"name": "fillwright-language", "value": "de",
                               "url": server.address}])
    key = server.demo()
    page.goto(server.address)
    expect(page.locator("html")).to_have_attribute("lang", "de")
    assert audit(page) == []
    page.goto(f"{server.address}/tunes/{key}?gap=2")
    expect(page.locator("#bench[aria-busy=false] .card").first).to_be_visible()
    drawn(page)
    page.keyboard.press("w")
    card = page.locator(".card.held")
    expect(card.locator(".in-english")).to_be_visible()
    expect(card.locator(".reasons")).to_have_attribute("lang", "en")
    expect(page.locator("#bench > .legend")).to_contain_text("B♭ ist das deutsche B")
    page.keyboard.press("h")
    page.keyboard.press("e")
    expect(card.locator(".says .fine")).to_be_visible()
    assert audit(page, leave_out=".score") == []
    page.keyboard.press("c")
    expect(page.locator(".saying")).not_to_be_empty()
    assert audit(page, leave_out=".score") == []
    for view, there in (("chorus", "#view-chorus .pages svg.score"),
                        ("hand", "#view-hand .handout svg.score"), ("take", "#take-file")):
        to_view(page, view)
        expect(page.locator(there).first).to_be_attached()
        assert audit(page, leave_out=".score") == [], view
    page.goto(f"{server.address}/lessons?view=students")
    expect(page.locator(".student-form")).to_be_visible()
    assert audit(page) == []
    page.goto(f"{server.address}/library")
    expect(page.locator("#gaps li").first).to_be_visible()
    assert audit(page) == []
