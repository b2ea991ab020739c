"""The page: from a click to the first sound, and fifty users at once.

    python -m bench.bench_page

One server with its worker processes, on a 32-bar demo tune. The clicks are made in headless
Chromium; the times are those of its own clock. Aims: an option is heard 300 ms after the click
on an open tune; after a change of level the first options of the open gap are there in less than
the time it takes to engrave the lead sheet.
"""

from __future__ import annotations

import asyncio
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from statistics import median
from typing import TYPE_CHECKING

import httpx

if TYPE_CHECKING:
    from playwright.sync_api import Page

USERS = 50
CHROMIUM = "/usr/bin/chromium"
OPTIONS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
           "--disable-background-networking", "--disable-component-update", "--disable-sync"]
LEVELS = ("beginner", "intermediate", "advanced")


@contextmanager
def running() -> Iterator[str]:
    with tempfile.TemporaryDirectory() as folder, subprocess.Popen(
            [sys.executable, "-m", "fillwright.cli", "serve", "--port", "0", "--data", folder],
            stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            yield process.stdout.readline().split()[-1].rstrip("/")
        finally:
            process.terminate()
            process.wait(20)


@contextmanager
def a_page(address: str, demo: str, width: int) -> Iterator[Page]:
    """A browser on the page, a demo tune begun to be opened in it."""
    from playwright.sync_api import expect, sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=OPTIONS)
        page = browser.new_page(viewport={"width": width, "height": 900})
        expect.set_options(timeout=120_000)
        page.goto(address)
        page.click(f"[data-demo={demo}]")
        yield page
        browser.close()


def clicks(address: str) -> None:
    from playwright.sync_api import expect

    with a_page(address, "lamp", 1360) as page:
        expect(page.locator("#sheet[aria-busy=false] .gap-mark").first).to_be_visible()
        expect(page.locator("html[data-piano=ready]")).to_have_count(1)
        shown: list[float] = []
        complete: list[float] = []
        heard: list[float] = []
        first: list[float] = []
        for gap in (3, 7, 10, 12, 16):
            # The wish of a hasty user: a gap, and at once its first option.
            times = page.evaluate("""async (gap) => {
                const seen = (selector) => new Promise((done) => {
                    const look = () => document.querySelector(selector)
                        ? done() : setTimeout(look, 2);
                    look();
                });
                performance.clearMarks();
                const start = performance.now();
                document.querySelector(`.gap-mark[data-gap="${gap}"]`)
                    .dispatchEvent(new MouseEvent("click", {bubbles: true}));
                while (!document.querySelector("#bench h2")?.textContent
                    .startsWith(`Gap ${gap} `)) await new Promise((r) => setTimeout(r, 2));
                await seen("#bench .card .hear");
                const options = performance.now();
                document.querySelector("#bench .card .hear").click();
                const all = seen("#bench[aria-busy=false]").then(() => performance.now());
                let mark;
                while (!(mark = performance.getEntriesByName("first-sound")[0]))
                    await new Promise((r) => setTimeout(r, 2));
                const sound = mark.startTime + mark.detail.inMs;
                return [options - start, await all - start, sound - options, sound - start];
            }""", gap)
            for values, value in zip((shown, complete, heard, first), times, strict=True):
                values.append(value)
            page.keyboard.press("Escape")
            expect(page.locator(".staff[aria-busy=true]")).to_have_count(0)
        for name, values in (("gap clicked, first option shown", shown),
                             ("gap clicked, three families worked out", complete),
                             ("option clicked, first sound", heard),
                             ("gap clicked, first option heard", first)):
            print(f"{name}: median {median(values):.0f} ms, worst {max(values):.0f} ms")


