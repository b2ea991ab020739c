"""The JSON behind the page: what it answers, and what it refuses with one sentence."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterator
from fractions import Fraction
from typing import Any

import httpx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.tune.sheets import chord, notes, sheet
from tests.web.page_server import Server

from fillwright import Edition
from fillwright.contract import arrangement_document, dump
from fillwright.demo import demo_path
from fillwright.edition.file import edition_text

pytestmark = pytest.mark.slow

SHEET = demo_path("umbrella").read_bytes()


@pytest.fixture(scope="module")
def key(server: Server) -> str:
    return server.demo()


@pytest.fixture(scope="module")
def client(server: Server) -> Iterator[httpx.Client]:
    with server.client() as client:
        yield client


def upload(client: httpx.Client, data: bytes, name: str) -> httpx.Response:
    return client.post("/api/tunes", files={"file": (name, data)})


def one_sentence(answer: httpx.Response) -> str:
    assert answer.status_code == 422, answer.text
    message = str(answer.json()["error"])
    assert "\n" not in message and "Traceback" not in message and 5 < len(message) < 400
    return message


def job(client: httpx.Client, key: str, kind: str, **more: object) -> httpx.Response:
    value = client.post(f"/api/tunes/{key}/jobs", json={"kind": kind, **more}).json()
    while value["state"] == "running":
        value = client.get(f"/api/jobs/{value['id']}?wait=1").json()
    assert value["state"] == "done", value
    return client.get(f"/api/jobs/{value['id']}/result")


def test_a_tune_with_its_gaps_and_chords(client: httpx.Client, key: str) -> None:
    tune = client.get(f"/api/tunes/{key}").json()
    assert tune["tune"]["key"] == "C minor" and tune["settings"]["level"] == "intermediate"
    assert [gap["number"] for gap in tune["gaps"]] == list(range(1, len(tune["gaps"]) + 1))
    pages = client.get(f"/api/tunes/{key}/lead").json()["pages"]
    assert all(f'data-gap="{gap["number"]}"' in "".join(pages) for gap in tune["gaps"])


def test_options_have_pictures_that_hold_all_their_notes(client: httpx.Client, key: str) -> None:
    page = client.get(f"/api/tunes/{key}/gaps/2").json()
    assert set(page["families"]) == {"comp", "reharm", "line"}
    fills = [fill for family in page["families"].values() for fill in family["fills"]]
    assert len(fills) >= 6
    for fill in fills:
        shown = [entry["note"] for picture in fill["pictures"] for entry in picture["keys"]]
        assert sorted(note for note in shown if note >= 0) == list(range(len(fill["notes"])))
        melody = [entry for picture in fill["pictures"] for entry in picture["keys"]
                  if entry["role"] == "melody"]
        assert len(melody) == (page["gap"]["held"] is not None)
        assert fill["most_difficulty"] == 64 and 0 <= fill["ease"] <= 4


def test_more_options_are_the_same_ones_first(client: httpx.Client, key: str) -> None:
    def ids(query: str) -> list[str]:
        page = client.get(f"/api/tunes/{key}/gaps/2{query}").json()
        return [fill["id"] for fill in page["families"]["comp"]["fills"]]
    assert ids("?comp=5")[:3] == ids("") and len(ids("?comp=5")) >= 3


def test_a_phrase_and_who_plays_what(client: httpx.Client, key: str) -> None:
    phrase = client.get(f"/api/tunes/{key}/gaps/2/phrase").json()
    gap = client.get(f"/api/tunes/{key}").json()["gaps"][1]
    assert 'data-gap="2"' in phrase["svg"] and 'id="phrase-n0"' in phrase["svg"]
    assert float(Fraction(gap["onset_quarter"])) in phrase["heads"]
    heard = client.post(f"/api/tunes/{key}/gaps/2/heard", json={"fill": "open"}).json()
    parts = {note["part"] for note in heard["context"]["notes"]}
    assert "melody" in parts <= {"melody", "left", "right"}
    assert {bar["beats"] for bar in heard["context"]["bars"]} == {4}


def test_an_option_is_heard_around_and_alone(client: httpx.Client, key: str) -> None:
    page = client.get(f"/api/tunes/{key}/gaps/2").json()
    fill = page["families"]["comp"]["fills"][0]
    heard = client.post(f"/api/tunes/{key}/gaps/2/heard", json={"fill": fill["id"]}).json()
    context, alone = heard["context"], heard["alone"]
    assert context["length"] > alone["length"] > 0
    assert len(alone["notes"]) == len(fill["notes"]) + (page["gap"]["held"] is not None)
    assert {note["midi"] for note in alone["notes"]} >= {n["midi"] for n in fill["notes"]}
    staff = client.post(f"/api/tunes/{key}/gaps/2/staff", json={"fill": fill["id"]}).json()
    assert all(f'id="{name}"' in staff["svg"] for name in staff["elements"].values())
    indices = {str(note["index"]) for note in alone["notes"]}
    assert indices <= set(staff["elements"])
    # Each note of the fill can be pointed at on its staff.
    assert {(float(Fraction(note["onset_quarter"])), note["midi"]) for note in fill["notes"]} <= {
        (place["at"], place["midi"]) for place in staff["keys"].values()
        if place["role"] == "fill"}


@pytest.mark.parametrize("moves", [[[0, 1]], [[0, -24]], [[0, 24]], [[0, None]], [[0, 7], [1, 0]]])
def test_own_notes_are_checked_heard_and_seen(client: httpx.Client, key: str,
                                              moves: list[list[int | None]]) -> None:
    page = client.get(f"/api/tunes/{key}/gaps/2").json()
    fill = page["families"]["reharm"]["fills"][0]
    body = {"fill": fill["id"], "moves": moves}
    found = client.post(f"/api/tunes/{key}/gaps/2/check", json=body)
    assert found.status_code == 200, found.text
    left_out = sum(by is None for _, by in moves)
    assert len(found.json()["notes"]) == len(fill["notes"]) - left_out
    for what in ("heard", "staff"):
        assert client.post(f"/api/tunes/{key}/gaps/2/{what}", json=body).status_code == 200


def test_the_fills_offered_break_no_rule(client: httpx.Client, key: str) -> None:
    page = client.get(f"/api/tunes/{key}/gaps/2").json()
    for family in page["families"].values():
        for fill in family["fills"]:
            found = client.post(f"/api/tunes/{key}/gaps/2/check", json={"fill": fill["id"]})
            assert found.json()["findings"] == [], fill["device"]


def test_a_far_note_is_out_of_reach(client: httpx.Client, key: str) -> None:
    page = client.get(f"/api/tunes/{key}/gaps/2").json()
    fill = next(fill for fill in page["families"]["comp"]["fills"]
                if sum(note["hand"] == "left" for note in fill["notes"]) > 1)
    low = next(i for i, note in enumerate(fill["notes"]) if note["hand"] == "left")
    found = client.post(f"/api/tunes/{key}/gaps/2/check",
                        json={"fill": fill["id"], "moves": [[low, -15]]}).json()
    assert found["findings"] and found["reasons"][0].startswith("A note of this fill was changed")


def test_picks_stay_through_a_change_of_key_and_are_in_the_chorus(client: httpx.Client,
                                                                  server: Server) -> None:
    key = server.demo()
    moved = server.demo()
    client.put(f"/api/tunes/{moved}", json={"version": 1, "change": {"settings": {
        "key": "A minor"}}}).raise_for_status()
    here, there = (client.get(f"/api/tunes/{one}/gaps/1?line=6").json()["families"]["line"]["fills"]
                   for one in (key, moved))
    fill = next(fill for fill in here if fill["id"] in {other["id"] for other in there})
    for version, change in enumerate((
            {"pick": {"gap": 1, "fill": fill["id"], "moves": [[0, None]]}},
            {"pick": {"gap": 2, "fill": "open"}}, {"settings": {"key": "A minor"}}), 1):
        answer = client.put(f"/api/tunes/{key}", json={"version": version, "change": change})
        assert answer.status_code == 200, answer.text
    made = job(client, key, "sound").json()
    assert made["lost"] == [] and 2 in made["open"]
    assert made["fills"][0]["id"] == fill["id"] and made["fills"][0]["picked"]


def test_a_pick_that_is_gone_is_named_and_costs_nothing_else(client: httpx.Client,
                                                             server: Server) -> None:
    key = server.demo()
    fill = client.get(f"/api/tunes/{key}/gaps/1").json()["families"]["line"]["fills"][0]
    for version, change in enumerate((
            {"pick": {"gap": 1, "fill": fill["id"]}},
            {"settings": {"without": [fill["device"]]}}), 1):
        assert client.put(f"/api/tunes/{key}", json={"version": version, "change": change}
                          ).status_code == 200
    made = job(client, key, "sound").json()
    assert len(made["lost"]) == 1 and "gap 1" in made["lost"][0]


def test_files_to_take_away(client: httpx.Client, key: str) -> None:
    for kind, magic in (("json", b"{"), ("mid", b"MThd"), ("flac", b"fLaC"),
                        ("blank.pdf", b"%PDF"), ("hands.pdf", b"%PDF"),
                        ("musicxml", b"<?xml")):
        answer = job(client, key, kind)
        assert answer.content.startswith(magic)
        assert "attachment" in answer.headers["content-disposition"]


def test_pages_as_chosen_with_the_rights_of_the_sheet(client: httpx.Client) -> None:
    sheet = demo_path("umbrella").read_bytes().replace(
        b"<identification>", b"<identification><rights>For everyone</rights>")
    assert b"For everyone" in sheet
    key = str(upload(client, sheet, "rights.musicxml").json()["id"])
    chosen = {"paper": "Letter", "hands": True, "counts": False}
    pages = job(client, key, "pages", printing=chosen).json()["pages"]
    assert all("2159 2794" in page and "For everyone" in page for page in pages)
    assert 'class="hand-strip"' in "".join(pages) and "aloud" not in "".join(pages)
    for path in ("lead", "blank"):
        page = client.get(f"/api/tunes/{key}/{path}",
                          params={"printing": json.dumps({"large": True})}).json()["pages"][0]
        plain = client.get(f"/api/tunes/{key}/{path}").json()["pages"][0]
        assert "For everyone" in page and "For everyone" in plain and page != plain
        for wrong in ("{", "[]", '{"paper": "A3"}', '{"colour": 1}'):
            one_sentence(client.get(f"/api/tunes/{key}/{path}", params={"printing": wrong}))
    one_sentence(client.post(f"/api/tunes/{key}/jobs", json={"kind": "pages", "printing": 1}))


def test_work_can_be_cancelled(client: httpx.Client, server: Server) -> None:
    key = server.demo("snow")
    started = client.post(f"/api/tunes/{key}/jobs", json={"kind": "flac"}).json()
    client.delete(f"/api/jobs/{started['id']}")
    value = started
    while value["state"] == "running":
        value = client.get(f"/api/jobs/{started['id']}?wait=1").json()
    assert value["state"] == "cancelled"
    assert client.get(f"/api/jobs/{started['id']}/result").status_code == 409
    assert client.get(f"/api/tunes/{key}/gaps/1").status_code == 200


# --- what is refused --------------------------------------------------------------------------


def bomb() -> bytes:
    """An archive of 60 kB that unpacks to 60 MB."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", '<container><rootfiles><rootfile '
                         'full-path="score.xml"/></rootfiles></container>')
        archive.writestr("score.xml", b" " * 60 * 1024 * 1024)
    return buffer.getvalue()


