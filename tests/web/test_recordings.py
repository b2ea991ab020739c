"""Recordings on the page: brought and recorded, listened to, kept as takes; by an ear of the tests'
own, in the processes of the server."""

from __future__ import annotations

import io
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import numpy as np
import pytest
import soundfile  # type: ignore[import-untyped]
from playwright.sync_api import Browser, Page, expect
from tests.demo_arrangements import arranged
from tests.take.coded import write_coded
from tests.take.perturb import Wish
from tests.take.perturb import played as perturbed
from tests.web.page_server import CHROMIUM, CHROMIUM_OPTIONS, Server, started, watched
from tests.web.test_access import audit
from tests.web.test_takes import bring, job

from fillwright.take import take_from_bytes

pytestmark = pytest.mark.slow

KEYS = (74, 72, 70, 69, 67)


@pytest.fixture(scope="module")
def tones(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the microphone is given: five tones, three a second apart, again and again."""
    rate = 48_000
    sound = np.zeros(int(rate * 2.5))
    for place, key in enumerate(KEYS):
        time_ = np.arange(int(0.3 * rate)) / rate
        at = int((0.1 + place * 0.5) * rate)
        sound[at:at + len(time_)] = 0.5 * np.sin(2 * np.pi * 440 * 2 ** ((key - 69) / 12) * time_)
    path = tmp_path_factory.mktemp("sound") / "tones.wav"
    soundfile.write(path, sound, rate, subtype="PCM_16")
    return path


@pytest.fixture(scope="module")
def page(browser: Browser, tones: Path) -> Iterator[Page]:
    """A browser whose microphone hears the tones."""
    hearing = browser.browser_type.launch(
        executable_path=CHROMIUM, args=[
            *CHROMIUM_OPTIONS, "--use-fake-ui-for-media-stream",
            "--use-fake-device-for-media-stream", f"--use-file-for-fake-audio-capture={tones}"])
    with watched(hearing) as page:
        yield page
    hearing.close()


@pytest.fixture(scope="module")
def rate(page: Page) -> int:
    """Samples a second of what the browser records."""
    return int(page.evaluate("new AudioContext().sampleRate"))


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory, rate: int) -> Iterator[Server]:
    data = tmp_path_factory.mktemp("hearing")
    with started("tests.web.hearing_server", str(data), str(rate)) as address:
        text = httpx.get(address, timeout=60).text
        yield Server(address, text.split('name="token" content="')[1].split('"')[0], data)


@pytest.fixture(scope="module")
def tune(server: Server) -> str:
    return server.demo()


def listened(client: httpx.Client, answer: httpx.Response) -> httpx.Response:
    assert answer.status_code == 202, answer.text
    value = answer.json()
    while value["state"] == "running":
        value = client.get(f"/api/jobs/{value['id']}?wait=1").json()
    return client.get(f"/api/jobs/{value['id']}/result")


def test_a_recording_becomes_a_take_and_is_gone(server: Server, tune: str, rate: int,
                                                tmp_path: Path) -> None:
    known = perturbed(arranged("umbrella"), Wish(seed=4))
    data = write_coded(tmp_path / "memo.wav", known.take, rate).read_bytes()
    with server.client() as client:
        take = listened(client, bring(client, tune, data, "memo.wav")).json()
        takes = f"/api/tunes/{tune}/takes"
        assert [one["name"] for one in client.get(takes).json()["takes"]] == ["memo.wav"]
        file = client.get(f"{takes}/{take['id']}")
        assert "memo.mid" in file.headers["content-disposition"]
        kept = take_from_bytes(file.content, "memo.mid")
        assert sorted(s.midi for s in kept.strokes) == sorted(s.midi for s in known.take.strokes)
        report = job(client, f"{takes}/{take['id']}", "report").json()
        assert any("heard from a recording" in words for words in report["warnings"])
        assert {note["status"] for note in report["melody"]} == {"played"}
        client.delete(f"{takes}/{take['id']}")
    assert not list((server.data / "listening").iterdir())


def test_what_is_no_recording_is_said_and_a_job_can_be_stopped(server: Server, tune: str, rate: int
                                                               ) -> None:
    takes = f"/api/tunes/{tune}/takes"
    silent = io.BytesIO()
    soundfile.write(silent, np.zeros(rate), rate, format="WAV")
    with server.client() as client:
        for data, words in ((b"no sound", ""), (silent.getvalue(), "nothing sounds in it")):
            value = bring(client, tune, data, "memo.wav").json()
            while value["state"] == "running":
                value = client.get(f"/api/jobs/{value['id']}?wait=1").json()
            assert value["state"] == "failed" and words in value["message"]
        long = io.BytesIO()
        soundfile.write(long, np.full(60 * rate, 0.01), rate, format="WAV")
        value = bring(client, tune, long.getvalue(), "long.wav").json()
        client.delete(f"/api/jobs/{value['id']}")
        assert client.get(f"/api/jobs/{value['id']}").json()["state"] == "cancelled"
        assert client.get(takes).json()["takes"] == []
    for _ in range(100):
        if not list((server.data / "listening").iterdir()):
            break
        time.sleep(0.1)
    assert not list((server.data / "listening").iterdir())


def test_the_room_is_recorded_by_the_microphone(server: Server, tune: str, page: Page) -> None:
    page.goto(f"{server.address}/tunes/{tune}?view=take")
    panel = page.locator("#view-take")
    expect(panel.get_by_text("A recording is listened to here")).to_be_visible()
    panel.get_by_role("button", name="Record the room").click()
    expect(panel.get_by_text("Recording: 4 s")).to_be_visible()
    panel.get_by_role("button", name="Stop and listen").click()
    name = panel.locator(".take-name")
    expect(name).to_have_count(1)
    with server.client() as client:
        take = client.get(f"/api/tunes/{tune}/takes").json()["takes"][0]
        assert take["name"].startswith("Take of ") and take["name"].endswith(".wav")
        kept = take_from_bytes(client.get(f"/api/tunes/{tune}/takes/{take['id']}").content, "a.mid")
    assert len(kept.strokes) >= 5 and {stroke.midi for stroke in kept.strokes} <= set(KEYS)
    expect(panel).to_have_attribute("aria-busy", "false")
    audit(page)
    page.goto("about:blank")
