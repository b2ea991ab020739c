"""Which piano plays: those of the folder, what is refused, what is kept."""

from __future__ import annotations

import os
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Browser, expect
from tests.web.page_server import Server, running, watched

from fillwright import InputError
from fillwright.sound.synth import bundled_soundfont
from fillwright.web.pianos import OWN, Pianos

pytestmark = pytest.mark.slow


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A data folder with two pianos, one that is none but for its head, and other files."""
    folder = tmp_path / "soundfonts"
    folder.mkdir()
    font = bundled_soundfont().read_bytes()
    first = font.index(b"smpl") + 8
    last = first + int.from_bytes(font[first - 4:first], "little")
    (folder / "Same.sf2").write_bytes(font)
    (folder / "Noise.sf2").write_bytes(
        font[:first] + font[first:last][::-1] + font[last:])
    (folder / "Broken.sf2").write_bytes(b"RIFF\x04\0\0\0sfbk")
    (folder / "notes.sf2").write_text("no SoundFont")
    (folder / "notes.txt").write_text("no SoundFont")
    (folder / "folder.sf2").mkdir()
    return tmp_path


def asked(address: str) -> Server:
    page = httpx.get(address, timeout=60).text
    return Server(address, page.split('name="token" content="')[1].split('"')[0], Path())


def test_what_is_chosen_sounds_and_is_kept(data: Path) -> None:
    with running(data) as address, asked(address).client() as client:
        there = client.get("/api/piano").json()
        assert there["pianos"] == [OWN, "Broken.sf2", "Noise.sf2", "Same.sf2"]
        assert there["played"] == OWN and there["folder"] == str(data / "soundfonts")
        own = client.get("/api/piano/60").content
        for name, said in (("../secret.sf2", "no such piano"), ("notes.sf2", "no such piano"),
                           ("Broken.sf2", "Broken.sf2: not a usable SoundFont")):
            refused = client.put("/api/piano", json={"piano": name})
            assert refused.status_code == 422 and said in refused.json()["error"]
        assert client.put("/api/piano", json={"piano": 7}).status_code == 422
        assert client.get("/api/piano").json()["played"] == OWN
        assert client.put("/api/piano", json={"piano": "Same.sf2"}).json()["played"] == "Same.sf2"
        assert client.get("/api/piano/60").content == own
        client.put("/api/piano", json={"piano": "Noise.sf2"})
        noise = client.get("/api/piano/60").content
        assert noise != own
    with running(data) as address:
        assert httpx.get(f"{address}/api/piano/60", timeout=60).content == noise
        (data / "soundfonts" / "Noise.sf2").unlink()
        assert httpx.get(f"{address}/api/piano", timeout=60).json()["played"] == OWN
        assert httpx.get(f"{address}/api/piano/60", timeout=60).content == own


def test_the_files_are_played_on_it(data: Path) -> None:
    sheet = "X:1\nT:Two bars\nM:4/4\nL:1/4\nK:C\n\"C\"c4|\"G7\"B4|\"C\"c4|]\n"
    with running(data) as address, asked(address).client() as client:
        key = client.post("/api/tunes", json={"text": sheet}).json()["id"]

        def sound() -> bytes:
            job = client.post(f"/api/tunes/{key}/jobs", json={"kind": "flac"}).json()["id"]
            while client.get(f"/api/jobs/{job}?wait=1").json()["state"] == "running":
                pass
            return client.get(f"/api/jobs/{job}/result").content

        own = sound()
        client.put("/api/piano", json={"piano": "Noise.sf2"})
        assert own.startswith(b"fLaC") and own != (other := sound()) and other.startswith(b"fLaC")


def test_one_that_is_named_at_the_start_is_played_first(data: Path, tmp_path: Path) -> None:
    named = tmp_path / "Mine.sf2"
    named.write_bytes((data / "soundfonts" / "Same.sf2").read_bytes())
    pianos = Pianos(data, named)
    assert pianos.played().path == named
    assert [piano.name for piano in pianos.there()][:2] == [OWN, "Mine.sf2"]
    pianos.choose(pianos.named("Noise.sf2"))
    assert pianos.played().name == "Noise.sf2" == Pianos(data).played().name
    assert Pianos(data, named).played().name == "Mine.sf2"
    with pytest.raises(InputError):
        Pianos(data).named("Mine.sf2")


def test_a_choice_that_cannot_be_kept_is_not_made(data: Path) -> None:
    pianos = Pianos(data)
    (data / "piano.part").mkdir()  # in its way
    with pytest.raises(OSError):
        pianos.choose(pianos.named("Noise.sf2"))
    assert pianos.played().name == OWN
    (data / "piano.part").rmdir()
    for text in ("", "[]", '{"piano": 7}', '{"piano": "gone.sf2"}'):
        (data / "piano.json").write_text(text)
        assert Pianos(data).played().name == OWN


def test_it_is_chosen_on_the_page(browser: Browser, data: Path) -> None:
    with running(data) as address, watched(browser) as page:
        key = asked(address).demo()
        page.goto(f"{address}/tunes/{key}")
        expect(page.locator("html[data-piano=ready]")).to_have_count(1, timeout=120_000)
        page.locator("#drawer summary").first.click()
        sound = page.get_by_label("Sound")
        expect(sound.locator("option")).to_have_text(
            ["the built-in one", "Broken", "Noise", "Same"])
        expect(page.locator("#piano-folder")).to_have_text(str(data / "soundfonts"))
        sound.select_option("Broken.sf2")
        expect(page.locator(".notice.error")).to_contain_text("not a usable SoundFont")
        expect(sound).to_have_value(OWN)
        with page.expect_response(f"{address}/api/piano/60") as answer:
            sound.select_option("Noise.sf2")
        assert answer.value.ok
        expect(sound).to_have_value("Noise.sf2")
        expect(page.locator("html[data-piano=ready]")).to_have_count(1, timeout=120_000)
        os.rename(data / "soundfonts" / "Same.sf2", data / "soundfonts" / "Also.sf2")
        page.reload()
        expect(sound).to_have_value("Noise.sf2")
        expect(page.locator("#undo")).to_be_disabled()  # it is no choice of the tune
        page.locator("#drawer summary").first.click()
        expect(sound.locator("option")).to_have_text(
            ["the built-in one", "Also", "Broken", "Noise"])
