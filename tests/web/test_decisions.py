"""What is decided on the page: kept, chosen anew, carried over, merged, told to other pages."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from tests.web.page_server import Server

pytestmark = pytest.mark.slow


class Desk:
    """A demo tune that is in work."""

    def __init__(self, client: httpx.Client, key: str) -> None:
        self.client = client
        self.address = f"/api/tunes/{key}"

    def get(self, path: str = "") -> dict[str, Any]:
        answer = self.client.get(self.address + path)
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    def put(self, change: dict[str, Any], version: int | None = None) -> httpx.Response:
        now = self.get()["version"] if version is None else version
        return self.client.put(self.address, json={"version": now, "change": change})

    def decide(self, change: dict[str, Any]) -> dict[str, Any]:
        answer = self.put(change)
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    def first(self, gap: int, family: str) -> str:
        return str(self.get(f"/gaps/{gap}")["families"][family]["fills"][0]["id"])

    def chorus(self) -> dict[str, Any]:
        """The chorus as it is, made."""
        job = self.client.post(f"{self.address}/jobs", json={"kind": "sound"}).json()
        while job["state"] == "running":
            job = self.client.get(f"/api/jobs/{job['id']}?wait=1").json()
        assert job["state"] == "done", job
        return dict(self.client.get(f"/api/jobs/{job['id']}/result").json())


@pytest.fixture
def desk(server: Server) -> Iterator[Desk]:
    with server.client() as client:
        yield Desk(client, server.demo("umbrella"))


def test_the_sheet_as_it_is_sounds_at_the_places_of_its_notes(desk: Desk) -> None:
    plain = desk.get("/plain")
    assert plain["heads"] == sorted(plain["heads"]) and len(plain["heads"]) > 20
    sung = {note["at"] for note in plain["play"]["notes"] if note["part"] == "melody"}
    assert set(plain["heads"]) == sung


def test_at_which_tempo_a_gap_has_ideas(desk: Desk) -> None:
    """Asked mark by mark, the fastest first; what fits at the tune's tempo fits at the first."""
    tempo = desk.get()["tune"]["tempo"]
    found = desk.get("/gaps/1/tempo")
    assert tempo - 4 <= found["tempo"] < tempo and found["next"] is None
    tried: list[int] = []
    asked = desk.get("/gaps/1/tempo?family=line")
    while asked["next"] is not None:
        tried.append(asked["next"])
        asked = desk.get(f"/gaps/1/tempo?family=line&at={tried[-1]}")
    assert tried == sorted(tried, reverse=True) and len(tried) == len(set(tried))
    assert asked["tempo"] in (None, found["tempo"], *tried)
    for wrong in ("99/tempo?family=line", "1/tempo?family=riff", "1/tempo?at=3", "1/tempo?at=x"):
        assert desk.client.get(f"{desk.address}/gaps/{wrong}").status_code == 422, wrong


def test_what_the_program_would_play_becomes_a_decision(desk: Desk) -> None:
    chosen = {fill["gap"]: fill["id"] for fill in desk.chorus()["fills"]}
    gap = min(chosen)
    tune = desk.decide({"lock": gap})
    assert tune["picks"][str(gap)]["fill"] == chosen[gap] and tune["decided"] == 1
    assert str(gap) not in tune["rest"]


def test_another_for_one_gap_leaves_the_others(desk: Desk) -> None:
    before = {fill["gap"]: fill["id"] for fill in desk.chorus()["fills"]}
    gap = min(before)
    desk.decide({"again": {"gap": gap}})
    after = {fill["gap"]: fill["id"] for fill in desk.chorus()["fills"]}
    assert after.get(gap) != before[gap]
    assert {g: f for g, f in after.items() if g != gap} == {
        g: f for g, f in before.items() if g != gap}
    desk.decide({"again": True})
    assert {fill["gap"]: fill["id"] for fill in desk.chorus()["fills"]} == before


def test_all_that_is_undecided_can_stay_empty(desk: Desk) -> None:
    """In one change, which one step takes back; what is chosen stays."""
    gap = min(fill["gap"] for fill in desk.chorus()["fills"])
    first = desk.first(gap, "comp")
    desk.decide({"pick": {"gap": gap, "fill": first, "moves": []}})
    tune = desk.decide({"empty": True})
    assert tune["decided"] == len(tune["gaps"])
    assert {number: pick["fill"] for number, pick in tune["picks"].items()} == {
        str(number): first if number == gap else "open"
        for number in range(1, len(tune["gaps"]) + 1)}
    made = desk.chorus()
    assert [fill["gap"] for fill in made["fills"]] == [gap]
    assert made["fills"][0]["picked"] and made["fills"][0]["notes"]


def test_the_same_wherever_the_phrase_comes(server: Server) -> None:
    with server.client() as client:
        desk = Desk(client, server.demo("lamp"))
        gaps = desk.get()["gaps"]
        gap, alike = next((gap["number"], gap["alike"]) for gap in gaps if gap["alike"])
        assert gap not in alike
        assert all(gap in gaps[number - 1]["alike"] for number in alike)
        desk.decide({"pick": {"gap": gap, "fill": desk.first(gap, "comp"), "moves": []}})
        tune = desk.decide({"everywhere": {"gap": gap, "how": "same"}})
        there = {str(number) for number in alike} - {str(number) for number in tune["missing"]}
        assert there and there <= set(tune["picks"])
        assert len({tune["picks"][number]["fill"].split("-", 1)[1] for number in
                    (str(gap), *there)}) == 1


def test_a_chord_is_corrected_wherever_it_stands(desk: Desk) -> None:
    before = [chord["symbol"] for gap in desk.get()["gaps"] for chord in gap["chords"]]
    assert before.count("Cm7") > 1
    tune = desk.decide({"chord": {"bar": 0, "onset": "0", "text": "Cm6", "everywhere": True}})
    after = [chord["symbol"] for gap in tune["gaps"] for chord in gap["chords"]]
    assert "Cm7" not in after
    assert after.count("Cm6") == before.count("Cm7") + before.count("Cm6")


def test_two_who_decide_different_gaps_both_hold_and_a_conflict_is_told(desk: Desk) -> None:
    version = desk.get()["version"]
    first = {"gap": 1, "fill": desk.first(1, "line"), "moves": []}
    assert desk.put({"pick": first}, version).status_code == 200
    merged = desk.put({"pick": {"gap": 2, "fill": "open", "moves": []}}, version)
    assert merged.status_code == 200 and merged.json()["merged"]
    assert set(merged.json()["picks"]) == {"1", "2"}
    refused = desk.put({"pick": {"gap": 1, "fill": "open", "moves": []}}, version)
    assert refused.status_code == 409 and refused.json()["error"]
    assert desk.get()["picks"]["1"]["fill"] == first["fill"]


def test_who_listens_hears_of_a_change(desk: Desk, server: Server) -> None:
    version = desk.get()["version"]
    with server.client() as other, other.stream("GET", f"{desk.address}/events") as told:
        lines = (json.loads(line.removeprefix("data: ")) for line in told.iter_lines()
                 if line.startswith("data: "))
        assert next(lines)["version"] == version
        desk.decide({"settings": {"level": "advanced"}})
        assert next(lines)["version"] == version + 1