def decisions(address: str) -> None:
    """All gaps of a tune decided by keys at 1280x900: one to hear, one to choose; what else it
    took, and when a choice is in the chorus. Aim: no scroll, a choice heard within a second."""
    from playwright.sync_api import expect

    with a_page(address, "lamp", 1280) as page:
        expect(page.locator("#sheet[aria-busy=false] .gap-mark").first).to_be_visible()
        gaps = page.locator("#sheet .gap-mark[role=button]").count()
        page.click("#tab-chorus")
        expect(page.locator("#view-chorus .pages svg.score").first).to_be_visible()
        page.click("#tab-sheet")
        page.click("#go-on")
        hidden = keys = 0
        fits = """(selector) => [...document.querySelectorAll(selector)].every((e) => {
            const box = e.getBoundingClientRect();
            const bar = document.getElementById("transport").getBoundingClientRect();
            return box.top >= 0 && box.bottom <= bar.top;
        })"""
        for number in range(1, gaps + 1):
            expect(page.locator("#bench[aria-busy=false] .card").first).to_be_visible()
            expect(page.locator("#bench .staff[aria-busy=true]")).to_have_count(0)
            ranks = page.locator("#ideas .card .rank")
            start = time.perf_counter()
            if not ranks.count():  # too short for any idea
                page.keyboard.press("o")
                keys += 1
            else:
                hidden += not page.evaluate(fits, ".card .choose")
                page.keyboard.press(ranks.first.text_content() or "")
                expect(page.locator(".card.playing")).to_have_count(1)
                start = time.perf_counter()
                page.keyboard.press("c")
                keys += 2
            expect(page.locator(".decided")).to_contain_text(f"{number} of {gaps}")
        page.evaluate("performance.clearMarks()")
        page.keyboard.press("x")
        page.keyboard.press(" ")
        first_sound(page)
        sounding = time.perf_counter() - start
        expect(page.locator("#view-chorus[aria-busy=false] .fill-list strong")).to_have_count(gaps)
        expect(page.locator("#view-chorus .on").first).to_be_attached()
        lit = time.perf_counter() - start
        loaded = page.evaluate("""() => performance.getEntriesByType("resource")
            .filter((entry) => /[.](js|css|woff2?)|words/.test(entry.name))
            .reduce((sum, entry) => sum + entry.encodedBodySize, 0)""")
        print(f"{gaps} gaps decided: {keys} keys, 1 click, {hidden} gaps with a Choose out of "
              f"sight; last choice to the chorus sounding {sounding:.2f} s, to its notes lit "
              f"{lit:.2f} s; "
              f"{loaded / 1000:.0f} kB of scripts, styles and fonts")


def first_sound(page: Page) -> None:
    while not page.evaluate("performance.getEntriesByName('first-sound').length"):
        page.wait_for_timeout(10)  # the page's policy lets no function wait in it


def choices(address: str) -> None:
    """From opening a tune to its first sound; then, one gap after the other, from a choice to the
    chorus that has it, sounding and drawn. Aim: heard within a second."""
    from playwright.sync_api import expect

    with a_page(address, "snow", 1280) as page:
        start = time.perf_counter()
        page.get_by_role("button", name="Play the sheet").click()
        first_sound(page)
        opened = time.perf_counter() - start
        heard: list[float] = []
        drawn: list[float] = []
        pages = page.locator("#view-chorus .pages[aria-busy=false] svg.score").first
        page.click("#tab-chorus")
        expect(pages).to_be_visible()
        for gap in (2, 5, 8):
            page.goto(f"{page.url.split('?')[0]}?view=gap&gap={gap}")
            expect(page.locator("#bench[aria-busy=false] .card").first).to_be_visible()
            expect(page.locator("#bench .staff[aria-busy=true]")).to_have_count(0)
            expect(page.locator("html[data-piano=ready]")).to_have_count(1)
            decided = page.locator("#bench .decided meter").get_attribute("value")
            page.evaluate("performance.clearMarks()")
            start = time.perf_counter()
            page.keyboard.press("c")
            expect(page.locator("#bench .decided meter")).not_to_have_attribute(
                "value", decided or "")
            page.keyboard.press("x")
            page.keyboard.press(" ")
            first_sound(page)
            heard.append(time.perf_counter() - start)
            expect(pages).to_be_visible()
            drawn.append(time.perf_counter() - start)
        print(f"tune opened, first sound: {opened:.2f} s; a choice in the chorus: heard after "
              f"median {median(heard):.2f} s, worst {max(heard):.2f}, drawn after median "
              f"{median(drawn):.2f} s, worst {max(drawn):.2f}")


