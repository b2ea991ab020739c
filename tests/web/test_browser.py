"""What a teacher does on the page, step by step, in a real browser."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Page, Route, expect
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


def to_view(page: Page, name: str) -> None:
    page.locator(f"#tab-{name}").click()
    expect(page.locator(f"#view-{name}")).to_be_visible()


def open_gap(page: Page, number: int) -> None:
    """From the sheet, as a teacher does."""
    to_view(page, "sheet")
    page.locator(f'#sheet .gap-mark[data-gap="{number}"][role=button]').click()
    expect(page.locator("#bench h2")).to_contain_text(f"Gap {number}")
    expect(page.locator("#bench[aria-busy=false] .card").first).to_be_visible()


def ideas_of(page: Page, family: str) -> None:
    """Three ideas of one family side by side."""
    page.locator(f"#kind-{family}").click()
    expect(page.locator(f"#ideas .card.{family}").first).to_be_visible()


def setting(page: Page, name: str, value: str) -> None:
    """Set one thing in the drawer, and close it."""
    drawer = page.locator("#drawer")
    if drawer.get_attribute("open") is None:
        drawer.locator("summary").first.click()
    field = page.locator(f"#settings [name={name}]")
    if field.evaluate("(field) => field.tagName") == "SELECT":
        field.select_option(value)
    else:
        field.fill(value)
        field.press("Tab")
    page.keyboard.press("Escape")


def drawn(page: Page) -> None:
    expect(page.locator(".staff[aria-busy=true]")).to_have_count(0, timeout=120_000)


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
    expect(page.locator("#paste-says")).to_contain_text("pasted.musicxml")
    expect(page).to_have_url(re.compile("/$"))


def test_take_a_tune_off_the_shelf(page: Page, server: Server) -> None:
    with server.client() as client:
        text = ABC.replace("Two Bars", "Not For Long")
        client.post("/api/tunes", json={"text": text})
    page.goto(server.address)
    page.get_by_role("button", name="Not For Long and a Rest: name, folder, copy").click()
    page.get_by_role("button", name="Remove Not For Long and a Rest from the shelf").click()
    page.get_by_role("button", name="Yes, lose Not For Long and a Rest").click()
    expect(page.locator("#tunes")).not_to_contain_text("Not For Long")


# --- 2. the tune ------------------------------------------------------------------------------


def test_gaps_are_bracketed_and_settings_recompute(page: Page, server: Server) -> None:
    open_tune(page, server)
    brackets = page.locator("#sheet .gap-mark[role=button]").count()
    assert brackets > 4
    label = page.locator("#sheet .gap-mark[role=button]").first.get_attribute("aria-label") or ""
    assert label.startswith("Gap 1, bar")
    open_gap(page, 2)
    before = page.locator(".card .said").all_text_contents()
    setting(page, "level", "beginner")
    expect(page.locator("#settings-say")).to_contain_text("beginner")
    expect(page.locator("#bench[aria-busy=false]")).to_be_visible()
    expect(page.locator(".card .said").first).not_to_have_text(before[0])
    setting(page, "key", "G minor")
    to_view(page, "sheet")
    expect(page.locator(".chord-symbol").first).to_have_attribute(
        "aria-label", re.compile("^Chord Gm7, bar 1"))
    setting(page, "tempo", "90")
    expect(page.locator("#sheet")).to_contain_text("= 90")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("input[name=tempo]")).to_have_value("132")


def test_a_chord_is_corrected_in_place(page: Page, server: Server) -> None:
    open_tune(page, server)
    setting(page, "key", "D minor")  # the sheet is in C minor
    expect(page.locator(".chord-symbol").first).to_have_attribute("data-text", "Dm7")
    page.locator(".chord-symbol").first.click()
    field = page.locator(".chord-form input[name=text]")
    field.fill("Dmxj7")
    expect(page.locator(".chord-says")).to_contain_text("“xj7” cannot be read here")
    page.keyboard.press("Enter")
    expect(page.locator(".chord-says pre")).to_have_text("Dmxj7\n  ^")
    assert page.locator(".gap-mark").count()
    field.fill("D-Δ7")
    expect(page.locator(".chord-says")).to_contain_text("D F A C♯")
    page.keyboard.press("Enter")
    expect(page.locator(".chord-form")).to_have_count(0)
    expect(page.locator(".chord-symbol").first).to_have_attribute("data-text", "D-Δ7")
    setting(page, "key", "")
    expect(page.locator(".chord-symbol").first).to_have_attribute("data-text", "C-Δ7")
    count = page.locator(".chord-symbol").count()
    page.locator(".chord-symbol").first.click()
    page.get_by_text("At another place").click()
    page.locator(".chord-form select[name=onset]").select_option("3/2")
    page.locator(".chord-form input[name=text]").fill("F7")
    page.get_by_role("button", name="Write it").click()
    expect(page.locator(".chord-symbol")).to_have_count(count + 1)
    expect(page.locator('.chord-symbol[data-text="F7"][data-onset="3/2"]').first).to_be_focused()
    page.locator('.chord-symbol[data-text="F7"]').first.click()
    page.get_by_text("At another place").click()
    page.locator(".chord-form select[name=onset]").select_option("5/2")
    page.get_by_role("button", name="Move it there").click()
    expect(page.locator('.chord-symbol[data-text="F7"][data-onset="5/2"]').first).to_be_focused()
    expect(page.locator(".chord-symbol")).to_have_count(count + 1)
    page.locator(".chord-symbol").nth(1).click()
    page.get_by_role("button", name="Take it away").click()
    expect(page.locator(".chord-symbol")).to_have_count(count)


# --- 3. a gap ---------------------------------------------------------------------------------


def test_options_stand_side_by_side_with_hands_and_reasons(page: Page, server: Server) -> None:
    page.set_viewport_size({"width": 1280, "height": 900})
    open_tune(page, server, "lamp")
    open_gap(page, 3)
    drawn(page)
    one_of_each = page.locator("#ideas .card")
    expect(one_of_each).to_have_count(3)
    bar = page.locator("#transport").bounding_box()
    assert bar
    for card in one_of_each.all():  # one screen: every Choose is in sight without a scroll
        box = card.locator(".choose").bounding_box()
        assert box and box["y"] >= 0 and box["y"] + box["height"] <= bar["y"] <= 900
    for family in ("comp", "reharm", "line"):
        ideas_of(page, family)
        cards = page.locator(f"#ideas .card.{family}")
        expect(cards).to_have_count(3)
        card = cards.first
        assert card.locator(".said").text_content()
        expect(card.locator(".staff svg.score")).to_be_visible()
        card.get_by_role("button", name="Hands").click()
        expect(card.locator(".pictures svg.keys").first).to_be_visible()
        assert card.locator(".pictures .finger").count() >= 3
        assert card.locator(".meta").text_content()
        card.get_by_role("button", name="Why it works").click()
        expect(card.locator(".reasons li").first).to_be_visible()
        expect(card.locator(".why-body")).to_contain_text("for an intermediate player at most 64")


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
    expect(page.locator("html[data-piano=ready]")).to_have_count(1, timeout=120_000)
    page.locator("#transport").get_by_label("over and over").check()
    page.select_option("select[aria-label=Speed]", "0.5")
    card = page.locator("#ideas .card.comp")
    card.get_by_role("button", name="Hands").click()
    card.get_by_role("button", name="Hear").click()
    expect(card.locator(".staff .on").first).to_be_attached()
    expect(card.locator(".pictures .on").first).to_be_attached()
    assert 0.02 < page.evaluate(PEAK) < 1.0  # it sounds, and is not cut off
    card.get_by_role("button", name="Stop").click()
    expect(card.locator(".on")).to_have_count(0)
    page.get_by_role("button", name="Play the phrase").click()
    expect(page.locator(".phrase .on").first).to_be_attached()
    page.keyboard.press("Escape")
    expect(page.locator(".phrase .on")).to_have_count(0)


def test_hear_and_choose_by_one_key_each(page: Page, server: Server) -> None:
    """Every gap: one key to hear, one to choose, and the next undecided gap is there."""
    page.set_viewport_size({"width": 1280, "height": 900})
    open_tune(page, server)
    page.locator("#go-on").click()
    gaps = page.locator("#sheet .gap-mark[role=button]").count()
    for number in range(1, gaps + 1):
        expect(page.locator("#bench h2")).to_contain_text(f"Gap {number} of {gaps}")
        expect(page.locator("#bench[aria-busy=false] .card").first).to_be_visible()
        drawn(page)
        bar = page.locator("#transport").bounding_box()
        for button in page.locator("#ideas .choose").all():  # nothing has to be scrolled
            box = button.bounding_box()
            assert bar and box and box["y"] + box["height"] <= bar["y"], number
        page.keyboard.press("2" if page.locator("#ideas .card").count() > 1 else "1")
        expect(page.locator(".card.playing")).to_have_count(1)
        page.keyboard.press("c")
        expect(page.locator(".decided")).to_contain_text(f"{number} of {gaps} decided")
        assert page.evaluate("scrollY") == 0
    page.get_by_role("button", name="All gaps are decided: to the chorus").click()
    expect(page.locator("#view-chorus .pages svg.score").first).to_be_visible(timeout=120_000)
    assert page.locator(".fill-list strong").count() == gaps


def test_the_focus_stays_while_other_ideas_come(page: Page, server: Server) -> None:
    open_tune(page, server, "lamp")

    def on_the_way(route: Route) -> None:
        page.locator("#ideas .card .choose").first.focus()
        route.continue_()

    page.route(re.compile(r"/gaps/3[?]line="), on_the_way)
    open_gap(page, 3)
    expect(page.locator("#ideas .card.line")).to_be_visible()
    expect(page.locator("#ideas .card .choose").first).to_be_focused()


def test_gap_kind_and_idea_are_addresses(page: Page, server: Server) -> None:
    key = open_tune(page, server)
    open_gap(page, 2)
    ideas_of(page, "line")
    page.keyboard.press("2")
    expect(page.locator(".card.held")).to_have_count(1)
    held = page.locator(".card.held").get_attribute("data-fill")
    page.reload()
    expect(page.locator("#bench[aria-busy=false] .card.held")).to_have_attribute(
        "data-fill", held or "")
    expect(page.locator("#kind-line")).to_have_attribute("aria-selected", "true")
    page.get_by_role("button", name="Next gap").click()
    expect(page.locator("#bench h2")).to_contain_text("Gap 3")
    page.go_back()
    expect(page.locator("#bench h2")).to_contain_text("Gap 2")
    page.goto(f"{server.address}/tunes/{key}?gap=4")
    expect(page.locator("#bench h2")).to_contain_text("Gap 4")


def test_choose_others_switch_off_and_leave_open(page: Page, server: Server) -> None:
    open_tune(page, server)
    open_gap(page, 2)
    ideas_of(page, "comp")
    first = page.locator("#ideas .card").first
    device = first.locator("h3 [lang=en]").text_content() or ""
    first.get_by_role("button", name="Why it works").click()
    first.get_by_role("button", name="Never offer this idea").click()
    expect(page.locator("#without")).to_contain_text(device)
    expect(page.locator("#bench[aria-busy=false] .card.comp h3 [lang=en]").first
           ).not_to_have_text(device)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#without")).to_be_hidden()
    expect(page.locator("#bench[aria-busy=false] .card.comp h3 [lang=en]").first
           ).to_have_text(device)
    best = first.get_attribute("data-fill") or ""
    page.get_by_role("button", name="More ideas").click()
    expect(page.locator("#bench[aria-busy=false] #ideas .card.comp").first
           ).not_to_have_attribute("data-fill", best)
    page.get_by_role("button", name="Ideas before").click()
    expect(first).to_have_attribute("data-fill", best)
    open_gap(page, 2)
    card = page.locator("#ideas .card.line")
    card.get_by_role("button", name="Choose").click()
    expect(page.locator("#bench h2")).to_contain_text("Gap 3")  # the next that is undecided
    expect(page.locator(".decided")).to_contain_text("1 of")
    page.get_by_role("button", name="Back to gap 2").click()
    expect(page.locator(".card.chosen .choose")).to_have_text("✓ Chosen")
    to_view(page, "sheet")
    expect(page.locator('#sheet .gap-mark[data-gap="2"] .gap-word').first).to_have_text("✓ line")
    open_gap(page, 2)
    page.get_by_role("button", name="No fill here").click()
    page.get_by_role("button", name="Back to gap 2").click()
    expect(page.locator(".decide .open")).to_have_text("✓ No fill here")
    page.get_by_role("button", name="Decide later").click()
    expect(page.locator(".decided")).to_contain_text("0 of")
    to_view(page, "sheet")
    expect(page.locator('#sheet .gap-mark[data-gap="2"] .gap-word')).to_have_count(0)


def test_change_a_note_and_see_what_the_rules_say(page: Page, server: Server) -> None:
    open_tune(page, server)
    open_gap(page, 2)
    card = page.locator("#ideas .card.comp")
    fill = card.get_attribute("data-fill")
    drawn(page)
    before_it = card.locator(".staff svg").first.bounding_box()
    card.get_by_role("button", name="Change notes").click()
    expect(card.locator(".says .fine")).to_be_visible()
    larger = card.locator(".staff svg").first.bounding_box()
    assert before_it and larger and larger["height"] > 1.4 * before_it["height"]  # to be clicked
    editor, name = card.locator(".editor"), card.locator(".note-name")
    editor.press("ArrowRight")  # from the bass, which may go low, to a chord of the right hand
    before = name.text_content() or ""
    for _ in range(14):  # far away from where the hand is
        editor.press("ArrowDown")
    expect(card.locator(".findings li").first).to_be_visible()
    expect(name).not_to_have_text(before)
    card.get_by_role("button", name="Back to the notes of the idea").click()
    expect(card.locator(".says .fine")).to_be_visible()
    card.get_by_role("button", name="Hands").click()
    keys = card.locator(".pictures .finger").count()
    editor.press("Delete")
    expect(card.locator(".pictures .finger")).to_have_count(keys - 1)
    page.reload()  # what is not chosen yet is not lost
    card = page.locator(f'#bench[aria-busy=false] .card[data-fill="{fill}"]')
    card.get_by_role("button", name="Hands").click()
    expect(card.locator(".pictures .finger")).to_have_count(keys - 1)
    card.get_by_role("button", name="Choose").click()
    expect(page.locator(".decided")).to_contain_text("1 of")
    page.reload()
    open_gap(page, 2)
    expect(page.locator(".card.chosen")).to_have_count(1)
    page.locator(".card.chosen").get_by_role("button", name="Hands").click()
    expect(page.locator(".card.chosen .pictures .finger")).to_have_count(keys - 1)


def test_a_changed_note_goes_back_and_undo_takes_a_choice_back(page: Page, server: Server
                                                               ) -> None:
    open_tune(page, server, "lamp")
    open_gap(page, 3)
    card = page.locator("#ideas .card.comp")
    card.get_by_role("button", name="Change notes").click()
    expect(card.locator(".says .fine")).to_be_visible()
    editor, name = card.locator(".editor"), card.locator(".note-name")
    for _ in range(3):
        before = name.text_content() or ""
        editor.press("ArrowUp")
        expect(name).not_to_have_text(before)
        editor.press("ArrowDown")
        expect(name).to_have_text(before)
        expect(card.locator(".says .fine")).to_be_visible()
        editor.press("ArrowRight")
    card.get_by_role("button", name="Choose").click()
    expect(page.locator(".decided")).to_contain_text("1 of")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".decided")).to_contain_text("0 of")
    page.get_by_role("button", name="Redo").click()
    expect(page.locator(".decided")).to_contain_text("1 of")


# --- 4. the chorus ----------------------------------------------------------------------------


def test_what_stops_says_so_while_the_piano_is_on_its_way(page: Page, server: Server) -> None:
    open_tune(page, server)
    open_gap(page, 2)
    expect(page.locator("#bench .card .meta").first).to_contain_text("for an intermediate")
    page.route("**/api/piano/*", lambda route: None)  # it never comes
    page.evaluate("import('/static/player.js').then(({ player }) => { player.change(); })")
    page.get_by_role("button", name="Play the phrase").click()
    expect(page.locator("#transport .play")).to_have_text("Stop")
    page.locator("#transport .play").click()
    expect(page.locator("#transport .play")).to_contain_text("Play the phrase")


def test_the_chorus_plays_loops_and_is_taken_away(page: Page, server: Server) -> None:
    page.add_init_script(LISTEN)
    open_tune(page, server)
    gaps = page.locator("#sheet .gap-mark[role=button]").count()
    to_view(page, "chorus")
    expect(page.locator("#view-chorus .pages svg.score").first).to_be_visible(timeout=120_000)
    expect(page.locator("html[data-piano=ready]")).to_have_count(1, timeout=120_000)
    assert page.locator(".fill-list li").count() == gaps
    page.get_by_text("Parts, bars").click()
    page.get_by_label("From bar").fill("3")
    page.get_by_label("To bar").fill("4")
    page.keyboard.press("Escape")
    page.locator("#transport").get_by_label("over and over").check()
    page.get_by_role("button", name="Play the chorus").click()
    expect(page.locator("#view-chorus .on").first).to_be_attached()
    expect(page.locator("#transport .place")).to_have_text(re.compile("bar [34]"))
    assert 0.02 < page.evaluate(PEAK) < 1.0
    page.select_option("select[aria-label=Speed]", "0.6")
    page.locator("#transport").get_by_role("button", name="Stop").click()
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
    ideas_of(page, "line")
    card = page.locator("#ideas .card").nth(1)
    device = card.locator("h3 [lang=en]").text_content() or ""
    card.get_by_role("button", name="Choose").click()
    expect(page.locator(".decided")).to_contain_text("1 of")
    to_view(page, "chorus")
    first = page.locator(".fill-list li").first
    expect(first).to_contain_text(device, timeout=120_000)
    expect(first).to_contain_text("(your choice)")
    page.keyboard.press("Control+z")
    expect(first).not_to_contain_text("your choice", timeout=120_000)
    page.get_by_role("button", name="Redo").click()
    expect(first).to_contain_text("your choice", timeout=120_000)


def test_a_decision_moves_nothing_but_its_gap(page: Page, server: Server) -> None:
    open_tune(page, server, "lamp")
    to_view(page, "chorus")
    expect(page.locator(".fill-list li").first).to_be_visible(timeout=120_000)
    rows = """() => [...document.querySelectorAll(".fill-list li")].map(
        (row) => row.querySelector("[lang=en]")?.textContent ?? "open")"""
    before = page.evaluate(rows)
    open_gap(page, 3)
    page.locator("#ideas .card.reharm").get_by_role("button", name="Choose").click()
    expect(page.locator(".decided")).to_contain_text("1 of")
    to_view(page, "chorus")
    expect(page.locator(".fill-list li").nth(2)).to_contain_text("(your choice)",
                                                                 timeout=120_000)
    after = page.evaluate(rows)
    assert [row for number, row in enumerate(after, 1) if number != 3] == [
        row for number, row in enumerate(before, 1) if number != 3]


# --- 5. hand-outs -----------------------------------------------------------------------------


def test_hand_outs_blank_and_filled(page: Page, server: Server) -> None:
    open_tune(page, server)
    page.get_by_role("tab", name="Hand-outs").click()
    expect(page.locator(".handout svg.score").first).to_be_visible(timeout=120_000)
    assert page.locator(".handout .gap-bracket").count() > 4
    with page.expect_download() as waiting:
        page.locator("#view-hand").get_by_role("button", name="PDF").click()
    assert waiting.value.suggested_filename == "wrong-umbrella-blank.pdf"
    foot = page.locator(".handout .page-foot").first
    page.emulate_media(media="print")                   # what is said there is printed, as large
    expect(foot).to_be_visible()
    assert foot.evaluate("(text) => getComputedStyle(text).fontSize") == "25px"
    page.emulate_media(media="screen")
    page.locator("select[name=paper]").select_option("Letter")
    expect(page.locator(".handout svg[viewBox='0 0 2159 2794']").first).to_be_visible()
    page.reload()                                       # it is kept
    expect(page.locator(".handout svg[viewBox='0 0 2159 2794']").first).to_be_visible()
    page.get_by_role("button", name="Filled").click()
    expect(page.locator(".hand-row .hands").first).to_be_visible(timeout=120_000)


# --- the pictures of the README ---------------------------------------------------------------


@pytest.mark.parametrize(("name", "width", "height", "scheme"), [
    ("desktop-light", 1360, 1000, "light"), ("desktop-dark-chorus", 1360, 1000, "dark"),
    ("tablet-light", 820, 1180, "light"), ("tablet-dark", 820, 1180, "dark")])
def test_screenshots(page: Page, server: Server, name: str, width: int, height: int,
                     scheme: str, tmp_path: Path) -> None:
    """With FILLWRIGHT_PICTURES set they are written to docs/img, for the README."""
    page.set_viewport_size({"width": width, "height": height})
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    open_tune(page, server, "lamp")
    if name.endswith("chorus"):
        page.get_by_role("tab", name="Chorus").click()
        expect(page.locator("#view-chorus .pages svg.score").first).to_be_visible(timeout=120_000)
    else:
        open_gap(page, 3)
        drawn(page)
    folder = IMAGES if os.environ.get("FILLWRIGHT_PICTURES") else tmp_path
    folder.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=folder / f"{name}.png")
    if folder == IMAGES:  # so many colours are enough, and keep the file small
        Image.open(folder / f"{name}.png").quantize(96).save(folder / f"{name}.png", optimize=True)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
