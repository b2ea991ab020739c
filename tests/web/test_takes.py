"""Takes on the page: brought, heard, kept in the arrangement, deleted."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, Page, expect
from tests.take.perturb import midi_of
from tests.web.page_server import Server, watched
from tests.web.test_access import audit, tab_to
from tests.web.test_browser import ABC

from fillwright.cli import main
from fillwright.take import Stroke, Take, take_from_bytes

pytestmark = pytest.mark.slow

# The melody of `ABC`: quarters from the beginning, key, quarters it is held. In bar 4 a note is
# missing and one is wrong; bar 3 comes late.
MELODY = [(0, 74, 1), (1, 72, 1), (2, 70, 1), (3, 69, 1), (4, 67, 4), (8.24, 69, 4), (15, 73, 1),
          (16, 70, 4), (20, 72, 4), (24, 65, 4)]
COMP = [(5.5, key, 1) for key in (52, 58, 62)] + [(6.5, key, 1) for key in (52, 58, 62)]


def played() -> bytes:
    """At 120 quarters a minute."""
    keys = sorted((onset / 2, (onset + length) / 2, key, 84 if key > 62 else 60)
                  for onset, key, length in [*MELODY, *COMP])
    return midi_of(Take("a.mid", tuple(
        Stroke(event, onset, release, release, key, loud)
        for event, (onset, release, key, loud) in enumerate(keys))))


@dataclass(frozen=True)
class Brought:
    """A tune with a take that has been heard."""

    tune: str
    take: str
    report: dict[str, object]


@pytest.fixture(scope="module")
def client(server: Server) -> Iterator[httpx.Client]:
    with server.client() as client:
        yield client


def bring(client: httpx.Client, tune: str, data: bytes, name: str = "lesson.mid"
          ) -> httpx.Response:
    return client.post(f"/api/tunes/{tune}/takes", files={"file": (name, data)})


def job(client: httpx.Client, address: str, kind: str) -> httpx.Response:
    value = client.post(f"{address}/jobs", json={"kind": kind}).json()
    while value["state"] == "running":
        value = client.get(f"/api/jobs/{value['id']}?wait=1").json()
    return client.get(f"/api/jobs/{value['id']}/result")


@pytest.fixture(scope="module")
def brought(client: httpx.Client) -> Brought:
    tune = client.post("/api/tunes", json={"text": ABC}).json()["id"]
    take = bring(client, tune, played()).json()["id"]
    answer = job(client, f"/api/tunes/{tune}/takes/{take}", "report")
    assert answer.status_code == 200, answer.text
    return Brought(tune, take, answer.json())


def test_a_take_is_kept_and_heard(client: httpx.Client, brought: Brought) -> None:
    takes = f"/api/tunes/{brought.tune}/takes"
    kept = client.get(takes).json()["takes"]
    assert [(take["id"], take["name"]) for take in kept] == [(brought.take, "lesson.mid")]
    assert client.get(f"{takes}/{brought.take}").content == played()
    report: dict[str, list[dict[str, object]]] = brought.report  # type: ignore[assignment]
    status = [note["status"] for note in report["melody"]]
    assert (status.count("played"), status.count("wrong"), status.count("missed")) == (9, 1, 1)
    drawn = "".join(map(str, report["pages"]))
    assert [drawn.count(f'class="heard {kind}"') for kind in ("played", "wrong", "missed")] == [
        9, 1, 1]
    well, work, _ = (str(sentence) for sentence in report["summary"])
    assert "answered" not in well and "2 of 3 gaps stayed empty: in bar 5 try " in work
    assert "in bar 3 (about a quarter of a beat late)" in work
    assert [finding["rule"] for finding in report["gaps"][1]["findings"]] == [  # type: ignore[attr-defined]
        "landing"]
    first = report["gaps"][0]
    assert first["answer"] == "comp" and 0.1 < float(str(first["back_late_sec"])) < 0.14


def test_a_report_is_printed(client: httpx.Client, brought: Brought, tmp_path: Path) -> None:
    printed = job(client, f"/api/tunes/{brought.tune}/takes/{brought.take}", "pdf")
    assert printed.content.startswith(b"%PDF") and printed.headers["content-type"] == (
        "application/pdf")
    (tmp_path / "tune.abc").write_text(ABC)
    (tmp_path / "a.mid").write_bytes(played())
    for words in (["arrange", str(tmp_path / "tune.abc"), "-o", str(tmp_path / "out")],
                  ["take", str(tmp_path / "tune.abc"), str(tmp_path / "a.mid"), "--arrangement",
                   str(tmp_path / "out" / "arrangement.json"), "-o", str(tmp_path / "out")]):
        with pytest.raises(SystemExit) as done:
            main(words)
        assert not done.value.code
    assert (tmp_path / "out" / "report.pdf").read_bytes().startswith(b"%PDF")
    report = json.loads((tmp_path / "out" / "report.json").read_text(encoding="utf-8"))
    assert report["summary"] == brought.report["summary"]


def test_a_take_rates_what_is_practised(client: httpx.Client, page: Page, server: Server,
                                        brought: Brought) -> None:
    """Of those who practise a gap of this tune, or a device that is heard in it, the one is chosen
    whose take it is; what the take says is proposed, and one button takes it over, at the tempo it
    was played at. A device in another key is not heard."""
    ratings: dict[str, Any] = brought.report["ratings"]  # type: ignore[assignment]
    first = ratings["gaps"]["1"]
    assert (first["rating"], first["tempo"]) == ("hard", 120)
    assert str(first["why"]).startswith(
        "The landing came about a quarter of a beat late.")
    device, heard = next(iter(ratings["devices"].items()))
    assert heard["why"].startswith("Bar ") and ratings["tonic"] == 5
    title = client.get(f"/api/tunes/{brought.tune}").json()["title"]
    for name, tune in (("Kim", title), ("Lee", "Another tune")):
        assert client.post("/api/students", json={"name": name}).status_code == 201
        assert client.post("/api/student/items", json={
            "name": name, "tune": tune, "gap": 1, "tempo": 120}).status_code == 201
    assert client.post("/api/students", json={"name": "Mo"}).status_code == 201
    assert client.post("/api/student/items", json={
        "name": "Mo", "device": device, "keys": "F, G", "tempo": 120}).status_code == 201
    open_take(page, server, brought)
    section = page.locator(".take-practice")
    expect(section.locator("option")).to_have_text(["nobody in particular", "Kim", "Mo"])
    expect(section.locator("li")).to_have_count(0)
    section.locator("select").select_option("Mo")
    expect(section.locator("li .what strong")).to_have_text([f"{device} in F"])
    section.locator("select").select_option("Kim")
    expect(section.locator(".ratings .strong")).to_have_text("Hard")
    assert audit(page, leave_out=".score") == []
    section.get_by_role("button", name="Hard").click()
    expect(section.get_by_role("status")).to_contain_text("again on")
    expect(section.locator(".ratings")).to_have_count(0)
    review = client.get("/api/student/export", params={"name": "Kim"}).json()["reviews"]
    assert [(one["rating"], one["tempo"]) for one in review] == [("hard", 120)]
    open_take(page, server, brought)
    section.locator("select").select_option("Kim")
    expect(section).to_contain_text("Rated since this take was made")
    for name in ("Kim", "Lee", "Mo"):
        assert client.delete("/api/student", params={"name": name}).status_code == 200


def test_what_is_no_take_is_not_kept(client: httpx.Client, brought: Brought) -> None:
    for data, why in ((b"nonsense", "not a Standard MIDI File"), (b"", "empty")):
        answer = bring(client, brought.tune, data, "no.mid")
        assert answer.status_code == 422 and answer.json()["error"].startswith("no.mid: "), why
    assert len(client.get(f"/api/tunes/{brought.tune}/takes").json()["takes"]) == 1
    for address in ("ffffffffffffffff", "..%2F..%2Ffillwright"):
        assert client.get(f"/api/tunes/{brought.tune}/takes/{address}").status_code == 404


def test_what_is_deleted_is_gone(client: httpx.Client, server: Server) -> None:
    tune = client.post("/api/tunes", json={"text": ABC}).json()["id"]
    first, second = (bring(client, tune, played()).json()["id"] for _ in range(2))
    folder = server.data / "takes" / tune
    assert client.delete(f"/api/tunes/{tune}/takes/{first}").status_code == 200
    assert {path.stem for path in folder.iterdir()} == {second}
    assert client.delete(f"/api/tunes/{tune}").status_code == 200
    assert not folder.exists()


def open_take(page: Page, server: Server, brought: Brought) -> None:
    page.goto(f"{server.address}/tunes/{brought.tune}?view=take&take={brought.take}")
    expect(page.locator(".report h2")).to_have_text("lesson.mid", timeout=120_000)
    expect(page.locator(".take-staff .staff[aria-busy=true]")).to_have_count(0, timeout=120_000)


def test_a_report_is_read_and_what_was_played_is_kept(page: Page, server: Server,
                                                      brought: Brought) -> None:
    page.goto(f"{server.address}/tunes/{brought.tune}")
    page.locator("#tab-take").click()
    page.set_input_files("#take-file", {"name": "no.mid", "mimeType": "audio/midi",
                                        "buffer": b"nonsense"})
    expect(page.locator("#take-says")).to_contain_text("no.mid")
    page.locator(".take-name").click()
    expect(page.locator(".report h2")).to_be_focused(timeout=120_000)
    expect(page.locator(".summary li")).to_have_count(3)
    expect(page.locator(".take-score .heard.missed")).to_have_count(1)
    expect(page.locator(".tempo")).to_contain_text("steady at 120 beats a minute")
    expect(page.locator(".tempo-curve")).to_have_count(0)
    expect(page.locator(".take-gap", has_text="Gap 4,")).to_contain_text("Left open, back in time.")
    expect(page.locator(".report .fine")).to_have_count(0)
    gap = page.locator(".take-gap").first
    expect(gap.locator(".take-back.late")).to_have_text(
        "back about a quarter of a beat late")
    said = page.locator(".report").inner_text()         # as one says it; figures are folded away
    assert " ms" not in said and " to 1" not in said and "second" not in said
    page.locator(".take-figures summary").first.click()
    expect(page.locator(".take-figures").first).to_contain_text("from second 0")
    expect(gap.locator(".staff svg").first).to_be_visible()
    assert audit(page, leave_out=".score") == []
    gap.locator(".hear").first.click()
    expect(gap.locator(".hear").first).to_have_attribute("aria-pressed", "true")
    gap.locator(".keep").click()
    gap.get_by_role("button", name="See it beside the ideas").click()
    chosen = page.locator("#bench[aria-busy=false] .card.chosen")
    expect(chosen).to_contain_text("Played by hand.")
    page.locator("#undo").click()
    expect(chosen).to_have_count(0)


OTHER = """X:1
T:Another One
M:4/4
L:1/4
Q:1/4=120
K:C
"Cmaj7"e d c B|"Am7"c4|"Dm7"f e d c|"G7"B4|"Em7"g f e d|"A7"^c4|"Dm7"a g f e|"G7"d4|]
"""


def test_a_take_of_another_tune_is_taken_there(page: Page, server: Server, client: httpx.Client,
                                               brought: Brought) -> None:
    other = client.post("/api/tunes", json={"text": OTHER}).json()["id"]
    page.goto(f"{server.address}/tunes/{other}?view=take")
    page.set_input_files("#take-file", {"name": "mine.mid", "mimeType": "audio/midi",
                                        "buffer": played()})
    says = page.locator("#take-says")
    expect(says).to_contain_text("'Another One' is not heard in it.", timeout=120_000)
    title = client.get(f"/api/tunes/{brought.tune}").json()["title"]
    expect(says).to_contain_text(f"On the shelf it fits {title}.")
    assert audit(page) == []
    says.get_by_role("button", name="Move the take there and hear it").click()
    expect(page.locator(".report h2")).to_have_text("mine.mid", timeout=120_000)
    moved = page.url.partition("/tunes/")[2].partition("?")[0]
    assert client.get(f"/api/tunes/{moved}").json()["title"] == title
    assert client.get(f"/api/tunes/{other}/takes").json()["takes"] == []
    for take in client.get(f"/api/tunes/{moved}/takes").json()["takes"]:
        if take["name"] == "mine.mid":
            client.delete(f"/api/tunes/{moved}/takes/{take['id']}")
    assert client.delete(f"/api/tunes/{other}").status_code == 200


def test_a_take_by_keyboard_on_a_dark_page(page: Page, server: Server, brought: Brought) -> None:
    page.emulate_media(color_scheme="dark")
    page.goto(f"{server.address}/tunes/{brought.tune}?view=take")
    tab_to(page, "#take-file")
    tab_to(page, ".take-name")
    page.keyboard.press("Enter")
    expect(page.locator(".report h2")).to_be_focused(timeout=120_000)
    page.keyboard.press("Tab")
    expect(page.locator(".take-staff .staff[aria-busy=true]")).to_have_count(0, timeout=120_000)
    assert audit(page, leave_out=".score", only=["color-contrast"]) == []
    page.locator(".take-name").focus()
    tab_to(page, ".take-list .plain")
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="No, keep it")).to_be_focused()


def test_a_take_by_touch(browser: Browser, server: Server, brought: Brought) -> None:
    with watched(browser, size=(390, 800), has_touch=True, is_mobile=True) as page:
        open_take(page, server, brought)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        page.locator(".take-figures summary").first.tap()
        expect(page.locator(".take-figures dl").first).to_be_visible()


# A piano that plays what a test writes: `port.play(when, data)`.
PORT = """
    const port = {id: "p1", name: "Scripted", state: "connected", onmidimessage: null,
        play(at, data) { this.onmidimessage?.({data: Uint8Array.from(data), timeStamp: at}); }};
    const access = new EventTarget();
    access.inputs = new Map([[port.id, port]]);
    Object.defineProperty(window, "port", {value: port});
    Object.defineProperty(navigator, "requestMIDIAccess", {value: async () => access});
