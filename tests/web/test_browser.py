"""What a teacher does on the page, step by step, in a real browser."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from tests.web.page_server import ROOT, Server

from fillwright.demo import demo_path

pytestmark = pytest.mark.slow

IMAGES = ROOT / "docs" / "img"
ABC = """X:1
T:Two Bars and a Rest
M:4/4
L:1/4
Q:1/4=120
K:F
"Gm7"d c B A|"C7"G4|"Fmaj7"A4|"D7"z2 A c|"Gm7"B4|"C7"c4|"F6"F4|z4|]
"""


def open_tune(page: Page, server: Server, name: str = "umbrella") -> str:
    key = server.demo(name)
    page.goto(f"{server.address}/tunes/{key}")
    expect(page.locator("#sheet[aria-busy=false] .gap-mark").first).to_be_visible()
    return key


def open_gap(page: Page, number: int) -> None:
    page.locator(f'.gap-mark[data-gap="{number}"][role=button]').click()
    expect(page.locator("#bench h2")).to_contain_text(f"Gap {number}")
    expect(page.locator("#bench[aria-busy=false] .card").first).to_be_visible()


def drawn(page: Page) -> None:
    expect(page.locator(".staff[aria-busy=true]")).to_have_count(0, timeout=30_000)


# --- 1. the shelf -----------------------------------------------------------------------------


def test_bring_a_file_a_text_and_a_demo_tune(page: Page, server: Server, tmp_path: Path) -> None:
    page.goto(server.address)
    page.set_input_files("#file", demo_path("ferry"))
    page.wait_for_url("**/tunes/*")
    expect(page.locator("h1")).to_have_text("Ferry Before Noon")
    page.goto(server.address)
    page.fill("#text", ABC)
    page.get_by_role("button", name="Put it on the shelf").click()
    page.wait_for_url("**/tunes/*")
    expect(page.locator("h1")).to_have_text("Two Bars and a Rest")
    expect(page.locator(".gap-mark[role=button]")).to_have_count(5)
    page.goto(server.address)
    page.get_by_role("button", name="Wrong Umbrella, 12-bar minor blues").click()
    page.wait_for_url("**/tunes/*")
    page.goto(server.address)
    expect(page.locator("#tunes")).to_contain_text("Ferry Before Noon")


def test_drop_a_file_on_the_shelf(page: Page, server: Server) -> None:
    page.goto(server.address)
    page.evaluate("""(text) => {
        const data = new DataTransfer();
        data.items.add(new File([text], "dropped.abc"));
        document.getElementById("drop").dispatchEvent(
            new DragEvent("drop", {dataTransfer: data, bubbles: true, cancelable: true}));
    }""", ABC)
    page.wait_for_url("**/tunes/*")
    expect(page.locator("h1")).to_have_text("Two Bars and a Rest")


def test_what_is_no_lead_sheet_gets_a_sentence(page: Page, server: Server) -> None:
    page.goto(server.address)
    page.fill("#text", "<score-partwise><part")
    page.get_by_role("button", name="Put it on the shelf").click()
    expect(page.locator(".notice.error")).to_contain_text("pasted.musicxml")
    expect(page).to_have_url(re.compile("/$"))


def test_take_a_tune_off_the_shelf(page: Page, server: Server) -> None:
    with server.client() as client:
        text = ABC.replace("Two Bars", "Not For Long")
        client.post("/api/tunes", json={"text": text})
    page.goto(server.address)
    page.get_by_role("button", name="Take Not For Long and a Rest off the shelf").click()
    page.get_by_role("button", name="Yes, lose Not For Long and a Rest").click()
    expect(page.locator("#tunes")).not_to_contain_text("Not For Long")


# --- 2. the tune ------------------------------------------------------------------------------


def test_gaps_are_bracketed_and_settings_recompute(page: Page, server: Server) -> None:
    open_tune(page, server)
    brackets = page.locator(".gap-mark[role=button]").count()
    assert brackets > 4
    label = page.locator(".gap-mark[role=button]").first.get_attribute("aria-label") or ""
    assert label.startswith("Gap 1, bar")
    open_gap(page, 2)
    before = page.locator(".card .said").all_text_contents()
    page.select_option("select[name=level]", "beginner")
    expect(page.locator("#bench[aria-busy=false]")).to_be_visible()
    expect(page.locator(".card .said").first).not_to_have_text(before[0])
    page.select_option("select[name=key]", "G minor")
    expect(page.locator(".chord-symbol").first).to_have_attribute(
        "aria-label", re.compile("^Chord Gm7, bar 1"))
    page.fill("input[name=tempo]", "90")
    page.press("input[name=tempo]", "Tab")
    expect(page.locator("#sheet")).to_contain_text("= 90")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("input[name=tempo]")).to_have_value("132")


def test_a_chord_is_corrected_in_place(page: Page, server: Server) -> None:
    open_tune(page, server)
    page.select_option("select[name=key]", "D minor")  # the sheet is in C minor
    expect(page.locator(".chord-symbol").first).to_have_attribute("data-text", "Dm7")
    page.locator(".chord-symbol").first.click()
    field = page.locator(".chord-form input[name=text]")
    field.fill("Dmxj7")
    expect(page.locator(".chord-says")).to_contain_text("'xj7' at character 3")
    page.keyboard.press("Enter")
    expect(page.locator(".chord-says pre")).to_have_text("Dmxj7\n  ^")
    assert page.locator(".gap-mark").count()
    field.fill("D-Δ7")
    expect(page.locator(".chord-says")).to_contain_text("D F A C♯")
    page.keyboard.press("Enter")
    expect(page.locator(".chord-form")).to_have_count(0)
    expect(page.locator(".chord-symbol").first).to_have_attribute("data-text", "D-Δ7")
    page.select_option("select[name=key]", "")
    expect(page.locator(".chord-symbol").first).to_have_attribute("data-text", "C-Δ7")
    count = page.locator(".chord-symbol").count()
    page.locator(".chord-symbol").first.click()
    page.locator(".chord-form select[name=onset]").select_option("3/2")
    page.locator(".chord-form input[name=text]").fill("F7")
    page.get_by_role("button", name="Write it").click()
    expect(page.locator(".chord-symbol")).to_have_count(count + 1)
    expect(page.locator('.chord-symbol[data-text="F7"][data-onset="3/2"]').first).to_be_focused()
    page.locator('.chord-symbol[data-text="F7"]').first.click()
    page.locator(".chord-form select[name=onset]").select_option("5/2")
    page.get_by_role("button", name="Move it there").click()
    expect(page.locator('.chord-symbol[data-text="F7"][data-onset="5/2"]').first).to_be_focused()
    expect(page.locator(".chord-symbol")).to_have_count(count + 1)
    page.locator(".chord-symbol").nth(1).click()
    page.get_by_role("button", name="Take it away").click()
    expect(page.locator(".chord-symbol")).to_have_count(count)


# --- 3. a gap ---------------------------------------------------------------------------------


def test_options_stand_side_by_side_with_hands_and_reasons(page: Page, server: Server) -> None:
    open_tune(page, server, "lamp")
    open_gap(page, 3)
    drawn(page)
    for family in ("comp", "reharm", "line"):
        cards = page.locator(f".family.{family} .card")
        assert cards.count() == 3
        card = cards.first
        assert card.locator(".said").text_content()
        expect(card.locator(".staff svg.score")).to_be_visible()
        assert card.locator(".hands svg.keys").count() >= 1
        assert card.locator(".hands .finger").count() >= 3
        assert "difficulty" in (card.locator(".meta").text_content() or "")
        card.get_by_text("Why it works").click()
        expect(card.locator(".reasons li").first).to_be_visible()


LISTEN = """
    window.taps = [];
    const connect = AudioNode.prototype.connect;
    AudioNode.prototype.connect = function (to, ...rest) {
        if (to instanceof AudioDestinationNode) {
            const tap = this.context.createAnalyser();
            connect.call(this, tap);
            window.taps.push(tap);
        }
        return connect.call(this, to, ...rest);
    };
