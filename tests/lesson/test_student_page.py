"""The student's page, opened from the disk without a network, in a real browser."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]
from playwright.sync_api import Browser, Page, expect

import fillwright
from fillwright.lesson import pack_files, read_plan_text, tasks_of

pytestmark = pytest.mark.slow

SHEET = Path(fillwright.__file__).parent / "data" / "ferry.musicxml"
SIZES = {"telephone": (390, 844), "tablet": (820, 1180), "computer": (1280, 900)}
HARM = ("</script><script>document.harmed=1</script><img src=x onerror='document.harmed=1'>"
        "<!--<script> {{ 7*7 }} ${7*7} \u2028")
TOML = json.dumps(HARM.replace("\u2028", "&"))  # in JSON as in TOML
PLAN = f"""
title = {TOML}
teacher = {TOML}
answers_in_page = true

[[item]]
tune = "harmful.musicxml"
gap = 4
fill = "comp:1"
words = {TOML}

[[item]]
tune = "ferry"
gap = 4
fill = "line:1"
show = "rhythm"
"""


@dataclass(frozen=True)
class File:
    path: Path
    text: str

    @property
    def address(self) -> str:
        return self.path.as_uri()


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> File:
    folder = tmp_path_factory.mktemp("pack with spaces & signs")
    sheet = SHEET.read_text(encoding="utf-8")
    named, count = re.subn(r"<work-title>.*?</work-title>",
                           "<work-title>&lt;img src=x onerror=document.harmed=1&gt;</work-title>",
                           sheet)
    assert count == 1
    (folder / "harmful.musicxml").write_text(named, encoding="utf-8")
    plan = read_plan_text(PLAN)
    made = pack_files(plan, tasks_of(plan, folder))["student.html"]
    (folder / "student.html").write_bytes(made)
    return File(folder / "student.html", made.decode("utf-8"))


@contextmanager
def opened(browser: Browser, file: File, size: str = "computer", script: str = "",
           **options: str) -> Iterator[Page]:
    """The page; at the end nothing was asked of anywhere and nothing complained."""
    width, height = SIZES[size]
    context = browser.new_context(viewport={"width": width, "height": height}, offline=True,
                                  reduced_motion="reduce", **options)  # type: ignore[arg-type]
    if script:
        context.add_init_script(script)
    page = context.new_page()
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    try:
        page.goto(file.address)
        yield page
        assert not page.evaluate("'harmed' in document")
    finally:
        context.close()
    assert {url for url in asked if not url.startswith("data:font/")} == {file.address}
    assert not said


def test_nothing_in_the_file_is_elsewhere(file: File) -> None:
    outside = re.sub(r"base64,[A-Za-z0-9+/=]+|\"sound\":\"[^\"]*\"", "", file.text)
    assert "http" not in outside.replace("http-equiv", "")
    assert re.findall(r"<(?:link|iframe|object|embed|base|form|img)\b", outside) == []
    assert all(link.startswith("#") for link in re.findall(r"\shref=\"([^\"]*)\"", outside))
    assert not re.search(r"\s(?:src|srcset|action|style|on\w+)=\"", outside)
    policy = re.search(r"Content-Security-Policy\" content=\"([^\"]*)\"", outside)
    assert policy is not None and "default-src &#39;none&#39;" in policy[1]
    assert "unsafe" not in policy[1] and "http" not in policy[1]
    assert len(file.text) < 1_000_000
    assert "mNum" not in file.text  # bars are not counted from the first one here


def test_words_are_only_words(browser: Browser, file: File) -> None:
    with opened(browser, file) as page:
        title = HARM.replace("\u2028", "&")
        expect(page.locator("h1")).to_have_text(title)
        assert page.title() == title
        expect(page.locator(".words")).to_have_text(title)
        expect(page.locator("#item-1 h2")).to_contain_text("<img src=x onerror=document.harmed=1>")
        assert page.locator("img").count() == 0 and page.locator("script").count() == 2


@pytest.mark.parametrize("size", SIZES)
def test_it_plays_and_lights_what_sounds(browser: Browser, file: File, size: str) -> None:
    with opened(browser, file, size) as page:
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        staff = page.locator("#item-1 .staff")
        shown = ".narrow" if size == "telephone" else ".wide"
        expect(staff.locator(shown)).to_be_visible()
        expect(staff.locator(".narrow, .wide").filter(visible=True)).to_have_count(1)
        page.click("#item-1 .play")
        expect(page.locator("#item-1 .play")).to_have_text("Stop")
        figure = page.locator("#item-1 figure.sounding")
        expect(figure.first).to_be_visible()
        expect(page.locator(f"#item-1 {shown} .score .note.on").first).to_be_visible()
        marked = page.locator("#item-1 figure.sounding .finger.on")
        expect(marked.first).to_be_visible()
        page.click("#stop")
        expect(page.locator(".on, .sounding")).to_have_count(0)
        expect(page.locator("#item-1 .play")).to_have_text("Play")


def test_slower_and_over_and_over(browser: Browser, file: File) -> None:
    with opened(browser, file) as page:
        page.click("#gap")
        page.click("#again")
        page.click("#counted")  # off
        page.focus("#speed")
        page.keyboard.press("Home")
        expect(page.locator("#pace")).to_have_text("40 % (60)")
        page.click("#item-1 .play")
        page.evaluate("""() => new Promise((done) => {  // until its first stroke has come twice
            const lit = new Map();
            new MutationObserver((changes) => {
                for (const { target, oldValue } of changes) {
                    if (!target.classList.contains("on") || / on$/.test(oldValue)) continue;
                    lit.set(target.id, (lit.get(target.id) ?? 0) + 1);
                    if (lit.get(target.id) === 2) done();
                }
            }).observe(document.querySelector("#item-1 .wide"), {
                subtree: true, attributeFilter: ["class"], attributeOldValue: true });
        })""")
        page.focus("#speed")
        page.keyboard.press("End")
        expect(page.locator("#pace")).to_have_text("100 % (150)")
        expect(page.locator("#item-1 .play")).to_have_text("Stop")
        page.keyboard.press("Escape")
        expect(page.locator("#item-1 .play")).to_have_text("Play")


def test_the_answer_is_folded_away(browser: Browser, file: File) -> None:
    with opened(browser, file) as page:
        answer = page.locator("#item-2 .answer section")
        expect(answer).to_be_hidden()
        assert page.locator("#item-1 .answer").count() == 0
        assert page.locator("#item-2 > section figure").count() == 0
        page.click("#item-2 .answer summary")
        expect(answer).to_be_visible()
        page.click("#item-2 .answer .play")
        expect(answer.locator("figure.sounding").first).to_be_visible()


def test_ticks_stay(browser: Browser, file: File) -> None:
    with opened(browser, file) as page:
        expect(page.locator("#progress")).to_have_text("0 of 2 can be played.")
        page.check("[data-tick='2']")
        expect(page.locator("#progress")).to_have_text("1 of 2 can be played.")
        page.reload()
        expect(page.locator("[data-tick='2']")).to_be_checked()
        expect(page.locator("nav a.done")).to_have_text("2")
        page.uncheck("[data-tick='2']")
        expect(page.locator("nav a.done")).to_have_count(0)


def test_a_browser_that_keeps_nothing(browser: Browser, file: File) -> None:
    denied = ("Object.defineProperty(window, 'localStorage', "
              "{ get() { throw new DOMException('denied', 'SecurityError'); } });")
    with opened(browser, file, script=denied) as page:
        page.check("[data-tick='1']")
        expect(page.locator("#progress")).to_have_text("1 of 2 can be played.")
        expect(page.locator("#said")).to_contain_text("keeps no ticks")


def test_slower_keeps_pitch_and_strokes(browser: Browser, file: File) -> None:
    """A tone of 440 Hz that is struck at 0 and at 0.5 seconds, at half the speed: twice as long,
    440 Hz, the second stroke at 1 second."""
    with opened(browser, file) as page:
        length, crossings, stroke = page.evaluate("""async () => {
            const rate = 24000;
            const tone = Float32Array.from({ length: rate }, (_, i) => {
                const since = (i % (rate / 2)) / rate;
                return Math.sin(2 * Math.PI * 440 * since) * Math.exp(-4 * since);
            });
            const [slow] = await stretched([tone, tone], rate, [0, 0.5], 0.5);
            let crossings = 0;
            for (let i = 0.2 * rate; i < 0.9 * rate; i += 1)
                crossings += slow[i] < 0 && slow[i + 1] >= 0;
            let stroke = rate * 0.8;
            while (Math.abs(slow[stroke]) < 0.5) stroke += 1;
            return [slow.length / rate, crossings / 0.7, stroke / rate];
        }""")
    assert length == pytest.approx(2, abs=0.01)
    assert crossings == pytest.approx(440, rel=0.01)
    assert stroke == pytest.approx(1, abs=0.003)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_everybody_can_use_it(browser: Browser, file: File, scheme: str) -> None:
    with opened(browser, file, "telephone", color_scheme=scheme) as page:
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
