"""The file of the tunes over the years: other versions, damage, backups, a full disk."""

from __future__ import annotations

import asyncio
import json
import os
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import pytest
from tests.hostile.disk import fill_up, small_disk

from fillwright import Edition, InputError, Options
from fillwright.edition.decisions import Decisions
from fillwright.web.app import create_app
from fillwright.web.database import SCHEMA_VERSION
from fillwright.web.safekeeping import KEPT_BACKUPS, back_up, backups_of
from fillwright.web.shelf_file import read_shelf, shelf_text
from fillwright.web.store import Store
from fillwright.web.trouble import StoreTrouble

# Written by the first program, which kept no version: two tunes, one with three changes of
# which the last was taken back.
FIRST = """
CREATE TABLE states (
    tune TEXT NOT NULL REFERENCES tunes(id) ON DELETE CASCADE, place INTEGER NOT NULL,
    what TEXT NOT NULL, value TEXT NOT NULL, PRIMARY KEY (tune, place)) WITHOUT ROWID;
INSERT INTO "states" VALUES('2f37f4fe49ed3511',0,'','{"settings": {"level": "intermediate",
 "hand": "medium", "tempo": null, "feel": null, "octave": "auto", "key": null, "without": [],
 "choruses": 1, "introduction": 0, "ending": 0, "mix": {"comp": 1, "reharm": 1, "line": 1}},
 "chords": [], "picks": {}}');
INSERT INTO "states" VALUES('2f37f4fe49ed3511',1,'settings: level','{"settings": {"level":
 "advanced", "hand": "medium", "tempo": "185/2", "feel": null, "octave": "auto", "key": null,
 "without": ["shells"], "choruses": 1, "introduction": 0, "ending": 0, "mix": {"comp": 1,
 "reharm": 1, "line": 1}}, "chords": [], "picks": {}}');
INSERT INTO "states" VALUES('2f37f4fe49ed3511',2,'chord F#7','{"settings": {"level": "advanced",
 "hand": "medium", "tempo": "185/2", "feel": null, "octave": "auto", "key": null, "without":
 ["shells"], "choruses": 1, "introduction": 0, "ending": 0, "mix": {"comp": 1, "reharm": 1,
 "line": 1}}, "chords": [[1, "0", "F#7"]], "picks": {}}');
INSERT INTO "states" VALUES('2f37f4fe49ed3511',3,'choice for gap 1','{"settings": {"level":
 "advanced", "hand": "medium", "tempo": "185/2", "feel": null, "octave": "auto", "key": null,
 "without": ["shells"], "choruses": 1, "introduction": 0, "ending": 0, "mix": {"comp": 1,
 "reharm": 1, "line": 1}}, "chords": [[1, "0", "F#7"]], "picks": {"1": {"fill": "open",
 "moves": []}}}');
INSERT INTO "states" VALUES('db168ae970af5721',0,'','{"settings": {}, "chords": [], "picks": {}}');
CREATE TABLE tunes (
    id TEXT PRIMARY KEY, title TEXT NOT NULL, name TEXT NOT NULL, data BLOB NOT NULL,
    version INTEGER NOT NULL, place INTEGER NOT NULL, changed_sec REAL NOT NULL);
INSERT INTO "tunes" VALUES('2f37f4fe49ed3511','Short','short.abc',X'583A310A',5,2,1795886886.9);
INSERT INTO "tunes" VALUES('db168ae970af5721','Other','other.mxl',X'0001504B',1,0,1795886887.0);
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "fillwright.sqlite3"


def with_tunes(path: Path, count: int = 30) -> list[str]:
    """A store of tunes of several pages each."""
    store = Store(path)
    keys = []
    for number in range(count):
        keys.append(store.add(f"Tune {number}", Edition(bytes([number]) * 900, "t.abc")))
        store.put(keys[-1], 1, Decisions(Options(level="advanced")), "level")
    store.close()
    return keys


def value_of(path: Path, question: str) -> Any:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(question).fetchone()[0]


def changed(path: Path, statement: str, *values: Any) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(statement, values)


# --- versions ---------------------------------------------------------------------------------


def test_data_of_the_first_version_opens(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(FIRST)
    store = Store(path)
    assert value_of(path, "PRAGMA user_version") == SCHEMA_VERSION >= 1
    assert [entry["title"] for entry in store.shelf()] == ["Other", "Short"]
    record = store.get("2f37f4fe49ed3511")
    assert (record.data, record.version) == (b"X:1\n", 5)
    assert (record.undo, record.redo) == ("chord F#7", "choice for gap 1")
    assert record.state.options.level == "advanced" and record.state.options.tempo == 92.5
    assert [change.text for change in record.state.chords] == ["F#7"]
    assert store.step(record.id, 5, 1).state.picks[0][1].fill == "open"


def test_a_file_of_a_newer_program_is_not_touched(path: Path) -> None:
    with_tunes(path, 1)
    changed(path, f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    before = path.read_bytes()
    with pytest.raises(StoreTrouble, match="newer version of this program"):
        Store(path)
    assert path.read_bytes() == before


def test_settings_of_a_newer_program_are_kept(path: Path) -> None:
    key, = with_tunes(path, 1)
    value = json.loads(value_of(path, "SELECT value FROM states WHERE place = 1"))
    value["settings"]["pedals"] = "all"
    changed(path, "UPDATE states SET value = ? WHERE place = 1", json.dumps(value))
    store = Store(path)
    record = store.get(key)
    assert record.state.options.level == "advanced" and "'pedals'" in record.state.warnings[0]
    store.put(key, record.version, record.state.with_settings({"level": "beginner"}), "level")
    last = json.loads(value_of(path, "SELECT value FROM states WHERE place = 2"))
    assert last["settings"]["pedals"] == "all" and last["settings"]["level"] == "beginner"


@pytest.mark.parametrize("text", ["", "{", "[]", '{"settings": {"level": 7}}', "\x00" * 50])
def test_a_damaged_state_gives_way_to_the_one_before(path: Path, text: str) -> None:
    key, = with_tunes(path, 1)
    store = Store(path)
    store.put(key, 2, Decisions(Options(level="beginner")), "level")
    changed(path, "UPDATE states SET value = ? WHERE place = 2", text)
    record = store.get(key)
    assert record.state.options.level == "advanced" and "could not be read" in record.note
    changed(path, "UPDATE states SET value = ?", text)
    assert store.get(key).state == Decisions() and store.get(key).note
    record = store.put(key, 3, Decisions(Options(level="beginner")), "level")
    assert record.state.options.level == "beginner" and not record.note


# --- damage -----------------------------------------------------------------------------------


def scribble(path: Path, *tables: str) -> None:
    """Overwrite a page in the middle of each table."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        size = connection.execute("PRAGMA page_size").fetchone()[0]
        pages = {table: [row[0] for row in connection.execute(
            "SELECT pageno FROM dbstat WHERE name = ? AND pagetype = 'leaf'", (table,))]
            for table in tables}
    data = bytearray(path.read_bytes())
    for numbers in pages.values():
        at = (numbers[len(numbers) // 2] - 1) * size
        data[at:at + size] = b"\xee" * size
    path.write_bytes(bytes(data))


def test_a_damaged_file_is_saved_row_by_row(path: Path) -> None:
    keys = with_tunes(path)
    scribble(path, "tunes")
    store = Store(path)
    there = {entry["id"] for entry in store.shelf()}
    lost = len(keys) - len(there)
    assert 0 < lost < len(keys) / 2 and there < set(keys)
    assert sum("it is lost" in sentence for sentence in store.said) == lost
    assert list(path.parent.glob("fillwright.damaged-*.sqlite3"))
    for key in there:
        assert store.get(key).state.options.level == "advanced"
        number = keys.index(key)
        assert store.get(key).data == bytes([number]) * 900
    store.close()
    assert Store(path).said == []


def test_what_is_lost_is_taken_from_the_backup(path: Path) -> None:
    keys = with_tunes(path)
    assert back_up(path) is not None
    store = Store(path)
    late = store.add("Late", Edition(b"late", "t.abc"))
    store.close()
    scribble(path, "tunes", "states")
    store = Store(path)
    assert {entry["id"] for entry in store.shelf()} >= set(keys)
    assert any("as it was in fillwright-" in sentence for sentence in store.said)
    for key in keys:
        assert store.get(key).state.options.level == "advanced", store.said
    assert late in {entry["id"] for entry in store.shelf()} or any(
        "lost" in sentence for sentence in store.said)


def test_a_tune_that_was_taken_off_does_not_come_back(path: Path) -> None:
    keys = with_tunes(path, 12)
    back_up(path)
    store = Store(path)
    store.remove(keys[3])
    store.close()
    scribble(path, "states")
    store = Store(path)
    assert {entry["id"] for entry in store.shelf()} == set(keys) - {keys[3]}
    assert all(store.get(key).state.options.level == "advanced" for key in keys if key != keys[3])


def test_backups_are_made_when_due_and_the_last_few_kept(path: Path) -> None:
    key, = with_tunes(path, 1)
    store = Store(path)
    made = []
    for day in range(KEPT_BACKUPS + 3):
        now = path.stat().st_mtime + 90_000 * day
        store.put(key, 2 + day, Decisions(Options(without=(str(day),))), "x")
        for part in path.parent.glob("fillwright.sqlite3*"):
            os.utime(part, (now, now))
        made.append(back_up(path, now + 10))
        assert made[-1] is not None
        os.utime(made[-1], (now + 10, now + 10))
        assert back_up(path, now + 3600) is None  # not due
        assert back_up(path, now + 90_000) is None  # nothing has changed
    kept = backups_of(path)
    assert kept == list(reversed(made))[:KEPT_BACKUPS]
    assert Store(kept[0]).get(key).state.options.without == (str(KEPT_BACKUPS + 2),)


# --- errors -----------------------------------------------------------------------------------


def asked(folder: Path, method: str, target: str, token: bool = True) -> httpx.Response:
    """Ask the application in this process, without workers."""
    async def main() -> httpx.Response:
        guard, service = create_app(folder, ["127.0.0.1"], 1)
        headers = {"x-token": guard.token} if token else {}
        transport = httpx.ASGITransport(app=guard)
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as client:
            answer = await client.request(method, target, headers=headers)
        await service.close()
        return answer

    result: list[httpx.Response] = []
    thread = threading.Thread(target=lambda: result.append(asyncio.run(main())))
    thread.start()
    thread.join()
    return result[0]


def test_a_locked_file_is_told_in_one_sentence(path: Path, monkeypatch: pytest.MonkeyPatch
                                               ) -> None:
    key, = with_tunes(path, 1)
    monkeypatch.setattr("fillwright.web.database._WAIT_SEC", 0.05)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = asked(path.parent, "DELETE", f"/api/tunes/{key}")
    assert answer.status_code == 503
    assert answer.json() == {"error": "Another program holds the file of the tunes; try again in "
                             "a moment."}


def test_damage_while_it_runs_is_told_in_one_sentence(path: Path) -> None:
    keys = with_tunes(path)
    store = Store(path)
    scribble(path, "tunes")
    said = set()
    for key in keys:
        try:
            store.get(key)
        except StoreTrouble as trouble:
            said.add((trouble.kind, trouble.status))
    assert said == {("damaged", 500)}


@pytest.fixture
def full_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 2 MB in memory, where this system lets us make one."""
    place = tmp_path / "disk"
    with small_disk(place) as lacking:
        if lacking:
            pytest.skip(lacking)
        yield place


def test_on_a_full_disk_tunes_can_be_taken_off(full_disk: Path) -> None:
    path = full_disk / "fillwright.sqlite3"
    keys = with_tunes(path, 8)
    store = Store(path)
    fill_up(full_disk / "other")
    with pytest.raises(StoreTrouble, match="The disk is full") as told:
        for _ in range(400):
            store.add("More", Edition(b"x" * 9000, "t.abc"))
    assert told.value.status == 507
    for key in keys[:4]:
        store.remove(key)
    left = {entry["id"] for entry in store.shelf()}
    assert not left & set(keys[:4]) and set(keys[4:]) <= left
    store.close()
    fill_up(full_disk / "another")
    answer = asked(full_disk, "DELETE", f"/api/tunes/{keys[4]}")  # started on a full disk
    assert answer.status_code == 200, answer.text


# --- everything as one file -------------------------------------------------------------------


def test_everything_goes_out_and_comes_in_again(path: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(FIRST)
    store = Store(path)
    text = shelf_text(store.everything())
    other = Store(tmp_path / "other" / "fillwright.sqlite3")
    assert other.add_all(read_shelf(text.encode(), "shelf")) == 2
    assert shelf_text(other.everything()) == text
    record = other.get("2f37f4fe49ed3511")
    assert (record.undo, record.redo) == ("chord F#7", "choice for gap 1")
    assert other.add_all(read_shelf(text.encode(), "shelf")) == 0  # they are there already
    other.put(record.id, record.version, Decisions(), "another way")
    assert other.add_all(read_shelf(text.encode(), "shelf")) == 1
    assert [entry["title"] for entry in other.shelf()].count("Short") == 2


@pytest.mark.parametrize(("change", "says"), [
    ({"format": "x"}, "no shelf"), ({"version": 2}, "version 2"), ({"tunes": 1}, "no tunes"),
    ({"tunes": [{}]}, "tune 1: it has no sheet"),
    ({"tunes": [{"sheet": {"name": "a"}, "id": "../x"}]}, "tune 1: its id")])
def test_what_is_no_shelf_gets_one_sentence(change: dict[str, Any], says: str) -> None:
    value = {"format": "fillwright shelf", "version": 1, "tunes": [], **change}
    with pytest.raises(InputError, match=says):
        read_shelf(json.dumps(value).encode(), "shelf")