"""
PEAK = """async () => {
    let peak = 0;
    const wave = new Float32Array(2048);
    for (let i = 0; i < 30 || (peak <= 0.02 && i < 900); i += 1) {  // a slow machine begins late
        for (const tap of window.taps) {
            tap.getFloatTimeDomainData(wave);
            peak = Math.max(peak, ...wave.map(Math.abs));
        }
        await new Promise((done) => setTimeout(done, 30));
    }
    return peak;
}"""


def test_hear_an_option_with_its_notes_lit(page: Page, server: Server) -> None:
    page.add_init_script(LISTEN)
    open_tune(page, server, "umbrella")
    open_gap(page, 2)
    drawn(page)
    expect(page.locator("html[data-piano=ready]")).to_have_count(1, timeout=60_000)
    page.get_by_label("alone").check()
    page.get_by_label("over and over").check()
    page.select_option("select[aria-label=Speed]", "0.5")
    card = page.locator(".family.comp .card").first
    card.get_by_role("button", name="Hear").click()
    expect(card.locator(".staff .on").first).to_be_attached()
    expect(card.locator(".hands .on").first).to_be_attached()
    assert 0.02 < page.evaluate(PEAK) < 1.0  # it sounds, and is not cut off
    card.get_by_role("button", name="Stop").click()
    expect(card.locator(".on")).to_have_count(0)
    page.get_by_role("button", name="Hear the gap empty").click()
    page.keyboard.press("Escape")


def test_choose_others_switch_off_and_leave_open(page: Page, server: Server) -> None:
    open_tune(page, server)
    open_gap(page, 2)
    card = page.locator(".family.line .card").first
    card.get_by_role("button", name="Choose").click()
    expect(card.locator(".choose")).to_have_text("Chosen")
    expect(page.locator('.gap-mark[data-gap="2"] .gap-word').first).to_have_text("✓ line")
    more = page.get_by_role("button", name="Other comp ideas")
    if more.count():
        more.click()
        expect(page.locator("#bench[aria-busy=false] .family.comp .card").nth(3)).to_be_visible()
    device = page.locator(".family.comp .card h4").first.text_content() or ""
    page.locator(".family.comp .card").first.get_by_role(
        "button", name="Switch this device off").click()
    expect(page.locator("#without")).to_contain_text(device[1:])
    expect(page.locator("#bench h2")).to_be_focused()
    expect(page.locator("#bench[aria-busy=false] .family.comp .card h4").first
           ).not_to_have_text(device)
    page.locator("#without button").click()
    expect(page.locator("#without")).to_be_hidden()
    page.get_by_role("button", name="Leave it open").click()
    expect(page.locator(".decide .choose")).to_have_text("Left open")
    expect(page.locator('.gap-mark[data-gap="2"] .gap-word').first).to_have_text("open")
    page.get_by_role("button", name="Let the program choose").click()
    expect(page.locator('.gap-mark[data-gap="2"] .gap-word')).to_have_count(0)


def test_change_a_note_and_see_what_the_rules_say(page: Page, server: Server) -> None:
    open_tune(page, server)
    open_gap(page, 2)
    card = page.locator(".family.comp .card").first
    card.get_by_text("Change a note").click()
    expect(card.locator(".says .fine")).to_be_visible()
    note = card.locator(".note-name").first
    name = note.text_content() or ""
    for _ in range(14):  # far away from where the hand is
        note.press("ArrowDown")
    expect(card.locator(".findings li").first).to_be_visible()
    expect(note).not_to_have_text(name)
    card.get_by_role("button", name="Back to the notes of the fill").click()
    expect(card.locator(".says .fine")).to_be_visible()
    keys = card.locator(".hands .finger").count()
    card.locator(".note-name").nth(1).press("ArrowUp")
    note.press("Delete")
    expect(note).to_have_text("left out")
    expect(card.locator(".hands .finger")).to_have_count(keys - 1)
    card.get_by_role("button", name="Choose").click()
    expect(card.locator(".choose")).to_have_text("Chosen")
    page.reload()
    open_gap(page, 2)
    expect(page.locator(".card.chosen")).to_have_count(1)
    expect(page.locator(".card.chosen .hands .finger")).to_have_count(keys - 1)


def test_black_keys_two_hands_and_undo_of_changed_notes(page: Page, server: Server) -> None:
    open_tune(page, server, "lamp")
    open_gap(page, 3)
    card = page.locator(".family.comp .card").first
    card.get_by_text("Change a note").click()
    rows = card.locator(".notes li")
    expect(card.locator(".says .fine")).to_be_visible()
    sides = [text.rsplit(", ", 1)[1] for text in rows.locator(".quiet").all_text_contents()]
    for side in sorted(set(sides)):
        note = rows.nth(sides.index(side)).locator(".note-name")
        name, midi = note.text_content() or "", int(note.get_attribute("aria-valuenow") or 0)
        note.press("ArrowUp")
        expect(note).to_have_attribute("aria-valuenow", str(midi + 1))
        expect(note).not_to_have_text(name)
        moved = note.text_content()
        assert moved
        expect(card.locator(f'.pictures [aria-label*="{moved}"]').first).to_be_attached()
        note.press("ArrowDown")
        expect(note).to_have_text(name)
        expect(card.locator(".says .fine")).to_be_visible()
    note = rows.first.locator(".note-name")
    note.press("Delete")
    expect(note).to_have_text("left out")
    card.get_by_role("button", name="Choose").click()
    expect(card.locator(".choose")).to_have_text("Chosen")
    page.get_by_role("button", name="Undo").click()
    expect(card.locator(".choose")).to_have_text("Choose")
    page.get_by_role("button", name="Redo").click()
    expect(card.locator(".choose")).to_have_text("Chosen")


def test_a_whole_system_stands_at_the_upper_edge(page: Page, server: Server) -> None:
    open_tune(page, server, "lamp")
    for number in (1, 3, 6, 9):
        mark = page.locator(f'.gap-mark[data-gap="{number}"][role=button]')
        if not mark.count():
            break
        open_gap(page, number)
        # The sheet goes to the gap whenever it is laid out in another size.
        cut = page.evaluate("""async () => {
            const paper = document.getElementById("sheet");
            const drawn = () => new Promise((done) => requestAnimationFrame(done));
            let cut = [];
            for (let turn = 0; turn < 20; turn += 1) {
                paper.style.maxHeight = `${370 - turn}px`;
                await drawn();
                await drawn();
                const { top } = paper.getBoundingClientRect();
                cut = [...paper.querySelectorAll(".system")].map((system) => {
                    const box = system.getBoundingClientRect();
                    return [box.top - top, box.bottom - top];
                }).filter((row) => row[0] < 0 && row[1] > 0);
                if (!cut.length) break;
            }
            return cut;
        }""")
        assert not cut, (number, cut)
        box, paper = mark.bounding_box(), page.locator("#sheet").bounding_box()
        assert box and paper and box["y"] >= paper["y"]


# --- 4. the chorus ----------------------------------------------------------------------------


def test_the_chorus_plays_loops_and_is_taken_away(page: Page, server: Server) -> None:
    page.add_init_script(LISTEN)
    open_tune(page, server)
    page.get_by_role("tab", name="The chorus").click()
    expect(page.locator("#view-chorus .pages svg.score").first).to_be_visible(timeout=60_000)
    expect(page.locator("html[data-piano=ready]")).to_have_count(1, timeout=60_000)
    assert page.locator(".fill-list li").count() == page.locator(".gap-mark[role=button]").count()
    page.get_by_label("From bar").fill("3")
    page.get_by_label("To bar").fill("4")
    page.locator("#view-chorus").get_by_label("over and over").check()
    page.get_by_role("button", name="Play the chorus").click()
    expect(page.locator("#view-chorus .on").first).to_be_attached()
    expect(page.locator(".place")).to_have_text(re.compile("bar [34]"))
    assert 0.02 < page.evaluate(PEAK) < 1.0
    page.get_by_label("Tempo in per cent").fill("60")
    page.locator("#view-chorus").get_by_role("button", name="Stop").click()
    expect(page.locator("#view-chorus .on")).to_have_count(0)
    for name, ending, magic in (("PDF", ".pdf", b"%PDF"), ("MIDI", ".mid", b"MThd"),
                                ("MusicXML", ".musicxml", b"<?xml")):
        with page.expect_download() as waiting:
            page.locator("#view-chorus").get_by_role("button", name=name, exact=True).click()
        assert waiting.value.suggested_filename == f"wrong-umbrella{ending}"
        assert Path(waiting.value.path()).read_bytes().startswith(magic)


def test_a_choice_is_in_the_chorus_and_undo_takes_it_out(page: Page, server: Server) -> None:
    open_tune(page, server)
    open_gap(page, 1)
    card = page.locator(".family.line .card").nth(1)
    device = (card.locator("h4").text_content() or "")[1:]
    card.get_by_role("button", name="Choose").click()
    expect(card.locator(".choose")).to_have_text("Chosen")
    page.get_by_role("tab", name="The chorus").click()
    expect(page.locator(".fill-list li").first).to_contain_text(f"{device} (your choice)",
                                                                timeout=60_000)
    page.keyboard.press("Control+z")
    expect(page.locator(".fill-list li").first).not_to_contain_text("your choice",
                                                                    timeout=60_000)
    page.get_by_role("button", name="Redo").click()
    expect(page.locator(".fill-list li").first).to_contain_text("your choice", timeout=60_000)


def test_two_tabs_the_slower_one_is_told(page: Page, server: Server) -> None:
    key = open_tune(page, server)
    with server.client() as client:
        tune = client.get(f"/api/tunes/{key}").json()
        change = {"version": tune["version"], "change": {"settings": {"level": "advanced"}}}
        assert client.put(f"/api/tunes/{key}", json=change).status_code == 200
    page.select_option("select[name=hand]", "large")
    expect(page.locator(".notice.error")).to_contain_text("changed in another tab")
    expect(page.locator("select[name=level]")).to_have_value("advanced")
    expect(page.locator("select[name=hand]")).to_have_value("medium")
    page.select_option("select[name=hand]", "large")
    expect(page.locator("select[name=hand]")).to_have_value("large")


# --- 5. hand-outs -----------------------------------------------------------------------------


def test_hand_outs_blank_and_filled(page: Page, server: Server) -> None:
    open_tune(page, server)
    page.get_by_role("tab", name="Hand-outs").click()
    expect(page.locator(".handout svg.score").first).to_be_visible(timeout=30_000)
    assert page.locator(".handout .gap-bracket").count() > 4
    with page.expect_download() as waiting:
        page.locator("#view-hand").get_by_role("button", name="PDF").click()
    assert waiting.value.suggested_filename == "wrong-umbrella-blank.pdf"
    page.get_by_role("button", name="Filled").click()
    expect(page.locator(".hand-row .hands").first).to_be_visible(timeout=60_000)


# --- the pictures of the README ---------------------------------------------------------------


@pytest.mark.parametrize(("name", "width", "height", "scheme"), [
    ("desktop-light", 1360, 1240, "light"), ("desktop-dark-chorus", 1360, 1000, "dark"),
    ("tablet-light", 820, 1180, "light"), ("tablet-dark", 820, 1180, "dark")])
def test_screenshots(page: Page, server: Server, name: str, width: int, height: int,
                     scheme: str, tmp_path: Path) -> None:
    """With FILLWRIGHT_PICTURES set they are written to docs/img, for the README."""
    page.set_viewport_size({"width": width, "height": height})
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    open_tune(page, server, "lamp")
    if name.endswith("chorus"):
        page.get_by_role("tab", name="The chorus").click()
        expect(page.locator("#view-chorus .pages svg.score").first).to_be_visible(timeout=60_000)
    else:
        open_gap(page, 3)
        drawn(page)
    folder = IMAGES if os.environ.get("FILLWRIGHT_PICTURES") else tmp_path
    folder.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=folder / f"{name}.png")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
