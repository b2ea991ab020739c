"""Working days of a teacher: the form, the mix, odd tunes, two tabs, a server that goes away."""

from __future__ import annotations

import re
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect
from tests.web.page_server import GONE, Server, watched
from tests.web.test_browser import open_gap, open_tune, setting, to_view

pytestmark = pytest.mark.slow

BARS = '"Gm7"B A G F|"C7"E4|"Fmaj7"A4|"D7"z2 A c|'
"""Other music than what is played for the tests of takes, on the same shelf."""


def abc(title: str, bars: str) -> str:
    return f"X:1\nT:{title}\nM:4/4\nL:1/4\nQ:1/4=120\nK:F\n{bars}]\n"


def bring(page: Page, server: Server, text: str) -> None:
    with server.client() as client:
        key = client.post("/api/tunes", json={"text": text}).json()["id"]
    page.goto(f"{server.address}/tunes/{key}")
    expect(page.locator("#sheet[aria-busy=false] svg.score").first).to_be_visible()


def chorus_there(page: Page) -> None:
    to_view(page, "chorus")
    expect(page.locator("#view-chorus[aria-busy=false] .pages svg.score").first).to_be_visible(
        timeout=120_000)


def fits(page: Page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


# --- form and mix -----------------------------------------------------------------------------


def test_choruses_introduction_and_ending_are_settings(page: Page, server: Server) -> None:
    open_tune(page, server)
    gaps = page.locator("#sheet .gap-mark[role=button]")
    once = gaps.count()
    says = page.locator("#form-says")
    expect(says).to_have_text("one chorus, comp, reharm and line alike")
    open_gap(page, 2)
    where = page.locator("#bench .where")
    place = re.match(r"Bar (\d+)(.*)", where.text_content() or "")
    assert place is not None
    setting(page, "introduction", "2")
    expect(says).to_have_text("one chorus, 2 bars before, comp, reharm and line alike")
    expect(page.locator("#bench h2")).to_contain_text("Gap 3")  # the same one, counted anew,
    expect(where).to_have_text(f"Bar {int(place[1]) + 2}{place[2]}")  # as is its bar on the sheet
    to_view(page, "sheet")
    expect(gaps.first).to_have_attribute("aria-label", re.compile("^Gap 1, bar 1,"))
    expect(page.locator('.chord-symbol[data-bar="-1"]').nth(1)).to_be_attached()
    expect(page.locator('.chord-symbol[data-bar="-1"][role=button]')).to_have_count(0)
    setting(page, "ending", "4")
    setting(page, "choruses", "2")
    expect(says).to_have_text("two choruses, 2 bars before, 4 bars after, "
                              "comp, reharm and line alike")
    expect(page.locator("#sheet[aria-busy=false]")).to_be_visible()
    expect(gaps.nth(2 * once - 2)).to_be_attached()
    open_gap(page, gaps.count())
    page.reload()
    expect(says).to_have_text("two choruses, 2 bars before, 4 bars after, "
                              "comp, reharm and line alike")
    for _ in range(3):
        page.get_by_role("button", name="Undo").click()
    expect(says).to_have_text("one chorus, comp, reharm and line alike")
    expect(page.locator("select[name=choruses]")).to_have_value("1")
    to_view(page, "sheet")
    expect(gaps).to_have_count(once)


def test_the_mix_decides_what_the_chorus_is_made_of(page: Page, server: Server) -> None:
    open_tune(page, server)
    setting(page, "mix-line", "2")
    expect(page.locator("#form-says")).to_contain_text("comp 25 %, reharm 25 %, line 50 %")
    setting(page, "mix-reharm", "0")
    setting(page, "mix-comp", "0")
    expect(page.locator("#form-says")).to_contain_text("comp 0 %, reharm 0 %, line 100 %")
    chorus_there(page)
    families = set(page.locator(".fill-list .family-name").all_text_contents())
    assert families <= {"line", "no fill"} and "line" in families
    setting(page, "mix-line", "0")
    expect(page.locator(".notice.error")).to_contain_text("one family at least")
    expect(page.locator("select[name=mix-line]")).to_have_value("2")


def test_choices_keep_their_place_when_bars_are_added(server: Server) -> None:
    key = server.demo("ferry")
    with server.client() as client:
        version = 0

        def put(kind: str, value: dict[str, object]) -> dict[str, Any]:
            nonlocal version
            version += 1
            answer = client.put(f"/api/tunes/{key}",
                                json={"version": version, "change": {kind: value}})
            return dict(answer.json())

        fill = client.get(f"/api/tunes/{key}/gaps/4").json()["families"]["line"]["fills"][1]["id"]
        tune = client.get(f"/api/tunes/{key}").json()
        place = [tune["gaps"][3][name] for name in ("bar", "pass", "beat")]
        put("pick", {"gap": 4, "fill": fill})
        put("pick", {"gap": 2, "fill": "open"})
        tune = put("settings", {"introduction": 4})
        assert tune["lost"] == []
        number = next(int(gap) for gap, pick in tune["picks"].items() if pick["fill"] == fill)
        assert [tune["gaps"][number - 1][name] for name in ("bar", "pass", "beat")] == place
        later = len(tune["gaps"]) + 3
        put("settings", {"choruses": 2})
        put("pick", {"gap": later, "fill": "open"})
        tune = put("settings", {"choruses": 1})
        assert tune["lost"] == [f"Gap {later} is not there in this form, so your choice for it "
                                "was dropped. Undo brings it back."]
        tune = client.post(f"/api/tunes/{key}/undo", json={"version": version + 1}).json()
        assert tune["picks"][str(later)]["fill"] == "open"


def test_an_option_is_heard_between_the_choices_around_it(server: Server) -> None:
    key = server.demo("umbrella")
    with server.client() as client:
        page = client.get(f"/api/tunes/{key}/gaps/2").json()
        option = page["families"]["comp"]["fills"][0]["id"]
        hear = {"fill": option, "moves": []}
        before = client.post(f"/api/tunes/{key}/gaps/2/heard", json=hear).json()
        pick = client.get(f"/api/tunes/{key}/gaps/1").json()["families"]["line"]["fills"][0]
        client.put(f"/api/tunes/{key}", json={"version": 1, "change": {
            "pick": {"gap": 1, "fill": pick["id"], "moves": []}}})
        after = client.post(f"/api/tunes/{key}/gaps/2/heard", json=hear).json()
        played = {(note["at"], note["midi"]) for note in after["context"]["notes"]}
        wanted = {(float(Fraction(note["onset_quarter"])), note["midi"])
                  for note in pick["notes"]}
        assert wanted <= played
        assert not wanted <= {(note["at"], note["midi"]) for note in before["context"]["notes"]}
        assert [note["midi"] for note in after["alone"]["notes"]] == [
            note["midi"] for note in before["alone"]["notes"]]


# --- odd tunes --------------------------------------------------------------------------------


@pytest.mark.parametrize("title", ["W" * 300, "On and On " * 30, "שיר ערב \u202e🎹 <b>x</b>"])
def test_a_title_of_any_kind_runs_out_of_nothing(page: Page, server: Server, title: str) -> None:
    page.set_viewport_size({"width": 820, "height": 900})
    bring(page, server, abc(title, BARS))
    fits(page)
    assert page.locator("h1 b").count() == 0
    page.goto(server.address)
    expect(page.locator(".tune-title").first).to_be_visible()
    fits(page)


def test_a_tune_without_a_gap_says_so_and_has_a_chorus(page: Page, server: Server) -> None:
    bring(page, server, abc("No Room", '"C7"c d e f|"F7"f e d c|'))
    expect(page.locator("#hint")).to_contain_text("There is no gap in this tune")
    chorus_there(page)
    expect(page.locator("#view-chorus h2")).to_contain_text("There is no gap in this tune")


def test_gaps_without_a_chord_say_why_they_are_empty(page: Page, server: Server) -> None:
    bring(page, server, abc("Silence", '"N.C."c4|"N.C."d4|'))
    page.locator("#sheet .gap-mark[role=button]").first.click()
    # All three families are empty for one reason, which is said once.
    empty = page.locator("#bench[aria-busy=false] .nothing")
    expect(empty).to_have_count(1)
    expect(empty).to_contain_text("No chord sounds in this gap.")
    expect(page.locator("#bench .where")).not_to_contain_text("..")
    page.get_by_role("button", name="No fill here").click()
    expect(page.locator(".decided")).to_contain_text("1 of 2 decided")
    to_view(page, "sheet")
    expect(page.locator(".gap-mark .gap-word").first).to_contain_text("no fill")
    chorus_there(page)


def test_a_tune_of_120_bars(page: Page, server: Server) -> None:
    bring(page, server, abc("Long", BARS * 30))
    expect(page.locator("#sheet .gap-mark[role=button]")).to_have_count(60)
    open_gap(page, 60)
    to_view(page, "sheet")  # back where one was
    expect(page.locator('#sheet .gap-mark[data-gap="60"][role=button]')).to_be_in_viewport()


# --- interruptions ----------------------------------------------------------------------------


def test_loaded_again_in_the_middle_of_work(page: Page, server: Server) -> None:
    open_tune(page, server, "lamp")
    to_view(page, "chorus")
    page.reload()
    expect(page.locator("#view-chorus .pages svg.score").first).to_be_visible(timeout=120_000)
    open_gap(page, 5)
    setting(page, "level", "advanced")
    page.reload()  # the change may be saved before the page is read again, or after
    expect(page.locator("#bench[aria-busy=false] .card").first).to_be_visible()
    setting(page, "hand", "small")
    expect(page.locator("#undo")).to_have_attribute(
        "title", re.compile("(hand|level)"))
    page.reload()
    expect(page.locator("select[name=level]")).to_have_value("advanced")


def test_a_sheet_first_looked_at_after_news_is_drawn(page: Page, server: Server) -> None:
    """One begins at the chorus, hears of a change, and goes to the sheet."""
    key = server.demo("umbrella")
    page.goto(f"{server.address}/tunes/{key}?view=chorus")
    expect(page.locator("#view-chorus")).to_be_visible()
    with server.client() as client:
        tune = client.get(f"/api/tunes/{key}").json()
        pick = {"gap": 2, "fill": "open", "moves": []}
        client.put(f"/api/tunes/{key}", json={"version": tune["version"], "change": {"pick": pick}})
    expect(page.locator("#undo")).to_be_enabled()  # the page has heard of it
    to_view(page, "sheet")
    expect(page.locator("#sheet[aria-busy=false] .gap-mark").first).to_be_visible()


def test_two_tabs_see_each_other_and_merge(page: Page, server: Server) -> None:
    """What one tab changes stands in the other; what does not conflict is merged, what does is
    told in words."""
    key = open_tune(page, server)
    other = page.context.new_page()
    other.goto(page.url)
    expect(other.locator("#sheet[aria-busy=false] .gap-mark").first).to_be_visible()
    setting(page, "hand", "small")
    expect(other.locator("select[name=hand]")).to_have_value("small")
    open_gap(other, 1)
    other.locator("#ideas .card.line").get_by_role("button", name="Choose").click()
    expect(page.locator('#sheet .gap-mark[data-gap="1"] .gap-word').first).to_have_text("✓ line")
    other.close()
    with server.client() as client:
        tune = client.get(f"/api/tunes/{key}").json()
        fill = client.get(f"/api/tunes/{key}/gaps/2").json()["families"]["comp"]["fills"][0]
        one, two = ({"version": tune["version"], "change": {"pick": pick}} for pick in (
            {"gap": 2, "fill": fill["id"], "moves": []},
            {"gap": 3, "fill": "open", "moves": []}))
        assert client.put(f"/api/tunes/{key}", json=one).status_code == 200
        merged = client.put(f"/api/tunes/{key}", json=two)  # from the version before
        assert merged.status_code == 200
        assert {"1", "2", "3"} <= set(merged.json()["picks"])
        again = {"version": tune["version"],
                 "change": {"pick": {"gap": 2, "fill": "open", "moves": []}}}
        assert client.put(f"/api/tunes/{key}", json=again).status_code == 409
    expect(page.locator('#sheet .gap-mark[data-gap="3"] .gap-word').first).to_have_text("✓ no fill")


def test_what_two_windows_decide_at_once_is_told_in_words(page: Page, server: Server) -> None:
    page.route("**/events", lambda route: route.fulfill(status=204))  # it hears of nothing
    key = open_tune(page, server)
    open_gap(page, 2)
    with server.client() as client:
        version = client.get(f"/api/tunes/{key}").json()["version"]
        client.put(f"/api/tunes/{key}", json={
            "version": version, "change": {"pick": {"gap": 2, "fill": "open", "moves": []}}})
    page.locator("#ideas .card").first.get_by_role("button", name="Choose").click()
    expect(page.locator(".notice.error")).to_contain_text(
        "Gap 2 was decided in another window meanwhile.")


def test_a_server_that_goes_away_and_comes_back(browser: Browser, tmp_path: Path) -> None:
    def start(port: str) -> tuple[subprocess.Popen[str], str]:
        process = subprocess.Popen(
            [sys.executable, "-m", "fillwright.cli", "serve", "--port", port, "--data",
             str(tmp_path)], stdout=subprocess.PIPE, text=True)
        assert process.stdout is not None
        return process, process.stdout.readline().split()[-1].rstrip("/")

    process, address = start("0")
    try:
        with watched(browser, "403 (", *GONE) as page:
            page.goto(address)
            page.locator("[data-demo=umbrella]").click()
            page.wait_for_url("**/tunes/*")
            expect(page.locator("#sheet[aria-busy=false] .gap-mark").first).to_be_visible()
            setting(page, "level", "advanced")
            expect(page.get_by_role("button", name="Undo")).to_be_enabled()
            process.kill()
            process.wait(60)
            page.locator('#sheet .gap-mark[data-gap="2"][role=button]').click()
            expect(page.locator("#bench .nothing").first).to_contain_text("cannot be reached")
            setting(page, "hand", "large")
            expect(page.locator("select[name=hand]")).to_have_value("medium")
            process.stdout.close()  # type: ignore[union-attr]
            process, _ = start(address.rsplit(":", 1)[1])
            page.locator("#bench").get_by_role("button", name="Try again").first.click()
            expect(page.locator("#bench[aria-busy=false] .card").first).to_be_visible()
            setting(page, "hand", "large")
            page.get_by_role("button", name="Load it again").click()
            expect(page.locator("#bench[aria-busy=false] .card").first).to_be_visible()
            expect(page.locator("select[name=level]")).to_have_value("advanced")
            setting(page, "hand", "large")
            expect(page.locator("#undo")).to_have_attribute("title", re.compile("hand"))
    finally:
        process.kill()
        process.wait(60)
        process.stdout.close()  # type: ignore[union-attr]