"""


def test_a_take_is_recorded_with_the_browsers_own_times(browser: Browser, server: Server,
                                                        client: httpx.Client) -> None:
    tune = client.post("/api/tunes", json={"text": ABC}).json()["id"]
    keys = [(500 * onset, 500 * length, key) for onset, key, length in MELODY]
    with watched(browser) as page:
        page.add_init_script(PORT)
        page.goto(f"{server.address}/tunes/{tune}?view=take")
        page.get_by_role("button", name="Connect a digital piano").click()
        expect(page.locator(".record")).to_be_focused()
        page.locator(".record-ready input[type=number]").fill("400")
        assert audit(page) == []
        page.locator("#main").focus()
        page.keyboard.press("r")
        expect(page.locator(".record-says")).to_contain_text("Recording: 0 strokes")
        page.evaluate("""(keys) => {
            const zero = performance.now();
            for (const [at, length, key] of keys) {
                port.play(zero + at, [0x90, key, 80]);
                port.play(zero + at + length, [0x80, key, 0]);
            }
        }""", keys)
        expect(page.locator(".record-says")).to_contain_text("10 strokes")
        page.keyboard.press("r")
        expect(page.locator(".report h2")).to_contain_text("Take of", timeout=120_000)
    take = client.get(f"/api/tunes/{tune}/takes").json()["takes"][0]["id"]
    read = take_from_bytes(client.get(f"/api/tunes/{tune}/takes/{take}").content, "x.mid")
    assert [(stroke.midi, round(stroke.onset_sec, 3)) for stroke in read.strokes] == [
        (key, round(at / 1000, 3)) for at, _, key in keys]


@pytest.mark.parametrize(("script", "why"), [
    ("Object.defineProperty(navigator, 'requestMIDIAccess', {value: undefined})", "Web MIDI"),
    ("Object.defineProperty(navigator, 'requestMIDIAccess', {value: async () => {"
     "throw new DOMException('no', 'NotAllowedError')}})", "does not allow"),
    ("const access = new EventTarget(); access.inputs = new Map();"
     "Object.defineProperty(navigator, 'requestMIDIAccess', {value: async () => access})",
     "No piano is connected")])
def test_without_a_piano_the_page_says_what_is_needed(page: Page, server: Server,
                                                      brought: Brought, script: str, why: str
                                                      ) -> None:
    page.add_init_script(script)
    page.goto(f"{server.address}/tunes/{brought.tune}?view=take")
    page.get_by_role("button", name="Connect a digital piano").click()
    expect(page.locator(".record-says")).to_contain_text(why)
    assert page.locator(".record").is_hidden()


def test_why_not_is_answered_and_mended(page: Page, server: Server, client: httpx.Client) -> None:
    """A note of an idea is moved until a rule is broken; one button takes it back into bounds."""
    tune = client.post("/api/tunes", json={"text": ABC}).json()["id"]
    page.goto(f"{server.address}/tunes/{tune}?gap=2&kind=comp")
    card = page.locator("#ideas .card.comp").first
    card.get_by_role("button", name="Change notes").click()
    expect(card.locator(".says .fine")).to_be_visible()
    expect(card.locator(".why-not")).to_be_hidden()
    page.keyboard.press("ArrowRight")  # from the bass, which may go low, to the right hand
    for _ in range(2):
        page.keyboard.press("Shift+ArrowDown")
    expect(card.locator(".says .findings")).to_be_visible(timeout=120_000)
    card.locator(".why-not").click()
    expect(card.locator(".why-not-says")).to_contain_text("first offer", timeout=120_000)
    assert audit(page, leave_out=".score") == []
    card.locator(".why-not-says button").click()
    expect(card.locator(".why-not-says button")).to_have_count(0)


def test_notes_are_typed_into_a_gap(page: Page, server: Server, client: httpx.Client) -> None:
    tune = client.post("/api/tunes", json={"text": ABC}).json()["id"]
    page.goto(f"{server.address}/tunes/{tune}?gap=2")
    page.get_by_text("Type notes of your own").click()
    form = page.locator("form.typed")
    form.get_by_label("Notes").fill("R: 2 H5")
    form.get_by_role("button", name="Put it into the gap").click()
    expect(form.get_by_role("alert")).to_contain_text("'2 H5' is not a count with its keys")
    form.get_by_label("Notes").fill("R: 2& C5, 3 Eb5, 3& D5 ; L: 2 F3 C4")
    assert audit(page, leave_out=".score") == []
    form.get_by_role("button", name="Put it into the gap").click()
    expect(page.locator("#ideas .card").filter(has_text="own notes")).to_be_visible()
    expect(form.locator(".fine, .findings")).to_be_visible(timeout=120_000)
    pick = client.get(f"/api/tunes/{tune}").json()["picks"]["2"]
    assert pick["own"]["family"] == "line" and len(pick["own"]["notes"]) == 5