LAUGHS = (b'<?xml version="1.0"?><!DOCTYPE s [<!ENTITY a "ha">'
          + b"".join(b'<!ENTITY b%d "%s">' % (n, b"&%s;" % (b"b%d" % (n - 1) if n else b"a") * 10)
                     for n in range(9)) + b"]><score-partwise>&b8;</score-partwise>")
OUTSIDE = (b'<?xml version="1.0"?><!DOCTYPE s [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
           b"<score-partwise><work><work-title>&x;</work-title></work></score-partwise>")


@pytest.mark.parametrize(("data", "name"), [
    (b"", "empty.musicxml"), (b"\0" * 1000, "zeros.mxl"), (SHEET[:3000], "cut.musicxml"),
    (b"PK\x03\x04" + b"\xff" * 400, "broken.mxl"), (LAUGHS, "laughs.musicxml"),
    (OUTSIDE, "outside.musicxml"), (b"<html><body>no</body></html>", "page.html"),
    (b"X:1\nK:C\n", "bare.abc"), (b"MThd" + b"\0" * 30, "notes.mid"),
    (b"<a>" * 20000, "deep.musicxml"), ("\N{PILE OF POO}".encode() * 50, "../../etc/passwd"),
    (SHEET.replace(b"<duration>6<", b"<duration>-6<"), "negative.musicxml")])
