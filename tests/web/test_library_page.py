"""The library on the page: files brought, questions asked, gaps opened on the shelf."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Page, expect
from tests.library.test_library import BAD, FIRST, HEADER, SECOND
from tests.web.page_server import Server, running

pytestmark = pytest.mark.slow

FIRST_SHEET = HEADER.format("First Light", 120, "C") + FIRST
SECOND_SHEET = HEADER.format("Second Wind", 200, "Bb") + SECOND


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    data = tmp_path_factory.mktemp("library")
    with running(data) as address:
        page = httpx.get(address, timeout=60).text
        yield Server(address, page.split('name="token" content="')[1].split('"')[0], data)


def done(client: httpx.Client, kind: str, **asked: str) -> dict[str, Any]:
    """What comes of some long work."""
    job = client.post("/api/library/jobs", json={"kind": kind, "asked": asked}).json()
    while job["state"] == "running":
        job = client.get(f"/api/jobs/{job['id']}?wait=1").json()
    assert job["state"] == "done", job
    return dict(client.get(f"/api/jobs/{job['id']}/result").json())


def test_files_are_read_asked_and_opened_on_the_shelf(room: Server) -> None:
    with room.client() as client:
        standing = client.post("/api/tunes", json={"text": FIRST_SHEET}).json()["id"]
        assert client.get("/api/library/state").json() == {"tunes": 0, "gaps": 0, "waiting": 1}
        book = f"{SECOND_SHEET}\n{FIRST_SHEET.replace('X:1', 'X:2').replace('A4', 'f4')}"
        files = [("file", ("book.abc", book)), ("file", ("bad.abc", BAD)),
                 ("file", ("again.abc", book)), ("file", ("../../out.abc", SECOND_SHEET))]
        assert client.post("/api/library/files", files=files).json() == {"new": 3}
        result = done(client, "add")
        assert result["added"] == 2 and [one["of"] for one in result["copies"]] == ["Second Wind"]
        [refused] = result["refused"]
        assert refused["tune"] == "bad.abc" and "chord symbols" in refused["reason"]
        # What could not be read is not kept, nor told again; nothing lies elsewhere.
        assert done(client, "add") == {"added": 0, "copies": [], "refused": []}
        assert sorted(path.name for path in (room.data / "sheets").iterdir()) == [
            "book.abc", "out.abc", "shelf"]
        answer = client.get("/api/library", params={"title": "light", "beats": "4.."}).json()
        assert answer["total"] == 6 and answer["unworked"] == 6
        ids = {client.post("/api/library/open", json={"sheet": gap["sheet"], "level": "beginner"}
                           ).json()["id"] for gap in answer["gaps"]}
        assert len(ids) == 2 and standing in ids  # the book's tune came there
        [other] = ids - {standing}
        tunes = {tune["id"]: tune for tune in client.get("/api/tunes").json()["tunes"]}
        assert tunes[other]["title"] == "First Light" and tunes[other]["level"] == "beginner"
        done(client, "add")
        assert client.get("/api/library/state").json()["waiting"] == 0
        near = client.get("/api/library/like", params={"tune": standing, "gap": 1}).json()
        assert near["of"]["bar"] == "1" and near["gaps"][0]["chords"] == ["Dm7"]
        order = client.get("/api/library/order", params={"level": "beginner"}).json()
        assert order["steps"] == [] and order["unworked"] > 0
        client.delete(f"/api/tunes/{other}")
        done(client, "add")
        assert client.get("/api/library", params={"title": "light"}).json()["total"] == 10


@pytest.mark.parametrize(("path", "word"), [
    ("/api/library?device=shels", "shells"), ("/api/library?beats=x", "stretch"),
    ("/api/library?over=Dm7", "IIm7"), ("/api/library?count=0", "listed"),
    ("/api/library?max_difficulty=-1", "difficulty"), ("/api/library/order?known=x", "device"),
    ("/api/library/like?tune=x&gap=y", "gap")])
def test_what_cannot_be_asked_has_one_sentence(room: Server, path: str, word: str) -> None:
    answer = httpx.get(room.address + path, timeout=60)
    assert answer.status_code == 422 and word in answer.json()["error"]


def test_a_teacher_brings_a_folder_and_finds_a_gap(
        room: Server, page: Page, tmp_path: Path) -> None:
    (tmp_path / "wind.abc").write_text(SECOND_SHEET.replace("Second", "Third").replace("c4", "d4"))
    (tmp_path / "bad.abc").write_text(BAD)
    page.goto(f"{room.address}/library")
    page.get_by_text("Bring sheets").click()
    page.set_input_files("#files", [tmp_path / "wind.abc", tmp_path / "bad.abc"])
    expect(page.locator("#brought")).to_contain_text("1 sheet is new.")
    expect(page.locator("#brought .refused")).to_contain_text("the score has no chord symbols")
    page.get_by_label("Title").fill("third")
    expect(page.locator("#found")).to_have_text("4 gaps")
    page.locator("#ask-over-choice").select_option("IIm7 V7")
    expect(page.locator("#found")).to_have_text("1 gap")
    # What is listed is worked out by itself.
    expect(page.locator(".found-devices .hard").first).to_be_visible()
    page.reload()
    expect(page.locator("#found")).to_have_text("1 gap")
    page.get_by_text("Third Wind").click()
    page.wait_for_url("**/tunes/*?gap=3")
    page.get_by_role("link", name="Gaps like this one").click()
    expect(page.locator("#found")).to_have_text("Like bar 3 of Third Wind")
    page.get_by_role("link", name="Teaching order").click()
    page.locator("#steps .lesson-step").first.wait_for()
    page.get_by_role("button", name="Taught: on from here").first.click()
    expect(page.locator("#known .chip").first).to_be_visible()
