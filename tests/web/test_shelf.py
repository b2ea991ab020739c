"""The shelf as a teacher uses it: found, named, copied, put into folders; and while it is empty."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from playwright.sync_api import Page, Route, expect
from tests.web.page_server import Server
from tests.web.test_access import audit

from fillwright.web.pasted import bare_chords

ABC = """X:1
T:{title}
M:4/4
L:1/4
K:F
"Gm7"d c B A|"C7"G4|"F6"F4|z4|]
"""


def test_a_line_of_chords_is_known_by_its_symbols() -> None:
    for text, chords in {
            "Dm7 G7 | Cmaj7": ["Dm7", "G7", "Cmaj7"],
            "| F-7  B♭7 |\n| Ebmaj7 | % |": ["F-7", "B♭7", "Ebmaj7"],
            "[A] Cm7b5, F7(b9): Bbm6 N.C.": ["A", "Cm7b5", "F7(b9)", "Bbm6"],
            "C Am F G": [],  # one symbol: the rest may be notes
            "C E G A | F4 | B8": [],
            "": [],
            "Dm7 is a chord and G7 is one": [],
            'X:1\nK:C\n"Dm7"d4 | "G7"g4 |': [],
            "<score>Dm7 G7 C7</score>": []}.items():
        assert bare_chords(text) == chords, text


@pytest.mark.slow
@given(st.text(max_size=60))
def test_any_text_may_be_pasted(text: str) -> None:
    assert all(chord in text for chord in bare_chords(text))


@pytest.mark.slow
def test_chords_without_a_melody_are_told_what_is_missing(page: Page, server: Server) -> None:
    page.goto(server.address)
    page.fill("#text", "Dm7 G7 | Cmaj7 A7 |")
    page.get_by_role("button", name="Put it on the shelf").click()
    told = page.locator("#paste-says")
    expect(told).to_contain_text("chord symbols (Dm7, G7, Cmaj7 …) without a melody")
    expect(page.locator("#text")).to_be_focused()
    page.fill("#text", "Dm7")
    expect(told).to_be_empty()


@pytest.mark.slow
def test_tunes_are_found_named_copied_and_put_into_folders(page: Page, server: Server) -> None:
    with server.client() as client:
        for title in ("Étude in a Drawer", "Two Doors Down"):
            key = client.post("/api/tunes", json={"text": ABC.format(title=title)}).json()["id"]
        version = client.get(f"/api/tunes/{key}").json()["version"]
        client.put(f"/api/tunes/{key}", json={
            "version": version, "change": {"pick": {"gap": 1, "fill": "open", "moves": []}}})
    page.goto(server.address)
    slip = page.locator(f'.slip[data-tune="{key}"]')
    expect(slip).to_contain_text("F major · 4/4 · 4 bars")
    expect(slip).to_contain_text("intermediate")
    expect(slip.locator(".tune-far")).to_have_text(re.compile(r"^(1 of \d|✓ its one gap)"))
    page.fill("#find", "etude")  # accents do not matter
    expect(page.locator(".slip")).to_have_count(1)
    expect(page.locator("#found")).to_contain_text("1 of")
    page.reload()
    expect(page.locator(".tune-title")).to_have_text(["Étude in a Drawer"])
    page.fill("#find", "two doors")
    slip.get_by_role("button", name="Two Doors Down: name, folder, copy").click()
    slip.get_by_label("Title").fill("Three Doors Down")
    page.keyboard.press("Enter")
    expect(slip.locator(".tune-title")).to_have_count(0)  # it is not called that any more
    page.fill("#find", "doors")
    expect(slip.locator(".tune-title")).to_have_text("Three Doors Down")
    slip.get_by_role("button", name="Three Doors Down: name").click()
    slip.get_by_role("combobox", name="Folder").fill("Anna")
    slip.get_by_role("button", name="Put it there").click()
    expect(slip.locator(".tune-folder")).to_have_text("Anna")
    expect(slip.locator(".more-handle")).to_be_focused()
    slip.locator(".more-handle").click()
    slip.get_by_role("button", name="Make a copy").click()
    expect(page.locator(".tune-title")).to_contain_text(["Three Doors Down (copy)"])
    expect(page.locator(".slip-more input").first).to_be_focused()
    page.fill("#find", "")
    page.locator("#folders").get_by_role("button", name="Anna").click()
    expect(page.locator(".slip")).to_have_count(2)
    expect(page).to_have_url(re.compile("folder=Anna"))
    assert audit(page) == []


@pytest.mark.slow
def test_an_empty_shelf_shows_what_comes_out(page: Page, server: Server) -> None:
    def empty(route: Route) -> None:
        route.fulfill(json={"tunes": []}) if route.request.method == "GET" else route.continue_()

    page.route("**/api/tunes", empty)
    page.goto(server.address)
    expect(page.locator("#example .written .gap-mark.current")).not_to_have_count(0)
    expect(page.locator("#example .idea svg.score")).to_have_count(3)
    assert audit(page, leave_out=".score") == []
    hear = page.locator("#example .hear")
    hear.first.click()
    expect(page.locator("#example .score .on").first).to_be_attached()
    hear.nth(1).click()  # one at a time
    expect(hear.first).to_have_text("Hear")
    expect(hear.nth(1)).to_have_text("Stop")
    hear.nth(1).click()
    # The raw control is not seen, and the keyboard reaches it all the same.
    assert page.locator("#file").bounding_box()["width"] <= 1  # type: ignore[index]
    page.locator(".idea .hear").last.focus()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "file"
    assert page.evaluate("getComputedStyle(document.querySelector('label.button')).outlineStyle"
                         ) != "none"


@pytest.mark.slow
def test_news_clear_themselves_and_errors_stay(page: Page, server: Server) -> None:
    page.clock.install()
    page.goto(server.address)
    page.evaluate("""async () => {
        const {notify} = await import(document.querySelector("script[src*=shelf]").src
            .replace("shelf.js", "notices.js").split("?")[0]);
        notify("It is done."); notify("It is not done.", "error"); notify("It is done.");
    }""")
    news = page.get_by_role("status").filter(has_text="It is done.")
    expect(news.locator(".notice")).to_have_count(1)  # said twice, it stands there once
    expect(page.get_by_role("alert").filter(has_text="It is not done.")).to_be_visible()
    page.locator("#notices .notice").hover()
    page.clock.run_for(60_000)
    expect(page.locator("#notices .notice")).to_have_count(1)  # it is being read
    page.mouse.move(5, 5)
    page.clock.run_for(60_000)
    expect(page.locator("#notices .notice")).to_have_count(0)
    expect(page.locator("#errors .notice")).to_have_count(1)
    page.locator("#errors .notice button").focus()
    page.keyboard.press("Escape")
    expect(page.locator("#errors .notice")).to_have_count(0)