def test_hostile_files_get_one_sentence(client: httpx.Client, data: bytes, name: str) -> None:
    message = one_sentence(upload(client, data, name))
    assert "root:" not in message and "/etc" not in message


def test_an_archive_that_explodes(client: httpx.Client) -> None:
    one_sentence(upload(client, bomb(), "bomb.mxl"))


def test_text_in_a_title_stays_text(client: httpx.Client) -> None:
    title = '</text><script>alert(1)</script>"\'&'
    escaped = title.replace("&", "&amp;").replace("<", "&lt;").encode()
    data = SHEET.replace(b"Wrong Umbrella", escaped)
    key = upload(client, data, "title.musicxml").json()["id"]
    assert title in client.get(f"/api/tunes/{key}").json()["title"]
    assert "<script>alert" not in client.get(f"/tunes/{key}").text
    pages = client.get(f"/api/tunes/{key}/lead").json()["pages"]
    assert all("<script" not in page for page in pages)
    assert "&lt;script&gt;" in pages[0] or "script" not in pages[0]


@settings(max_examples=15, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_a_damaged_file_is_read_or_refused_but_never_an_error(client: httpx.Client, data: Any
                                                              ) -> None:
    damaged = bytearray(SHEET)
    for _ in range(data.draw(st.integers(1, 6))):
        place = data.draw(st.integers(0, len(damaged) - 1))
        change = data.draw(st.sampled_from(["flip", "cut", "double"]))
        if change == "flip":
            damaged[place] = data.draw(st.integers(0, 255))
        elif change == "cut":
            del damaged[place:place + data.draw(st.integers(1, 200))]
        else:
            damaged[place:place] = damaged[place:place + 100]
    answer = upload(client, bytes(damaged), "damaged.musicxml")
    if answer.status_code == 201:
        key = answer.json()["id"]
        assert client.get(f"/api/tunes/{key}").status_code in (200, 422)
        client.delete(f"/api/tunes/{key}")
    else:
        one_sentence(answer)


@settings(max_examples=15, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.sampled_from(['"C7"', '"Am', "c2", "z4", "|", ":|", "[1", "|]", "(3", "-", "^",
                                 "{", "!x!", "&", "K:G", "\n", "[V:2]", "w:", "%", "é", "\x00"]),
                max_size=40))