def recompute(address: str) -> None:
    """The options of a gap at another level: with the gap just opened, and after a while in
    which the server had nothing else to do."""
    for name, idle_sec in (("at once", 0), ("after some seconds", 6)):
        with httpx.Client(base_url=address, timeout=120, headers=token(address)) as client:
            demo = "snow" if idle_sec else "ferry"
            key = client.post("/api/tunes", json={"demo": demo}).json()["id"]
            version = client.get(f"/api/tunes/{key}").json()["version"]
            first, ratios = [], []
            start = time.perf_counter()
            client.get(f"/api/tunes/{key}/lead")
            engraving = time.perf_counter() - start
            client.get(f"/api/tunes/{key}/gaps/3")
            time.sleep(idle_sec)
            for level in ("advanced", "beginner"):
                start = time.perf_counter()
                version = client.put(f"/api/tunes/{key}", json={
                    "version": version, "change": {"settings": {"level": level}}}
                    ).json()["version"]
                client.get(f"/api/tunes/{key}/gaps/3?comp=3")
                first.append((time.perf_counter() - start) / engraving)
                client.get(f"/api/tunes/{key}/gaps/3")
                ratios.append((time.perf_counter() - start) / engraving)
            print(f"level changed {name}: the first options of the open gap after "
                  f"{max(first):.2f}, all nine after {max(ratios):.2f} times the engraving of the "
                  "lead sheet")


def token(address: str) -> dict[str, str]:
    text = httpx.get(address, timeout=60).text
    return {"x-token": text.split('name="token" content="')[1].split('"')[0]}


async def crowd(address: str) -> None:
    """Each user brings a tune, looks at it, opens gaps, listens, chooses and undoes."""
    times: dict[str, list[float]] = {}
    refused: list[str] = []
    headers = token(address)

    async def user(number: int) -> None:
        async with httpx.AsyncClient(base_url=address, timeout=120, headers=headers) as client:
            async def ask(what: str, method: str, path: str, body: object = None
                          ) -> dict[str, object]:
                start = time.perf_counter()
                answer = await client.request(method, path, json=body)
                times.setdefault(what, []).append((time.perf_counter() - start) * 1000)
                if answer.status_code >= 400:
                    refused.append(f"{what}: {answer.status_code} {answer.text[:100]}")
                return dict(answer.json())

            demo = ("lamp", "snow", "ferry", "umbrella")[number % 4]
            found = await ask("bring a tune", "POST", "/api/tunes", {"demo": demo})
            path = f"/api/tunes/{found['id']}"
            await ask("open a tune", "GET", path)
            await ask("change the level", "PUT", path, {
                "version": 1, "change": {"settings": {"level": LEVELS[number % 3]}}})
            await ask("lead sheet", "GET", f"{path}/lead")
            for version, gap in ((2, 1), (4, 2)):
                page = await ask("open a gap", "GET", f"{path}/gaps/{gap}")
                fill = next(fill for family in page["families"].values()  # type: ignore[attr-defined]
                            for fill in family["fills"])
                await ask("hear", "POST", f"{path}/gaps/{gap}/heard", {"fill": fill["id"]})
                await ask("choose", "PUT", path, {"version": version, "change": {
                    "pick": {"gap": gap, "fill": fill["id"]}}})
                await ask("undo", "POST", f"{path}/undo", {"version": version + 1})

    start = time.perf_counter()
    await asyncio.gather(*(user(number) for number in range(USERS)))
    total = time.perf_counter() - start
    count = sum(map(len, times.values()))
    print(f"{USERS} users at once: {count} requests in {total:.1f} s, {len(refused)} errors")
    for line in refused[:5]:
        print(f"  {line}")
    for what, values in times.items():
        values.sort()
        late = values[-1 - len(values) // 20]
        print(f"  {what:<18} median {median(values):6.0f} ms   95 % {late:6.0f} ms")


def main() -> None:
    with running() as address:
        clicks(address)
        decisions(address)
        choices(address)
        recompute(address)
    with running() as address:
        asyncio.run(crowd(address))


if __name__ == "__main__":
    main()
