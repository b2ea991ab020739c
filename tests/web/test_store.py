"""Nothing is lost: versions, undo and redo, two writers, a process killed while it saves."""

from __future__ import annotations

import signal
import sqlite3
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from fillwright import Edition, InputError, Options
from fillwright.edition.decisions import Decisions, Pick
from fillwright.web.store import Conflict, Missing, Store
from fillwright.web.trouble import StoreTrouble

LEVELS = [Decisions(Options(level=level)) for level in ("beginner", "intermediate", "advanced")]


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "deep" / "tunes.sqlite3")


def test_a_tune_is_kept_with_its_state(store: Store) -> None:
    key = store.add("A Tune", Edition(b"X:1", "tune.abc"))
    store.put(key, 1, LEVELS[2], "level")
    again = Store(store.path).get(key)
    assert (again.title, again.data, again.version) == ("A Tune", b"X:1", 2)
    assert again.state == LEVELS[2]
    assert [entry["id"] for entry in store.shelf()] == [key]
    store.remove(key)
    assert store.shelf() == []
    with pytest.raises(Missing):
        store.get(key)
    with pytest.raises(Missing):
        store.remove(key)


def test_tunes_of_one_title_are_numbered_as_they_came(store: Store) -> None:
    keys = [store.add(title, Edition(b"", "")) for title in ("Twice", "Once", "Twice")]
    store.put(keys[0], 1, LEVELS[1], "level")  # a change moves none of them
    assert {entry["id"]: (entry["number"], entry["alike"]) for entry in store.shelf()} == {
        keys[0]: (1, 2), keys[1]: (1, 1), keys[2]: (2, 2)}


def test_undo_and_redo_move_along_the_row(store: Store) -> None:
    key = store.add("", Edition(b"", ""))
    for version, state in enumerate(LEVELS, 1):
        store.put(key, version, state, f"step {version}")
    record = store.get(key)
    assert (record.undo, record.redo) == ("step 3", "")
    record = store.step(key, record.version, -1)
    assert (record.state, record.undo, record.redo) == (LEVELS[1], "step 2", "step 3")
    record = store.step(key, record.version, -1)
    record = store.step(key, record.version, 1)
    assert record.state == LEVELS[1]
    record = store.put(key, record.version, Decisions(picks=((1, Pick("open")),)), "another way")
    assert record.redo == ""
    assert store.step(key, record.version, 1).state == record.state  # nothing to redo


def test_nothing_to_undo_changes_nothing(store: Store) -> None:
    key = store.add("", Edition(b"", ""))
    assert store.step(key, 1, -1).version == 1


def test_the_slower_of_two_writers_is_told(store: Store) -> None:
    key = store.add("", Edition(b"", ""))
    store.put(key, 1, LEVELS[0], "first tab")
    with pytest.raises(Conflict) as told:
        store.put(key, 1, LEVELS[1], "second tab")
    assert told.value.version == 2
    with pytest.raises(Conflict):
        store.step(key, 1, -1)
    assert store.get(key).state == LEVELS[0]


def test_old_states_are_forgotten_in_time(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fillwright.web.store.KEPT_STATES", 10)
    key = store.add("", Edition(b"", ""))
    for version in range(1, 25):
        store.put(key, version, Decisions(Options(tempo=None, without=(str(version),))), "x")
    with sqlite3.connect(store.path) as connection:
        count = connection.execute("SELECT count(*) FROM states").fetchone()[0]
    connection.close()
    assert count <= 12


WRITER = """
import sys
from pathlib import Path
from fillwright.arranging.model import Options
from fillwright.edition.decisions import Decisions
from fillwright.web.store import Store
store = Store(Path(sys.argv[1]))
key = sys.argv[2]
version = store.get(key).version
while True:
    version = store.put(key, version, Decisions(Options(without=("x" * 100, str(version + 1)))),
                        "saved").version
    print(version, flush=True)
"""


@pytest.mark.slow
def test_killed_in_the_middle_of_saving(store: Store) -> None:
    key = store.add("", Edition(b"some bytes", ""))
    for round_number in range(6):
        with subprocess.Popen([sys.executable, "-c", WRITER, str(store.path), key],
                              stdout=subprocess.PIPE, text=True) as writer:
            assert writer.stdout is not None
            writer.stdout.readline()
            time.sleep(0.02 + 0.011 * round_number)
            writer.send_signal(signal.SIGKILL)
            said = [int(line) for line in writer.stdout.read().split()]
        record = Store(store.path).get(key)
        # What was acknowledged is there; one more may have been on its way.
        assert not said or record.version in (said[-1], said[-1] + 1)
        assert record.state.options.without == ("x" * 100, str(record.version))
    with sqlite3.connect(store.path) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()


def test_an_error_is_told_when_the_database_has_rolled_back_by_itself(store: Store) -> None:
    key = store.add("", Edition(b"", ""))
    with pytest.raises(StoreTrouble, match="disk is full"), store._change() as connection:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")
        connection.execute("UPDATE tunes SET data = zeroblob(1000000)")
    assert store.get(key).data == b""
    with pytest.raises(ValueError, match="told"), store._change() as connection:
        connection.execute("ROLLBACK")
        raise ValueError("told")


def test_a_device_of_an_older_program_may_stay_and_go() -> None:
    state = Decisions(Options(without=("old name",)))
    assert Decisions.read(state.value()) == state
    more = state.with_settings({"without": ["old name", "Shells", "shells"]})
    assert more.options.without == ("old name", "shells")
    assert more.with_settings({"without": ["shells"]}).options.without == ("shells",)
    with pytest.raises(InputError, match="no device"):
        more.with_settings({"without": ["shells", "other name"]})


def test_a_state_is_the_same_after_a_round_trip() -> None:
    state = Decisions(Options(level="advanced", key="Ab major", without=("scale run",)),
                  picks=((3, Pick("3.1.1-comp-x-123456", ((0, -2), (4, None)))),))
    assert Decisions.read(state.value()) == state
    changed = state.with_pick(3, None).with_settings({"tempo": "92.5"})
    assert changed.value()["settings"]["tempo"] == "185/2"
    assert replace(changed, options=state.options, picks=state.picks) == state