def test_any_text_is_a_tune_or_gets_one_sentence(client: httpx.Client, parts: list[str]) -> None:
    answer = client.post("/api/tunes", json={"text": "X:1\nL:1/4\nK:C\n" + " ".join(parts)})
    if answer.status_code == 201:
        key = answer.json()["id"]
        assert client.get(f"/api/tunes/{key}").status_code in (200, 422)
        client.delete(f"/api/tunes/{key}")
    else:
        one_sentence(answer)


@pytest.mark.parametrize("change", [
    {}, {"nothing": 1}, {"settings": {"level": "expert"}}, {"settings": {"tempo": 5}},
    {"settings": {"tempo": "1e9"}}, {"settings": {"key": "H minor"}}, {"settings": []},
    {"settings": {"colour": "red"}}, {"settings": {"without": ["a\nb"]}},
    {"settings": {"without": ["banjo roll"]}},
    {"pick": {"gap": 1, "fill": "no such fill"}}, {"pick": {"gap": 10 ** 9, "fill": "open"}},
    {"pick": {"gap": 1, "fill": "1-comp-x", "moves": [[0, 99]]}}, {"unpick": "all"},
    {"chord": {"bar": 0, "onset": "0", "text": "Cmxj"}}, {"chord": {"bar": -1, "onset": "0",
                                                                    "text": "C"}},
    {"chord": {"bar": 0, "onset": "1/0", "text": "C"}},
    {"chord": {"bar": 9999, "onset": "0", "text": "C"}}, {"chord": {"bar": 0, "onset": "0"}},
    {"chord": {"bar": 0, "onset": "4", "text": "C"}},
    {"chord": {"bar": 0, "onset": "1", "text": "C", "from": [0, "0"]}},
    {"settings": {"choruses": 3}}, {"settings": {"introduction": 1}},
    {"settings": {"ending": True}}, {"settings": {"mix": {"comp": 0}}},
    {"settings": {"mix": {"comp": -1, "line": 1}}}, {"settings": {"mix": {"banjo": 1}}}])
