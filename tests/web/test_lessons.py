"""The room of lessons: ladders, packs, students and the drill, as a teacher uses them."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import httpx
import pypdfium2  # type: ignore[import-untyped]
import pytest
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]
from playwright.sync_api import Browser, Page, expect
from tests.web.page_server import Server, running, watched
from tests.web.test_takes import PORT

pytestmark = pytest.mark.slow

BARS = '"Dm7"d c B A|"G7"G4|"Cmaj7"E4|"Cmaj7"c B A G|"Dm7"F4|"G7"d c B A|"C6"c4'
SHORT = f"X:1\nT:Small hours\nM:4/4\nL:1/4\nQ:1/4=132\nK:C\n{BARS}|]\n"


@pytest.fixture(scope="module")
def client(server: Server) -> Iterator[httpx.Client]:
    with server.client() as client:
        yield client


@pytest.fixture(scope="module")
def key(client: httpx.Client) -> str:
    key = str(client.post("/api/tunes", json={"text": SHORT}).json()["id"])
    assert client.put(f"/api/tunes/{key}", json={
        "version": 1, "change": {"settings": {"level": "advanced"}}}).status_code == 200
    return key


def done(client: httpx.Client, path: str, body: dict[str, Any]) -> dict[str, Any]:
    answer = client.post(path, json=body)
    assert answer.status_code == 202, answer.text
    value = dict(answer.json())
    while value["state"] == "running":
        value = dict(client.get(f"/api/jobs/{value['id']}?wait=1").json())
    assert value["state"] == "done", value
    return value


def refused(answer: httpx.Response) -> str:
    assert answer.status_code == 422, answer.text
    return str(answer.json()["error"])


# --- what the server answers ------------------------------------------------------------------


def test_a_pack_is_kept_made_and_downloaded(client: httpx.Client, key: str) -> None:
    pack = client.post("/api/packs", json={"title": "Holds"}).json()["id"]
    assert refused(client.post(f"/api/packs/{pack}/make")).startswith("a plan has at least one")
    item = {"tune": key, "gap": 1, "show": "rhythm", "words": "<b>Clap</b> it first.",
            "place": "bar 2", "device": "shells"}
    now = client.post(f"/api/packs/{pack}/items", json={"items": [item]}).json()
    assert [(one["title"], one["show"]) for one in now["items"]] == [("Small hours", "rhythm")]
    assert "nearest is rhythm" in refused(client.post(
        f"/api/packs/{pack}/items", json={"items": [{**item, "show": "rythm"}]}))
    now["items"].append({**item, "gap": 2, "show": "filled"})
    kept = {name: value for name, value in now.items() if name != "id"}
    assert client.put(f"/api/packs/{pack}", json={**kept, "paper": "Letter"}).status_code == 200
    job = done(client, f"/api/packs/{pack}/make", {})
    assert client.get(f"/api/jobs/{job['id']}/result").json() == {"warnings": []}
    files = {name: client.get(f"/api/jobs/{job['id']}/files/{name}") for name in (
        "pack.pdf", "answers.pdf", "student.html")}
    assert all(answer.status_code == 200 and "attachment" in answer.headers[
        "content-disposition"] for answer in files.values())
    document = pypdfium2.PdfDocument(io.BytesIO(files["pack.pdf"].content))
    text = " ".join(page.get_textpage().get_text_range() for page in document)
    document.close()
    assert "<b>Clap</b> it first." in text and "Small hours, bar 2" in text
    assert b"<b>Clap</b>" not in files["student.html"].content
    assert client.get(f"/api/jobs/{job['id']}/files/pack.json.exe").status_code == 404
    assert client.delete(f"/api/packs/{pack}").status_code == 200
    assert refused(client.get(f"/api/packs/{pack}")) == "that pack is no longer there"


def test_a_set_is_proposed_out_of_tunes(client: httpx.Client, key: str) -> None:
    job = done(client, "/api/sets", {"kind": "order", "level": "beginner", "tunes": [key],
                                     "count": 3})
    found = client.get(f"/api/jobs/{job['id']}/result").json()["items"]
    assert 0 < len(found) <= 3 and {one["level"] for one in found} == {"beginner"}
    assert [one["difficulty"] for one in found] == sorted(one["difficulty"] for one in found)
    assert refused(client.post("/api/sets", json={"kind": "order", "tunes": []}))
    assert "no longer on the shelf" in refused(client.post(
        "/api/sets", json={"kind": "order", "tunes": ["gone"]}))


def test_a_drill_has_the_offers_of_the_page(client: httpx.Client, key: str) -> None:
    job = done(client, f"/api/tunes/{key}/jobs", {"kind": "drill"})
    found = client.get(f"/api/jobs/{job['id']}/result").json()
    assert found["play"]["notes"] and len(found["gaps"]) == 4
    for gap in found["gaps"]:
        offers = client.get(f"/api/tunes/{key}/gaps/{gap['number']}").json()["families"]
        assert {one["family"]: one["fill"] for one in gap["works"]} == {
            family: page["fills"][0]["id"] for family, page in offers.items() if page["fills"]}
        assert {one["family"]: one["reason"] for one in gap["empty"]} == {
            family: page["reason"] for family, page in offers.items() if not page["fills"]}
        assert re.match(r"\d beats", gap["kind"])


def test_a_rung_is_heard_chosen_and_printed(client: httpx.Client, key: str) -> None:
    fill = client.get(f"/api/tunes/{key}/gaps/1").json()["families"]["comp"]["fills"][0]["id"]
    ladder = client.get(f"/api/tunes/{key}/gaps/1/ladder?fill={fill}").json()
    hard = [rung["difficulty"] for rung in ladder["rungs"]]
    assert hard == sorted(hard, reverse=True) and ladder["rungs"][0]["fill"]["id"] == fill
    assert {*(rung["level"] for rung in ladder["rungs"]),
            *(one["level"] for one in ladder["missing"])} == {
                "beginner", "intermediate", "advanced"}
    last = ladder["rungs"][-1]["fill"]["id"]
    again = client.get(f"/api/tunes/{key}/gaps/1/ladder?fill={last}").json()
    assert again == ladder
    heard = client.post(f"/api/tunes/{key}/gaps/1/heard", json={"fill": last, "moves": []}).json()
    assert {note["midi"] for note in ladder["rungs"][-1]["fill"]["notes"]} <= {
        note["midi"] for note in heard["alone"]["notes"]}
    study = client.get(f"/api/tunes/{key}/gaps/1/study?fill={fill}")
    assert study.content.startswith(b"%PDF") and "small-hours-gap-1" in study.headers[
        "content-disposition"]
    assert refused(client.get(f"/api/tunes/{key}/gaps/1/ladder?fill=none"))


def test_a_fill_goes_through_the_keys_that_are_named(client: httpx.Client, key: str) -> None:
    gap = f"/api/tunes/{key}/gaps/1/round"
    fill = client.get(f"/api/tunes/{key}/gaps/1").json()["families"]["comp"]["fills"][0]
    found = client.get(gap, params={"fill": fill["id"], "keys": "C Gb"}).json()["keys"]
    assert [one["tonic"] for one in found] == ["C", "G♭"] and found[0] == {
        "tonic": "C", "difficulty": fill["difficulty"], "changed": []}
    paper = client.get(f"{gap}.pdf", params={"fill": fill["id"], "keys": "C Gb"})
    assert paper.content.startswith(b"%PDF") and "small-hours-gap-1-keys.pdf" in paper.headers[
        "content-disposition"]
    assert "name the keys" in refused(client.get(gap, params={"keys": "H"}))
    assert "pdf, mp3" in refused(client.get(f"{gap}.exe", params={"keys": "C"}))


def test_students_are_added_rated_exported_and_deleted(client: httpx.Client, server: Server
                                                       ) -> None:
    name = "Zoë / 7"
    assert client.post("/api/students", json={"name": name, "hand": "small"}).status_code == 201
    assert "already" in refused(client.post("/api/students", json={"name": name}))
    given = client.post("/api/student/items", json={
        "name": name, "device": "shells", "keys": "C F", "tempo": 100}).json()
    assert given["numbers"] == [1, 2]
    asked = {"name": name}
    day = client.get("/api/student/today", params={**asked, "minutes": "20"}).json()["practice"]
    assert [(one["what"], one["tempo"]) for one in day] == [("shells in C", 70),
                                                            ("shells in F", 70)]
    rated = client.post("/api/student/rate", json={**asked, "number": 1, "rating": "good"}).json()
    assert rated["tempo"] == 74 and rated["due"]
    assert "number" in refused(client.delete("/api/student/items", params={**asked,
                                                                           "number": "x"}))
    assert client.delete("/api/student/items", params={**asked, "number": "2"}).json() == {
        "what": "shells in F"}
    changed = client.put("/api/student", params=asked, json={"level": "advanced", "without": []})
    assert changed.json() == {"name": name, "level": "advanced", "hand": "small", "without": [],
                              "notes": ""}
    assert "no level" in refused(client.put("/api/student", params=asked, json={"level": "x"}))
    assert "no rating" in refused(client.post("/api/student/rate", json={
        **asked, "number": 1, "rating": "fine"}))
    answers = [{"kind": "2 beats, major, ballad", "family": "comp", "works": True, "seconds": 2}]
    kinds = client.post("/api/choices", json={**asked, "choices": answers}).json()["kinds"]
    assert kinds == [{"kind": "2 beats, major, ballad", "asked": 1, "worked": 1, "seconds": 2.0}]
    assert refused(client.post("/api/choices", json={"choices": [{**answers[0],
                                                                  "family": "solo"}]}))
    found = client.get("/api/student", params=asked).json()
    row = next(one["row"] for one in found["known"] if one["what"] == "shells")
    assert row[:1] == [100] and set(row[1:]) == {None} and found["kinds"] == kinds
    text = client.get("/api/student/export", params=asked).text
    assert json.loads(text)["reviews"][0]["rating"] == "good"
    assert client.delete("/api/student", params=asked).status_code == 200
    assert "no student" in refused(client.get("/api/student", params=asked))
    assert "Zoë / 7".encode() not in (server.data / "students.sqlite3").read_bytes()


# --- in the browser ---------------------------------------------------------------------------


def fits(page: Page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_from_a_gap_by_its_ladder_into_a_pack(browser: Browser, server: Server, key: str) -> None:
    with watched(browser, size=(390, 844)) as page:
        page.goto(f"{server.address}/tunes/{key}?gap=1&kind=comp")
        page.locator(".card .steps:visible").first.click()
        expect(page.locator(".rung").nth(1)).to_be_attached()
        expect(page.locator("#bench[aria-busy=false]")).to_be_attached()
        assert "ladder=1" in page.url
        page.keyboard.press("2")
        expect(page.locator(".rung .card.playing")).to_have_count(1)
        page.keyboard.press("2")
        expect(page.locator(".rung-head").nth(1)).to_contain_text("a minute")
        fits(page)
        page.locator(".rung .choose").nth(1).click()
        expect(page.locator("#bench h2")).to_contain_text("Gap 2")
        page.go_back()
        page.goto(f"{server.address}/tunes/{key}?gap=1&kind=comp")
        expect(page.locator(".steps.chosen")).to_have_text("✓ Easier")
        page.locator(".hand-out").click()
        page.locator("#into input[name=keys]").fill("C Ab E")
        page.get_by_role("button", name="Through these keys").click()
        expect(page.locator("#into .round li strong")).to_have_text(["C", "A♭", "E"])
        fits(page)
        with page.expect_download() as download:
            page.get_by_role("link", name="To hear").click()
        assert download.value.suggested_filename == "small-hours-gap-1-keys.mp3"
        page.locator("#into select[name=show]").select_option("chords")
        page.locator("#into textarea").fill("Slowly.")
        page.locator("#into button[type=submit]").first.click()
        page.get_by_role("button", name="Open the pack").click()
        item = page.locator(".pack-item")
        expect(item).to_have_count(1)
        expect(item.locator("select[name=show]")).to_have_value("chords")
        expect(item.locator("textarea")).to_have_value("Slowly.")
        fits(page)


@pytest.mark.parametrize("width", [390, 1280])
def test_where_nothing_is_yet_the_first_step_leads_to_a_pack(
        browser: Browser, tmp_path: Path, width: int) -> None:
    with running(tmp_path) as address, watched(browser, size=(width, 900)) as page:
        for view in ("packs", "students", "drill"):
            page.goto(f"{address}/lessons?view={view}")
            expect(page.locator(".outcomes li")).to_have_count(3)
            fits(page)
        page.get_by_role("link", name="Put a tune on the shelf").click()
        page.wait_for_load_state("load")
        page.locator("button.demo").first.click()
        expect(page).to_have_url(re.compile("/tunes/"))
        page.goto(f"{address}/lessons")
        fits(page)
        page.get_by_role("button", name="Propose a first pack").click()
        expect(page.locator(".pack-item")).to_have_count(6)
        expect(page.locator(".pack-item .what").first).to_contain_text(", beat ")
        fits(page)
        page.get_by_label("Hand pictures").uncheck()
        page.get_by_label("Why it works").uncheck()
        page.get_by_role("button", name="Make the pack").click()
        with page.expect_download() as download:
            page.get_by_role("link", name="For the student's browser").click()
        text = download.value.path().read_text(encoding="utf-8")
        assert text.count("<figure") == 0 and "The hits on" not in text and "Count:" in text
        page.goto(f"{address}/lessons")
        expect(page.locator(".outcomes")).to_have_count(0)


def test_a_pack_is_put_in_order_on_the_page(page: Page, server: Server, client: httpx.Client,
                                            key: str) -> None:
    pack = client.post("/api/packs", json={"title": "Order"}).json()["id"]
    client.post(f"/api/packs/{pack}/items", json={"items": [
        {"tune": key, "gap": gap, "place": "", "device": f"device {gap}"} for gap in (1, 2, 3)]})
    page.goto(f"{server.address}/lessons?pack={pack}")
    page.locator(".pack-item").nth(2).get_by_role("button", name="further up").click()
    devices = page.locator(".pack-item .device")
    expect(devices).to_have_text(["device 1", "device 3", "device 2"])
    page.locator(".pack-item").first.get_by_role("button", name="Take out").click()
    page.get_by_label("Title", exact=True).fill("In order")
    page.get_by_role("button", name="‹ All packs").click()
    expect(page.get_by_role("button", name="In order")).to_be_visible()
    kept = client.get(f"/api/packs/{pack}").json()
    assert [item["gap"] for item in kept["items"]] == [3, 2] and kept["title"] == "In order"


def test_a_student_practises_on_the_page(browser: Browser, server: Server) -> None:
    with watched(browser, size=(820, 1100)) as page:
        page.goto(f"{server.address}/lessons?view=students")
        page.get_by_label("Name").fill("Robin")
        page.get_by_role("combobox", name="Never offer this idea").select_option("shells")
        page.get_by_role("textbox", name="Notes").fill("Left hand first.")
        page.get_by_role("button", name="Add", exact=True).click()
        expect(page.locator(".student-head h2")).to_have_text("Robin")
        page.get_by_role("combobox", name="Idea", exact=True).select_option("shells")
        page.get_by_role("button", name="Give it", exact=True).click()
        expect(page.locator(".practice li")).to_have_count(3)
        expect(page.locator(".known td .pie.fresh")).to_have_count(3)
        page.locator(".practice li").first.get_by_role("button", name="Good").click()
        expect(page.locator(".known td .pie.sure")).to_have_count(1)
        expect(page.locator(".practice li")).to_have_count(2)
        fits(page)
        page.locator(".student-head summary").click()
        page.locator(".student-head select[name=level]").select_option("advanced")
        fits(page)
        page.get_by_role("button", name="Keep it so").click()
        expect(page.locator(".student-head p").first).to_have_text(
            "advanced, medium hand, without shells")
        expect(page.locator(".student-head .notes")).to_have_text("Left hand first.")
        page.locator(".progress-picture summary").click()
        page.get_by_role("button", name="shells in F: Take back").click()
        page.get_by_role("button", name="Take shells in F back").click()
        expect(page.locator(".practice li")).to_have_count(1)
        page.get_by_label("Minutes at most").fill("4")
        page.keyboard.press("Enter")
        expect(page.locator(".today")).to_contain_text("Enough for today")
        expect(page.locator(".today")).to_contain_text("4 minutes are done today")
        page.get_by_role("button", name="Delete completely").click()
        page.get_by_role("button", name="Delete Robin and everything").click()
        expect(page.locator(".student-form")).to_be_visible()
        expect(page.get_by_role("button", name="Robin")).to_have_count(0)


def test_the_drill_asks_and_says_what_would_have_worked(page: Page, server: Server, key: str
                                                        ) -> None:
    page.goto(f"{server.address}/lessons?view=drill&tune={key}")
    page.get_by_role("button", name="Begin").click()
    answer = page.locator(".answer.comp")
    expect(answer).to_be_enabled()
    expect(page.locator(".stage .phrase svg.score")).to_be_visible()
    expect(page.locator(".count")).to_have_text(re.compile(r"^\d$"))
    page.keyboard.press("1")
    expect(page.locator(".verdict p")).to_have_count(3)
    expect(page.locator(".verdict p").first).to_contain_text("comp (your answer)")
    further = page.locator(".further")
    expect(further).to_be_focused()
    fits(page)
    page.keyboard.press("Enter")
    expect(answer).to_be_enabled()
    page.locator(".answer.line").click()
    page.keyboard.press("Escape")
    expect(page.locator(".ask")).to_contain_text("of 2 answers would have worked")
    expect(page.locator(".slow-table tbody tr").first).to_contain_text("beats")


# The notes of a fill, once the gap is open: [quarters from the beginning, quarters, key]. A loaded
# computer may show late that it is; what is played lies where the tune has got to.
PLAY = """async ({ notes, quarterMs }) => {
    const { player } = await import("/static/player.js");
    const open = document.querySelector(".count");
    while (!open.classList.contains("open")) await new Promise(requestAnimationFrame);
    const zero = performance.now() - 2000 * player.placeAt(performance.now());
    for (const [at, length, midi] of notes) {
        port.play(zero + at * quarterMs, [0x90, midi, 80]);
        port.play(zero + (at + length) * quarterMs, [0x80, midi, 0]);
    }
}"""


def test_the_drill_is_answered_by_playing(browser: Browser, server: Server,
                                          client: httpx.Client, key: str) -> None:
    """A piano that is scripted plays offers of the gaps; nothing played is no answer."""
    offers = {(gap, family): client.get(f"/api/tunes/{key}/gaps/{gap}").json()["families"][family]
              ["fills"][0] for gap, family in ((1, "line"), (2, "comp"))}
    with watched(browser, size=(1280, 900)) as page:
        page.add_init_script(PORT)
        page.goto(f"{server.address}/lessons?view=drill&tune={key}")
        page.get_by_role("button", name="Connect a digital piano").click()
        expect(page.get_by_text("The piano is heard")).to_be_visible()
        page.locator("select[name=speed]").select_option("0.5")
        page.get_by_role("button", name="Begin").click()
        for gap, family in offers:
            expect(page.locator(".ask")).to_contain_text(f"Gap {gap}:", timeout=60_000)
            fill = offers[gap, family]
            page.evaluate(PLAY, {"quarterMs": 60_000 / 66, "notes": [
                [float(Fraction(note[name])) for name in ("onset_quarter", "duration_quarter")]
                + [note["midi"]]
                for note in fill["notes"]]})
            expect(page.locator(".verdict .heard")).to_have_text(
                f"Gap {gap}: heard as {family}, nearest to “{fill['device']}”.")
            expect(page.locator(".verdict p").nth(1)).to_contain_text(f"{family} (your answer)")
            fits(page)
            page.keyboard.press("Enter")
        expect(page.locator(".ask")).to_contain_text("Gap 3:", timeout=60_000)
        expect(page.locator(".further")).to_be_visible(timeout=60_000)
        expect(page.locator(".answered li")).to_have_text([
            re.compile("line, .* works"), re.compile("comp, .* works"), "Gap 3: no answer"])
        page.keyboard.press("Escape")
        expect(page.locator(".ask")).to_contain_text("2 of 2 answers would have worked")
    bad = client.post(f"/api/tunes/{key}/gaps/1/played", json={"strokes": [[0, 1, 200, 80]]})
    assert "no key of a piano" in refused(bad)