def test_changes_that_make_no_sense(client: httpx.Client, key: str, change: Any) -> None:
    version = client.get(f"/api/tunes/{key}").json()["version"]
    one_sentence(client.put(f"/api/tunes/{key}", json={"version": version, "change": change}))
    assert client.get(f"/api/tunes/{key}").json()["version"] == version


def test_an_unknown_device_is_told_with_those_near_it(client: httpx.Client, key: str) -> None:
    version = client.get(f"/api/tunes/{key}").json()["version"]
    change = {"settings": {"without": ["shells", "scale rn"]}}
    answer = client.put(f"/api/tunes/{key}", json={"version": version, "change": change})
    assert "'scale rn' is no device; the nearest are 'scale run'" in answer.json()["error"]


def places(tune: Any) -> list[tuple[str, str]]:
    return [(held["onset_quarter"], held["symbol"]) for held in tune["chords"]]


def test_a_chord_that_was_spread_over_a_note_can_be_moved(client: httpx.Client) -> None:
    stacked = chord("Bb", "minor-seventh") + chord("Eb", "dominant") + notes("C5:16")
    text = sheet([stacked, chord("Ab") + notes("C5:16")]).decode()
    key = client.post("/api/tunes", json={"text": text}).json()["id"]
    tune = client.get(f"/api/tunes/{key}").json()
    assert any("put on beats 1 and 3" in warning for warning in tune["warnings"])
    change = {"chord": {"bar": 0, "onset": "3", "text": "Eb7", "from": {"bar": 0, "onset": "2"}}}
    moved = client.put(f"/api/tunes/{key}", json={"version": 1, "change": change}).json()
    assert places(moved) == [("0", "Bbm7"), ("3", "Eb7"), ("4", "Ab")]
    back = client.post(f"/api/tunes/{key}/undo", json={"version": moved["version"]}).json()
    assert places(back) == [("0", "Bbm7"), ("2", "Eb7"), ("4", "Ab")]  # it was one step


def test_the_last_chord_cannot_be_taken_away(client: httpx.Client) -> None:
    text = 'X:1\nT:One Chord\nL:1/4\nK:C\n"C6"c4|c4|]\n'
    key = client.post("/api/tunes", json={"text": text}).json()["id"]
    change = {"chord": {"bar": 0, "onset": "0", "text": ""}}
    one_sentence(client.put(f"/api/tunes/{key}", json={"version": 1, "change": change}))


@pytest.mark.parametrize("body", [b"", b"[", b"[]", b"null", b"\xff", b'{"a":' * 5000, b"1e999"])
def test_bodies_that_are_no_objects(client: httpx.Client, key: str, body: bytes) -> None:
    answer = client.put(f"/api/tunes/{key}", content=body,
                        headers={"content-type": "application/json"})
    assert answer.status_code == 400 and "Traceback" not in answer.text


@pytest.mark.parametrize("path", ["/api/tunes/none", "/api/tunes/none/lead", "/api/jobs/none",
                                  "/api/tunes/none/gaps/1", "/api/nothing"])
def test_what_is_not_there(client: httpx.Client, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404 and set(answer.json()) == {"error"}
    assert client.get("/tunes/none").status_code == 404


def test_an_edition_is_taken_away_and_brought_again(client: httpx.Client) -> None:
    key = client.post("/api/tunes", json={"demo": "umbrella"}).json()["id"]
    changes: list[dict[str, Any]] = [
        {"settings": {"level": "advanced", "tempo": "90"}},
        {"chord": {"bar": 0, "onset": "0", "text": "Ebmaj7"}}, {"pick": {"gap": 2, "fill": "open"}}]
    for version, change in enumerate(changes, 1):
        client.put(f"/api/tunes/{key}", json={"version": version, "change": change})
    answer = client.get(f"/api/tunes/{key}/edition")
    assert "umbrella.edition.json" in answer.headers["content-disposition"]
    other = upload(client, answer.content, "umbrella.edition.json").json()["id"]
    one, two = (client.get(f"/api/tunes/{tune}").json() for tune in (key, other))
    assert one["sheet"] == two["sheet"] and one["picks"] == two["picks"] != {}
    assert two["title"] == one["title"] and two["name"] == "umbrella.musicxml"
    assert client.get(f"/api/tunes/{other}/edition").content == answer.content
    named = answer.json()
    del named["sheet"]["text"]
    assert "only names" in one_sentence(upload(client, json.dumps(named).encode(), "e.json"))
    named["sheet"]["base64"] = "AAAA"
    one_sentence(upload(client, json.dumps(named).encode(), "e.json"))


def test_the_whole_shelf_is_taken_away_and_brought_again(client: httpx.Client, key: str) -> None:
    answer = client.get("/api/shelf")
    tunes = len(client.get("/api/tunes").json()["tunes"])
    assert len(answer.json()["tunes"]) == tunes
    again = client.post("/api/shelf", content=answer.content,
                        headers={"content-type": "application/json"}).json()
    assert again == {"new": 0, "there": tunes - len(again["refused"]),
                     "refused": again["refused"]}
    assert len(client.get("/api/tunes").json()["tunes"]) == tunes
    one_sentence(client.post("/api/shelf", content=b"{}",
                             headers={"content-type": "application/json"}))


def test_the_page_makes_the_bytes_that_python_makes(client: httpx.Client) -> None:
    text = b'X:1\nT:Doors\nM:4/4\nL:1/4\nQ:1/4=120\nK:F\n"Gm7"d3 c|"C7"B4|"F6"A4|]\n'
    edition = Edition(text, "doors.abc").with_settings({"level": "advanced"})
    first = edition.arrange().fills[0]
    edition = edition.with_choice(first.gap, first.id, [(0, 12)]).with_chord(1, "0", "C9")
    answer = upload(client, edition_text(edition).encode(), "doors.edition.json")
    page = job(client, answer.json()["id"], "json").content
    assert page == dump(arrangement_document(edition.arrange())).encode()
